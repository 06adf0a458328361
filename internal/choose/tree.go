package choose

import (
	"container/heap"
	"math"
	"slices"
)

// chooser searches the best selection by branch and bound. Money is whole, and a
// branch is left only by what whole numbers show: the multipliers of the simplex
// are rounded to whole parts of 2^shift, and any multipliers give a bound.
type chooser struct {
	s     *Selection
	rules []inequality
	in    [][]int // rules by option
	large []int64 // by rule
	lp    *simplex
	keep  *simplex // the way back from a trial
	unit  int64    // every price is a multiple
	shift uint
	scale float64 // price to cost of the simplex
	best  Selected
	out   []bool // options that are never needed

	reduced []int64 // of the options, by the last bound
	trail   []int   // options whose consequences are to be draws
	gain    [2][]float64
	tried   [2][]float64
	open    queue
	serial  int
}

// Choose finds the cheapest selection, or after so many nodes of the search the
// best one seen with a bound.
func (s *Selection) Choose(nodes int) Selected {
	c := newChooser(s)
	if c == nil { // the prices are too large for whole numbers
		return Selected{}
	}
	c.search(nodes)
	return c.best
}

func newChooser(s *Selection) *chooser {
	c := &chooser{s: s, rules: s.inequalities(), unit: s.gcd(), out: s.replaced()}
	n := len(s.Cost)
	total, dear := int64(0), int64(0)
	for _, p := range s.Cost {
		if p < 0 || p > 1<<48 || total > 1<<48 {
			return nil
		}
		total += p / c.unit
		dear = max(dear, p/c.unit)
	}
	shift, ok := spare(total)
	if !ok {
		return nil
	}
	c.shift = shift
	c.scale = 1 / float64(max(dear, 1))
	cost := make([]float64, n)
	for j, p := range s.Cost {
		cost[j] = float64(p/c.unit) * c.scale
	}
	c.in = make([][]int, n)
	for r, q := range c.rules {
		c.large = append(c.large, q.large())
		for _, j := range q.cols {
			c.in[j] = append(c.in[j], r)
		}
	}
	c.lp = newSimplex(c.rules, cost)
	c.lp.work = s.Work
	c.keep = &simplex{}
	c.reduced = make([]int64, n)
	for k := range c.gain {
		c.gain[k], c.tried[k] = make([]float64, n), make([]float64, n)
	}
	for r := range s.Cover {
		c.lp.use(r)
	}
	return c
}

// literal is an option that is fixed.
type literal struct {
	option int
	on     bool
}

// branch is an open part of the search.
type branch struct {
	path   []literal
	bound  int64 // scaled
	serial int
}

type queue []branch

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	return q[i].bound < q[j].bound || q[i].bound == q[j].bound && q[i].serial < q[j].serial
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(branch)) }
func (q *queue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}

// search goes down from the branch of the lowest bound until nothing is open.
func (c *chooser) search(nodes int) {
	next := &branch{}
	for {
		for next != nil && c.best.nodes < nodes {
			next = c.node(*next)
		}
		if next != nil {
			heap.Push(&c.open, *next)
		}
		if len(c.open) == 0 || c.best.nodes >= nodes {
			break
		}
		b := heap.Pop(&c.open).(branch)
		next = &b
		if c.closed(b.bound) {
			next = nil
		}
	}
	least := int64(math.MaxInt64)
	for _, b := range c.open {
		if !c.closed(b.bound) {
			least = min(least, b.bound)
		}
	}
	switch {
	case least < math.MaxInt64:
		c.best.Bound = c.whole(least) * c.unit
	default:
		c.best.Proven = true
		c.best.Bound = c.best.Cost
	}
}

// whole is a scaled bound in units of the prices, rounded up as prices are whole.
func (c *chooser) whole(bound int64) int64 {
	one := int64(1) << c.shift
	if bound <= 0 {
		return 0
	}
	return (bound + one - 1) / one
}

// closed says that nothing with this bound costs less than what is known.
func (c *chooser) closed(bound int64) bool {
	return c.best.Found && c.whole(bound) >= c.best.Cost/c.unit
}

// limit is the cost of the simplex at which a branch need not go on.
func (c *chooser) limit() float64 {
	if !c.best.Found {
		return math.Inf(1)
	}
	return float64((float64(c.best.Cost/c.unit)-1)*c.scale) + 1e-7
}

// node looks at one branch and answers the one to go on with; the other part is
// kept for later.
func (c *chooser) node(b branch) *branch {
	c.best.nodes++
	l := c.lp
	for j := range l.lo {
		if up := c.most(j); l.lo[j] != 0 || l.up[j] != up {
			l.fix(j, 0, up)
		}
	}
	for _, x := range b.path {
		if !c.set(x.option, x.on) {
			return nil
		}
	}
	if len(b.path) == 0 && !c.drawAll() || !c.draw() {
		return nil
	}
	if l.pivots > 4000 {
		l.pivots = 0
		l.rebuild()
	}
	for {
		c.s.Work.Step()
		end, row := c.relax()
		if end == hopeless && c.impossible(row) {
			return nil
		}
		bound := max(c.bound(), b.bound)
		b.bound = bound
		if c.closed(bound) {
			return nil
		}
		if end == hopeless || end == beyond { // rounding: no proof, so go on by halves
			l.rebuild()
			return c.split(b, c.anyFree())
		}
		fixed, ok := c.tighten(bound)
		if !ok {
			return nil
		}
		if fixed && c.moved() {
			continue
		}
		break
	}
	c.round()
	if c.closed(b.bound) {
		return nil
	}
	j, again := c.pick(&b)
	if again {
		c.best.nodes--
		return &b
	}
	return c.split(b, j)
}

// most is the upper bound of an option at the root.
func (c *chooser) most(j int) int8 {
	if c.out[j] {
		return 0
	}
	return 1
}

// anyFree is some option that is not fixed, -1: all are.
func (c *chooser) anyFree() int {
	for j := range c.lp.lo {
		if c.lp.lo[j] < c.lp.up[j] {
			return j
		}
	}
	return -1
}

// split makes the two parts of a branch.
func (c *chooser) split(b branch, j int) *branch {
	if j < 0 { // everything is fixed: the conditions decide
		x := make([]bool, len(c.s.Cost))
		for j := range x {
			x[j] = c.lp.lo[j] == 1
		}
		c.offer(x)
		return nil
	}
	on := c.lp.value(j) >= 0.5
	part := func(on bool) branch {
		c.serial++
		return branch{append(slices.Clip(b.path), literal{j, on}), b.bound, c.serial}
	}
	first, other := part(on), part(!on)
	heap.Push(&c.open, other)
	return &first
}

// offer keeps a choice that meets all conditions and costs less.
func (c *chooser) offer(x []bool) {
	if cost := c.s.costOf(x); (!c.best.Found || cost < c.best.Cost) && c.s.fits(x) {
		c.best.Chosen, c.best.Cost, c.best.Found = slices.Clone(x), cost, true
	}
}

// relax solves the linear relaxation with all conditions.
func (c *chooser) relax() (outcome, int) {
	for {
		end, row := c.lp.run(c.limit(), 20000)
		if end != solved || !c.lp.separate() {
			return end, row
		}
	}
}

// bound computes a lower bound in whole numbers from the simplex's multipliers,
// and the reduced prices.
func (c *chooser) bound() int64 {
	l := c.lp
	for j, p := range c.s.Cost {
		c.reduced[j] = p / c.unit << c.shift
	}
	sum := int64(0)
	one := float64(int64(1)<<c.shift) / c.scale
	for _, r := range l.slots {
		sum += c.weigh(r, l.d[l.n+r]*one)
	}
	return sum + c.rest()
}

// weigh takes a condition times a multiplier off the reduced prices, and answers
// what it adds to the bound. The multiplier is rounded, and cut so that no sum of
// all of them overflows.
func (c *chooser) weigh(rule int, by float64) int64 {
	r := &c.rules[rule]
	if !(by > 0) {
		return 0
	}
	if r.size > 0 {
		by /= r.size
	}
	y := int64(min(by+0.5, float64(int64(1)<<59/int64(len(c.rules))/c.large[rule])))
	for k, j := range r.cols {
		c.reduced[j] -= y * int64(r.coef[k])
	}
	return y * int64(r.rhs)
}

// large is the largest number in a condition.
func (q *inequality) large() int64 {
	most := max(int64(q.rhs), -int64(q.rhs), 1)
	for _, a := range q.coef {
		most = max(most, int64(a), -int64(a))
	}
	return most
}

// rest is the least the options themselves add to the bound.
func (c *chooser) rest() int64 {
	sum := int64(0)
	for j, d := range c.reduced {
		if c.lp.lo[j] == 1 || d < 0 && c.lp.up[j] == 1 {
			sum += d
		}
		if sum < -1<<61 { // no bound at all
			break
		}
	}
	return sum
}

// impossible says, by whole numbers, that the conditions of a row that cannot be
// mended contradict each other.
func (c *chooser) impossible(row int) bool {
	l := c.lp
	v := l.basic[row]
	above := v < l.n && l.beta[row] > float64(l.up[v])
	clear(c.reduced)
	sum := int64(0)
	const one = 1 << 40
	if v >= l.n {
		sum += c.weigh(v-l.n, one)
	}
	for k, x := range l.row(row) {
		if !above {
			x = -x
		}
		if x > tiny {
			sum += c.weigh(l.slots[k], x*one)
		}
	}
	return sum+c.rest() > 0
}

// tighten fixes every option whose other value would cost too much. False: that
// leaves nothing.
func (c *chooser) tighten(bound int64) (some, ok bool) {
	if !c.best.Found {
		return false, true
	}
	room := (c.best.Cost/c.unit-1)<<c.shift - bound // reduced prices above it are out; not negative where the branch is not closed
	l := c.lp
	for j, d := range c.reduced {
		if l.lo[j] != l.up[j] && (d > room || -d > room) {
			some = true
			c.set(j, d < 0)
		}
	}
	return some, c.draw()
}

// moved says that the point no longer keeps the bounds of its options.
func (c *chooser) moved() bool {
	r, _ := c.lp.leaving()
	return r >= 0
}

// set fixes an option; false: it is fixed to the other value.
func (c *chooser) set(j int, on bool) bool {
	l := c.lp
	v := int8(0)
	if on {
		v = 1
	}
	if l.lo[j] == l.up[j] {
		return l.lo[j] == v
	}
	l.fix(j, v, v)
	c.trail = append(c.trail, j)
	return true
}

// draw draws the consequences of what was fixed; false: a condition cannot be
// met.
func (c *chooser) draw() bool {
	for len(c.trail) > 0 {
		j := c.trail[len(c.trail)-1]
		c.trail = c.trail[:len(c.trail)-1]
		for _, r := range c.in[j] {
			if !c.follow(r) {
				c.trail = c.trail[:0]
				return false
			}
		}
	}
	return true
}

// drawAll looks at every condition.
func (c *chooser) drawAll() bool {
	for r := range c.rules {
		if !c.follow(r) {
			c.trail = c.trail[:0]
			return false
		}
	}
	return true
}

// follow fixes what a condition leaves no choice for.
func (c *chooser) follow(r int) bool {
	q, l := &c.rules[r], c.lp
	most := 0
	for k, j := range q.cols {
		a := int(q.coef[k])
		most += max(a*int(l.lo[j]), a*int(l.up[j]))
	}
	for k, j := range q.cols {
		if a := int(q.coef[k]); l.lo[j] != l.up[j] && most-max(a, -a) < int(q.rhs) {
			c.set(j, a > 0)
		}
	}
	return most >= int(q.rhs)
}
