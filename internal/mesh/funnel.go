package mesh

import (
	"slices"

	"fettle/internal/geom"
)

// polyline is the shortest way through a strip. Segment i, from points[i] to
// points[i+1], lies in face faces[place[i]] of the strip.
type polyline struct {
	points   []geom.Vec
	place    []int32
	faces    []int32
	bends    []bend
	lengthMM float64
}

// bend is where the way turns at a point v of the mesh, points[point]; inRad
// and outRad are the angles between the way and the strip's rim in the faces
// in which it arrives and leaves.
type bend struct {
	point         int
	v             int32
	node          int32
	inRad, outRad float64
}

// throughStrip is the shortest way through the unfolded strip, folded back onto
// the surface.
func (s *Surface) throughStrip(p *strip) polyline {
	u := s.unfold(p)
	way := u.funnel()
	line := u.fold(s, way, p)
	line.lengthMM = geom.PolylineLength(line.points)
	u.bendAngles(s, &line, way, p)
	return line
}

// funnel is the nodes at which the shortest way through the unfolded strip
// bends, with start and end.
//
// Source: D. T. Lee, F. P. Preparata, Euclidean shortest paths in the presence
// of rectilinear barriers, 1984 (the funnel); every node is entered and left
// once, so the cost is linear.
func (u *unfolded) funnel() []int32 {
	n := len(u.left)
	f := funnel{u: u, deque: make([]int32, 2*n+4), before: make([]int32, len(u.at))}
	f.lo, f.hi, f.apex = n+2, n+2, n+2
	end := int32(len(u.at) - 1)
	for i := range n {
		if i == 0 || u.left[i] != u.left[i-1] {
			f.addLeft(u.left[i])
		}
		if i == 0 || u.right[i] != u.right[i-1] {
			f.addRight(u.right[i])
		}
	}
	f.addLeft(end)
	way := []int32{end}
	for v := end; v != 0; {
		v = f.before[v]
		way = append(way, v)
	}
	slices.Reverse(way)
	return way
}

// funnel holds the shortest ways to both ends of the current gate: from the
// apex, where they part, to the left end at deque[lo] and the right end at
// deque[hi].
type funnel struct {
	u            *unfolded
	deque        []int32
	lo, apex, hi int
	before       []int32 // node before, on the shortest way
}

// bends says how the way from node a over b to c turns at b: 1 to the left, -1
// to the right, 0 straight on, or straight back at a face without area.
func (f *funnel) bends(a, b, c int32) int {
	in, out := f.u.at[b].sub(f.u.at[a]), f.u.at[c].sub(f.u.at[b])
	t := in.turn(out)
	switch limit := lengthRounding * norm(in) * norm(out); {
	case t > limit:
		return 1
	case t < -limit:
		return -1
	}
	return 0
}

// same says that two nodes are so near that the direction between them is
// rounding; the first then stands for both.
func (f *funnel) same(a, b int32) bool {
	return norm(f.u.at[a].sub(f.u.at[b])) <= lengthRounding*f.u.size
}

func (f *funnel) addLeft(v int32) {
	if last := f.deque[f.lo]; f.same(v, last) {
		f.before[v] = last
		return
	}
	for f.lo < f.apex && f.bends(f.deque[f.lo+1], f.deque[f.lo], v) <= 0 {
		f.lo++
	}
	for f.lo == f.apex && f.apex < f.hi && f.bends(f.deque[f.apex], f.deque[f.apex+1], v) < 0 {
		f.apex++
		f.lo++
	}
	f.before[v] = f.deque[f.lo]
	f.lo--
	f.deque[f.lo] = v
}

func (f *funnel) addRight(v int32) {
	if last := f.deque[f.hi]; f.same(v, last) {
		f.before[v] = last
		return
	}
	for f.hi > f.apex && f.bends(f.deque[f.hi-1], f.deque[f.hi], v) >= 0 {
		f.hi--
	}
	for f.hi == f.apex && f.apex > f.lo && f.bends(f.deque[f.apex], f.deque[f.apex-1], v) > 0 {
		f.apex--
		f.hi--
	}
	f.before[v] = f.deque[f.hi]
	f.hi++
	f.deque[f.hi] = v
}

// fold puts the way back onto the surface: a point at every gate it passes.
func (u *unfolded) fold(s *Surface, way []int32, p *strip) polyline {
	line := polyline{faces: p.faces, points: []geom.Vec{p.from.at}}
	next, reached := 1, false // way[next] lies ahead, or was reached and is still at hand
	for i := range u.left {
		l, r := u.left[i], u.right[i]
		at := func(k int) bool { return k < len(way)-1 && (way[k] == l || way[k] == r) }
		if reached && !at(next) {
			next, reached = next+1, false
		}
		if !reached && !at(next) {
			line.pass(s, u, way[next-1], way[next], i)
			continue
		}
		if !reached {
			line.bend(s, u, way[next], i)
			reached = true
		}
		for at(next + 1) {
			next++
			line.bend(s, u, way[next], i)
		}
	}
	line.points = append(line.points, p.to.at)
	line.place = append(line.place, int32(len(p.faces)-1))
	return line
}

// pass adds the point where the straight way from node a to node b crosses gate i.
func (line *polyline) pass(s *Surface, u *unfolded, a, b int32, i int) {
	l, r := u.left[i], u.right[i]
	t := crossing(u.at[l], u.at[r], u.at[a], u.at[b])
	q := s.m.Points[u.point[l]].Lerp(s.m.Points[u.point[r]], t)
	line.points, line.place = append(line.points, q), append(line.place, int32(i))
}

// crossing is the share of the gate from l to r at which the way from a to b
// crosses it. Where the two run along each other it is any share beside the way.
func crossing(l, r, a, b flat) float64 {
	g, d := r.sub(l), b.sub(a)
	g2 := g.dot(g)
	if g2 == 0 {
		return 0
	}
	ta, tb := a.sub(l).dot(g)/g2, b.sub(l).dot(g)/g2
	t := ta
	if cl, cr := d.turn(l.sub(a)), d.turn(r.sub(a)); cl != cr {
		t = cl / (cl - cr)
	}
	t = max(min(ta, tb), min(max(ta, tb), t))
	return max(0, min(1, t))
}

func (line *polyline) bend(s *Surface, u *unfolded, node int32, i int) {
	v := u.point[node]
	line.points, line.place = append(line.points, s.m.Points[v]), append(line.place, int32(i))
	line.bends = append(line.bends, bend{point: len(line.points) - 1, v: v, node: node})
}

// bendAngles sets the angles at the bends from the unfolded way, which is more
// exact than the short segments of the folded one.
func (u *unfolded) bendAngles(s *Surface, line *polyline, way []int32, p *strip) {
	for i := range line.bends {
		b := &line.bends[i]
		in, out := line.place[b.point-1], line.place[b.point]
		if in >= out {
			continue
		}
		o := u.at[b.node]
		rim := u.rim(s, in, p.faces[in], b.v, p.exits[in])
		b.inRad = u.at[way[i]].sub(o).angleTo(rim.sub(o))
		rim = u.rim(s, out, p.faces[out], b.v, s.adj.twin[p.exits[out-1]])
		b.outRad = u.at[way[i+2]].sub(o).angleTo(rim.sub(o))
	}
}

// rim is the far end of the edge at v of unfolded face i that is not h.
func (u *unfolded) rim(s *Surface, i, f, v, h int32) flat {
	o := s.otherHalfAt(f, v, h)
	if from, _ := s.m.halfEnds(o); from == v {
		return u.at[u.tri[i][(o+1)%3]]
	}
	return u.at[u.tri[i][o%3]]
}
