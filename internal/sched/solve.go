package sched

import "slices"

// Solve schedules the problem: a priority rule, double justification and
// biased samples give a schedule; the longest path and the energy of the
// resources give a bound; when the two differ and Nodes allows, an exact search
// closes the gap or says that it could not. A problem with greatest distances is
// searched by itself; where no schedule is found that keeps them, that is an
// error which says whether there is none.
func Solve(p Problem) (Solution, error) {
	if err := p.check(); err != nil {
		return Solution{}, err
	}
	m, err := newModel(&p)
	if err != nil {
		return Solution{}, err
	}
	if p.greatest() {
		return m.solveGreatest()
	}
	if p.Most > 0 && !m.useful(p.Most) {
		return Solution{}, refuse("schedule", "none takes at most %d working minutes", p.Most)
	}
	bound := max(m.bound(m.loads()), p.Floor)
	best := m.heuristic(bound)
	if best == nil {
		if best = m.first(bound); best == nil {
			return Solution{}, m.heldUp()
		}
	}
	bound = m.tighten(bound, best.end)
	away := m.trim(best.end)
	if !away && (m.p.Floor == 0 || bound > m.p.Floor) { // a floor comes from a problem within this one that was refuted already
		best, bound = m.settleGap(best, bound, m.refutes())
	}
	best, nodes, proven := m.exact(best, bound)
	if proven = proven && (!away || best.end <= bound); proven {
		bound = best.end
	}
	out := m.solution(best)
	out.WorkBound, out.Nodes, out.Proven = bound, nodes, bound == best.end
	out.LeastEnd = m.clock.end(bound)
	out.BoundMin = out.LeastEnd
	if out.Proven {
		out.BoundMin = out.FinishMin
	}
	for i := range m.blocks {
		out.CriticalMin = max(out.CriticalMin, m.head[i]+m.blocks[i].dur)
	}
	return out, nil
}

// refutes is how many choices of the refuter are worth as much as the exact search: a choice of
// a few blocks is dearer than a node by refuteShare, and its price grows with the pairs of blocks.
func (m *model) refutes() int {
	n := len(m.blocks)
	return m.p.Nodes / max(refuteShare, refuteShare*n*n/refuteBlocks/refuteBlocks)
}

const (
	refuteShare  = 8
	refuteBlocks = 20 // how many blocks the share is for
)

// solution turns a board into dates.
func (m *model) solution(bd *board) Solution {
	out := Solution{Slots: make([]Slot, len(m.p.Activities)), WorkMin: bd.end, Broken: m.broken}
	slack := m.slack(bd)
	out.FinishMin = m.clock.begin(0)
	for i, b := range m.blocks {
		for k, a := range b.acts {
			act := m.p.Activities[a]
			s := Slot{Worker: none, Place: none, Slack: slack[i], Critical: slack[i] == 0}
			w := bd.start[i] + b.offs[k]
			s.From, s.To = m.clock.begin(w), m.clock.end(w+act.Minutes)
			if act.Minutes == 0 {
				s.To = s.From
			}
			for n, nd := range b.needs {
				if k < nd.first || k > nd.last {
					continue
				}
				if r := bd.who[i][n]; r < len(m.p.Workers) {
					if act.Skill != "" {
						s.Worker = r
					}
				} else {
					s.Place = r - len(m.p.Workers)
				}
			}
			out.Slots[a] = s
			out.FinishMin = max(out.FinishMin, s.To)
		}
	}
	return out
}

// slack is how far each block can slip while the finish, the lags and the
// order on every resource stay.
func (m *model) slack(bd *board) []int {
	type gap struct{ to, least int }
	gaps := make([][]gap, len(m.blocks))
	apart := make([][]arc, len(m.blocks))
	for i := range m.blocks {
		for j := range m.blocks {
			if i == j || bd.start[i]+m.blocks[i].dur > bd.start[j] {
				continue
			}
			if m.share(bd, i, j) {
				gaps[i] = append(gaps[i], gap{j, m.blocks[i].dur})
			}
			apart[i] = append(apart[i], m.apart(bd, i, j)...)
		}
	}
	late := make([]int, len(m.blocks))
	for i, b := range m.blocks {
		late[i] = bd.end - b.dur
	}
	order := make([]int, len(m.blocks)) // the last to start first: one round is then enough for most
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return bd.start[j] - bd.start[i] })
	for changed := true; changed; {
		changed = false
		lower := func(i, t int) {
			if t < late[i] {
				late[i], changed = t, true
			}
		}
		for _, i := range order {
			b := &m.blocks[i]
			for _, g := range gaps[i] {
				lower(i, late[g.to]-g.least)
			}
			for k := range apart[i] {
				lower(i, apart[i][k].before(m.clock, late[apart[i][k].to]))
			}
			for j := range b.succs {
				lower(i, b.succs[j].before(m.clock, late[b.succs[j].to]))
			}
			if !m.fits(b, late[i]) || m.meets(m.away, bd, i, late[i]) {
				lower(i, bd.start[i])
			}
		}
	}
	for i := range late {
		late[i] -= bd.start[i]
	}
	return late
}

// share says that two blocks use the same worker, place or pool.
func (m *model) share(bd *board, i, j int) bool {
	for x := range m.blocks[i].needs {
		for y := range m.blocks[j].needs {
			if bd.who[i][x] == bd.who[j][y] && m.blocks[i].needs[x].time(&m.blocks[i]) > 0 && m.blocks[j].needs[y].time(&m.blocks[j]) > 0 {
				return true
			}
		}
	}
	for _, a := range m.blocks[i].draws {
		for _, c := range m.blocks[j].draws {
			if a.pool == c.pool {
				return true
			}
		}
	}
	return false
}
