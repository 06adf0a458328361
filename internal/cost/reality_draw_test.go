package cost

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// recordedWork is a job whose records are of steps of three ways, of work that nobody planned, and
// of steps that no way has; each is done, or under way, or was under way first. No step is about
// anything that another one is about.
func recordedWork(rng *rand.Rand) (of Way, others []Way, s *shop.Shop, j *job.State) {
	s = &shop.Shop{Rates: []shop.Rate{{Skill: "a", Hour: money(6000)}, {Skill: "b", Hour: money(4501)}, {Skill: "s", Hour: money(9999)}}, Sublets: []shop.Sublet{{ID: "S", Skill: "s", Hour: money(100)}},
		People: []shop.Person{{ID: "T", Skills: []body.SkillID{"a", "b", "s"}}}}
	way := func(route, names string) Way {
		w := Way{Route: route}
		for name := range strings.FieldsSeq(names) {
			w.Plan.Steps = append(w.Plan.Steps, plan.Step{ID: "S-" + name, Name: name, Skill: body.SkillID(strings.ToLower(name[:1])), Minutes: float64(10 * int(name[1]-'0'))})
		}
		return w
	}
	of, others = way("own", "A1 B2 S3 A4 B5"), []Way{way("second", "B6 A1 A7"), way("third", "A7 A8 B6")}
	of.Plan.Lost, of.Plan.Takeoff = []plan.Lost{{Part: "p", Quantity: 1}, {Part: "p", Quantity: 1}}, []plan.Takeoff{{Material: "m", Packs: 2}}
	of.Bill.Lines = []Line{{ID: "P-p", Kind: LineParts, Price: 50}, {ID: "M-m", Kind: LineMaterials, Price: 70}, {ID: "L-u", Kind: LineLabour, Price: 90}}
	j = &job.State{}
	names := strings.Fields("A1 B2 S3 A4 B5 B6 A7 A8 Z9 U0")
	rng.Shuffle(len(names), func(a, b int) { names[a], names[b] = names[b], names[a] })
	for _, name := range names[:rng.IntN(len(names)+1)] {
		parts := func() (out []job.PartUsed) {
			for _, id := range []string{"p", "m", "u"} {
				if n := rng.IntN(3); n > 0 {
					p := job.PartUsed{ID: id, Count: n, Price: money(unit.Minor(40 + rng.IntN(40)))}
					if rng.IntN(4) == 0 {
						p.Price = unit.Money{} // not on record
					}
					out = append(out, p)
				}
			}
			return out
		}
		a := job.Actual{Step: name, Minutes: unit.Minutes(1 + rng.IntN(90)), By: "T", Parts: parts()}
		if name == "U0" {
			a.Unplanned, a.Skill = "It broke", "b"
		}
		if going := rng.IntN(3); going > 0 {
			a.Going, a.Left = true, unit.Minutes(1+rng.IntN(20))
			if going == 2 {
				first := a
				a.Going, a.Left, a.Minutes = false, 0, a.Minutes+unit.Minutes(rng.IntN(30))
				a.On = march(1 + len(j.Actuals)/2)
				first.On = a.On
				j.Actuals = append(j.Actuals, first)
			}
		}
		a.On = march(1 + len(j.Actuals)/2)
		j.Actuals = append(j.Actuals, a)
	}
	return of, others, s, j
}

// What was done so far, reckoned from the records alone: the last of a step says what it took; a
// step of another way was done for the first that has it and will not be gone on with; the pieces of a
// part are the plan's until those are used up, one after the other. Drawn.
func TestRealityReckonedAnewSeeds(t *testing.T) {
	seen := map[string]int{}
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 26))
		of, others, s, j := recordedWork(rng)
		last := map[string]job.Actual{}
		var order []string
		for _, a := range j.Actuals {
			order = slices.DeleteFunc(order, func(n string) bool { return n == a.Step })
			order = append(order, a.Step)
			last[a.Step] = a
		}
		labour := func(skill body.SkillID, minutes float64) unit.Minor {
			per := map[body.SkillID]int64{"a": 6000, "b": 4501}[skill] * int64(minutes)
			if per < 0 {
				return -halfUp(-per, 60)
			}
			return halfUp(per, 60)
		}
		var want Reality
		counted := map[string]bool{"U0": true}
		for _, x := range of.Plan.Steps {
			a, there := last[x.Name]
			if !there {
				want.Left += x.Minutes
				continue
			}
			counted[x.Name] = true
			r := StepReality{Step: x.ID, Name: x.Name, Planned: x.Minutes, Taken: float64(a.Minutes), By: "T", Going: a.Going, Left: float64(a.Left), Labour: labour(x.Skill, float64(a.Minutes+a.Left)-x.Minutes)}
			want.Steps = append(want.Steps, r)
			want.Planned, want.Taken, want.Left, want.Labour = want.Planned+r.Planned, want.Taken+r.Taken, want.Left+r.Left, want.Labour+r.Labour
			seen[fmt.Sprint("going ", r.Going)]++
		}
		beyond := func(w WorkBeyond, skill body.SkillID) {
			w.Labour = labour(skill, w.Taken+w.Left)
			want.Beyond = append(want.Beyond, w)
			want.Taken, want.Left, want.Labour = want.Taken+w.Taken, want.Left+w.Left, want.Labour+w.Labour
			seen["beyond "+w.Route]++
		}
		if a, there := last["U0"]; there {
			beyond(WorkBeyond{Name: "U0", Taken: float64(a.Minutes), Left: float64(a.Left), By: "T", Why: "It broke"}, "b")
		}
		for _, o := range others {
			for _, x := range o.Plan.Steps {
				if a, there := last[x.Name]; there && !counted[x.Name] {
					counted[x.Name] = true
					beyond(WorkBeyond{Name: x.Name, Route: o.Route, Taken: float64(a.Minutes), By: "T", Why: "done for route " + o.Route}, x.Skill)
				}
			}
		}
		for _, a := range j.Actuals {
			if !counted[a.Step] {
				want.Unfit = append(want.Unfit, NotCounted{Name: a.Step, On: a.On.String(), Minutes: float64(a.Minutes)})
			}
		}
		planned, used := map[string]int{"p": 2, "m": 2}, map[string]*PartReality{}
		for _, name := range order {
			for _, p := range last[name].Parts {
				if !counted[name] {
					continue
				}
				u := used[p.ID]
				if u == nil {
					u = &PartReality{ID: p.ID, Planned: planned[p.ID]}
					used[p.ID] = u
				}
				for range p.Count {
					if u.Used++; u.Used > u.Planned {
						u.Beyond, u.Sum = u.Beyond+1, u.Sum+p.Price.Minor
					} else if p.Price.Currency != "" {
						u.Dearer += p.Price.Minor - map[string]unit.Minor{"p": 50, "m": 70}[p.ID]
					}
				}
			}
		}
		for _, id := range []string{"m", "p", "u"} {
			if u := used[id]; u != nil {
				want.Used = append(want.Used, *u)
				want.Parts, want.Dearer = want.Parts+u.Sum, want.Dearer+u.Dearer
			}
		}
		got, ok := RealityOf(of, others, s, j, march(31))
		for i := range got.Unfit {
			got.Unfit[i].Why = ""
		}
		if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", want) || ok != (len(j.Actuals) > 0) {
			t.Fatalf("seed %d: %v\n%+v\nwant\n%+v", seed, ok, got, want)
		}
	}
	for _, what := range []string{"going true", "going false", "beyond ", "beyond second", "beyond third"} {
		if seen[what] < 30 {
			t.Errorf("%s came %d times: the draws show little", what, seen[what])
		}
	}
}
