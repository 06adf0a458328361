package mesh

import (
	"fmt"
	"math"

	"fettle/internal/elem"
)

// expandPoint goes on from a point: along its edges, and, if a shortest way may
// bend there, into the directions that leave at least half a turn on both
// sides.
func (w *field) expandPoint(v int32, past float64) {
	if past != w.dist[v] {
		return // a shorter way came up
	}
	m, s := w.s.m, w.s
	for _, h := range s.adj.cornersOf(v) {
		g := prevHalf(h)
		_, u := m.halfEnds(h)
		w.reach(u, past+w.apexOf(h).l, arrival{h, 0})
		u, _ = m.halfEnds(g)
		w.reach(u, past+w.apexOf(g).l, arrival{g, 0})
	}
	if past > 0 && s.bendsAt(v) {
		w.bend(v, past)
	}
}

// maxFan bounds a walk round a point.
const maxFan = 100_000

// bend opens the windows of a way that bends at v.
func (w *field) bend(v int32, past float64) {
	back := w.from[v]
	if w.s.partsMeetAt(v) {
		w.across(v, back.half/3, past)
	}
	turn, closed := w.walk(v, back.half, -back.rad, nil, math.Inf(1))
	if closed {
		w.walk(v, back.half, -back.rad, &past, turn-math.Pi+bendRad)
		return
	}
	w.walk(v, back.half, -back.rad, &past, math.Inf(1))
	// the other way round: over the first edge itself
	if t := w.s.adj.twin[back.half]; t >= 0 {
		w.walk(v, t, back.rad, &past, math.Inf(1))
	}
}

// across opens the windows of a way that comes into v through one part of the
// surface and goes on through another that shares no edge with it there: in
// every direction, since nothing leads round.
func (w *field) across(v, f int32, past float64) {
	for _, k := range w.s.adj.cornersOf(v) {
		if !w.s.hangTogether(v, f, k/3) {
			w.openPart(v, k, past, 0, 0, 0)
		}
	}
}

// walk goes round v from face to face, the first one entered over half-edge in
// at the given angle, until it is back or at a border. It gives the sum of the
// corners; with past it opens windows for the angles from half a turn to last.
func (w *field) walk(v, in int32, angle float64, past *float64, last float64) (turn float64, closed bool) {
	s := w.s
	start := in
	for range maxFan {
		f := in / 3
		corner := s.cornerAtRad(f, v)
		if past != nil {
			from, to := max(angle, math.Pi-bendRad), min(angle+corner, last)
			if to > from {
				w.openPart(v, in, *past, from-angle, to-angle, corner)
			}
		}
		angle += corner
		turn += corner
		if past != nil && angle > last {
			return turn, false
		}
		next := s.adj.twin[s.otherHalfAt(f, v, in)]
		if next < 0 {
			w.metCrowd = w.metCrowd || next == crowd
			return turn, false
		}
		if next == start {
			return turn, true
		}
		in = next
	}
	w.gaveUp = true
	return turn, false
}

// openPart starts a window at v over the edge opposite it in the face of
// half-edge in, for the directions from lo to hi, as angles from that half-edge.
func (w *field) openPart(v, in int32, past, lo, hi, corner float64) {
	k := w.s.cornerAt(in/3, v)
	opp := nextHalf(k)
	ap := w.apexOf(opp) // v over the opposite edge, from the end where half-edge k goes
	foot, other := w.s.m.halfEnds(opp)
	x := ap.x
	if in != k {
		foot, x = other, ap.l-ap.x
	}
	f := front{past: past, source: v, sx: x, sy: -ap.y, b1: ap.l}
	if lo > 0 {
		f.b0 = towards(x, ap.y, ap.l, lo)
	}
	if hi < corner {
		f.b1 = towards(x, ap.y, ap.l, hi)
	}
	f.b0, f.b1 = max(0, f.b0-float64(seen*ap.l)), min(ap.l, f.b1+float64(seen*ap.l))
	if f.b1 > f.b0 {
		w.emit(opp, foot, ap.l, f)
	}
}

// towards is where the ray from (x, y), turned by the angle from the way to the
// origin, meets the first axis between 0 and l.
func towards(x, y, l, angle float64) float64 {
	sin, cos := elem.Sincos(angle)
	dx, dy := float64(-x*cos)+float64(y*sin), float64(-x*sin)-float64(y*cos)
	if !(dy < 0) {
		return l
	}
	return max(0, min(l, x+float64(dx*(y/-dy))))
}

// watch notes the faces in which targets lie.
func (w *field) watch(ends []anchor) {
	if len(ends) == 0 {
		return
	}
	w.targets = map[int32][]target{}
	w.found = make([]float64, len(ends))
	for i := range ends {
		w.found[i] = math.Inf(1)
		if ends[i].isPoint() {
			continue // a point of the mesh is reached as such
		}
		for _, f := range w.s.around(&ends[i]) {
			w.targets[f] = append(w.targets[f], target{i, &ends[i]})
			if !w.watched[f] {
				w.watched[f], w.watches = true, append(w.watches, f)
			}
		}
	}
}

// sameFace measures straight to the targets in a face of the source.
func (w *field) sameFace(f int32, a *anchor) {
	for _, t := range w.targets[f] {
		w.found[t.id] = min(w.found[t.id], a.at.Dist(t.a.at))
	}
}

// arrive measures to the targets that a window sees in the face it enters.
func (w *field) arrive(f *front) {
	m := w.s.m
	u, v := m.halfEnds(f.h)
	l := w.apexOf(f.h).l
	for _, t := range w.targets[f.h/3] {
		ex, ey := place(m.Points[u], m.Points[v], t.a.at)
		x := ex
		if den := ey - f.sy; den > 0 {
			x = f.sx + float64((ex-f.sx)*(-f.sy/den))
		}
		if x < f.b0-float64(seen*l) || x > f.b1+float64(seen*l) {
			continue
		}
		w.found[t.id] = min(w.found[t.id], f.past+length(flat{ex - f.sx, ey - f.sy}))
	}
}

func (w *field) result(ends []anchor) Distances {
	out := Distances{Targets: w.found}
	for i := range ends {
		a := &ends[i]
		if a.isPoint() {
			out.Targets[i] = w.dist[a.u]
			continue
		}
		for _, f := range w.s.around(a) { // a shortest way may end along an edge, or straight from a corner
			for _, v := range w.s.m.Faces[f] {
				out.Targets[i] = min(out.Targets[i], w.dist[v]+a.at.Dist(w.s.m.Points[v]))
			}
		}
		if out.Targets[i] > w.limit {
			out.Targets[i] = math.Inf(1)
		}
	}
	switch {
	case w.gaveUp:
		out.Doubt = fmt.Sprintf("the search was stopped at %d windows at once", w.live)
	case w.metCrowd:
		out.Doubt = "ways across edges of three or more faces were not searched"
	}
	out.Proven = out.Doubt == ""
	return out
}
