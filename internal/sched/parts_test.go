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
