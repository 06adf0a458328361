package sched

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// serial is the serial schedule generation scheme: of the blocks whose
// predecessors are placed, pick chooses one, which is placed as early as
// possible. fixed, when not nil, gives every block its resources. A block whose
// place is held waits until another one has been placed; nil when all that are left
// wait for one another's places.
//
// Source: Kolisch & Hartmann 2006 (survey of heuristics).
func (m *model) serial(pick func(open []int) int, fixed [][]int) *board {
	return m.placed(func(_ *board, open []int) int { return pick(open) }, fixed)
}

// soon places what can begin first, by priority where several can: blocks that need a
// state as it is set come before those that would have it changed.
func (m *model) soon(prio []int) *board {
	var who []int
	return m.placed(func(bd *board, open []int) int {
		best, at := 0, never
		for k, i := range open {
			who = slices.Grow(who[:0], len(m.blocks[i].needs))
			t := bd.begins(i, bd.ready(i), nil, who[:len(m.blocks[i].needs)])
			if t < at || t == at && (prio[i] < prio[open[best]] || prio[i] == prio[open[best]] && i < open[best]) {
				best, at = k, t
			}
		}
		return best
	}, nil)
}

// placed is the scheme itself.
func (m *model) placed(pick func(bd *board, open []int) int, fixed [][]int) *board {
	bd := m.newBoard()
	left := make([]int, len(m.blocks))
	var open, held []int
	for _, i := range m.order {
		left[i] = len(m.blocks[i].preds)
		if left[i] == 0 {
			open = append(open, i)
		}
	}
	for len(open) > 0 {
		m.p.work.Step()
		k := pick(bd, open)
		i := open[k]
		open = append(open[:k], open[k+1:]...)
		var f []int
		if fixed != nil {
			f = fixed[i]
		}
		t, who := bd.earliest(i, bd.ready(i), f)
		if t == never {
			held = append(held, i)
			continue
		}
		bd.put(i, t, who)
		open, held = append(open, held...), held[:0]
		for _, a := range m.blocks[i].succs {
			if left[a.to]--; left[a.to] == 0 {
				open = append(open, a.to)
			}
		}
	}
	if len(held) > 0 {
		return nil
	}
	return bd
}

// byPriority picks the open block with the smallest priority, the first in
// input order when equal.
func byPriority(prio []int) func([]int) int {
	return func(open []int) int {
		best := 0
		for k, i := range open {
			if prio[i] < prio[open[best]] || prio[i] == prio[open[best]] && i < open[best] {
				best = k
			}
		}
		return best
	}
}

// biased picks at random, a block the likelier the less its latest finish
// leaves it: weight 1 + regret (regret-based biased random sampling).
//
// Source: Kolisch & Hartmann 2006.
func biased(prio []int, rng *rand.Rand) func([]int) int {
	return func(open []int) int {
		worst := math.MinInt
		for _, i := range open {
			worst = max(worst, prio[i])
		}
		sum := 0.0
		for _, i := range open {
			sum += weight(worst - prio[i])
		}
		x := float64(rng.Float64() * sum)
		best := none
		for k, i := range open {
			x -= weight(worst - prio[i])
			if x < 0 || k == len(open)-1 {
				best = k
				break
			}
		}
		return best
	}
}

func weight(regret int) float64 { return float64(1 + regret) }

// latestFinish is the priority rule: the latest finish of each block by its
// least tail.
func (m *model) latestFinish() []int {
	prio := make([]int, len(m.blocks))
	for i, b := range m.blocks {
		prio[i] = b.dur - m.tail[i]
	}
	return prio
}

// improve shifts everything right, then left again, as long as that shortens
// the schedule (double justification); nil stays nil. The board it is given is not to be
// looked at any more.
//
// Source: Valls, Ballestin & Quintanilla 2005.
func (m *model) improve(bd *board) *board {
	for bd != nil {
		right := m.right(bd)
		next, free := m.serial(byPriority(right.start), bd.who), m.serial(byPriority(right.start), nil)
		if free != nil && (next == nil || free.end < next.end) {
			next, free = free, next
		}
		m.drop(right)
		m.drop(free)
		if next == nil || next.end >= bd.end {
			m.drop(next)
			return bd
		}
		m.drop(bd)
		bd = next
	}
	return nil
}

// right is the schedule with all blocks shifted right, the latest finish first,
// resources as they are.
func (m *model) right(bd *board) *board {
	ids := append([]int(nil), m.order...)
	place := make([]int, len(m.blocks))
	for k, i := range m.order {
		place[i] = k
	}
	sort.SliceStable(ids, func(a, b int) bool {
		fa, fb := bd.start[ids[a]]+m.blocks[ids[a]].dur, bd.start[ids[b]]+m.blocks[ids[b]].dur
		if fa != fb {
			return fa > fb
		}
		return place[ids[a]] > place[ids[b]]
	})
	late := m.newBoard()
	for _, i := range ids {
		b := &m.blocks[i]
		t := bd.end - b.dur
		for j := range b.succs {
			if s := late.start[b.succs[j].to]; s >= 0 {
				t = min(t, b.succs[j].before(m.clock, s))
			}
		}
		late.put(i, late.latest(i, t, bd.start[i], bd.who[i]), bd.who[i])
	}
	return late
}

// latest is the last start up to t, but not before floor, at which everything
// is free.
func (bd *board) latest(i, t, floor int, who []int) int {
	b := &bd.m.blocks[i]
	for t > floor {
		next := t
		for k := range b.needs {
			next = min(next, lastFree(bd.busy[who[k]], t, b.needs[k].time(b)))
		}
		if next == t {
			for _, d := range b.draws {
				next = min(next, lastRoom(bd.pools[d.pool], bd.m.p.Pools[d.pool].Capacity-d.amount, t, b.dur))
			}
		}
		if next == t {
			return t
		}
		t = next
	}
	return floor
}

// lastFree is the last time up to t at which d minutes are free.
func lastFree(busy []span, t, d int) int {
	if d == 0 {
		return t
	}
	for k := len(busy) - 1; k >= 0; k-- {
		if s := busy[k]; s.from < t+d && s.to > t {
			t = s.from - d
		}
	}
	return t
}

// lastRoom is a time up to t at which at most room is taken for d minutes: t
// itself, or before the last of those in the way begins.
func lastRoom(taken []span, room, t, d int) int {
	for firstRoom(taken, room, t, d) != t {
		before := t - 1
		for _, s := range taken {
			if s.from < t+d && s.to > t {
				before = min(t-1, max(before-d, s.from-d))
			}
		}
		t = before
	}
	return t
}
