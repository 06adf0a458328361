package release

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
)

// assessed is the job that is in order, with the route that was chosen as the stages give it.
func assessed() (*world, Assessed) {
	w, in := orderly()
	route := compare.Route{ID: "weld", Feasible: true, Items: []plan.Item{{Treatment: "T1", Kind: body.Weld, Findings: []job.FindingID{"F1"}}, {Treatment: "T2", Kind: body.WeldBacking, Findings: []job.FindingID{"F2"}}}}
	route.Plan.Removal = []plan.Removal{{Part: "P", Joints: in.Joints}}
	phase := map[string]plan.Phase{"S0": plan.PhasePrepare, "S1": plan.PhaseRepair, "S2": plan.PhaseRepair, "S3": plan.PhaseCheck, "S4": plan.PhaseClose, "S5": plan.PhaseFinish}
	for _, s := range in.Steps {
		route.Plan.Steps = append(route.Plan.Steps, plan.Step{ID: s.ID, Ref: s.Ref, Name: s.Name, Phase: phase[s.ID], For: s.For, Skill: s.Skill, Equipment: s.Equipment, Hold: s.Hold, Second: s.Second,
			Closes: s.Joints, Bonds: s.Bonds, Needs: s.After, Readings: s.Readings})
	}
	route.Plan.Takeoff = []plan.Takeoff{{Material: "WIRE", Lines: []plan.TakeoffLine{{Step: "S1"}}}}
	w.in.Body.Treatments = []body.Treatment{{ID: "T1", Kind: body.Weld}, {ID: "T2", Kind: body.WeldBacking, Steps: []body.Step{{Layout: &body.Layout{Adhesive: "GLUE"}}}}}
	met := measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P1", Tolerance: measure.Met, Firm: true}, {ID: "P2", Tolerance: measure.Met, Firm: true}}}}}
	return w, Assessed{Input: w.in, Compare: compare.Result{Best: "weld", Routes: []compare.Route{{ID: "other", Feasible: true}, route}}, After: &met}
}

func checked(w *world, of Assessed) Gate {
	of.Input = w.in
	of.Decide, _ = decide.Run(w.in)
	return Check(of)
}

func textsOf(g Gate) string {
	var out []string
	for _, m := range g.Missing {
		out = append(out, m.Where+": "+m.Text)
	}
	return strings.Join(out, "\n")
}

// TestGateOverTheStages: the gate is open over what the stages found of a job that is in order,
// and closed by each of what they may find otherwise.
func TestGateOverTheStages(t *testing.T) {
	step := func(of *Assessed, i int) *plan.Step { return &of.Compare.Routes[1].Plan.Steps[i] }
	point := func(of *Assessed) *measure.PointResult { return &of.After.Hypotheses[0].Points[0] }
	for _, c := range []struct {
		name, want string // want empty: nothing is missing
		change     func(*world, *Assessed)
	}{
		{"in order", "", func(*world, *Assessed) {}},
		{"a note that blocks", "F1: stop", func(_ *world, of *Assessed) {
			of.Notes = []diag.Note{{Severity: diag.Blocking, Where: "F1", Text: "stop"}}
		}},
		{"a note that does not", "", func(_ *world, of *Assessed) {
			of.Notes = []diag.Note{{Severity: diag.Caution, Where: "F1", Text: "stop"}}
		}},
		{"no route chosen", ": nobody has chosen a route", func(w *world, _ *Assessed) { w.in.Job.Choices = nil }},
		{"a route that is gone", `: the route that was chosen, "weld", is not among the routes any more`, func(_ *world, of *Assessed) { of.Compare.Routes[1].ID = "section" }},
		{"a route that cannot be taken", `: the route that was chosen, "weld", cannot be taken: F9 is forbidden`, func(_ *world, of *Assessed) {
			of.Compare.Routes[1].Feasible, of.Compare.Routes[1].Because = false, "F9 is forbidden"
		}},
		{"a route that is excluded", `cannot be taken: no person has the skill`, func(_ *world, of *Assessed) {
			of.Compare.Routes[1].Excluded, of.Compare.Routes[1].Because = "no person has the skill", "it is the second"
		}},
		{"an answer that is waited for", "F1: the route waits for the manufacturer's answer on F1", func(_ *world, of *Assessed) { of.Compare.Routes[1].Ask = []string{"F1"} }},
		{"a look that is waited for", "A-1: the route keeps A-1", func(_ *world, of *Assessed) { of.Compare.Routes[1].Measure = []string{"A-1"} }},
		{"a finding without a treatment", "F1: no treatment has been chosen", func(_ *world, of *Assessed) { of.Compare.Routes[1].Items = of.Compare.Routes[1].Items[1:] }},
		{"another treatment", "F2: P1 accepted weld with backing plate, but the chosen route has replace casting", func(_ *world, of *Assessed) { of.Compare.Routes[1].Items[1].Kind = body.ReplaceCasting }},
		{"a plate of the body without an adhesive", "F2: weld with backing plate was bonded with GLUE, the body does not say with what", func(w *world, _ *Assessed) { w.in.Body.Treatments[1].Steps[0].Layout = nil }},
		{"another joint opened", "J4: the torque of lid is not on record", func(w *world, of *Assessed) {
			w.in.Body.Joints = append(w.in.Body.Joints, body.Joint{ID: "J4", Name: "lid", Torque: 8})
			of.Compare.Routes[1].Plan.Removal = append(of.Compare.Routes[1].Plan.Removal, plan.Removal{Joints: []body.JointID{"J1", "J4"}})
		}},
		{"another step", `: that "Polish" was done is not on record`, func(_ *world, of *Assessed) {
			of.Compare.Routes[1].Plan.Steps = append(of.Compare.Routes[1].Plan.Steps, plan.Step{ID: "S9", Name: "Polish", Phase: plan.PhaseFinish})
		}},
		{"a step that opens", "", func(_ *world, of *Assessed) {
			of.Compare.Routes[1].Plan.Steps = slices.Insert(of.Compare.Routes[1].Plan.Steps, 1, plan.Step{ID: "S9", Name: "Lid off", Phase: plan.PhaseOpen})
		}},
		{"a move", "", func(_ *world, of *Assessed) {
			of.Compare.Routes[1].Plan.Steps = slices.Insert(of.Compare.Routes[1].Plan.Steps, 1, plan.Step{ID: "S9", Name: "Out", Phase: plan.PhaseRepair, Move: &plan.Move{}})
		}},
		{"a step that treats nothing", "F1: the plan has no step that deals with it", func(_ *world, of *Assessed) { step(of, 1).Phase = plan.PhasePrepare }},
		{"a step of a joint that is bonded", "J2: record r6 (adhesive) does not count", func(_ *world, of *Assessed) { step(of, 5).Closes = nil }},
		{"what a step uses", `F1: "Grind" was done on 2030-03-04 with WIRE, of which nothing that came might be used any more`, func(w *world, _ *Assessed) { w.in.Job.Deliveries[0].UseBefore = day(2030, 3, 3) }},
		{"what another step uses", "", func(w *world, of *Assessed) {
			w.in.Job.Deliveries[0].UseBefore = day(2030, 3, 3)
			of.Compare.Routes[1].Plan.Takeoff[0].Lines[0].Step = "S9"
		}},
		{"a part that a step takes", `F1: "Grind" was done on 2030-03-04 with SEAL, of which nothing`, func(w *world, of *Assessed) {
			step(of, 1).Takes = []body.PartID{"SEAL"}
			w.in.Job.Deliveries = append(w.in.Job.Deliveries, job.Arrival{ID: "D3", Item: "SEAL", On: day(2030, 2, 27), UseBefore: day(2030, 3, 3)})
		}},
		{"a wait", `F2: that "Plate" was done does not count: it is taken as begun on 2030-03-07 07:00, and the wait of 3 d after "Grind" is over on 2030-03-07 16:00`, func(_ *world, of *Assessed) { step(of, 1).WaitMin = 4320 }},
		{"nothing measured after", ": the control points have not been measured after the repair", func(_ *world, of *Assessed) { of.After = nil }},
		{"no point found after", ": the control points have not been measured after the repair", func(_ *world, of *Assessed) { of.After.Hypotheses = nil }},
		{"a point out", ": out of tolerance after the repair: P1", func(_ *world, of *Assessed) { point(of).Tolerance = measure.NotMet }},
		{"a point out, not surely", ": out of tolerance after the repair: P1", func(_ *world, of *Assessed) { point(of).Tolerance, point(of).Firm = measure.NotMet, false }},
		{"a point undecided", ": the tolerance is undecided after the repair for P1", func(_ *world, of *Assessed) { point(of).Tolerance = measure.Undecided }},
		{"a point in, not surely", ": the tolerance is undecided after the repair for P1", func(_ *world, of *Assessed) { point(of).Firm = false }},
		{"a point not measured", ": not measured after the repair: P2", func(_ *world, of *Assessed) { of.After.Missing = []body.PointID{"P2"} }},
		{"a point that may stay", "", func(w *world, of *Assessed) {
			point(of).Tolerance = measure.NotMet
			j := w.in.Job
			j.Questions = append(j.Questions, job.Asked{ID: "Q", Point: "P1", On: day(2030, 3, 19)})
			j.Answers = append(j.Answers, job.Answer{ID: "AP", Point: "P1", Question: "Q", VIN: j.Vehicle.VIN, Allow: []body.TreatmentKind{body.Leave}, On: day(2030, 3, 20), Expires: day(2030, 6, 1), Document: "E1", RecordedBy: "T1"})
			j.Reviews[0].On = day(2030, 3, 20)
		}},
	} {
		w, of := assessed()
		c.change(w, &of)
		g := checked(w, of)
		if got := textsOf(g); (got == "") != (c.want == "") || !strings.Contains(got, c.want) || g.Ready() != (c.want == "") {
			t.Errorf("%s: ready %v, missing\n%s\nwant %q", c.name, g.Ready(), got, c.want)
		}
		if known := !strings.Contains(c.want, "route chosen") && !strings.Contains(textsOf(g), "a route") && !strings.Contains(textsOf(g), ": the route that was chosen"); (g.Route == "weld") != known {
			t.Errorf("%s: route %q", c.name, g.Route)
		}
	}
}

// The choice that counts is the last one, whatever was chosen before.
func TestLastChoiceCounts(t *testing.T) {
	w, of := assessed()
	w.in.Job.Choices = append([]job.Choice{{Route: "gone", By: "P1", On: day(2030, 2, 24)}}, w.in.Job.Choices...)
	if g := checked(w, of); !g.Ready() {
		t.Error(textsOf(g))
	}
	w.in.Job.Choices = append(w.in.Job.Choices, job.Choice{Route: "gone", By: "P1", On: day(2030, 2, 26)})
	if g := checked(w, of); g.Ready() || g.Route != "" {
		t.Error("a route that is gone was chosen last")
	}
}

// What the gate looks at of a step of a plan, by the phase it is in: what opens need not be on
// record, what prepares stays good, what treats and what shuts is told apart.
func TestStepsByTheirPhase(t *testing.T) {
	for _, c := range []struct {
		phase                         plan.Phase
		asked, treats, prepare, shuts bool
	}{
		{plan.PhasePrepare, true, false, true, false}, {plan.PhaseOpen, false, false, true, false}, {plan.PhaseRepair, true, true, false, false},
		{plan.PhaseCheck, true, false, false, false}, {plan.PhaseClose, true, false, false, true}, {plan.PhaseFinish, true, false, false, true},
	} {
		s := plan.Step{ID: "S1", Ref: "T/s", Name: "Do", Phase: c.phase, For: []job.FindingID{"F1"}, Skill: "weld", Equipment: []string{"gun"}, Minutes: 42.5, Hold: "clean", Second: true, Closes: []body.JointID{"J1"},
			Bonds: []body.MaterialID{"GLUE"}, WaitMin: 30, Together: "bond", Needs: []string{"S0"}, Readings: []body.Reading{{ID: "gap"}}, Takes: []body.PartID{"P1"}}
		var route compare.Route
		route.Plan.Steps = []plan.Step{{ID: "S9", Move: &plan.Move{}}, s}
		route.Plan.Takeoff = []plan.Takeoff{{Material: "WIRE", Lines: []plan.TakeoffLine{{Step: "S9"}, {Step: "S1"}}}, {Material: "PASTE", Lines: []plan.TakeoffLine{{Step: "S9"}}}}
		want := []PlannedStep{{ID: "S1", Ref: "T/s", Name: "Do", For: s.For, Skill: "weld", Equipment: s.Equipment, Minutes: 42.5, Asked: c.asked, Treats: c.treats, Prepares: c.prepare, Shuts: c.shuts, Hold: "clean", Second: true,
			Joints: s.Closes, Bonds: s.Bonds, WaitMin: 30, Together: "bond", After: s.Needs, Readings: s.Readings, Uses: []string{"P1", "WIRE"}}}
		if got := stepsOf(route); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v\nwant %+v", c.phase, got, want)
		}
	}
}

// What a treatment bonds with is what its own steps of the body do, each adhesive once; findings
// of one item are treated together, and a joint that two parts share is opened once.
func TestWhatARouteBondsAndOpens(t *testing.T) {
	b := &body.Body{Materials: []body.Material{{ID: "PASTE", Kind: body.Adhesive, Cure: []body.CureRow{{}}}}, Treatments: []body.Treatment{
		{ID: "T1", Steps: []body.Step{{Layout: &body.Layout{Adhesive: "GLUE"}}, {Layout: &body.Layout{Adhesive: "GLUE"}, Uses: []body.Use{{Material: "PASTE"}}}}},
		{ID: "T2"}, {ID: "T3", Steps: []body.Step{{Layout: &body.Layout{Adhesive: "TAPE"}}}}}}
	var route compare.Route
	route.Items = []plan.Item{{Treatment: "T1", Kind: body.WeldBacking, Findings: []job.FindingID{"F1", "F2"}}, {Treatment: "T2", Kind: body.SectionOff, Line: "S1", Findings: []job.FindingID{"F3"}}}
	want := []Chosen{{Finding: "F1", Kind: body.WeldBacking, Bonds: []body.MaterialID{"GLUE", "PASTE"}}, {Finding: "F2", Kind: body.WeldBacking, Bonds: []body.MaterialID{"GLUE", "PASTE"}}, {Finding: "F3", Kind: body.SectionOff, Line: "S1", Item: 1}}
	if got := treatmentsOf(b, route); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	route.Plan.Removal = []plan.Removal{{Joints: []body.JointID{"J1", "J2"}}, {Joints: []body.JointID{"J2", "J3", "J1"}}}
	if got := jointsOf(route); !slices.Equal(got, []body.JointID{"J1", "J2", "J3"}) {
		t.Errorf("joints %v", got)
	}
}

// wantedOf is entries as what they ask for and about what.
func wantedOf(all []Wanted) (out []string) {
	for _, w := range all {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %s %s", w.Entry, w.About, w.Finding, w.What)))
	}
	return out
}

// TestOpenEntries: what is open is what is missing, then what is to come, to be inspected and to
// be made safe; of a job that is in order, nothing.
func TestOpenEntries(t *testing.T) {
	w, of := assessed()
	if got := checked(w, of).Open(); len(got) > 0 {
		t.Fatalf("everything is on record, and open is %v", wantedOf(got))
	}
	w.in.Job.Choices = nil
	w.in.Job.Hazards[0].Cleared = false
	w.in.Inspect.Coverage = []inspect.Coverage{{Area: "A-1", Name: "ribs", Needs: "penetrant"}, {Area: "A-2", Covered: true},
		{Area: "A-3", Name: "bores", Needs: "look", Own: true, State: "seen", Fails: "too dark", On: day(2030, 2, 20)},
		{Area: "A-4", Name: "joints", Needs: "look", Own: true, State: "seen", On: day(2030, 2, 20)},
		{Area: "A-5", Name: "edges", Needs: "look", State: "seen", Fails: "too dark", On: day(2030, 2, 20)}}
	of.Compare.Routes = append(of.Compare.Routes, compare.Route{ID: "not"}, compare.Route{ID: "out", Feasible: true, Excluded: "no skill"})
	open := checked(w, of).Open()
	var got []string
	for _, x := range open {
		switch x.Entry {
		case WantChoice, WantArea, WantHazard, WantDelivery, WantPromise:
			got = append(got, string(x.Entry)+" "+x.About+" "+x.What+": "+x.Must)
		}
	}
	want := []string{"choice  : under 'value' one of these, under 'text' why: other, weld",
		"area A-1 penetrant: ribs: seen, penetrant or not-reachable; inspection: which",
		`area A-3 look: bores: seen, penetrant or not-reachable; inspection: which; on record is "seen" of 2030-02-20, which does not do: too dark`,
		"area A-4 look: joints: seen, penetrant or not-reachable; inspection: which",
		"area A-5 look: edges: seen, penetrant or not-reachable; inspection: which",
		"hazard high voltage pack: made safe by somebody qualified; value: made safe"}
	if !slices.Equal(got, want) {
		t.Errorf("open:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	of.Compare.Routes = of.Compare.Routes[2:]
	if x := checked(w, of).Open()[0]; x.Entry != WantChoice || x.Must != "no route may be chosen" {
		t.Errorf("no route may be chosen: %+v", x)
	}
}

// TestSuppliesThatAreOpen: parts that have not all come, and materials of which anything is on
// record, each with how many came; of a route that is chosen only.
func TestSuppliesThatAreOpen(t *testing.T) {
	w, of := assessed()
	p := &of.Compare.Routes[1].Plan
	p.Lost = []plan.Lost{{Part: "SKIN", Name: "skin", Quantity: 2}, {Part: "TRIM", Name: "trim", Quantity: 1}, {Part: "CLIP", Name: "clips", Quantity: 3}}
	p.Takeoff = append(p.Takeoff, plan.Takeoff{Material: "PASTE", Kind: "adhesive", Name: "paste", Packs: 2}, plan.Takeoff{Material: "TAPE", Kind: "other", Name: "tape", Packs: 1})
	p.Takeoff[0].Kind, p.Takeoff[0].Name, p.Takeoff[0].Packs = "filler", "wire", 1
	came := func(id, item string, n int) job.Arrival {
		return job.Arrival{ID: id, Item: item, Count: n, On: day(2030, 2, 27), UseBefore: day(2030, 9, 1)}
	}
	w.in.Job.Deliveries = append(w.in.Job.Deliveries, came("D3", "SKIN", 1), came("D4", "TRIM", 1))
	w.in.Job.Promises = []job.Promised{{Item: "PASTE", Count: 2, On: day(2030, 2, 27), Expected: day(2030, 3, 30)}}
	g := checked(w, of)
	if !g.Ready() {
		t.Fatal(textsOf(g))
	}
	var got []string
	for _, x := range g.Open() {
		got = append(got, string(x.Entry)+" "+x.About+": "+x.Must)
	}
	var want []string
	for _, x := range []string{"CLIP: clips; 0 of 3 came", "SKIN: skin; 1 of 2 came", "PASTE: paste; 0 of 2 came"} {
		want = append(want, "delivery "+x+"; how many came now; from: hh:mm", "promise "+x+"; the day it is promised for, where one was named")
	}
	if !slices.Equal(got, want) {
		t.Errorf("open:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	w.in.Job.Choices = nil
	if got := checked(w, of).supplies(); len(got) > 0 {
		t.Errorf("no route is chosen, and to come is %v", wantedOf(got))
	}
}

// A step that need not be on record is asked for all the same, until it is.
func TestStepsThatOpenAreAskedForLast(t *testing.T) {
	w, of := assessed()
	of.Compare.Routes[1].Plan.Steps = slices.Insert(of.Compare.Routes[1].Plan.Steps, 1, plan.Step{ID: "S9", Name: "Lid off", Phase: plan.PhaseOpen, Minutes: 5})
	g := checked(w, of)
	if got := wantedOf(g.Open()); !g.Ready() || !slices.Equal(got, []string{"step Lid off"}) {
		t.Errorf("ready %v, open %v", g.Ready(), got)
	}
	for _, going := range []bool{true, false} {
		w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Lid off", By: "W1", On: day(2030, 3, 2), Minutes: 5, Going: going})
		if got := wantedOf(checked(w, of).Open()); slices.Contains(got, "step Lid off") != going {
			t.Errorf("under way %v, open %v", going, got)
		}
	}
}

// An entry serves what is wanted when it is about the same, or about another finding that is
// treated together with it; each word tells entries apart.
func TestEntryServesWhatIsWanted(t *testing.T) {
	w := Wanted{Entry: WantSeen, About: "S", Finding: "F1", What: "root", Serves: []job.FindingID{"F1", "F2"}, Must: "sound"}
	for _, c := range []struct {
		o           Wanted
		same, takes bool
	}{
		{Wanted{Entry: WantSeen, About: "S", Finding: "F1", What: "root"}, true, true},
		{Wanted{Entry: WantSeen, About: "S", Finding: "F2", What: "root"}, false, true},
		{Wanted{Entry: WantSeen, About: "S", Finding: "F3", What: "root"}, false, false},
		{Wanted{Entry: WantBond, About: "S", Finding: "F2", What: "root"}, false, false},
		{Wanted{Entry: WantSeen, About: "T", Finding: "F2", What: "root"}, false, false},
		{Wanted{Entry: WantSeen, About: "S", Finding: "F2", What: "other"}, false, false},
		{Wanted{Entry: WantSeen, About: "S", Finding: "", What: "root"}, false, false},
	} {
		if w.Same(c.o) != c.same || w.Takes(c.o) != c.takes {
			t.Errorf("%+v: same %v, takes %v", c.o, w.Same(c.o), w.Takes(c.o))
		}
	}
}
