package plan

import (
	"math"
	"math/bits"
	"sort"

	"fettle/internal/body"
	"fettle/internal/halt"
)

// set is a set of at most 64 parts.
type set uint64

func (s set) has(i int) bool { return s>>i&1 == 1 }
func (s set) in(t set) bool  { return s&^t == 0 }
func (s set) count() int     { return bits.OnesCount64(uint64(s)) }

// removal is the question which parts to take off at the least cost: every
// target, some way to every goal, and every part that an opened joint destroys.
//
// Each part has entries, all of which must be met before it comes off; an entry
// is met when one of its alternatives is off. A joint is opened when any of its
// layers comes off; the parts it destroys then come off too, and are lost. Costs
// are in minor units times costScale, so that they are whole numbers.
type removal struct {
	work     *halt.Work
	ids      []body.PartID // sorted, so that ties go to the smaller identity
	entries  [][][]set     // by part
	targets  set
	renewed  set // of the targets: a new one takes its place
	goals    [][]set
	joints   []removalJoint
	partCost []int64 // handling off and on
	lossCost []int64 // a new one
	oneTime  set
	kept     set      // come off as one piece: no opened joint may destroy them
	never    set      // cannot be taken out of the vehicle
	vague    set      // nobody knows how they come off: taken only where there is no other way
	tasks    []uint64 // by part: the tasks it brings with it
	taskCost []int64
	limit    int // nodes of the search
}

type removalJoint struct {
	layers, destroys set
	cost             int64
	fresh            int64 // more, where a part of it is a new one
}

// costScale is minor units to cost units: minutes in thousandths times minor
// units for each hour.
const costScale = 60000

// found is the answer: the set, its cost and whether it is proven.
type found struct {
	set    set
	cost   int64
	vague  int   // so many of them nobody knows how to take off
	bound  int64 // no set with as few of those costs less
	ok     bool
	proven bool
	nodes  int
}

// destroyed is every part that opening the joints of s destroys.
func (r *removal) destroyed(s set) set {
	var d set
	for _, j := range r.joints {
		if j.layers&s != 0 {
			d |= j.destroys
		}
	}
	return d
}

// torn says that s holds what never comes off, or that opening its joints destroys what has to
// stay whole; then any set that holds s does.
func (r *removal) torn(s set) bool { return s&r.never != 0 || r.destroyed(s)&r.kept != 0 }

// vagueCost is more than everything that is known: the fewer parts nobody knows of the better.
const vagueCost = 1 << 56

// rank is the cost of s, with what nobody knows of it before all else.
func (r *removal) rank(s set) int64 { return r.cost(s) + vagueCost*int64((s&r.vague).count()) }

// cost is the cost of taking off s and putting it back.
func (r *removal) cost(s set) int64 {
	sum := int64(0)
	lost := (r.destroyed(s) | r.oneTime) & s
	for _, j := range r.joints {
		if j.layers&s != 0 {
			sum += j.cost
		}
		if j.layers&(lost|r.renewed&s) != 0 {
			sum += j.fresh
		}
	}
	tasks := uint64(0)
	for i := range r.ids {
		if s.has(i) {
			sum += r.partCost[i]
			if r.tasks != nil {
				tasks |= r.tasks[i]
			}
		}
		if lost.has(i) {
			sum += r.lossCost[i]
		}
	}
	for k, c := range r.taskCost {
		if tasks>>k&1 == 1 {
			sum += c
		}
	}
	return sum
}

// forced adds what s cannot do without: destroyed parts, and entries with one
// alternative only.
func (r *removal) forced(s set) set {
	for {
		t := s | r.destroyed(s)
		for i := range r.ids {
			if t.has(i) {
				for _, e := range r.entries[i] {
					if len(e) == 1 {
						t |= e[0]
					}
				}
			}
		}
		if t == s {
			return s
		}
		s = t
	}
}

// off takes parts off one after the other, the smallest identity first, as far
// as that goes, and says in which order and after which parts.
func (r *removal) off(s set) (order []int, after []set, stuck set) {
	after = make([]set, len(r.ids))
	var gone set
	for {
		next := -1
		for i := range r.ids {
			if s.has(i) && !gone.has(i) {
				if u, ok := met(r.entries[i], gone); ok {
					next, after[i] = i, u
					break
				}
			}
		}
		if next < 0 {
			return order, after, s &^ gone
		}
		order = append(order, next)
		gone |= 1 << next
	}
}

// met says that every entry has an alternative inside gone, and unites the
// first such alternative of each.
func met(entries [][]set, gone set) (set, bool) {
	var union set
	for _, e := range entries {
		ok := false
		for _, a := range e {
			if a.in(gone) {
				union, ok = union|a, true
				break
			}
		}
		if !ok {
			return 0, false
		}
	}
	return union, true
}

// solve finds the set of least cost; among equals the one with fewer parts,
// then with the smaller identities. It branches on the alternatives of what
// cannot be reached yet, and drops a branch whose forced cost is higher than
// the best, or that has been seen before.
func (r *removal) solve() found {
	best := found{proven: true}
	open := int64(math.MaxInt64)
	seen := map[set]bool{}
	var visit func(s set)
	visit = func(s set) {
		r.work.Step()
		s = r.forced(s)
		if seen[s] || r.torn(s) {
			return
		}
		if !best.proven { // what is left unseen costs at least this
			open = min(open, r.rank(s))
			return
		}
		seen[s] = true
		if best.nodes++; best.nodes > r.limit {
			best.proven = false
			open = min(open, r.rank(s))
			return
		}
		c := r.rank(s)
		if best.ok && (c > best.cost || c == best.cost && s.count() >= best.set.count() && !smaller(s, best.set)) {
			return
		}
		branches := r.open(s)
		if len(branches) == 0 {
			if _, _, stuck := r.off(s); stuck == 0 {
				best.set, best.cost, best.ok = s, c, true
			}
			return
		}
		sort.SliceStable(branches, func(i, j int) bool { return r.rank(s|branches[i]) < r.rank(s|branches[j]) })
		for _, b := range branches {
			visit(s | b)
		}
	}
	visit(r.targets)
	if best.bound = best.cost; open < best.bound || !best.ok {
		best.bound = open
	}
	best.vague = (best.set & r.vague).count()
	best.cost -= vagueCost * int64(best.vague)
	if best.ok {
		best.bound = max(0, best.bound-vagueCost*int64(best.vague))
	}
	return best
}

// smaller says that a has fewer parts than b, or as many and the smaller
// identities.
func smaller(a, b set) bool {
	if a.count() != b.count() {
		return a.count() < b.count()
	}
	d := a ^ b
	return d != 0 && a&(d&-d) != 0
}

// open lists ways to go on from s, one of which every feasible set that holds s
// contains; none when s is complete or hopeless.
func (r *removal) open(s set) []set {
	var least []set
	take := func(entry []set) {
		if least == nil || len(entry) < len(least) {
			least = entry
		}
	}
	unmet := func(entries [][]set) {
		for _, e := range entries {
			if _, ok := met([][]set{e}, s); !ok {
				take(e)
			}
		}
	}
	unmet(r.goals)
	_, _, stuck := r.off(s)
	for i := range r.ids {
		if stuck.has(i) {
			unmet(r.entries[i])
		}
	}
	if least != nil || stuck == 0 {
		return least
	}
	// Every entry is met inside s, but only in a circle: one of the stuck parts
	// must come off by an alternative that is not inside s.
	var out []set
	for i := range r.ids {
		if stuck.has(i) {
			for _, e := range r.entries[i] {
				for _, a := range e {
					if !a.in(s) {
						out = append(out, a)
					}
				}
			}
		}
	}
	return out
}
