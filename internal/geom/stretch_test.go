package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A cloud stretched and sheared by a known matrix leaves nothing but the noise, whose
// squares are chi-square with 3 n - 12 degrees of freedom (general least squares); a
// part that moved is no stretch; points in one plane do not determine it.
func TestStretch(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	const n, std, runs = 20, 0.7, 200
	sum := 0.0
	for run := range runs {
		var m Matches
		by := Mat3{{1.003, 0.002, 0}, {0, 1, -0.001}, {0, 0, 1 / 25.4}}
		for range n {
			p := Vec{4500 * rng.Float64(), 1600 * rng.Float64(), 700 * rng.Float64()}
			m.From = append(m.From, p)
			m.To = append(m.To, by.MulVec(p).Add(Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(std)).Add(Vec{800, -300, 2000}))
			m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(std))
		}
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		s, ok := x.Stretch()
		if !ok || s.DOF != 3*n-StretchParameters {
			t.Fatalf("%v, %d degrees of freedom", ok, s.DOF)
		}
		sum += s.Chi2
		if run > 0 {
			continue
		}
		m.To[3] = m.To[3].Add(Vec{15, 0, 0})
		if s, _ := x.Stretch(); ChiSquareTail(s.Chi2, s.DOF) > 1e-6 {
			t.Errorf("a point 15 mm off leaves chi-square %.1f", s.Chi2)
		}
		for i := range m.From {
			m.From[i][2] = 0
		}
		if _, ok := x.Stretch(); ok {
			t.Error("points in one plane give a stretch")
		}
	}
	dof := float64(3*n - StretchParameters)
	if mean := sum / runs; math.Abs(mean-dof) > 4*math.Sqrt(2*dof/runs) {
		t.Errorf("mean chi-square %.2f, expected %.0f", mean, dof)
	}
}
