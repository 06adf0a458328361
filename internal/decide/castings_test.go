package decide

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// second is a world with a second casting behind the first, its part, zone, area, and a crack on each.
func second() *world {
	w := newWorld()
	w.in.Body.Castings = append(w.in.Body.Castings, body.Casting{ID: "REAR", Part: "P-REAR", Zones: []body.Zone{{ID: "R-1", Label: 1}}})
	w.in.Body.Parts = append(w.in.Body.Parts, body.Part{ID: "P-REAR", Name: "rear casting", Kind: "casting"})
	w.in.Body.Inspect = append(w.in.Body.Inspect, body.Area{ID: "A-R-1", Casting: "REAR", Zone: "R-1"})
	w.in.Inspect.Coverage = append(w.in.Inspect.Coverage, inspect.Coverage{Area: "A-R-1", Casting: "REAR", Zone: "R-1", Covered: true})
	w.in.Job.Castings = append(w.in.Job.Castings, job.Cast{Casting: "REAR", Looked: true, By: "T1", On: day(2030, 3, 1)})
	w.crack("F1", 20, 1, "OPEN-1")
	g := w.crack("F2", 30, 1, "R-1")
	w.in.Job.Findings[1].Part, g.Part, g.Casting, g.Sides = "P-REAR", "P-REAR", "REAR", nil
	return w
}

// rear is a procedure of the second casting: what it allows the first one's does not speak of.
func rear() body.Procedure {
	p := checkProcedure()
	p.ID, p.Casting, p.Revision = "REAR-P", "REAR", "1"
	p.Rows = []body.Row{{ID: "r", Cite: "RP 1", When: map[string]string{"kind": "crack", "length": "<= 40 mm", "count_on_casting": "<= 1"}, Allow: []body.TreatmentKind{body.Dress}}}
	return p
}

// Each casting is judged by its own procedure, wherever that stands; one without a procedure takes
// nobody else's and blocks the job; what is no casting goes by the first casting's.
func TestEachCastingHasItsOwnProcedure(t *testing.T) {
	front := checkProcedure()
	for _, k := range []struct {
		name       string
		procedures []body.Procedure
		want       []string // what is allowed of each finding
		used       []body.ProcedureID
	}{
		{"both", []body.Procedure{front, rear()}, []string{"weld, weld with backing plate, replace casting", "dress"}, []body.ProcedureID{"CHECK", "REAR-P"}},
		{"in the other order", []body.Procedure{rear(), front}, []string{"weld, weld with backing plate, replace casting", "dress"}, []body.ProcedureID{"CHECK", "REAR-P"}},
		{"the first alone", []body.Procedure{front}, []string{"weld, weld with backing plate, replace casting", ""}, []body.ProcedureID{"CHECK", ""}},
		{"the second alone", []body.Procedure{rear()}, []string{"", "dress"}, []body.ProcedureID{"", "REAR-P"}},
		{"none", nil, []string{"", ""}, []body.ProcedureID{"", ""}},
	} {
		w := second()
		w.in.Body.Procedures = k.procedures
		w.in.Job.Checks = append(w.in.Job.Checks, job.Check{Procedure: "REAR-P", Revision: "1", On: day(2030, 3, 1), By: "planner"})
		res, notes := Run(w.in)
		quick := NewReady(w.in.Body).Verdicts(w.in)
		for i, f := range res.Findings {
			var allowed []body.TreatmentKind
			for _, o := range f.Options {
				if o.Verdict == Allowed {
					allowed = append(allowed, o.Kind)
				}
			}
			if got := JoinKinds(allowed); got != k.want[i] {
				t.Errorf("%s, %s: %q, want %q", k.name, f.ID, got, k.want[i])
			}
			if p := res.Procedures[i]; p.Procedure != k.used[i] || p.Casting != w.in.Body.Castings[i].ID || (p.Procedure == "") != (p.Expired && p.Unchecked) {
				t.Errorf("%s: %+v", k.name, p)
			}
			if !reflect.DeepEqual(quick[i], slim(res)[i]) {
				t.Errorf("%s: verdicts %+v, Run says %+v", k.name, quick[i], slim(res)[i])
			}
			if best, ok := quick[i].Mildest(); ok != (len(allowed) > 0) || ok && best.Kind != allowed[0] {
				t.Errorf("%s, %s: the mildest is %+v", k.name, f.ID, best)
			}
		}
		missing := slices.Contains(k.used, "")
		if res.Permits == missing || (code(notes, "decide.no-procedure") != nil) != missing {
			t.Errorf("%s: permits %v, %+v", k.name, res.Permits, notes)
		}
	}
}

// What lies on another casting has no say in counts, lengths, spacing and what was inspected, and
// says nothing of a part that is no casting.
func TestAnotherCastingHasNoSay(t *testing.T) {
	for name, change := range map[string]func(*world){
		"another crack":         func(w *world) { w.crack("F3", 5, 1, "OPEN-1") },
		"a crack without place": func(w *world) { w.crack("F3", 5, 1, "OPEN-1").Located = false },
		"not inspected":         func(w *world) { w.in.Inspect.Coverage[0].Covered = false },
		"not looked over":       func(w *world) { w.in.Job.Castings[0].Looked = false },
		"an earlier repair":     func(w *world) { w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 9}} },
		"no area":               func(w *world) { w.in.Body.Inspect = w.in.Body.Inspect[1:] },
	} {
		w := second()
		facts := func(i int) string {
			s := newScene(w.in)
			var out []string
			for _, f := range []string{body.FactCount, body.FactInZone, body.FactLengthAll, body.FactLengthHere, body.FactSpacing} {
				k := s.fact(f, s.subjects[i])
				out = append(out, k.value.String()+" ("+k.from+")")
			}
			return strings.Join(out, "\n")
		}
		front, rear := facts(0), facts(1)
		change(w)
		if facts(1) != rear || facts(0) == front {
			t.Errorf("%s on the first casting:\n%s\nbefore:\n%s\nand on itself:\n%s", name, facts(1), rear, facts(0))
		}
	}
}

// A section that an answer allows and that no line is known for is asked about, in the words of
// that answer, though it be open whether it speaks; along known lines each is looked at alone.
func TestAnswerForASectionInWords(t *testing.T) {
	for _, k := range []struct {
		name   string
		change func(*world, *job.Answer)
		want   string
		v      Verdict
	}{
		{"no line", func(*world, *job.Answer) {}, "answer A1 of 2030-03-01 by engineering desk allows a section, but the finding is not known to lie outboard of a section line", Ask},
		{"sides not known", func(w *world, _ *job.Answer) { w.in.Inspect.Findings[0].Sides = nil }, "answer A1 of 2030-03-01 by engineering desk allows a section, but the finding is not known to lie outboard of a section line", Ask},
		{"open", func(_ *world, a *job.Answer) { a.When = map[string]string{"depth": "<= 2 mm"} }, "answer A1 of 2030-03-01 by engineering desk allows a section, but the finding is not known to lie outboard of a section line", Ask},
		{"a line, open", func(w *world, a *job.Answer) {
			w.in.Inspect.Findings[0].Sides[0].Outboard = true
			a.When = map[string]string{"depth": "<= 2 mm"}
		}, "it is open whether answer A1 of 2030-03-01 by engineering desk allows it, when depth <= 2 mm (ask: no row speaks of it)", Undecided},
		{"a line", func(w *world, _ *job.Answer) { w.in.Inspect.Findings[0].Sides[0].Outboard = true },
			"answer A1 of 2030-03-01 by engineering desk allows it for this vehicle; it overrides the table (ask: no row speaks of it)", Allowed},
	} {
		w := newWorld()
		w.crack("F1", 9, 1, "CRITICAL-1")
		w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:5]
		a := answer()
		a.Allow = []body.TreatmentKind{body.SectionOff}
		k.change(w, &a)
		w.answers(a)
		res, _ := Run(w.in)
		i := slices.IndexFunc(res.Findings[0].Options, func(o Option) bool { return o.Kind == body.SectionOff })
		if i < 0 {
			t.Fatalf("%s: %+v", k.name, res.Findings[0].Options)
		}
		if o := res.Findings[0].Options[i]; o.Because != k.want || o.Verdict != k.v || o.Cite != "answer A1, document E1" || (o.Line == "LINE-1") != strings.HasPrefix(k.name, "a line") {
			t.Errorf("%s: %+v, want %s %q", k.name, o, k.v, k.want)
		}
	}
}
