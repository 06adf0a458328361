package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
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
// from its middle: the face met there, and how far it is. The rays are asked in the
// order of the tree, in which neighbours follow one another whatever the order of the
// faces; the faces are visited in their own order.
func (s *Surface) EachWall(visit func(f, opposite int32, mm float64)) {
	lo, hi := s.m.Bounds()
	skin := float64(1e-7 * lo.Dist(hi)) // off the face itself
	out, opposite := s.outward(), elem.Cos(oppositeRad)
	type wall struct {
		face int32 // plus one, 0: none
		mm   float64
	}
	walls := make([]wall, len(s.m.Faces))
	c := raySearch{stack: make([]wideVisit, s.faces.wideStack)}
	var h Hit
	for _, f := range s.faces.items {
		s.work.Step()
		n := s.m.FaceNormal(int(f)).Scale(out)
		if n == (geom.Vec{}) {
			continue
		}
		p, q, r := s.m.corners(int(f))
		at, way := p.Add(q).Add(r).Scale(1./3).Sub(n.Scale(skin)), n.Scale(-1)
		if s.faces.firstHit(&at, &way, &c, &h) && s.m.FaceNormal(h.Face).Scale(out).Dot(n) <= opposite {
			walls[f] = wall{int32(h.Face) + 1, h.DistMM + skin}
		}
	}
	for f, w := range walls {
		if w.face > 0 {
			visit(int32(f), w.face-1, w.mm)
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
