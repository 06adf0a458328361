package measure

import "testing"

// Source: scipy.stats.chi2.isf and ncx2 with brentq. The one point alone has
// the table value 16.27.
func TestPointTest(t *testing.T) {
	for _, c := range []struct {
		n              int
		border, lambda float64
	}{{1, 16.2662, 48.099}, {10, 21.1075, 56.477}, {30, 23.3996, 60.297}, {60, 24.8413, 62.660}} {
		p := newPointTest(c.n)
		near(t, "border", p.MovedAboveT2, c.border, 5e-5)
		near(t, "non-centrality", p.Noncentrality, c.lambda, 5e-4)
	}
}

// 600 undamaged vehicles of 20 points at one false alarm in a thousand: more
// than 4 come about with a probability of 0.04 % (Poisson with mean 0.6); in 150
// more than 2 with 0.05 %.
func TestFalseAlarmOfTheVehicleSeed9000(t *testing.T) {
	alarms, of := 0, draws(100, 600)
	for seed := uint64(9000); seed < 9000+uint64(of); seed++ {
		r, _ := Run(newCar(20, seed).measure(1.0))
		h, _ := r.Best()
		if len(h.Moved) > 0 {
			alarms++
		}
	}
	if alarms > draws(2, 4) {
		t.Errorf("%d of %d undamaged vehicles have a point called moved", alarms, of)
	}
}
