package decide

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// timed is a plate on which welding is allowed by every fact that somebody
// dates and signs, each of them needed. Constructed.
func timed(t testing.TB) *plate {
	p := newPlate(t)
	today := p.in.Today
	proc := &p.in.Body.Procedures[0]
	proc.TipVisual = 30
	proc.Rows = []body.Row{{ID: "R", Cite: "constructed", Allow: []body.TreatmentKind{body.Weld}, When: map[string]string{
		"kind": "crack", "tips": "penetrant", "through": "no", "depth": "<= 3 mm", "length": "<= 40 mm", "count_on_casting": "<= 1",
		"earlier_clearance": ">= 1 mm", "casting_date": ">= 2029-01-01", "part_age": "<= 6 months", "temperature": ">= 8 C"}}}
	p.in.Shop.People = []shop.Person{{ID: "T1"}, {ID: "T2"}}
	p.in.Shop.Temp, p.in.Shop.TempStd = 0, 0
	j := p.in.Job
	j.Opened, j.Impact.On = today.AddDays(-3), today.AddDays(-2)
	j.Castings = []job.Cast{{Casting: "FRONT", CastOn: day(2029, 6, 1), FittedOn: day(2029, 12, 1), Looked: true, By: "technician T1", On: today}}
	j.Workplace = []job.Climate{{Temp: 15, Std: 0.5, By: "T1", On: today}}
	j.Checks = []job.Check{{Procedure: "CHECK", Revision: "B", By: "T1", On: today}}
	j.Looks[0].By, j.Looks[0].On = "T1", today.AddDays(-1)
	for i := range j.Areas {
		j.Areas[i].By, j.Areas[i].On = "T1", today.AddDays(-1)
	}
	f := p.crack("F1", 0.5, geom.Vec{60, 10, 0}, geom.Vec{70, 10, 0})
	f.Depth, f.By, f.On = unit.Some(unit.MM(1)), "T1", today.AddDays(-1)
	return p
}

// Everything dated and signed that permits stands only with a person of the
// shop file and a day from the impact and the opening of the job to today.
// Source: docs/methods/decision.md, section 4.
func TestWhatIsDatedAndSignedHasToStand(t *testing.T) {
	signed := map[string]func(j *job.State) (by *string, on *unit.Date){
		"inspection":      func(j *job.State) (*string, *unit.Date) { return &j.Looks[0].By, &j.Looks[0].On },
		"area":            func(j *job.State) (*string, *unit.Date) { return &j.Areas[0].By, &j.Areas[0].On },
		"casting":         func(j *job.State) (*string, *unit.Date) { return &j.Castings[0].By, &j.Castings[0].On },
		"workplace":       func(j *job.State) (*string, *unit.Date) { return &j.Workplace[0].By, &j.Workplace[0].On },
		"finding":         func(j *job.State) (*string, *unit.Date) { return &j.Findings[0].By, &j.Findings[0].On },
		"procedure check": func(j *job.State) (*string, *unit.Date) { return &j.Checks[0].By, &j.Checks[0].On },
	}
	moved := map[string]func(by *string, on *unit.Date, p *plate){
		"before the impact": func(_ *string, on *unit.Date, p *plate) { *on = p.in.Today.AddDays(-3) },
		"before the opening": func(_ *string, on *unit.Date, p *plate) {
			p.in.Job.Impact.On = unit.Date{}
			*on = p.in.Today.AddDays(-4)
		},
		"a year before":         func(_ *string, on *unit.Date, p *plate) { *on = p.in.Today.AddDays(-365) },
		"tomorrow":              func(_ *string, on *unit.Date, p *plate) { *on = p.in.Today.AddDays(1) },
		"next year":             func(_ *string, on *unit.Date, p *plate) { *on = p.in.Today.AddDays(365) },
		"no day":                func(_ *string, on *unit.Date, _ *plate) { *on = unit.Date{} },
		"nobody":                func(by *string, _ *unit.Date, _ *plate) { *by = "" },
		"a stranger":            func(by *string, _ *unit.Date, _ *plate) { *by = "X9" },
		"nearly a person":       func(by *string, _ *unit.Date, _ *plate) { *by = "T1a" },
		"two people":            func(by *string, _ *unit.Date, _ *plate) { *by = "T1 T2" },
		"somebody who has left": func(_ *string, _ *unit.Date, p *plate) { p.in.Shop.People = []shop.Person{{ID: "T3"}} },
		"a shop nobody knows":   func(_ *string, _ *unit.Date, p *plate) { p.in.Shop = nil },
	}
	if d := timed(t).decide(); !d.out.Permits || option(d.out.Findings[0], body.Weld) != Allowed {
		t.Fatalf("the job itself is not allowed: %+v", d.out.Findings[0].Options)
	}
	n := 0
	for what, of := range signed {
		for how, move := range moved {
			p := timed(t)
			by, on := of(p.in.Job)
			move(by, on, p)
			if d := p.decide(); d.out.Permits {
				t.Errorf("%s, %s: still permitted: %s", what, how, d.out.Findings[0].Because)
			}
			n++
		}
	}
	if n != len(signed)*len(moved) {
		t.Errorf("%d changes tried", n)
	}
}

// An inspection proves nothing for what was seen after it: neither the area nor
// the tips.
func TestAnInspectionIsNotOlderThanWhatItProves(t *testing.T) {
	p := timed(t)
	p.in.Job.Looks[0].On = p.in.Today
	if d := p.decide(); d.out.Permits {
		t.Error("an area entered the day before its inspection is covered")
	}
	p = timed(t)
	p.in.Job.Findings[0].On = p.in.Today
	if d := p.decide(); d.out.Permits {
		t.Error("the tips of a crack seen after the inspection count as found by it")
	}
}

// Of two temperatures of one day both have to keep the limit, signed or not.
func TestAllTemperaturesOfADayCount(t *testing.T) {
	for _, c := range []struct {
		first, second job.Climate
		want          Verdict
	}{
		{job.Climate{Temp: 15, Std: 0.5, By: "T1"}, job.Climate{Temp: 20, Std: 0.5, By: "T1"}, Allowed},
		{job.Climate{Temp: 15, Std: 0.5, By: "T1"}, job.Climate{Temp: 4, Std: 0.5, By: "T1"}, Undecided},
		{job.Climate{Temp: 4, Std: 0.5, By: "T1"}, job.Climate{Temp: 15, Std: 0.5, By: "T1"}, Undecided},
		{job.Climate{Temp: 4, Std: 0.5, By: "T1"}, job.Climate{Temp: 3, Std: 0.5, By: "T1"}, Ask},
		{job.Climate{Temp: 15, Std: 0.5, By: "T1"}, job.Climate{Temp: 9, Std: 1, By: "T1"}, Undecided}, // 9 - 1.64 is under 8
		{job.Climate{Temp: 15, Std: 0.5, By: "T1"}, job.Climate{Temp: 4, Std: 0.5, By: "X9"}, Undecided},
		{job.Climate{Temp: 15, Std: 0.5, By: "X9"}, job.Climate{Temp: 15, Std: 0.5, By: "X9"}, Undecided},
		{job.Climate{Temp: 8, By: "T1"}, job.Climate{Temp: 8, By: "T1"}, Allowed},
	} {
		p := timed(t)
		c.first.On, c.second.On = p.in.Today, p.in.Today
		p.in.Job.Workplace = []job.Climate{c.first, c.second}
		if got := option(p.decide().out.Findings[0], body.Weld); got != c.want {
			t.Errorf("%v and %v: %v, want %v", c.first, c.second, got, c.want)
		}
	}
}
