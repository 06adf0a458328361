package report

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/picture"
)

// drawnPoint is a control point as the drawing needs it.
type drawnPoint struct {
	id    string
	at    geom.Vec
	shift geom.Vec
	tolMM float64   // radius of the tolerance, 0 when there is none to draw
	tol   geom.Vec  // tolerance along each axis instead, 0 when there is none
	state moveState // by shape and letter, not by colour
	// reference: the manufacturer nominates it; drawn with ticks outside.
	reference bool
}

// moveState says what is known about a point's movement.
type moveState int

// States. The zero value is the most cautious.
const (
	unmeasured moveState = iota
	mayHaveMoved
	hasMoved
	stands
)

const (
	pointsWidth  = 1200.0
	pointsMargin = 70.0
)

// pointsView draws the points from one side: plan or side view. Nothing is
// known about the outline of the body, so the points are drawn on the axes;
// hulls are the outlines of the castings, where their shape is known.
func pointsView(c picture.Camera, pts []drawnPoint, hulls [][]geom.Vec, factor float64) string {
	all := make([]geom.Vec, 0, len(pts))
	for _, p := range pts {
		all = append(all, p.at)
	}
	c = c.Around(all, 0, int(pointsWidth-2*pointsMargin), 640)
	reach := 0.0
	for _, p := range pts {
		reach = max(reach, p.shift.Norm()*factor*c.Scale)
	}
	pad := pointsMargin + min(reach, 120)*0.5
	d := picture.NewDrawing("points", "Control points "+c.Name, pointsWidth, float64(c.H)+2*pad+30)
	v := pointCanvas{d: d, c: c, dx: pointsMargin, dy: pad, factor: factor}
	v.grid()
	for _, h := range hulls {
		v.hull(h)
	}
	for _, p := range pts {
		v.tolerance(p)
	}
	for _, p := range pts {
		v.arrow(p)
	}
	for _, s := range []moveState{stands, unmeasured, mayHaveMoved, hasMoved} {
		for _, p := range pts {
			if p.state == s {
				v.marker(p)
			}
		}
	}
	v.names(pts)
	return d.Done()
}

type pointCanvas struct {
	d      *picture.Drawing
	c      picture.Camera
	dx, dy float64
	factor float64
}

func (v pointCanvas) at(p geom.Vec) (x, y float64) {
	x, y, _ = v.c.At(p)
	return x + v.dx, y + v.dy
}

// grid draws lines of equal coordinates with their values, and the axes.
func (v pointCanvas) grid() {
	for _, ax := range []struct {
		dir  geom.Vec
		size float64
		flat bool
	}{{v.c.Right, float64(v.c.W), true}, {v.c.Up, float64(v.c.H), false}} {
		k, sign := axisOf(ax.dir)
		step := picture.NiceStep(ax.size / v.c.Scale / 6)
		if !ax.flat {
			step = picture.NiceStep(ax.size / v.c.Scale / 3)
		}
		lo, hi := v.c.Left, v.c.Left+ax.size/v.c.Scale
		if !ax.flat {
			lo, hi = v.c.Top-ax.size/v.c.Scale, v.c.Top
		}
		for g := float64(math.Ceil((lo-30/v.c.Scale)/step) * step); g <= hi+30/v.c.Scale; g += step {
			label := fixed(sign*g, 0)
			if ax.flat {
				x := float64((g-v.c.Left)*v.c.Scale) + v.dx
				v.d.Line("grid", x, 10, x, v.d.H-30)
				if x > 100 {
					v.d.Text("axis", "middle", x, v.d.H-10, label)
				}
			} else {
				y := float64((v.c.Top-g)*v.c.Scale) + v.dy
				v.d.Line("grid", 56, y, v.d.W-6, y)
				v.d.Text("axis", "end", 52, y+6, label)
			}
		}
		letter := string([]byte{'x', 'y', 'z'}[k]) + " mm"
		if ax.flat {
			v.d.Text("axis", "start", 2, v.d.H-10, letter)
		} else {
			v.d.Text("axis", "start", 2, 18, letter)
		}
	}
}

// axisOf is the coordinate a direction runs along, and its sign.
func axisOf(d geom.Vec) (k int, sign float64) {
	for i := range d {
		if math.Abs(d[i]) > 0.5 {
			k, sign = i, d[i]
		}
	}
	return k, sign
}

// hull draws the outline of a casting as the convex hull of its points.
func (v pointCanvas) hull(pts []geom.Vec) {
	flat := make([][2]float64, len(pts))
	for i, p := range pts {
		flat[i][0], flat[i][1] = v.at(p)
	}
	if h := convexHull(flat); len(h) > 2 {
		v.d.Poly("hull", true, h)
	}
}

// convexHull is the hull of points in a plane, by Andrew's monotone chain
// (A. M. Andrew, Information Processing Letters 9, 1979).
func convexHull(p [][2]float64) [][2]float64 {
	p = maybeOnHull(p)
	slices.SortFunc(p, func(a, b [2]float64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	half := func(at func(int) [2]float64) [][2]float64 {
		var h [][2]float64
		for i := range p {
			for len(h) > 1 && turn(h[len(h)-2], h[len(h)-1], at(i)) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, at(i))
		}
		return h[:max(len(h)-1, 0)]
	}
	lower := half(func(i int) [2]float64 { return p[i] })
	upper := half(func(i int) [2]float64 { return p[len(p)-1-i] })
	return append(lower, upper...)
}

// turn is twice the area of a triangle, positive where it goes round to the left.
func turn(a, b, c [2]float64) float64 {
	return float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
}

// maybeOnHull leaves out the points that lie clearly within the octagon of those farthest
// to eight sides: nearly all of a mesh (S. G. Akl, G. T. Toussaint, A fast convex hull
// algorithm, 1978).
func maybeOnHull(p [][2]float64) [][2]float64 {
	sides := [8][2]float64{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}} // to the left round
	var far [8][2]float64
	var most [8]float64
	for i, q := range p {
		for k, s := range sides {
			if d := float64(s[0]*q[0]) + float64(s[1]*q[1]); i == 0 || d > most[k] {
				far[k], most[k] = q, d
			}
		}
	}
	least := 1e-6 * (most[0] + most[4]) * (most[2] + most[6]) // far above rounding
	var out [][2]float64
	for _, q := range p {
		for k := range far {
			a, b := far[k], far[(k+1)%8]
			if a != b && !(turn(a, b, q) > least) {
				out = append(out, q)
				break
			}
		}
	}
	return out
}

// tolerance draws the tolerance as a circle, or as a box where it is given for
// each axis, exaggerated as the shifts are.
func (v pointCanvas) tolerance(p drawnPoint) {
	x, y := v.at(p.at)
	k, _ := axisOf(v.c.Right)
	l, _ := axisOf(v.c.Up)
	f := v.factor * v.c.Scale
	switch {
	case p.tolMM > 0:
		v.d.Circle("tol", x, y, p.tolMM*f)
	case p.tol[k] > 0 && p.tol[l] > 0:
		v.d.Rect("tol", x-float64(p.tol[k]*f), y-float64(p.tol[l]*f), 2*p.tol[k]*f, 2*p.tol[l]*f)
	}
}

// arrow draws the shift in the plane of the view, exaggerated.
func (v pointCanvas) arrow(p drawnPoint) {
	if p.state == unmeasured {
		return
	}
	x, y := v.at(p.at)
	tx, ty := v.at(p.at.Add(p.shift.Scale(v.factor)))
	l := elem.Hypot(tx-x, ty-y)
	if l < 4 {
		return
	}
	class := "shift"
	if p.state != hasMoved {
		class = "shift faint"
	}
	v.d.Line(class, x, y, tx, ty)
	ux, uy := (tx-x)/l, (ty-y)/l
	s := min(l, 13.0)
	backX, backY := tx-float64(ux*s), ty-float64(uy*s)
	sideX, sideY := float64(uy*s*0.4), float64(ux*s*0.4)
	v.d.Poly(class+" head", true, [][2]float64{{tx, ty}, {backX - sideX, backY + sideY}, {backX + sideX, backY - sideY}})
}

// marker draws the point: filled diamond moved, ring stands, square with a
// question mark not certain, cross not measured.
func (v pointCanvas) marker(p drawnPoint) {
	x, y := v.at(p.at)
	if p.reference {
		drawReference(v.d, x, y)
	}
	drawMarker(v.d, p.state, x, y)
}

// drawReference is four ticks round a marker.
func drawReference(d *picture.Drawing, x, y float64) {
	for _, o := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		d.Line("ref", x+float64(9*o[0]), y+float64(9*o[1]), x+float64(17*o[0]), y+float64(17*o[1]))
	}
}

func drawMarker(d *picture.Drawing, s moveState, x, y float64) {
	switch s {
	case hasMoved:
		d.Poly("moved", true, [][2]float64{{x, y - 10}, {x + 10, y}, {x, y + 10}, {x - 10, y}})
	case stands:
		d.Circle("stands", x, y, 7)
	case mayHaveMoved:
		d.Rect("maybe", x-9, y-9, 18, 18)
		d.Text("mark", "middle", x, y+6, "?")
	default:
		d.Line("missing", x-7, y-7, x+7, y+7)
		d.Line("missing", x-7, y+7, x+7, y-7)
	}
}

// names writes the identities where there is room: of eight places around a
// point, the first that touches no marker, arrow or other name.
func (v pointCanvas) names(pts []drawnPoint) {
	var taken []picture.Box
	for _, p := range pts {
		x, y := v.at(p.at)
		if taken = append(taken, picture.BoxAt(x, y, 11, 11)); p.reference {
			taken = append(taken, picture.BoxAt(x, y, 18, 2), picture.BoxAt(x, y, 2, 18))
		}
		if p.state != unmeasured {
			for k := 1; k <= 6; k++ {
				tx, ty := v.at(p.at.Add(p.shift.Scale(v.factor * float64(k) / 6)))
				taken = append(taken, picture.BoxAt(tx, ty, 3, 3))
			}
		}
	}
	for _, n := range v.together(pts) {
		b := v.freePlace(n.x, n.y, picture.TextWidth(n.text, 19), taken)
		taken = append(taken, b)
		v.d.Text("name", "start", b.X0, b.Y1-4, n.text)
	}
}

// pointName is a name at a place of the drawing.
type pointName struct {
	text string
	x, y float64
}

// together puts the names of points that fall on one another into one.
func (v pointCanvas) together(pts []drawnPoint) []pointName {
	var out []pointName
	for _, p := range pts {
		x, y := v.at(p.at)
		k := 0
		for k < len(out) && elem.Hypot(out[k].x-x, out[k].y-y) > 4 {
			k++
		}
		if k == len(out) {
			out = append(out, pointName{p.id, x, y})
			continue
		}
		out[k].text += ", " + p.id
	}
	return out
}

func (v pointCanvas) freePlace(x, y, w float64, taken []picture.Box) picture.Box {
	const h = 19.0
	var first picture.Box
	for ring, r := range []float64{13, 26, 42} {
		for k, o := range [8][2]float64{{1, 0}, {-1, 0}, {0, -1}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}} {
			cx, cy := x+float64(o[0]*(r+w/2)), y+float64(o[1]*(r+h/2-4))
			b := picture.BoxAt(cx, cy, w/2, h/2)
			if ring == 0 && k == 0 {
				first = b
			}
			if b.X0 < 58 || b.Y0 < 2 || b.X1 > v.d.W-2 || b.Y1 > v.d.H-30 {
				continue
			}
			free := true
			for _, t := range taken {
				free = free && !b.Overlaps(t)
			}
			if free {
				return b
			}
		}
	}
	return first
}

// exaggeration is a round factor that makes the largest shift a good tenth of
// the drawing: 1, 2 or 5 times a power of ten, at least 1.
func exaggeration(pts []drawnPoint) float64 {
	largest, lo, hi := 0.0, geom.Vec{}, geom.Vec{}
	for i, p := range pts {
		if i == 0 {
			lo, hi = p.at, p.at
		}
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], p.at[k]), max(hi[k], p.at[k])
		}
		largest = max(largest, p.shift.Norm(), p.tolMM)
	}
	if largest == 0 || lo == hi {
		return 1
	}
	return max(picture.NiceStep(0.10*hi.Dist(lo)/largest), 1)
}
