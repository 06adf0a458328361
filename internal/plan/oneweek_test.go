package plan

import (
	"fmt"
	"testing"
)

// Law: a week of one job is its plan, step by step, to the minute.
func TestWeekOfOneJobIsItsPlanSeeds(t *testing.T) {
	compared := 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(3, 60)) {
			in := lawJob(v, seed)
			in.Job.ID = "J"
			p, _ := Build(in)
			w, notes := WeekOf(in.Shop, []InShop{{Job: in.Job, Route: "r", Plan: p}}, in.Job.Start)
			if len(w.Steps) == 0 {
				t.Fatalf("%s seed %d: %v", v.name, seed, notes)
			}
			got := map[string]string{}
			for _, s := range w.Steps {
				got[s.Step] = fmt.Sprint(s.From, s.To, s.Person, s.Bay, s.At)
			}
			for _, s := range p.Steps {
				if s.From.IsZero() {
					continue
				}
				compared++
				if want := fmt.Sprint(s.From, s.To, s.Person, s.BayID, s.At); got[s.ID] != want {
					t.Errorf("%s seed %d: %s %s: %s, in the plan %s", v.name, seed, s.ID, s.Name, got[s.ID], want)
				}
			}
			if !p.Finish.IsZero() && (w.Jobs[0].Finish != p.Finish || w.Proven != p.Proven) {
				t.Errorf("%s seed %d: done on %s, proven %v; by its plan %s, %v", v.name, seed, w.Jobs[0].Finish, w.Proven, p.Finish, p.Proven)
			}
		}
	}
	if compared < 50 {
		t.Errorf("%d steps compared", compared)
	}
}
