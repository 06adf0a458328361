package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// The misfit of readings of one point against their mean, by other formulas: of two it is
// d' (C1 + C2)^-1 d, and of several with one variance the sum of the squared distances of all pairs
// over their number and that variance. One reading, and readings without an uncertainty, have none.
func TestScatterOfReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 2))
	v := func() geom.Vec { return geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
	for range 20 {
		a := &coord{at: v(), std: geom.Vec{0.3, 0.5, 0.9}}
		b := &coord{at: v(), std: geom.Vec{0.2, 1.1, 0.4}, turned: true, axes: geom.FromRotationVector(v())}
		got, ok := scatterOf([]*coord{a, b})
		want, _ := geom.Mahalanobis(a.at.Sub(b.at), a.cov().Add(b.cov()))
		if near(t, "of two", got.Chi2, want, 1e-9*want); !ok || got.DOF != 3 {
			t.Errorf("%v, %+v", ok, got)
		}
		var many []*coord
		pairs := 0.0
		for range 5 {
			x := &coord{at: v(), std: geom.Vec{0.7, 0.7, 0.7}}
			for _, y := range many {
				pairs += x.at.Sub(y.at).Dot(x.at.Sub(y.at))
			}
			many = append(many, x)
		}
		got, ok = scatterOf(many)
		if near(t, "of five", got.Chi2, pairs/5/0.49, 1e-9*got.Chi2); !ok || got.DOF != 12 {
			t.Errorf("%v, %+v", ok, got)
		}
		if got, ok := scatterOf(many[:1]); ok || got != (geom.Misfit{}) {
			t.Errorf("of one reading %+v", got)
		}
		if got, ok := scatterOf(nil); ok || got != (geom.Misfit{}) {
			t.Errorf("of none %+v", got)
		}
		if got, ok := scatterOf([]*coord{a, {at: v()}}); ok || got != (geom.Misfit{}) {
			t.Errorf("of one that is exact %+v", got)
		}
	}
}

// Repeats disagree when those without the worst point do at one in a thousand, or all at a level and
// those without the worst at another; where something moved as one both are milder, and one
// point is enough. A thousandth of chi-square below each level and above it. The levels are those of the
// documentation of repeats (our choice, by simulation).
func TestWhereRepeatsDisagree(t *testing.T) {
	q := geom.ChiSquareQuantile
	up, down := 1.001, 0.999
	one := []group{{}}
	for k, c := range []struct {
		apart  []float64 // chi-square of the repeats of each point, two readings each
		groups []group
		want   bool
	}{
		{[]float64{99, q(0.001, 3) * up}, nil, true}, {[]float64{99, q(0.05, 3) * up}, nil, true}, {[]float64{99, q(0.05, 3) * down}, nil, false},
		{[]float64{q(0.001, 6)*up - 9, 9}, nil, true}, {[]float64{q(0.001, 6)*down - 9, 9}, nil, false},
		{[]float64{9, q(0.001, 6)*up - 9}, nil, true}, {[]float64{9, q(0.001, 6)*down - 9}, nil, false}, // the worst stands last
		{[]float64{99, q(0.1, 3) * up}, one, true}, {[]float64{99, q(0.1, 3) * down}, one, false},
		{[]float64{q(0.02, 6)*up - 7, 7}, one, true}, {[]float64{q(0.02, 6)*down - 7, 7}, one, false},
		{[]float64{999}, nil, false}, {[]float64{q(0.02, 3) * up}, one, true}, {[]float64{q(0.02, 3) * down}, one, false}, {nil, one, false},
		{[]float64{0.1, 30, q(0.001, 6)*up - 0.1}, nil, true}, {[]float64{0.1, 0.2, 999}, nil, false}, // of three the worst is left out, not the first or the last
	} {
		for other := range 2 { // the same rows in either set-up; one reading of each in the other says nothing
			p, _ := laid(alongX(4)...)
			p.setups = append(p.setups, setup{id: "S2", factor: 1})
			p.coords = nil
			for i, chi2 := range c.apart {
				at := p.in.Points[i].At()
				first := coord{setup: other, point: i, at: at, std: geom.Vec{0.5, 0.5, 0.5}}
				again, elsewhere := first, first
				again.at = at.Add(geom.Vec{0.6, 0, 0.8}.Scale(math.Sqrt(chi2 * 2 * 0.25)))
				elsewhere.setup, elsewhere.at = 1-other, at.Add(geom.Vec{0, 50, 0})
				p.coords = append(p.coords, first, elsewhere, again)
			}
			r := p.emptyResult()
			p.repeats(&candidate{groups: c.groups}, &r)
			if told := len(r.Why) == 1 && len(p.notes) == 1; told != c.want || len(r.Why) > 1 || told && (p.notes[0].Where != "set-up "+p.setups[other].id || !contains(r.Why[0], "in set-up "+p.setups[other].id+" are not")) {
				t.Errorf("case %d in set-up %d: %q, %+v", k, other+1, r.Why, p.notes)
			}
		}
	}
}
