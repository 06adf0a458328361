package mesh

import (
	"math"

	"fettle/internal/geom"
)

// Through is the ways joined to one and pulled tight: the locally shortest way
// to which they can be moved without leaving the surface. It goes the same way
// round every hole, boss and rib as the ways do, so it is never the short cut
// through a window that the ways lead past. Each way starts where the one before
// ends.
//
// Where the ways hang together in a point of the surface only, they are joined
// there and not pulled tight across it.
func (s *Surface) Through(ways []Path) (Path, error) {
	var all Path
	for _, w := range ways {
		if len(w.Points) == 0 || len(w.Faces) != len(w.Points)-1 {
			return Path{}, invalid("a way has no points", "give ways of this surface")
		}
		if all.Points == nil {
			all.Points = append(all.Points, w.Points[0])
		}
		for i, f := range w.Faces {
			if f < 0 || f >= len(s.m.Faces) {
				return Path{}, invalid("a way lies on another surface", "give ways of this surface")
			}
			all.add(w.Points[i+1], int32(f))
		}
		all.EdgeGraphMM += w.LengthMM
	}
	if len(all.Points) < 2 {
		return Path{}, invalid("a way has no length", "give ways between different points")
	}
	all.ChordMM = all.Points[0].Dist(all.Points[len(all.Points)-1])
	all.measure()
	// a row that came by a point more than once is pulled tighter when it is laid
	// anew along the way found
	for range maxRounds {
		next, err := s.pull(&all)
		if err != nil {
			return Path{}, err
		}
		if !(next.LengthMM < all.LengthMM*(1-lengthRounding)) {
			break
		}
		all = next
	}
	return all, nil
}

// pull makes a row of faces of a way and straightens it.
func (s *Surface) pull(way *Path) (Path, error) {
	last := len(way.Points) - 1
	out := Path{EdgeGraphMM: way.EdgeGraphMM, ChordMM: way.ChordMM, Points: way.Points[:1:1]}
	from, err := s.anchor(s.siteIn(way.Faces[0], way.Points[0]))
	if err != nil {
		return Path{}, err
	}
	row := strip{from: from, faces: []int32{int32(way.Faces[0])}}
	end := func(to anchor) {
		row.to = to
		line := s.straighten(row)
		for i, q := range line.points[1:] {
			out.add(q, line.faces[line.place[i]])
		}
	}
	for i := 1; i < last; i++ {
		next := int32(way.Faces[i])
		crossed, at, ok, err := s.over(way.Points[i], row.faces[len(row.faces)-1], next)
		if err != nil {
			return Path{}, err
		}
		if !ok {
			end(at)
			row = strip{from: at, faces: []int32{next}}
			continue
		}
		for _, h := range crossed {
			row.cross(h, s.adj.twin[h])
		}
	}
	to, err := s.anchor(s.siteIn(way.Faces[last-1], way.Points[last]))
	if err != nil {
		return Path{}, err
	}
	end(to)
	out.measure()
	return out, nil
}

// over is the half-edges crossed from face f to face g at p, where the two meet:
// over the edge they share, or round a point they share, on the side with the
// smaller angle. Where neither leads over, at is the place where they meet.
func (s *Surface) over(p geom.Vec, f, g int32) (crossed []int32, at anchor, ok bool, err error) {
	if f == g {
		return nil, at, true, nil
	}
	best := math.Inf(1)
	for k := range int32(3) {
		h := 3*f + k
		if t := s.adj.twin[h]; t >= 0 && t/3 == g {
			u, v := s.m.halfEnds(h)
			if d := segmentDist2(p, s.m.Points[u], s.m.Points[v]); d < best {
				best, crossed = d, []int32{h}
			}
		}
	}
	if crossed != nil {
		return crossed, at, true, nil
	}
	shared := int32(none)
	for _, v := range s.m.Faces[f] {
		if t := s.m.Faces[g]; v == t[0] || v == t[1] || v == t[2] {
			if d := p.Dist(s.m.Points[v]); d < best {
				best, shared = d, v
			}
		}
	}
	if shared < 0 {
		at, err = s.anchor(s.siteIn(int(g), p))
		return nil, at, false, err
	}
	k := s.cornerAt(f, shared)
	one, oneRad, okOne := s.turnTo(shared, k, g)
	two, twoRad, okTwo := s.turnTo(shared, prevHalf(k), g)
	at = s.pointAnchor(shared)
	if okOne && (!okTwo || oneRad <= twoRad) {
		return one, at, true, nil
	}
	return two, at, okTwo, nil
}

// turnTo walks round v over half-edge h and on to face g.
func (s *Surface) turnTo(v, h, g int32) (crossed []int32, rad float64, ok bool) {
	start := h / 3
	for {
		t := s.adj.twin[h]
		if t < 0 || t/3 == start || len(crossed) > maxFan {
			return nil, math.Inf(1), false
		}
		crossed = append(crossed, h)
		if t/3 == g {
			return crossed, rad, true
		}
		rad += s.cornerAtRad(t/3, v)
		h = s.otherHalfAt(t/3, v, t)
	}
}
