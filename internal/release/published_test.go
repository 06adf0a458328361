package release

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Shapes and levels of penetrant indications: testdata/penetrant.csv.
func TestPublishedPenetrantLevels(t *testing.T) {
	seen := map[string]int{}
	for _, r := range published(t, "penetrant.csv") {
		f := func(name string) float64 { return float(t, r[name]) }
		l := body.Level{ID: "x", Ratio: f("linear_over"), Linear: unit.MM(f("linear")), NonLinear: unit.MM(f("non_linear")), Together: f("together_under")}
		i := indication(f("length"), f("width"), f("std"), r["crack"])
		if got := Classify(l, i, 0.95); got.String() != r["shape"] {
			t.Errorf("%s: it is %s, want %s (%s)", r["case"], got, r["shape"], r["source"])
		}
		got, why := JudgeIndication(l, i, 0.95)
		if got.String() != r["outcome"] {
			t.Errorf("%s: %s (%s), want %s (%s)", r["case"], got, why, r["outcome"], r["source"])
		}
		seen[r["outcome"]]++
	}
	if len(seen) != 3 {
		t.Errorf("only %v", seen)
	}
}

// Conditions of inspections: testdata/conditions.csv. Each is held before the
// repair, and after it by release.
func TestPublishedInspectionConditions(t *testing.T) {
	for _, r := range published(t, "conditions.csv") {
		method, medium := body.Penetrant, r["medium"]
		switch medium {
		case "visual":
			method, medium = body.Visual, ""
		case "":
			medium = "colour contrast"
		}
		maybe := func(name string) unit.Maybe[float64] {
			if r[name] == "" {
				return unit.Maybe[float64]{}
			}
			return unit.Some(float(t, r[name]))
		}
		look := job.Inspection{ID: "I", Method: method, Medium: medium, By: "T1", On: day(2030, 3, 2), Device: "light meter", Calibrated: day(2030, 9, 1)}
		for what, into := range map[string]*unit.Maybe[float64]{"light_lx": &look.Light, "uv_w_m2": &look.UV, "ambient_lx": &look.Ambient, "distance_mm": &look.Distance,
			"angle_deg": &look.Angle, "temperature_c": &look.Temp, "dwell_min": &look.Dwell, "development_min": &look.Development} {
			if what == r["what"] {
				*into = maybe("value")
			}
		}
		w, in := repaired()
		w.in.Body.Procedures[0].Methods = []body.Method{{Method: method, Finds: 1, Bounds: []body.Bound{{What: r["what"], Least: maybe("least"), Most: maybe("most"), Cite: r["source"], Status: "memory"}}}}
		w.in.Job.Looks = []job.Inspection{look}
		judged, _ := inspect.Run(inspect.Input{Body: w.in.Body, Job: w.in.Job, Shop: w.in.Shop, Today: w.in.Today})
		w.in.Inspect.Inspections = judged.Inspections
		if n := len(judged.Inspections); n != 1 {
			t.Fatalf("%d inspections", n)
		}
		if got := judged.Inspections[0].Counts; got != (r["counts"] == "yes") {
			t.Errorf("%s: counts %v, want %s (%s)", r["case"], got, r["counts"], r["source"])
		}
		for i := range w.in.Job.Records {
			if w.in.Job.Records[i].Show == body.ShowPenetrant {
				w.in.Job.Records[i].Look = "I"
			}
		}
		if missing := missingTexts(w, in); (missing == "") != (r["counts"] == "yes" && method == body.Penetrant) {
			t.Errorf("%s: after the repair\n%s", r["case"], missing)
		}
	}
}
