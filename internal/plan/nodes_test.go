package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// Random steps that wait for earlier ones: they are put in an order in which each comes after
// what it waits for, of those that may come next always the one of the earliest phase, then the
// one made first; of the waits those are left that no other implies, and what comes before what
// stays as it was. A circle has no order.
func TestStepsInOrderSeeds(t *testing.T) {
	dropped := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 73))
		b := newBuilder(input())
		n := 2 + rng.IntN(9)
		place := rng.Perm(n) // a node may wait for those of a lower place
		for range n {
			b.add(rng.IntN(finish+1), Step{})
		}
		nodes := slices.Clone(b.nodes)
		var waits [][2]*node
		for i, x := range nodes {
			for j, y := range nodes {
				if place[j] < place[i] && rng.IntN(3) == 0 {
					for range 1 + rng.IntN(2) {
						x.after = append(x.after, y)
					}
					waits = append(waits, [2]*node{y, x})
				}
			}
		}
		type pair struct{ a, b *node }
		before := map[pair]bool{}
		for _, x := range nodes {
			for _, y := range nodes {
				before[pair{x, y}] = reaches(x, y)
			}
		}
		if !b.sortNodes() {
			t.Fatalf("seed %d: no order", seed)
		}
		done := map[*node]bool{}
		for k, x := range b.nodes {
			if x.rank != k {
				t.Errorf("seed %d: the step at %d has the rank %d", seed, k, x.rank)
			}
			for _, o := range nodes {
				open := !done[o] && !slices.ContainsFunc(waits, func(w [2]*node) bool { return w[1] == o && !done[w[0]] })
				if open && (o.phase < x.phase || o.phase == x.phase && o.index < x.index) {
					t.Errorf("seed %d: step %d of phase %d comes before step %d of phase %d", seed, x.index, x.phase, o.index, o.phase)
				}
			}
			for _, w := range waits {
				if w[1] == x && !done[w[0]] {
					t.Errorf("seed %d: step %d comes before what it waits for", seed, x.index)
				}
			}
			done[x] = true
		}
		left := 0
		for _, x := range nodes {
			for k, y := range x.after {
				left++
				if k > 0 && x.after[k-1].rank >= y.rank {
					t.Errorf("seed %d: the waits of a step are not in order", seed)
				}
				for _, z := range x.after {
					if z != y && reaches(y, z) {
						t.Errorf("seed %d: a wait is told that another implies", seed)
					}
				}
			}
			for _, y := range nodes {
				if reaches(x, y) != before[pair{x, y}] {
					t.Errorf("seed %d: what comes before what has changed", seed)
				}
			}
		}
		dropped += len(waits) - left
		b.number()
		for k, x := range b.nodes {
			if x.step.ID != fmt.Sprintf("ST-%d", k+1) || len(x.step.After) != len(x.after) || !slices.Equal(x.step.Needs, x.step.After) {
				t.Errorf("seed %d: step %d is %s after %v, needs %v", seed, k, x.step.ID, x.step.After, x.step.Needs)
			}
		}
		if first := b.nodes[0]; n > 1 && len(b.nodes[n-1].after) > 0 {
			first.after = append(first.after, b.nodes[n-1])
			if reaches(first, first.after[len(first.after)-1]) && b.sortNodes() {
				t.Errorf("seed %d: a circle has an order", seed)
			}
		}
	}
	if dropped < 50 {
		t.Errorf("only %d waits were implied by others", dropped)
	}
}

// By hand: how the minutes of a step come about, by what it asks for.
func TestMinutesOfAStepAndTheirWords(t *testing.T) {
	m := measure{mm: 250, known: true, from: "crack F1"}
	for _, c := range []struct {
		s      body.Step
		rivets int
		min    float64
		sum    string
	}{
		{body.Step{Fixed: 5}, 3, 5, "5 min"},
		{body.Step{}, 3, 0, "0 min"},
		{body.Step{Fixed: 1, PerMetre: 100}, 3, 26, "1 min + 100 min for each metre x 250 mm (crack F1) = 25 min = 26 min"},
		{body.Step{PerMetre: 1}, 3, 0.25, "1 min for each metre x 250 mm (crack F1) = 0.25 min"},
		{body.Step{PerRivet: 1}, 3, 3, "1 min x 3 rivets = 3 min"},
		{body.Step{Fixed: 2, PerMetre: 4, PerRivet: 0.5}, 6, 6, "2 min + 4 min for each metre x 250 mm (crack F1) = 1 min + 0.5 min x 6 rivets = 3 min = 6 min"},
	} {
		if min, sum := minutes(c.s, m, c.rivets, "rivets"); min != c.min || sum != c.sum {
			t.Errorf("%g, %q; want %g, %q", min, sum, c.min, c.sum)
		}
	}
}

// By hand: what a step waits for to arrive is the last of it, or what nobody has a day for.
func TestLastOfWhatIsAwaited(t *testing.T) {
	a, b, none := Awaited{Name: "a", Minutes: 5}, Awaited{Name: "b", Minutes: 9}, Awaited{Name: "n", Unknown: true}
	for _, c := range []struct {
		all  []Awaited
		want string
	}{{nil, ""}, {[]Awaited{a}, "a"}, {[]Awaited{a, b}, "b"}, {[]Awaited{b, a}, "b"}, {[]Awaited{b, none, a}, "n"}, {[]Awaited{{Name: "z"}}, ""}, {[]Awaited{a, {Name: "same", Minutes: 5}}, "a"}} {
		if got := (&node{step: Step{Awaits: c.all}}).awaited(); got.Name != c.want {
			t.Errorf("%+v: %q, want %q", c.all, got.Name, c.want)
		}
	}
}

// By hand: the wait after a step is the longer one of what its body says and of its cure: so
// that it may be handled, or in full.
func TestWaitAfterAStep(t *testing.T) {
	for _, c := range []struct {
		wait body.Wait
		name string
		min  float64
	}{
		{body.Wait{Name: "cool", Elapsed: 30}, "cool", 30}, {body.Wait{Name: "set", Elapsed: 30, Cure: "glue"}, "set", 450}, {body.Wait{Cure: "glue", Full: true}, "cure of glue", 2250},
		{body.Wait{Name: "long", Elapsed: 451, Cure: "glue"}, "long", 451}, {body.Wait{Name: "long", Elapsed: 449, Cure: "glue"}, "long", 450},
	} {
		b := newBuilder(input())
		n := b.add(repair, Step{})
		b.setWait(n, nil, "x")
		if n.step.WaitMin != 0 || n.step.WaitName != "" {
			t.Error("a wait of nothing")
		}
		if b.setWait(n, &c.wait, "x"); n.step.WaitName != c.name || n.step.WaitMin != c.min || n.undated {
			t.Errorf("%+v: %q %g", c.wait, n.step.WaitName, n.step.WaitMin)
		}
		b.in.Shop.Temp = 99
		if b.setWait(n, &c.wait, "x"); n.undated != (c.wait.Cure != "") {
			t.Errorf("%+v outside the table: undated %t", c.wait, n.undated)
		}
	}
}

// By hand: phases follow one another, but for what is tied to one part, and for steps in one go,
// of which the first alone waits; nothing at all is done before the vehicle is safe.
func TestPhasesFollowOneAnother(t *testing.T) {
	b := newBuilder(input())
	s, p, q, r := b.add(safe, Step{}), b.add(prepare, Step{}), b.add(repair, Step{Together: "x"}), b.add(check, Step{Together: "x"})
	b.chain["x"] = &chainWant{nodes: []*node{q, r}}
	b.orderPhases(map[*node]bool{p: true})
	for name, c := range map[string]struct{ got, want []*node }{"safe": {s.after, nil}, "tied": {p.after, []*node{s}}, "first of a chain": {q.after, []*node{s}}, "inside it": {r.after, nil}} {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s: waits for %d, want %d", name, len(c.got), len(c.want))
		}
	}
	b.orderPhases(nil)
	if !slices.Contains(q.after, p) || slices.Contains(p.after, q) {
		t.Error("what is not tied does not follow")
	}
}

// Against the days one by one: the days that work takes at least, by who has the skill and by
// how many there are. Two of body, one of alu; skills that nobody has count nothing.
func TestDaysOfWorkSeeds(t *testing.T) {
	in := input()
	in.Shop.People = append(in.Shop.People, in.Shop.People[0])
	in.Shop.People[2].ID, in.Shop.People[2].Skills = "p3", []body.SkillID{"body"}
	in.Shop.Calendar.Holidays = []unit.Date{monday(1), monday(8)}
	w := NewWeigher(in)
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 74))
		var x Work
		need := map[string]float64{}
		for _, s := range []string{"body", "alu", "mech", "none"} {
			if rng.IntN(3) > 0 {
				m := []float64{1, 480, 481, 960, float64(rng.IntN(9000))}[rng.IntN(5)]
				w.crew.add(&x, s, m)
				if s != "none" {
					need[s] = m
				}
			}
		}
		least := max(need["body"]/2, need["alu"], need["mech"], (need["body"]+need["alu"]+need["mech"])/3)
		days, worked := 0, 0.0
		for least > 0 && worked < least-1e-6 {
			if day := monday(0).AddDays(days); days%7 < 5 && !slices.Contains(in.Shop.Calendar.Holidays, day) {
				worked += 480
			}
			days++
		}
		if got := w.Days(x); got != days {
			t.Errorf("seed %d: %v takes %d days at least, want %d", seed, need, got, days)
		}
		var y Work
		w.crew.add(&y, "alu", 7)
		if z := x.Plus(y); z.Sum() != x.Sum()+7 || x.Least(z) != x || y.Least(Work{}) != (Work{}) {
			t.Errorf("seed %d: %v and %v", seed, x, y)
		}
	}
	none := in
	none.Shop.Calendar.Days = nil
	if got := NewWeigher(none).Days(Work{1: 500}); got != 0 && got != crewDays {
		t.Errorf("without a day of work: %d", got)
	}
}
