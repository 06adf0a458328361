package mesh

import (
	"math/rand/v2"
	"sync"
	"testing"

	"fettle/internal/geom"
)

// TestSurfaceIsSharedByGoroutines asks one new surface from several goroutines
// at once, so that whatever it fills when it is first asked is filled by many;
// each gets the answers of a surface that is asked by one. The race detector
// runs this test.
func TestSurfaceIsSharedByGoroutines(t *testing.T) {
	m := bumpyTorus(48, 30, 4)
	points := make([]geom.Vec, 300)
	r := rand.New(rand.NewPCG(11, 0))
	for i := range points {
		points[i] = m.Points[r.IntN(len(m.Points))].Add(geom.Vec{r.Float64() - 0.5, r.Float64() - 0.5, r.Float64() - 0.5})
	}
	ask := func(s *Surface) (near []siteNear, mm []float64) {
		near = make([]siteNear, len(points))
		for i, p := range points {
			near[i].Site, near[i].distMM = s.Closest(p)
		}
		a, _ := s.Closest(points[0])
		for _, p := range points[1:20] {
			b, _ := s.Closest(p)
			d, err := s.ExactDistances([]Site{a}, []Site{b}, 0)
			if err != nil {
				t.Error(err)
				return
			}
			mm = append(mm, d.Targets...)
			if hit, ok := s.FirstHit(p, geom.Vec{0, 0, 1}); ok {
				mm = append(mm, hit.DistMM)
			}
		}
		return near, mm
	}
	wantNear, wantMM := ask(surfaceOf(t, m))
	s := surfaceOf(t, m)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			near, mm := ask(s)
			for i := range near {
				if near[i] != wantNear[i] {
					t.Errorf("point %d: %v, want %v", i, near[i], wantNear[i])
					return
				}
			}
			for i := range mm {
				if len(mm) != len(wantMM) || mm[i] != wantMM[i] {
					t.Errorf("distance %d differs from that of a surface asked by one", i)
					return
				}
			}
		})
	}
	wg.Wait()
}
