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

// TestSchedulesStayAsTheyAre: random problems of every kind, each with what was found, proven
// and tried, and a fingerprint of its slots. The judge and the enumerations hold what is right
// in them; this holds the course of the searches, which no definition gives: no order, effort or
// bound changes without somebody looking at why, who then runs the test with -update.
func TestSchedulesStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	tell := func(name string, s Solution, more any, err error) {
		if err != nil {
			fmt.Fprintf(&b, "%s\t%v\n", name, err)
			return
		}
		fmt.Fprintf(&b, "%s\t%d min, at least %d, proven %t, %d nodes, alone %d, over at %d\t%.4x\n", name, s.WorkMin, s.WorkBound, s.Proven, s.Nodes, s.CriticalMin, s.LeastEnd,
			sha256.Sum256([]byte(fmt.Sprint(s.Slots, s.FinishMin, s.BoundMin, s.Broken, s.Together, more))))
	}
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 81))
		for _, n := range []int{7, 14} {
			p := randomProblem(rng, n)
			p.Nodes, p.Least = 300, int(seed%3)
			p.Workers, p.Pools[0].Capacity = p.Workers[1:], 2 // a narrow shop: more has to be searched
			p.Workers[0].Skills = []string{"a", "b"}
			for i := range p.Activities {
				p.Activities[i].Minutes += rng.IntN(4)
			}
			s, err := Solve(p)
			tell(fmt.Sprint("plain ", n, " ", seed), s, nil, err)
			sometimesAway(rng, &p)
			s, err = Solve(p)
			tell(fmt.Sprint("away ", n, " ", seed), s, nil, err)
			p = keptProblem(rng, n)
			p.Nodes = 300
			s, err = Solve(p)
			tell(fmt.Sprint("kept ", n, " ", seed), s, nil, err)
		}
		p := randomProblem(rng, 6)
		withGreatest(rng, &p)
		p.Nodes = 300
		s, err := Solve(p)
		tell(fmt.Sprint("greatest ", seed), s, nil, err)
		p, of := tinyWeek(rng)
		p.Samples, p.Nodes = 12, 150
		if seed%4 > 0 { // two jobs of four steps, which may be searched to the end
			p.Activities, of.Of, of.Due = append(p.Activities[:4:4], p.Activities[6:10]...), []int{0, 0, 0, 0, 1, 1, 1, 1}, of.Due[:2]
			for i := range 4 {
				for k := range p.Activities[4+i].After {
					p.Activities[4+i].After[k].Pred -= 2
				}
			}
			p.Nodes = 2000
		}
		s, ends, err := SolveShared(p, of)
		tell(fmt.Sprint("shared ", seed), s, ends, err)
		q := keptProblem(rng, 4)
		q.Samples, q.Nodes, q.Chains = 12, 400, nil
		for i := range q.Activities {
			q.Activities[i].After = slices.DeleteFunc(q.Activities[i].After, func(l Lag) bool { return l.Pred/2 != i/2 })
		}
		s, ends, err = SolveShared(q, Shared{Of: []int{0, 0, 1, 1}, Due: []int{600, 0}})
		tell(fmt.Sprint("shared and kept ", seed), s, ends, err)
	}
	golden.Same(t, "testdata/schedules.tsv", b.String())
}

// The clock of the solver against single minutes: how many are worked before each, when each
// begins and is over, how many are left of its day, and where the next window begins.
func TestClockAgainstSingleMinutesSeeds(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 82))
		p := randomProblem(rng, 1)
		if seed%2 == 0 {
			p.Calendar.Shifts = nil
		}
		const days = 14
		c := newClock(p.Calendar, p.Start)
		var begins []int // of each working minute, by the judge's count
		var wins []int   // of each: which window
		for e, win := p.Start, 0; e < days*dayMin; e++ {
			if worked(p, e, e+1) == 1 {
				if n := len(begins); n > 0 && begins[n-1] != e-1 {
					win++
				}
				begins, wins = append(begins, e), append(wins, win)
			}
		}
		if c.end(0) != begins[0] || c.begin(-3) != begins[0] {
			t.Errorf("seed %d: nothing worked is over at %d, work begins at %d", seed, c.end(0), begins[0])
		}
		for range 300 {
			w := rng.IntN(len(begins) - 12)
			e := begins[w]
			if got := c.begin(w); got != e {
				t.Fatalf("seed %d: minute %d begins at %d, want %d", seed, w, got, e)
			}
			if got := c.end(w + 1); got != e+1 {
				t.Fatalf("seed %d: %d minutes are over at %d, want %d", seed, w+1, got, e+1)
			}
			if got := c.work(e); got != w {
				t.Fatalf("seed %d: %d minutes before %d, want %d", seed, got, e, w)
			}
			if got := c.work(e + 1); got != w+1 {
				t.Fatalf("seed %d: %d minutes before %d, want %d", seed, got, e+1, w+1)
			}
			idle := p.Start + rng.IntN(e-p.Start+1)
			if got := c.work(idle); got != worked(p, p.Start, idle) {
				t.Fatalf("seed %d: %d minutes before %d, want %d", seed, got, idle, worked(p, p.Start, idle))
			}
			next := w
			for wins[next] == wins[w] {
				next++
			}
			if got := c.nextWindow(w); got != next && len(p.Calendar.Shifts) == 0 {
				t.Fatalf("seed %d: after minute %d the next window begins with %d, want %d", seed, w, got, next)
			}
			if got := c.leftOfDay(w); got != worked(p, e, endOfDay(p, e)) {
				t.Fatalf("seed %d: %d minutes are left of the day of %d, want %d: %+v", seed, got, e, worked(p, e, endOfDay(p, e)), p.Calendar)
			}
			if got := p.Calendar.Worked(e); got != worked(p, 0, e) {
				t.Fatalf("seed %d: %d minutes worked by %d, want %d", seed, got, e, worked(p, 0, e))
			}
			wall := p.Calendar.Wall(e)
			if since := p.Calendar.Since(wall); since > e || p.Calendar.Wall(since) < wall || since > 0 && p.Calendar.Wall(since-1) >= wall {
				t.Fatalf("seed %d: at %d the clock shows %d, since %d: %+v", seed, e, wall, since, p.Calendar.Shifts)
			}
		}
	}
}

// The slack of each activity against its definition: how far it can slip while the lags and the
// order on each worker stay and the finish does not move.
func TestSlackByItsDefinitionSeeds(t *testing.T) {
	slipped := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 83))
		p := Problem{Calendar: always(), Samples: 5, Nodes: 200}
		for _, id := range []string{"a", "b", "c"} {
			p.Workers = append(p.Workers, Worker{ID: id, Skills: []string{id}})
		}
		for i := range 3 + rng.IntN(6) {
			a := Activity{ID: fmt.Sprint(i), Minutes: 1 + rng.IntN(9), Skill: []string{"a", "b", "c"}[rng.IntN(3)]}
			for j := range i {
				if rng.IntN(3) == 0 {
					a.After = append(a.After, Lag{Pred: j, Minutes: rng.IntN(6), Clock: Clock(rng.IntN(2)), From: Edge(rng.IntN(2))})
				}
			}
			p.Activities = append(p.Activities, a)
		}
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		var late func(i int) int
		late = func(i int) int {
			x := s.Slots[i]
			t := s.FinishMin - p.Activities[i].Minutes
			for j, a := range p.Activities {
				if s.Slots[j].Worker == x.Worker && s.Slots[j].From >= x.To && j != i {
					t = min(t, late(j)-p.Activities[i].Minutes)
				}
				for _, l := range a.After {
					if l.Pred == i && l.From == Finish {
						t = min(t, late(j)-l.Minutes-p.Activities[i].Minutes)
					} else if l.Pred == i {
						t = min(t, late(j)-l.Minutes)
					}
				}
			}
			return t
		}
		for i, x := range s.Slots {
			want := late(i) - x.From
			if x.Slack != want || x.Critical != (want == 0) {
				t.Errorf("seed %d: %s may slip by %d (critical %t), want %d", seed, p.Activities[i].ID, x.Slack, x.Critical, want)
			}
			if want > 0 {
				slipped++
			}
		}
	}
	if slipped < 50 {
		t.Errorf("only %d may slip", slipped)
	}
}

// The exact searches look at no more nodes than they may, claim no proof when they are cut
// short, and with one node less than they need are cut short.
func TestSearchesKeepToTheirNodes(t *testing.T) {
	cut, whole := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 84))
		p := randomProblem(rng, 7)
		for i := range p.Activities {
			p.Activities[i].Minutes += rng.IntN(5)
		}
		p.Samples = 0
		search := func(limit int) (*board, int, bool) { // from a schedule a minute worse than the plain one
			p.Nodes = limit
			m, err := newModel(&p)
			if err != nil {
				t.Fatal(err)
			}
			first := m.serial(byPriority(m.latestFinish()), nil)
			return m.exact(&board{m: m, end: first.end + 1}, 0)
		}
		best, nodes, proven := search(3000)
		if !proven || nodes < 2 {
			continue
		}
		for _, limit := range []int{nodes, nodes - 1, nodes / 2} {
			got, n, ok := search(limit)
			if want := limit >= nodes; ok != want || n > limit+1 || ok && got.end != best.end {
				t.Errorf("seed %d: of %d nodes %d may be looked at: %d were, proven %t with %d, best %d", seed, nodes, limit, n, ok, got.end, best.end)
			}
			if limit >= nodes {
				whole++
			} else {
				cut++
			}
		}
	}
	if whole < 10 || cut < 10 {
		t.Errorf("%d whole, %d cut short", whole, cut)
	}
}
