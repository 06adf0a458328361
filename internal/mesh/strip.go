package mesh

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// strip is a row of faces, each next to the one before: exits[i] is the
// half-edge of faces[i] through which it is left for faces[i+1]. A face may
// come again later in the row.
type strip struct {
	from, to     anchor
	faces, exits []int32
}

// cross extends the strip over half-edge h of its last face; going straight
// back over the half-edge it came by takes the last face away again.
func (p *strip) cross(h, twin int32) {
	n := len(p.exits)
	if n > 0 && p.exits[n-1] == twin {
		p.exits, p.faces = p.exits[:n-1], p.faces[:n]
		return
	}
	p.exits, p.faces = append(p.exits, h), append(p.faces, twin/3)
}

// trim drops faces at either end that the path need not enter, because the
// next one contains the end point too.
func (s *Surface) trim(p *strip) {
	for len(p.exits) > 0 && s.holds(p.faces[1], &p.from) {
		p.faces, p.exits = p.faces[1:], p.exits[1:]
	}
	for n := len(p.exits); n > 0 && s.holds(p.faces[n-1], &p.to); n-- {
		p.faces, p.exits = p.faces[:n], p.exits[:n-1]
	}
}

// strips turns a way along mesh edges into rows of faces that contain it. There
// is one row, unless the way passes a point where two pieces of the surface
// only touch: there a row ends and the next one starts.
func (s *Surface) strips(points []int32, a, b anchor) []strip {
	goal := func(i int) anchor {
		if i < len(points) {
			return s.pointAnchor(points[i])
		}
		return b
	}
	var done []strip
	begin := func(from anchor, i int) strip {
		to := goal(i)
		return strip{from: from, faces: []int32{s.sharedFace(&from, &to)}}
	}
	row := begin(a, 0)
	for i, v := range points {
		to := goal(i + 1)
		round, ok := s.fan(v, row.faces[len(row.faces)-1], &to)
		if !ok {
			row.to = s.pointAnchor(v)
			done = append(done, row)
			row = begin(row.to, i+1)
			continue
		}
		for _, h := range round {
			row.cross(h, s.adj.twin[h])
		}
	}
	row.to = b
	return append(done, row)
}

// fan is the half-edges crossed on the way from face f round point v to a face
// that contains the goal, on the side with the smaller angle.
func (s *Surface) fan(v, f int32, goal *anchor) ([]int32, bool) {
	if s.holds(f, goal) {
		return nil, true
	}
	k := s.cornerAt(f, v)
	one, oneRad, okOne := s.turn(v, k, goal)
	two, twoRad, okTwo := s.turn(v, prevHalf(k), goal)
	if okOne && (!okTwo || oneRad <= twoRad) {
		return one, true
	}
	return two, okTwo
}

// turn walks round v over half-edge h and on until a face contains the goal.
func (s *Surface) turn(v, h int32, goal *anchor) (crossed []int32, rad float64, ok bool) {
	start := h / 3
	for {
		t := s.adj.twin[h]
		if t < 0 || t/3 == start {
			return nil, 0, false
		}
		crossed = append(crossed, h)
		if s.holds(t/3, goal) {
			return crossed, rad, true
		}
		rad += s.cornerAtRad(t/3, v)
		h = s.otherHalfAt(t/3, v, t)
	}
}

// flat is a place in the plane into which a strip is unfolded.
type flat struct{ x, y float64 }

func (a flat) sub(b flat) flat { return flat{a.x - b.x, a.y - b.y} }

// turn is positive when b lies to the left of a.
func (a flat) turn(b flat) float64 { return float64(a.x*b.y) - float64(a.y*b.x) }

func (a flat) angleTo(b flat) float64 {
	return math.Abs(elem.Atan2(a.turn(b), a.dot(b)))
}

func (a flat) dot(b flat) float64 { return float64(a.x*b.x) + float64(a.y*b.y) }

// unfolded is a strip laid out in the plane. Node 0 is the start, the last one
// the end, the others are points of the mesh, once for every time the strip
// comes by. Seen along the strip, gate i (between faces i and i+1) has its left
// end at node left[i] and its right end at node right[i].
type unfolded struct {
	point       []int32 // of the mesh; none for start and end
	at          []flat
	tri         [][3]int32 // nodes of each face, by its corners
	left, right []int32
	gate        flat    // direction of the last gate with a length, right to left
	size        float64 // largest coordinate
}

func (u *unfolded) node(v int32, at flat) int32 {
	u.point, u.at = append(u.point, v), append(u.at, at)
	u.size = max(u.size, math.Abs(at.x), math.Abs(at.y))
	return int32(len(u.at) - 1)
}

// unfold lays the strip out face by face, every length kept.
func (s *Surface) unfold(p *strip) *unfolded {
	n := len(p.faces)
	u := &unfolded{point: make([]int32, 0, n+4), at: make([]flat, 0, n+4), tri: make([][3]int32, n),
		left: make([]int32, n-1), right: make([]int32, n-1), gate: flat{1, 0}}
	u.node(none, flat{})
	t := s.m.Faces[p.faces[0]]
	a, b, c := s.m.corners(int(p.faces[0]))
	along, off := place(a, b, c)
	u.tri[0] = [3]int32{u.node(t[0], flat{}), u.node(t[1], flat{a.Dist(b), 0}), u.node(t[2], flat{along, off})}
	for i, h := range p.exits {
		k := h % 3
		l, r := u.tri[i][(k+1)%3], u.tri[i][k]
		if i > 0 { // orientation may change from face to face: keep to the gate before
			apex := u.tri[i][apexOf(s.adj.twin[p.exits[i-1]])]
			if prev := u.left[i-1]; l == prev || r == prev {
				l, r = prev, apex
			} else {
				l, r = apex, u.right[i-1]
			}
		}
		u.left[i], u.right[i] = l, r
		u.enter(s, i+1, s.adj.twin[h])
	}
	u.at[0] = u.inFace(s, p.faces[0], 0, &p.from)
	u.node(none, u.inFace(s, p.faces[n-1], n-1, &p.to))
	return u
}

// apexOf is the corner of face h/3 opposite to half-edge h.
func apexOf(h int32) int32 { return (h + 2) % 3 }

// enter lays out face i, entered over its half-edge t from gate i-1.
func (u *unfolded) enter(s *Surface, i int, t int32) {
	l, r := u.left[i-1], u.right[i-1]
	k := t % 3
	apex := apexOf(t)
	w := s.m.Faces[t/3][apex]
	pl, pr := s.m.Points[u.point[l]], s.m.Points[u.point[r]]
	along, off := place(pr, pl, s.m.Points[w])
	d := u.at[l].sub(u.at[r])
	if n := norm(d); n > 0 {
		u.gate = flat{d.x / n, d.y / n}
	}
	d = u.gate // two points in one place: any direction will do
	// d points from right to left, so (d.y, -d.x) points onward
	at := flat{
		u.at[r].x + float64(d.x*along) + float64(d.y*off),
		u.at[r].y + float64(d.y*along) - float64(d.x*off),
	}
	u.tri[i][apex] = u.node(w, at)
	u.tri[i][k], u.tri[i][(k+1)%3] = l, r
	if s.m.Faces[t/3][k] != u.point[l] {
		u.tri[i][k], u.tri[i][(k+1)%3] = r, l
	}
}

// place is where c lies relative to the line from a to b: along it from a, and
// off it (never negative).
func place(a, b, c geom.Vec) (along, off float64) {
	d, e := b.Sub(a), c.Sub(a)
	l := d.Norm()
	if l == 0 {
		return 0, e.Norm()
	}
	return d.Dot(e) / l, d.Cross(e).Norm() / l
}

// inFace is where an anchor lies in unfolded face i, which is face f.
func (u *unfolded) inFace(s *Surface, f int32, i int, a *anchor) flat {
	var w [3]float64
	t := &s.m.Faces[f]
	switch {
	case a.inside():
		w = a.bary
	case a.isPoint():
		w[s.cornerAt(f, a.u)%3] = 1
	default:
		pu, pv := s.m.Points[a.u], s.m.Points[a.v]
		share := a.at.Dist(pu) / pu.Dist(pv)
		for k := range 3 {
			switch t[k] {
			case a.u:
				w[k] = 1 - share
			case a.v:
				w[k] = share
			}
		}
	}
	var out flat
	for k, n := range u.tri[i] {
		out.x += float64(w[k] * u.at[n].x)
		out.y += float64(w[k] * u.at[n].y)
	}
	return out
}
