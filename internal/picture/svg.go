package picture

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"

	"fettle/internal/unit"
)

// Drawing writes one SVG. Coordinates have one decimal; text is escaped; there
// are no references to anything outside the document it is put into.
type Drawing struct {
	b    strings.Builder
	W, H float64
}

// NewDrawing starts an SVG of the given size in drawing units, with a name for
// people who cannot see it.
func NewDrawing(class, name string, w, h float64) *Drawing {
	d := &Drawing{W: w, H: h}
	fmt.Fprintf(&d.b, `<svg class="%s" viewBox="0 0 %s %s" role="img"><title>%s</title>`,
		class, Coord(w), Coord(h), Escape(name))
	return d
}

// Done is the whole drawing.
func (d *Drawing) Done() string { return d.b.String() + "</svg>" }

// Coord prints a coordinate with at most one decimal.
func Coord(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// Escape escapes text for HTML and XML and drops what XML cannot hold.
func Escape(s string) string {
	return html.EscapeString(strings.Map(Printable, s))
}

// Printable is the character, or -1 for one that XML cannot hold.
func Printable(r rune) rune {
	if r == '\t' || r == '\n' || (r >= 0x20 && r != 0x7f && r < 0xd800) || (r > 0xdfff && r < 0xfffe) || r > 0xffff {
		return r
	}
	return -1
}

// Line draws a straight line.
func (d *Drawing) Line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, Coord(x1), Coord(y1), Coord(x2), Coord(y2))
}

// Rect draws an upright rectangle.
func (d *Drawing) Rect(class string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, Coord(x), Coord(y), Coord(max(w, 0)), Coord(max(h, 0)))
}

// Filled is a rectangle filled with a hatch or colour.
func (d *Drawing) Filled(class, fill string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" fill="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, fill, Coord(x), Coord(y), Coord(max(w, 0)), Coord(max(h, 0)))
}

// Circle draws a circle.
func (d *Drawing) Circle(class string, x, y, r float64) {
	fmt.Fprintf(&d.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, Coord(x), Coord(y), Coord(r))
}

// Text writes a text that begins, ends or has its middle at x.
func (d *Drawing) Text(class, anchor string, x, y float64, s string) {
	fmt.Fprintf(&d.b, `<text class="%s" text-anchor="%s" x="%s" y="%s">%s</text>`, class, anchor, Coord(x), Coord(y), Escape(s))
}

// TextUp writes from below upwards, its middle at x and y.
func (d *Drawing) TextUp(class string, x, y float64, s string) {
	fmt.Fprintf(&d.b, `<text class="%s" text-anchor="middle" transform="translate(%s,%s) rotate(-90)">%s</text>`,
		class, Coord(x), Coord(y), Escape(s))
}

// Poly draws a line through points, or the figure they enclose.
func (d *Drawing) Poly(class string, closed bool, pts [][2]float64) {
	tag := "polyline"
	if closed {
		tag = "polygon"
	}
	fmt.Fprintf(&d.b, `<%s class="%s" points="`, tag, class)
	for i, p := range pts {
		if i > 0 {
			d.b.WriteByte(' ')
		}
		d.b.WriteString(Coord(p[0]) + "," + Coord(p[1]))
	}
	d.b.WriteString(`"/>`)
}

// Image embeds a PNG as a data address.
func (d *Drawing) Image(x, y, w, h float64, dataURI string) {
	fmt.Fprintf(&d.b, `<image x="%s" y="%s" width="%s" height="%s" href="%s"/>`, Coord(x), Coord(y), Coord(w), Coord(h), dataURI)
}

// Use draws a symbol that the page has elsewhere, so wide and so high.
func (d *Drawing) Use(id string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<use href="#%s" x="%s" y="%s" width="%s" height="%s"/>`, Escape(id), Coord(x), Coord(y), Coord(w), Coord(h))
}

// TextWidth is a cautious guess of how wide a text of the given size comes
// out: fonts differ, so room is kept.
func TextWidth(s string, size float64) float64 {
	n := 0
	for range s {
		n++
	}
	return float64(float64(n) * size * 0.62)
}

// Box is an upright rectangle, used to keep labels apart.
type Box struct{ X0, Y0, X1, Y1 float64 }

// BoxAt is the box around a place, so far to each side.
func BoxAt(x, y, halfW, halfH float64) Box { return Box{x - halfW, y - halfH, x + halfW, y + halfH} }

// Overlaps says that two boxes share more than an edge.
func (a Box) Overlaps(b Box) bool { return a.X0 < b.X1 && b.X0 < a.X1 && a.Y0 < b.Y1 && b.Y0 < a.Y1 }

// NiceStep is 1, 2 or 5 times a power of ten, the largest not above v.
func NiceStep(v float64) float64 {
	step := 1e-3
	for _, m := range []float64{1, 2, 5} {
		for p := 1e-3; p <= 1e6; p *= 10 {
			if p*m <= v && p*m > step {
				step = p * m
			}
		}
	}
	return step
}

// TwoLines writes a name at a place, on two lines when it is long. It is kept
// to the picture that begins at left and top; a name that would have to be
// moved out of the room there is at the place is left out.
func (d *Drawing) TwoLines(class, name string, at Place, size, left, top, width float64) {
	lines := []string{name}
	if k := BreakAt(name, 16); k > 0 {
		lines = []string{name[:k], name[k+1:]}
	}
	half := 0.0
	for _, l := range lines {
		half = max(half, TextWidth(l, size*BoldWider)/2)
	}
	x := min(max(at.X, half+4), width-half-4)
	if math.Abs(x-at.X) > at.Room {
		return
	}
	y := top + at.Y + float64(size*0.36) - float64(size*0.55*float64(len(lines)-1))
	for _, l := range lines {
		d.Text(class, "middle", x+left, y, l)
		y += float64(size * 1.1)
	}
}

// BoldWider is how much wider bold letters are, with their white border.
const BoldWider = 1.15

// BreakAt is the space nearest to the middle of a text of more than n bytes,
// or 0.
func BreakAt(s string, n int) int {
	best := 0
	for i := range s {
		if len(s) > n && s[i] == ' ' && (best == 0 || math.Abs(float64(2*i-len(s))) < math.Abs(float64(2*best-len(s)))) {
			best = i
		}
	}
	return best
}

// ScaleBar draws a bar of a round length; scale is drawing units for each mm.
func (d *Drawing) ScaleBar(scale, x, y float64) {
	length := NiceStep(220 / scale)
	w := float64(length * scale)
	d.Line("bar", x, y, x+w, y)
	d.Line("bar", x, y-7, x, y+7)
	d.Line("bar", x+w, y-7, x+w, y+7)
	d.Text("small", "start", x+w+12, y+7, unit.Fixed(length, 0)+" mm")
}
