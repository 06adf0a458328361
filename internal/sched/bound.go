package sched

import "slices"

// load is what one group of equal resources has to carry.
type load struct {
	num   int // resources, or the pool's capacity
	jobs  []job
	pool  bool
	index int          // of the pool
	which map[int]bool // resources of the group
}

// job is one share of a load: it lies in a block, takes d minutes of amount,
// cannot begin before head and has at least tail minutes after its end.
type job struct {
	block, head, d, tail, amount int
}

// loads lists every pool, every kind of place, and every group of workers that
// a set of needs is confined to.
func (m *model) loads() []load {
	var out []load
	seen := map[string]bool{}
	for i := range m.blocks {
		for _, n := range m.blocks[i].needs {
			which := map[int]bool{}
			for _, r := range n.options {
				which[r] = true
			}
			if k := key(which, len(m.p.Workers)+len(m.p.Places)); !seen[k] {
				seen[k] = true
				out = append(out, m.confined(which))
			}
		}
	}
	all := map[int]bool{}
	for w := range m.p.Workers {
		all[w] = true
	}
	if k := key(all, len(m.p.Workers)+len(m.p.Places)); len(all) > 0 && !seen[k] {
		out = append(out, m.confined(all))
	}
	for p, pool := range m.p.Pools {
		l := load{num: pool.Capacity, pool: true, index: p}
		for i, b := range m.blocks {
			for _, d := range b.draws {
				if d.pool == p {
					l.jobs = append(l.jobs, m.job(i, 0, b.dur, d.amount))
				}
			}
		}
		if l.num > 0 {
			out = append(out, l)
		}
	}
	return out
}

func key(which map[int]bool, n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = '0'
		if which[i] {
			b[i] = '1'
		}
	}
	return string(b)
}

// confined is the load of the needs whose options all lie in the group.
func (m *model) confined(which map[int]bool) load {
	l := load{num: len(which), which: which}
	for i, b := range m.blocks {
		for _, n := range b.needs {
			inside := true
			for _, r := range n.options {
				inside = inside && which[r]
			}
			if inside {
				l.jobs = append(l.jobs, m.job(i, n.from, n.to, 1))
			}
		}
	}
	return l
}

func (m *model) job(i, from, to, amount int) job {
	return job{i, m.head[i] + from, to - from, m.tail[i] - to, amount}
}

// bound is the working minutes no schedule can beat: the longest path, and for
// every group of resources and every set of its jobs with a least head and a
// least tail, head + energy over number + tail.
func (m *model) bound(loads []load) int {
	best := 0
	for i := range m.blocks {
		best = max(best, m.head[i]+m.tail[i])
	}
	for _, l := range loads {
		best = max(best, l.bound())
	}
	return best
}

// bound is the best bound of the load alone: for each tail the jobs are added in
// the order of falling heads.
func (l load) bound() int {
	byHead := slices.Clone(l.jobs)
	slices.SortFunc(byHead, func(a, b job) int { return b.head - a.head })
	best, done := 0, map[int]bool{}
	for _, t := range l.jobs {
		if done[t.tail] {
			continue
		}
		done[t.tail] = true
		energy := 0
		for _, j := range byHead {
			if j.tail < t.tail {
				continue
			}
			energy += j.d * j.amount
			if energy > 0 {
				best = max(best, j.head+(energy+l.num-1)/l.num+t.tail)
			}
		}
	}
	return best
}

// tailsFor sets the tails to what follows each block in a schedule that ends by
// t, nights that elapsed lags run through included: t less the latest start. It
// returns the loads with these tails.
func (m *model) tailsFor(t int) []load {
	for k := len(m.order) - 1; k >= 0; k-- {
		i := m.order[k]
		b := &m.blocks[i]
		late := t - b.dur
		for j := range b.succs {
			late = min(late, b.succs[j].before(m.clock, t-m.tail[b.succs[j].to]))
		}
		m.tail[i] = t - late
	}
	return m.loads()
}

// tighten raises the bound: where the bound with the tails for t is above t, no
// schedule ends by t. It looks for the least t for which that cannot be shown.
func (m *model) tighten(bound, end int) int {
	for bound < end {
		t := bound + (end-bound)/2
		if m.bound(m.tailsFor(t)) > t {
			bound = t + 1
		} else {
			end = t
		}
	}
	return bound
}
