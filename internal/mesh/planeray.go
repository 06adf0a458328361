package mesh

import (
	"math"

	"fettle/internal/geom"
)

// planeRay is a ray for hit8, from where it passes the middle of the mesh most
// closely, which lies zero along it: from and to are where it begins and where
// it is no longer of interest, slack is more than the rounding of a place on a
// plane that the ray meets at a right angle.
type planeRay struct {
	at, dir  [3]float32
	from, to float32
	slack    float32
	one      float32 // 1
	zero     float64 // the distance of that place from the origin
}

// raySlack is planeSlack for rays. A face is hit at t with n.(o + t d) = h; with
// e for the rounding of n.o - h, at most planeSlack, and c for that of n.d, at
// most 4e-7, t is wrong by no more than (e + |t| c)/|n.d|, the place by as much
// again and the rounding of the place, and its distance from an edge by e.
const raySlack = 4 * planeSlack

func (q *planeRay) set(s *planeStore, o, d *geom.Vec) {
	x, y, z := o[0]-s.mid[0], o[1]-s.mid[1], o[2]-s.mid[2]
	far := math.Abs(x) + math.Abs(y) + math.Abs(z)
	q.zero = -(float64(x*d[0]) + float64(y*d[1]) + float64(z*d[2]))
	x, y, z = x+float64(q.zero*d[0]), y+float64(q.zero*d[1]), z+float64(q.zero*d[2])
	q.at[0], q.at[1], q.at[2] = float32(x), float32(y), float32(z)
	q.dir[0], q.dir[1], q.dir[2] = float32(d[0]), float32(d[1]), float32(d[2])
	q.from, q.to, q.one = float32(-q.zero), math.MaxFloat32, 1
	q.slack = float32(float64(raySlack*(s.radius+math.Abs(x)+math.Abs(y)+math.Abs(z))) + float64(1e-15*far))
}

// until sets the distance from the origin beyond which nothing is of interest.
func (q *planeRay) until(t float64) { q.to = float32(t - q.zero) }
