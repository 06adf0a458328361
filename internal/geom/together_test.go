package geom

import (
	"math/rand/v2"
	"testing"
)

// correlated are ten matches with a whole covariance made of a common error of the
// last four in one direction and own errors of all. Seed 5.
func correlated() (Matches, func(i, j int) Mat3) {
	rng := rand.New(rand.NewPCG(5, 1))
	gauss := func() Vec { return Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
	const own, common = 0.2, 1.5
	shared := gauss().Scale(common)
	var m Matches
	for i := range 10 {
		p := Vec{400 * float64(i), 600 * float64(i%2), 300 * rng.Float64()}
		q := p.Add(gauss().Scale(own))
		v := own * own
		if i >= 6 {
			q, v = q.Add(shared), v+common*common
		}
		m.From, m.To, m.CovFrom, m.CovTo = append(m.From, p), append(m.To, q), append(m.CovFrom, Mat3{}), append(m.CovTo, Diag3(Vec{v, v, v}))
	}
	return m, func(i, j int) Mat3 {
		switch {
		case i == j:
			return m.CovTo[i]
		case i >= 6 && j >= 6:
			return Isotropic(common)
		}
		return Mat3{}
	}
}

// The misfit of one block with the whole covariance is that of the generalised fit,
// and independent points cost what they cost by themselves.
func TestMisfitTogether(t *testing.T) {
	m, cov := correlated()
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	all := SetOf(0, 1, 2, 3, 4, 5, 6, 7, 8, 9)
	alone, _ := x.Misfit(all)
	diagonal := func(i, j int) Mat3 {
		if i == j {
			return cov(i, i)
		}
		return Mat3{}
	}
	bends := x.Bends(&all)
	x.Correlated(diagonal)
	got, _ := x.Misfit(all)
	near(t, "independent", got, alone, 1e-6)
	for k, b := range x.Bends(&all) {
		near(t, "bend of independent points", b.Chi2, bends[k].Chi2, 1e-6)
		near(t, "its test", b.Test, bends[k].Test, 1e-6)
	}
	x.Correlated(cov)
	f, err := FitRigidFull(m.From, m.To, cov)
	if err != nil {
		t.Fatal(err)
	}
	got, ok := x.Misfit(all)
	if near(t, "together", got, f.Chi2, 1e-3); !ok || got > 60 {
		t.Errorf("misfit %.1f with 24 degrees of freedom, ok %v", got, ok)
	}
	if _, ok := x.Misfit(SetOf(1)); ok {
		t.Error("one point has a misfit")
	}
}

// A common error of points that were located over one link is no section that moved.
func TestCommonErrorIsNoBlock(t *testing.T) {
	m, cov := correlated()
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	x.Correlated(cov)
	if p := x.Partitions(4, 1).Partitions; len(p) == 0 || len(p[0].Blocks) != 1 {
		t.Errorf("best of %d splits has blocks %+v", len(p), p)
	}
}
