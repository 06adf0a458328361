package sched

import (
	"cmp"
	"slices"
)

// refuter shows that no schedule ends by a given time, or meets one that does. It
// knows the lags, the pairs of which one comes first, and the energy of every group of
// equal resources. It branches over the order of one pair at a time and propagates
// after each choice. What it does not know of, as who of several people does what, it
// leaves out: where every pair has its order and nothing speaks against it, nothing is
// shown.
//
// Source: destructive bounds are those of Klein & Scholl 1999; branching over pairs is
// that of Carlier & Pinson 1989.
type refuter struct {
	m     *model
	t     int // a schedule would have to end by then
	pairs []pair
	loads []load
	far   [][]int // least distance from start to start by the lags, -1: none
	nodes int
	limit int
	found *board // a schedule that ends by t

	// to be used again
	ranks  []rank
	deeper []*window // by how many choices were made before
}

// rank is a job of a load, by number, with the figure that it is sorted by.
type rank struct{ by, job int }

func (a rank) compare(b rank) int { return cmp.Compare(a.by, b.by) }

// maxRefute is up to how many blocks the refuter is tried: it keeps a distance for
// every two.
const maxRefute = 160

// distances are the working minutes that lie at least between the starts of two blocks
// of which one comes before the other, -1 where none does. Lags that run on the clock
// count as nothing: they may pass at night.
func (m *model) distances() [][]int {
	n := len(m.blocks)
	far := inRows(make([]int, n*n), n)
	for i := range far {
		for j := range far[i] {
			far[i][j] = none
		}
	}
	for _, j := range m.order {
		for _, a := range m.blocks[j].preds {
			d := arcLength(&a)
			if d < 0 {
				continue
			}
			far[a.from][j] = max(far[a.from][j], d)
			for i := range far {
				if far[i][a.from] >= 0 {
					far[i][j] = max(far[i][j], far[i][a.from]+d)
				}
			}
		}
	}
	return far
}

// inRows is a table by its rows of n figures.
func inRows(all []int, n int) [][]int {
	rows := make([][]int, n)
	for i := range rows {
		rows[i] = all[i*n : (i+1)*n]
	}
	return rows
}

// copyOf is a table of its own.
func copyOf(rows [][]int) [][]int {
	all := make([]int, 0, len(rows)*len(rows))
	for _, r := range rows {
		all = append(all, r...)
	}
	return inRows(all, len(rows))
}

func arcLength(a *arc) int {
	d := a.k - a.back
	if a.clock == Working {
		d += a.lag
	}
	return d
}

// refuter makes one for this model.
func (m *model) refuter(pairs []pair) *refuter {
	return &refuter{m: m, pairs: pairs, loads: m.loads(), far: m.distances()}
}

// try says whether no schedule ends by t, and gives one that does if it met one.
func (r *refuter) try(t, limit int) (refuted bool, found *board) {
	r.t, r.nodes, r.limit, r.found = t, 0, limit, nil
	w := r.open()
	refuted = r.refuted(&w, 0)
	return refuted, r.found
}

// open is the window before anything is chosen. Pairs that the lags order are settled.
func (r *refuter) open() window {
	m, n := r.m, len(r.m.blocks)
	w := window{early: slices.Clone(m.head), late: make([]int, n), settled: make([]bool, len(r.pairs)), far: copyOf(r.far), back: copyOf(r.far),
		farAt: make([]int, n), backAt: make([]int, n), before: make([]asked, len(r.loads)), behind: make([]asked, len(r.loads))}
	for i := range m.blocks {
		w.late[i] = r.t - m.blocks[i].dur
		for j := range m.blocks {
			w.back[i][j] = r.far[j][i]
		}
	}
	for k := range r.pairs {
		p := &r.pairs[k]
		switch {
		case r.far[p.i][p.j] >= m.blocks[p.i].dur:
			w.settled[k], w.more = true, append(w.more, p.ij...)
		case r.far[p.j][p.i] >= m.blocks[p.j].dur:
			w.settled[k], w.more = true, append(w.more, p.ji...)
		}
	}
	return w
}

// as makes the window like another one, in the room that it has.
func (w *window) as(o *window) {
	w.early, w.late = append(w.early[:0], o.early...), append(w.late[:0], o.late...)
	w.settled, w.more = append(w.settled[:0], o.settled...), append(w.more[:0], o.more...)
	w.far, w.back = like(w.far, o.far), like(w.back, o.back)
	w.farAt, w.backAt = append(w.farAt[:0], o.farAt...), append(w.backAt[:0], o.backAt...)
	w.before, w.behind = append(w.before[:0], o.before...), append(w.behind[:0], o.behind...)
	w.chosen = o.chosen
}

// refuted says that no schedule within the window exists, after so many choices. False says nothing.
func (r *refuter) refuted(w *window, deep int) bool {
	r.m.p.work.Step()
	if r.nodes++; r.nodes > r.limit || r.found != nil {
		return false
	}
	if !r.propagate(w) {
		return true
	}
	k := r.tightest(w)
	if k < 0 {
		r.meet(w)
		return false
	}
	p := &r.pairs[k]
	first, second := p.ij, p.ji
	if r.play(w, p.ji) > r.play(w, p.ij) {
		first, second = second, first
	}
	if deep == len(r.deeper) {
		n := len(r.m.blocks)
		r.deeper = append(r.deeper, &window{far: inRows(make([]int, n*n), n), back: inRows(make([]int, n*n), n)})
	}
	c := r.deeper[deep]
	for _, arcs := range [][]arc{first, second} {
		c.as(w)
		c.settle(k, arcs)
		if !r.refuted(c, deep+1) {
			return false
		}
	}
	return true
}

// meet tries to make a schedule of a window in which all pairs are settled.
func (r *refuter) meet(w *window) {
	for _, make := range []func() *board{
		func() *board { return r.m.serial(byPriority(w.early), nil) },
		func() *board { return r.m.serial(byPriority(w.late), nil) },
		func() *board { return r.m.soon(w.late) },
	} {
		bd := r.m.improve(make())
		if bd != nil && bd.end <= r.t {
			r.found = bd
			return
		}
		r.m.drop(bd)
	}
}

// settle chooses an order of a pair.
func (w *window) settle(k int, arcs []arc) {
	w.settled[k], w.more = true, append(w.more, arcs...)
	w.chosen++
	for x := range arcs {
		a := &arcs[x]
		d := arcLength(a)
		if d <= w.far[a.from][a.to] {
			continue
		}
		w.apart(a.from, a.to, d)
		for i := range w.far {
			base := w.far[i][a.from]
			if i == a.from {
				base = 0
			}
			if base < 0 {
				continue
			}
			for j, y := range w.far[a.to] {
				if j == a.to {
					y = 0
				}
				if y >= 0 && i != j && base+d+y > w.far[i][j] {
					w.apart(i, j, base+d+y)
				}
			}
		}
	}
}

// apart notes that block j starts d after block i at least, by the order chosen last.
func (w *window) apart(i, j, d int) {
	w.far[i][j], w.back[j][i] = d, d
	w.farAt[i], w.backAt[j] = w.chosen, w.chosen
}

// play is how far the arcs are from not fitting into the window.
func (r *refuter) play(w *window, arcs []arc) int {
	least := never
	for k := range arcs {
		a := &arcs[k]
		least = min(least, w.late[a.to]-a.after(r.m.clock, w.early[a.from]))
	}
	return least
}

// tightest is the pair that is not settled and has the least play both ways, -1: all
// are settled.
func (r *refuter) tightest(w *window) int {
	best, at := never, none
	for k := range r.pairs {
		if w.settled[k] {
			continue
		}
		ij, ji := r.play(w, r.pairs[k].ij), r.play(w, r.pairs[k].ji)
		if s := ij + ji + min(ij, ji); at < 0 || s < best {
			best, at = s, k
		}
	}
	return at
}

// propagate narrows the window until nothing changes; false when nothing is left.
func (r *refuter) propagate(w *window) bool {
	for changed := true; changed; {
		changed = false
		if !r.m.narrow(w, w.more) || !r.order(w, &changed) || !r.energy(w, &changed) {
			return false
		}
	}
	return !r.overloaded(w)
}

// order settles the pairs of which only one order fits.
func (r *refuter) order(w *window, changed *bool) bool {
	for k := range r.pairs {
		if w.settled[k] {
			continue
		}
		p := &r.pairs[k]
		ij, ji := r.m.fit(w, p.ij), r.m.fit(w, p.ji)
		switch {
		case !ij && !ji:
			return false
		case !ij:
			w.settle(k, p.ji)
			*changed = true
		case !ji:
			w.settle(k, p.ij)
			*changed = true
		}
	}
	return true
}

// energy moves the ends of the window by what has to be done before or after a block
// by the same resources: it begins no sooner than all of the work before it can be
// done, and the work after it has to fit behind it.
func (r *refuter) energy(w *window, changed *bool) bool {
	for k := range r.loads {
		l := &r.loads[k]
		if since := w.before[k].since(w, l, w.early); since < w.chosen {
			order := r.ranked(l, func(j *job) int { return -w.early[j.block] - j.from })
			for c, at := range w.backAt {
				if at <= since {
					continue
				}
				if t := l.before(w, order, c, w.early[c]); t > w.early[c] {
					w.early[c], *changed = r.m.nextFit(&r.m.blocks[c], t), true
				}
			}
		}
		if since := w.behind[k].since(w, l, w.late); since < w.chosen {
			order := r.ranked(l, func(j *job) int { return w.late[j.block] + j.from + j.d })
			for c, at := range w.farAt {
				if at <= since {
					continue
				}
				if t := l.behind(w, order, c, w.late[c]); t < w.late[c] {
					w.late[c], *changed = t, true
				}
			}
		}
		for c := range r.m.blocks {
			if w.early[c] > w.late[c] {
				return false
			}
		}
	}
	return true
}

// ranked are the jobs of a load in the order of a figure. The list is used again by the
// next call.
func (r *refuter) ranked(l *load, by func(j *job) int) []rank {
	r.ranks = r.ranks[:0]
	for k := range l.jobs {
		r.ranks = append(r.ranks, rank{by(&l.jobs[k]), k})
	}
	slices.SortFunc(r.ranks, rank.compare)
	return r.ranks
}

// asked is what the ends of a window were when a load was last asked what follows from
// them. Earliest starts only grow and latest ones only shrink, so that an equal sum means
// that none has moved; far counts how often an order was chosen.
type asked struct {
	yes      bool
	sum, far int
}

// since is the choice up to which the load was asked already, with the ends as they are: only
// distances that have changed after it say more. It is none where they have moved. How it stands
// now is noted.
func (a *asked) since(w *window, l *load, ends []int) int {
	now := asked{yes: true, far: w.chosen}
	for k := range l.jobs {
		now.sum += ends[l.jobs[k].block]
	}
	was := *a
	*a = now
	if !was.yes || was.sum != now.sum {
		return none
	}
	return was.far
}

// pile is what jobs of a state have to do, which is set to their values one after the other.
type pile struct {
	least  int // the time that all stints take at least
	stints [8]stint
	more   map[int]*stint // of values beyond those
}

// add puts a job on the pile and returns the time that all of it takes at least.
func (p *pile) add(l *load, j *job) int {
	s := p.stint(j.value)
	p.least -= s.least(l.num)
	s.add(j)
	p.least += s.least(l.num)
	return p.least
}

func (p *pile) stint(value int) *stint {
	if value < len(p.stints) {
		return &p.stints[value]
	}
	if p.more == nil {
		p.more = map[int]*stint{}
	}
	if p.more[value] == nil {
		p.more[value] = &stint{}
	}
	return p.more[value]
}

// before is the earliest start of a block after the work of the load that comes before
// it, and no less than best. The jobs are given the last to begin first.
func (l *load) before(w *window, order []rank, c, best int) int {
	var p pile
	energy, rest, first := 0, never, never
	row := w.back[c]
	for _, x := range order {
		j := &l.jobs[x.job]
		far := row[j.block]
		q := far - j.from - j.d
		if far < 0 || q < 0 || j.d == 0 {
			continue
		}
		rest, first = min(rest, q), min(first, w.early[j.block]+j.from) // an early may have moved since the jobs were sorted
		if l.state {
			best = max(best, first+p.add(l, j)+rest)
		} else if energy += j.d * j.amount; energy > (best-first-rest)*l.num { // it betters the start: only then it is divided
			best = first + (energy+l.num-1)/l.num + rest
		}
	}
	return best
}

// behind is the latest start of a block before the work of the load that comes after
// it, and no more than best. The jobs are given the first to end first.
func (l *load) behind(w *window, order []rank, c, best int) int {
	var p pile
	energy, rest, last := 0, never, 0
	row := w.far[c]
	for _, x := range order {
		j := &l.jobs[x.job]
		if row[j.block] < 0 || j.d == 0 {
			continue
		}
		rest, last = min(rest, row[j.block]+j.from), max(last, w.late[j.block]+j.from+j.d)
		if l.state {
			best = min(best, last-p.add(l, j)-rest)
		} else if energy += j.d * j.amount; energy > (last-rest-best)*l.num {
			best = last - rest - (energy+l.num-1)/l.num
		}
	}
	return best
}

// overloaded says that some work does not fit between its first start and its last end.
func (r *refuter) overloaded(w *window) bool {
	for x := range r.loads {
		l := &r.loads[x]
		for k := range l.jobs { // nothing of the refuter but this goes by the heads and tails
			j := &l.jobs[k]
			j.head = w.early[j.block] + j.from
			j.tail = r.t - (w.late[j.block] + j.from + j.d)
		}
		if l.above(r.t) > r.t {
			return true
		}
	}
	return false
}

// settleGap proves the best schedule, betters it, or raises the bound, by refuting.
// effort is the limit of choices of all tries.
func (m *model) settleGap(best *board, bound, effort int) (*board, int) {
	if effort == 0 || len(m.blocks) > maxRefute {
		return best, bound
	}
	if best.end <= bound {
		return best, best.end
	}
	r := m.refuter(m.pairs())
	if len(r.pairs) == 0 {
		return best, bound
	}
	for best.end > bound {
		refuted, found := r.try(best.end-1, effort/2)
		if refuted {
			return best, best.end
		}
		if found == nil {
			break
		}
		best = found
	}
	for low, high := bound, best.end-1; low < high && effort >= 16; { // a sixteenth of the choices for each time
		t := low + (high-low)/2
		refuted, found := r.try(t, effort/16)
		switch {
		case refuted:
			low, bound = t+1, t+1
		case found != nil:
			best, high = found, found.end-1
		default:
			high = t
		}
	}
	return best, min(bound, best.end)
}
