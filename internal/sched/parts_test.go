package sched

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// What takes no time ends when it begins, also where one day's work ends and the next day's
// begins at that working minute; and nothing begins in a place before that is free, or while it
// is away.
func TestNothingInNoTimeAndNothingTooEarlySeeds(t *testing.T) {
	none, waited := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 61))
		p := randomProblem(rng, 5)
		p.Nodes = 200
		for i := range p.Places {
			p.Places[i].Free = rng.IntN(4 * dayMin)
			if rng.IntN(2) == 0 {
				from := rng.IntN(2 * dayMin)
				p.Places[i].Away = []Away{{From: from, To: from + dayMin}, {From: from + rng.IntN(dayMin), To: from + dayMin + rng.IntN(2*dayMin) + 1}}
			}
		}
		s, err := Solve(p)
		if err != nil {
			continue // a greatest distance that nothing keeps
		}
		if err := Verify(p, s); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for i, x := range s.Slots {
			a := p.Activities[i]
			if a.Minutes == 0 {
				none++
				if x.To != x.From {
					t.Errorf("seed %d: %s takes no time and is from %d to %d", seed, a.ID, x.From, x.To)
				}
			}
			if x.Place < 0 || a.Minutes == 0 {
				continue
			}
			at := p.Places[x.Place]
			if x.From < at.Free {
				t.Errorf("seed %d: %s begins at %d, %s is free from %d", seed, a.ID, x.From, at.ID, at.Free)
			}
			waited++
			for _, w := range at.Away {
				if x.From < w.To && w.From < x.To && a.Minutes == x.To-x.From {
					t.Errorf("seed %d: %s is from %d to %d, %s is away from %d to %d", seed, a.ID, x.From, x.To, at.ID, w.From, w.To)
				}
			}
		}
	}
	if none < 20 || waited < 20 {
		t.Errorf("only %d that take no time and %d in places", none, waited)
	}
}

// Times away that overlap or touch are one, for good when one of them is; those in which nobody
// works anyway are none. Held against every minute, on a clock on which all are worked.
func TestTimesAwayAreUnitedSeed7(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range 100 {
		p := Problem{Calendar: always(), Activities: []Activity{{ID: "A", Minutes: 1}}}
		m, err := newModel(&p)
		if err != nil {
			t.Fatal(err)
		}
		var all []Away
		for range rng.IntN(5) {
			from := rng.IntN(100)
			all = append(all, Away{from, []int{0, from + 1 + rng.IntN(30), from + 1 + rng.IntN(30), from + 1 + rng.IntN(30)}[rng.IntN(4)]})
		}
		kept := slices.Clone(all)
		spans := m.blank(all)
		if !slices.Equal(all, kept) {
			t.Fatal("what was given was sorted where it stands")
		}
		for i, s := range spans {
			if s.until != s.to || !s.closed || i > 0 && s.from <= spans[i-1].to {
				t.Fatalf("%v gives %+v", all, spans)
			}
		}
		for at := range 200 {
			want := slices.ContainsFunc(all, func(a Away) bool { return a.From <= at && (a.To == 0 || at < a.To) })
			if got := slices.ContainsFunc(spans, func(s span) bool { return s.from <= at && at < s.to }); got != want {
				t.Fatalf("at %d away: %v, by %v it is %v: %+v", at, got, all, want, spans)
			}
		}
	}
}

// The sum and the lateness of finishes: jobs that want nothing of a load end when they would
// alone; of the others none ends before either list says. By hand, on a clock on which working
// minutes are plain ones.
func TestFinishesAreNoEarlierThanEitherList(t *testing.T) {
	p := Problem{Calendar: always(), Activities: []Activity{{ID: "A", Minutes: 1}}}
	m, err := newModel(&p)
	if err != nil {
		t.Fatal(err)
	}
	x := &sharing{m: m}
	for _, c := range []struct {
		done, alone, due []int
		late, sum        int
	}{
		{nil, []int{5, 9}, []int{6, 8}, 1, 14},
		{[]int{7}, []int{5, 6}, []int{5, 5}, 2, 12},            // the first wants nothing; the second ends at 7
		{[]int{7, 8}, []int{5, 9}, []int{6, 6}, 4, 16},         // 7 and 9
		{[]int{3, 20}, []int{5, 6, 7}, []int{9, 9, 9}, 11, 31}, // 5, then 6 against 3, then 20
	} {
		if late, sum := x.paired(c.done, c.alone, c.due); late != c.late || sum != c.sum {
			t.Errorf("done %v, alone %v, due %v: late %d of %d, want %d of %d", c.done, c.alone, c.due, late, sum, c.late, c.sum)
		}
	}
}

// What is left between a schedule and its bound is settled by refuting: never against a shorter
// schedule that the search finds, and not at all where no choice is allowed. Two chains that set
// one lift take 20 min side by side (TestChainsSetTogether), which is proven by hand.
func TestGapIsSettledAndNeverClosedFalselySeeds(t *testing.T) {
	var chains Problem
	chains.Calendar, chains.Nodes, chains.States = always(), 4000, []string{"lift"}
	chains.Workers = []Worker{{ID: "v", Skills: []string{"s"}}, {ID: "w", Skills: []string{"s"}}}
	for k, id := range []string{"a half", "a up", "b half", "b up"} {
		chains.Activities = append(chains.Activities, Activity{ID: id, Minutes: 10, Skill: "s", Sets: []Setting{{Value: id[2:]}}})
		if k%2 == 1 {
			chains.Chains = append(chains.Chains, Chain{ID: id[:1], Members: []int{k - 1, k}})
		}
	}
	m := fresh(t, &chains)
	best, _, _ := m.exact(&board{m: m, end: 41}, 0)
	for _, c := range []struct{ bound, effort, want int }{{11, 0, 11}, {11, 400, 20}, {20, 0, 20}} {
		if got, bound := m.settleGap(best, c.bound, c.effort); got.end != 20 || bound != c.want {
			t.Errorf("from %d with %d choices: %d min, bound %d, want 20 and %d", c.bound, c.effort, got.end, bound, c.want)
		}
	}
	raised, bettered := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 83))
		p := keptProblem(rng, 3+rng.IntN(7))
		p.Nodes = 4000
		s, err := Solve(p)
		if err != nil || !s.Proven {
			continue
		}
		m, low := fresh(t, &p), rng.IntN(s.WorkMin+1)
		worse := &board{m: m, end: s.WorkMin + rng.IntN(6)}
		if got, bound := m.settleGap(worse, low, 0); low < worse.end && (got != worse || bound != low) {
			t.Errorf("seed %d: without a choice %d to %d becomes %d to %d", seed, low, worse.end, bound, got.end)
		}
		got, bound := m.settleGap(worse, low, 400)
		if got.end < s.WorkMin || bound > s.WorkMin || bound > got.end || bound < low || got.end > worse.end {
			t.Errorf("seed %d: %d to %d from %d to %d, and the least is %d", seed, bound, got.end, low, worse.end, s.WorkMin)
		}
		if bound > low {
			raised++
		}
		if got.end < worse.end {
			bettered++
		}
	}
	t.Logf("%d raised, %d bettered", raised, bettered)
	if raised < 10 || bettered < 2 {
		t.Errorf("the instances do not exercise it: %d raised, %d bettered", raised, bettered)
	}
}

func fresh(t *testing.T, p *Problem) *model {
	t.Helper()
	m, err := newModel(p)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// At its end the exact search keeps to what follows from the best schedule that it found, not
// from one it began with.
func TestSearchNarrowsWithItsBestSeeds(t *testing.T) {
	narrowed := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 84))
		p := keptProblem(rng, 4+rng.IntN(4))
		m := fresh(t, &p)
		if !m.startsInOrder() {
			continue
		}
		none := &board{m: m, end: never}
		s := &search{m: m, loads: m.loads(), best: none, limit: 500, prio: m.latestFinish(), seen: map[placed][][]int{}, head: m.head, after: make([]uint64, len(m.blocks)), pairs: m.pairs()}
		s.node(m.newBoard(), 0, 0)
		if s.best == none {
			continue
		}
		goal, head, after := s.goal, slices.Clone(s.head), slices.Clone(s.after)
		s.goal = 0
		s.narrow()
		if goal != s.goal || !slices.Equal(head, s.head) || !slices.Equal(after, s.after) {
			t.Errorf("seed %d: goal %d, heads %v, before it %b; by the best, of %d, %d, %v and %b", seed, goal, head, after, s.best.end, s.goal, s.head, s.after)
		}
		if slices.ContainsFunc(after, func(x uint64) bool { return x != 0 }) || goal > 0 {
			narrowed++
		}
	}
	if narrowed < 10 {
		t.Errorf("only %d were narrowed", narrowed)
	}
}

// The judge of kept places, by hand: what stays in its place after its ten minutes keeps others
// out of this one until it is over, to the minute, in whichever place; and nothing begins in a
// place before that is free.
func TestJudgeOfWhatStays(t *testing.T) {
	for stay := range 4 {
		for from := 10; from < 15; from++ {
			for place := range 3 {
				for other := range 3 {
					p := Problem{Calendar: always(), Places: []Place{{ID: "A"}, {ID: "B"}, {ID: "C", Free: 12}},
						Activities: []Activity{{ID: "a", Minutes: 10, Stay: stay}, {ID: "b", Minutes: 5}}}
					s := Solution{Slots: []Slot{{From: 0, To: 10, Worker: -1, Place: place}, {From: from, To: from + 5, Worker: -1, Place: other}}}
					early := place == 2 || other == 2 && from < 12
					want := early || place == other && from < 10+stay
					if err := verifyKept(p, s); (err != nil) != want {
						t.Errorf("stays %d min in %d, the next in %d at %d: %v", stay, place, other, from, err)
					}
				}
			}
		}
	}
}
