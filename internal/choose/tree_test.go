package choose

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Whatever a condition leaves no choice for is fixed, and nothing else: afterwards every condition can
// still be met, with each option that is free at either value; and a contradiction is one, by trying every
// choice.
func TestConsequencesAreDrawn(t *testing.T) {
	drawn, contradictions := 0, 0
	for seed := range uint64(draws(200, 3000)) {
		s := tangled(seed)
		c := newChooser(s)
		rng := rand.New(rand.NewPCG(seed, 65))
		ok := c.drawAll()
		var given []literal
		for range 1 + rng.IntN(4) {
			given = append(given, literal{rng.IntN(len(s.Cost)), rng.IntN(2) == 1})
			ok = ok && c.set(given[len(given)-1].option, given[len(given)-1].on)
		}
		if ok = ok && c.draw(); !ok {
			contradictions++
		}
		x := make([]bool, len(s.Cost))
		isGiven := func() bool { return !slices.ContainsFunc(given, func(g literal) bool { return x[g.option] != g.on }) }
		kept := func(l *simplex) bool {
			for j, on := range x {
				if on && l.up[j] == 0 || !on && l.lo[j] == 1 {
					return false
				}
			}
			return true
		}
		for mask := range 1 << len(x) {
			for j := range x {
				x[j] = mask>>j&1 == 1
			}
			if s.fits(x) && isGiven() && (!ok || !kept(c.lp)) {
				t.Fatalf("seed %d: %v was ruled out", seed, x)
			}
		}
		for r, q := range c.rules {
			for free := -1; ok && free < len(s.Cost); free++ {
				if free >= 0 && c.lp.lo[free] == c.lp.up[free] {
					continue
				}
				for value := range 2 {
					most := 0
					for k, j := range q.cols {
						a := int(q.coef[k])
						switch {
						case j == free:
							most += a * value
						case a > 0:
							most += a * int(c.lp.up[j])
						default:
							most += a * int(c.lp.lo[j])
						}
					}
					if slices.Index(q.cols, free) == -1 || len(slices.Compact(slices.Sorted(slices.Values(q.cols)))) == len(q.cols) { // listed twice it is worth more than each shows
						if most < int(q.rhs) {
							t.Fatalf("seed %d: condition %d cannot be met with option %d at %d", seed, r, free, value)
						}
					}
				}
			}
		}
		for j := range s.Cost {
			if ok && c.lp.lo[j] == c.lp.up[j] && !slices.ContainsFunc(given, func(g literal) bool { return g.option == j }) {
				drawn++
			}
		}
	}
	if drawn < 100 || contradictions < 30 {
		t.Errorf("%d consequences, %d contradictions: the draws show little", drawn, contradictions)
	}
}

// An option that another one replaces is one that covers no more, costs no less, is needed by nobody and no
// pack, and needs, excludes and uses up no less; of those that share a row none is left beside one that
// replaces it.
func TestReplacedByDefinitionSeeds(t *testing.T) {
	replaced, kept := 0, 0
	for seed := range uint64(600) {
		s := tangled(seed)
		rows := func(j int) (out []int) {
			for r, list := range s.Cover {
				if slices.Contains(list, j) {
					out = append(out, r)
				}
			}
			return out
		}
		excludes := func(j int) (out []int) {
			for _, p := range s.Apart {
				for side := range 2 {
					if p[side] == j {
						out = append(out, p[1-side])
					}
				}
			}
			return out
		}
		uses := func(j, stock int) (sum int32) {
			for u, o := range s.Stocks[stock].Users {
				if o == j {
					sum += s.Stocks[stock].Use[u]
				}
			}
			return sum
		}
		within := func(a, b []int) bool {
			return !slices.ContainsFunc(a, func(x int) bool { return !slices.Contains(b, x) })
		}
		could := func(b, a int) bool { // b in place of a
			if s.Cost[b] > s.Cost[a] || !within(rows(a), rows(b)) || !within(slices.DeleteFunc(excludes(b), func(x int) bool { return x == a }), excludes(a)) {
				return false
			}
			for k, stock := range s.Stocks {
				if uses(b, k) > uses(a, k) || slices.Contains(stock.Packs, a) {
					return false
				}
			}
			for _, n := range s.Needs {
				if slices.Contains(n.oneOf, a) || n.who == b && !slices.ContainsFunc(s.Needs, func(m Need) bool {
					return m.who == a && within(m.oneOf, n.oneOf) && within(n.oneOf, m.oneOf)
				}) {
					return false
				}
			}
			return true
		}
		out := s.replaced()
		for a := range s.Cost {
			by := -1
			for b := range s.Cost {
				if b != a && !out[b] && could(b, a) && len(rows(a)) > 0 {
					by = b
				}
			}
			if out[a] {
				replaced++
			} else {
				kept++
			}
			if out[a] != (by >= 0) {
				t.Fatalf("seed %d: option %d is replaced: %v, option %d could: %+v", seed, a, out[a], by, s)
			}
		}
	}
	if replaced < 200 || kept < 200 {
		t.Errorf("%d replaced, %d kept: the draws show little", replaced, kept)
	}
}

// The limit of a search lies above what one unit less than the best costs, and below the best.
func TestLimitOfASearch(t *testing.T) {
	s := &Selection{Cost: []int64{30, 70, 110}, Cover: [][]int{{0, 1, 2}}}
	c := newChooser(s)
	if c.unit != 10 || !math.IsInf(c.limit(), 1) {
		t.Fatalf("unit %d, limit %v", c.unit, c.limit())
	}
	for _, cost := range []int64{10, 70, 210} {
		c.best.Found, c.best.Cost = true, cost
		if less := float64(cost/10-1) / 11; !(c.limit() > less && c.limit() < less+1e-6) {
			t.Errorf("best %d: the limit is %v, one unit less costs %v", cost, c.limit(), less)
		}
	}
}

// Where to branch is where both values together raise the bound most: of so many as are tried, the
// likeliest by what was learned first, and of those that were tried often enough, by that alone. The trials are
// made anew from the same place.
func TestPickByDefinition(t *testing.T) {
	picked, trustedOnes := 0, 0
	for seed := range uint64(draws(12, 100)) {
		c := newChooser(strategy(40, 120, 300+seed))
		if end, _ := c.relax(); end != solved {
			t.Fatalf("seed %d: %v", seed, end)
		}
		l, start := c.lp, c.lp.objective()
		for range 5 {
			type option struct {
				j        int
				expected float64
			}
			var list []option
			for j := range l.lo {
				if x := l.value(j); x > 1e-5 && x < 1-1e-5 {
					gain := [2]float64{l.cost[j], l.cost[j]}
					for side := range 2 {
						if n := c.tried[side][j]; n > 0 {
							gain[side] = c.gain[side][j] / n
						}
					}
					list = append(list, option{j, float64(max(gain[0]*x, 1e-6) * max(gain[1]*(1-x), 1e-6))})
				}
			}
			slices.SortStableFunc(list, func(a, b option) int { return cmp.Compare(b.expected, a.expected) })
			want, most, tried := -1, -1.0, 0
			for _, o := range list {
				x := l.value(o.j)
				down, up := c.gainOf(0, o.j)*x, c.gainOf(1, o.j)*(1-x)
				if c.tried[0][o.j] < 3 {
					if tried++; tried > 10 {
						continue
					}
					down, _ = c.trial(&branch{}, o.j, false, start)
					up, _ = c.trial(&branch{}, o.j, true, start)
				} else {
					trustedOnes++
				}
				if score := max(down, 1e-6) * max(up, 1e-6); score > most {
					want, most = o.j, score
				}
			}
			got, again := c.pick(&branch{})
			if again {
				break
			}
			if got != want {
				t.Errorf("seed %d: option %d, want %d", seed, got, want)
			}
			if want >= 0 {
				picked++
			}
			l = c.lp
		}
	}
	if picked < 20 || trustedOnes < 20 {
		t.Errorf("%d picked, %d of them known: the draws show little", picked, trustedOnes)
	}
}

// A choice found by rounding meets every condition, keeps what is fixed, and has nothing that could be left out by itself; a
// point that is whole is that choice.
func TestRoundedChoices(t *testing.T) {
	found, whole := 0, 0
	for seed := range uint64(draws(200, 2000)) {
		s := randomSelection(seed, 12)
		c := newChooser(s)
		rng := rand.New(rand.NewPCG(seed, 67))
		if !c.drawAll() || !c.set(rng.IntN(12), seed%3 > 0) || !c.draw() {
			continue
		}
		if end, _ := c.relax(); end != solved {
			continue
		}
		point, isWhole := make([]bool, len(s.Cost)), true
		for j := range s.Cost {
			x := c.lp.value(j)
			point[j] = x > 0.5
			isWhole = isWhole && (x < 1e-7 || x > 1-1e-7)
		}
		c.round()
		if !c.best.Found {
			if isWhole && s.fits(point) {
				t.Errorf("seed %d: the point is whole and was not found", seed)
			}
			continue
		}
		found++
		for j, on := range c.best.Chosen {
			if on && c.lp.up[j] == 0 || !on && c.lp.lo[j] == 1 {
				t.Errorf("seed %d: option %d is fixed otherwise", seed, j)
			}
		}
		if !s.fits(c.best.Chosen) || s.costOf(c.best.Chosen) != c.best.Cost {
			t.Errorf("seed %d: %+v does not fit", seed, c.best)
		}
		if isWhole {
			whole++
			if !slices.Equal(point, c.best.Chosen) {
				t.Errorf("seed %d: %v instead of the whole point %v", seed, c.best.Chosen, point)
			}
			continue
		}
		for j, on := range c.best.Chosen {
			if less := slices.Clone(c.best.Chosen); on && s.Cost[j] > 0 && c.lp.lo[j] == 0 {
				if less[j] = false; s.fits(less) {
					t.Errorf("seed %d: option %d is not needed", seed, j)
				}
			}
		}
	}
	if found < 40 || whole < 10 {
		t.Errorf("%d found, %d of whole points: the draws show little", found, whole)
	}
}

// Where everything is fixed the conditions decide: what meets them is offered, and nothing else.
func TestFixedChoicesAreOffered(t *testing.T) {
	for _, on := range []int8{0, 1} {
		c := newChooser(&Selection{Cost: []int64{3, 4}, Cover: [][]int{{0, 1}}})
		c.lp.fix(0, on, on)
		c.lp.fix(1, 0, 0)
		if c.anyFree() != -1 {
			t.Errorf("option %d is free", c.anyFree())
		}
		if next := c.split(branch{}, c.anyFree()); next != nil || len(c.open) > 0 || c.best.Found != (on == 1) || c.best.Found && (c.best.Cost != 3 || !c.best.Chosen[0] || c.best.Chosen[1]) {
			t.Errorf("fixed at %d: %+v", on, c.best)
		}
		c.lp.fix(1, 0, 1)
		if next := c.split(branch{bound: 7}, c.anyFree()); c.anyFree() != 1 || next == nil || len(c.open) != 1 || next.path[0] == c.open[0].path[0] || next.path[0].option != 1 || c.open[0].path[0].option != 1 || next.bound != 7 || c.open[0].bound != 7 || next.path[0].on {
			t.Errorf("split into %+v and %+v", next, c.open)
		}
	}
}

// What is not needed is left out, the dearest first: of three options of which any two cover all, that of 5.
func TestTheDearestIsLeftOutFirst(t *testing.T) {
	for _, prices := range [][]int64{{1, 5, 3}, {5, 1, 3}, {1, 3, 5}} {
		c := newChooser(&Selection{Cost: prices, Cover: [][]int{{0, 1}, {1, 2}, {0, 2}}})
		x := []bool{true, true, true}
		c.prune(x)
		for j, on := range x {
			if on != (prices[j] != 5) {
				t.Errorf("of prices %v are left %v", prices, x)
			}
		}
	}
}
