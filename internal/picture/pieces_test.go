package picture

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"image/color"
	"image/png"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/mesh"
)

// pieces writes what is drawn down, piece by piece.
type pieces struct{ b strings.Builder }

func (p *pieces) piece(name, text string) { fmt.Fprintf(&p.b, "== %s\n%s\n", name, text) }

// draw is a drawing, an element on each line.
func (p *pieces) draw(name string, f func(d *Drawing)) {
	d := NewDrawing("c", "a <b>", 640.04, 480.06)
	f(d)
	p.piece(name, strings.ReplaceAll(d.Done(), "><", ">\n<"))
}

// inLetters is a picture in letters.
func inLetters(w, h int, at func(x, y int) byte) string {
	var b strings.Builder
	for y := range h {
		for x := range w {
			b.WriteByte(at(x, y))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// TestPiecesStayAsTheyAre: each thing that is drawn, drawn small and written down whole.
// testdata/pieces.txt was read line by line, and its SVG looked at in a browser; whoever
// changes a piece does so again and runs the test with -update.
func TestPiecesStayAsTheyAre(t *testing.T) {
	var p pieces
	p.svg()
	p.flags()
	p.hatches()
	p.seen()
	p.rooms()
	p.paths()
	golden.Same(t, "testdata/pieces.txt", p.b.String())
}

func (p *pieces) svg() {
	p.draw("shapes", func(d *Drawing) {
		d.Line("l", 1, 2.04, 3.06, -0.04)
		d.Rect("r", 1, 2, 30, 40)
		d.Rect("r of less than nothing", 1, 2, -1, -0.5)
		d.Rect("r of one half", 1, 2, 0.5, 0.5)
		d.Filled("f", "url(#h)", 1, 2, 30, 40)
		d.Filled("f of less than nothing", "url(#h)", 1, 2, -1, -1)
		d.Circle("c", 10, 20, 5)
		d.Text("t", "middle", 10, 20, "a & b\x01\x7f\ufffe\U0001F600\ue000\ufffd\t.")
		d.TextUp("t", 10, 20, "<up>")
		d.Poly("p", true, [][2]float64{{1, 2}, {3, 4}, {5, 6}})
		d.Poly("p", false, [][2]float64{{1, 2}, {3, 4}})
		d.Image(1, 2, 3, 4, "data:image/png;base64,AA==")
	})
	p.draw("scale bars", func(d *Drawing) {
		for i, scale := range []float64{0.1, 0.5, 1, 2.2, 4.4, 11, 45} {
			d.ScaleBar(scale, 10, 20+float64(40*i))
		}
	})
	p.draw("names of places", func(d *Drawing) {
		at := func(x, room float64) Place { return Place{X: x, Y: 100, Room: room} }
		d.TwoLines("z", "Short", at(150, 20), 20, 74, 5, 300)
		d.TwoLines("z", "exactly sixteen.", at(150, 200), 20, 74, 5, 300)
		d.TwoLines("z", "a name of seventeen", at(150, 20), 20, 74, 5, 300)
		d.TwoLines("z", "at the left", at(1, 200), 20, 74, 5, 300)
		d.TwoLines("z", "at the right", at(299, 200), 20, 74, 5, 300)
		d.TwoLines("z", "no room", at(1, 20), 20, 74, 5, 300)
		d.TwoLines("z", "just room", at(40, 38.18), 20, 0, 0, 300)
	})
	var b strings.Builder
	for _, s := range []string{"", "short", "seventeen letters", "one two three four", "abc defghijklmnopqrs", "aaaa bbbb cccc dddd", "no-space-in-so-long-a-name"} {
		fmt.Fprintf(&b, "%q breaks at %d, is %.2f wide\n", s, BreakAt(s, 16), TextWidth(s, 20))
	}
	for _, v := range []float64{0.0004, 0.001, 0.0019, 0.002, 0.9, 1, 1.99, 2, 4.99, 5, 9, 10, 220, 4e6, 9e6} {
		fmt.Fprintf(&b, "step not above %g: %g\n", v, NiceStep(v))
	}
	for _, v := range []float64{0, -0.04, -0.06, 0.05, 0.95, 10, 1234.56} {
		fmt.Fprintf(&b, "coordinate %g: %s\n", v, Coord(v))
	}
	a := BoxAt(10, 20, 5, 3)
	fmt.Fprintf(&b, "%v\n", a)
	for _, o := range []Box{BoxAt(10, 20, 1, 1), BoxAt(20, 20, 5, 3), BoxAt(19.9, 20, 5, 3), BoxAt(0, 20, 5, 3), BoxAt(0.1, 20, 5, 3), BoxAt(10, 26, 5, 3), BoxAt(10, 25.9, 5, 3), BoxAt(10, 14, 5, 3), BoxAt(10, 14.1, 5, 3)} {
		fmt.Fprintf(&b, "overlaps %v: %v\n", o, a.Overlaps(o))
	}
	p.piece("figures", b.String())
}

func (p *pieces) flags() {
	fs := []Flag{{Text: "A", X: 200, Y: 30}, {Text: "A long name", X: 210, Y: 34}, {Text: "C", X: 300, Y: 470}, {Text: "D", X: 500, Y: 200},
		{Text: "E", X: 340, Y: 100}, {Text: "F", X: 450, Y: 201}, {Text: "G", X: 330, Y: 205}, {Text: "H", X: 600, Y: 204}, {Text: "I", X: 320, Y: 300}, {Text: "J", X: 319.9, Y: 300}}
	out := PlaceFlags(fs, 80, 560, 20, 460, 40)
	p.draw("flags", func(d *Drawing) { d.Leaders(out); d.Flags(out) })
	at := UnderLeaders(out[:2], 80, 20)
	p.piece("under leaders", fmt.Sprintf("%d points: %.2f %.2f %.2f %.2f", len(at), at[0], at[1], at[100], at[150]))
	var b strings.Builder
	for _, x := range []float64{100, 319.9, 320, 500} {
		for n := range 4 {
			fmt.Fprintf(&b, "%d flags at %g: down to %g\n", n, x, RoomFor([]Flag{{X: x}, {X: x}, {X: x}, {X: 300}}[:n], 80, 560, 20, 90, 40))
		}
	}
	p.piece("room for flags", b.String())
}

func (p *pieces) hatches() {
	for k := range hatches {
		p.piece(fmt.Sprintf("hatch %d", k), inLetters(26, 26, func(x, y int) byte { return " #"[map[bool]int{true: 1}[hatched(k, x-3, y-3, 20)]] }))
	}
	p.swatch(10)
	var b strings.Builder
	for k := range hatches {
		fmt.Fprintln(&b, k, inked(k, 1, false), inked(k, 0.5, true))
	}
	p.piece("inks", b.String())
}

// swatch is the sample of a hatch, a letter for each of its colours.
func (p *pieces) swatch(k int) {
	uri, err := Swatch(k)
	data, bad := base64.StdEncoding.DecodeString(strings.TrimPrefix(uri, "data:image/png;base64,"))
	img, worse := png.Decode(bytes.NewReader(data))
	if err := errors.Join(err, bad, worse); err != nil {
		p.piece("swatch", err.Error())
		return
	}
	seen := map[color.Color]byte{}
	letters := inLetters(img.Bounds().Dx(), img.Bounds().Dy(), func(x, y int) byte {
		c := img.At(x, y)
		if seen[c] == 0 {
			seen[c] = "#. o"[len(seen)]
		}
		return seen[c]
	})
	p.piece("swatch", letters+fmt.Sprint(len(seen), " colours"))
}

// step is a slab of 40 x 20 x 10 mm with a block of 10 mm on its right half, label 1 and 2,
// and a roof that leans to the left of it.
func step() *mesh.Mesh {
	m := &mesh.Mesh{}
	quad := func(label int32, a, b, c, d geom.Vec) {
		n := int32(len(m.Points))
		m.Points = append(m.Points, a, b, c, d)
		m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2}, [3]int32{n, n + 2, n + 3})
		m.Label = append(m.Label, label, label)
	}
	quad(1, geom.Vec{0, 0, 10}, geom.Vec{25, 0, 10}, geom.Vec{25, 20, 10}, geom.Vec{0, 20, 10})
	quad(2, geom.Vec{20, 0, 20}, geom.Vec{40, 0, 20}, geom.Vec{40, 12, 20}, geom.Vec{20, 12, 20})
	quad(2, geom.Vec{20, 12, 20}, geom.Vec{40, 12, 20}, geom.Vec{40, 20, 10}, geom.Vec{20, 20, 10})
	quad(3, geom.Vec{0, 0, 10}, geom.Vec{0, 20, 10}, geom.Vec{-5, 20, 2}, geom.Vec{-5, 0, 2})
	quad(3, geom.Vec{0, 4, 30}, geom.Vec{4, 4, 30}, geom.Vec{4, 8, 30}, geom.Vec{0, 8, 30})
	return m
}

var above = Camera{Right: geom.Vec{1, 0, 0}, Up: geom.Vec{0, 1, 0}, Toward: geom.Vec{0, 0, 1}}

func (p *pieces) seen() {
	m := step()
	c := above.Around(m.Points, 2, 48, 40)
	p.piece("camera", fmt.Sprintf("scale %.4f left %.3f top %.3f, %d x %d", c.Scale, c.Left, c.Top, c.W, c.H))
	tall := above.Around(m.Points, 2, 480, 40)
	p.piece("camera of a wide picture", fmt.Sprintf("scale %.4f left %.3f top %.3f, %d x %d; three times: %v", tall.Scale, tall.Left, tall.Top, tall.W, tall.H, tall.Times(3)))
	letters := "0123456789"
	px := &Pixels{}
	dm := px.Seen(m, c)
	show := func(dm *DepthMap) string {
		return inLetters(dm.c.W, dm.c.H, func(x, y int) byte {
			if f := dm.At(x, y); f >= 0 {
				return letters[f]
			}
			return '.'
		})
	}
	p.piece("faces seen", show(dm))
	cut := c
	cut.Clip = 15
	p.piece("faces seen below 15 mm", show(px.Seen(m, cut)))
	p.piece("bytes", fmt.Sprint(dm.Bytes(), len(dm.runs), len(dm.first)))
	var b strings.Builder
	for _, q := range []geom.Vec{{10, 10, 10}, {10, 10, 9}, {22, 5, 10}, {22, 5, 20}, {2, 6, 10}, {2, 6, 30}, {-5, 10, 2}, {-8, 10, 2}, {19.2, 5, 10}, {17, 5, 10}, {100, 5, 10}, {40, 20, 10}, {40, 0, 20}} {
		fmt.Fprintf(&b, "%v seen %v, with 1.5 mm %v\n", q, dm.Seen(q, 0.1), dm.Seen(q, 1.5))
	}
	p.piece("points seen", b.String())
	pic, _ := px.shade(m, nil, c.Times(2), map[int32]int{1: 1, 2: 4, 3: 0})
	p.piece("shaded", inLetters(pic.w, pic.h, func(x, y int) byte { return "#@%*+=-:. "[int(pic.pix[3*(y*pic.w+x)])*9/255] }))
	var sum strings.Builder
	for y := 0; y < pic.h; y += 5 {
		for x := 0; x < pic.w; x += 7 {
			i := 3 * (y*pic.w + x)
			fmt.Fprintf(&sum, "%02x%02x%02x ", pic.pix[i], pic.pix[i+1], pic.pix[i+2])
		}
		sum.WriteByte('\n')
	}
	p.piece("its colours, of every seventh pixel in every fifth row", sum.String())
	p.piece("share of a path", fmt.Sprintf("%.3f %.3f %.3f", dm.Share([]geom.Vec{{10, 10, 10}, {35, 10, 10}}, 0.5), dm.Share([]geom.Vec{{10, 10, 10}}, 0.5), dm.Share(nil, 1)))
}

func (p *pieces) rooms() {
	m := step()
	c := above.Around(m.Points, 2, 96, 80)
	px := &Pixels{}
	dm := px.Seen(m, c)
	var b strings.Builder
	for _, cell := range []int{2, 5} {
		for _, taken := range [][][2]float64{nil, {{60, 12}, {62, 12}, {-1, 5}, {5, -1}, {96, 80}, {500, 5}}} {
			for _, at := range Roomiest(dm, m, cell, taken) {
				fmt.Fprintf(&b, "cells of %d, %d taken: label %d at %.2f %.2f, room %.2f\n", cell, len(taken), at.Label, at.X, at.Y, at.Room)
			}
		}
	}
	plain := *m
	plain.Label = nil
	for _, at := range Roomiest(dm, &plain, 4, nil) {
		fmt.Fprintf(&b, "without labels: label %d at %.2f %.2f, room %.2f\n", at.Label, at.X, at.Y, at.Room)
	}
	p.piece("roomiest places", b.String())
	r := rand.New(rand.NewPCG(2, 0))
	lab := make([]int32, 14*9)
	for i := range lab {
		if i%14 > 8 || r.IntN(9) == 0 {
			lab[i] = 1
		}
		if i/14 > 6 {
			lab[i] = -1
		}
	}
	dist := borderSteps(lab, 14, 9)
	p.piece("steps to the border", inLetters(14, 9, func(x, y int) byte { return "0123456789"[dist[y*14+x]] }))
	best := central(lab, dist, 14)
	p.piece("central cells", fmt.Sprint(best))
	of := HatchLabels(strips(4), []int32{3, 1, 2, 4, 9})
	p.piece("hatches of labels", fmt.Sprint(of))
}

func (p *pieces) paths() {
	bent := []geom.Vec{{0, 0, 0}, {3, 4, 0}, {3, 4, 0}, {3, 4, 11}}
	var b strings.Builder
	fmt.Fprintln(&b, Samples(bent, 4), Samples(bent[:1], 4), Samples(nil, 4))
	fmt.Fprintln(&b, Middle(bent), Middle(bent[:1]), Middle(bent[1:3]), Middle([]geom.Vec{{0, 0, 0}, {2, 0, 0}, {4, 0, 0}}))
	fmt.Fprintf(&b, "%.4f %.4f %g\n", Extent(bent), Extent([]geom.Vec{{9, 0, 0}, {0, 0, 0}, {4, 0, 0}}), Extent(bent[:1]))
	p.piece("paths: samples, middles, extents", b.String())
}

// What XML 1.0 holds, section 2.2: tab, line feed, from the space on without the surrogates,
// fffe and ffff; carriage return, which it holds too, and delete are left out here.
func TestPrintableIsWhatXMLHolds(t *testing.T) {
	for _, c := range []struct {
		r  rune
		in bool
	}{{'\t', true}, {'\n', true}, {'\r', false}, {0x1f, false}, {0x20, true}, {0x7e, true}, {0x7f, false}, {0x80, true}, {0xd7ff, true}, {0xd800, false},
		{0xdfff, false}, {0xe000, true}, {0xfffd, true}, {0xfffe, false}, {0xffff, false}, {0x10000, true}} {
		if got := Printable(c.r); (got == c.r) != c.in || !c.in && got != -1 {
			t.Errorf("%#x: %#x", c.r, got)
		}
	}
}

// A place that is taken beyond the right or the lower end of a picture is none of it.
func TestTakenBesideThePictureTakesNothing(t *testing.T) {
	m := &mesh.Mesh{Points: []geom.Vec{{-50, -50, 0}, {150, -50, 0}, {150, 150, 0}, {-50, 150, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}}}
	c := above
	c.Scale, c.Top, c.W, c.H, c.Clip = 1, 40, 6, 40, 1e9 // three cells wide: each counts
	dm := (&Pixels{}).Seen(m, c)
	free := Roomiest(dm, m, 2, nil)
	for _, taken := range [][2]float64{{6, 16}, {6, 18}, {6, 20}, {6, 38}, {2, 40}, {-2, 20}, {2, -2}} {
		if got := Roomiest(dm, m, 2, [][2]float64{taken}); got[0] != free[0] {
			t.Errorf("%v taken: %v, want %v", taken, got, free)
		}
	}
	if got := Roomiest(dm, m, 2, [][2]float64{{0, 18}, {0, 20}}); got[0] == free[0] {
		t.Error("what is taken inside changes nothing")
	}
}
