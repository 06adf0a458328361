package plan

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// dayOne is the first minute of work of the test job.
var dayOne = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// Common practice, no source: nothing is done with a part before it is there, whatever
// treatment it belongs to; what does not need it goes on; and where nobody says when it
// comes, nothing that needs it has a date. Random marks, deliveries and choices.
func TestStepsWaitForTheirPartSeeds(t *testing.T) {
	waited, undated := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 15))
		in := input([][]Item{{newCast}, {cutS1, weldF2}, {swapF3, weldF1}, {cutS1, swapF3}, {newCast, swapF3}}[rng.IntN(5)]...)
		for i := range in.Body.Parts {
			in.Body.Parts[i].Delivery = [3]unit.Maybe[unit.Minutes]{{}, unit.Some(unit.Minutes(0)), unit.Some(unit.Minutes(1440 * rng.IntN(6)))}[min(2, rng.IntN(8))]
		}
		marked := map[string]string{}
		for i := range in.Body.Treatments {
			for k := range in.Body.Treatments[i].Steps {
				s := &in.Body.Treatments[i].Steps[k]
				s.NewPart = []body.YesNo{"", "yes", "no"}[rng.IntN(3)]
				if s.Name == "Set rivets" && s.NewPart == "no" {
					s.NewPart = "yes" // a section whose piece no step uses is refused by the body
				}
				marked[s.Name] = string(s.NewPart)
			}
		}
		p, notes := Build(in)
		told := func(id body.PartID) bool {
			return slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "plan.delivery-unknown" && n.Where == string(id) })
		}
		for _, s := range p.Steps {
			if marked[s.Name] == "yes" && s.Phase == PhaseRepair && strings.Contains(s.Ref, "/") && !strings.HasPrefix(s.Ref, "weld") && len(s.Takes) == 0 {
				t.Errorf("seed %d: %s uses a new part, and takes none", seed, s.Name)
			}
			if marked[s.Name] == "no" && len(s.Takes) > 0 && (s.Line == "" || marked["Apply adhesive"] == "yes" || marked["Set rivets"] == "yes") {
				t.Errorf("seed %d: %s uses no new part, and takes %v", seed, s.Name, s.Takes)
			}
			for _, id := range s.Takes {
				part, _ := in.Body.Part(id)
				switch {
				case !part.Delivery.Known:
					undated++
					if !s.From.IsZero() || !p.Finish.IsZero() || p.Proven || !told(id) {
						t.Errorf("seed %d: nobody knows when %s comes, %s is dated %v, the plan ends %v, proven %v, told %v", seed, id, s.Name, s.From, p.Finish, p.Proven, told(id))
					}
				case !s.From.IsZero():
					waited++
					if at := dayOne.Add(time.Duration(part.Delivery.Value) * time.Minute); s.From.Before(at) {
						t.Errorf("seed %d: %s begins %v, %s comes %v", seed, s.Name, s.From, id, at)
					}
				}
			}
		}
		for _, l := range p.Lost {
			if !slices.ContainsFunc(p.Steps, func(s Step) bool { return slices.Contains(s.Takes, l.Part) }) {
				t.Errorf("seed %d: no step takes the new %s", seed, l.Part)
			}
		}
	}
	if waited < 40 || undated < 10 {
		t.Errorf("%d waits, %d unknown", waited, undated)
	}
}

// Constructed: the piece comes on Wednesday; the cut is made on Monday, since it does not
// need it, and the bond is not.
func TestCuttingDoesNotWaitForThePiece(t *testing.T) {
	in := input(cutS1)
	for i := range in.Body.Treatments {
		for k := range in.Body.Treatments[i].Steps {
			if s := &in.Body.Treatments[i].Steps[k]; in.Body.Treatments[i].ID == "section" {
				s.NewPart = map[bool]body.YesNo{true: "yes"}[s.Name != "Cut"]
			}
		}
	}
	p, _ := Build(in)
	if cut, bond := step(t, p, "Cut"), step(t, p, "Apply adhesive"); cut.From.Day() != 2 || len(cut.Awaits) > 0 || bond.From.Day() != 4 {
		t.Errorf("cut %v %v, bonded %v", cut.From, cut.Awaits, bond.From)
	}
	for i := range in.Body.Treatments {
		for k := range in.Body.Treatments[i].Steps {
			in.Body.Treatments[i].Steps[k].NewPart = ""
		}
	}
	if p, _ = Build(in); step(t, p, "Cut").From.Day() != 4 {
		t.Errorf("nothing is said of the steps, and the cut begins %v", step(t, p, "Cut").From)
	}
}
