package release

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// twice draws a job whose treatments have two and three of everything: steps of one name,
// bonds with one adhesive, hold points, figures, checks of one method, joints, and tasks that
// bond. It counts what it drew, each piece of work for itself: that is how many records the
// job needs.
func twice(rng *rand.Rand) (*world, *Input, map[EntryKind]int) {
	w, in := repaired()
	j := w.in.Job
	want := map[EntryKind]int{}
	j.Findings, j.Accepted, j.Actuals, j.Records, j.Figures = nil, nil, nil, nil, nil
	p := &w.in.Body.Procedures[0]
	p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowVisual })
	kinds := []body.TreatmentKind{body.Weld, body.WeldBacking}
	qualities := 1 + rng.IntN(3)
	for k := range qualities {
		p.Acceptance = append(p.Acceptance, body.Acceptance{ID: fmt.Sprint("v", k), Cite: "CP 9", For: kinds, Show: body.ShowVisual, Quality: fmt.Sprint("quality ", k)})
	}
	moments := 0
	for i := range p.Rows {
		p.Rows[i].After = nil
	}
	if rng.IntN(2) == 0 {
		moments = 2 + rng.IntN(2)
		for i := range p.Rows {
			for k := range moments {
				p.Rows[i].After = append(p.Rows[i].After, body.After{Method: body.ShowPenetrant, When: fmt.Sprint("stage ", k)})
			}
		}
	}
	in.Joints, in.Chosen, in.Steps = nil, nil, nil
	names := []string{"Weld", "Bond", "Set"}
	step := func(ids []job.FindingID, treats bool) {
		n := len(in.Steps)
		s := PlannedStep{ID: fmt.Sprint("S", n), Ref: fmt.Sprint("T/", n), Name: names[rng.IntN(len(names))], For: ids, Skill: "weld", Asked: true, Treats: treats}
		want[WantStep]++
		if rng.IntN(2) == 0 {
			s.Bonds = append(s.Bonds, "GLUE")
			want[WantBond]++
		}
		if rng.IntN(2) == 0 {
			s.Hold = "It holds"
			want[WantHold]++
		}
		if rng.IntN(2) == 0 {
			s.Readings = append(s.Readings, body.Reading{ID: "gap", Name: "Gap", Unit: "min"})
			want[WantFigure]++
		}
		in.Steps = append(in.Steps, s)
	}
	for k := range 1 + rng.IntN(3) {
		kind := kinds[rng.IntN(2)]
		var ids []job.FindingID
		for range 1 + rng.IntN(2) {
			id := job.FindingID(fmt.Sprint("F", len(j.Findings)+1))
			w.crack(id, 20, 1, map[body.TreatmentKind]body.ZoneID{body.Weld: "OPEN-1", body.WeldBacking: "GUARDED-1"}[kind])
			j.Findings[len(j.Findings)-1].On = day(2030, 2, 20)
			j.Accepted = append(j.Accepted, job.Accepted{Finding: id, Kind: kind, By: "P1", On: day(2030, 3, 1)})
			ids = append(ids, id)
		}
		first, bonds := len(in.Steps), want[WantBond]
		for range 1 + rng.IntN(4) {
			step(ids, true)
		}
		var glue []body.MaterialID
		if want[WantBond] > bonds {
			glue = []body.MaterialID{"GLUE"}
		} else if kind == body.WeldBacking { // a plate is bonded
			in.Steps[first].Bonds, glue = []body.MaterialID{"GLUE"}, []body.MaterialID{"GLUE"}
			want[WantBond]++
		}
		for _, id := range ids {
			in.Chosen = append(in.Chosen, Chosen{Finding: id, Kind: kind, Item: k, Bonds: glue})
		}
		want[WantSeen] += qualities
		want[WantPenetrant] += 1 + moments
	}
	for range rng.IntN(3) {
		step(nil, false)
	}
	w.in.Body.Joints = nil
	for range rng.IntN(4) {
		n := len(in.Joints)
		jt := body.Joint{ID: body.JointID(fmt.Sprint("J", n)), Name: "joint"}
		if rng.IntN(2) == 0 {
			jt.Torque = 24
			want[WantTorque]++
		}
		if rng.IntN(2) == 0 {
			jt.Cures = "GLUE"
			want[WantBond]++
		}
		w.in.Body.Joints, in.Joints = append(w.in.Body.Joints, jt), append(in.Joints, jt.ID)
		in.Steps = append(in.Steps, PlannedStep{ID: fmt.Sprint("C", n), Ref: fmt.Sprint("close ", n), Name: "Close", Asked: true, Shuts: true, Joints: []body.JointID{jt.ID}})
		want[WantStep]++
	}
	return w, in, want
}

// enterWanted puts the entry on record that is wanted.
func enterWanted(j *job.State, x Wanted) {
	on, until := day(2030, 3, 2), day(2030, 9, 1)
	rec := job.Record{ID: fmt.Sprint("n", len(j.Records)), Finding: x.Finding, By: "I1", On: on, Met: true}
	switch x.Entry {
	case WantStep:
		j.Actuals = append(j.Actuals, job.Actual{Step: x.About, Finding: x.Finding, By: "W1", On: on})
		return
	case WantFigure:
		j.Figures = append(j.Figures, job.Figure{Step: x.About, Finding: x.Finding, Reading: x.What, Value: unit.Amount{Value: 3, Unit: x.Unit}, By: "W1", On: on})
		return
	case WantHold:
		rec.Show, rec.Step = body.ShowHold, x.About
	case WantSeen:
		rec.Show, rec.What = body.ShowVisual, x.What
	case WantPenetrant:
		rec.Show, rec.What, rec.None, rec.Look = body.ShowPenetrant, x.What, true, "PT-9"
	case WantTorque:
		rec.Show, rec.Joint, rec.Torque, rec.Device, rec.Calibrated = body.ShowTorque, body.JointID(x.About), 24, "wrench", until
	case WantBond:
		rec.Show, rec.Step, rec.Material, rec.Batch, rec.UseBefore, rec.Mixed, rec.Closed = body.ShowAdhesive, x.Step, body.MaterialID(x.What), "B7", until, "10:05", "10:50"
		rec.Temp, rec.Device, rec.Calibrated = unit.Some(unit.Celsius(18)), "thermometer", until
		if x.Finding == "" && x.Step == "" {
			rec.Joint = body.JointID(x.About)
		}
	default:
		return
	}
	j.Records = append(j.Records, rec)
}

// TestEachPieceOfWorkHasItsRecordSeeds: as many records are wanted as pieces of work were
// drawn; with one for each nothing is missing; and without any one of them something is, so
// that none serves two.
func TestEachPieceOfWorkHasItsRecordSeeds(t *testing.T) {
	draws := 12
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		if n, _ := strconv.Atoi(os.Getenv("FETTLE_DRAWS")); n > 0 {
			draws = n
		} else {
			draws = 2000
		}
	}
	for seed := range uint64(draws) {
		w, in, want := twice(rand.New(rand.NewPCG(seed, 77)))
		missingTexts(w, in)
		for round := 0; ; round++ {
			open := entries(in)
			if round == 0 {
				got := map[EntryKind]int{}
				for _, x := range open {
					if _, drawn := want[x.Entry]; drawn {
						got[x.Entry]++
					}
				}
				if !maps.Equal(got, want) {
					t.Fatalf("seed %d: %v wanted, drawn %v\n%+v", seed, got, want, in.Steps)
				}
			}
			if len(open) == 0 {
				break
			}
			if round == 3 {
				t.Fatalf("seed %d: still open %+v", seed, open)
			}
			for _, x := range open {
				enterWanted(w.in.Job, x)
			}
			if got := missingTexts(w, in); got != "" && round > 0 {
				t.Fatalf("seed %d: everything that was wanted is on record:\n%s", seed, got)
			}
		}
		withoutEach(t, seed, w, in)
	}
}

// withoutEach takes each record out once.
func withoutEach(t *testing.T, seed uint64, w *world, in *Input) {
	t.Helper()
	j := w.in.Job
	records, figures, actuals := j.Records, j.Figures, j.Actuals
	for i, x := range records {
		j.Records = slices.Delete(slices.Clone(records), i, i+1)
		if missingTexts(w, in) == "" {
			t.Fatalf("seed %d: nothing is missing without record %+v", seed, x)
		}
	}
	j.Records = records
	for i, x := range figures {
		j.Figures = slices.Delete(slices.Clone(figures), i, i+1)
		if missingTexts(w, in) == "" {
			t.Fatalf("seed %d: nothing is missing without figure %+v", seed, x)
		}
	}
	j.Figures = figures
	for i, x := range actuals {
		j.Actuals = slices.Delete(slices.Clone(actuals), i, i+1)
		if missingTexts(w, in) == "" {
			t.Fatalf("seed %d: nothing is missing without the record of work %+v", seed, x)
		}
	}
	j.Actuals = actuals
}
