package mesh

import "fettle/internal/geom"

// Near is an answer of ClosestAll.
type Near struct {
	Site
	DistMM float64
}

// ClosestAll is Closest for many points at once: out[i] answers points[i]. It
// visits them along a space-filling curve, answers neighbours together, and
// starts each search from the answer before, which changes the time and not
// the answers. out must be as long as points.
func (s *Surface) ClosestAll(points []geom.Vec, out []Near) {
	if len(out) != len(points) {
		panic("mesh: ClosestAll needs as many places as points")
	}
	answer := s.faces.answerPlain
	if s.faces.wide != nil {
		answer = newNearGroup(&s.faces).answer
	}
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
		answer(run[:len(now)], done[:len(now)])
		for k, i := range now {
			out[i] = done[k]
		}
	}
}

// answerPlain answers points that follow one another in space.
func (t *faceTree) answerPlain(points []geom.Vec, out []Near) {
	best := nothing()
	for i := range points {
		t.nearestFace(&points[i], &best)
		t.near(&points[i], &best, &out[i])
	}
}
