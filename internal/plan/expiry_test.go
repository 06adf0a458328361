package plan

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A step that rests on an answer and is not over before the answer expires is told, whatever
// day the plan, the record and the expiry are moved to; nothing else is. The judge works from
// docs/methods/schedule.md (constructed days).
func TestNoStepOutlastsItsAnswerSeeds(t *testing.T) {
	told, silent := 0, 0
	for seed := range uint64(draws(300, 20000)) {
		rng := rand.New(rand.NewPCG(seed, 1604))
		day := func(n int) unit.Date { return monday(0).AddDays(n) }
		p := Plan{Steps: []Step{{ID: "ST-1", Name: "Open", Phase: PhaseOpen, For: []job.FindingID{"F1"}}, {ID: "ST-2", Name: "Weld", Phase: PhaseRepair, For: []job.FindingID{"F1", "F2"}},
			{ID: "ST-3", Name: "Dress", Phase: PhaseRepair, For: []job.FindingID{"F3"}}, {ID: "ST-4", Name: "Close", Phase: PhaseClose}}}
		j := &job.State{ID: "J"}
		want := map[string]bool{}
		today, expires := day(rng.IntN(12)), day(rng.IntN(14))
		whole := rng.IntN(3) == 0
		of := []job.FindingID{"F1", "F2", "F3", "F4"}[rng.IntN(4)]
		for i := range p.Steps {
			s := &p.Steps[i]
			over := unit.Date{}
			if rng.IntN(6) > 0 {
				over = day(rng.IntN(14))
				s.To = time.Date(over.Year, over.Month, over.Day, 15, 0, 0, 0, time.UTC)
				s.From = s.To.Add(-time.Duration(rng.IntN(60)) * time.Hour)
			}
			recorded := rng.IntN(4) == 0
			if recorded {
				a := job.Actual{Step: s.Name, By: "A", On: day(rng.IntN(14))}
				if a.Going = rng.IntN(3) == 0; a.Going || today.Before(a.On) { // what is not done yet is not on record
					recorded = false
				}
				j.Actuals = append(j.Actuals, a)
			}
			about := whole && i > 0
			for _, f := range s.For {
				about = about || f == of && i > 0
			}
			late := over.IsZero() || !over.Before(expires) || !today.Before(expires)
			want[s.ID] = about && late && !recorded
		}
		r := Rests{Answer: job.Answer{ID: "AN-1", Expires: expires}, For: []job.FindingID{of}, Whole: whole, What: "weld of F1"}
		got := map[string]bool{}
		for _, x := range OutlastedBy(p, j, weekShop(), []Rests{r}, today) {
			got[x.Step] = true
		}
		notes := OutlastedNotes(p, j, weekShop(), []Rests{r}, today)
		any := false
		for id, w := range want {
			if got[id] != w {
				t.Fatalf("seed %d: %s told %v, want %v; today %s, expires %s, %+v", seed, id, got[id], w, today, expires, p.Steps)
			}
			if any = any || w; w && !strings.Contains(notes[0].Text, id+" ") {
				t.Fatalf("seed %d: %q does not name %s", seed, notes[0].Text, id)
			}
		}
		if any != (len(notes) == 1) || any && (notes[0].Severity != diag.Blocking || !strings.Contains(notes[0].Text, "answer AN-1")) {
			t.Fatalf("seed %d: %v", seed, notes)
		}
		if any {
			told++
		} else {
			silent++
		}
	}
	if told < 50 || silent < 50 {
		t.Errorf("%d told, %d not", told, silent)
	}
}
