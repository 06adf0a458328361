package decide

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A job is permitted when each of its findings is allowed and no note blocks, and only then; a
// finding that is not allowed has a blocking note of its own, so that nobody who reads the
// notes alone takes the job for permitted. Random tables and jobs: seed 101.
func TestAJobIsPermittedOnlyAsAWholeSeed101(t *testing.T) {
	rng := rand.New(rand.NewPCG(101, 101))
	mixed := 0
	for n := range draws(60, 4000) {
		w := oracleJob(rng)
		res, notes := Run(w.in)
		all, any := true, false
		for _, f := range res.Findings {
			all, any = all && f.Verdict == Allowed, any || f.Verdict == Allowed
			blocked := slices.ContainsFunc(notes, func(x diag.Note) bool {
				return x.Code == "decide.no-treatment" && x.Where == string(f.ID) && x.Blocks()
			})
			if blocked == (f.Verdict == Allowed) {
				t.Fatalf("job %d: %s is %s, and its note blocks: %v", n, f.ID, f.Verdict, blocked)
			}
		}
		clear := !slices.ContainsFunc(notes, diag.Note.Blocks)
		if res.Permits != (all && clear) {
			t.Fatalf("job %d: permits %v, all allowed %v, no note blocks %v", n, res.Permits, all, clear)
		}
		if any && !all {
			mixed++
		}
	}
	if mixed < 5 {
		t.Errorf("only %d jobs had a finding that was allowed beside one that was not", mixed)
	}
}

// What every row that applies asks to be inspected afterwards is asked for, once each and in
// the order of the table; nothing else is. Random tables: seed 102.
func TestWhatIsInspectedAfterwardsSeed102(t *testing.T) {
	rng := rand.New(rand.NewPCG(102, 102))
	asked, alone := 0, 0
	for n := range draws(60, 4000) {
		w := oracleJob(rng)
		p := &w.in.Body.Procedures[0]
		for i := range p.Rows {
			for range rng.IntN(3) {
				p.Rows[i].After = append(p.Rows[i].After, body.After{Method: "visual", When: fmt.Sprint("at ", rng.IntN(4))})
			}
		}
		res, _ := Run(w.in)
		for _, f := range res.Findings {
			var want []string
			for i, r := range f.Rows {
				if r.State != "applies" {
					continue
				}
				for _, a := range p.Rows[i].After {
					if !slices.Contains(want, a.String()) {
						want = append(want, a.String())
					}
				}
			}
			// Rows that apply in one zone alone come after those that apply as a whole.
			if len(f.After) < len(want) || !slices.Equal(f.After[:len(want)], want) {
				t.Fatalf("job %d, %s: %q, the rows that apply ask for %q", n, f.ID, f.After, want)
			}
			alone += len(f.After) - len(want)
			asked += len(want)
			for i, a := range f.After {
				if slices.Contains(f.After[:i], a) {
					t.Fatalf("job %d, %s: %q twice", n, f.ID, a)
				}
			}
		}
	}
	if asked < 30 || alone < 3 {
		t.Errorf("only %d inspections were asked for, %d of them in one zone alone", asked, alone)
	}
}

// It is told that an answer overrides the table where the table said otherwise of that
// treatment, and nowhere else; a treatment of which the table says nothing was one to ask
// about. The table is asked by the same job without the answer: seed 103.
func TestAnOverrideIsToldSeed103(t *testing.T) {
	rng := rand.New(rand.NewPCG(103, 103))
	told, same := 0, 0
	for n := range draws(80, 4000) {
		w := oracleJob(rng)
		a := oAnswer(rng)
		if rng.IntN(2) == 0 { // about one section line of two, of which the table may say different things
			a = answer()
			a.Allow = []body.TreatmentKind{body.SectionOff}
			a.When = map[string]string{body.FactOutboard: []string{"includes LINE-1", "includes LINE-2"}[rng.IntN(2)]}
			one := body.Row{ID: "one", Cite: "R", When: map[string]string{body.FactOutboard: []string{"any of LINE-1", "any of LINE-2"}[rng.IntN(2)]}}
			one.Allow, one.Forbid = []body.TreatmentKind{body.SectionOff}, nil
			if rng.IntN(2) == 0 {
				one.Allow, one.Forbid = one.Forbid, one.Allow
			}
			w.in.Body.Procedures[0].Rows = append(w.in.Body.Procedures[0].Rows, one)
		}
		w.answers(a)
		res, notes := Run(w.in)
		w.in.Job.Answers, w.in.Job.Told = nil, nil
		table, _ := Run(w.in)
		for i, f := range res.Findings {
			want := 0
			for _, o := range f.Options {
				said := Ask
				for _, was := range table.Findings[i].Options {
					if was.Kind == o.Kind && (was.Line == o.Line || was.Line == "") {
						said = was.Verdict
						break
					}
				}
				switch {
				case o.Answer == "":
				case o.Verdict != said:
					want++
				default:
					same++
				}
			}
			got := 0
			for _, x := range notes {
				if x.Code == "decide.answer-override" && x.Where == string(f.ID) {
					got++
				}
			}
			if got != want {
				t.Fatalf("job %d, %s: %d overrides are told, there are %d: %+v, the table alone %+v", n, f.ID, got, want, f.Options, table.Findings[i].Options)
			}
			told += want
		}
	}
	if told < 10 || same < 3 {
		t.Errorf("%d overrides, %d answers that say what the table says", told, same)
	}
}

// A finding that is undecided is put to the manufacturer when no measurement of the shop can
// decide it: every condition that is open is undecided, by a value on its limit or by a length
// between tips that were found, not seen. One that is not known is looked at first. Every
// combination of length, tips and what is not known.
func TestOnlyWhatCannotBeMeasuredIsAsked(t *testing.T) {
	for _, length := range []float64{49.5, 50} { // the limit is 50 mm
		for _, tips := range [][]body.TipMethod{{body.TipPenetrant, body.TipPenetrant}, {body.TipStopHole, body.TipStopHole}, {body.TipVisual, body.TipVisual}, {body.TipPenetrant, body.TipVisual}, nil} {
			for _, known := range []bool{true, false} {
				w := newWorld()
				rows := w.in.Body.Procedures[0].Rows
				w.in.Body.Procedures[0].Rows = rows[:1]
				if !known {
					rows[0].When["through"] = "no"
				}
				w.crack("F1", length, 1, "OPEN-1")
				f := &w.in.Job.Findings[0]
				f.Tips = tips
				if !known {
					f.Through = ""
				}
				res, _ := Run(w.in)
				if v := res.Findings[0].Verdict; v != Undecided {
					t.Fatalf("%g mm, tips %v: %s", length, tips, v)
				}
				found := len(tips) == 2 && tips[0] == tips[1] && tips[0] != body.TipVisual
				if want := known && (length == 50 || found); (len(res.Questions) == 1) != want {
					t.Errorf("%g mm, tips %v, all known %v: questions %+v, want one: %v", length, tips, known, res.Questions, want)
				}
			}
		}
	}
}

// What is treated together is what was accepted for the same cut or the same new part of one
// part: a weld of one finding is no weld of another, although both are on one casting and no
// line is named. Every kind, with the same and with another part, line and kind.
func TestOnlyCutsAndNewPartsTreatSeveral(t *testing.T) {
	several := map[body.TreatmentKind]bool{body.SectionOff: true, body.ReplaceCasting: true, body.Exchange: true, body.ReplacePart: true}
	for _, k := range body.TreatmentKinds() {
		for other := range 4 {
			w := newWorld()
			w.crack("F1", 20, 1, "OPEN-1")
			w.crack("F2", 20, 1, "OPEN-1")
			for i := range w.in.Shop.People {
				w.in.Shop.People[i].Accepts = body.TreatmentKinds()
			}
			a := job.Accepted{Finding: "F1", Kind: k, By: "T1", On: day(2030, 3, 1)}
			b := a
			b.Finding = "F2"
			switch other {
			case 1:
				b.Line = "LINE-2"
			case 2:
				w.in.Job.Findings[1].Part = "P-PANEL"
			case 3:
				kinds := body.TreatmentKinds()
				b.Kind = kinds[(slices.Index(kinds, k)+1)%len(kinds)]
			}
			w.in.Job.Accepted = []job.Accepted{a, b}
			want := []job.FindingID{"F1"}
			if several[k] && other == 0 {
				want = append(want, "F2")
			}
			if got := newScene(w.in).treatedTogether(a); !slices.Equal(got, want) {
				t.Errorf("%s, difference %d: %v are treated together, want %v", k, other, got, want)
			}
		}
	}
}

// The revision in force may be relied on while the last look-up up to today found it to be the
// current one, and one since it took effect did; of two on one day the one that found another
// revision counts. What was looked up of another procedure, by somebody whose record does not
// stand or for a day to come changes nothing. Drawn: up to five look-ups, against the rule in
// other words.
func TestLastLookUpDecidesSeed104(t *testing.T) {
	rng := rand.New(rand.NewPCG(104, 104))
	seen := map[bool]int{}
	for n := range draws(150, 20000) {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.in.Job.Opened = day(2030, 1, 1)
		w.in.Job.Checks = nil
		effective, today := w.in.Body.Procedures[0].Effective, w.in.Today
		for range 1 + rng.IntN(5) {
			w.in.Job.Checks = append(w.in.Job.Checks, job.Check{Procedure: []body.ProcedureID{"CHECK", "CHECK", "OTHER"}[rng.IntN(3)], Revision: []string{"B", "B", "C"}[rng.IntN(3)],
				By: []string{"planner", "planner", "nobody"}[rng.IntN(3)], On: []unit.Date{effective.AddDays(-1), effective, today.AddDays(-1), today, today.AddDays(1)}[rng.IntN(5)]})
		}
		// Day by day: what is known of the revision in the evening.
		found, other := false, false
		for d := day(2030, 1, 1); !today.Before(d); d = d.AddDays(1) {
			any, another := false, false
			for _, c := range w.in.Job.Checks {
				if c.Procedure == "CHECK" && c.On == d {
					any, another = true, another || c.Revision != "B"
					found = found || c.Revision == "B" && c.By == "planner" && !d.Before(effective)
				}
			}
			if any {
				other = another
			}
		}
		want := !found || other
		res, _ := Run(w.in)
		if p := res.Procedures[0]; p.Unchecked != want || res.Permits == want || (p.Why != "") != want {
			t.Fatalf("job %d: unchecked %v (%s), permits %v, want unchecked %v of %+v", n, p.Unchecked, p.Why, res.Permits, want, w.in.Job.Checks)
		}
		seen[want]++
	}
	if seen[true] < 20 || seen[false] < 20 {
		t.Errorf("%v", seen)
	}
}

// A record of a step that names no finding is about the only one that it can be about: one
// finding was accepted for a treatment that has such a step. Every pair of what was accepted
// for two findings.
func TestARecordWithoutAFindingIsOfTheOnlyOne(t *testing.T) {
	has := map[body.TreatmentKind][]string{body.WeldBacking: {"form", "bond"}, body.Weld: {"weld"}, body.Dress: {"Form"}, "": nil}
	for one := range has {
		for two := range has {
			w := plated()
			w.crack("F2", 9, 1, "CRITICAL-1")
			w.in.Body.Treatments = append(w.in.Body.Treatments, body.Treatment{ID: "T-D", Kind: body.Dress, Steps: []body.Step{{Name: "Form"}}})
			for id, k := range map[job.FindingID]body.TreatmentKind{"F1": one, "F2": two} {
				if k != "" {
					w.in.Job.Accepted = append(w.in.Job.Accepted, job.Accepted{Finding: id, Kind: k, By: "P1", On: day(2030, 3, 1)})
				}
			}
			s := newScene(w.in)
			for _, step := range []string{"Form", "BOND", "Weld", "Look"} {
				n := 0
				for _, k := range []body.TreatmentKind{one, two} {
					if slices.ContainsFunc(has[k], func(x string) bool { return strings.EqualFold(x, step) }) {
						n++
					}
				}
				if got := s.onlyOne(step); got != (n == 1) {
					t.Errorf("%q with %q and %q accepted: only one %v, %d have it", step, one, two, got, n)
				}
			}
		}
	}
}

// A cut that an answer allowed was carried out by the treatment of its own line, every step of
// it: not by that of another line, nor by none. Each line accepted with each treatment done.
func TestACutIsCarriedOutAlongItsOwnLine(t *testing.T) {
	for _, line := range []body.LineID{"LINE-1", "LINE-2", "LINE-3", "LINE-9"} {
		for _, done := range []string{"", "Cut 1", "Cut 2"} {
			w := plated()
			w.in.Body.Lines = []body.Line{{ID: "LINE-1", Casting: "FRONT", Treatment: "T-1"}, {ID: "LINE-2", Casting: "FRONT", Treatment: "T-2"}, {ID: "LINE-3", Casting: "FRONT"}}
			for _, n := range []string{"1", "2"} {
				w.in.Body.Treatments = append(w.in.Body.Treatments, body.Treatment{ID: body.TreatmentID("T-" + n), Kind: body.SectionOff, Steps: []body.Step{{Name: "Cut " + n}}})
			}
			a := answer()
			a.Allow, a.RecordedBy = []body.TreatmentKind{body.SectionOff}, "T1"
			w.in.Job.Accepted = []job.Accepted{{Finding: "F1", Kind: body.SectionOff, Line: line, By: "P1", On: a.On}}
			if done != "" {
				w.in.Job.Actuals = []job.Actual{{Step: done, Finding: "F1", By: "W1", On: day(2030, 3, 2)}}
			}
			want := line == "LINE-1" && done == "Cut 1" || line == "LINE-2" && done == "Cut 2"
			if _, last, ok := newScene(w.in).carriedOut(a); ok != want || ok && last != day(2030, 3, 2) {
				t.Errorf("%s accepted, %q done: carried out %v on %s, want %v", line, done, ok, last, want)
			}
		}
	}
}
