package sched

import (
	"slices"
	"sort"
)

// search is the exact search: blocks are placed in the order of their starts,
// each as early as possible with every choice of resources, so that an optimal
// schedule is among those looked at. A node is dropped when its bound is not
// better than the best schedule, when another block could be finished before
// its next one starts (then it is not the earliest possible), or when the same
// blocks have been placed at least as early before.
//
// Source: the idea of placing in order of starts with dominance on the set
// placed is that of Demeulemeester & Herroelen 1992.
type search struct {
	m     *model
	loads []load
	best  *board
	goal  int
	nodes int
	limit int
	full  bool // the limit was reached
	prio  []int
	seen  map[placed][][]int
	pairs []pair
	head  []int    // earliest start of each block in a schedule better than the best
	after []uint64 // what comes before each block in every such schedule

	heads, now []int // to be used again
}

// narrow takes from the best schedule what every better one has to keep to.
func (s *search) narrow() {
	m := s.m
	s.loads, s.head, s.after = m.tailsFor(s.best.end-1), m.head, make([]uint64, len(m.blocks))
	w, ok := m.within(s.best.end-1, s.pairs)
	if !ok {
		s.goal = s.best.end
		return
	}
	s.loads, s.head = m.narrowed(w, s.best.end-1), w.early
	for i, list := range w.after {
		for _, j := range list {
			s.after[i] |= 1 << j
		}
	}
}

// placed is the set of blocks that are placed, and where holds that are not over
// have their places.
type placed struct {
	done     uint64
	standing string
}

// exact improves best until it is proven, or the limit of nodes is reached.
func (m *model) exact(best *board, goal int) (*board, int, bool) {
	if len(m.blocks) > 64 || m.p.Nodes == 0 || best.end <= goal || !m.startsInOrder() {
		return best, 0, best.end <= goal
	}
	s := &search{m: m, best: best, goal: goal, limit: m.p.Nodes, prio: m.latestFinish(), seen: map[placed][][]int{}, pairs: m.pairs()}
	s.narrow()
	s.node(m.newBoard(), 0, 0)
	return s.best, s.nodes, !s.full || s.best.end <= goal
}

// first is a schedule found by the exact search where the rules have found none; nil
// when it finds none either.
func (m *model) first(goal int) *board {
	if len(m.blocks) > 64 || m.p.Nodes == 0 || !m.startsInOrder() {
		return nil
	}
	nothing := &board{m: m, end: never}
	s := &search{m: m, loads: m.loads(), best: nothing, goal: goal, limit: m.p.Nodes, prio: m.latestFinish(), seen: map[placed][][]int{}, head: m.head, after: make([]uint64, len(m.blocks)), pairs: m.pairs()}
	s.node(m.newBoard(), 0, 0)
	if s.best == nothing {
		return nil
	}
	return s.best
}

// startsInOrder says that no block can start before one it waits for, as it
// could when a lag leads into the middle of a chain. Only then is the order of
// starts an order of the lags, which the search relies on.
func (m *model) startsInOrder() bool {
	for _, b := range m.blocks {
		for _, a := range b.preds {
			if a.back > 0 {
				return false
			}
		}
	}
	return true
}

// option is one way to go on from a node.
type option struct {
	block, start int
	who          []int
}

func (s *search) node(bd *board, done uint64, last int) {
	if s.full || s.best.end <= s.goal {
		return
	}
	s.m.p.work.Step()
	if s.nodes++; s.nodes > s.limit {
		s.full = true
		return
	}
	if done == (uint64(1)<<len(s.m.blocks))-1 {
		if bd.end < s.best.end {
			s.best = bd.clone()
			s.narrow()
		}
		return
	}
	if s.bound(bd, done, last) >= s.best.end || s.dominated(bd, done, last) {
		return
	}
	was, end := slices.Clone(bd.hulls), bd.end
	for _, o := range s.options(bd, done, last) {
		bd.put(o.block, o.start, o.who)
		s.node(bd, done|1<<o.block, o.start)
		bd.takeBack(o.block, was, end)
	}
}

// options lists what may start next, the most urgent first.
func (s *search) options(bd *board, done uint64, last int) []option {
	var out []option
	firstEnd, firstBlock := none, none
	for i := range s.m.blocks {
		if done>>i&1 == 1 || !s.open(i, done) {
			continue
		}
		t := max(bd.ready(i), last, s.head[i])
		before := len(out)
		out = s.choices(bd, i, t, nil, out)
		if bd.opens(&s.m.blocks[i]) { // what it keeps is not over when it is
			continue
		}
		for _, o := range out[before:] {
			if e := s.m.over(&s.m.blocks[i], o.start); firstEnd < 0 || e < firstEnd {
				firstEnd, firstBlock = e, i
			}
		}
	}
	kept := out[:0]
	for _, o := range out {
		if firstEnd < 0 || o.start < firstEnd || o.block == firstBlock {
			kept = append(kept, o)
		}
	}
	sort.SliceStable(kept, func(a, b int) bool {
		x, y := kept[a], kept[b]
		if x.start != y.start {
			return x.start < y.start
		}
		return s.prio[x.block] < s.prio[y.block]
	})
	return kept
}

func (s *search) open(i int, done uint64) bool {
	if s.after[i]&^done != 0 {
		return false
	}
	for _, a := range s.m.blocks[i].preds {
		if done>>a.from&1 == 0 {
			return false
		}
	}
	return true
}

// choices adds the earliest start for every choice of resources; resources
// that are alike and free from the same moment are tried once.
func (s *search) choices(bd *board, i, t int, who []int, out []option) []option {
	b := &s.m.blocks[i]
	if len(who) == len(b.needs) {
		w := slices.Clone(who)
		start := bd.begins(i, t, who, w)
		if start == never {
			return out
		}
		return append(out, option{i, start, w})
	}
	var tried []int
	for _, r := range b.needs[len(who)].options {
		alike := false
		for _, q := range tried {
			alike = alike || s.alike(bd, q, r, t)
		}
		if !alike {
			tried = append(tried, r)
			out = s.choices(bd, i, t, append(who, r), out)
		}
	}
	return out
}

// alike says that two resources can be exchanged from t on.
func (s *search) alike(bd *board, q, r, t int) bool {
	if bd.freeFrom(q) == never || bd.freeFrom(r) == never {
		return false
	}
	for k := range s.loads {
		if l := &s.loads[k]; !l.state && l.has(q) != l.has(r) {
			return false
		}
	}
	return max(t, bd.freeFrom(q)) == max(t, bd.freeFrom(r))
}

func freeFrom(busy []span) int {
	if len(busy) == 0 {
		return 0
	}
	return busy[len(busy)-1].to
}

// bound is the working minutes no schedule that goes on from here can beat.
func (s *search) bound(bd *board, done uint64, last int) int {
	m := s.m
	s.heads = slices.Grow(s.heads[:0], len(m.blocks))[:len(m.blocks)]
	head, best := s.heads, bd.end
	for _, i := range m.order {
		if done>>i&1 == 1 {
			head[i] = bd.start[i]
			continue
		}
		b := &m.blocks[i]
		t := max(s.head[i], last)
		for j := range b.preds {
			t = max(t, b.preds[j].after(m.clock, head[b.preds[j].from]))
		}
		head[i] = t
		best = max(best, t+m.tail[i])
	}
	for k := range s.loads {
		l := &s.loads[k]
		if l.state {
			best = max(best, s.stateBound(l, done, head))
			continue
		}
		energy, tail, first := 0, none, none
		for x := range l.jobs {
			j := &l.jobs[x]
			if done>>j.block&1 == 1 {
				continue
			}
			energy += j.d * j.amount
			if tail < 0 || j.tail < tail {
				tail = j.tail
			}
			h := head[j.block] + j.head - s.head[j.block]
			if first < 0 || h < first {
				first = h
			}
		}
		if energy == 0 {
			continue
		}
		best = max(best, (s.taken(bd, l, first)+energy+l.num-1)/l.num+tail)
	}
	return best
}

// stateBound is the bound of a state: its values one after the other, for what is not
// placed yet.
func (s *search) stateBound(l *load, done uint64, head []int) int {
	var stints [8]stint
	tail, first := none, none
	for k := range l.jobs {
		j := &l.jobs[k]
		if done>>j.block&1 == 1 || j.value >= len(stints) || j.d == 0 {
			continue
		}
		stints[j.value].add(j)
		if tail < 0 || j.tail < tail {
			tail = j.tail
		}
		if h := head[j.block] + j.head - s.head[j.block]; first < 0 || h < first {
			first = h
		}
	}
	if first < 0 {
		return 0
	}
	sum := first + tail
	for k := range stints {
		sum += stints[k].least(l.num)
	}
	return sum
}

// taken is the capacity used up or past at time t, summed over the group.
func (s *search) taken(bd *board, l *load, t int) int {
	sum := t * l.num
	if l.pool {
		for _, x := range bd.pools[l.index] {
			sum += max(0, x.to-max(t, x.from)) * x.amount
		}
		return sum
	}
	for r := range bd.busy {
		if l.has(r) {
			sum += max(0, freeFrom(bd.busy[r])-t)
		}
	}
	return sum
}

// dominated says that the same blocks have been placed before with every
// finish and every resource free at least as early, seen from the last start.
func (s *search) dominated(bd *board, done uint64, last int) bool {
	now := append(s.now[:0], last)
	exact := 1 // entries before this one are not rounded up to the last start
	for i := range s.m.blocks {
		if done>>i&1 == 1 && s.m.lagged[i] {
			now = append(now, bd.start[i])
			exact++
		}
	}
	for i := range s.m.blocks {
		if done>>i&1 == 1 && !s.m.lagged[i] {
			now = append(now, bd.start[i]+s.m.blocks[i].dur)
		}
	}
	for r := range bd.busy {
		now = append(now, bd.freeFrom(r))
	}
	s.now = now
	return s.before(placed{done, bd.standing()}, now, exact, last)
}

// before says that the same was placed before and nothing was later: the first entries as
// they are, the others seen from the last start.
func (s *search) before(at placed, now []int, exact, last int) bool {
	for _, old := range s.seen[at] {
		better := true
		for k := range old {
			better = better && (old[k] <= now[k] || k >= exact && old[k] <= last)
		}
		if better {
			return true
		}
	}
	if len(s.seen[at]) < 16 {
		s.seen[at] = append(s.seen[at], slices.Clone(now))
	}
	return false
}

// isLagged says that something waits after the block, or stays taken.
func (b *block) isLagged() bool {
	for _, n := range b.needs {
		if len(n.stays) > 0 {
			return true
		}
	}
	for _, x := range b.sets {
		if x.min > 0 || x.change != (change{}) {
			return true
		}
	}
	for _, a := range b.succs {
		if a.lag > 0 {
			return true
		}
	}
	return false
}
