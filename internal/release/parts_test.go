package release

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A proof is no older than the step it is of: of a step that is under way again, or that is not
// on record, no day counts; where the plan asks for the step its absence is told by itself.
func TestOnlyAFinishedStepDatesItsProofs(t *testing.T) {
	on := day(2030, 3, 2)
	done, going := &job.Actual{On: on, Ended: "11:00"}, &job.Actual{On: on, Going: true}
	for _, c := range []struct {
		name  string
		last  *job.Actual
		asked bool
		want  []job.Mark
	}{
		{"done", done, false, []job.Mark{{On: on, At: "11:00"}}}, {"done, asked for", done, true, []job.Mark{{On: on, At: "11:00"}}},
		{"under way", going, false, []job.Mark{{}}}, {"under way, asked for", going, true, nil},
		{"not on record", nil, false, []job.Mark{{}}}, {"not on record, asked for", nil, true, nil},
	} {
		r := &gate{done: map[string]job.Actual{}}
		if c.last != nil {
			r.done["S"] = *c.last
		}
		got := r.doneMark(PlannedStep{ID: "S", Name: "Weld", Asked: c.asked})
		for k := range c.want {
			c.want[k].What = `"Weld" was done`
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

// A record of an adhesive that is of no bond is told, each with the steps that it could be of;
// one that is of a bond, or about something else, is not.
func TestARecordOfNoBondIsTold(t *testing.T) {
	steps := []PlannedStep{{ID: "S1", Name: "Plate", For: []job.FindingID{"F1"}}, {ID: "S2", Name: "Strap", For: []job.FindingID{"F1"}}}
	bonds := []bondOf{{c: Chosen{Finding: "F1"}, material: "GLUE", step: &steps[0], several: true}, {c: Chosen{Finding: "F1"}, material: "GLUE", step: &steps[1], several: true}}
	unplanned := []bondOf{{c: Chosen{Finding: "F1"}, material: "GLUE", several: true}}
	const where = `"Plate" with GLUE`
	for _, c := range []struct {
		name       string
		show       body.ProofKind
		step       string
		bonds      []bondOf
		text, hint string // empty: nothing is told
	}{
		{"of the first", body.ShowAdhesive, "Plate", bonds, "", ""}, {"of the second", body.ShowAdhesive, "strap", bonds, "", ""},
		{"of neither", body.ShowAdhesive, "Close", bonds, `record r1 has GLUE at "Close", where it is not used`, where},
		{"of nobody knows which", body.ShowAdhesive, "", bonds, "record r1 does not say in which step GLUE was used", `"Strap" with GLUE`},
		{"no step bonds", body.ShowAdhesive, "", unplanned, "record r1 does not say in which step", "take it out, or say what it is about"},
		{"nothing bonds", body.ShowAdhesive, "Plate", nil, `record r1 has GLUE at "Plate"`, "take it out"},
		{"of a torque", body.ShowTorque, "Close", bonds, "", ""},
	} {
		r := &gate{in: Input{Steps: steps}}
		r.in.Job = &job.State{Records: []job.Record{{ID: "r0", Show: c.show, Finding: "F9", Step: c.step, Material: "GLUE"}, {ID: "r1", Show: c.show, Finding: "F1", Step: c.step, Material: "GLUE"}}}
		r.strayBonds(c.bonds, func(x job.Record) bool { return x.Finding == "F1" })
		if (len(r.out) == 1) != (c.text != "") || len(r.out) > 1 {
			t.Errorf("%s: %+v", c.name, r.out)
			continue
		}
		for _, m := range r.out {
			if m.Where != "F1" || !strings.Contains(m.Text, c.text) || !strings.Contains(m.Hint, c.hint) {
				t.Errorf("%s: %+v, want %q and %q", c.name, m, c.text, c.hint)
			}
		}
	}
}

// Equipment that is tested counts to the last day of its test, that day included.
func TestEquipmentCountsToTheLastDayOfItsTest(t *testing.T) {
	for until, want := range map[unit.Date]bool{day(2030, 3, 1): false, day(2030, 3, 2): true, day(2030, 3, 3): true} {
		w, in := repaired()
		in.Steps[1].Equipment = []string{"gun"}
		w.in.Shop.Tested = append(w.in.Shop.Tested, tested("saw", day(2029, 1, 1)), tested("gun", until))
		if got := missingTexts(w, in); (got == "") != want {
			t.Errorf("tested until %s: %q", until, got)
		}
	}
}
