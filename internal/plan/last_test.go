package plan

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
)

// measuresLast is the test body whose task Measure measures the result.
func measuresLast(items ...Item) Input {
	in := input(items...)
	in.Body.Tasks[2].When, in.Body.Tasks[2].Measures = "end", true
	return in
}

// Constructed: the skin is bonded with 450 min to handling at 20 C. What measures the
// result comes when that is over, whatever treatment asks for it and whether its steps
// bond too; the bumper does not wait for it, what is done at the end does.
func TestWhatMeasuresTheResultComesLast(t *testing.T) {
	for name, items := range map[string][]Item{"weld": {weldF1}, "plate": {plateF2, weldF1}, "section": {cutS1}, "new casting": {newCast}} {
		p, notes := Build(measuresLast(items...))
		if b := blocking(notes); b != "" {
			t.Errorf("%s: blocked by %s", name, b)
		}
		m := step(t, p, "Measure")
		bonds := 0
		for _, s := range p.Steps {
			if len(s.Bonds) == 0 {
				continue
			}
			bonds++
			if s.WaitMin < 450 || m.From.Sub(s.To).Minutes() < 450 {
				t.Errorf("%s: %s ends %v with a wait of %g min, measured from %v", name, s.Name, s.To, s.WaitMin, m.From)
			}
		}
		if bonds == 0 {
			t.Errorf("%s: nothing is bonded", name)
		}
		if a := step(t, p, "Aim"); name == "weld" && a.From.Before(m.To) {
			t.Errorf("aimed at %v, measured until %v", a.From, m.To)
		}
	}
	p, _ := Build(input(weldF1)) // without the word it is measured before the skin is on
	if m, s := step(t, p, "Measure"), step(t, p, "Fit new skin"); s.From.Before(m.To) {
		t.Errorf("measured until %v, the skin is fitted at %v", m.To, s.From)
	}
}

// A procedure that wants the control points after a weld, and a plan without a step that
// measures them last.
func TestNobodyMeasuresLast(t *testing.T) {
	for _, c := range []struct {
		in   Input
		kind body.TreatmentKind
		told bool
	}{{input(weldF1), body.Weld, true}, {input(weldF1), body.SectionOff, false}, {measuresLast(weldF1), body.Weld, false}, {measuresLast(swapF3), body.Exchange, true}} {
		c.in.Body.Procedures = []body.Procedure{{Acceptance: []body.Acceptance{{For: []body.TreatmentKind{c.kind}, Show: body.ShowDimensions}}}}
		_, notes := Build(c.in)
		if got := len(codes(notes, "plan.no-measuring")) == 1; got != c.told {
			t.Errorf("%s: told %v: %v", c.kind, got, notes)
		}
	}
}

// A hold point that asks for a second person goes to somebody whom another one may pass.
func TestSecondPersonCanPass(t *testing.T) {
	for _, c := range []struct {
		may  []string // who may inspect
		does string
		told bool
	}{{nil, "", true}, {[]string{"p2"}, "p3", false}, {[]string{"p3"}, "p2", false}, {[]string{"p1"}, "", false}, {[]string{"p2", "p3"}, "", false}} {
		in := input(weldF2)
		in.Shop.People = append(slices.Clone(in.Shop.People), shop.Person{ID: "p3", Skills: []body.SkillID{"alu"}})
		for i := range in.Shop.People {
			if slices.Contains(c.may, in.Shop.People[i].ID) {
				in.Shop.People[i].May = []shop.Authority{shop.MayInspect}
			}
		}
		st := &in.Body.Treatments[0].Steps[1]
		st.HoldPoint, st.Second = "no pores", true
		p, notes := Build(in)
		s := step(t, p, "Weld")
		if told := len(codes(notes, "plan.nobody-passes")) == 1; told != c.told || !strings.Contains(s.Person, c.does) || s.Person == "" {
			t.Errorf("%v may: %q does it, told %v", c.may, s.Person, told)
		}
	}
	in := input(weldF2) // one who does and may inspect alone
	in.Shop.People[1].May = []shop.Authority{shop.MayInspect}
	in.Body.Treatments[0].Steps[1].HoldPoint, in.Body.Treatments[0].Steps[1].Second = "no pores", true
	if _, notes := Build(in); len(codes(notes, "plan.nobody-passes")) != 1 {
		t.Errorf("%v", notes)
	}
}
