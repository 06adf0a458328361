package sched

import "slices"

// sharedSearch is the exact search for several jobs: as that for one, blocks are placed in
// the order of their starts, each as early as may be; what counts is what the finishes of
// the jobs are worth. A node is dropped when its bound is not better than the best, or when
// the same blocks were placed before with every finish, of block and job, and every resource
// free at least as early.
type sharedSearch struct {
	search
	x    *sharing
	bred bred
}

// exact betters the best schedule; true when it is proven that none is better.
func (x *sharing) exact(best bred, limit int) (bred, bool) {
	m := x.m
	if len(m.blocks) > 64 || limit == 0 || !m.startsInOrder() {
		return best, false
	}
	s := &sharedSearch{x: x, bred: best, search: search{m: m, limit: limit, prio: x.alone, seen: map[placed][][]int{},
		loads: m.loads(), head: m.head, after: make([]uint64, len(m.blocks))}}
	s.node(m.newBoard(), 0, 0)
	return s.bred, !s.full
}

func (s *sharedSearch) node(bd *board, done uint64, last int) {
	if s.full {
		return
	}
	s.m.p.work.Step()
	if s.nodes++; s.nodes > s.limit {
		s.full = true
		return
	}
	if done == (uint64(1)<<len(s.m.blocks))-1 {
		if b := s.x.bred(bd.clone()); b.better(s.bred) {
			s.bred = b
		}
		return
	}
	ends, worth := s.least(bd, done, last)
	if !(bred{worth: worth}).better(s.bred) || s.beaten(bd, done, last, ends) {
		return
	}
	was, end := slices.Clone(bd.hulls), bd.end
	for _, o := range s.options(bd, done, last) {
		bd.put(o.block, o.start, o.who)
		s.node(bd, done|1<<o.block, o.start)
		bd.takeBack(o.block, was, end)
	}
}

// least is what no schedule that goes on from here beats, and until when each job is under
// way by now.
func (s *sharedSearch) least(bd *board, done uint64, last int) ([]int, [3]int) {
	m := s.m
	now, ends := make([]int, len(s.x.s.Due)), make([]int, len(s.x.s.Due))
	head := make([]int, len(m.blocks))
	for _, i := range m.order {
		k, b := s.x.of[i], &m.blocks[i]
		if done>>i&1 == 1 {
			head[i] = bd.start[i]
			now[k] = max(now[k], head[i]+b.dur)
			ends[k] = max(ends[k], head[i]+b.dur)
			continue
		}
		t := max(m.head[i], last)
		for j := range b.preds {
			t = max(t, b.preds[j].after(m.clock, head[b.preds[j].from]))
		}
		head[i] = t
		ends[k] = max(ends[k], t+m.tail[i])
	}
	worth := [3]int{0, 0, bd.end}
	for k, e := range ends {
		if e == 0 {
			continue
		}
		at := max(m.clock.end(e), s.x.bounds[k])
		worth[0] += s.x.late(k, at)
		worth[1] += at
		worth[2] = max(worth[2], e)
	}
	return now, worth
}

// beaten says that the same blocks were placed before, and nothing that matters is later.
func (s *sharedSearch) beaten(bd *board, done uint64, last int, ends []int) bool {
	now := append(make([]int, 0, len(s.m.blocks)+len(bd.busy)+len(ends)+1), last)
	now = append(now, ends...)
	for i := range s.m.blocks {
		if done>>i&1 == 1 && s.m.lagged[i] {
			now = append(now, bd.start[i])
		}
	}
	exact := len(now) // entries before this one are not rounded up to the last start
	for i := range s.m.blocks {
		if done>>i&1 == 1 && !s.m.lagged[i] {
			now = append(now, bd.start[i]+s.m.blocks[i].dur)
		}
	}
	for r := range bd.busy {
		now = append(now, bd.freeFrom(r))
	}
	return s.before(placed{done, bd.standing()}, now, exact, last)
}
