package mesh

import (
	"math"

	"fettle/internal/geom"
)

// RayQuestion is a half line, and RayAnswer where it first meets the surface.
type RayQuestion struct{ Origin, Dir geom.Vec }

// RayAnswer is an answer of FirstHitAll.
type RayAnswer struct {
	Hit
	Met bool // false when the half line meets nothing
}

// FirstHitAll is FirstHit for many half lines at once: out[i] answers rays[i].
// It takes them in the order, along a space-filling curve, of the places where
// they pass through the box of the surface, which changes the time and not the
// answers. out must be as long as rays.
func (s *Surface) FirstHitAll(rays []RayQuestion, out []RayAnswer) {
	if len(out) != len(rays) {
		panic("mesh: FirstHitAll needs as many places as rays")
	}
	root := &s.faces.nodes[0]
	at := make([]geom.Vec, len(rays))
	for i := range rays {
		at[i] = root.middleOn(&rays[i])
	}
	order := workOrder(at)
	// copied in and out together: the rays lie anywhere in memory
	c := raySearch{stack: make([]wideVisit, s.faces.wideStack)}
	var run [128]RayQuestion
	var done [128]RayAnswer
	for len(order) > 0 {
		now := order[:min(len(order), len(run))]
		order = order[len(now):]
		for k, i := range now {
			run[k] = rays[i]
		}
		for k := range now {
			done[k].Met = s.faces.firstHit(&run[k].Origin, &run[k].Dir, &c, &done[k].Hit)
			if !done[k].Met {
				done[k].Hit = Hit{}
			}
		}
		for k, i := range now {
			out[i] = done[k]
		}
	}
}

// middleOn is about the middle of the way of a ray through the box, kept in the
// box; it decides the order of work and no answer.
func (n *node) middleOn(r *RayQuestion) geom.Vec {
	from, to := 0.0, math.Inf(1)
	for k := range 3 {
		a, b := (float64(n.lo[k])-r.Origin[k])/r.Dir[k], (float64(n.hi[k])-r.Origin[k])/r.Dir[k]
		from, to = max(from, min(a, b)), min(to, max(a, b))
	}
	var p geom.Vec
	for k := range 3 {
		p[k] = min(max(r.Origin[k]+float64(r.Dir[k]*(from+to)/2), float64(n.lo[k])), float64(n.hi[k]))
	}
	return p
}
