package choose

import (
	"container/heap"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// least proves, by duality, that the point of a simplex that says "solved" is the cheapest one that keeps
// the conditions in use and the bounds of the options: the point keeps them, no multiplier is negative, and the
// multipliers give a bound as high as its cost. Nothing of the simplex is believed but the point and
// the multipliers.
func (l *simplex) least(t *testing.T, what string) {
	t.Helper()
	reduced, bound, cost := slices.Clone(l.cost), 0.0, 0.0
	for r, q := range l.rules {
		sum, used := -q.bound(), l.place[l.n+r] != 0
		y := 0.0
		if l.place[l.n+r] < 0 {
			y = l.d[l.n+r]
		}
		for k, j := range q.cols {
			sum += float64(q.scaled(q.coef[k]) * l.value(j))
			reduced[j] -= float64(y * q.scaled(q.coef[k]))
		}
		bound += float64(y * q.bound())
		if y < 0 || used && sum < -1e-6 {
			t.Fatalf("%s: condition %d has the multiplier %v and is kept by %v", what, r, y, sum)
		}
	}
	for j, d := range reduced {
		x := l.value(j)
		if x < float64(l.lo[j])-1e-6 || x > float64(l.up[j])+1e-6 {
			t.Fatalf("%s: option %d is %v of %d to %d", what, j, x, l.lo[j], l.up[j])
		}
		bound += min(float64(d*float64(l.lo[j])), float64(d*float64(l.up[j])))
		cost += float64(l.cost[j] * x)
	}
	if math.Abs(cost-bound) > 1e-6*max(1, math.Abs(cost)) || math.Abs(cost-l.objective()) > 1e-9*max(1, math.Abs(cost)) {
		t.Fatalf("%s: the cost %v (it says %v), the multipliers bound it by %v", what, cost, l.objective(), bound)
	}
}

// exclusive is a question in which options pull one another above what they may be: pairs that need and
// exclude, and packs.
func exclusive(rng *rand.Rand) *Selection {
	s := randomSelection(rng.Uint64N(1000), 10)
	for range rng.IntN(3) {
		p := rng.Perm(len(s.Cost))
		s.Need(p[0], p[1])
		s.Need(p[1], p[2], p[3])
		s.Apart = append(s.Apart, [2]int{p[2], p[4]})
	}
	return s
}

// What the simplex says is solved is the least, by duality, after every change of bounds; what it
// says is beyond a limit costs more than that, and what it says is hopeless no point keeps, by the phase one
// of another simplex: the violations, summed up as prices, are not nothing.
func TestSolvedIsTheLeast(t *testing.T) {
	solvedOnes, hopelessOnes, beyondOnes := 0, 0, 0
	for seed := range uint64(draws(120, 2000)) {
		rng := rand.New(rand.NewPCG(seed, 57))
		s := exclusive(rng)
		if seed%3 == 0 {
			s = strategy(24, 72, seed)
		}
		c := newChooser(s)
		for range 10 {
			for range 1 + rng.IntN(3) {
				c.lp.fix(rng.IntN(c.lp.n), 0, 1)
			}
			for range rng.IntN(4) {
				on := int8(rng.IntN(2))
				c.lp.fix(rng.IntN(c.lp.n), on, on)
			}
			switch end, row := c.relax(); end {
			case solved:
				solvedOnes++
				c.lp.least(t, "solved")
			case hopeless:
				hopelessOnes++
				if !c.impossible(row) && feasible(c, t) {
					t.Fatalf("seed %d: it is not hopeless", seed)
				}
			default:
				t.Fatalf("seed %d: %v", seed, end)
			}
		}
	}
	for seed := range uint64(draws(10, 100)) {
		s := strategy(24, 72, seed)
		l := newChooser(s).lp
		if end, _ := l.run(math.Inf(1), 20000); end != solved {
			t.Fatalf("seed %d: %v", seed, end)
		}
		l.least(t, "anew")
		for _, share := range []float64{0.5, 0.9, 1.0001} {
			anew, limit := newChooser(s).lp, share*l.objective()
			switch end, _ := anew.run(limit, 20000); {
			case share < 1 && end == beyond && anew.objective() > limit:
				beyondOnes++
			case share < 1, end != solved:
				t.Errorf("seed %d: %v at %v, the limit is %v", seed, end, anew.objective(), limit)
			}
		}
	}
	if solvedOnes < 500 || hopelessOnes < 100 || beyondOnes < 15 {
		t.Errorf("%d solved, %d hopeless, %d beyond: the draws show little", solvedOnes, hopelessOnes, beyondOnes)
	}
}

// feasible says that some choice keeps all conditions and what is fixed.
func feasible(c *chooser, t *testing.T) bool {
	t.Helper()
	if len(c.s.Cost) > 16 {
		return false
	}
	x := make([]bool, len(c.s.Cost))
	for mask := range 1 << len(x) {
		kept := true
		for j := range x {
			x[j] = mask>>j&1 == 1
			kept = kept && (x[j] && c.lp.up[j] == 1 || !x[j] && c.lp.lo[j] == 0)
		}
		if kept && c.s.fits(x) {
			return true
		}
	}
	return false
}

// A trial leaves the simplex as it was; what it calls out is out, by trying every choice, and what follows at
// once from a value contradicting a condition is called out; the bound it tells is none that a choice
// goes below.
func TestTrialsAgainstEnumeration(t *testing.T) {
	outs, gains := 0, 0
	for seed := range uint64(draws(60, 1000)) {
		rng := rand.New(rand.NewPCG(seed, 58))
		s := exclusive(rng)
		c := newChooser(s)
		if !c.drawAll() || !c.draw() {
			continue
		}
		if end, _ := c.relax(); end != solved {
			continue
		}
		if seed%2 == 0 { // with a choice known that is to be bettered
			c.round()
		}
		least := map[literal]int64{}
		x := make([]bool, len(s.Cost))
		for mask := range 1 << len(x) {
			for j := range x {
				x[j] = mask>>j&1 == 1
			}
			if !s.fits(x) {
				continue
			}
			cost := s.costOf(x)
			for j := range x {
				if was, ok := least[literal{j, x[j]}]; !ok || cost < was {
					least[literal{j, x[j]}] = cost
				}
			}
		}
		start := c.lp.objective()
		for j := range s.Cost {
			for _, on := range []bool{false, true} {
				cost, possible := least[literal{j, on}]
				gain, out := c.trial(&branch{}, j, on, start)
				if c.lp.objective() != start {
					t.Fatalf("seed %d: the trial of option %d has left its mark", seed, j)
				}
				if out {
					outs++
					if possible && (!c.best.Found || cost < c.best.Cost) {
						t.Fatalf("seed %d: option %d, %v is called out, and there is a choice of %d", seed, j, on, cost)
					}
				}
				if gain > 0 {
					gains++
				}
				if gain < 0 || possible && !out && start+gain > float64(cost/c.unit)*c.scale+1e-6 {
					t.Fatalf("seed %d: option %d, %v: the bound rises from %v by %v, and there is a choice of %d", seed, j, on, start, gain, cost)
				}
				other := newChooser(s)
				other.drawAll()
				if other.draw(); !(other.set(j, on) && other.draw()) && !out {
					t.Fatalf("seed %d: option %d, %v contradicts a condition, and is not called out", seed, j, on)
				}
			}
		}
	}
	if outs < 50 || gains < 50 {
		t.Errorf("%d out, %d gains: the draws show little", outs, gains)
	}
}

// The options that could meet a condition, by their value, then by their price.
func TestByValue(t *testing.T) {
	s := &Selection{Cost: []int64{5, 3, 4, 9, 1}}
	s.Cover = [][]int{{0, 1, 2, 3}}
	s.Need(4, 0, 1, 2, 3)
	c := newChooser(s)
	copy(c.lp.at, []float64{0, 1, 1, 0, 0})
	for r, want := range [][]int{{1, 2, 0, 3}, {1, 2, 0, 3}} {
		if got := c.byValue(&c.rules[r]); !slices.Equal(got, want) {
			t.Errorf("condition %d: %v, want %v", r, got, want)
		}
	}
}

// Digits left behind the point: as many as fit beside the sum of all prices, at most twenty; prices up to 2^48 are
// taken, and larger ones or sums are not.
func TestPricesThatFit(t *testing.T) {
	for _, c := range []struct {
		total  int64
		digits uint
		ok     bool
	}{{0, 20, true}, {1, 20, true}, {1<<28 - 1, 20, true}, {1 << 28, 19, true}, {1<<48 - 1, 0, true}, {1 << 48, 0, false}, {math.MaxInt64, 0, false}} {
		if digits, ok := spare(c.total); digits != c.digits || ok != c.ok {
			t.Errorf("%d: %d digits, %v; want %d, %v", c.total, digits, ok, c.digits, c.ok)
		}
	}
	const most = 1 << 48
	for _, c := range []struct {
		prices []int64
		fits   bool
	}{{[]int64{1, 2}, true}, {[]int64{most, 0}, true}, {[]int64{most - 2, 1}, true}, {[]int64{most - 1, 1}, false}, {[]int64{most, most}, true}, {[]int64{most + 1, most + 1}, false}, {[]int64{most - 1, most - 1, most - 1, 1}, false}, {[]int64{-1, 1}, false}} {
		s := &Selection{Cost: c.prices, Cover: [][]int{{0}}}
		if r := s.Choose(10); r.Found != c.fits || r.Proven != c.fits || r.Found && r.Cost != c.prices[0] {
			t.Errorf("%v: %+v, want %v", c.prices, r, c.fits)
		}
	}
}

// A branch whose bound shows that nothing in it is cheaper than what is known is not looked at, and one that
// could be cheaper is what the search goes on with.
func TestClosedBranchesAreNotLookedAt(t *testing.T) {
	for seed := range uint64(20) {
		s := strategy(12, 36, seed)
		known := s.Choose(10000)
		for _, closed := range []bool{true, false} {
			c := newChooser(s)
			c.best = known
			c.best.nodes, c.best.Cost = 0, known.Cost
			bound := known.Cost / c.unit << c.shift
			if !closed {
				bound -= int64(1) << c.shift
			}
			heap.Push(&c.open, branch{bound: bound, serial: 1})
			c.search(100)
			if nodes := c.best.nodes; nodes != 1+map[bool]int{false: 1}[closed] || !c.best.Proven || c.best.Cost != known.Cost {
				t.Errorf("seed %d, closed %v: %d parts of the search, cost %d, want %d", seed, closed, nodes, c.best.Cost, known.Cost)
			}
		}
	}
}
