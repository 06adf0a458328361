package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
)

// Two walls are opposite when their normals differ by at least this angle. Our
// choice, no source.
const oppositeRad = 150 * math.Pi / 180

// WallMM is how thick the walls of a closed mesh are: the median, by area, of
// the way straight inward from the middle of a face to the next surface, of
// those faces where that is an opposite wall; false without any.
func (s *Surface) WallMM() (float64, bool) {
	type face struct{ mm, area float64 }
	var all []face
	sum := 0.0
	s.EachWall(func(f, _ int32, mm float64) {
		area := s.m.FaceAreaMM2(int(f))
		sum += area
		all = append(all, face{mm, area})
	})
	slices.SortFunc(all, func(a, b face) int { return cmp.Or(cmp.Compare(a.mm, b.mm), cmp.Compare(a.area, b.area)) })
	below := 0.0
	for _, x := range all {
		if below += x.area; below >= sum/2 {
			return x.mm, true
		}
	}
	return 0, false
}

// EachWall visits every face of a closed mesh with an opposite wall straight inward
// from its middle: the face met there, and how far it is.
func (s *Surface) EachWall(visit func(f, opposite int32, mm float64)) {
	lo, hi := s.m.Bounds()
	skin := 1e-7 * lo.Dist(hi) // off the face itself
	out := s.outward()
	for f := range s.m.Faces {
		n := s.m.FaceNormal(f).Scale(out)
		if n == (geom.Vec{}) {
			continue
		}
		a, b, c := s.m.corners(f)
		at := a.Add(b).Add(c).Scale(1. / 3).Sub(n.Scale(skin))
		h, ok := s.FirstHit(at, n.Scale(-1))
		if ok && s.m.FaceNormal(h.Face).Scale(out).Dot(n) <= math.Cos(oppositeRad) {
			visit(int32(f), int32(h.Face), h.DistMM+skin)
		}
	}
}

// outward is -1 for a closed mesh whose normals point inward, else 1.
func (s *Surface) outward() float64 {
	if slices.Min(s.adj.twin) >= 0 && s.m.VolumeMM3() < 0 {
		return -1
	}
	return 1
}
