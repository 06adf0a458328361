package sched

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// randomProblem draws a problem of n activities on a calendar with short
// windows, so that nights, breaks and days off matter.
func randomProblem(rng *rand.Rand, n int) Problem {
	var cal Calendar
	for d := range 5 {
		cal.Week[d] = []Window{{480, 483 + rng.IntN(4)}, {600, 602 + rng.IntN(3)}}
	}
	if rng.IntN(2) == 0 {
		cal.Off = []int{rng.IntN(3)}
	}
	p := Problem{Calendar: cal, Start: rng.IntN(600), Seed: rng.Uint64(), Samples: 10, Nodes: 20000,
		Workers: []Worker{{ID: "w1", Skills: []string{"a", "b"}}, {ID: "w2", Skills: []string{"b"}}, {ID: "w3", Skills: []string{"a", "c"}}},
		Places:  []Place{{ID: "p1", Kind: "x"}, {ID: "p2", Kind: "x"}, {ID: "p3", Kind: "y"}},
		Pools:   []Pool{{"q", 2}}}
	for i := range n {
		a := Activity{ID: fmt.Sprint("A", i), Minutes: rng.IntN(4),
			Skill: []string{"", "a", "b", "c"}[rng.IntN(4)], Place: []string{"", "x", "y"}[rng.IntN(3)]}
		for j := range i {
			if rng.IntN(3) == 0 {
				a.After = append(a.After, Lag{j, []int{0, 0, 2, 110, 900}[rng.IntN(5)], Clock(rng.IntN(2)), Edge(rng.IntN(2))})
				if l := &a.After[len(a.After)-1]; l.Clock == Working {
					l.Minutes %= 5
				}
			}
		}
		if rng.IntN(4) == 0 {
			a.Draws = []Draw{{0, 1 + rng.IntN(2)}}
		}
		if rng.IntN(5) == 0 {
			a.Release = rng.IntN(3000)
		}
		p.Activities = append(p.Activities, a)
	}
	if n > 3 && rng.IntN(2) == 0 {
		k := rng.IntN(n - 1)
		for _, m := range []int{k, k + 1} {
			a := &p.Activities[m]
			a.After = slices.DeleteFunc(a.After, func(l Lag) bool { return l.Pred == k })
		}
		p.Chains = []Chain{{"c", []int{k, k + 1}, []int{0, 4, 120}[rng.IntN(3)]}}
	}
	rng = rand.New(rand.NewPCG(p.Seed, 6)) // draws of its own: the others stay as they were
	for d := range 4 {                     // the clock is put forward or back, at night or while people work
		if rng.IntN(6) == 0 {
			p.Calendar.Shifts = append(p.Calendar.Shifts, Shift{d*dayMin + []int{120, 479, 481, 482, 485, 601}[rng.IntN(6)], []int{-60, -2, -1, 1, 2, 60}[rng.IntN(6)]})
		}
	}
	return p
}

// Law: no schedule breaks a lag, a calendar, a skill or a capacity; the judge
// counts minutes day by day and shares no code with the solver.
func TestSchedulesHoldSeeds(t *testing.T) {
	solved, proven, broken := 0, 0, 0
	for seed := range uint64(600) {
		rng := rand.New(rand.NewPCG(seed, 1))
		p := randomProblem(rng, 3+rng.IntN(12))
		p.Least = int(seed % 4)
		s, err := Solve(p)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		solved++
		if s.Proven {
			proven++
		}
		broken += len(s.Broken)
		if err := Verify(p, s); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
	t.Logf("%d solved, %d proven, %d chains told as broken", solved, proven, broken)
	if solved < 450 || proven < solved/2 || broken == 0 {
		t.Errorf("the instances do not exercise the solver: %d solved, %d proven, %d broken", solved, proven, broken)
	}
}

// Full enumeration: every start minute and every worker and place of small
// instances is tried; no schedule the judge accepts may beat the bound.
func TestNothingBeatsTheBoundSeeds(t *testing.T) {
	checked := 0
	for seed := range uint64(draws(80, 300)) {
		rng := rand.New(rand.NewPCG(seed, 2))
		p := randomProblem(rng, 4)
		p.Least = int(seed % 4)
		s, err := Solve(p)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if len(s.Broken) > 0 || s.WorkMin > 14 {
			continue
		}
		checked++
		if !s.Proven && !intoChain(p) {
			t.Errorf("seed %d: four activities are not proven", seed)
		}
		if q, ok := better(p, s); ok && s.Proven {
			t.Errorf("seed %d: finish %d, but %d can be reached: %v", seed, s.FinishMin, q.FinishMin, q.Slots)
		}
	}
	if checked < draws(26, 100) {
		t.Errorf("only %d instances were checked", checked)
	}
}

// Where the exact search says it is proven, 300 biased samples find nothing
// shorter; and it does shorten what the plain priority rule gives.
func TestExactAgainstSamplesSeeds(t *testing.T) {
	searched, shorter := 0, 0
	for seed := range uint64(draws(70, 500)) {
		rng := rand.New(rand.NewPCG(seed, 7))
		p := randomProblem(rng, 12)
		for i := range p.Activities {
			p.Activities[i].Minutes += rng.IntN(3)
		}
		p.Samples = 0
		s, err := Solve(p)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		p.Nodes, p.Samples = 0, 300
		r, err := Solve(p)
		if err != nil || s.Proven && r.WorkMin < s.WorkMin || r.WorkMin < s.WorkBound {
			t.Errorf("seed %d: proven %v %d, samples find %d (%v)", seed, s.Proven, s.WorkMin, r.WorkMin, err)
		}
		p.Samples = 0
		q, err := Solve(p)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if s.Nodes > 0 {
			searched++
		}
		if s.WorkMin < q.WorkMin {
			shorter++
		}
	}
	t.Logf("%d searched, %d made shorter", searched, shorter)
	if searched < draws(4, 30) || shorter == 0 { // most others are proven by refuting
		t.Errorf("the instances do not exercise the search: %d searched, %d made shorter", searched, shorter)
	}
}

// intoChain says that a lag leads into the middle of a chain; then the exact
// search does not run.
func intoChain(p Problem) bool {
	for _, c := range p.Chains {
		for _, m := range c.Members[1:] {
			if len(p.Activities[m].After) > 0 {
				return true
			}
		}
	}
	return false
}

// better looks for a schedule that needs fewer working minutes.
func better(p Problem, s Solution) (Solution, bool) {
	var minutes []int
	for e := p.Start; len(minutes) < s.WorkMin; e++ {
		if worked(p, e, e+1) == 1 {
			minutes = append(minutes, e)
		}
	}
	try := Solution{Slots: make([]Slot, len(p.Activities)), FinishMin: 1 << 40}
	var rec func(i int) bool
	rec = func(i int) bool {
		if i == len(p.Activities) {
			return Verify(p, try) == nil
		}
		a := p.Activities[i]
		workers, places := []int{-1}, []int{-1}
		if a.Skill != "" {
			workers = p.workersWith(a.Skill)
		}
		if a.Place != "" {
			places = p.placesOf(a.Place)
		}
		for k := 0; k+a.Minutes < s.WorkMin; k++ {
			from, to := minutes[k], minutes[k]
			if a.Minutes > 0 {
				to = minutes[k+a.Minutes-1] + 1
			}
			if !lagsHold(p, try, i, from) {
				continue
			}
			for _, w := range workers {
				for _, pl := range places {
					try.Slots[i] = Slot{Worker: w, Place: pl, From: from, To: to}
					if twice(try.Slots[:i], try.Slots[i]) {
						continue
					}
					if rec(i + 1) {
						return true
					}
				}
			}
		}
		return false
	}
	return try, rec(0)
}

// twice says that a worker or a place would be in use twice at once.
func twice(before []Slot, x Slot) bool {
	for _, b := range before {
		if b.From < x.To && x.From < b.To && (b.Worker >= 0 && b.Worker == x.Worker || b.Place >= 0 && b.Place == x.Place) {
			return true
		}
	}
	return false
}

// lagsHold only spares the enumeration what the judge would refuse anyway.
func lagsHold(p Problem, s Solution, i, from int) bool {
	for _, l := range p.Activities[i].After {
		if l.Pred < i && l.Clock == Elapsed && l.From == Finish && s.Slots[l.Pred].To+l.Minutes > from {
			return false
		}
	}
	return true
}

// The order in which activities are listed does not change how long it takes
// when both are proven.
func TestOrderOfInputSeeds(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := randomProblem(rng, 7)
		q := p
		q.Activities = nil
		n := len(p.Activities)
		for i := n - 1; i >= 0; i-- {
			a := p.Activities[i]
			a.After = slices.Clone(a.After)
			for k := range a.After {
				a.After[k].Pred = n - 1 - a.After[k].Pred
			}
			q.Activities = append(q.Activities, a)
		}
		q.Chains = nil
		for _, c := range p.Chains {
			q.Chains = append(q.Chains, Chain{c.ID, []int{n - 1 - c.Members[0], n - 1 - c.Members[1]}, c.Window})
		}
		s, err1 := Solve(p)
		r, err2 := Solve(q)
		if (err1 == nil) != (err2 == nil) {
			t.Errorf("seed %d: %v against %v", seed, err1, err2)
		}
		if err1 == nil && s.Proven && r.Proven && s.WorkMin != r.WorkMin {
			t.Errorf("seed %d: %d against %d", seed, s.WorkMin, r.WorkMin)
		}
	}
}

// Constructed: one minute of work is 8:00 to 16:00 on five days; a step that
// ends at 15:00 with an elapsed wait of 12 h is followed at 8:00 next day, one
// with 20 h at 11:00.
func TestWaitRunsThroughTheNight(t *testing.T) {
	var cal Calendar
	for d := range 5 {
		cal.Week[d] = []Window{{480, 960}}
	}
	for _, c := range []struct{ wait, want int }{{720, 1440 + 480}, {1200, 1440 + 660}} {
		p := Problem{Calendar: cal, Activities: []Activity{
			{ID: "bond", Minutes: 420}, {ID: "go on", Minutes: 10, After: []Lag{{0, c.wait, Elapsed, Finish}}}}}
		s, err := Solve(p)
		if err != nil || s.Slots[1].From != c.want {
			t.Errorf("wait %d: begins at %d, want %d (%v)", c.wait, s.Slots[1].From, c.want, err)
		}
	}
}

// Constructed: two steps of 30 and 40 minutes within 60 cannot be kept and are
// told; within 90 they are kept together, and moved past the end of the day.
func TestChainWindow(t *testing.T) {
	var cal Calendar
	for d := range 7 {
		cal.Week[d] = []Window{{480, 960}}
	}
	p := Problem{Calendar: cal, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Activities: []Activity{
		{ID: "before", Minutes: 450, Skill: "s"},
		{ID: "mix", Minutes: 30, Skill: "s", After: []Lag{{Pred: 0}}},
		{ID: "set", Minutes: 40, Skill: "s", After: []Lag{{Pred: 1}}},
	}, Chains: []Chain{{"bond", []int{1, 2}, 60}}}
	s, err := Solve(p)
	if err != nil || len(s.Broken) != 1 || !s.Broken[0].TooLong || s.Broken[0].Minutes != 70 {
		t.Errorf("the broken window was not told: %+v %v", s.Broken, err)
	}
	p.Chains[0].Window = 90
	s, err = Solve(p)
	if err != nil || len(s.Broken) != 0 || s.Slots[1].From != 1440+480 || s.Slots[2].To != 1440+550 {
		t.Errorf("chain at %+v, broken %v, %v", s.Slots, s.Broken, err)
	}
}
