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
	seen, g := 0, &growth{sequencing: q, index: map[standing]int{}}
	for range q.n {
		next := g.longer(layer)
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

// standing is what two orders have in common of which only the cheaper one is kept.
type standing struct {
	done set
	at   int
}

// growth builds the orders up, in room that it uses again.
type growth struct {
	sequencing
	index map[standing]int
	can   []int
	room  []visited
}

// longer is every way to go on from the states of a layer.
func (g *growth) longer(layer []*visited) []*visited {
	clear(g.index)
	next := make([]*visited, 0, len(layer))
	for _, v := range layer {
		g.work.Step()
		for _, i := range g.candidates(v) {
			c, to := g.move(v.at, i)
			k, cost := standing{v.done | 1<<i, to}, v.cost+c
			at, ok := g.index[k]
			switch {
			case !ok:
				g.index[k] = len(next)
				next = append(next, g.keep(visited{k.done, to, i, cost, v}))
			case cost < next[at].cost:
				*next[at] = visited{k.done, to, i, cost, v}
			}
		}
	}
	return next
}

// keep is a state in a place of its own.
func (g *growth) keep(v visited) *visited {
	if len(g.room) == cap(g.room) {
		g.room = make([]visited, 0, 256)
	}
	g.room = append(g.room, v)
	return &g.room[len(g.room)-1]
}

// candidates is what may be done next; one alone where that is never wrong.
func (g *growth) candidates(v *visited) []int {
	g.can = g.can[:0]
	for i := range g.n {
		if v.done.has(i) || !g.ready(i, v.done) {
			continue
		}
		if g.calm {
			if c, to := g.move(v.at, i); c == 0 && to == v.at {
				return append(g.can[:0], i)
			}
		}
		g.can = append(g.can, i)
	}
	return g.can
}
