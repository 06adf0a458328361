package choose

import (
	"cmp"
	"math"
	"slices"
)

// Effort of choosing where to branch.
const (
	trials      = 10 // options that are tried
	trialPivots = 25 // pivots of a trial
	trusted     = 3  // trials after which an option's gains are taken as known
)

// pick chooses the option to branch on: the one whose two values together raise
// the bound most, by trial for those not tried often enough, or any that is free
// where the point is whole. Again says that a
// trial showed that one of the values is out: the branch has to be looked at anew.
func (c *chooser) pick(b *branch) (option int, again bool) {
	type candidate struct {
		j     int
		x     float64
		score float64
	}
	var list []candidate
	l := c.lp
	for j := range l.lo {
		if x := l.value(j); between(x) {
			list = append(list, candidate{j, x, c.expected(j, x)})
		}
	}
	if len(list) == 0 {
		return c.anyFree(), false
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	start := l.objective()
	best, most := list[0].j, -1.0
	n := 0
	for _, x := range list {
		down, up := c.gainOf(0, x.j)*x.x, c.gainOf(1, x.j)*(1-x.x)
		if min(c.tried[0][x.j], c.tried[1][x.j]) < trusted {
			if n++; n > trials {
				continue
			}
			var out [2]bool
			down, out[0] = c.trial(b, x.j, false, start)
			up, out[1] = c.trial(b, x.j, true, start)
			if out[0] || out[1] {
				b.path = append(slices.Clip(b.path), literal{x.j, out[0]})
				return 0, true
			}
			c.learn(0, x.j, down/x.x)
			c.learn(1, x.j, up/(1-x.x))
		}
		if s := max(down, 1e-6) * max(up, 1e-6); s > most {
			best, most = x.j, s
		}
	}
	return best, false
}

// between says that an option is neither chosen nor left out.
func between(x float64) bool { return math.Abs(x-0.5) < 0.5-1e-6 }

func (c *chooser) learn(side, j int, gain float64) {
	c.gain[side][j] += gain
	c.tried[side][j]++
}

// gainOf is the mean gain of an option per unit of change.
func (c *chooser) gainOf(side, j int) float64 {
	if c.tried[side][j] == 0 {
		return c.lp.cost[j]
	}
	return c.gain[side][j] / c.tried[side][j]
}

func (c *chooser) expected(j int, x float64) float64 {
	return float64(max(c.gainOf(0, j)*x, 1e-6) * max(c.gainOf(1, j)*(1-x), 1e-6))
}

// trial tells by how much the bound rises with an option fixed, and whether that
// leaves nothing.
func (c *chooser) trial(b *branch, j int, on bool, start float64) (float64, bool) {
	c.lp.copyTo(c.keep)
	defer func() { c.lp, c.keep = c.keep, c.lp }()
	out := !c.set(j, on) || !c.draw()
	if out {
		return 0, true
	}
	end, row := c.lp.run(c.limit(), trialPivots)
	if end == hopeless {
		return 0, c.impossible(row)
	}
	return max(c.lp.objective()-start, 0), c.closed(c.bound())
}

// round looks for a good choice near the point of the relaxation: first what is
// nearly chosen there, then what covers most for its price, then without what is
// not needed.
func (c *chooser) round() {
	l := c.lp
	n := len(c.s.Cost)
	value := make([]float64, n)
	whole := true
	for j := range n {
		value[j] = l.value(j)
		whole = whole && !between(value[j])
	}
	if whole {
		x := make([]bool, n)
		for j := range n {
			x[j] = math.Round(value[j]) == 1
		}
		c.offer(x)
		return
	}
	x := make([]bool, n)
	for j := range n {
		if l.lo[j] == 1 && !c.take(x, j) {
			return
		}
	}
	open := make([]int, n) // rows an option would cover
	covered := make([]bool, len(c.s.Cover))
	count := func() int {
		clear(open)
		left := 0
		for r := range c.s.Cover {
			covered[r] = covered[r] || slices.ContainsFunc(c.rules[r].cols, func(j int) bool { return x[j] })
			if !covered[r] {
				left++
				for _, j := range c.rules[r].cols {
					open[j]++
				}
			}
		}
		return left
	}
	banned := make([]bool, n)
	for count() > 0 {
		best, least := -1, math.Inf(1)
		for j := range n {
			if open[j] == 0 || x[j] || banned[j] || l.up[j] == 0 {
				continue
			}
			if s := (l.cost[j] + 1e-6) * (1.02 - value[j]) / float64(open[j]); s < least {
				best, least = j, s
			}
		}
		if best < 0 {
			return
		}
		if !c.take(x, best) {
			banned[best] = true
		}
	}
	c.prune(x)
	c.offer(x)
}

// take adds an option with all it needs, if nothing that is chosen stands
// against it; else it leaves the choice as it was.
func (c *chooser) take(x []bool, j int) bool {
	if x[j] {
		return true
	}
	if c.lp.up[j] == 0 {
		return false
	}
	was := slices.Clone(x)
	x[j] = true
	for _, r := range c.in[j] {
		q := &c.rules[r]
		sum, mine := c.sum(q, x), false
		for k, o := range q.cols {
			mine = mine || o == j && q.coef[k] < 0
		}
		if sum >= int(q.rhs) || !mine {
			continue
		}
		for _, o := range c.byValue(q) { // one is enough, but of a stock it may take more
			if sum >= int(q.rhs) {
				break
			}
			if !x[o] && c.take(x, o) {
				sum = c.sum(q, x)
			}
		}
		if sum < int(q.rhs) {
			copy(x, was)
			return false
		}
	}
	return true
}

// sum is the left side of a condition.
func (c *chooser) sum(q *inequality, x []bool) int {
	sum := 0
	for k, o := range q.cols {
		if x[o] {
			sum += int(q.coef[k])
		}
	}
	return sum
}

// byValue are the options that could meet a condition, the likeliest first.
func (c *chooser) byValue(q *inequality) []int {
	var out []int
	for k, j := range q.cols {
		if q.coef[k] > 0 {
			out = append(out, j)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int {
		return cmp.Or(cmp.Compare(c.lp.value(b), c.lp.value(a)), cmp.Compare(c.s.Cost[a], c.s.Cost[b]))
	})
	return out
}

// prune leaves out what is not needed, the dearest first.
func (c *chooser) prune(x []bool) {
	var on []int
	for j := range x {
		if x[j] && c.lp.lo[j] == 0 {
			on = append(on, j)
		}
	}
	slices.SortStableFunc(on, func(a, b int) int { return cmp.Compare(c.s.Cost[b], c.s.Cost[a]) })
	for _, j := range on {
		x[j] = false
		for _, r := range c.in[j] {
			if c.sum(&c.rules[r], x) < int(c.rules[r].rhs) {
				x[j] = true
				break
			}
		}
	}
}
