package casting

import (
	"math"

	"fettle/internal/geom"
)

// box is an axis-aligned box [mm] with edges rounded by round.
type box struct {
	centre, half geom.Vec
	round        float64
}

// span makes a box from its lowest and highest corner.
func span(lo, hi geom.Vec, round float64) *box {
	return &box{lo.Add(hi).Scale(0.5), hi.Sub(lo).Scale(0.5), round}
}

func (b *box) at(p geom.Vec) float64 {
	var out geom.Vec
	in := math.Inf(-1)
	for i := range p {
		q := math.Abs(p[i]-b.centre[i]) - b.half[i] + b.round
		in = max(in, q)
		out[i] = max(q, 0)
	}
	if in <= 0 {
		return in - b.round
	}
	return out.Norm() - b.round
}

// cylinder has its axis along coordinate axis number axis, half length half and
// rims rounded by round.
type cylinder struct {
	axis                int
	centre              geom.Vec
	radius, half, round float64
}

func (c *cylinder) at(p geom.Vec) float64 {
	d := p.Sub(c.centre)
	along := math.Abs(d[c.axis]) - c.half + c.round
	d[c.axis] = 0
	return capped(d.Norm()-c.radius+c.round, along) - c.round
}

// capped is the distance of an extrusion, from the distance in its cross
// section and the distance along it.
func capped(across, along float64) float64 {
	if across <= 0 || along <= 0 {
		return max(across, along)
	}
	return math.Sqrt(float64(across*across) + float64(along*along))
}

// xy is a point of a coordinate plane.
type xy [2]float64

// outline is a closed polygon in a coordinate plane, without the repeated end.
type outline []xy

// distance is the exact signed distance to the polygon, negative inside
// (even-odd rule).
func (o outline) distance(x, y float64) float64 {
	best := math.Inf(1)
	inside := false
	j := len(o) - 1
	for i := range o {
		a, b := o[j], o[i]
		best = min(best, segmentSquared(x, y, a, b))
		if (a[1] > y) != (b[1] > y) && x < a[0]+float64((b[0]-a[0])/(b[1]-a[1])*(y-a[1])) {
			inside = !inside
		}
		j = i
	}
	if inside {
		return -math.Sqrt(best)
	}
	return math.Sqrt(best)
}

// segmentSquared is the squared distance from a point to the segment a-b.
func segmentSquared(x, y float64, a, b xy) float64 {
	ex, ey := b[0]-a[0], b[1]-a[1]
	px, py := x-a[0], y-a[1]
	t := (float64(px*ex) + float64(py*ey)) / (float64(ex*ex) + float64(ey*ey))
	t = min(1, max(0, t))
	dx, dy := px-float64(t*ex), py-float64(t*ey)
	return float64(dx*dx) + float64(dy*dy)
}

// plane gives the two coordinates across an axis: (y,z), (x,z) or (x,y).
func plane(p geom.Vec, axis int) (float64, float64) {
	switch axis {
	case 0:
		return p[1], p[2]
	case 1:
		return p[0], p[2]
	}
	return p[0], p[1]
}

// column is an outline extruded without end along an axis and grown by grow.
type column struct {
	axis int
	o    outline
	grow float64
}

func (c *column) at(p geom.Vec) float64 {
	x, y := plane(p, c.axis)
	return c.o.distance(x, y) - c.grow
}

// prism is an outline extruded along an axis from lo to hi, edges rounded
// outward by round.
type prism struct {
	axis          int
	o             outline
	lo, hi, round float64
}

func (s *prism) at(p geom.Vec) float64 {
	x, y := plane(p, s.axis)
	along := math.Abs(p[s.axis]-(s.lo+s.hi)/2) - (s.hi-s.lo)/2 + s.round
	return capped(s.o.distance(x, y), along) - s.round
}

// bar is the outline of a straight rib of the given thickness.
func bar(x0, y0, x1, y1, thick float64) outline {
	n := geom.Vec{y0 - y1, x1 - x0, 0}.Unit().Scale(thick / 2)
	return outline{
		{x0 + n[0], y0 + n[1]}, {x1 + n[0], y1 + n[1]},
		{x1 - n[0], y1 - n[1]}, {x0 - n[0], y0 - n[1]},
	}
}

// shell is a sheet of constant thickness 2 half, turned about a vertical axis:
// path holds (radius, z) points of its middle surface.
type shell struct {
	x, y, half float64
	path       []xy
}

func (s *shell) at(p geom.Vec) float64 {
	r := geom.Vec{p[0] - s.x, p[1] - s.y, 0}.Norm()
	best := math.Inf(1)
	for i := 1; i < len(s.path); i++ {
		best = min(best, segmentSquared(r, p[2], s.path[i-1], s.path[i]))
	}
	return math.Sqrt(best) - s.half
}

// framed is a solid given in its own frame: origin and three unit axes.
type framed struct {
	origin geom.Vec
	axes   [3]geom.Vec
	s      solid
}

func (f *framed) at(p geom.Vec) float64 {
	d := p.Sub(f.origin)
	return f.s.at(geom.Vec{d.Dot(f.axes[0]), d.Dot(f.axes[1]), d.Dot(f.axes[2])})
}

// flat is the frame of a vertical sheet through origin along a horizontal
// direction given by its x and y parts.
func flat(origin geom.Vec, dx, dy float64, s solid) *framed {
	u := geom.Vec{dx, dy, 0}.Unit()
	w := geom.Vec{0, 0, 1}
	return &framed{origin, [3]geom.Vec{u, w.Cross(u), w}, s}
}
