package release

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// pieces is a job of several pieces of work, each over one to three findings, with one
// record of each sort that is asked for, about any of its findings. Items of one kind are
// many, all have steps of the same names, and one step may serve two items.
func pieces(rng *rand.Rand) (w *world, in *Input, of map[string][]job.FindingID, bonds int) {
	w, in = repaired()
	j := w.in.Job
	j.Findings, j.Accepted, j.Actuals = nil, nil, nil
	j.Records = slices.DeleteFunc(j.Records, func(x job.Record) bool { return x.Finding != "" })
	paste := w.in.Body.Materials[0]
	paste.ID = "PASTE"
	w.in.Body.Materials = append(w.in.Body.Materials, paste)
	last := in.Steps[2:]
	in.Chosen, in.Steps, of = nil, nil, map[string][]job.FindingID{}
	record := func(f job.FindingID, x job.Record) {
		x.ID, x.Finding, x.By, x.On = fmt.Sprintf("p%d", len(j.Records)), f, "I1", day(2030, 3, 2)
		j.Records = append(j.Records, x)
		of[x.ID] = nil
	}
	n := 0
	var shared []job.FindingID
	for k := range 2 + rng.IntN(4) {
		c := Chosen{Kind: body.Weld, Item: k}
		if rng.IntN(3) > 0 {
			c.Kind, c.Bonds = body.WeldBacking, []body.MaterialID{"GLUE", "PASTE"}[:1+rng.IntN(2)]
		}
		bonds += len(c.Bonds)
		var ids []job.FindingID
		for range 1 + rng.IntN(3) {
			n++
			id := fmt.Sprintf("F%d", n)
			c.Finding = job.FindingID(id)
			w.crack(c.Finding, 20, 1, map[body.TreatmentKind]body.ZoneID{body.Weld: "OPEN-1", body.WeldBacking: "GUARDED-1"}[c.Kind])
			j.Findings[n-1].On = day(2030, 2, 20)
			j.Accepted = append(j.Accepted, job.Accepted{Finding: c.Finding, Kind: c.Kind, By: "P1", On: day(2030, 3, 1)})
			in.Chosen = append(in.Chosen, c)
			ids = append(ids, c.Finding)
		}
		shared = append(shared, ids...)
		in.Steps = append(in.Steps, PlannedStep{ID: fmt.Sprint("T", k), Name: "Plate", For: ids, Skill: "weld", Asked: true, Treats: true, Bonds: c.Bonds})
		j.Actuals = append(j.Actuals, job.Actual{Step: "Plate", Finding: ids[0], By: "W1", On: day(2030, 3, 2)})
		any := func() job.FindingID { return ids[rng.IntN(len(ids))] }
		at := len(j.Records)
		record(any(), job.Record{Show: body.ShowPenetrant, None: true, Look: "PT-9"})
		record(any(), job.Record{Show: body.ShowVisual, Met: true})
		for _, m := range c.Bonds {
			record(any(), job.Record{Show: body.ShowAdhesive, Material: m, Batch: "B7", UseBefore: day(2030, 5, 1), Mixed: "10:05", Closed: "10:50", Temp: unit.Some(unit.Celsius(18)), Device: "thermometer", Calibrated: day(2030, 9, 1)})
		}
		for _, x := range j.Records[at:] {
			of[x.ID] = ids
		}
	}
	if rng.IntN(2) == 0 { // cleaned once for all: no piece is another's for that
		in.Steps = append(in.Steps, PlannedStep{ID: "C", Name: "Clean", For: shared, Skill: "weld", Asked: true, Treats: true})
		j.Actuals = append(j.Actuals, job.Actual{Step: "Clean", By: "W1", On: day(2030, 3, 2)})
	}
	for _, s := range last {
		s.After = nil
		for _, t := range in.Steps {
			if t.Treats {
				s.After = append(s.After, t.ID)
			}
		}
		in.Steps = append(in.Steps, s)
		j.Actuals = append(j.Actuals, job.Actual{Step: s.Name, By: "W1", On: day(2030, 3, 2), Began: "15:00"})
	}
	return w, in, of, bonds
}

// TestOneRecordForEachPieceSeeds: a record about one finding of a plate or weld serves the
// others, nothing is asked for twice, no record serves two pieces of work, and one that is
// bad is not hidden by a good one about another finding. Judged by the list of pieces that
// the job was drawn from.
func TestOneRecordForEachPieceSeeds(t *testing.T) {
	for seed := range uint64(draws(10, 25)) {
		draw := func() (*world, *Input, map[string][]job.FindingID, int) {
			return pieces(rand.New(rand.NewPCG(seed, 16)))
		}
		w, in, of, bonds := draw()
		if got := missingTexts(w, in); got != "" {
			t.Fatalf("seed %d: all of it is on record:\n%s", seed, got)
		}
		records := slices.Clone(w.in.Job.Records)
		w.in.Job.Records = nil
		asked := map[EntryKind]int{}
		missingTexts(w, in)
		for _, x := range entries(in) {
			asked[x.Entry]++
		}
		if items := in.Chosen[len(in.Chosen)-1].Item + 1; asked[WantBond] != bonds+1 || asked[WantSeen] != items || asked[WantPenetrant] != items { // one bond is a joint's
			t.Fatalf("seed %d: %v asked for, %d pieces with %d bonds", seed, asked, items, bonds)
		}
		for i, x := range records {
			ids, own := of[x.ID]
			w, in, _, _ := draw()
			w.in.Job.Records = slices.Delete(w.in.Job.Records, i, i+1)
			if missingTexts(w, in) == "" {
				t.Fatalf("seed %d: nothing is missing without %s of %s %v", seed, x.Show, x.ID, ids)
			}
			if !own || len(ids) < 2 || x.Show == body.ShowAdhesive {
				continue
			}
			w, in, _, _ = draw()
			bad := x
			bad.ID, bad.Finding, bad.Met, bad.None = "bad", ids[(slices.Index(ids, x.Finding)+1)%len(ids)], false, false
			at := rand.New(rand.NewPCG(seed, uint64(i))).IntN(len(records))
			w.in.Job.Records = slices.Insert(w.in.Job.Records, at, bad)
			if got := missingTexts(w, in); !strings.Contains(got, "record bad") {
				t.Fatalf("seed %d: a bad %s of %s is hidden by %s of %s:\n%s", seed, x.Show, bad.Finding, x.ID, x.Finding, got)
			}
		}
	}
}
