package assess

import (
	"context"
	"reflect"
	"slices"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// measured is a job that was measured before, during and after the repair, too thinly for
// anything to be known. One crack has no trace, and a weld was accepted that is not allowed;
// nothing allows anything for the other. Constructed: every stage has something to say of it.
func measured() Input {
	b, j, sh, _ := fixture.World()
	b.Points = []body.Point{{ID: "P1"}, {ID: "P2"}}
	b.Confidence = 0.97
	b.Thermal = &body.Thermal{Reference: 20, Low: 5, High: 35, Materials: []body.Growth{{Material: "aluminium", Expansion: 22, Std: 2}}}
	j.Impact.From, j.Seed = "front", 7
	fixture.Crack(j, &inspect.Result{}, "F1", 20, 1)
	fixture.Crack(j, &inspect.Result{}, "F2", 20, 1)
	j.Findings[1].Kind = "dent"
	for _, s := range []job.Stage{job.StageBefore, job.StageDuring, job.StageAfter} {
		j.Setups = append(j.Setups, job.Setup{ID: string(s), Stage: s, Device: "arm", Std: 0.3, On: fixture.Day(2030, 3, 1), By: "T1"})
	}
	j.Accepted = []job.Accepted{{Finding: "F1", Kind: body.Weld, By: "T1", On: fixture.Day(2030, 3, 1)}}
	return Input{Body: b, Shop: sh, Job: j, Vehicle: vehicle.New(b, nil), Today: fixture.Day(2030, 3, 2)}
}

// measuring is what the measuring of one stage of that job takes, by the definition: 22 and 2
// parts per million of each kelvin.
func measuring(in Input, stage job.Stage) measure.Input {
	return measure.Input{Points: in.Body.Points, Setups: in.Job.Setups, Stage: stage, Impact: "front", Confidence: 0.97, Seed: 7,
		Thermal: measure.Thermal{BodyPerK: 22e-6, PerKStd: 2e-6, ReferenceC: 20, LowC: 5, HighC: 35}}
}

// The verdicts are what the stages say one after the other, each of what those before it found,
// and no note of any is lost. What was wrong during the repair, and what stages say of one
// another, does not block.
func TestVerdictsAreTheStages(t *testing.T) {
	in := measured()
	got, notes := Judge(in)
	var want Verdicts
	var all []diag.Note
	stage := func(s job.Stage) *measure.Result {
		r, found := measure.Run(measuring(in, s))
		if !slices.ContainsFunc(found, diag.Note.Blocks) {
			t.Fatalf("the test shows nothing: measured %s, notes %v", s, found)
		}
		for _, n := range found {
			if s != job.StageBefore {
				n.Where += ", " + string(s) + " the repair"
			}
			if s == job.StageDuring && n.Severity == diag.Blocking {
				n.Severity = diag.Caution
			}
			all = append(all, n)
		}
		return &r
	}
	want.Measure, want.During, want.After = *stage(job.StageBefore), stage(job.StageDuring), stage(job.StageAfter)
	for _, p := range [][2]*measure.Result{{&want.Measure, want.During}, {want.During, want.After}, {&want.Measure, want.After}} {
		x := measure.Compare(in.Body.Points, *p[0], *p[1])
		want.Progress = append(want.Progress, x)
		for _, n := range x.Notes {
			n.Severity = diag.Caution
			all = append(all, n)
		}
	}
	var found []diag.Note
	want.Inspect, found = inspect.Run(inspect.Input{Body: in.Body, Job: in.Job, Vehicle: in.Vehicle, Shop: in.Shop, Today: in.Today})
	all = append(all, found...)
	inspected := len(found)
	want.Decide, found = decide.Run(decide.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Inspect: want.Inspect, Today: in.Today})
	all = append(all, found...)
	accepted := decide.Acceptances(in.Job, want.Decide)
	for _, f := range accepted {
		all = append(all, f.Note)
	}
	if inspected == 0 || len(found) == 0 || len(accepted) == 0 {
		t.Fatalf("the test shows nothing: %d notes of the inspection, %d of the decisions, %d of what was accepted", inspected, len(found), len(accepted))
	}
	for _, x := range []struct {
		name      string
		got, want any
	}{{"before", got.Measure, want.Measure}, {"during", got.During, want.During}, {"after", got.After, want.After}, {"progress", got.Progress, want.Progress},
		{"inspect", got.Inspect, want.Inspect}, {"decide", got.Decide, want.Decide}, {"notes", notes, all}} {
		if !reflect.DeepEqual(x.got, x.want) {
			t.Errorf("%s:\n%+v\nwant\n%+v", x.name, x.got, x.want)
		}
	}
}

// Stages that nobody measured are not there, and nothing is held against them.
func TestStagesThatWereNotMeasured(t *testing.T) {
	for _, c := range []struct {
		stages        []job.Stage
		during, after bool
		progress      []job.Stage // from, to, from, to, ...
	}{
		{[]job.Stage{job.StageBefore}, false, false, nil},
		{[]job.Stage{job.StageDuring}, true, false, []job.Stage{job.StageBefore, job.StageDuring}},
		{[]job.Stage{job.StageAfter}, false, true, []job.Stage{job.StageBefore, job.StageAfter}},
	} {
		in := measured()
		in.Job.Setups = slices.DeleteFunc(in.Job.Setups, func(s job.Setup) bool { return !slices.Contains(c.stages, s.Stage) })
		var v Verdicts
		v.Measure, _ = measure.Run(in.Measure(job.StageBefore))
		v.laterStages(in)
		var pairs []job.Stage
		for _, p := range v.Progress {
			pairs = append(pairs, p.From, p.To)
		}
		if (v.During != nil) != c.during || (v.After != nil) != c.after || !slices.Equal(pairs, c.progress) {
			t.Errorf("%v: during %v, after %v, %v", c.stages, v.During != nil, v.After != nil, pairs)
		}
	}
}

// A note of a later stage says which, and of the stage during the repair none blocks; those it
// was made from stay as they are.
func TestNotesOfLaterStages(t *testing.T) {
	in := []diag.Note{{Where: "P1", Severity: diag.Blocking}, {Severity: diag.Info}, {Where: "P2", Severity: diag.Caution}}
	during, after := staged(job.StageDuring, in), staged(job.StageAfter, in)
	want := []diag.Note{{Where: "P1, during the repair", Severity: diag.Caution}, {Where: ", during the repair", Severity: diag.Info}, {Where: "P2, during the repair", Severity: diag.Caution}}
	if !reflect.DeepEqual(during, want) {
		t.Errorf("during: %v", during)
	}
	if after[0].Where != "P1, after the repair" || after[0].Severity != diag.Blocking || in[0].Where != "P1" {
		t.Errorf("after: %v, of %v", after, in)
	}
}

// A body that does not say how it grows is measured as one of which nothing is known.
func TestBodyThatDoesNotGrow(t *testing.T) {
	in := measured()
	in.Body.Thermal = nil
	if got := in.Measure(job.StageAfter); got.Thermal != (measure.Thermal{}) || got.Stage != job.StageAfter {
		t.Errorf("%+v", got)
	}
}

// Who waits is told what is being done, in its order.
func TestProgressNamesTheStages(t *testing.T) {
	var told []string
	ctx := halt.Telling(context.Background(), func(p halt.Progress) {
		if n := len(told); n == 0 || told[n-1] != p.What {
			told = append(told, p.What)
		}
	})
	err := halt.Do(ctx, func(w *halt.Work) {
		in := measured()
		in.Work = w
		v, _ := Judge(in)
		Routes(in, v, nil)
	})
	if err != nil || !slices.Equal(told, []string{"measure", "inspect", "decide", "compare"}) {
		t.Errorf("%v, %v", told, err)
	}
}

// What the job goes by is told beside what the routes say themselves: each thing that speaks
// against it alone, and all of it at once.
func TestRoutesAreHeldAgainstTheJob(t *testing.T) {
	cases := []struct {
		code   string
		change func(Input, *Verdicts)
	}{
		{"choice.no-such-route", func(in Input, _ *Verdicts) { in.Job.Choices = []job.Choice{{Route: "gone", By: "W1", On: today}} }},
		{"plan.start-past", func(in Input, _ *Verdicts) { in.Job.Start = day(time.March, 13) }},
		{"work.unsound", func(in Input, _ *Verdicts) { in.Job.Actuals = []job.Actual{{Step: "Sing", By: "W1", On: today}} }},
		{"cost.supplement", func(in Input, _ *Verdicts) {
			in.Job.Agreed = []job.Agreed{{Number: 1, Route: "weld", On: today, Findings: []job.FindingID{"F1"}}}
		}},
		{"plan.answer-expires", func(in Input, v *Verdicts) {
			in.Job.Answers = []job.Answer{{ID: "A1", Finding: "F1", On: day(time.March, 10), Expires: today}}
			v.Decide.Findings[0].Options[0].Answer = "A1"
		}},
	}
	all := func(in Input, v *Verdicts) {
		for _, c := range cases {
			c.change(in, v)
		}
	}
	codesOf := func(change func(Input, *Verdicts)) []string {
		in, v := world()
		change(in, &v)
		got, notes := Routes(in, v, nil)
		_, own := compare.Routes(in.Compare(v))
		if got.Compare.Best != "weld" || !reflect.DeepEqual(got.Verdicts, v) || !slices.EqualFunc(notes[:len(own)], own, func(a, b diag.Note) bool { return reflect.DeepEqual(a, b) }) {
			t.Fatalf("best %q, notes %v, those of the routes %v", got.Compare.Best, notes, own)
		}
		return codes(notes[len(own):])
	}
	if got := codesOf(func(Input, *Verdicts) {}); len(got) > 0 {
		t.Errorf("nothing speaks against it, and %v", got)
	}
	var every []string
	for _, c := range cases {
		every = append(every, c.code)
		if got := codesOf(c.change); !slices.Equal(got, []string{c.code}) {
			t.Errorf("%v, want %s alone", got, c.code)
		}
	}
	if got := codesOf(all); !slices.Equal(got, every) {
		t.Errorf("%v, want %v", got, every)
	}
}

// A plan that takes something off is shown with the openings that cost hardly more: the right
// cover, a minute dearer in three hours; one that takes nothing off has none.
func TestOpeningsNearlyAsCheap(t *testing.T) {
	in, v := world()
	r, _ := Routes(in, v, nil)
	weld := routeNamed(t, r.Compare, "weld").Plan
	if len(weld.Removal) != 1 || weld.Removal[0].Part != "left" || len(weld.Nearly) != 1 || !slices.Equal(weld.Nearly[0].Parts, []body.PartID{"right"}) || weld.Nearly[0].More != 100 || !weld.NearlyAll {
		t.Errorf("removal %+v, nearly %+v", weld.Removal, weld.Nearly)
	}
	in.Body.Access = nil
	r, _ = Routes(in, v, nil)
	if weld := routeNamed(t, r.Compare, "weld").Plan; len(weld.Removal) > 0 || weld.NearlyAll || weld.Nearly != nil {
		t.Errorf("nothing comes off: %+v", weld.Nearly)
	}
}

// What blocks: decisions that do not permit, or any note that does.
func TestWhatBlocks(t *testing.T) {
	blocking, mild := []diag.Note{{Severity: diag.Caution}, {Severity: diag.Blocking}}, []diag.Note{{Severity: diag.Info}, {Severity: diag.Caution}}
	for _, c := range []struct {
		permits bool
		notes   []diag.Note
		want    bool
	}{{true, nil, false}, {true, mild, false}, {true, blocking, true}, {false, nil, true}, {false, blocking, true}, {false, mild, true}} {
		if got := Blocked(Verdicts{Decide: decide.Result{Permits: c.permits}}, c.notes); got != c.want {
			t.Errorf("permits %v with %v: blocked %v", c.permits, c.notes, got)
		}
	}
	if got := Stopping(slices.Concat(mild, blocking)); len(got) != 1 || got[0].Severity != diag.Blocking {
		t.Errorf("%v", got)
	}
}

// A sentence is said once, the first time, whatever remedies come with it; what differs in
// anything that is read is another.
func TestNotesOnce(t *testing.T) {
	a := diag.Note{Code: "a", Where: "F1", Text: "t", Remedy: diag.Do(job.ToPlan)}
	again, other, milder := a, a, a
	again.Remedy = diag.Do(job.ToAsk)
	other.Where = "F2"
	milder.Severity = diag.Caution
	got := Once([]diag.Note{a, other, again, milder, other})
	if want := []diag.Note{a, other, milder}; !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Points that the manufacturer lets stay as they are go into the routes.
func TestPointsThatStayGoIntoTheRoutes(t *testing.T) {
	in, v := world()
	leavePoint(in, "P1", unit.Date{Year: 2027, Month: time.January, Day: 1})
	if got := in.Compare(v).Left; !slices.Equal(got, []body.PointID{"P1"}) {
		t.Errorf("%v", got)
	}
}
