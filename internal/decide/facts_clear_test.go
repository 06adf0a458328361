package decide

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
)

// A list of bores that was left out is no proof that there are none; an empty
// one says so. Source: docs/formats/body.md.
func TestNoBoresOnlyWhenTheBodySaysSo(t *testing.T) {
	none := clearances[body.FactBore].none
	for _, k := range []struct {
		casting body.Casting
		want    bool
	}{
		{body.Casting{}, false},
		{body.Casting{Bores: []body.Bore{}}, true},
		{body.Casting{Bores: []body.Bore{{ID: "H1"}}}, false},
	} {
		if got := none(nil, &subject{casting: &k.casting}); got != k.want {
			t.Errorf("bores %v: surely none is %v", k.casting.Bores, got)
		}
	}
}

// The margin to the section lines is that of the line it lies farthest outboard of; which one that
// is, is as uncertain as each is. 9.5 mm to 0.1 mm is less than 10 mm, 9 mm to 2 mm is not surely:
// with both, the larger is not. 9 mm to 0.1 mm is.
func TestMarginToTheFarthestLine(t *testing.T) {
	for _, k := range []struct {
		one, two, std float64
		want          Verdict
	}{
		{9.5, 9, 2, Undecided},
		{9, 9.5, 2, Undecided},
		{9.5, 9, 0.1, Allowed},
		{9, 12, 0.1, Ask},
		{12, 9, 0.1, Ask},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.in.Inspect.Findings[0].Sides = []inspect.LineSide{{Line: "LINE-1", MarginMM: k.one, Std: 0.1}, {Line: "LINE-2", MarginMM: k.two, Std: k.std}}
		w.in.Body.Procedures[0].Rows = []body.Row{{ID: "m", Cite: "c", When: map[string]string{body.FactMargin: "< 10 mm"}, Allow: []body.TreatmentKind{body.Weld}}}
		r, _ := Run(w.in)
		if got := option(r.Findings[0], body.Weld); got != k.want {
			t.Errorf("%g mm and %g mm, the second to %g mm: %s, want %s: %+v", k.one, k.two, k.std, got, k.want, r.Findings[0].Options)
		}
	}
}
