package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Independent errors: the same answer as FitRigidCov, found another way.
func TestFitRigidFullOfIndependentErrors(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var from, to []Vec
	var none, covs []Mat3
	m := Rigid{R: FromRotationVector(Vec{0.1, -0.2, 0.3}), T: Vec{100, 20, -7}}
	for range 9 {
		p := Vec{3000 * rng.Float64(), 1400 * rng.Float64(), 600 * rng.Float64()}
		u := Vec{0.2 + rng.Float64(), 0.2 + rng.Float64(), 0.2 + rng.Float64()}
		c := Diag3(Vec{u[0] * u[0], u[1] * u[1], u[2] * u[2]}).Turn(FromRotationVector(Vec{rng.Float64(), rng.Float64(), 1}))
		from, to = append(from, p), append(to, m.Apply(p).Add(Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}))
		none, covs = append(none, Mat3{}), append(covs, c)
	}
	want, err := FitRigidCov(from, to, none, covs)
	if err != nil {
		t.Fatal(err)
	}
	got, err := FitRigidFull(from, to, func(i, j int) Mat3 {
		if i == j {
			return covs[i]
		}
		return Mat3{}
	})
	if err != nil {
		t.Fatal(err)
	}
	for i := range from {
		if d := got.Motion.Apply(from[i]).Dist(want.Motion.Apply(from[i])); d > 1e-7 {
			t.Errorf("point %d is %g mm off", i, d)
		}
		a, b := got.PredictCov(from[i]), want.PredictCov(from[i])
		for r := range a {
			for c := range a[r] {
				if math.Abs(a[r][c]-b[r][c]) > 1e-9 {
					t.Errorf("covariance of point %d: %v, want %v", i, a, b)
				}
			}
		}
	}
	if math.Abs(got.Chi2-want.Chi2) > 1e-8 || got.DOF != want.DOF {
		t.Errorf("chi2 %v of %d, want %v of %d", got.Chi2, got.DOF, want.Chi2, want.DOF)
	}
}

// A translation that all points share moves the fit with it and is no misfit.
// Source: with S = u^2 I + c^2 on every pair the mean of n points has the
// variance u^2/n + c^2.
func TestFitRigidFullOfASharedError(t *testing.T) {
	from := []Vec{{0, 0, 0}, {1000, 0, 0}, {0, 800, 0}, {0, 0, 500}, {900, 700, 300}}
	var to []Vec
	for _, p := range from {
		to = append(to, p.Add(Vec{5, 0, 0}))
	}
	f, err := FitRigidFull(from, to, func(i, j int) Mat3 {
		c := Isotropic(2)
		if i == j {
			c = c.Add(Isotropic(0.5))
		}
		return c
	})
	if err != nil {
		t.Fatal(err)
	}
	if want := 0.25/5 + 4; math.Abs(f.Pose[0][0]-want) > 1e-9 || f.Chi2 > 1e-12 {
		t.Errorf("variance %v, want %v; chi2 %v", f.Pose[0][0], want, f.Chi2)
	}
	if _, err := FitRigidFull(from, to, func(i, j int) Mat3 { return Isotropic(1) }); err == nil {
		t.Error("a covariance without rank was taken")
	}
}
