package decide

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// factIn is one fact of the first finding of a world.
func factIn(w *world, name string) known {
	s := newScene(w.in)
	return s.fact(name, s.subjects[0])
}

// The facts that come from the vehicle and the shop, and that each is unknown
// until somebody has entered it. Constructed; 2028-11-20 to 2030-03-02 is 15
// months and 10 of the 28 days from 20 February to 20 March.
func TestFactsOfShopAndVehicle(t *testing.T) {
	w := newWorld()
	w.crack("F1", 10, 1, "OPEN-1")
	names := []string{body.FactAge, body.FactCast, body.FactEquipment, body.FactQualified, body.FactTemp, body.FactEdge, body.FactJoint}
	for _, n := range names {
		if k := factIn(w, n); k.value.Known || k.from == "" {
			t.Errorf("%s is %v (%q) before anybody entered it", n, k.value, k.from)
		}
	}
	w.in.Job.Vehicle.Built = day(2028, 11, 20)
	w.in.Job.Castings = []job.Cast{{Casting: "FRONT", CastOn: day(2028, 9, 1), By: "T1", On: day(2030, 3, 1)}}
	w.in.Shop = &shop.Shop{Temp: 17, Equipment: []string{"pulse welder", "cold saw"},
		Tested: []shop.Tested{{Equipment: "cold saw", Until: day(2030, 3, 1)}},
		People: []shop.Person{{ID: "T1", Qualified: []shop.Qualification{{For: "welder castings", Until: day(2030, 3, 2)}, {For: "welder sheet", Until: day(2030, 3, 1)}}}}}
	for name, want := range map[string]string{body.FactAge: "15.36 months", body.FactCast: "2028-09-01", body.FactEquipment: "pulse-welder", body.FactQualified: "welder-castings", body.FactTemp: "unknown"} {
		if got := factIn(w, name).value; got.Known != (want != "unknown") || (got.Known && got.String() != want) {
			t.Errorf("%s is %v, want %s", name, got, want)
		}
	}
	w.in.Shop.TempStd = 2
	if v := factIn(w, body.FactTemp).value; v.Number != 17 || v.Std != 2 {
		t.Errorf("the shop's temperature is %v", v)
	}
	w.in.Job.Workplace = []job.Climate{{Temp: 9, Std: 0.5, By: "T1", On: day(2030, 3, 1)}, {Temp: 12, Std: 0.5, By: "T1", On: day(2030, 3, 2)}}
	if v := factIn(w, body.FactTemp).value; v.Number != 12 || v.Std != 0.5 {
		t.Errorf("the temperature measured today is %v; one of yesterday does not count", v)
	}
	w.in.Job.Castings[0].FittedOn = day(2029, 12, 2)
	if v := factIn(w, body.FactAge).value; v.Number != 3 {
		t.Errorf("a part fitted three months ago is %v old", v)
	}
}

// Lengths add up: cracks that count as one once, repairs done before included,
// uncertainties as they stand. Constructed.
func TestLengthTogether(t *testing.T) {
	w := newWorld()
	w.crack("F1", 10, 1, "OPEN-1")
	w.crack("F2", 25, 0.5, "OPEN-1")
	w.crack("F3", 25, 0.5, "OPEN-1")
	w.in.Inspect.Findings[1].Group, w.in.Inspect.Findings[2].Group = "G", "G"
	w.in.Inspect.Findings[1].Piece, w.in.Inspect.Findings[2].Piece = "F1", "F1"
	w.crack("F4", 7, 0.25, "OPEN-2")
	w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 12}}
	if v := factIn(w, body.FactLengthHere).value; v.Number != 47 || v.Std != 1.5 {
		t.Errorf("in the zone %v with %g, want 47 with 1.5", v, v.Std)
	}
	if v := factIn(w, body.FactLengthAll).value; v.Number != 54 || v.Std != 1.75 {
		t.Errorf("on the casting %v with %g, want 54 with 1.75", v, v.Std)
	}
	w.in.Inspect.Findings[3].Decision = nil
	if k := factIn(w, body.FactLengthAll); k.value.Known || !strings.Contains(k.from, "F4") {
		t.Errorf("a length is missing and the sum is %v (%s)", k.value, k.from)
	}
	w.in.Inspect.Coverage[0].Covered = false
	if k := factIn(w, body.FactLengthHere); k.value.Known {
		t.Errorf("the zone is not inspected and the sum is %v", k.value)
	}
}

// A limit on length together is a condition of the row: over it the row does
// not apply, undecided it does not permit, and the suggestion says how much less.
func TestLimitsOfAMannerAreConditions(t *testing.T) {
	for _, c := range []struct {
		most unit.MM
		want Verdict
	}{{36, Allowed}, {34, Undecided}, {30, Ask}} {
		w := newWorld()
		w.in.Body.Procedures[0].Rows[0].With = body.Manner{LengthInZone: c.most, Filler: "WIRE", Plate: "SHEET", Overlap: 20}
		w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:1]
		w.crack("F1", 22, 0.4, "OPEN-1")
		w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 12}}
		r, _ := Run(w.in)
		if got := option(r.Findings[0], body.Weld); got != c.want {
			t.Errorf("34 mm together, at most %s: weld is %v, want %v", c.most, got, c.want)
		}
		if c.want == Allowed {
			if got := strings.Join(r.Findings[0].Options[0].Manner, "; "); got != "backing plate, SHEET, reaching 20 mm past the crack on each side; filler WIRE" {
				t.Errorf("manner %q", got)
			}
		}
	}
}

// The margin to a section line is that of the line looked at: a row may ask for
// more than the body's own margin, for each line alone.
func TestSectionMarginIsOfTheLineLookedAt(t *testing.T) {
	w := newWorld()
	w.in.Body.Procedures[0].Rows[5].When["section_margin"] = ">= 40 mm"
	g := w.crack("F1", 90, 1, "OPEN-1")
	g.Sides = []inspect.LineSide{{Line: "LINE-1", MarginMM: 60, Std: 1, Outboard: true}, {Line: "LINE-2", MarginMM: 30, Std: 1, Outboard: true}}
	r, _ := Run(w.in)
	quick := NewReady(w.in.Body).Verdicts(w.in)
	for i, o := range r.Findings[0].Options {
		if o.Kind != body.SectionOff {
			continue
		}
		if want := map[body.LineID]Verdict{"LINE-1": Allowed, "LINE-2": Ask}[o.Line]; o.Verdict != want {
			t.Errorf("along %s: %v, want %v", o.Line, o.Verdict, want)
		}
		if q := quick[0].Options[i]; q.Line != o.Line || q.Verdict != o.Verdict {
			t.Errorf("without reasons: %+v, with reasons %v", q, o.Verdict)
		}
	}
	g = &w.in.Inspect.Findings[0]
	g.Sides[1].Outboard, g.Sides[1].MarginMM, g.Sides[0].MarginMM = false, 60, 30
	if r, _ = Run(w.in); option(r.Findings[0], body.SectionOff) == Allowed {
		t.Error("the margin of another line permits this one")
	}
}

// Every fact of the vocabulary has a source here, and no other name has one; what a source says
// is of the fact's kind, and unknown where what it needs is not there.
func TestEveryFactHasASource(t *testing.T) {
	for name := range sourceOf {
		if !body.IsFact(name) {
			t.Errorf("%s has a source and is no fact", name)
		}
	}
	w := newWorld()
	w.crack("F1", 10, 1, "OPEN-1")
	s := newScene(w.in)
	off := *s.subjects[0]
	off.casting, off.part = nil, nil
	unseen := *s.subjects[0]
	unseen.g.Located = false
	for _, d := range body.FactDefs() {
		from, ok := sourceOf[d.Name]
		if !ok {
			t.Errorf("%s has no source", d.Name)
			continue
		}
		if k := s.fact(d.Name, s.subjects[0]); k.value.Known && k.value.Kind != rule.Kind(d.Kind) {
			t.Errorf("%s is %v, its source says %v", d.Name, d.Kind, k.value.Kind)
		}
		if k := s.fact(d.Name, &off); from.needs != anywhere && (k.from != notOnACasting || k.value.Known != (d.Kind == body.FactSet)) {
			t.Errorf("%s of a part that is no casting: %+v", d.Name, k)
		}
		if k := s.fact(d.Name, &unseen); from.needs == onItsSurface && (k.from != noTraceOnMesh || k.value.Known) {
			t.Errorf("%s of a finding that was not found on the surface: %+v", d.Name, k)
		}
	}
	if k := s.fact("wall_angle", s.subjects[0]); k.value.Known || k.from == "" {
		t.Errorf("what is no fact: %+v", k)
	}
}
