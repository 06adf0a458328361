package sched

import "slices"

// load is what one group of equal resources has to carry.
type load struct {
	num   int // resources, or the pool's capacity
	jobs  []job
	pool  bool
	index int    // of the pool
	which []bool // by resource: it is of the group
	// state says that the load is a state, which is set to the values of its jobs one
	// after the other: jobs of one value run together, as many as num says.
	state bool

	byHead []rank // to be used again
}

// job is one share of a load: it lies in a block, takes d minutes of amount,
// cannot begin before head and has at least tail minutes after its end.
type job struct {
	block, head, d, tail, amount int
	from                         int // start within the block
	value                        int // of a state
}

// loads are the loads with the heads and tails of the model as they are now.
func (m *model) loads() []load {
	if m.carried == nil {
		m.carried = m.newLoads()
	}
	out := slices.Clone(m.carried)
	n := 0
	for k := range out {
		n += len(out[k].jobs)
	}
	jobs := make([]job, 0, n)
	for k := range out {
		from := len(jobs)
		jobs = append(jobs, out[k].jobs...)
		out[k].jobs = jobs[from:len(jobs):len(jobs)]
		for x := range out[k].jobs {
			j := &out[k].jobs[x]
			j.head, j.tail = m.head[j.block]+j.from, m.tail[j.block]-j.from-j.d
		}
	}
	return out
}

// newLoads lists every pool, every kind of place, and every group of workers that
// a set of needs is confined to.
func (m *model) newLoads() []load {
	out := []load{}
	seen := map[string]bool{}
	for i := range m.blocks {
		for _, n := range m.blocks[i].needs {
			which := make([]bool, len(m.p.Workers)+len(m.p.Places))
			for _, r := range n.options {
				which[r] = true
			}
			if k := key(which); !seen[k] {
				seen[k] = true
				out = append(out, m.confined(which))
			}
		}
	}
	all := make([]bool, len(m.p.Workers)+len(m.p.Places))
	for w := range m.p.Workers {
		all[w] = true
	}
	if len(m.p.Workers) > 0 && !seen[key(all)] {
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
	for k := range m.p.States {
		if l, ok := m.stateLoad(k); ok {
			out = append(out, l)
		}
	}
	return out
}

// stateLoad is the load of a state that has more than one value. At most as many jobs
// run at once as there are workers; those that need nobody count as running alone.
func (m *model) stateLoad(state int) (load, bool) {
	l := load{num: max(1, len(m.p.Workers)), state: true}
	var values []int
	var users [][]int
	for i, b := range m.blocks {
		for _, x := range b.sets {
			if x.state != state {
				continue
			}
			k := slices.Index(values, x.value)
			if k < 0 {
				k = len(values)
				values, users = append(values, x.value), append(users, nil)
			}
			users[k] = append(users[k], i)
			j := m.job(i, x.from, x.to, 0)
			j.value = k
			if m.needsWorker(&b, x.from, x.to) {
				j.amount = 1
			}
			l.jobs = append(l.jobs, j)
		}
	}
	for k := range l.jobs {
		if j := &l.jobs[k]; m.alone(users[j.value]) {
			j.amount = l.num // the only place of all of them takes one at a time
		}
	}
	return l, len(values) > 1
}

// alone says that of these blocks only one is under way at a time.
func (m *model) alone(blocks []int) bool {
	for k, i := range blocks {
		for _, j := range blocks[:k] {
			if !m.one(&m.blocks[j], &m.blocks[i]) {
				return false
			}
		}
	}
	return true
}

// needsWorker says that somebody is kept for all of a part of a block.
func (m *model) needsWorker(b *block, from, to int) bool {
	for k := range b.needs {
		if n := &b.needs[k]; n.options[0] < len(m.p.Workers) && n.from <= from && to <= n.to {
			return true
		}
	}
	return false
}

// stint is what jobs of one value of a state take together at least.
type stint struct{ longest, energy int }

func (s *stint) add(j *job) {
	s.longest = max(s.longest, j.d)
	s.energy += j.d * j.amount
}

func (s *stint) least(num int) int {
	if s.energy <= s.longest*num {
		return s.longest
	}
	return (s.energy + num - 1) / num
}

func key(which []bool) string {
	b := make([]byte, len(which))
	for i, in := range which {
		b[i] = '0'
		if in {
			b[i] = '1'
		}
	}
	return string(b)
}

// has says that a resource is of the group.
func (l *load) has(r int) bool { return r < len(l.which) && l.which[r] }

// confined is the load of the needs whose options all lie in the group.
func (m *model) confined(which []bool) load {
	l := load{which: which}
	for _, in := range which {
		if in {
			l.num++
		}
	}
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
	return job{block: i, head: m.head[i] + from, d: to - from, tail: m.tail[i] - to, amount: amount, from: from}
}

// bound is the working minutes no schedule can beat: the longest path, and for
// every group of resources and every set of its jobs with a least head and a
// least tail, head + energy over number + tail.
func (m *model) bound(loads []load) int {
	best := 0
	for i := range m.blocks {
		best = max(best, m.head[i]+m.tail[i])
	}
	for k := range loads {
		best = loads[k].above(best)
	}
	return best
}

// above is the best bound of the load alone, and no less than best: for each tail the jobs are
// added in the order of falling heads.
func (l *load) above(best int) int {
	l.byHead = l.byHead[:0]
	for k := range l.jobs {
		l.byHead = append(l.byHead, rank{-l.jobs[k].head, k})
	}
	slices.SortFunc(l.byHead, rank.compare)
	for i := range l.jobs {
		tail := l.jobs[i].tail
		if slices.ContainsFunc(l.jobs[:i], func(j job) bool { return j.tail == tail }) {
			continue
		}
		var p pile
		energy := 0
		for _, x := range l.byHead {
			j := &l.jobs[x.job]
			if j.tail < tail {
				continue
			}
			if l.state {
				best = max(best, j.head+p.add(l, j)+tail)
			} else if energy += j.d * j.amount; energy > (best-j.head-tail)*l.num { // it betters the bound: only then it is divided
				best = j.head + (energy+l.num-1)/l.num + tail
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
	if bound >= end {
		return bound
	}
	pairs := m.pairs()
	for bound < end {
		t := bound + (end-bound)/2
		if !m.possible(t, pairs) {
			bound = t + 1
		} else {
			end = t
		}
	}
	return bound
}

// possible says that nothing refutes a schedule that ends by t: neither the tails of
// that finish, nor the orders of pairs and what they leave of the heads and tails.
func (m *model) possible(t int, pairs []pair) bool {
	if m.bound(m.tailsFor(t)) > t {
		return false
	}
	if len(pairs) == 0 {
		return true
	}
	w, ok := m.within(t, pairs)
	if !ok {
		return false
	}
	return m.bound(m.narrowed(w, t)) <= t
}

// useful says that nothing refutes a schedule that ends by t, and leaves the tails as they are.
func (m *model) useful(t int) bool {
	tail := slices.Clone(m.tail)
	ok := m.possible(t, m.pairs())
	m.tail = tail
	return ok
}

// narrowed are the loads with the heads and tails of a window for a finish by t.
func (m *model) narrowed(w window, t int) []load {
	head := m.head
	m.head = w.early
	for i := range m.tail {
		m.tail[i] = max(m.tail[i], t-w.late[i])
	}
	loads := m.loads()
	m.head = head
	return loads
}
