package geom

import (
	"math"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// What cannot be fitted is refused with the number of the point and what is wrong with it.
func TestFitsRefuseByName(t *testing.T) {
	cube := []Vec{{0, 0, 0}, {100, 0, 0}, {0, 100, 0}, {0, 0, 100}, {90, 80, 70}}
	line := []Vec{{0, 0, 0}, {100, 0, 0}, {200, 0, 0}, {300, 0, 0}, {400, 0, 0}}
	covs := func(change func(c []Mat3)) []Mat3 {
		c := []Mat3{Isotropic(1), Isotropic(1), Isotropic(1), Isotropic(1), Isotropic(1)}
		change(c)
		return c
	}
	sound, none := covs(func([]Mat3) {}), make([]Mat3, 5)
	flat := covs(func(c []Mat3) { c[3] = Diag3(Vec{1, 1, 0}) })
	long := append(append([]Vec(nil), cube...), make([]Vec, MaxMatches)...)
	matcher := func(m Matches) error { _, err := NewMatcher(m); return err }
	fit := func(from, to []Vec, a, b []Mat3) error { _, err := FitRigidCov(from, to, a, b); return err }
	full := func(from []Vec, cov func(i, j int) Mat3) error {
		_, err := FitRigidFull(from, from, cov)
		return err
	}
	hole := func(rim []Vec, std float64) error { _, err := FitHole(rim, std); return err }
	circle := func(u, v []float64) error { _, err := FitCircle(u, v); return err }
	least := func(f Model, x []float64, m int) error { _, err := LeastSquares(f, x, m); return err }
	odd := []Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, math.Inf(1)}}
	for _, c := range []struct {
		err  error
		says string // "" for none
	}{
		{fit(cube, cube, none, sound), ""},
		{fit(cube, cube, none[:4], sound), "there are 5 points and 4 and 5 covariances"},
		{fit(cube, cube, none, sound[:3]), "there are 5 points and 5 and 3 covariances"},
		{fit(cube, cube, none, covs(func(c []Mat3) { c[1] = Mat3{} })), "the covariance of point 2 is not positive"},
		{fit(cube, cube, none, covs(func(c []Mat3) { c[2][0][1] = math.NaN() })), "the covariance of point 3 is not positive"},
		{fit(cube, cube, covs(func(c []Mat3) { c[4][2][1] = math.Inf(1) }), sound), "the covariance of point 5 is not positive"},
		{fit(line, line, none, sound), "too nearly on one line"},
		{fit(cube, cube[:4], none, sound), "have 5 and 4 points"},
		{fit(cube, cube, none, flat), "the covariance of a point is not positive definite"},
		{full(line, func(i, j int) Mat3 { return Mat3{} }), "too nearly on one line"},
		{full(cube, func(i, j int) Mat3 {
			if i == j && i != 2 {
				return Isotropic(1)
			}
			return Mat3{}
		}), "the covariance of point 3 is not positive definite"},
		{matcher(Matches{cube, cube, none, sound}), ""},
		{matcher(Matches{cube, cube[:4], none, sound}), "the parts of the matches have 5, 4, 5 and 5 entries"},
		{matcher(Matches{cube, cube, none[:2], sound}), "the parts of the matches have 5, 5, 2 and 5 entries"},
		{matcher(Matches{cube, cube, none, sound[:1]}), "the parts of the matches have 5, 5, 5 and 1 entries"},
		{matcher(Matches{long, long, make([]Mat3, len(long)), make([]Mat3, len(long))}), "there are 1029 points, at most 1024 can be searched"},
		{matcher(Matches{cube, cube, none, flat}), "the covariance of match 4 is not positive definite"},
		{matcher(Matches{odd, cube[:3], none[:3], sound[:3]}), "match 3 is not finite"},
		{matcher(Matches{cube[:3], odd, none[:3], sound[:3]}), "match 3 is not finite"},
		{matcher(Matches{cube, cube, none, covs(func(c []Mat3) { c[1][0][0] = math.Inf(1) })}), "match 2 is not finite"},
		{hole(cube[:2], 1), "at least 3 rim points with a positive uncertainty, there are 2 with 1 mm"},
		{hole(cube[:3], 0), "there are 3 with 0 mm"},
		{hole(cube[:3], math.Inf(1)), "there are 3 with +Inf mm"},
		{hole(odd, 1), "rim point 3 is not finite"},
		{hole(line, 1), "too nearly on one line"},
		{hole([]Vec{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, 1), "too nearly on one line"},
		{hole(cube[:3], 0.1), ""},
		{circle([]float64{0, 1, 2}, []float64{0, 0, 0}), "the rim points lie on one line"},
		{least(func(x, r, jac []float64) { r[0], jac[0], jac[1] = 1, 1, 0 }, []float64{0, 0}, 1), "1 residuals cannot determine 2 unknowns"},
		{least(func(x, r, jac []float64) { r[0], jac[0] = x[0]-3, 1 }, []float64{0}, 1), ""},
		{least(func(x, r, jac []float64) { r[0], jac[0], jac[1], r[1], jac[2], jac[3] = x[0], 1, 0, 0, 0, 0 }, []float64{1, 1}, 2), "unknown 2 is not determined"},
	} {
		if c.says == "" {
			if c.err != nil {
				t.Errorf("refused: %v", c.err)
			}
		} else if c.err == nil || diag.KindOf(c.err) != diag.Invalid || !strings.Contains(c.err.Error(), c.says) {
			t.Errorf("%v, want a refusal with %q", c.err, c.says)
		}
	}
	if got := matcher(Matches{long[:MaxMatches], long[:MaxMatches], make([]Mat3, MaxMatches), func() (c []Mat3) {
		for range MaxMatches {
			c = append(c, Isotropic(1))
		}
		return c
	}()}); got != nil {
		t.Errorf("as many as can be searched: %v", got)
	}
	for _, w := range [][]float64{{1, 1, math.NaN(), 1, 1}, {1, 1, math.Inf(1), 1, 1}, {1, 1, -1e-9, 1, 1}} {
		if _, err := FitRigid(cube, cube, w); err == nil || !strings.Contains(err.Error(), "weight 3 is") {
			t.Errorf("weights %v: %v", w, err)
		}
	}
	if _, err := FitRigid(cube, cube, []float64{1, 1, 0, 1, 1}); err != nil { // one that counts for nothing
		t.Errorf("a weight of 0: %v", err)
	}
	if _, err := FitRigid(cube, cube, []float64{1, 1, 1}); err == nil || !strings.Contains(err.Error(), "5 and 5 points, and 3 weights") {
		t.Errorf("three weights: %v", err)
	}
	var bad Vec = odd[2]
	if _, err := FitRigid(cube[:3], []Vec{{0, 0, 0}, bad, {1, 1, 0}}, nil); err == nil || !strings.Contains(err.Error(), "point 2 is not finite") {
		t.Errorf("an infinite place: %v", err)
	}
}

// A matrix that is not positive definite has no factor: whichever pivot gives out, by nothing, by
// less than nothing, by what is infinite or no number. A positive one has, and it is the factor.
func TestFactorsAreOfPositiveMatrices(t *testing.T) {
	for k := range 3 {
		for _, v := range []float64{-1e-3, math.Inf(1), math.NaN()} {
			m := Mat3{{4, 1, 0.5}, {1, 3, -1}, {0.5, -1, 5}}
			l, _ := Chol3(m)
			m[k][k] += v - l[k][k]*l[k][k] // so that the square of the pivot is v
			if _, ok := Chol3(m); ok {
				t.Errorf("pivot %d is %g: a factor", k, v)
			}
			if _, ok := Mahalanobis(Vec{1, 1, 1}, m); ok {
				t.Errorf("pivot %d is %g: a distance", k, v)
			}
		}
		m := Diag3(Vec{1, 1, 1})
		m[k][k] = 0
		if _, ok := Chol3(m); ok {
			t.Errorf("pivot %d is 0: a factor", k)
		}
	}
	m := Mat6{}
	for i := range m {
		for j := range m {
			m[i][j] = 1 / float64(i+j+1)
		}
		m[i][i] += 0.1
	}
	l, ok := Chol6(&m)
	if !ok {
		t.Fatal("no factor")
	}
	inv := l.InvertChol()
	for i := range m {
		for j := range m {
			sum, one, back := 0.0, 0.0, 0.0
			for k := range m {
				sum += m[i][k] * inv[k][j]
				back += l[i][k] * l[j][k]
			}
			if i == j {
				one = 1
			}
			near(t, "m times its inverse", sum, one, 1e-11)
			near(t, "factor times itself turned", back, m[i][j], 1e-14)
			if inv[i][j] != inv[j][i] || j > i && l[i][j] != 0 {
				t.Errorf("%d, %d: %g and %g; factor %g", i, j, inv[i][j], inv[j][i], l[i][j])
			}
		}
	}
	for k := range m {
		for _, v := range []float64{-5, math.NaN(), math.Inf(1), math.Inf(-1)} {
			bad := m
			bad[k][k] = v
			if _, ok := Chol6(&bad); ok {
				t.Errorf("%g at %d: a factor", v, k)
			}
		}
	}
	if _, ok := (Mat3{{1, 2, 3}, {2, 4, 6}, {0, 0, 1}}).Inverse(); ok {
		t.Error("an inverse of a matrix without one")
	}
	if _, ok := (Mat3{{math.Inf(1), 0, 0}, {0, 1, 0}, {0, 0, 1}}).Inverse(); ok {
		t.Error("an inverse of what is infinite")
	}
}
