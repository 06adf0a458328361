package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
)

// frontEnd is a constructed opening whose optimum was found by looking at all
// 2^8 sets: parts with their price and labour, access, and two joints whose
// opening destroys a part.
func frontEnd(targets ...body.PartID) *removal {
	ids := []body.PartID{"bonnet", "bracket", "bumper", "closing", "fender", "lamp", "reinforcement", "wheelarch"}
	at := func(list string) set {
		var s set
		for _, x := range strings.Fields(list) {
			s |= 1 << slices.Index(ids, body.PartID(x))
		}
		return s
	}
	one := func(alts ...string) [][]set {
		var e []set
		for _, a := range alts {
			e = append(e, at(a))
		}
		return [][]set{e}
	}
	m := &removal{ids: ids, limit: 1000, partCost: []int64{40, 35, 60, 110, 90, 25, 80, 20}, lossCost: make([]int64, 8), entries: make([][][]set, 8)}
	m.entries[5] = one("bumper")
	m.entries[4] = one("bumper lamp")
	m.entries[3] = one("fender wheelarch", "bonnet bracket")
	m.entries[1] = one("bonnet")
	m.entries[6] = one("closing", "bumper lamp bracket")
	m.lossCost[4], m.lossCost[1] = 310, 45
	m.joints = []removalJoint{{at("fender closing"), at("fender"), 0}, {at("closing bracket"), at("bracket"), 0}}
	for _, t := range targets {
		m.targets |= at(string(t))
	}
	return m
}

func (r *removal) names(s set) string {
	var out []string
	for i, id := range r.ids {
		if s.has(i) {
			out = append(out, string(id))
		}
	}
	return strings.Join(out, " ")
}

// feasible judges a set by the words of the question, sharing nothing with the
// search: an order exists, and all that is destroyed is in it.
func feasible(r *removal, s set) bool {
	for _, j := range r.joints {
		if j.layers&s != 0 && j.destroys&^s != 0 {
			return false
		}
	}
	meets := func(entries [][]set, gone set) bool {
		for _, e := range entries {
			if !slices.ContainsFunc(e, func(a set) bool { return a&^gone == 0 }) {
				return false
			}
		}
		return true
	}
	var gone set
	for range r.ids {
		for i := range r.ids {
			if s>>i&1 == 1 && meets(r.entries[i], gone) {
				gone |= 1 << i
			}
		}
	}
	return gone == s && s&r.targets == r.targets && meets(r.goals, s)
}

// enumerate tries every set.
func enumerate(r *removal) (best int64, count int) {
	best = -1
	for s := range set(1) << len(r.ids) {
		if feasible(r, s) {
			count++
			if c := r.cost(s); best < 0 || c < best {
				best = c
			}
		}
	}
	return best, count
}

// Constructed, optimum by full enumeration: 285, 715 and 795; 6, 4 and 2
// feasible sets.
func TestOpeningWithSacrificialJoints(t *testing.T) {
	for _, c := range []struct {
		targets []body.PartID
		cost    int64
		sets    int
		parts   string
	}{
		{[]body.PartID{"reinforcement"}, 285, 6, "bonnet bracket bumper lamp reinforcement"},
		{[]body.PartID{"closing"}, 715, 4, "bonnet bracket bumper closing fender lamp"},
		{[]body.PartID{"closing", "reinforcement"}, 795, 2, "bonnet bracket bumper closing fender lamp reinforcement"},
	} {
		r := frontEnd(c.targets...)
		f := r.solve()
		best, n := enumerate(r)
		if !f.ok || !f.proven || f.cost != c.cost || r.names(f.set) != c.parts {
			t.Errorf("%v: %d for %s, want %d for %s", c.targets, f.cost, r.names(f.set), c.cost, c.parts)
		}
		if best != c.cost || n != c.sets {
			t.Errorf("%v: enumeration finds %d in %d sets, want %d in %d", c.targets, best, n, c.cost, c.sets)
		}
	}
}

// Kilroy County set cover (Winston, Operations Research, fire stations): every
// town is a goal that one of several stations reaches; least 2, {2, 4}.
func TestSetCoverAsOpening(t *testing.T) {
	covers := []string{"12", "126", "34", "345", "456", "256"}
	r := &removal{limit: 1000, entries: make([][][]set, 6), lossCost: make([]int64, 6)}
	for i := range covers {
		r.ids = append(r.ids, body.PartID(fmt.Sprint(i+1)))
		r.partCost = append(r.partCost, 1)
	}
	for town := range 6 {
		var e []set
		for i, c := range covers {
			if strings.Contains(c, fmt.Sprint(town+1)) {
				e = append(e, 1<<i)
			}
		}
		r.goals = append(r.goals, e)
	}
	f := r.solve()
	if f.cost != 2 || r.names(f.set) != "2 4" || !f.proven {
		t.Errorf("%d stations: %s", f.cost, r.names(f.set))
	}
}

func randomRemoval(rng *rand.Rand, n int) *removal {
	r := &removal{limit: 100000, entries: make([][][]set, n), tasks: make([]uint64, n), taskCost: []int64{7, 3}}
	pick := func() set { // each of the n parts with one chance in four
		once, again := set(rng.Uint64()), set(rng.Uint64())
		return once & again & (1<<n - 1)
	}
	for i := range n {
		r.ids = append(r.ids, body.PartID(fmt.Sprintf("p%02d", i)))
		r.partCost = append(r.partCost, int64(rng.IntN(20)))
		r.lossCost = append(r.lossCost, int64(rng.IntN(40)))
		for range rng.IntN(3) {
			var e []set
			for range 1 + rng.IntN(3) {
				e = append(e, pick()&^(1<<i))
			}
			r.entries[i] = append(r.entries[i], e)
		}
		r.tasks[i] = uint64(rng.IntN(4))
	}
	for range rng.IntN(4) {
		l := pick() | 1<<rng.IntN(n)
		r.joints = append(r.joints, removalJoint{l, l & set(rng.Uint64()) & set(rng.Uint64()), int64(rng.IntN(9))})
	}
	r.oneTime = pick()
	r.targets = 1 << rng.IntN(n)
	if rng.IntN(2) == 0 {
		r.goals = [][]set{{pick(), pick()}}
	}
	return r
}

// The search agrees with full enumeration, and what it finds holds.
func TestOpeningAgainstEnumerationSeeds(t *testing.T) {
	solved := 0
	for seed := range uint64(400) {
		r := randomRemoval(rand.New(rand.NewPCG(seed, 11)), 10)
		f := r.solve()
		best, n := enumerate(r)
		if f.ok != (n > 0) || !f.proven || f.ok && (f.cost != best || !feasible(r, f.set)) {
			t.Errorf("seed %d: found %v %d, enumeration %d in %d sets", seed, f.ok, f.cost, best, n)
		}
		if f.ok {
			solved++
		}
	}
	if solved < 150 {
		t.Errorf("only %d instances have a solution", solved)
	}
}

// Laws: one more target never makes the opening cheaper, nor, where there is
// only one way to everything, shorter; opening what is open changes nothing.
func TestOpeningLawsSeeds(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 12))
		r := randomRemoval(rng, 10)
		single := seed%2 == 0
		if single {
			r.goals = nil
			for i := range r.entries {
				for k, e := range r.entries[i] {
					r.entries[i][k] = e[:1]
				}
			}
		}
		one := r.solve()
		if !one.ok {
			continue
		}
		again := *r
		again.targets = one.set
		if f := again.solve(); f.set != one.set || f.cost != one.cost {
			t.Errorf("seed %d: opening %s again gives %s", seed, r.names(one.set), r.names(f.set))
		}
		more := *r
		more.targets |= 1 << rng.IntN(len(r.ids))
		two := more.solve()
		if two.ok && two.cost < one.cost {
			t.Errorf("seed %d: one more target makes it cheaper: %d, then %d", seed, one.cost, two.cost)
		}
		if two.ok && single && !one.set.in(two.set) {
			t.Errorf("seed %d: one more target keeps parts on: %s, then %s", seed, r.names(one.set), r.names(two.set))
		}
	}
}

func BenchmarkOpening60Parts(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 13))
	r := randomRemoval(rng, 60)
	for i := range r.entries { // sparse: one or two parts over each, always earlier ones
		r.entries[i] = nil
		if i > 3 {
			one, two, three := rng.IntN(i), rng.IntN(i), rng.IntN(i)
			r.entries[i] = [][]set{{1 << one, 1<<two | 1<<three}}
		}
	}
	r.joints = nil
	for range 20 {
		a := rng.IntN(60)
		r.joints = append(r.joints, removalJoint{1<<a | 1<<rng.IntN(60), 1 << a, 3})
	}
	r.targets = 1<<59 | 1<<50 | 1<<40
	for b.Loop() {
		if f := r.solve(); !f.ok || !f.proven {
			b.Fatal(f)
		}
	}
}
