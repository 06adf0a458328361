package report

import (
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// A rule of total loss says what is held against what, and which limit it was held to: where the
// amounts shown are equal but for the rounding, a cent on the side that is true.
func TestRuleOfTotalLossInWords(t *testing.T) {
	for _, k := range []struct {
		l    cost.Loss
		want string
	}{
		{cost.Loss{Operator: shop.AtLeast, Left: 12345, Right: 20000}, "total loss when repair ≥ limit: 123.45" + thin + "EUR against 200.00" + thin + "EUR"},
		{cost.Loss{Kind: shop.LossFormula, Operator: shop.Above, Left: 12345, Right: 20000}, "total loss when repair plus salvage > limit: 123.45" + thin + "EUR against 200.00" + thin + "EUR"},
		{cost.Loss{Operator: shop.AtLeast, Left: 20000, Right: 20000}, "total loss when repair ≥ limit: 200.00" + thin + "EUR against 200.01" + thin + "EUR"},
		{cost.Loss{Operator: shop.AtLeast, Left: 20000, Right: 20000, IsLoss: true}, "total loss when repair ≥ limit: 200.00" + thin + "EUR against 200.00" + thin + "EUR"},
		{cost.Loss{Operator: shop.Above, Left: 20000, Right: 20000, IsLoss: true}, "total loss when repair > limit: 200.00" + thin + "EUR against 199.99" + thin + "EUR"},
		{cost.Loss{Operator: shop.Above, Left: 20000, Right: 20000}, "total loss when repair > limit: 200.00" + thin + "EUR against 200.00" + thin + "EUR"},
	} {
		word := "not a total loss by this rule"
		if k.l.IsLoss {
			word = "total loss by this rule"
		}
		if got := lossOf(k.l, "EUR"); got.Text != k.want || got.Word.Text != word {
			t.Errorf("%q, %q; want %q, %q", got.Text, got.Word.Text, k.want, word)
		}
	}
}

// What drives the costs is called as its risk, as its line of a bill, or by its own name.
func TestWhatDrivesTheCostsIsCalled(t *testing.T) {
	in := Input{Job: &job.State{Risks: []job.Risk{{ID: "RK", Text: "it may be longer"}}}}
	in.Compare.Routes = []compare.Route{{}, {Bill: cost.Bill{Lines: []cost.Line{{ID: "L-1", Text: "Work"}, {ID: "RK", Text: "not this"}}}}}
	for name, want := range map[string]string{"RK": "RK: it may be longer", "L-1": "Work", "labour": "labour"} {
		if got := driverName(in, compare.Driver{Name: name}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Zones are told with the length in each where it was measured on a mesh: by hand nobody knows it.
func TestZonesOfAFindingInWords(t *testing.T) {
	b := &body.Body{Castings: []body.Casting{{Zones: []body.Zone{{ID: "A", Name: "Rail"}}}}}
	share := func(id body.ZoneID, mm float64, touches bool) inspect.ZoneShare {
		return inspect.ZoneShare{Zone: id, LengthMM: mm, Touches: touches}
	}
	on := inspect.Finding{Zones: []inspect.ZoneShare{share("A", 0, false)}}
	if got := zoneShares(b, on); got != "Rail" {
		t.Errorf("by hand: %q", got)
	}
	on.Path = make([]geom.Vec, 2)
	if got, want := zoneShares(b, on), "Rail "+mm(0); got != want {
		t.Errorf("on a mesh: %q, want %q", got, want)
	}
	on.Zones = append(on.Zones, share("B", 12, false), share("C", 5, true))
	if got, want := zoneShares(b, on), "Rail "+mm(0)+"; B "+mm(12)+"; C (nearer than the uncertainty)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := zoneShares(b, inspect.Finding{}); got != "zone not known" {
		t.Errorf("%q", got)
	}
}

// A time lies in the chart as far into its working day, or into the night before it, as it is; by
// hand. A working day without time is where it begins.
func TestPlaceOfATimeInTheChart(t *testing.T) {
	at := func(d, h int) time.Time { return time.Date(2026, 3, d, h, 0, 0, 0, time.UTC) }
	days := []workday{{from: at(2, 8), to: at(2, 16), x0: 0, x1: 80}, {from: at(3, 8), to: at(3, 16), x0: 94, x1: 174}, {from: at(4, 8), to: at(4, 8), x0: 200, x1: 230}}
	for _, k := range []struct {
		t    time.Time
		want float64
	}{
		{at(1, 9), 0}, {at(2, 8), 0}, {at(2, 10), 20}, {at(2, 16), 80}, {at(3, 0), 87}, {at(3, 8), 94}, {at(3, 12), 134}, {at(3, 16), 174}, {at(4, 0), 187}, {at(4, 8), 200}, {at(4, 9), 230},
	} {
		if got := place(days, k.t); got != k.want {
			t.Errorf("%s at %g, want %g", k.t, got, k.want)
		}
	}
}
