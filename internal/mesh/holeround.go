package mesh

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// allRound says that the wall leaves at most wallGaps sectors empty.
func (h *holeFinder) allRound(wall []int32, a axisLine) bool {
	x, y := sideways(a.along)
	cx, cy := a.at.Dot(x), a.at.Dot(y)
	corners := uint32(0) // one bit for each sector
	h.round++
	for _, f := range wall {
		for _, v := range h.s.m.Faces[f] {
			if h.seen[v] != h.round {
				h.seen[v] = h.round
				p := &h.s.m.Points[v]
				h.sector[v] = sectorOf(p.Dot(x)-cx, p.Dot(y)-cy)
				corners |= 1 << h.sector[v]
			}
		}
	}
	for k := range wallBins { // a fillet is told from a hole without looking round it
		if half := (uint64(1)<<(wallBins/2) - 1) << k; corners&^uint32(half|half>>wallBins) == 0 {
			return false
		}
	}
	var full [wallBins]bool
	for _, f := range wall {
		t := h.s.m.Faces[f]
		first := int(h.sector[t[0]])
		lo, hi := 0, 0
		for _, v := range t[1:] {
			d := int(h.sector[v]) - first // the shorter way round
			d = (d+3*wallBins/2)%wallBins - wallBins/2
			lo, hi = min(lo, d), max(hi, d)
		}
		for b := first + lo; b <= first+hi; b++ {
			full[(b+wallBins)%wallBins] = true
		}
	}
	empty := 0
	for _, is := range full {
		if !is {
			empty++
		}
	}
	return empty <= wallGaps
}

// sectorEdges are the tangents of the angles between the sectors of a quarter.
var sectorEdges = func() (t [wallBins/4 - 1]float64) {
	for k := range t {
		sin, cos := elem.Sincos(float64(k+1) * 2 * math.Pi / wallBins)
		t[k] = sin / cos
	}
	return t
}()

// sectorOf is the sector of the direction (c, s), numbered round from (1, 0).
func sectorOf(c, s float64) int8 {
	quarter := int8(0)
	switch {
	case c > 0 && s >= 0:
	case s > 0:
		quarter, c, s = 1, s, -c
	case c < 0:
		quarter, c, s = 2, -c, -s
	default:
		quarter, c, s = 3, -s, c
	}
	k := quarter * (wallBins / 4)
	for _, t := range sectorEdges {
		if s >= t*c {
			k++
		}
	}
	return k
}

// ends says that at its ends the surface turns away from a wall, at once or over
// rounds: a band of a wider cone, of a ball or of a larger curved wall goes on. lo and
// hi are how far it reaches along the axis with its rounds.
func (h *holeFinder) ends(wall []int32, a axisLine, depth float64) (lo, hi float64, ok bool) {
	h.round++
	for _, f := range wall {
		h.stamp[f] = h.round
	}
	all, turned := 0.0, 0.0
	lo, hi = math.Inf(1), math.Inf(-1)
	ownLo, ownHi := h.extent(wall, a.along)
	with := append([]int32(nil), wall...)
	for i := 0; i < len(with); i++ {
		f := with[i]
		for k := range int32(3) {
			u, v := h.s.m.halfEnds(3*f + k)
			z := h.s.m.Points[u].Dot(a.along)
			lo, hi = min(lo, z), max(hi, z)
			t := h.s.adj.twin[3*f+k]
			if t >= 0 && h.stamp[t/3] == h.round {
				continue
			}
			l := h.s.m.Points[u].Dist(h.s.m.Points[v])
			switch {
			case t < 0 || math.Abs(h.normal[t/3].Dot(a.along)) > roundLean:
				all, turned = all+l, turned+l
			case h.ofRound(t/3, a, ownLo, ownHi):
				h.stamp[t/3] = h.round
				with = append(with, t/3)
			default:
				all += l
			}
		}
		if len(with) > 8*len(wall)+1000 {
			return lo, hi, false // it goes on and on
		}
	}
	return lo, hi, all > 0 && turned >= endShare*all && depth >= wallDepth*(hi-lo)
}

// extent is from where to where faces reach along a direction.
func (h *holeFinder) extent(faces []int32, along geom.Vec) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, f := range faces {
		p, q, o := h.s.m.corners(int(f))
		for _, c := range [3]geom.Vec{p, q, o} {
			lo, hi = min(lo, c.Dot(along)), max(hi, c.Dot(along))
		}
	}
	return lo, hi
}

// ofRound says that a face may belong to the round of a rim: it is near the end of
// the wall, along the axis and across.
func (h *holeFinder) ofRound(f int32, a axisLine, lo, hi float64) bool {
	z := h.mid[f].Dot(a.along)
	return z > lo-roundMM && z < hi+roundMM && radial(h.mid[f].Sub(a.at), a.along).Norm() <= a.radius+roundMM
}
