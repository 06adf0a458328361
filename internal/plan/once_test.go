package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
)

// By hand: two welds with a cleaning of 12 min and 60 min a metre that is done once, for cracks of
// 30 and 50 mm: 12 + 4.8 min, once, with one can of wire of 0.5 kg and 0.1 kg a metre, when
// both lie where the word says; else 12 + 1.8 and 12 + 3.
func TestStepsDoneOnce(t *testing.T) {
	for _, c := range []struct {
		once   body.Once
		change func(in *Input)
		want   string
	}{
		{"", nil, "13.8 F1, 15 F2; 1.008 kg"},
		{body.OnceJob, nil, "16.8 F1 F2; 0.508 kg"},
		{body.OnceCasting, nil, "16.8 F1 F2; 0.508 kg"},
		{body.OncePart, nil, "16.8 F1 F2; 0.508 kg"},
		{body.OnceZone, nil, "13.8 F1, 15 F2; 1.008 kg"},
		{body.OnceZone, func(in *Input) { in.Inspect.Findings[1].Zones = in.Inspect.Findings[0].Zones }, "16.8 F1 F2; 0.508 kg"},
		{body.OnceZone, func(in *Input) {
			in.Inspect.Findings[1].Zones = append([]inspect.ZoneShare{{Zone: "Z2"}}, in.Inspect.Findings[0].Zones...)
		}, "13.8 F1, 15 F2; 1.008 kg"},
		{body.OnceCasting, func(in *Input) { in.Inspect.Findings[1].Casting = "rear" }, "13.8 F1, 15 F2; 1.008 kg"},
		{body.OnceCasting, func(in *Input) { in.Inspect.Findings[0].Casting, in.Inspect.Findings[1].Casting = "", "" }, "13.8 F1, 15 F2; 1.008 kg"},
		{body.OncePart, func(in *Input) { in.Inspect.Findings[1].Part = "sill" }, "13.8 F1, 15 F2; 1.008 kg"},
	} {
		in := input(weldF1, weldF2)
		weld := &in.Body.Treatments[slices.IndexFunc(in.Body.Treatments, func(t body.Treatment) bool { return t.ID == "weld" })]
		weld.Steps[1].Uses = nil
		weld.Steps = append([]body.Step{{ID: "w0", Name: "Clean", Skill: "alu", Fixed: 12, PerMetre: 60, Once: c.once, HoldPoint: "Clean to the eye",
			Uses: []body.Use{{Material: "wire", Each: amount(0.5, "kg"), PerMetre: amount(0.1, "kg")}}}}, weld.Steps...)
		if c.change != nil {
			c.change(&in)
		}
		p, notes := Build(in)
		if b := blocking(notes); b != "" && b != "plan.no-zone plan.no-zone" {
			t.Errorf("%s: %s", c.once, b)
			continue
		}
		var got []string
		for _, s := range p.Steps {
			if s.Name == "Clean" {
				got = append(got, fmt.Sprint(num(s.Minutes), " ", strings.Trim(fmt.Sprint(s.For), "[]")))
				if s.Hold == "" {
					t.Error("the hold point is lost")
				}
			}
		}
		slices.Sort(got)
		for _, u := range p.Takeoff {
			if u.Material == "wire" {
				got[len(got)-1] += fmt.Sprintf("; %s kg", num(u.Net))
			}
		}
		if text := strings.Join(got, ", "); text != c.want {
			t.Errorf("%q: %s, want %s", c.once, text, c.want)
		}
		k := slices.IndexFunc(p.Saved, func(s Saved) bool { return s.Step != "" })
		if shared := len(got) == 1; shared != (k >= 0) || shared && (p.Saved[k] != Saved{Step: "weld/w0 F1 and F2", Name: "Clean", Times: 2, Minutes: 12}) {
			t.Errorf("%q: saved %+v", c.once, p.Saved)
		}
		after := map[string][]string{}
		for _, s := range p.Steps {
			after[s.ID] = s.After
		}
		for _, s := range p.Steps { // each weld comes after its own cleaning
			if strings.HasPrefix(s.Ref, "weld/w1") {
				ok := slices.ContainsFunc(p.Steps, func(o Step) bool { return o.Name == "Clean" && subset(s.For, o.For) && slices.Contains(s.After, o.ID) })
				if !ok {
					t.Errorf("%q: %s does not come after its cleaning: %v", c.once, s.Ref, s.After)
				}
			}
		}
	}
}
