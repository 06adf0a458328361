package mesh

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// Of faces equally near the one of the smallest number is told, in whatever order a search comes
// to them. Round the origin stand bundles of faces that leave 24 places of it 13 away (signs and
// turns of 3, 4, 12), so that their boxes are exactly as near as the best found; the numbers are
// dealt at random.
func TestOfFacesEquallyNearTheSmallestIsTold(t *testing.T) {
	r := rand.New(rand.NewPCG(302, 0))
	for k := range 60 {
		m, far := &Mesh{}, float64(k%2)
		for side := range 24 {
			var p, out geom.Vec
			for c := range 3 {
				out[(c+side)%3] = float64(1 - 2*(side/3>>c&1))
				p[(c+side)%3] = []float64{3, 4, 12}[c] * out[(c+side)%3] * far
			}
			for range 12 {
				n := int32(len(m.Points))
				m.Points = append(m.Points, p, p.Add(geom.Vec{out[0], out[1] * r.Float64(), 0}), p.Add(geom.Vec{0, out[1] * r.Float64(), out[2]}))
				m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2})
			}
		}
		r.Shuffle(len(m.Faces), func(i, j int) { m.Faces[i], m.Faces[j] = m.Faces[j], m.Faces[i] })
		s := surfaceOf(t, m)
		site, mm := s.Closest(geom.Vec{})
		var store [usualDepth]treeVisit
		plain := nothing()
		s.faces.nearestFace(&geom.Vec{}, &plain, s.faces.stack(&store))
		best := -1
		s.faces.nearest(geom.Vec{}, func(f int32) float64 {
			if best < 0 || int(f) < best {
				best = int(f)
			}
			return 169 * far
		})
		if site.Face != 0 || mm != 13*far || plain.face != 0 || plain.d2 != 169*far || best != 0 {
			t.Fatalf("mesh %d: face %d at %g, %d in the plain tree at %g, %d visited; all are %g away", k, site.Face, mm, plain.face, plain.d2, best, 13*far)
		}
	}
}
