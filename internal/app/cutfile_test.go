package app

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// block is a closed box from the origin to a corner; its sides are two triangles each: below, above,
// front, back, left, right.
func block(x, y, z float64) *mesh.Mesh {
	return &mesh.Mesh{Points: []geom.Vec{{0, 0, 0}, {x, 0, 0}, {x, y, 0}, {0, y, 0}, {0, 0, z}, {x, 0, z}, {x, y, z}, {0, y, z}},
		Faces: [][3]int32{{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}, {0, 1, 5}, {0, 5, 4}, {2, 3, 7}, {2, 7, 6}, {0, 4, 7}, {0, 7, 3}, {1, 2, 6}, {1, 6, 5}}}
}

// blockFiles is a block of 10 x 20 x 30 mm, the same without its upper side, and what is no mesh.
func blockFiles() memory {
	open := block(10, 20, 30)
	open.Faces = append(open.Faces[:2:2], open.Faces[4:]...)
	return memory{"block.ply": format.WritePLYFull(block(10, 20, 30)), "open.ply": format.WritePLYFull(open), "broken.ply": []byte("ply\nformat ascii 1.0\n")}
}

// wellFormed refuses what is no SVG document.
func wellFormed(t *testing.T, svg []byte, err error) string {
	t.Helper()
	if err != nil || !bytes.HasPrefix(svg, []byte("<svg ")) {
		t.Fatalf("%.80s: %v", svg, err)
	}
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return string(svg)
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// nearly says that figures agree to what rounding leaves.
func nearly(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(b)) }

// A block cut level, in a corner, part of the way and along a curve: lengths, surfaces and volumes
// are those of smaller blocks, by hand.
func TestCutOfABlock(t *testing.T) {
	a := New(blockFiles(), "test")
	level := []CutPlane{{geom.Vec{0, 0, 1}, 12}}
	corner := []CutPlane{{geom.Vec{1, 0, 0}, 5}, {geom.Vec{0, 0, 1}, 12}}
	ring := []geom.Vec{{0, 0, 12}, {10, 0, 12}, {10, 20, 12}, {0, 20, 12}}
	const notWhole = "not closed: it does not prove two pieces"
	for name, c := range map[string]struct {
		file            string
		o               CutOptions
		closed, divides bool
		length          float64
		crossed         int
		area, volume    [2]float64
		off             float64
		says            string // of the second side
	}{
		"level":         {"block.ply", CutOptions{Planes: level}, true, true, 60, 8, [2]float64{920, 1280}, [2]float64{2400, 3600}, 0, "side n·x > d: surface 1280.0 mm2, volume 3600.0 mm3\n"},
		"turned over":   {"block.ply", CutOptions{Planes: []CutPlane{{geom.Vec{0, 0, -2}, -24}}}, true, true, 60, 8, [2]float64{1280, 920}, [2]float64{3600, 2400}, 0, "side n·x > d: surface 920.0 mm2, volume 2400.0 mm3\n"},
		"beside it":     {"block.ply", CutOptions{Planes: []CutPlane{{geom.Vec{0, 0, 1}, 40}}}, false, false, 0, 0, [2]float64{2200, 0}, [2]float64{6000, 0}, 0, "side n·x > d: surface 0.0 mm2, volume 0.0 mm3\n"},
		"an open shell": {"open.ply", CutOptions{Planes: level}, true, false, 60, 8, [2]float64{920, 1080}, [2]float64{}, 0, "side n·x > d: surface 1080.0 mm2\n"},
		// 20 x 18 of the left side stays; of the corner two ends of 20 x 5 and 20 x 18 and two sides of 5 x 18
		"a corner":      {"block.ply", CutOptions{Planes: corner}, true, true, 2*(18+5) + 2*20, 8, [2]float64{2200 - 640, 640}, [2]float64{4200, 1800}, 0, "where n·x > d of all planes: surface 640.0 mm2, volume 1800.0 mm3\n"},
		"no corner":     {"block.ply", CutOptions{Planes: []CutPlane{{geom.Vec{1, 0, 0}, 50}, {geom.Vec{0, 0, 1}, 12}}}, false, false, 0, 0, [2]float64{2200, 0}, [2]float64{}, 0, "where n·x > d of all planes: surface 0.0 mm2\n"},
		"half of it":    {"block.ply", CutOptions{Planes: level, Window: &[2]geom.Vec{{5, 30, 20}, {-5, -30, 0}}}, false, false, 30, 4, [2]float64{920, 1280}, [2]float64{}, 0, "side n·x > d: surface 1280.0 mm2\n"},
		"all of it":     {"block.ply", CutOptions{Planes: level, Window: &[2]geom.Vec{{50, -30, 20}, {-5, 30, 0}}}, true, true, 60, 8, [2]float64{920, 1280}, [2]float64{2400, 3600}, 0, "side n·x > d: surface 1280.0 mm2, volume 3600.0 mm3\n"},
		"along a curve": {"block.ply", CutOptions{Along: ring, Outer: geom.Vec{5, 10, 30}}, true, true, 60, 8, [2]float64{920, 1280}, [2]float64{2400, 3600}, 0, "the side asked for: surface 1280.0 mm2, volume 3600.0 mm3\n"},
		"near a curve":  {"block.ply", CutOptions{Along: append([]geom.Vec{{5, -0.25, 12}}, append(ring[1:], ring[0])...), Outer: geom.Vec{5, 10, 0}}, true, true, 60, 8, [2]float64{1280, 920}, [2]float64{3600, 2400}, 0.25, "the side asked for: surface 920.0 mm2, volume 2400.0 mm3\n"},
	} {
		c.o.Unit = "mm"
		r, err := a.CutFile(t.Context(), c.file, c.o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		text := r.Text(Column{Width: 100})
		if r.Closed != c.closed || r.Divides != c.divides || !nearly(r.LengthMM, c.length) || !nearly(r.OffMM, c.off) || r.FacesCrossed != c.crossed ||
			r.Closed == strings.Contains(text, notWhole) || r.Divides == strings.Contains(text, "does not divide the part in two: ") || r.Divides == (len(r.Reasons) > 0) || !strings.Contains(text, c.says) {
			t.Errorf("%s: %+v\n%s", name, r, text)
		}
		for i := range r.Sides {
			if !nearly(r.Sides[i].AreaMM2, c.area[i]) || !nearly(r.Sides[i].VolumeMM3, c.volume[i]) {
				t.Errorf("%s: side %d: %+v, want %v mm2 and %v mm3", name, i, r.Sides[i], c.area[i], c.volume[i])
			}
		}
		if name != "level" && name != "half of it" {
			continue // the rest would only take time
		}
		svg, err := r.Picture()
		if got := strings.Contains(wellFormed(t, svg, err), "It divides the part in two."); got != c.divides {
			t.Errorf("%s: the picture says %v", name, got)
		}
	}
}

// What cannot be cut is refused by the name of the file, and a plane or curve by what is wrong with it.
func TestWhatCannotBeCut(t *testing.T) {
	a := New(blockFiles(), "test")
	level := []CutPlane{{geom.Vec{0, 0, 1}, 12}}
	for name, c := range map[string]struct {
		file string
		o    CutOptions
		want string
	}{
		"no file":          {"none.ply", CutOptions{Unit: "mm", Planes: level}, "none.ply"},
		"no mesh":          {"broken.ply", CutOptions{Unit: "mm", Planes: level}, "broken.ply"},
		"no unit":          {"block.ply", CutOptions{Planes: level}, "block.ply"},
		"no plane":         {"block.ply", CutOptions{Unit: "mm"}, "block.ply: no cutting plane is given"},
		"no direction":     {"block.ply", CutOptions{Unit: "mm", Planes: []CutPlane{{OffsetMM: 1}}}, "block.ply: the cutting plane is not defined"},
		"no curve":         {"block.ply", CutOptions{Unit: "mm", Along: make([]geom.Vec, 2)}, "block.ply: a closed curve needs at least three points"},
		"beyond the world": {"block.ply", CutOptions{Unit: "mm", Along: make([]geom.Vec, 3), Outer: geom.Vec{math.Inf(1)}}, "block.ply: a point of the curve is not a number"},
	} {
		if r, err := a.CutFile(t.Context(), c.file, c.o); err == nil || !strings.Contains(err.Error(), c.want) || r.Loops != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The cut that draws a section line has as its second side what the line takes off: for points
// anywhere, read back from the words of the remedy. A curve is handed on with its side.
func TestCutOfALineIsTheLine(t *testing.T) {
	vec := func(s string) (out []float64) {
		for _, x := range strings.Split(s, ",") {
			v, err := strconv.ParseFloat(x, 64)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, v)
		}
		return out
	}
	c := body.Casting{Mesh: "m/c.ply", MeshUnit: "cm"}
	one := body.Line{ID: "L-1", Normal: geom.Vec{1, -2, 0}, Offset: 3}
	several := body.Line{ID: "L-2", Planes: []body.LinePlane{{Normal: geom.Vec{1, 0, 0}, Offset: 2}, {Normal: geom.Vec{0, 0, -1}, Offset: 0.5}}, Within: body.Box{Min: geom.Vec{-3, -4, -5}, Max: geom.Vec{3, 4, 5}}}
	rng, off := rand.New(rand.NewPCG(3, 9)), 0
	for _, l := range []body.Line{one, several} {
		r := *cutting(l, c, "body")
		if strings.Join(r.All("file"), " ") != "body/m/c.ply" || strings.Join(r.All("unit"), " ") != "cm" || strings.Join(r.All("picture"), " ") != string(l.ID)+".svg" || len(r.All("along"))+len(r.All("outer")) > 0 ||
			strings.Contains(strings.Join(r.All("plane"), " "), "-0,") || len(r.All("plane")) != len(l.Cuts()) {
			t.Errorf("%+v", r)
		}
		box := body.Box{}
		for _, s := range r.All("window") {
			low, high, _ := strings.Cut(s, "; ")
			box = body.Box{Min: geom.Vec(vec(low)), Max: geom.Vec(vec(high))}
		}
		if box != l.Within {
			t.Errorf("%s: the window is %+v", l.ID, box)
		}
		for range 300 {
			p := geom.Vec{10*rng.Float64() - 5, 10*rng.Float64() - 5, 12*rng.Float64() - 6}
			second := box.Contains(p)
			for _, s := range r.All("plane") {
				v := vec(s)
				second = second && geom.Vec(v[:3]).Dot(p) > v[3]
			}
			if second != l.TakesOff(p) {
				t.Errorf("%s: %v is on the second side %v", l.ID, p, second)
			}
			if second {
				off++
			}
		}
	}
	if off < 50 {
		t.Errorf("only %d points are taken off", off)
	}
	curve := several
	curve.ID, curve.Planes, curve.Curve, curve.TakenOff = "L-3", nil, []geom.Vec{{1, 2, 3}, {-0.5, 0, 1e-7}}, geom.Vec{0, math.Copysign(0, -1), 0.1}
	want := diag.Do(mesh.ToCut, "file", "body/m/c.ply", "unit", "cm", "along", "1,2,3; -0.5,0,1e-07", "outer", "0,0,0.1", "picture", "L-3.svg")
	if got := cutting(curve, c, "body"); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
}
