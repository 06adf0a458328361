package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Constructed: what seldom stands in the way of a plan, or in its notes, each with what is said.
func TestRareNotesOfPlans(t *testing.T) {
	chain := func(in *Input) {
		in.Body.Treatments[2].Steps[1].Together, in.Body.Treatments[2].Steps[2].Together = "bond", "bond"
	}
	for name, c := range map[string]struct {
		items  []Item
		change func(in *Input)
		code   string
		text   string
	}{
		"everybody leaves": {[]Item{weldF2}, func(in *Input) {
			in.Shop.Absences = []shop.Absence{{Person: "p2", From: monday(0).AddDays(1), Reason: "left"}, {Bay: "b1", From: monday(9), Reason: "sold"}, {Person: "p1", From: monday(1), To: monday(2), Reason: "ill"}}
			in.Body.Tasks[1].Step.Fixed = 900
		}, "plan.schedule", "; p2 is away from 2026-03-03 on (left), b1 is away from 2026-03-11 on (sold)"},
		"no start": {[]Item{weldF2}, func(in *Input) { in.Job.Start = unit.Date{} }, "plan.no-start", "the job has no start day"},
		"a wait inside one go": {[]Item{cutS1}, func(in *Input) {
			chain(in)
			in.Body.Treatments[2].Steps[1].Wait = &body.Wait{Name: "rest", Elapsed: 1}
		}, "plan.wait-in-chain", `"Apply adhesive" is to be done in one go with the step after it, but a wait of 1 min follows it`},
		"moved inside one go": {[]Item{cutS1}, func(in *Input) {
			chain(in)
			in.Body.Treatments[2].Steps[2].Bay = "booth"
			in.Shop.Bays = []shop.Bay{{ID: "b1", Kind: "bench", Name: "Bench", In: 1, Out: 1}, {ID: "b2", Kind: "booth", Name: "Booth", In: 1, Out: 1}}
			in.Shop.Moving = &shop.Moving{Skill: "mech"}
		}, "plan.move-in-chain", `"Apply adhesive" and "Set rivets" are to be done in one go, and the vehicle would have to be moved`},
		"parts that wait for one another": {[]Item{weldF1}, func(in *Input) {
			in.Body.Access = append(in.Body.Access, body.Access{To: "bumper", Needs: [][]body.PartID{{"skin"}}})
		}, "plan.no-opening", "no order exists in which everything in the way can come off"},
		"too many parts": {[]Item{weldF1}, func(in *Input) {
			var all []body.PartID
			for k := range 70 {
				id := body.PartID(fmt.Sprintf("p%02d", k))
				in.Body.Parts = append(in.Body.Parts, body.Part{ID: id, Name: string(id), Skill: "body", Price: eur(1)})
				all = append(all, id)
			}
			in.Body.Access[0].Needs = [][]body.PartID{all}
		}, "plan.too-many-parts", "70 parts could be in the way; the search takes 64"},
		"air without humidity": {[]Item{weldF2}, func(in *Input) {
			in.Body.Treatments[0].Steps[1].Air = &body.Environment{Low: unit.Some[celsius](21)}
		}, "plan.environment", "Weld: the bays are at 20 C, allowed is at least 21 C"},
		"humidity alone": {[]Item{weldF2}, func(in *Input) {
			in.Body.Treatments[0].Steps[1].Air = &body.Environment{Humidity: 1}
		}, "plan.humidity-unknown", "Weld: the humidity may be at most 100 %; the shop file does not say"},
		"a task before and after": {[]Item{weldF2}, func(in *Input) {
			in.Body.Treatments[0].Requires = append(in.Body.Treatments[0].Requires, "measure")
		}, "plan.task-twice", "task measure is asked for both before and after the work"},
		"a task that is not there": {[]Item{weldF2}, func(in *Input) { in.Body.Tasks[1].Needs = []body.TaskID{"lost"} }, "plan.unknown-task", "task lost is not"},
		"a material that is not there": {[]Item{weldF2}, func(in *Input) {
			in.Body.Treatments[0].Steps[0].Uses = []body.Use{{Material: "lost", Each: amount(1, "kg")}}
		}, "plan.unknown-material", "material lost is not"},
		"another unit": {[]Item{weldF2}, func(in *Input) {
			in.Body.Treatments[0].Steps[0].Uses = []body.Use{{Material: "wire", Each: amount(1, "g")}}
		}, "plan.material-unit", "wire is used in g but packed in kg"},
		"a task by rivets": {[]Item{weldF2}, func(in *Input) { in.Body.Tasks[1].Step.PerRivet = 1 }, "plan.task-length", "by rivets, but a task has none"},
		"a task by length that nothing with one asks for": {[]Item{weldF1}, func(in *Input) { in.Body.Tasks[0].Step.PerMetre = 1 }, "plan.task-length", "task isolate asks for time or materials by length"},
		"a digit too many": {[]Item{weldF1}, func(in *Input) { in.Body.Parts[1].Price = eur(1 << 40) }, "plan.beyond-weighing", "so large that what is cheapest cannot be told"},
	} {
		in := input(c.items...)
		if _, notes := Build(in); len(notes) > 0 {
			t.Errorf("%s: as it is: %v", name, notes)
		}
		c.change(&in)
		_, notes := Build(in)
		if !slices.ContainsFunc(notes, func(n note) bool { return n.Code == c.code && strings.Contains(n.Text, c.text) }) {
			t.Errorf("%s: %v, want %s: %s", name, notes, c.code, c.text)
		}
	}
}

// Parts that are lost for several reasons are bought once, or as often as they are lost, with
// all reasons (by hand).
func TestPartsLostTwice(t *testing.T) {
	got := mergeLost([]Lost{{"a", "A", "one", 1}, {"b", "B", "two", 1}, {"a", "A", "three", 2}})
	if want := []Lost{{"a", "A", "one; three", 3}, {"b", "B", "two", 1}}; !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// By hand: what is done by what counts: records of done steps, the way to a part that is back
// on, and moves before what is on record; not what is only under way.
func TestStepsThatAreDone(t *testing.T) {
	p := Plan{Steps: []Step{{ID: "1", Ref: "off x", Name: "Take off x", Phase: PhaseOpen, Part: "x"}, {ID: "2", Ref: "move 1", Name: "Move", Move: &Move{}, After: []string{"1"}}, {ID: "3", Ref: "weld", Name: "Weld", After: []string{"2"}},
		{ID: "4", Ref: "on x", Name: "Fit x", Part: "x", After: []string{"3"}}, {ID: "5", Ref: "aim", Name: "Aim", After: []string{"4"}}}}
	for _, c := range []struct {
		actuals []job.Actual
		want    string
	}{
		{nil, ""},
		{[]job.Actual{{Step: "Take off x", By: "A", On: monday(0)}}, "1"},
		{[]job.Actual{{Step: "Weld", By: "A", On: monday(0), Going: true}}, "2"},
		{[]job.Actual{{Step: "Fit x", By: "A", On: monday(0)}}, "1 2 4"},
		{[]job.Actual{{Step: "Fit x", By: "A", On: monday(0), Going: true}}, "1 2"},
	} {
		var got []string
		done := DoneSteps(p, &job.State{ID: "J", Actuals: c.actuals}, weekShop(), monday(1))
		for _, s := range p.Steps {
			if done[s.ID] {
				got = append(got, s.ID)
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%+v: done %v, want %s", c.actuals, got, c.want)
		}
	}
}

// Constructed: hold points of joints that are closed together stand side by side, and a second
// person is asked for where one of them asks.
func TestHoldPointsOfJointsTogether(t *testing.T) {
	for second, want := range map[bool]bool{false: false, true: true} {
		in := input(weldF1)
		in.Body.Joints[0].Hold, in.Body.Joints[0].Second = "flush", second
		in.Body.Joints = append(in.Body.Joints, body.Joint{ID: "J1b", Name: "more bolts", Layers: []body.PartID{"bumper", "cast"}, Skill: "body", Hold: "even gap"})
		p, _ := Build(in)
		if s := step(t, p, "Refit bumper"); s.Hold != "flush; even gap" || s.Second != want {
			t.Errorf("%q, second person %t", s.Hold, s.Second)
		}
	}
}

// Other openings: the same set twice is one, and one that only takes off more is none (by hand).
func TestSmallestOpenings(t *testing.T) {
	o := func(ids ...body.PartID) Opening { return Opening{Parts: ids} }
	var got []string
	for _, x := range smallest([]Opening{o("a", "b"), o("c"), o("a", "b"), o("b", "c"), o("a", "d"), o("d", "a", "e")}) {
		got = append(got, fmt.Sprint(x.Parts))
	}
	if want := "[a b] [c] [a d]"; strings.Join(got, " ") != want {
		t.Errorf("%s, want %s", strings.Join(got, " "), want)
	}
	if got := (set(0b1011)).items(); !slices.Equal(got, []int{0, 1, 3}) {
		t.Errorf("%v", got)
	}
	for _, c := range []struct {
		a, b set
		want bool
	}{{0b1, 0b11, true}, {0b11, 0b1, false}, {0b101, 0b110, true}, {0b110, 0b101, false}, {0b11, 0b11, false}, {0b1001, 0b0110, true}} {
		if got := smaller(c.a, c.b); got != c.want {
			t.Errorf("%b before %b: %t", c.a, c.b, got)
		}
	}
}

// Rounding of times to thousandths, half away from zero (by hand).
func TestThousandths(t *testing.T) {
	for v, want := range map[float64]int64{0: 0, 1: 1000, 0.0005: 1, 0.0004: 0, 12.3456: 12346, -0.0005: -1, -0.0004: 0, -2: -2000} {
		if got := milli(v); got != want {
			t.Errorf("%g: %d, want %d", v, got, want)
		}
	}
}
