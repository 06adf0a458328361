package mesh

import (
	"math"

	"fettle/internal/elem"
)

// expandWindow carries a window over its face to the two other edges.
func (w *wavefront) expandWindow(id int32) {
	win := *w.windows.at(id)
	if win.source != none && win.past > w.dist[win.source]+w.slack {
		return // a shorter way to the source came up; its windows replace this one
	}
	m := w.s.m
	p0, p1 := m.halfEnds(win.h)
	_, p2 := m.halfEnds(nextHalf(win.h))
	foot0, foot1 := flat{}, flat{m.Points[p0].Dist(m.Points[p1]), 0}
	tx, ty := place(m.Points[p0], m.Points[p1], m.Points[p2])
	src, tip := flat{win.sx, win.sy}, flat{tx, ty}
	ray0, ray1 := flat{win.b0, 0}.sub(src), flat{win.b1, 0}.sub(src)
	c0, c1 := ray0.turn(tip.sub(src)), ray1.turn(tip.sub(src))
	left, right := c0 < 0, c1 > 0 // some of the bundle passes left, right of the tip
	split := bothSides
	near := float64(seen * foot1.x)
	if c0 <= near*norm(ray0) && c1 >= -near*norm(ray1) {
		d := win.past + norm(tip.sub(src))
		w.reach(p2, d, cause{id, none, win.h / 3})
		first, ok := w.tips[win.h]
		if !ok || d < first.d {
			w.tips[win.h] = tipVisit{d, src}
		} else {
			split = first.beside(src, tip, win.b0, win.b1, near)
		}
	}
	if left && split.left {
		far := 1.0
		if c1 < 0 {
			far = meetEdge(src, ray1, foot0, tip)
		}
		if split.leftOnly {
			far = min(far, meetEdge(src, split.ray, foot0, tip))
		}
		w.child(id, prevHalf(win.h), side{p0, p2, p1, foot0, tip, meetEdge(src, ray0, foot0, tip), far})
	}
	if right && split.right {
		far := 1.0
		if c0 > 0 {
			far = meetEdge(src, ray0, foot1, tip)
		}
		if split.rightOnly {
			far = min(far, meetEdge(src, split.ray, foot1, tip))
		}
		w.child(id, nextHalf(win.h), side{p1, p2, p0, foot1, tip, meetEdge(src, ray1, foot1, tip), far})
	}
}

// tipVisit is the shortest straight way so far over one half-edge to the corner
// opposite: its length, and the image of the source it comes from.
type tipVisit struct {
	d   float64
	src flat
}

// split is on which sides of the tip a bundle can still give a shorter way, and of one
// of them perhaps no more than from the foot up to a ray.
type split struct {
	left, right         bool
	leftOnly, rightOnly bool
	ray                 flat
}

var bothSides = split{left: true, right: true}

// beside is what is left of a bundle from src that sees the tip over b0 to b1 of the
// half-edge, no sooner than this way.
//
// "One angle, one split": let this way over the half-edge reach the tip no later than
// the bundle and cross the half-edge to the left of where the bundle goes to the tip.
// Two straight ways that end in the tip do not cross before it. So, followed back from
// the half-edge, this way leaves the part of the bundle between a ray farther left and
// the one to the tip only over the former; where it does it was no longer there, and
// going on along that ray and past the tip on the left is beaten by cutting the corner.
// Only the right side is left, and the other way round.
//
// It need not leave that part where it begins in it, as it can of several sources, or
// of one that the bundle comes back to round a tube: of the rays left of it those that pass it on
// the far side stay.
//
// Source: Chen and Han 1990, lemma on one angle one split, which is of one source that
// the bundle does not pass; the rest our own.
func (v *tipVisit) beside(src, tip flat, b0, b1, near float64) split {
	x, first := meetAxis(src, tip), meetAxis(v.src, tip)
	out := split{left: x <= first+near, right: x >= first-near}
	if out.left == out.right || !(v.src.y > src.y) { // begins no nearer than the bundle
		return out
	}
	from := meetAxis(src, v.src) // where the ray past its beginning goes
	switch {
	case out.right && from > b0+near: // rays left of it, up to there
		out.left, out.leftOnly, out.ray = true, true, flat{min(from, first) + near, 0}.sub(src)
	case out.left && from < b1-near:
		out.right, out.rightOnly, out.ray = true, true, flat{max(from, first) - near, 0}.sub(src)
	}
	return out
}

// meetAxis is where the straight line from p, on or below the axis, through q meets it.
func meetAxis(p, q flat) float64 {
	if d := q.y - p.y; d > 0 {
		return p.x + float64((q.x-p.x)*(-p.y/d))
	}
	return p.x
}

func norm(a flat) float64 { return elem.Hypot(a.x, a.y) }

// meetEdge is the share of the way from p to q at which the ray crosses it.
func meetEdge(src, ray, p, q flat) float64 {
	e := q.sub(p)
	den := ray.turn(e)
	if den == 0 {
		return 0
	}
	return max(0, min(1, -ray.turn(p.sub(src))/den))
}

// side is the part of a face's edge that a window reaches: the edge runs from
// the foot, shared with the window's edge, to the tip; near and far are shares
// of that way; other is the third corner.
type side struct {
	foot, tip, other int32
	at, tipAt        flat
	near, far        float64
}

// beaten is the share of the way from p to q along which going straight from
// src is longer than going c and then from p along the edge:
// |src x| = c + |p x| at x = (h^2 + a^2 - c^2) / (2 (a + c)) from p, where src
// lies a along the edge and h off it.
func beaten(src, p, q flat, c float64) float64 {
	d, r := q.sub(p), src.sub(p)
	l, r2 := norm(d), r.dot(r)
	if c >= math.Sqrt(r2) {
		return 0
	}
	a := r.dot(d) / l
	if a+c <= 0 {
		return 1
	}
	return min(1, (r2-float64(c*c))/(2*(a+c)*l))
}

// child is the continuation of window id over the edge of half-edge h.
//
// A way over a corner v beats every way through the window from X = A (nearest
// the foot) to B if one of these holds, by the triangle inequality along the
// edge, or at the crossing with the segment from the other corner to A
// (I: image of the source, d: length up to it):
//
//	dist(foot) + |foot B| < d + |I B|
//	dist(tip) + |tip A| < d + |I A|
//	dist(other) + |other A| < d + |I A|
//
// Source: Xin and Wang 2009, theorem 3.2.
func (w *wavefront) child(id, h int32, e side) {
	if !(e.far > e.near) {
		return
	}
	win := w.windows.at(id)
	m := w.s.m
	src := flat{win.sx, win.sy}
	d := e.tipAt.sub(e.at)
	l := norm(d)
	if l == 0 {
		return
	}
	e.near = max(e.near, beaten(src, e.at, e.tipAt, w.dist[e.foot]+w.slack-win.past)-seen)
	e.far = min(e.far, 1+seen-beaten(src, e.tipAt, e.at, w.dist[e.tip]+w.slack-win.past))
	if !(e.far > e.near) {
		return
	}
	toA := win.past + norm(flat{e.at.x + float64(e.near*d.x), e.at.y + float64(e.near*d.y)}.sub(src))
	a := m.Points[e.foot].Lerp(m.Points[e.tip], e.near)
	if w.dist[e.other]+m.Points[e.other].Dist(a) < toA-w.slack {
		return
	}
	rel := src.sub(e.at)
	next := window{parent: id, source: win.source, b0: float64(e.near * l), b1: float64(e.far * l), past: win.past,
		sx: rel.dot(d) / l, sy: -math.Abs(d.turn(rel)) / l}
	if from, _ := m.halfEnds(h); from != e.foot {
		next.b0, next.b1, next.sx = l-next.b1, l-next.b0, l-next.sx
	}
	w.emit(h, next, l)
}
