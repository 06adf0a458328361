package inspect

import "fettle/internal/geom"

// Apart is the least distance of two straight pieces, p1 to q1 and p2 to q2.
func Apart(p1, q1, p2, q2 geom.Vec) float64 { return segmentsApart(p1, q1, p2, q2) }
