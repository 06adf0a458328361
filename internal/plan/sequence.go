package plan

import (
	"cmp"
	"slices"

	"fettle/internal/halt"
)

// sequencing is the question in which order things are done one after the other
// so that what is changed in between costs least: the sequential ordering
// problem (Escudero 1988), a shortest path through all of them under precedence.
type sequencing struct {
	work  *halt.Work
	n     int
	start int                                     // what stands ready before the first
	ready func(i int, done set) bool              // i may be done when those of done are
	move  func(state, i int) (cost int64, to int) // of doing i when state stands ready, and what stands ready then
	// calm says that what costs nothing and changes nothing may always be done
	// at once: nothing is dearer for having been done earlier.
	calm  bool
	least int64 // no order costs less
	limit int   // states to look at before the search is narrowed
}

// sequenced is the answer.
type sequenced struct {
	order  []int
	cost   int64
	bound  int64 // no order costs less
	ok     bool  // an order exists
	proven bool
}

// beam is how many states of each length are kept once the search is narrowed.
const beam = 200

// visited is one state of the search: what is done, what stands ready, and the
// least cost so far, with the state before.
type visited struct {
	done     set
	at, item int
	cost     int64
	from     *visited
}

// solve builds the orders up one thing longer at a time; of all orders of the
// same things that leave the same ready, the cheapest is kept (Held & Karp
// 1962). When too many states are met it goes on with the best of each length
// only, and the answer is not proven unless it meets the bound.
func (q sequencing) solve() sequenced {
	layer := []*visited{{at: q.start, item: -1}}
	out := sequenced{proven: true}
	seen := 0
	for range q.n {
		next := q.longer(layer)
		if seen += len(next); seen > q.limit && len(next) > beam {
			slices.SortStableFunc(next, func(a, b *visited) int { return cmp.Compare(a.cost, b.cost) })
			next, out.proven = next[:beam], false
		}
		layer = next
	}
	var best *visited
	for _, v := range layer {
		if best == nil || v.cost < best.cost {
			best = v
		}
	}
	if best == nil {
		return sequenced{}
	}
	for v := best; v.item >= 0; v = v.from {
		out.order = append(out.order, v.item)
	}
	slices.Reverse(out.order)
	out.ok, out.cost, out.bound = true, best.cost, best.cost
	if !out.proven {
		out.bound = q.least
		out.proven = out.bound == out.cost
	}
	return out
}

// longer is every way to go on from the states of a layer.
func (q sequencing) longer(layer []*visited) []*visited {
	type key struct {
		done set
		at   int
	}
	index := map[key]int{}
	var next []*visited
	for _, v := range layer {
		q.work.Step()
		for _, i := range q.candidates(v) {
			c, to := q.move(v.at, i)
			k := key{v.done | 1<<i, to}
			n := &visited{k.done, to, i, v.cost + c, v}
			if at, ok := index[k]; !ok {
				index[k] = len(next)
				next = append(next, n)
			} else if n.cost < next[at].cost {
				next[at] = n
			}
		}
	}
	return next
}

// candidates is what may be done next; one alone where that is never wrong.
func (q sequencing) candidates(v *visited) []int {
	var out []int
	for i := range q.n {
		if v.done.has(i) || !q.ready(i, v.done) {
			continue
		}
		if q.calm {
			if c, to := q.move(v.at, i); c == 0 && to == v.at {
				return []int{i}
			}
		}
		out = append(out, i)
	}
	return out
}
