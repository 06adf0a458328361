package mesh

import (
	"math"

	"fettle/internal/geom"
)

// Near is an answer of ClosestAll.
type Near struct {
	Site
	DistMM float64
}

// ClosestAll is Closest for many points at once: out[i] answers points[i]. It
// visits them along a space-filling curve and starts each search from the
// answer before, which changes the time and not the answers. out must be as
// long as points.
func (s *Surface) ClosestAll(points []geom.Vec, out []Near) {
	if len(out) != len(points) {
		panic("mesh: ClosestAll needs as many places as points")
	}
	best := found{math.Inf(1), -1, [3]float64{}}
	// copied in and out together: the points lie anywhere in memory
	var run [256]geom.Vec
	var done [256]Near
	order := workOrder(points)
	for len(order) > 0 {
		now := order[:min(len(order), len(run))]
		order = order[len(now):]
		for k, i := range now {
			run[k] = points[i]
		}
		for k := range now {
			p := &run[k]
			if best.face >= 0 {
				f := best.face
				best.d2 = math.Inf(1)
				best.look(p, s.m.Points, &s.m.Faces[f], f)
			}
			s.faces.nearestFace(p, &best)
			done[k] = s.near(p, &best)
		}
		for k, i := range now {
			out[i] = done[k]
		}
	}
}
