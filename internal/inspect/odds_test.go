package inspect

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// Constructed: a crack of 20 mm with two tips seen by eye only and an allowance
// of 4 mm each is 28 mm long; the standard uncertainty is that of the two ends
// and of the allowances, sqrt(2 x 0.25 + 2 x 16/3) = 3.342 mm (JCGM 100:2008 4.3.7,
// 5.1.2). Limits at 28 and 24 mm: Phi(0) = 50 %, Phi(-1.197) = 12 %; a row of
// another zone does not count.
func TestOddsAndTipsAreTold(t *testing.T) {
	b := newBench(plate())
	b.body.Procedures[0].Rows = []body.Row{
		{ID: "1", When: map[string]string{"length": "<= 28 mm", "zones": "only A"}},
		{ID: "2", When: map[string]string{"length": "<= 24 mm"}},
		{ID: "3", When: map[string]string{"length": "<= 17 mm", "zones": "only B"}}}
	b.crack("F", 0.5, geom.Vec{30, 30, 0}, geom.Vec{50, 30, 0}).Tips = []body.TipMethod{"visual", "visual"}
	b.crack("G", 0.5, geom.Vec{30, 80, 0}, geom.Vec{50, 80, 0}).Tips = []body.TipMethod{"penetrant", "stop-hole"}
	r, _ := Run(b.input(t))
	f := find(t, r, "F")
	near(t, "decision length", f.Decision.MM, 28, 1e-6)
	near(t, "its standard uncertainty", f.Decision.Std, 3.342, 0.01)
	if got, want := r.Odds(&b.body, f), "probability that it is no longer than a limit of the procedure in its zones: 24.0 mm 11.6 %, 28.0 mm 50.0 %"; got != want {
		t.Errorf("%q", got)
	}
	for _, want := range []string{"tip 1 seen by eye only, may lie 4.0 mm farther on; tip 2 seen by eye only, may lie 4.0 mm farther on"} {
		if !slices.Contains(f.Because, want) {
			t.Errorf("%q is not among %q", want, f.Because)
		}
	}
	if want := "tip 1 found with penetrant; tip 2 ends in a stop hole"; !slices.Contains(find(t, r, "G").Because, want) {
		t.Errorf("%q", find(t, r, "G").Because)
	}
}
