package inspect

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// The bounds are those of docs/methods/inspection.md; here only their ends and
// what is missing matter. Constructed.
func TestInspectionCounts(t *testing.T) {
	bounds := []body.Bound{
		{What: "dwell_min", Least: unit.Some(5.0), Most: unit.Some(60.0), Cite: "x", Status: "secondary"},
		{What: "temperature_c", Least: unit.Some(10.0), Most: unit.Some(50.0), Cite: "x", Status: "memory"},
		{What: "light_lx", For: "colour contrast", Least: unit.Some(500.0), Cite: "x", Status: "memory"},
		{What: "uv_w_m2", For: "fluorescent", Least: unit.Some(10.0), Cite: "x", Status: "secondary"},
		{What: "ambient_lx", For: "fluorescent", Most: unit.Some(20.0), Cite: "x", Status: "secondary"},
	}
	on := benchDay
	red := job.Inspection{ID: "I", Method: "penetrant", Medium: "colour contrast", By: "T", On: on,
		Dwell: unit.Some(5.0), Temp: unit.Some(50.0), Light: unit.Some(500.0)}
	glow := job.Inspection{ID: "I", Method: "penetrant", Medium: "fluorescent", By: "T", On: on,
		Dwell: unit.Some(60.0), Temp: unit.Some(10.0), UV: unit.Some(10.0), Ambient: unit.Some(20.0)}
	people := func(method string, until int) *shop.Shop {
		return &shop.Shop{People: []shop.Person{{ID: "T", Qualified: []shop.Qualification{{For: method, Document: "C", Until: unit.Date{Year: 2026, Month: 5, Day: until}}}}}}
	}
	for name, c := range map[string]struct {
		base   job.Inspection
		change func(*job.Inspection, *Input)
		why    string // part of the reason; empty: it counts
	}{
		"at the ends, red":            {red, nil, ""},
		"at the ends, glowing":        {glow, nil, ""},
		"dwell too short":             {red, func(i *job.Inspection, _ *Input) { i.Dwell = unit.Some(4.99) }, "penetration time: 4.99 min, asked for is 5 min to 60 min"},
		"dwell too long":              {red, func(i *job.Inspection, _ *Input) { i.Dwell = unit.Some(60.1) }, "penetration time"},
		"dwell not on record":         {red, func(i *job.Inspection, _ *Input) { i.Dwell = unit.Maybe[float64]{} }, "penetration time: not on record"},
		"too cold":                    {red, func(i *job.Inspection, _ *Input) { i.Temp = unit.Some(9.0) }, "temperature of the part"},
		"too dark":                    {red, func(i *job.Inspection, _ *Input) { i.Light = unit.Some(499.0) }, "white light"},
		"white light under UV":        {glow, func(i *job.Inspection, _ *Input) { i.Ambient = unit.Some(21.0) }, "visible light"},
		"no UV on record":             {glow, func(i *job.Inspection, _ *Input) { i.UV = unit.Maybe[float64]{} }, "UV-A"},
		"red light does not glow":     {red, func(i *job.Inspection, _ *Input) { i.Medium = "fluorescent" }, "UV-A"},
		"kind of penetrant missing":   {red, func(i *job.Inspection, _ *Input) { i.Medium = "" }, "kind of penetrant"},
		"method not in the procedure": {red, func(_ *job.Inspection, in *Input) { in.Body.Procedures[0].Methods = nil }, "does not say when"},
		"method without conditions":   {red, func(_ *job.Inspection, in *Input) { in.Body.Procedures[0].Methods[0].Bounds = nil }, "does not say when"},
		"no procedure":                {red, func(_ *job.Inspection, in *Input) { in.Body.Procedures = nil }, "no procedure"},
		"no shop":                     {red, func(_ *job.Inspection, in *Input) { in.Shop = nil }, "not known without the shop"},
		"not in the shop":             {red, func(i *job.Inspection, _ *Input) { i.By = "U" }, "U is not in the shop"},
		"qualified on the last day":   {red, func(_ *job.Inspection, in *Input) { in.Shop = people("penetrant", 1) }, ""},
		"run out the day before": {red, func(_ *job.Inspection, in *Input) {
			in.Shop = people("penetrant", 1)
			in.Shop.People[0].Qualified[0].Until = benchDay.AddDays(-1)
		}, "no qualification"},
		"dated after today":     {red, func(i *job.Inspection, _ *Input) { i.On = benchDay.AddDays(1) }, "after today"},
		"of no day":             {red, func(i *job.Inspection, _ *Input) { i.On = unit.Date{} }, "on which day"},
		"before the impact":     {red, func(_ *job.Inspection, in *Input) { in.Job.Impact.On = benchDay.AddDays(1) }, "before the impact"},
		"qualified for another": {red, func(_ *job.Inspection, in *Input) { in.Shop = people("visual", 1) }, "no qualification"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(plate())
			b.body.Procedures[0].Methods = []body.Method{{Method: "penetrant", Finds: 1, Qualified: true, Bounds: bounds}}
			look := c.base
			in := b.input(t)
			in.Shop = people("penetrant", 30)
			if c.change != nil {
				c.change(&look, &in)
			}
			b.job.Looks = []job.Inspection{look}
			b.body.Inspect = []body.Area{{ID: "1", Name: "rib", Casting: "C", Zone: "A", Method: "penetrant", Finds: 3}}
			b.job.Areas = []job.AreaSeen{{Area: "1", State: "penetrant", Look: "I", By: "T", On: benchDay}}
			r, notes := Run(in)
			j := r.Inspections[0]
			if j.Counts != (c.why == "") || !strings.Contains(strings.Join(j.Why, "; "), c.why) {
				t.Errorf("counts %v, why %q", j.Counts, j.Why)
			}
			if (has(notes, "inspect.does-not-count", "I") != nil) == j.Counts {
				t.Errorf("notes %+v", notes)
			}
			if a := r.Coverage[0]; a.Covered != j.Counts || strings.Contains(a.Text, "no damage found") != j.Counts || !strings.Contains(a.Text, c.why) {
				t.Errorf("area %+v", a)
			}
		})
	}
}

func TestEntryWithoutInspectionCoversNothing(t *testing.T) {
	b := newBench(plate())
	b.body.Inspect = []body.Area{{ID: "1", Casting: "C", Zone: "A", Method: "visual", Finds: 3}}
	for look, want := range map[string]bool{"": false, "none": false, "VT": true, "PT": true} {
		b.job.Areas = []job.AreaSeen{{Area: "1", State: "seen", Look: look, By: "T", On: benchDay}}
		if r, _ := Run(b.input(t)); r.Coverage[0].Covered != want {
			t.Errorf("inspection %q: %+v", look, r.Coverage[0])
		}
	}
	b.job.Areas = []job.AreaSeen{{Area: "1", State: "penetrant", Look: "VT", By: "T", On: benchDay}}
	if r, _ := Run(b.input(t)); r.Coverage[0].Covered {
		t.Error("penetrant in an inspection by eye counts")
	}
}

// Constructed: the tips of a crack of 20 mm were found with penetrant, but in
// an inspection that does not count: twice the allowance of 4 mm is added.
func TestTipOfAnInspectionThatDoesNotCount(t *testing.T) {
	for look, want := range map[string]float64{"PT": 20, "": 28, "VT": 28, "short": 28} {
		b := newBench(plate())
		b.job.Looks = append(b.job.Looks, job.Inspection{ID: "short", Method: "penetrant", Medium: "fluorescent", Dwell: unit.Some(1.0)})
		b.crack("F", 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0}).Look = look
		r, notes := Run(b.input(t))
		f := find(t, r, "F")
		near(t, "decision with "+look, f.Decision.MM, want, 1e-9)
		if sure := look == "PT"; (f.Tips[0] == "penetrant") != sure || (has(notes, "inspect.tip-not-shown", "F") == nil) != sure {
			t.Errorf("inspection %q: tips %v", look, f.Tips)
		}
	}
}
