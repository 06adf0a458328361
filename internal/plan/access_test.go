package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// TestUnknownAccessIsNotFreeSeeds tries to have a place that nobody says anything of pass for reached:
// random bodies keep or lose the entry of each place, some by an entry that asks for nothing, some
// by what somebody found at the vehicle, which may not count. A place without any word of it is
// told, in one gap for the casting and one note, and the opening is not proven; one with a word is
// not told, and what has to be off for it is off. The rule itself is read off the entries here.
func TestUnknownAccessIsNotFreeSeeds(t *testing.T) {
	met := map[string]int{}
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 1807))
		in := input(weldF1, weldF2, Item{Treatment: "section", Kind: body.SectionOff, Line: "S1", Part: "horn", Findings: []job.FindingID{"F2"}})
		in.Choice.Items = in.Choice.Items[rng.IntN(2):]
		b := in.Body
		b.Access = slices.DeleteFunc(b.Access, func(a body.Access) bool { return a.To != "skin" && rng.IntN(2) == 0 })
		for i := range b.Access {
			if b.Access[i].To != "skin" && rng.IntN(4) == 0 {
				b.Access[i].Needs = nil
			}
		}
		for _, to := range []string{"Z1", "Z2", "S1"} {
			if rng.IntN(3) == 0 {
				x := inspect.Access{To: []string{to}, By: "W1", On: in.Job.Start}
				if rng.IntN(2) == 0 {
					x.Off = []body.PartID{"bracket"}
				}
				if rng.IntN(3) == 0 {
					x.Fails = "nobody signed"
				}
				in.Inspect.Access = append(in.Inspect.Access, x)
			}
		}
		if rng.IntN(2) == 0 {
			in.Inspect.Coverage = append(in.Inspect.Coverage, inspect.Coverage{Area: body.AreaOfZone("Z1"), Zone: "Z1", Casting: "front", State: job.StateNotReachable, By: "W1", On: in.Job.Start})
		}
		p, notes := Build(in)
		told, goals := map[string]bool{}, 0
		for _, g := range p.Gaps {
			if g.Casting != "front" && len(g.To) > 0 || len(told) > 0 && len(g.To) > 0 {
				t.Fatalf("seed %d: %+v", seed, p.Gaps)
			}
			for _, to := range g.To {
				told[to] = true
				if len(g.For) == 0 || !strings.Contains(g.Text(), to) {
					t.Errorf("seed %d: %q for %v", seed, g.Text(), g.For)
				}
			}
		}
		for _, r := range p.Reached {
			k := slices.IndexFunc(b.Access, func(a body.Access) bool { return a.To == r.To })
			var found []inspect.Access
			for _, x := range in.Inspect.Access {
				if x.To[0] == r.To && x.Fails == "" {
					found = append(found, x)
				}
			}
			shut := r.To == "Z1" && len(in.Inspect.Coverage) > 0
			unknown, what := false, ""
			switch {
			case k >= 0 && len(b.Access[k].Needs) > 0:
				what = "the body says what"
			case k >= 0:
				unknown, what = shut, "the body says nothing has to be off"
			case len(found) == 0:
				unknown, what = true, "no word"
			case len(found[0].Off) > 0:
				if what = "found behind a part"; !slices.ContainsFunc(p.Removal, func(x Removal) bool { return x.Part == "bracket" }) {
					t.Errorf("seed %d: %s is reached with the bracket on", seed, r.To)
				}
			default:
				unknown, what = shut, "found free"
			}
			goals++
			met[fmt.Sprint(what, unknown)]++
			if told[r.To] != unknown || r.Unknown != unknown {
				t.Fatalf("seed %d: %s (%s): told as unknown %v and %v, want %v", seed, r.To, what, told[r.To], r.Unknown, unknown)
			}
		}
		said := 0
		for _, n := range notes {
			if n.Code == "plan.access-unknown" && n.Severity >= diag.Caution && n.Where == "front" && n.Hint != "" {
				said++
			}
		}
		if want := min(1, len(told)); said != want || goals == 0 || len(told) > 0 && p.OpeningProven {
			t.Fatalf("seed %d: %d notes, want %d; opening proven %v", seed, said, want, p.OpeningProven)
		}
		for _, s := range p.Steps {
			for to := range told {
				if _, free, ok := strings.Cut(s.Because, "; "); ok && strings.Contains(free, to) {
					t.Errorf("seed %d: %q", seed, s.Because)
				}
			}
		}
	}
	for _, what := range []string{"no wordtrue", "found freefalse", "found freetrue", "found behind a partfalse", "the body says whatfalse", "the body says nothing has to be offtrue", "the body says nothing has to be offfalse"} {
		if met[what] < 5 {
			t.Errorf("%s only %d times: %v", what, met[what], met)
		}
	}
}
