package sched

import (
	"slices"
	"sort"
)

// A problem with greatest distances is searched in another way than one without:
// placing as early as possible can miss every schedule, since a block may have to
// wait so that another one is not too late for it.
//
// The search starts with every block as early as the lags allow. Where blocks
// together take more than there is, one of them has to end before another begins:
// a branch for each ordered pair of a least set that is too much, each with one
// lag more, and with those of the branches before it denied, so that no schedule
// is looked at twice. Who does it is branched on when nothing else is left.
// Since every schedule lies in some branch and each branch begins as early as
// its lags allow, the shortest is found.
//
// Source: De Reyck & Herroelen 1998 (delaying by lags), Bartusch, Moehring &
// Radermacher 1988 (least sets that are too much).
type lagSearch struct {
	m     *model
	loads []load
	best  *board
	end   int // no schedule as long as this is wanted
	goal  int
	nodes int
	limit int
	full  bool
}

// lagNode is what is decided so far.
type lagNode struct {
	start []int
	who   [][]int // resource of each need, -1: open
	arcs  []arc   // added ones
}

// greatest says that some lag is a greatest distance.
func (p *Problem) greatest() bool {
	return slices.ContainsFunc(p.Activities, func(a Activity) bool {
		return slices.ContainsFunc(a.After, func(l Lag) bool { return l.Minutes < 0 })
	})
}

// solveGreatest schedules a problem that has greatest distances.
func (m *model) solveGreatest() (Solution, error) {
	if _, err := CriticalPath(*m.p); err != nil {
		return Solution{}, err
	}
	s := &lagSearch{m: m, limit: max(m.p.Nodes, 1), end: m.horizon()}
	root := m.lagRoot()
	if !s.settle(&root, nil) {
		return Solution{}, refuse("schedule", "the lags leave no time for it")
	}
	m.lagBounds(root.start)
	s.loads = m.loads()
	s.goal = s.bound(root.start)
	s.visit(root)
	switch {
	case s.best == nil && s.full:
		return Solution{}, refuse("schedule", "no schedule was found that keeps every greatest distance; after %d tries none is ruled out either", s.nodes)
	case s.best == nil:
		return Solution{}, refuse("schedule", "no schedule keeps every greatest distance with these workers, places and pools")
	}
	out := m.solution(s.best)
	out.Nodes, out.Proven = s.nodes, !s.full || s.best.end <= s.goal
	out.WorkBound, out.BoundMin, out.LeastEnd = s.goal, m.clock.end(s.goal), m.clock.end(s.goal)
	if out.Proven {
		out.WorkBound, out.BoundMin = s.best.end, out.FinishMin
	}
	for i := range m.blocks {
		out.CriticalMin = max(out.CriticalMin, m.head[i]+m.blocks[i].dur)
	}
	return out, nil
}

// horizon is a number of working minutes that suffices if anything does: every
// block, lag and wait for a window one after the other.
func (m *model) horizon() int {
	sum := 1
	for i := range m.blocks {
		b := &m.blocks[i]
		sum += b.dur + max(b.release, 0)
		for _, a := range b.preds {
			sum += max(a.lag, 0) + max(a.k, 0)
		}
		if b.span > 0 {
			sum += 14 * dayMin
		}
	}
	return sum
}

func (m *model) lagRoot() lagNode {
	n := lagNode{start: make([]int, len(m.blocks)), who: make([][]int, len(m.blocks))}
	for i := range m.blocks {
		b := &m.blocks[i]
		n.start[i] = m.nextFit(b, max(b.release, 0))
		n.who[i] = make([]int, len(b.needs))
		for k, x := range b.needs {
			n.who[i][k] = none
			if len(x.options) == 1 {
				n.who[i][k] = x.options[0]
			}
		}
	}
	return n
}

// lagBounds sets heads and least tails by the lags.
func (m *model) lagBounds(start []int) {
	m.head = slices.Clone(start)
	m.tail = make([]int, len(m.blocks))
	for i := range m.blocks {
		m.tail[i] = m.blocks[i].dur
	}
	for range m.blocks { // longest paths of as many steps
		for i := range m.blocks {
			for _, a := range m.blocks[i].succs {
				x := m.tail[a.to] + a.k - a.back
				if a.clock == Working {
					x += a.lag
				} else if a.lag < 0 {
					continue
				}
				m.tail[i] = max(m.tail[i], x)
			}
		}
	}
}

// settle adds lags and moves every block to the earliest start they leave; false
// when that is too late.
func (s *lagSearch) settle(n *lagNode, more []arc) bool {
	n.arcs = append(slices.Clip(n.arcs), more...)
	for changed := true; changed; {
		changed = false
		raise := func(a *arc) bool {
			if t := a.after(s.m.clock, n.start[a.from]); t > n.start[a.to] {
				b := &s.m.blocks[a.to]
				n.start[a.to] = s.m.nextFit(b, t)
				changed = true
				return n.start[a.to]+b.dur < s.end
			}
			return true
		}
		for i := range s.m.blocks {
			for k := range s.m.blocks[i].preds {
				if !raise(&s.m.blocks[i].preds[k]) {
					return false
				}
			}
		}
		for k := range n.arcs {
			if !raise(&n.arcs[k]) {
				return false
			}
		}
	}
	return true
}

// bound is the working minutes no schedule with these earliest starts can beat.
func (s *lagSearch) bound(start []int) int {
	best := 0
	for i := range s.m.blocks {
		best = max(best, start[i]+s.m.tail[i])
	}
	for _, l := range s.loads {
		now := l
		now.jobs = slices.Clone(l.jobs)
		for k, j := range now.jobs {
			now.jobs[k].head = start[j.block] + j.head - s.m.head[j.block]
		}
		best = now.above(best)
	}
	return best
}

func (s *lagSearch) visit(n lagNode) {
	if s.full || s.best != nil && s.best.end <= s.goal {
		return
	}
	s.m.p.work.Step()
	if s.nodes++; s.nodes > s.limit {
		s.full = true
		return
	}
	if s.bound(n.start) >= s.end {
		return
	}
	if set := s.tooMuch(&n); set != nil {
		s.pairs(n, set)
		return
	}
	for _, i := range s.byStart(n.start) {
		if k := slices.Index(n.who[i], none); k >= 0 {
			s.assign(n, i, k)
			return
		}
	}
	bd := s.m.newBoard()
	for i := range s.m.blocks {
		bd.put(i, n.start[i], n.who[i])
	}
	if s.best == nil || bd.end < s.best.end {
		s.best, s.end = bd, bd.end
	}
}

func (s *lagSearch) byStart(start []int) []int {
	out := make([]int, len(start))
	for i := range out {
		out[i] = i
	}
	sort.SliceStable(out, func(a, b int) bool { return start[out[a]] < start[out[b]] })
	return out
}

// tooMuch is a least set of blocks that are under way together and take more
// than there is, the earliest one.
func (s *lagSearch) tooMuch(n *lagNode) []int {
	for _, i := range s.byStart(n.start) {
		var now []int
		for j := range s.m.blocks {
			if t := n.start[i]; n.start[j] <= t && t < n.start[j]+s.m.blocks[j].dur {
				now = append(now, j)
			}
		}
		for _, j := range now {
			if j != i && s.clash(n, i, j) {
				return []int{i, j}
			}
		}
		for p := range s.m.p.Pools {
			if set := s.overdrawn(now, p); set != nil {
				return set
			}
		}
	}
	return nil
}

// clash says that two blocks use the same worker or place.
func (s *lagSearch) clash(n *lagNode, i, j int) bool {
	for x, r := range n.who[i] {
		if r >= 0 && s.m.blocks[i].needs[x].time(&s.m.blocks[i]) > 0 {
			for y, q := range n.who[j] {
				if q == r && s.m.blocks[j].needs[y].time(&s.m.blocks[j]) > 0 {
					return true
				}
			}
		}
	}
	return false
}

// overdrawn is a least set of the blocks that draw more than the pool holds: the
// largest first, up to the one that is too much.
func (s *lagSearch) overdrawn(now []int, pool int) []int {
	type share struct{ block, amount int }
	var shares []share
	for _, j := range now {
		for _, d := range s.m.blocks[j].draws {
			if d.pool == pool {
				shares = append(shares, share{j, d.amount})
			}
		}
	}
	sort.SliceStable(shares, func(a, b int) bool { return shares[a].amount > shares[b].amount })
	sum := 0
	var out []int
	for _, x := range shares {
		sum += x.amount
		out = append(out, x.block)
		if sum > s.m.p.Pools[pool].Capacity {
			return out
		}
	}
	return nil
}

// pairs branches over which block of the set ends before which begins.
func (s *lagSearch) pairs(n lagNode, set []int) {
	type branch struct {
		node  lagNode
		bound int
		deny  arc
	}
	var all []branch
	for _, i := range set {
		for _, j := range set {
			if i == j {
				continue
			}
			d := s.m.blocks[i].dur
			x := n.with()
			if s.settle(&x, []arc{{from: i, to: j, k: d}}) {
				all = append(all, branch{x, s.bound(x.start), arc{from: j, to: i, k: 1 - d}})
			}
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].bound < all[b].bound })
	var denied []arc
	for _, b := range all {
		if s.settle(&b.node, denied) {
			s.visit(b.node)
		}
		denied = append(denied, b.deny)
	}
}

// with is the node to be changed without changing the one it came from.
func (n lagNode) with() lagNode {
	return lagNode{slices.Clone(n.start), slices.Clone(n.who), slices.Clip(n.arcs)}
}

// assign branches over who or what serves a need; of those that are alike and
// not used yet one is tried.
func (s *lagSearch) assign(n lagNode, i, k int) {
	used := map[int]bool{}
	for _, w := range n.who {
		for _, r := range w {
			used[r] = true
		}
	}
	var tried []int
	for _, r := range s.m.blocks[i].needs[k].options {
		if !used[r] {
			if slices.ContainsFunc(tried, func(q int) bool { return s.alike(q, r) }) {
				continue
			}
			tried = append(tried, r)
		}
		x := n.with()
		x.who[i] = slices.Clone(x.who[i])
		x.who[i][k] = r
		s.visit(x)
	}
}

// alike says that two resources are in the same groups.
func (s *lagSearch) alike(q, r int) bool {
	return !slices.ContainsFunc(s.loads, func(l load) bool { return l.has(q) != l.has(r) })
}
