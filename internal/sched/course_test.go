package sched

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/golden"
)

// crowded is a random problem that has to be searched: few workers and places for much work.
func crowded(seed uint64, n int) Problem {
	rng := rand.New(rand.NewPCG(seed, 85))
	p := randomProblem(rng, n)
	if seed%2 == 0 {
		p = keptProblem(rng, n)
	}
	p.Calendar.Shifts, p.Samples, p.Nodes = nil, 0, 400
	if seed%3 > 0 { // long days, so that what narrows is work and not hours
		p.Calendar = always()
	}
	p.Workers, p.Places = []Worker{{ID: "w1", Skills: []string{"a", "b"}}, {ID: "w2", Skills: []string{"c", "b"}}}, append(p.Places[:1:1], p.Places[2:]...)
	for i := range p.Activities {
		a := &p.Activities[i]
		a.Minutes += 1 + rng.IntN(9)
		if seed%3 == 0 {
			continue
		}
		a.Release %= 20 // or it would be the waiting
		a.Stay %= 7
		for k := range a.After {
			a.After[k].Minutes %= 13
		}
		for k := range a.Sets {
			a.Sets[k].Stay %= 7
		}
	}
	return p
}

// TestCourseOfTheSearchesStaysAsItIs: what the parts of the searches find on the way, for
// crowded problems: the bounds by work, the windows of the starts for schedules that end by a
// time, what is refuted in how many choices, what the rules make, pushed late and from late to
// early, and in how many nodes the searches end. Enumerations show that none of it is false;
// how much of it is found follows from no definition, and is held here.
func TestCourseOfTheSearchesStaysAsItIs(t *testing.T) {
	var b strings.Builder
	for seed := range uint64(100) {
		p := crowded(seed, 5+int(seed%9))
		m, err := newModel(&p)
		if err != nil {
			fmt.Fprintf(&b, "%d\t%v\n", seed, err)
			continue
		}
		prio := m.latestFinish()
		plain := m.serial(byPriority(prio), nil)
		bound := m.bound(m.loads())
		fmt.Fprintf(&b, "%d\tat least %d", seed, bound)
		if plain == nil {
			fmt.Fprintf(&b, ", no plain schedule, at first %t\n", m.first(0) != nil)
			continue
		}
		vectors := []any{m.head, m.tail, m.order, prio, plain.start, m.right(plain).start}
		if s := m.soon(prio); s != nil {
			vectors = append(vectors, s.start)
		}
		fmt.Fprintf(&b, ", plain %d, bettered to %d", plain.end, m.improve(plain.clone()).end)
		for _, t := range []int{plain.end / 2, plain.end - 3, plain.end - 1, plain.end + 4} {
			w, ok := m.within(t, m.pairs())
			r := m.refuter(m.pairs())
			refuted, found := r.try(t, 60)
			vectors = append(vectors, ok, w.early, w.late, w.after, m.possible(t, m.pairs()), m.useful(t))
			fmt.Fprintf(&b, ", by %d: %t", t, ok)
			if refuted {
				fmt.Fprintf(&b, " refuted in %d", r.nodes)
			}
			if found != nil {
				fmt.Fprintf(&b, " met at %d in %d", found.end, r.nodes)
			}
		}
		raised := m.tighten(bound, plain.end)
		settled, by := m.settleGap(plain, raised, 200)
		best, nodes, proven := m.exact(&board{m: m, end: plain.end + 1}, 0)
		fmt.Fprintf(&b, ", raised to %d, settled at %d of %d, searched to %d in %d nodes, proven %t\t%.4x\n", raised, by, settled.end, best.end, nodes, proven, sha256.Sum256([]byte(fmt.Sprint(vectors...))))
	}
	golden.Same(t, "testdata/course.tsv", b.String())
}

// The windows of starts keep every lag and every arc that is settled, on both ends.
func TestWindowsKeepEveryLagSeeds(t *testing.T) {
	checked, moved := 0, 0
	for seed := range uint64(60) {
		p := crowded(seed, 6)
		m, err := newModel(&p)
		if err != nil {
			continue
		}
		plain := m.serial(byPriority(m.latestFinish()), nil)
		if plain == nil {
			continue
		}
		w, ok := m.within(plain.end+2, m.pairs())
		if !ok {
			t.Errorf("seed %d: no window until %d, and a schedule ends at %d", seed, plain.end+2, plain.end)
			continue
		}
		for i := range m.blocks {
			if plain.start[i] < w.early[i] || plain.start[i] > w.late[i] {
				t.Errorf("seed %d: block %d begins at %d, its window is %d to %d", seed, i, plain.start[i], w.early[i], w.late[i])
			}
			if w.early[i] > m.head[i] {
				moved++
			}
			for k := range m.blocks[i].preds {
				a := &m.blocks[i].preds[k]
				if x := a.after(m.clock, w.early[a.from]); w.early[a.to] < x {
					t.Errorf("seed %d: block %d from %d on, and a lag asks for %d", seed, a.to, w.early[a.to], x)
				}
				if x := a.before(m.clock, w.late[a.to]); w.late[a.from] > x {
					t.Errorf("seed %d: block %d until %d, and a lag asks for %d", seed, a.from, w.late[a.from], x)
				}
				checked++
			}
		}
	}
	if checked < 100 || moved < 10 {
		t.Errorf("%d lags, %d windows moved", checked, moved)
	}
}

// TestCourseOfTheSharedSearchStaysAsItIs: the same for the search of several jobs.
func TestCourseOfTheSharedSearchStaysAsItIs(t *testing.T) {
	var b strings.Builder
	for seed := range uint64(60) {
		p := crowded(seed, 6+int(seed%3))
		s := Shared{Due: []int{0, 0, 40 + int(seed)}}
		for i := range p.Activities {
			a := &p.Activities[i]
			a.After = slices.DeleteFunc(a.After, func(l Lag) bool { return l.Pred/3 != i/3 })
			s.Of = append(s.Of, i/3)
		}
		p.Chains, p.Holds = nil, nil
		x, first := weekModel(t, &p, s)
		if first.bd == nil {
			fmt.Fprintf(&b, "%d\tnone\n", seed)
			continue
		}
		for k := range x.bounds {
			x.bounds[k] = int(seed) % 7
		}
		m := x.m
		search := &sharedSearch{x: x, bred: first, search: search{m: m, limit: 300, prio: x.alone, seen: map[placed][][]int{}, loads: m.loads(), head: m.head, after: make([]uint64, len(m.blocks))}}
		ends, worth := search.least(m.newBoard(), 0, 0)
		search.node(m.newBoard(), 0, 0)
		fmt.Fprintf(&b, "%d\tfirst worth %v, at least %v %v, searched to %v in %d nodes, full %t, kept apart %d\t%v\n", seed, first.worth, worth, ends, search.bred.worth, search.nodes, search.full, len(search.seen), search.bred.bd.start)
	}
	golden.Same(t, "testdata/courseshared.tsv", b.String())
}
