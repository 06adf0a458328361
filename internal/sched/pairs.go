package sched

import "slices"

// pair is two blocks that are never under way at once: one of them comes first, and
// then the arcs of that order hold.
type pair struct {
	i, j   int
	ij, ji []arc
}

// pairs are the blocks that want a state set differently, or the same worker or place
// where there is only one. Two blocks that only differ in more than one setting are as
// many pairs, since each of these can have its own order.
func (m *model) pairs() []pair {
	if m.paired == nil {
		m.paired = m.newPairs()
	}
	return m.paired
}

func (m *model) newPairs() []pair {
	out := make([]pair, 0, 4*len(m.blocks))
	alone := func(a arc, more [][]arc) []arc {
		one := []arc{a}
		for _, k := range more {
			one = append(one, k...)
		}
		return one
	}
	for j := range m.blocks {
		for i := range j {
			ij, ji := m.before(i, j), m.before(j, i)
			if m.one(&m.blocks[i], &m.blocks[j]) {
				out = append(out, pair{i, j, alone(arc{from: i, to: j, k: m.blocks[i].dur}, ij), alone(arc{from: j, to: i, k: m.blocks[j].dur}, ji)})
				continue
			}
			for k := range ij {
				out = append(out, pair{i, j, ij[k], ji[k]})
			}
		}
	}
	return out
}

// before are, for each two settings of the blocks that exclude one another, the arcs
// that hold when that of block i comes first; in the same order for i and j exchanged.
func (m *model) before(i, j int) [][]arc {
	b, c, turned := &m.blocks[i], &m.blocks[j], i > j
	if turned {
		b, c = c, b
	}
	var out [][]arc
	for x := range b.sets {
		for y := range c.sets {
			first, second := &b.sets[x], &c.sets[y]
			if first.state != second.state || first.value == second.value {
				continue
			}
			if turned {
				first, second = second, first
			}
			back := second.from - first.gap(second.change)
			arcs := []arc{{from: i, to: j, k: first.to, back: back}}
			if first.min > 0 {
				arcs = append(arcs, arc{from: i, to: j, k: first.to, lag: first.min, clock: Elapsed, back: back})
			}
			out = append(out, arcs)
		}
	}
	return out
}

// inStarts says that the arcs keep the second block from starting before the first.
func inStarts(arcs []arc) bool {
	return slices.ContainsFunc(arcs, func(a arc) bool { return arcLength(&a) >= 0 })
}

// one says that two blocks need the only one of something.
func (m *model) one(b, c *block) bool {
	for x := range b.needs {
		for y := range c.needs {
			n, o := &b.needs[x], &c.needs[y]
			if n.time(b) > 0 && o.time(c) > 0 && (len(n.options) == 1 && slices.Equal(n.options, o.options) || n.hold >= 0 && n.hold == o.hold) {
				return true
			}
		}
	}
	return false
}

// window is what is left of the starts of the blocks in a schedule that ends by a
// given time: not before early, not after late. after are the orders of pairs that are
// settled by that, as the blocks that start no later than each one.
type window struct {
	early, late []int
	after       [][]int
	settled     []bool  // by pair
	more        []arc   // of the pairs that are settled
	far, back   [][]int // by the block that comes before, and by the one that comes after

	before, behind []asked // by load
	chosen         int     // how often the order of a pair was chosen
	farAt, backAt  []int   // by row of far and back: the choice that changed it last
}

// within narrows the starts of all blocks in a schedule that ends by t; false when
// there is none: of each pair one order has to be left (disjunctive constraint
// propagation).
//
// Source: Carlier & Pinson 1989 (immediate selection).
func (m *model) within(t int, pairs []pair) (window, bool) {
	n := len(m.blocks)
	w := window{early: slices.Clone(m.head), late: make([]int, n), after: make([][]int, n)}
	for i := range m.blocks {
		w.late[i] = t - m.blocks[i].dur
	}
	settled := make([]bool, len(pairs))
	var more []arc
	for changed := true; changed; {
		changed = false
		if !m.narrow(&w, more) {
			return w, false
		}
		for k := range pairs {
			p := &pairs[k]
			if settled[k] {
				continue
			}
			ij, ji := m.fit(&w, p.ij), m.fit(&w, p.ji)
			switch {
			case !ij && !ji:
				return w, false
			case !ij:
				settled[k], changed = true, true
				more = append(more, p.ji...)
				if inStarts(p.ji) {
					w.after[p.i] = append(w.after[p.i], p.j)
				}
			case !ji:
				settled[k], changed = true, true
				more = append(more, p.ij...)
				if inStarts(p.ij) {
					w.after[p.j] = append(w.after[p.j], p.i)
				}
			}
		}
	}
	return w, true
}

// fit says that the arcs can be kept within the window.
func (m *model) fit(w *window, arcs []arc) bool {
	for k := range arcs {
		a := &arcs[k]
		if a.after(m.clock, w.early[a.from]) > w.late[a.to] {
			return false
		}
	}
	return true
}

// narrow moves the ends of the window by the lags and the arcs until nothing changes;
// false when a block has no start left.
func (m *model) narrow(w *window, more []arc) bool {
	// the round in which the ends of each block were moved last: an arc between two that have
	// stayed as they were says nothing new
	n := len(m.blocks)
	if m.rounds == nil {
		m.rounds = make([]int, 2*n)
	}
	clear(m.rounds)
	early, late := m.rounds[:n], m.rounds[n:]
	for again, round := true, 1; again; round++ {
		again = false
		pull := func(a *arc) {
			if early[a.from] >= round-1 {
				if t := a.after(m.clock, w.early[a.from]); t > w.early[a.to] {
					w.early[a.to], early[a.to], again = m.nextFit(&m.blocks[a.to], t), round, true
				}
			}
			if late[a.to] >= round-1 {
				if t := a.before(m.clock, w.late[a.to]); t < w.late[a.from] {
					w.late[a.from], late[a.from], again = t, round, true
				}
			}
		}
		for _, i := range m.order {
			for k := range m.blocks[i].preds {
				pull(&m.blocks[i].preds[k])
			}
		}
		for k := range more {
			pull(&more[k])
		}
		for i := range m.blocks {
			if w.early[i] > w.late[i] {
				return false
			}
		}
	}
	return true
}
