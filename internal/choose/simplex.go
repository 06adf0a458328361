package choose

import (
	"math"
	"slices"

	"fettle/internal/halt"
)

// simplex solves the linear relaxation of a selection by the bounded dual
// simplex method. Variables are the options, then one slack for each condition:
// slack(r) = sum of its options - rhs, at least 0. Every basic variable is a sum
// of those that are not:
//
//	x(i) = constant + sum over slacks w(i,s) slack(s) + sum over options t(i,j) x(j)
//
// Only w is kept, which is the inverse of the basis; t follows from it and the
// conditions. An option outside the basis lies at the bound where its reduced cost
// has the right sign, so that any change of bounds keeps the basis usable.
// Conditions come in as they are violated. Its numbers are floating point and decide nothing: they propose
// multipliers, and what follows from those is computed in whole numbers.
//
// Sources: the long-step ratio test is Maros, Computational Techniques of the
// Simplex Method, 2003, ch. 10; dual steepest edge is Forrest and Goldfarb 1992.
type simplex struct {
	work   *halt.Work
	n      int // options
	rules  []inequality
	in     [][]term // by option: its conditions
	cost   []float64
	lo, up []int8 // of the options

	w      []float64 // rows of stride numbers, one for each of slots
	stride int
	basic  []int     // by row: variable
	beta   []float64 // by row: value
	norm   []float64 // by row: of the row of the inverse, squared
	slots  []int     // by column of w: condition whose slack is outside the basis
	d      []float64 // by variable: reduced cost
	at     []float64 // by option: value outside the basis
	place  []int     // by variable: row+1; of slacks outside the basis -(column+1); else 0

	alpha   []float64 // by option: the row at work
	touched []int     // options where it may not be 0
	mark    []bool    // those
	col     []float64 // by row: the column at work
	cols    []int
	order   []breakpoint
	pivots  int
}

// term is an option's part in a condition.
type term struct {
	rule int
	coef float64
}

type breakpoint struct {
	v     int // variable
	alpha float64
	ratio float64
}

const (
	tiny    = 1e-11
	pivotOK = 1e-7
	slackOK = 1e-7
)

func newSimplex(rules []inequality, cost []float64) *simplex {
	n := len(cost)
	l := &simplex{n: n, rules: rules, cost: cost, lo: make([]int8, n), up: make([]int8, n), stride: min(n, len(rules)) + 1,
		in: make([][]term, n), d: make([]float64, n+len(rules)), at: make([]float64, n), place: make([]int, n+len(rules)), alpha: make([]float64, n), mark: make([]bool, n)}
	for r, q := range rules {
		for k, j := range q.cols {
			l.in[j] = append(l.in[j], term{r, q.scaled(q.coef[k])})
		}
	}
	for j := range n {
		l.up[j] = 1
	}
	copy(l.d, cost)
	return l
}

func (l *simplex) row(i int) []float64 { return l.w[i*l.stride : i*l.stride+len(l.slots)] }

// rebuild computes the inverse anew from the conditions, which takes away what
// rounding has built up.
func (l *simplex) rebuild() {
	basic := slices.Clone(l.basic)
	slots := slices.Clone(l.slots)
	l.w, l.basic, l.beta, l.norm, l.slots = l.w[:0], l.basic[:0], l.beta[:0], l.norm[:0], l.slots[:0]
	clear(l.place)
	clear(l.d[copy(l.d, l.cost):])
	var wanted []int
	stay := make([]bool, len(l.rules))
	for _, v := range basic {
		if v < l.n {
			wanted = append(wanted, v)
		} else {
			stay[v-l.n] = true
			l.use(v - l.n)
		}
	}
	for _, r := range slots {
		l.use(r)
	}
	for _, j := range wanted {
		l.columnOf(j)
		best := -1
		for i, v := range l.basic {
			if v >= l.n && !stay[v-l.n] && math.Abs(l.col[i]) > pivotOK && (best < 0 || math.Abs(l.col[i]) > math.Abs(l.col[best])) {
				best = i
			}
		}
		if best >= 0 {
			l.rowOf(best)
			l.exchange(best, j)
		}
	}
	for _, r := range l.slots { // a wrong sign means that the basis is of no use: start from that of the slacks
		if l.d[l.n+r] < -1e-9 {
			used := append(slices.Clone(l.slots), basicSlacks(l)...)
			slices.Sort(used)
			l.w, l.basic, l.beta, l.norm, l.slots = l.w[:0], l.basic[:0], l.beta[:0], l.norm[:0], l.slots[:0]
			clear(l.place)
			clear(l.d[copy(l.d, l.cost):])
			for _, r := range used {
				l.use(r)
			}
			break
		}
	}
	l.settle()
}

func basicSlacks(l *simplex) []int {
	var out []int
	for _, v := range l.basic {
		if v >= l.n {
			out = append(out, v-l.n)
		}
	}
	return out
}

// settle puts every option outside the basis at its bound and computes the
// basic ones.
func (l *simplex) settle() {
	for j := range l.n {
		if l.place[j] == 0 {
			l.at[j] = l.resting(j)
		}
	}
	for i, v := range l.basic {
		sum := 0.0
		if v >= l.n {
			sum -= l.rules[v-l.n].bound()
		}
		for c, x := range l.row(i) {
			sum += float64(x * l.rules[l.slots[c]].bound())
		}
		l.beta[i] = sum
	}
	for j := range l.n {
		if l.place[j] == 0 && l.at[j] != 0 {
			l.columnOf(j)
			for i, x := range l.col {
				l.beta[i] += float64(x * l.at[j])
			}
		}
	}
}

// resting is the bound of an option outside the basis.
func (l *simplex) resting(j int) float64 {
	if l.lo[j] == l.up[j] || l.d[j] >= 0 {
		return float64(l.lo[j])
	}
	return float64(l.up[j])
}

// use brings a condition in; its slack is basic.
func (l *simplex) use(r int) {
	q := &l.rules[r]
	i := len(l.basic)
	for range l.stride {
		l.w = append(l.w, 0)
	}
	row := l.row(i)
	value := -q.bound()
	norm := 1.0
	for k, j := range q.cols {
		a := q.scaled(q.coef[k])
		value += float64(a * l.value(j))
		if p := l.place[j]; p > 0 {
			for c, x := range l.row(p - 1) {
				if x != 0 {
					row[c] += float64(a * x)
				}
			}
		}
	}
	for c, x := range row {
		if math.Abs(x) < tiny {
			row[c] = 0
		}
		norm += float64(x * x)
	}
	l.basic = append(l.basic, l.n+r)
	l.beta = append(l.beta, value)
	l.norm = append(l.norm, norm)
	l.place[l.n+r] = i + 1
	l.d[l.n+r] = 0
}

// columnOf computes how the basic variables go with one outside the basis.
func (l *simplex) columnOf(v int) {
	l.col = l.col[:0]
	for range l.basic {
		l.col = append(l.col, 0)
	}
	if v >= l.n {
		c := -l.place[v] - 1
		for i := range l.col {
			l.col[i] = l.w[i*l.stride+c]
		}
		return
	}
	for _, t := range l.in[v] {
		switch p := l.place[l.n+t.rule]; {
		case p > 0:
			l.col[p-1] += t.coef
		case p < 0:
			k := -p - 1
			for i := range l.col {
				if x := l.w[k]; x != 0 {
					l.col[i] -= float64(x * t.coef)
				}
				k += l.stride
			}
		}
	}
}

// rowOf computes how a basic variable goes with the options outside the basis.
func (l *simplex) rowOf(i int) {
	for _, j := range l.touched {
		l.alpha[j], l.mark[j] = 0, false
	}
	l.touched = l.touched[:0]
	add := func(r int, by float64) {
		q := &l.rules[r]
		for k, j := range q.cols {
			if l.place[j] != 0 {
				continue
			}
			if !l.mark[j] {
				l.mark[j] = true
				l.touched = append(l.touched, j)
			}
			l.alpha[j] += float64(by * q.scaled(q.coef[k]))
		}
	}
	if v := l.basic[i]; v >= l.n {
		add(v-l.n, 1)
	}
	for c, x := range l.row(i) {
		if x != 0 {
			add(l.slots[c], -x)
		}
	}
}

// fix sets the bounds of an option.
func (l *simplex) fix(j int, lo, up int8) {
	l.lo[j], l.up[j] = lo, up
	if l.place[j] == 0 {
		l.move(j, l.resting(j))
	}
}

// move sets the value of an option outside the basis.
func (l *simplex) move(j int, to float64) {
	by := to - l.at[j]
	if by == 0 {
		return
	}
	l.at[j] = to
	l.columnOf(j)
	for i, x := range l.col {
		if x != 0 {
			l.beta[i] += float64(x * by)
		}
	}
}

// value is the value of an option.
func (l *simplex) value(j int) float64 {
	if p := l.place[j]; p > 0 {
		return l.beta[p-1]
	}
	return l.at[j]
}

// objective is the cost of the point, and with it a bound.
func (l *simplex) objective() float64 {
	sum := 0.0
	for j, c := range l.cost {
		if v := l.value(j); v != 0 {
			sum += float64(c * v)
		}
	}
	return sum
}

// leaving is the basic variable that violates its bounds most for its weight,
// and by how much; -1: none does.
func (l *simplex) leaving() (int, float64) {
	best, score, by := -1, 0.0, 0.0
	for i, v := range l.basic {
		x, off := l.beta[i], 0.0
		switch {
		case v >= l.n:
			off = min(x, 0)
		case x < float64(l.lo[v]):
			off = x - float64(l.lo[v])
		case x > float64(l.up[v]):
			off = x - float64(l.up[v])
		}
		if off > slackOK || off < -slackOK {
			if s := off * off; s > score*l.norm[i] {
				best, score, by = i, s/l.norm[i], off
			}
		}
	}
	return best, by
}

// outcome of a run of the simplex.
type outcome int

const (
	unfinished outcome = iota
	solved
	beyond   // the cost passes the limit
	hopeless // a row shows that nothing meets the conditions
)

// run makes pivots until the conditions in use hold, the cost passes the limit,
// or as many pivots are made. It tells the row of an outcome hopeless.
func (l *simplex) run(limit float64, pivots int) (outcome, int) {
	l.rest()
	for k := 0; ; k++ {
		l.work.Step()
		r, by := l.leaving()
		if r < 0 {
			return solved, 0
		}
		if k&3 == 3 && l.objective() > limit {
			return beyond, 0
		}
		if k == pivots {
			return unfinished, 0
		}
		v := l.entering(r, by)
		if v < 0 {
			return hopeless, r
		}
		bound := 0.0
		if b := l.basic[r]; b < l.n {
			bound = float64(l.lo[b])
			if by > 0 {
				bound = float64(l.up[b])
			}
		}
		l.pivot(r, v, bound)
	}
}

// entering chooses what enters for row r by the ratio test with long steps:
// options may pass to their other bound while the row stays violated. -1: nothing
// can mend the row.
func (l *simplex) entering(r int, by float64) int {
	sign := 1.0 // of what has to be added to the row
	if by > 0 {
		sign = -1
	}
	l.rowOf(r)
	l.order = l.order[:0]
	for _, j := range l.touched {
		x := l.alpha[j] * sign
		if l.lo[j] == l.up[j] || x < 1e-9 && x > -1e-9 {
			continue
		}
		if (l.at[j] > 0.5) == (x < 0) {
			l.order = append(l.order, breakpoint{j, math.Abs(x), math.Abs(l.d[j] / x)})
		}
	}
	for c, x := range l.row(r) {
		if x *= sign; x > 1e-9 {
			v := l.n + l.slots[c]
			l.order = append(l.order, breakpoint{v, x, l.d[v] / x})
		}
	}
	left := math.Abs(by)
	for n := len(l.order); n > 0; {
		k := 0
		for i := 1; i < n; i++ {
			a, b := &l.order[i], &l.order[k]
			if d := a.ratio - b.ratio; d < -1e-10 || d < 1e-10 && (a.alpha > b.alpha || a.alpha == b.alpha && a.v < b.v) {
				k = i
			}
		}
		b := l.order[k]
		if b.alpha > pivotOK && (b.v >= l.n || left <= b.alpha+1e-9) {
			return b.v
		}
		if b.v < l.n && left > b.alpha {
			left -= b.alpha
			l.move(b.v, 1-l.at[b.v])
		}
		n--
		l.order[k] = l.order[n]
	}
	return -1
}

// rest puts every option outside the basis back to the bound of its reduced
// cost.
func (l *simplex) rest() {
	for j := range l.n {
		if l.place[j] == 0 && (math.Abs(l.d[j]) > 1e-12 || l.lo[j] == l.up[j]) {
			l.move(j, l.resting(j))
		}
	}
}

// pivot has variable v enter for that of row r, which goes to the bound. The
// row is at work already.
func (l *simplex) pivot(r, v int, bound float64) {
	l.pivots++
	l.columnOf(v)
	step := (bound - l.beta[r]) / l.col[r]
	value := step
	if v < l.n {
		value += l.at[v]
	}
	for i, x := range l.col {
		if x != 0 {
			l.beta[i] += float64(x * step)
		}
	}
	out := l.basic[r]
	l.exchange(r, v)
	l.beta[r] = value
	if out < l.n {
		l.at[out] = bound
	}
	for _, k := range l.slots {
		l.d[l.n+k] = max(l.d[l.n+k], 0)
	}
	for _, j := range l.touched { // one may rest at a wrong bound by a rounding
		if l.place[j] == 0 && l.lo[j] != l.up[j] && math.Abs(l.d[j]) > 1e-12 {
			l.move(j, l.resting(j))
		}
	}
}

// exchange has variable v enter the basis for that of row r; row and column are
// at work.
func (l *simplex) exchange(r, v int) {
	p := l.col[r]
	inv := 1 / p
	out := l.basic[r]
	if dv := l.d[v]; dv != 0 {
		f := dv * inv
		for _, j := range l.touched {
			l.d[j] -= float64(f * l.alpha[j])
		}
		for c, x := range l.row(r) {
			if x != 0 {
				k := l.n + l.slots[c]
				l.d[k] -= float64(f * x)
			}
		}
		l.d[out] = f
	} else {
		l.d[out] = 0
	}
	l.d[v] = 0
	if v >= l.n {
		l.free(v)
	}
	row := l.row(r)
	l.cols = l.cols[:0]
	norm := 0.0
	for c, x := range row {
		if x *= -inv; math.Abs(x) < tiny {
			row[c] = 0
			continue
		}
		row[c] = x
		norm += float64(x * x)
		l.cols = append(l.cols, c)
	}
	l.eliminate(r)
	l.basic[r] = v
	l.place[v] = r + 1
	l.place[out] = 0
	if out >= l.n {
		l.slot(r, out, inv)
		norm += float64(inv * inv)
	}
	if v >= l.n {
		norm++
	}
	l.norm[r] = max(norm, 1e-4)
}

// eliminate adds the new row r to the others by the column at work.
func (l *simplex) eliminate(r int) {
	row := l.row(r)
	for i, f := range l.col {
		if i == r || f < tiny && f > -tiny {
			continue
		}
		o := l.row(i)[:len(row)]
		norm := 0.0
		if 2*len(l.cols) < len(row) {
			norm = l.norm[i]
			for _, c := range l.cols {
				was := o[c]
				x := was + float64(f*row[c])
				if x < tiny && x > -tiny {
					x = 0
				}
				o[c] = x
				norm += float64((x - was) * (x + was))
			}
		} else {
			for c, y := range row {
				x := o[c] + float64(f*y)
				o[c] = x
				norm += float64(x * x)
			}
			if l.basic[i] >= l.n {
				norm++
			}
		}
		l.norm[i] = max(norm, 1e-4)
	}
}

// free gives up the column of a slack that enters.
func (l *simplex) free(v int) {
	c, last := -l.place[v]-1, len(l.slots)-1
	for i := range l.basic {
		k := i * l.stride
		l.norm[i] = max(l.norm[i]-float64(l.w[k+c]*l.w[k+c]), 1e-4)
		l.w[k+c] = l.w[k+last]
		l.w[k+last] = 0
	}
	s := l.slots[last]
	l.slots[c] = s
	l.place[l.n+s] = -(c + 1)
	l.slots = l.slots[:last]
}

// slot gives a slack that leaves a column: inv in its row, inv times the column
// at work in the others.
func (l *simplex) slot(r, v int, inv float64) {
	c := len(l.slots)
	l.slots = append(l.slots, v-l.n)
	l.place[v] = -(c + 1)
	for i, f := range l.col {
		x := float64(f * inv)
		l.w[i*l.stride+c] = x
		l.norm[i] += float64(x * x)
	}
	l.w[r*l.stride+c] = inv
}

// separate brings in the conditions that the point violates.
func (l *simplex) separate() bool {
	some := false
	for r := range l.rules {
		if l.place[l.n+r] != 0 {
			continue
		}
		q := &l.rules[r]
		sum := -q.bound()
		for c, j := range q.cols {
			sum += float64(q.scaled(q.coef[c]) * l.value(j))
		}
		if sum < -1e-6 {
			l.use(r)
			some = true
		}
	}
	return some
}

// copyTo keeps the state in another one, for a way back.
func (l *simplex) copyTo(m *simplex) {
	keep := *m
	*m = *l
	m.lo, m.up = append(keep.lo[:0], l.lo...), append(keep.up[:0], l.up...)
	m.basic, m.beta, m.norm = append(keep.basic[:0], l.basic...), append(keep.beta[:0], l.beta...), append(keep.norm[:0], l.norm...)
	m.slots, m.d, m.at, m.place = append(keep.slots[:0], l.slots...), append(keep.d[:0], l.d...), append(keep.at[:0], l.at...), append(keep.place[:0], l.place...)
	if keep.alpha == nil {
		keep.alpha, keep.mark = make([]float64, l.n), make([]bool, l.n)
	}
	m.alpha, m.touched, m.mark = keep.alpha, keep.touched, keep.mark
	m.col, m.cols, m.order = keep.col, keep.cols, keep.order
	if cap(keep.w) < len(l.w) {
		keep.w = make([]float64, len(l.w)*2)
	}
	m.w = keep.w[:len(l.w)]
	for i := range l.basic {
		k := i * l.stride
		copy(m.w[k:k+len(l.slots)], l.w[k:k+len(l.slots)])
	}
}
