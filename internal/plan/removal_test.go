package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
)

// frontEnd reads testdata/front-end.txt: the opening, and the lines that say
// what is wanted.
func frontEnd(t *testing.T) (*removal, []string) {
	t.Helper()
	m := &removal{limit: 1000}
	all := lines(t, "front-end.txt")
	for _, l := range all {
		if f := strings.Fields(l); f[0] == "part" {
			m.ids = append(m.ids, body.PartID(f[1]))
		}
	}
	slices.Sort(m.ids)
	n := len(m.ids)
	m.partCost, m.lossCost, m.entries = make([]int64, n), make([]int64, n), make([][][]set, n)
	var wants []string
	for _, l := range all {
		word, rest, _ := strings.Cut(l, " ")
		f := strings.Fields(rest)
		switch word {
		case "part":
			m.partCost[m.at(f[0])] = number(t, f[1])
		case "access":
			to, alts, _ := strings.Cut(rest, ":")
			var e []set
			for _, a := range strings.Split(alts, "|") {
				e = append(e, m.setOf(a))
			}
			m.entries[m.at(to)] = [][]set{e}
		case "joint":
			m.joints = append(m.joints, removalJoint{layers: m.setOf(f[0] + " " + f[1]), destroys: m.setOf(f[3])})
			m.lossCost[m.at(f[3])] = number(t, f[4])
		case "want":
			wants = append(wants, rest)
		}
	}
	return m, wants
}

func number(t *testing.T, s string) int64 {
	t.Helper()
	v, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func (r *removal) at(id string) int { return slices.Index(r.ids, body.PartID(id)) }

func (r *removal) setOf(list string) set {
	var s set
	for _, x := range strings.Fields(list) {
		s |= 1 << r.at(x)
	}
	return s
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

// The file has parts, joints and the optima, found by full enumeration.
func TestOpeningWithSacrificialJoints(t *testing.T) {
	m, wants := frontEnd(t)
	if len(wants) != 3 {
		t.Fatal(wants)
	}
	for _, w := range wants {
		targets, rest, _ := strings.Cut(w, ":")
		var cost int64
		var sets int
		parts := rest[strings.Index(rest, "for ")+4 : strings.Index(rest, ",")]
		if _, err := fmt.Sscanf(strings.TrimSpace(rest), "%d", &cost); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscanf(rest[strings.Index(rest, "of "):], "of %d sets", &sets); err != nil {
			t.Fatal(err)
		}
		r := *m
		r.targets = r.setOf(targets)
		f := r.solve()
		best, n := enumerate(&r)
		if !f.ok || !f.proven || f.cost != cost || f.bound != cost || r.names(f.set) != parts {
			t.Errorf("%v: %d for %s, want %d for %s", targets, f.cost, r.names(f.set), cost, parts)
		}
		if best != cost || n != sets {
			t.Errorf("%v: enumeration finds %d in %d sets, want %d in %d", targets, best, n, cost, sets)
		}
	}
}

// The file has the stations, the source and the optimum.
func TestSetCoverAsOpening(t *testing.T) {
	r := &removal{limit: 1000, entries: make([][][]set, 6), lossCost: make([]int64, 6), goals: make([][]set, 6)}
	want := ""
	for _, l := range lines(t, "kilroy-county.txt") {
		name, rest, _ := strings.Cut(l, ":")
		if w, ok := strings.CutPrefix(name, "want "); ok {
			want = w + ":" + rest
			continue
		}
		k := len(r.ids)
		r.ids, r.partCost = append(r.ids, body.PartID(strings.TrimPrefix(name, "station "))), append(r.partCost, 1)
		for _, town := range strings.Fields(rest) {
			at := number(t, town) - 1
			r.goals[at] = append(r.goals[at], 1<<k)
		}
	}
	f := r.solve()
	if got := fmt.Sprintf("%d: %s", f.cost, r.names(f.set)); got != want || !f.proven {
		t.Errorf("%s, want %s", got, want)
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
		r.joints = append(r.joints, removalJoint{layers: l, destroys: l & set(rng.Uint64()) & set(rng.Uint64()), cost: int64(rng.IntN(9)), fresh: int64(rng.IntN(9))})
	}
	r.oneTime = pick()
	r.targets = 1 << rng.IntN(n)
	if rng.IntN(2) == 0 {
		r.renewed = r.targets
	}
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
		r.joints = append(r.joints, removalJoint{layers: 1<<a | 1<<rng.IntN(60), destroys: 1 << a, cost: 3})
	}
	r.targets = 1<<59 | 1<<50 | 1<<40
	for b.Loop() {
		if f := r.solve(); !f.ok || !f.proven {
			b.Fatal(f)
		}
	}
}
