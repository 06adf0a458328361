package mesh

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// All on a closed surface of 200,000 triangles.

func BenchmarkNewSurface(b *testing.B) {
	m := bumpyTorus(400, 250, 1)
	for b.Loop() {
		surfaceOf(b, m)
	}
}

func BenchmarkClosest(b *testing.B) {
	s := surfaceOf(b, bumpyTorus(400, 250, 1))
	r := rand.New(rand.NewPCG(2, 0))
	for b.Loop() {
		s.Closest(geom.Vec{600*r.Float64() - 300, 600*r.Float64() - 300, 200*r.Float64() - 100})
	}
}

func BenchmarkRay(b *testing.B) {
	s := surfaceOf(b, bumpyTorus(400, 250, 1))
	r := rand.New(rand.NewPCG(3, 0))
	for b.Loop() {
		s.Ray(geom.Vec{0, 0, 300}, geom.Vec{r.NormFloat64(), r.NormFloat64(), -1})
	}
}

func benchPaths(b *testing.B, gapFaces int, run func(s *Surface, p, q Site) (Path, error)) {
	s := surfaceOf(b, bumpyTorus(400, 250, 1))
	r := rand.New(rand.NewPCG(4, 0))
	third := [3]float64{0.2, 0.3, 0.5}
	mm, n := 0.0, 0.0
	for b.Loop() {
		f := r.IntN(len(s.m.Faces))
		p, err := run(s, s.Site(f, third), s.Site((f+gapFaces)%len(s.m.Faces), third))
		if err != nil {
			b.Fatal(err)
		}
		mm += p.LengthMM
		n++
	}
	b.ReportMetric(mm/n, "mm/path")
}

func BenchmarkPathFar(b *testing.B)  { benchPaths(b, 100_124, (*Surface).Path) }
func BenchmarkPathNear(b *testing.B) { benchPaths(b, 5_040, (*Surface).Path) }

func BenchmarkShortestPathFar(b *testing.B)  { benchPaths(b, 100_124, (*Surface).ShortestPath) }
func BenchmarkShortestPathNear(b *testing.B) { benchPaths(b, 5_040, (*Surface).ShortestPath) }
