package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Hit is where a ray meets the surface.
type Hit struct {
	Site
	DistMM float64 // along the ray from its origin
	Front  bool    // the ray comes from the side the face normal points to
}

// Closest is the point of the surface nearest to p, and its distance [mm]. Of
// faces equally near it takes the one with the smaller index.
func (s *Surface) Closest(p geom.Vec) (Site, float64) {
	s.work.Step()
	best := nothing()
	var store [usualDepth]treeVisit
	s.faces.nearestFace(&p, &best, s.faces.stack(&store))
	var n siteNear
	s.faces.near(&p, &best, &n)
	return n.Site, n.distMM
}

// ClosestFacing is the nearest point among the faces whose normal is within
// maxAngleRad of the direction towards; false when there is none within mostMM
// (+Inf: anywhere). It chooses the near side of a thin wall, where distance alone
// would not.
func (s *Surface) ClosestFacing(p, towards geom.Vec, maxAngleRad, mostMM float64) (Site, float64, bool) {
	t, limit := towards.Unit(), elem.Cos(min(math.Pi, max(0, maxAngleRad)))
	return s.closest(p, mostMM, func(f int32) bool {
		n := s.m.FaceNormal(int(f))
		return n != geom.Vec{} && n.Dot(t) >= limit
	})
}

func (s *Surface) closest(p geom.Vec, mostMM float64, wanted func(f int32) bool) (Site, float64, bool) {
	s.work.Step()
	best, face := float64(mostMM*mostMM), int32(none)
	var bary [3]float64
	s.faces.nearestWithin(p, best, func(f int32) float64 {
		a, b, c := s.m.corners(int(f))
		w := closestInTriangle(p, a, b, c)
		q := a.Scale(w[0]).Add(b.Scale(w[1])).Add(c.Scale(w[2])).Sub(p)
		d2 := q.Dot(q)
		if d2 > best || d2 == best && face != none && f > face || !wanted(f) {
			return math.Inf(1)
		}
		best, face, bary = d2, f, w
		return d2
	})
	if face == none {
		return Site{}, math.Inf(1), false
	}
	site := s.Site(int(face), bary)
	return site, site.At.Dist(p), true
}

// closestInTriangle is the barycentric coordinates of the point of triangle abc
// nearest to p.
func closestInTriangle(p, a, b, c geom.Vec) [3]float64 {
	v, w, _ := nearTriangle(&p, &a, &b, &c)
	return [3]float64{max(0, 1-v-w), v, w}
}

// Ray is every place where the half line from origin along dir meets the
// surface, nearest first. Where it passes through an edge or a point that
// neighbouring faces share, it counts once for each side it comes from. A face
// that the ray lies in is not met.
//
// Source: S. Woop, C. Benthin, I. Wald, Watertight ray/triangle intersection,
// 2013: no ray slips between two faces that share an edge.
func (s *Surface) Ray(origin, dir geom.Vec) []Hit {
	d := dir.Unit()
	var sh shear
	var x rayHit
	sh.set(&origin, &d)
	var all []Hit
	s.faces.along(origin, d, func(f int32) {
		if sh.meet(s.m.Points, &s.m.Faces[f], &x) {
			all = append(all, s.hit(f, &x))
		}
	})
	slices.SortFunc(all, func(a, b Hit) int {
		return cmp.Or(cmp.Compare(a.DistMM, b.DistMM), cmp.Compare(a.Face, b.Face))
	})
	var hits []Hit
	for _, h := range all {
		if !s.repeats(hits, h) {
			hits = append(hits, h)
		}
	}
	return hits
}

// repeats says that a hit is the same crossing as an earlier one, seen again
// in a face that shares a point with that one's.
func (s *Surface) repeats(hits []Hit, h Hit) bool {
	for i := len(hits) - 1; i >= 0 && h.DistMM-hits[i].DistMM <= 1e-9*(1+h.DistMM); i-- {
		if hits[i].Front != h.Front {
			continue
		}
		for _, u := range s.m.Faces[h.Face] {
			for _, v := range s.m.Faces[hits[i].Face] {
				if u == v {
					return true
				}
			}
		}
	}
	return false
}
