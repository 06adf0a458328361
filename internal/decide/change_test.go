package decide

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// What the shop lacks, and how much warmer it has to be, are suggested in the
// fact's own unit; what nobody can change is not. Constructed: 9 C with a
// standard uncertainty of 1 C is surely above 8 C from 8 + 1.645 C on.
func TestWhatTheShopCouldChange(t *testing.T) {
	w := newWorld()
	p := &w.in.Body.Procedures[0]
	p.Rows = append(p.Rows[:2:2], body.Row{ID: "who", When: map[string]string{"qualifications": "none of welder-castings"}, Forbid: []body.TreatmentKind{body.Weld, body.WeldBacking}},
		body.Row{ID: "cold", When: map[string]string{"temperature": "< 8 C"}, Forbid: []body.TreatmentKind{body.Weld, body.WeldBacking}},
		body.Row{ID: "new", When: map[string]string{"part_age": "> 10 years"}, Forbid: []body.TreatmentKind{body.Weld, body.WeldBacking}})
	p.Rows[0].When["equipment"] = "includes pulse-welder"
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Job.Vehicle.Built = day(2028, 1, 1)
	w.in.Shop = &shop.Shop{Equipment: []string{"cold saw"}, People: []shop.Person{{ID: "T1", Qualified: []shop.Qualification{{For: "welder sheet", Until: day(2031, 1, 1)}}}}}
	w.in.Job.Workplace = []job.Climate{{Temp: 19, Std: 1, By: "T1", On: w.in.Today}}
	changes := func() []string {
		r, _ := Run(w.in)
		return r.Findings[0].Change
	}
	if got := changes(); !slices.Contains(got, "weld: pulse-welder and welder-castings present") || !slices.Contains(got, "weld with backing plate: welder-castings present") {
		t.Errorf("suggested %q", got)
	}
	w.in.Shop.People[0].Qualified[0].For = "welder castings"
	if got := changes(); !slices.Contains(got, "weld: pulse-welder present") {
		t.Errorf("suggested %q", got)
	}
	w.in.Shop.Equipment = []string{"pulse welder"}
	w.in.Job.Workplace[0].Temp = 9
	if got := changes(); !slices.Contains(got, "weld: 0.7 C warmer at this uncertainty (temperature 9 ± 2 C, limit 8 C), or temperature uncertain by no more than ± 1.2 C (k = 2)") {
		t.Errorf("suggested %q", got)
	}
	w.in.Job.Workplace[0].Temp = 19
	w.in.Job.Vehicle.Built = day(2010, 1, 1)
	if got := changes(); strings.Contains(strings.Join(got, " "), "age") {
		t.Errorf("another age is suggested: %q", got)
	}
}
