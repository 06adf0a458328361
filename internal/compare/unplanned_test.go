package compare

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// TestNothingUnplannedPassesSeeds: random jobs whose tasks get random rules on their order, most of
// them against their times. A route without an order of work is excluded, has no steps, no day, no
// whole price and no proof, is never the best and beats no other; where no repair is left, something
// that names the circle blocks. The others have steps. By the definition of a plan; constructed.
func TestNothingUnplannedPassesSeeds(t *testing.T) {
	stuck, planned, alone := 0, 0, 0
	for seed := range uint64(600) {
		rng := rand.New(rand.NewPCG(seed, 77))
		in := randomDamage(seed)
		times := []body.TaskTime{body.TaskFirst, body.TaskStart, body.TaskOpen, body.TaskClose, body.TaskEnd, body.TaskLast}
		for k := range 3 {
			x := body.Task{ID: body.TaskID(fmt.Sprintf("x%d", k)), When: times[rng.IntN(len(times))], Step: body.Step{Name: "x", Skill: "alu", Fixed: 5}}
			if k > 0 && rng.IntN(4) > 0 {
				x.Precedes = []body.TaskID{body.TaskID(fmt.Sprintf("x%d", rng.IntN(k)))}
			}
			in.Body.Tasks = append(in.Body.Tasks, x)
			for i := range in.Body.Treatments {
				if rng.IntN(2) == 0 {
					in.Body.Treatments[i].After = append(in.Body.Treatments[i].After, x.ID)
				}
			}
		}
		r, notes := Routes(in)
		repairs, told, lost := 0, false, 0
		for _, n := range notes {
			told = told || n.Code == "plan.circle" && n.Severity == diag.Blocking
		}
		for _, x := range r.Routes {
			p := x.Plan
			if p.Unplanned == "" {
				if x.Feasible && x.ID != lossID && len(x.Items) > 0 {
					repairs, planned = repairs+1, planned+1
				}
				continue
			}
			stuck, lost = stuck+1, lost+1
			if x.Feasible || x.Excluded == "" || x.ID == r.Best || x.Bill.Complete || len(p.Steps) > 0 || !p.Finish.IsZero() || p.Proven || p.OpeningProven || p.Calendar+p.WorkDays > 0 {
				t.Fatalf("seed %d: %s passes: %+v", seed, x.ID, x)
			}
			for _, l := range x.Bill.Loss {
				if !l.IsLoss && !l.Unsure {
					t.Fatalf("seed %d: %s is surely no total loss: %s", seed, x.ID, l.Because)
				}
			}
			for _, y := range r.Routes {
				if y.Dominated == x.ID {
					t.Fatalf("seed %d: %s beats %s", seed, x.ID, y.ID)
				}
			}
			for _, w := range r.Worth {
				if w.Route == x.ID {
					t.Fatalf("seed %d: %s is worth settling", seed, x.ID)
				}
			}
		}
		if repairs == 0 && lost > 0 {
			if alone++; !told {
				t.Fatalf("seed %d: no repair is left and no circle blocks: %v", seed, notes)
			}
		}
	}
	if stuck < 50 || planned < 200 || alone < 5 {
		t.Errorf("only %d without an order, %d planned, %d jobs with nothing else", stuck, planned, alone)
	}
}
