package report

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

// drawing writes one SVG. Coordinates have one decimal; text is escaped; there
// are no references to anything outside the document.
type drawing struct {
	b    strings.Builder
	w, h float64
}

// newDrawing starts an SVG of the given size in drawing units, with a name for
// people who cannot see it.
func newDrawing(class, name string, w, h float64) *drawing {
	d := &drawing{w: w, h: h}
	fmt.Fprintf(&d.b, `<svg class="%s" viewBox="0 0 %s %s" role="img"><title>%s</title>`,
		class, n1(w), n1(h), esc(name))
	return d
}

func (d *drawing) done() string { return d.b.String() + "</svg>" }

// n1 prints a coordinate with at most one decimal.
func n1(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// esc escapes text for HTML and XML and drops what XML cannot hold.
func esc(s string) string {
	return html.EscapeString(strings.Map(printable, s))
}

func printable(r rune) rune {
	if r == '\t' || r == '\n' || (r >= 0x20 && r != 0x7f && r < 0xd800) || (r > 0xdfff && r < 0xfffe) || r > 0xffff {
		return r
	}
	return -1
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, n1(x1), n1(y1), n1(x2), n1(y2))
}

func (d *drawing) rect(class string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, n1(x), n1(y), n1(max(w, 0)), n1(max(h, 0)))
}

// filled is a rectangle filled with a hatch or colour.
func (d *drawing) filled(class, fill string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" fill="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, fill, n1(x), n1(y), n1(max(w, 0)), n1(max(h, 0)))
}

func (d *drawing) circle(class string, x, y, r float64) {
	fmt.Fprintf(&d.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, n1(x), n1(y), n1(r))
}

func (d *drawing) text(class, anchor string, x, y float64, s string) {
	fmt.Fprintf(&d.b, `<text class="%s" text-anchor="%s" x="%s" y="%s">%s</text>`, class, anchor, n1(x), n1(y), esc(s))
}

func (d *drawing) poly(class string, closed bool, pts [][2]float64) {
	tag := "polyline"
	if closed {
		tag = "polygon"
	}
	fmt.Fprintf(&d.b, `<%s class="%s" points="`, tag, class)
	for i, p := range pts {
		if i > 0 {
			d.b.WriteByte(' ')
		}
		d.b.WriteString(n1(p[0]) + "," + n1(p[1]))
	}
	d.b.WriteString(`"/>`)
}

// picture embeds a PNG as a data address.
func (d *drawing) picture(x, y, w, h float64, dataURI string) {
	fmt.Fprintf(&d.b, `<image x="%s" y="%s" width="%s" height="%s" href="%s"/>`, n1(x), n1(y), n1(w), n1(h), dataURI)
}

// textWidth is a cautious guess of how wide a text of the given size comes
// out: fonts differ, so room is kept.
func textWidth(s string, size float64) float64 {
	n := 0
	for range s {
		n++
	}
	return float64(float64(n) * size * 0.62)
}

// box is an upright rectangle, used to keep labels apart.
type box struct{ x0, y0, x1, y1 float64 }

func (a box) overlaps(b box) bool { return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 }

// niceStep is 1, 2 or 5 times a power of ten, the largest not above v.
func niceStep(v float64) float64 {
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
