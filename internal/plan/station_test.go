package plan

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
)

// Against every order there is: parts are put into the one with the least changes of tool,
// side and lift, by the shop's minutes or each as one; the changes are counted as they are met
// on the way, and what no order changes less than is no more. An empty word wants nothing.
func TestPartsAreArrangedWithTheFewestChangesSeeds(t *testing.T) {
	reached, changed := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 71))
		in := input()
		n := 2 + rng.IntN(4)
		var ids []body.PartID
		for i := range n {
			p := &in.Body.Parts[i]
			p.Tool, p.Side, p.Lift = []string{"", "a", "b", "c"}[rng.IntN(4)], []string{"", "left", "right"}[rng.IntN(3)], []string{"", "up", "down"}[rng.IntN(3)]
			ids = append(ids, p.ID)
		}
		w := [3]int64{1000, 1000, 1000}
		if seed%3 > 0 {
			in.Shop.Changes = &shop.Changes{Tool: 0.5, Side: 3, Lift: 7}
			w = [3]int64{500, 3000, 7000}
		}
		before := make([]set, n)
		for i := range before {
			once, twice := set(rng.Uint64()), set(rng.Uint64())
			before[i] = once & twice & (1<<i - 1)
		}
		b := newBuilder(in)
		along := func(order []int) (cost int64, count [3]int) {
			now := [3]string{}
			for _, i := range order {
				p := in.Body.Parts[i]
				for k, want := range [3]string{p.Tool, p.Side, p.Lift} {
					if want != "" && now[k] != "" && want != now[k] {
						cost += w[k]
						count[k]++
					}
					if want != "" {
						now[k] = want
					}
				}
			}
			return cost, count
		}
		best := int64(-1)
		var order []int
		var try func(done set)
		try = func(done set) {
			if len(order) == n {
				if c, _ := along(order); best < 0 || c < best {
					best = c
				}
			}
			for i := range n {
				if !done.has(i) && before[i].in(done) {
					order = append(order, i)
					try(done | 1<<i)
					order = order[:len(order)-1]
				}
			}
		}
		try(0)
		r, c := b.arrange(ids, func(i int, done set) bool { return before[i].in(done) })
		cost, count := along(r.order)
		if !r.ok || cost != best || r.cost != best || r.bound != best || count != [3]int{c.Tool, c.Side, c.Lift} || !c.Proven {
			t.Errorf("seed %d: %v costs %d, told %+v; the least is %d", seed, r.order, cost, c, best)
		}
		minutes := float64(best) / 1000
		if given := in.Shop.Changes != nil; c.Counted != given || given && (c.Minutes != minutes || c.Least != minutes) || !given && (c.Minutes != 0 || c.Least != 0) {
			t.Errorf("seed %d: %+v, want %g min", seed, c, minutes)
		}
		least := b.leastChanges(ids)
		if least > best {
			t.Errorf("seed %d: no order takes less than %d, one takes %d", seed, least, best)
		}
		if least == best {
			reached++
		}
		if best > 0 {
			changed++
		}
		if again := b.recount(ids, &c); len(again) != n {
			t.Errorf("seed %d: %d words for %d parts", seed, len(again), n)
		}
	}
	if reached < 20 || changed < 20 {
		t.Errorf("%d bounds reached, %d orders with changes", reached, changed)
	}
}

// By hand: each different word but the first is one change at least, by its own minutes.
func TestLeastChanges(t *testing.T) {
	in := input()
	in.Shop.Changes = &shop.Changes{Tool: 1, Side: 10, Lift: 100}
	for i, x := range []station{{"a", "", ""}, {"b", "left", ""}, {"c", "right", ""}, {"a", "", "up"}} {
		p := &in.Body.Parts[i]
		p.Tool, p.Side, p.Lift = x.tool, x.side, x.lift
	}
	b := newBuilder(in)
	for n, want := range []int64{0, 0, 1000, 12000, 12000} {
		var ids []body.PartID
		for _, p := range in.Body.Parts[:n] {
			ids = append(ids, p.ID)
		}
		if got := b.leastChanges(ids); got != want {
			t.Errorf("of %d parts: %d, want %d", n, got, want)
		}
	}
}
