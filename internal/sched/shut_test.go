package sched

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// One of two places closes for good while the other is away for days and comes back: what is
// to be kept in one place from its first activity to its last, with a wait between them, is
// begun in the one that stays, if need be later. A schedule there always is: in that place,
// after it has come back, one thing after the other.
func TestNothingIsBegunWhereItCannotBeEnded(t *testing.T) {
	moved := 0
	for seed := range uint64(25) {
		r := rand.New(rand.NewPCG(seed, 3))
		shut := (1 + r.IntN(3)) * dayMin
		gone := shut - r.IntN(dayMin)
		p := Problem{
			Calendar: Calendar{Week: [7][]Window{{{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}, {{480, 960}}}},
			Workers:  []Worker{{ID: "w", Skills: []string{"s"}}},
			Places:   []Place{{ID: "shuts", Kind: "b", Away: []Away{{From: shut}}}, {ID: "back", Kind: "b", Away: []Away{{From: gone, To: gone + (2+r.IntN(4))*dayMin}}}},
			Seed:     1, Samples: 10, Nodes: 100,
		}
		if r.IntN(2) == 0 {
			p.Places[0], p.Places[1] = p.Places[1], p.Places[0]
		}
		for h := range 2 + r.IntN(2) {
			first := len(p.Activities)
			hold := Hold{ID: fmt.Sprint(h), Kind: "b"}
			for k := range 5 + r.IntN(4) {
				a := Activity{ID: fmt.Sprintf("%d.%d", h, k), Minutes: 30 + r.IntN(200), Skill: "s", Place: "b"}
				if k > 0 {
					a.After = []Lag{{Pred: first + k - 1, Minutes: r.IntN(dayMin)}}
				}
				hold.Members = append(hold.Members, len(p.Activities))
				p.Activities = append(p.Activities, a)
			}
			p.Holds = append(p.Holds, hold)
		}
		sol, err := Solve(p)
		if err != nil {
			t.Fatalf("seed %d: no schedule: %v", seed, err)
		}
		if err := Verify(p, sol); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for _, h := range p.Holds {
			if p.Places[sol.Slots[h.Members[0]].Place].ID == "back" {
				moved++
				break
			}
		}
	}
	if moved < 20 {
		t.Errorf("only %d of 25 draws need the place that comes back", moved)
	}
}
