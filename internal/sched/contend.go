package sched

import (
	"cmp"
	"slices"
)

// What several jobs want of the same people or places bounds when the first, the
// second, ... of them can be done, whatever their order is: the work of each job on one
// group of equal resources is taken as work that may be interrupted and shared among all
// of them, the job with the least work left first. At every moment that has as many jobs
// done as any way of doing them can. The finishes in rising order are then not earlier
// than those, with the least tail behind; and they are not earlier than the finishes of
// the jobs by themselves, in rising order.
//
// Source: Schrage 1968 (least remaining work first); pairing finishes and due dates in
// rising order is the least sum of lateness (exchange argument, constructed).

// maxContend is up to how many jobs every set of them is tried: two to the power of it.
const maxContend = 6

// Together is what a schedule of several jobs is worth, in minutes of the clock, with
// what no schedule goes below.
type Together struct {
	LateMin   int // sum over the jobs of the minutes late against the promises
	LateBound int
	SumMin    int // sum of the finishes
	SumBound  int
}

// proven says that no schedule is less late, or as late with earlier finishes.
func (t Together) proven() bool { return t.LateMin == t.LateBound && t.SumMin == t.SumBound }

// want is what a job wants of a load: work that does not begin before head and has at
// least tail minutes after it.
type want struct{ job, head, work, tail int }

// wants are what the jobs of a set want of a load, of the parts with at least a head
// and at least a tail.
func (x *sharing) wants(l *load, in []bool, head, tail int) []want {
	out := make([]want, 0, len(in))
	at := make([]int, len(in))
	for k := range l.jobs {
		j := &l.jobs[k]
		w := x.of[j.block]
		if !in[w] || j.head < head || j.tail < tail || j.d == 0 {
			continue
		}
		if at[w] == 0 {
			out = append(out, want{w, j.head, 0, j.tail})
			at[w] = len(out)
		}
		y := &out[at[w]-1]
		y.head, y.tail, y.work = min(y.head, j.head), min(y.tail, j.tail), y.work+j.d*j.amount
	}
	for _, h := range x.held {
		if l.has(h.place) && in[h.job] && h.head >= head && h.tail >= tail && at[h.job] > 0 {
			y := &out[at[h.job]-1]
			y.head, y.tail, y.work = min(y.head, h.head), min(y.tail, h.tail), max(y.work, h.work)
		}
	}
	return out
}

// heldPlace is the time that a place is kept for a job at least.
type heldPlace struct {
	want
	place int // one of its kind
}

// keeps are the times that places are kept: from the first of a hold to its last, by
// the lags between any two of it.
func (x *sharing) keeps() []heldPlace {
	m := x.m
	far := m.distances()
	var out []heldPlace
	for h := range m.p.Holds {
		var in []int
		y := heldPlace{want: want{head: never, tail: never}}
		for i := range m.blocks {
			for k := range m.blocks[i].needs {
				if n := &m.blocks[i].needs[k]; n.hold == h && n.time(&m.blocks[i]) > 0 {
					in = append(in, i)
					y.job, y.place = x.of[i], n.options[0]
					y.head, y.tail = min(y.head, m.head[i]), min(y.tail, m.tail[i]-m.blocks[i].dur)
				}
			}
		}
		for _, i := range in {
			for _, j := range in {
				if far[i][j] >= 0 {
					y.work = max(y.work, far[i][j]+m.blocks[j].dur)
				}
			}
		}
		if y.work > 0 {
			out = append(out, y)
		}
	}
	return out
}

// finishes are when the first, the second, ... of the wants can be done at the
// earliest, in working minutes, the least tail behind.
func finishes(ws []want, num int) []int {
	slices.SortFunc(ws, func(a, b want) int { return cmp.Compare(a.head, b.head) })
	left, tail := make([]int, len(ws)), never
	for k, w := range ws {
		left[k], tail = w.work, min(tail, w.tail)
	}
	var out []int
	for now, come := 0, 0; len(out) < len(ws); { // time counts in parts of a minute: num of them
		for come < len(ws) && ws[come].head*num <= now {
			come++
		}
		least := none
		for k := range come {
			if left[k] > 0 && (least < 0 || left[k] < left[least]) {
				least = k
			}
		}
		next := never
		if come < len(ws) {
			next = ws[come].head * num
		}
		switch {
		case least < 0:
			now = next
		case now+left[least] <= next:
			now += left[least]
			left[least] = 0
			out = append(out, (now+num-1)/num+tail)
		default:
			left[least] -= next - now
			now = next
		}
	}
	return out
}

// together says what the schedule is worth and what no schedule goes below.
func (x *sharing) together(ends []JobEnd) Together {
	var out Together
	var all []int
	for k, e := range ends {
		out.LateMin, out.SumMin = out.LateMin+e.LateMin, out.SumMin+e.FinishMin
		out.LateBound, out.SumBound = out.LateBound+x.late(k, x.bounds[k]), out.SumBound+min(x.bounds[k], e.FinishMin)
		if slices.Contains(x.of, k) {
			all = append(all, k)
		}
	}
	loads := x.m.loads()
	x.held = x.keeps()
	for _, set := range sets(all) {
		in := make([]bool, len(ends))
		rest := Together{}
		for k := range ends {
			in[k] = slices.Contains(set, k)
			if !in[k] {
				rest.LateBound += x.late(k, x.bounds[k])
				rest.SumBound += x.bounds[k]
			}
		}
		for i := range loads {
			if l := &loads[i]; !l.state {
				late, sum := x.contended(l, set, in)
				out.LateBound = max(out.LateBound, late+rest.LateBound)
				out.SumBound = max(out.SumBound, sum+rest.SumBound)
			}
		}
	}
	out.LateBound, out.SumBound = min(out.LateBound, out.LateMin), min(out.SumBound, out.SumMin)
	return out
}

// late is how late a job is that ends at a minute.
func (x *sharing) late(k, end int) int {
	if x.s.Due[k] == 0 {
		return 0
	}
	return max(0, end-x.s.Due[k])
}

// sets are the sets of two jobs and more: all of them when they are few, else every
// pair and all together.
func sets(all []int) [][]int {
	var out [][]int
	if len(all) > maxContend {
		for j := range all {
			for i := range j {
				out = append(out, []int{all[i], all[j]})
			}
		}
		return append(out, all)
	}
	for bits := range 1 << len(all) {
		var set []int
		for i, k := range all {
			if bits>>i&1 == 1 {
				set = append(set, k)
			}
		}
		if len(set) > 1 {
			out = append(out, set)
		}
	}
	return out
}

// contended are the least lateness and the least sum of finishes of a set of jobs by
// one load: the best over its parts from a head on and before a tail.
func (x *sharing) contended(l *load, set []int, in []bool) (late, sum int) {
	heads, tails := []int{0}, []int{0}
	for k := range l.jobs {
		if j := &l.jobs[k]; in[x.of[j.block]] {
			heads, tails = append(heads, j.head), append(tails, j.tail)
		}
	}
	for _, list := range []*[]int{&heads, &tails} {
		slices.Sort(*list)
		*list = slices.Compact(*list)
	}
	var due, alone []int
	for _, k := range set {
		alone = append(alone, x.bounds[k])
		if d := x.s.Due[k]; d > 0 {
			due = append(due, d)
		} else {
			due = append(due, never)
		}
	}
	slices.Sort(due)
	slices.Sort(alone)
	for _, h := range heads {
		for _, q := range tails {
			ws := x.wants(l, in, h, q)
			if len(ws) < 2 {
				break // fewer still with a greater tail
			}
			a, s := x.paired(finishes(ws, l.num), alone, due)
			late, sum = max(late, a), max(sum, s)
		}
	}
	return late, sum
}

// paired are the lateness and the sum of finishes, each no earlier than told by either
// list; jobs that want nothing of the load are taken as the first.
func (x *sharing) paired(done, alone, due []int) (late, sum int) {
	idle := len(alone) - len(done)
	for i := range alone {
		end := alone[i]
		if i >= idle {
			end = max(end, x.m.clock.end(done[i-idle]))
		}
		sum += end
		late += max(0, end-due[i])
	}
	return late, sum
}
