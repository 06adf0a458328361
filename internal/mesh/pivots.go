package mesh

import (
	"math"
	"sync/atomic"

	"fettle/internal/elem"
)

// pivotAngleRad is how far a corner sum must exceed a full turn before a
// shortest path can bend there; below it the gain is lost in rounding.
const pivotAngleRad = 1e-9

// pivots is the points where a shortest path may bend, found out point by point when a
// search first comes there: most of a mesh is never searched. Goroutines may ask at
// once; what two find out at the same time is the same.
type pivots struct{ known, bends []atomic.Uint32 } // a bit for each point

func newPivots(n int) *pivots {
	words := (n + 31) / 32
	return &pivots{make([]atomic.Uint32, words), make([]atomic.Uint32, words)}
}

// bendsAt says that a shortest path may bend at a point.
func (s *Surface) bendsAt(v int32) bool {
	word, bit := v/32, uint32(1)<<(v%32)
	if s.pivots.known[word].Load()&bit == 0 {
		if s.findPivot(v) {
			s.pivots.bends[word].Or(bit)
		}
		s.pivots.known[word].Or(bit) // after what it says
	}
	return s.pivots.bends[word].Load()&bit != 0
}

// findPivot says whether a shortest path may bend at a point: where there is more
// than a full turn of surface around it, at a border, and where parts of the surface
// hang together in it that do not over edges. Around any other point the shorter way
// round is always shorter still.
//
// Source: J. S. B. Mitchell, D. M. Mount, C. H. Papadimitriou, The discrete
// geodesic problem, 1987, lemma 3.4.
func (s *Surface) findPivot(v int32) bool {
	turn := 0.0
	for _, h := range s.adj.cornersOf(v) {
		if s.adj.twin[h] < 0 || s.adj.twin[prevHalf(h)] < 0 {
			return true
		}
		turn += s.cornerRad(h)
	}
	return turn > 2*math.Pi+pivotAngleRad || s.partsMeetAt(v)
}

// partsMeetAt says that parts of the surface share a point that do not hang together
// over edges there.
func (s *Surface) partsMeetAt(v int32) bool { return s.fanSize(v) < len(s.adj.cornersOf(v)) }

// fanSize is how many corners hang together over edges with the first corner at v.
func (s *Surface) fanSize(v int32) int {
	all := s.adj.cornersOf(v)
	if len(all) == 0 {
		return 0
	}
	n := 1
	for _, first := range [2]int32{all[0], prevHalf(all[0])} { // one way round, then the other
		h := first
		for n < len(all) {
			t := s.adj.twin[h]
			if t < 0 {
				break
			}
			if t/3 == all[0]/3 {
				return n
			}
			n++
			h = s.otherHalfAt(t/3, v, t)
		}
	}
	return n
}

// hangTogether says that one comes from face f to face g round v over edges.
func (s *Surface) hangTogether(v, f, g int32) bool {
	if f == g {
		return true
	}
	k := s.cornerAt(f, v)
	for _, h := range [2]int32{k, prevHalf(k)} {
		if _, _, ok := s.turnTo(v, h, g); ok {
			return true
		}
	}
	return false
}

// cornerRad is the angle of face h/3 at the point half-edge h starts from.
func (s *Surface) cornerRad(h int32) float64 {
	p, q := s.m.halfEnds(h)
	r, _ := s.m.halfEnds(prevHalf(h))
	u, v := s.m.Points[q].Sub(s.m.Points[p]), s.m.Points[r].Sub(s.m.Points[p])
	return elem.Atan2(u.Cross(v).Norm(), u.Dot(v))
}
