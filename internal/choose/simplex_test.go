package choose

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// holds checks what a simplex says of itself, against the conditions: values of the basic
// variables, the inverse and the reduced costs (as differences between two drawn points, whatever
// their constants), the norms of its rows, and that places point there and back.
func (l *simplex) holds(t *testing.T, what string, rng *rand.Rand) {
	t.Helper()
	near := func(of string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-6*max(1, math.Abs(want))) {
			t.Fatalf("%s: %s is %v, want %v", what, of, got, want)
		}
	}
	by := make([]float64, l.n) // a difference between two points
	for j := range by {
		by[j] = rng.NormFloat64()
	}
	sum := func(r int, x func(j int) float64) (sum float64) {
		q := &l.rules[r]
		for k, j := range q.cols {
			sum += float64(q.scaled(q.coef[k]) * x(j))
		}
		return sum
	}
	step := func(j int) float64 { return by[j] }
	for c, r := range l.slots {
		if l.place[l.n+r] != -(c + 1) {
			t.Fatalf("%s: condition %d of slot %d has place %d", what, r, c, l.place[l.n+r])
		}
		near("a slack outside the basis", sum(r, l.value)-l.rules[r].bound(), 0)
	}
	cost, goes := 0.0, 0.0
	for j, v := range by {
		cost += float64(l.cost[j] * v)
		if l.place[j] == 0 {
			goes += float64(l.d[j] * v)
		}
	}
	for _, r := range l.slots {
		goes += float64(l.d[l.n+r] * sum(r, step))
	}
	near("the change of the cost by the reduced ones", goes, cost)
	for i, v := range l.basic {
		if l.place[v] != i+1 {
			t.Fatalf("%s: variable %d of row %d has place %d", what, v, i, l.place[v])
		}
		norm, change := 0.0, 0.0
		if v >= l.n {
			norm, change = 1, sum(v-l.n, step)
			near("a slack of the basis", l.beta[i], sum(v-l.n, l.value)-l.rules[v-l.n].bound())
		} else {
			change = by[v]
		}
		l.rowOf(i)
		along := 0.0
		for c, x := range l.row(i) {
			norm += float64(x * x)
			along += float64(x * sum(l.slots[c], step))
		}
		for _, j := range l.touched {
			along += float64(l.alpha[j] * by[j])
		}
		near("the change of a basic variable", along, change)
		if math.Abs(l.norm[i]-norm) > 0.01*max(1, norm) { // it is kept above 1e-4, which adds up
			t.Fatalf("%s: the norm of row %d is %v, want %v", what, i, l.norm[i], norm)
		}
	}
}

// After every few pivots, options fixed and freed between them, all that the simplex says of
// itself is so, and no less after it was computed anew: the same basis at the same cost. Drawn questions and strategies, seeds 0 on.
func TestSimplexHoldsWhatItSays(t *testing.T) {
	pivots, basic := 0, 0
	for seed := range uint64(draws(40, 1000)) {
		s := randomSelection(seed, 12)
		if seed%4 == 0 {
			s = strategy(12, 36, seed)
		}
		c := newChooser(s)
		if c == nil {
			t.Fatal("the prices are too large")
		}
		rng := rand.New(rand.NewPCG(seed, 52))
		for range 12 {
			c.lp.holds(t, "before", rng)
			end := unfinished
			for { // a few pivots at a time, so that states on the way are looked at too
				end, _ = c.lp.run(math.Inf(1), 1+rng.IntN(3))
				c.lp.holds(t, "on the way", rng)
				if end == hopeless || end == solved && !c.lp.separate() {
					break
				}
			}
			c.lp.holds(t, "at the end", rng)
			kept := &simplex{}
			c.lp.copyTo(kept)
			kept.holds(t, "kept", rng)
			kept.rebuild()
			kept.holds(t, "rebuilt", rng)
			for j := range c.lp.n {
				if end == hopeless { // options lie where the last try has left them
					break
				}
				in := c.lp.place[j] > 0
				if in {
					basic++
				}
				if in != (kept.place[j] > 0) {
					t.Fatalf("seed %d: option %d in the basis %v, rebuilt %v", seed, j, in, kept.place[j] > 0)
				}
			}
			if a, b := c.lp.objective(), kept.objective(); end != hopeless && math.Abs(a-b) > 1e-6*max(1, math.Abs(a)) {
				t.Fatalf("seed %d: the cost %v, rebuilt %v", seed, a, b)
			}
			j := rng.IntN(c.lp.n)
			bounds := [][2]int8{{0, 0}, {1, 1}, {0, 1}}[rng.IntN(3)]
			c.lp.fix(j, bounds[0], bounds[1])
		}
		pivots += c.lp.pivots
	}
	if pivots < 300 || basic < 300 {
		t.Errorf("%d pivots, %d options in a basis: the draws show nothing", pivots, basic)
	}
}

// A basis that is of no use for other prices is left: the simplex begins anew from the slacks and
// comes to the same cost as one that never had it.
func TestRebuildUnderOtherPrices(t *testing.T) {
	left := 0
	for seed := range uint64(draws(40, 1000)) {
		s := strategy(12, 36, seed)
		c := newChooser(s)
		rng := rand.New(rand.NewPCG(seed, 53))
		if end, _ := c.relax(); end != solved {
			t.Fatalf("seed %d: %v", seed, end)
		}
		other := make([]float64, len(s.Cost))
		for j := range other {
			other[j] = rng.Float64()
		}
		was := c.lp.pivots
		copy(c.lp.cost, other)
		c.lp.rebuild()
		c.lp.holds(t, "rebuilt", rng)
		if !hasOption(c.lp) {
			left++
		}
		anew := newSimplex(c.rules, other)
		for r := range s.Cover {
			anew.use(r)
		}
		c.lp.pivots = was
		for _, l := range []*simplex{c.lp, anew} {
			for again := true; again; again = l.separate() {
				if end, _ := l.run(math.Inf(1), 20000); end != solved {
					t.Fatalf("seed %d: %v", seed, end)
				}
			}
			l.holds(t, "solved", rng)
		}
		if a, b := c.lp.objective(), anew.objective(); math.Abs(a-b) > 1e-6 {
			t.Errorf("seed %d: the cost is %v, anew %v", seed, a, b)
		}
	}
	if left == 0 {
		t.Error("no basis was left: the draws show nothing")
	}
}

func hasOption(l *simplex) bool {
	for _, v := range l.basic {
		if v < l.n {
			return true
		}
	}
	return false
}

// The bound of whole numbers lies below the cost of every choice that keeps the conditions and
// what is fixed, at whatever state of the simplex it is asked for; what is tightened is exactly
// what the reduced prices rule out, and no choice cheaper than the best is among that. By trying
// every choice, seeds 0 on.
func TestBoundsAgainstEnumeration(t *testing.T) {
	bounds, fixed := 0, 0
	for seed := range uint64(draws(60, 1000)) {
		s := randomSelection(seed, 10)
		c := newChooser(s)
		if c == nil {
			t.Fatal("the prices are too large")
		}
		var choices [][]bool
		for mask := range 1 << len(s.Cost) {
			x := make([]bool, len(s.Cost))
			for j := range x {
				x[j] = mask>>j&1 == 1
			}
			if s.fits(x) {
				choices = append(choices, x)
			}
		}
		rng := rand.New(rand.NewPCG(seed, 54))
		for range 6 {
			for range 3 {
				j := rng.IntN(len(s.Cost))
				lo := int8(rng.IntN(2))
				c.lp.fix(j, lo, max(lo, int8(rng.IntN(2))))
			}
			c.lp.run(math.Inf(1), rng.IntN(6))
			c.lp.separate()
			bound := c.bound()
			kept := func(x []bool, l *simplex) bool {
				for j, on := range x {
					if on && l.up[j] == 0 || !on && l.lo[j] == 1 {
						return false
					}
				}
				return true
			}
			var open [][]bool
			for _, x := range choices {
				if !kept(x, c.lp) {
					continue
				}
				open = append(open, x)
				if cost := s.costOf(x) / c.unit << c.shift; cost < bound {
					t.Fatalf("seed %d: the bound %d lies above a choice of %d", seed, bound, cost)
				}
				bounds++
			}
			if len(open) == 0 {
				continue
			}
			c.best.Found, c.best.Cost = true, s.costOf(open[rng.IntN(len(open))])+rng.Int64N(3)*c.unit
			room := (c.best.Cost/c.unit-1)<<c.shift - bound
			if room < 0 {
				continue // the branch is closed before
			}
			was, reduced := &simplex{}, slices.Clone(c.reduced)
			c.lp.copyTo(was)
			_, ok := c.tighten(bound)
			for _, x := range open {
				if s.costOf(x) < c.best.Cost && (!ok || !kept(x, c.lp)) {
					t.Fatalf("seed %d: a choice of %d was ruled out, the best is %d", seed, s.costOf(x), c.best.Cost)
				}
			}
			for j, d := range reduced {
				if was.lo[j] == was.up[j] || d <= room && -d <= room {
					continue
				}
				if fixed++; ok && c.lp.lo[j] != c.lp.up[j] {
					t.Fatalf("seed %d: option %d has the reduced price %d, room is for %d, and it is not fixed", seed, j, d, room)
				}
			}
			c.lp = was
			c.best.Found = false
		}
	}
	if bounds < 1000 || fixed < 20 {
		t.Errorf("%d choices above bounds, %d options fixed: the draws show nothing", bounds, fixed)
	}
}

// How much search strategies and drawn questions with stocks take: parts of the search and pivots, the same on
// every machine. Our figures, no source: a choice of where to branch or of what to pivot on that is no good takes more and
// answers as well. Whoever changes the search for the better writes them anew.
func TestHowShortTheSearchIs(t *testing.T) {
	nodes, pivots := 0, 0
	search := func(s *Selection) {
		c := newChooser(s)
		c.search(5000)
		if !c.best.Proven {
			t.Errorf("not proven: %+v", s)
		}
		nodes, pivots = nodes+c.best.nodes, pivots+c.lp.pivots
	}
	for seed := range uint64(20) {
		search(strategy(40, 120, 100+seed))
	}
	if nodes != 69 || pivots != 2343 {
		t.Errorf("strategies: %d parts of the search, %d pivots", nodes, pivots)
	}
	nodes, pivots = 0, 0
	for seed := range uint64(60) {
		search(randomSelection(seed, 30))
	}
	if nodes != 70 || pivots != 158 {
		t.Errorf("with stocks: %d parts of the search, %d pivots", nodes, pivots)
	}
}

// A condition that only a number too small to divide by could mend is told as hopeless. By hand:
// of a - 9e-8 b - 9e-8 e >= 0 a is fixed at 0 and e at 1, and b = 1 - c - slack was solved for
// from b + c <= 1; what is left is 9e-8 of that slack.
func TestTooSmallToDivideBy(t *testing.T) {
	const a, b, c, e = 0, 1, 2, 3
	l := newSimplex([]inequality{
		{cols: []int{b, c}, coef: []int32{-1, -1}, rhs: -1},
		{cols: []int{a, b, e}, coef: []int32{1e9, -90, -90}, size: 1e9},
	}, []float64{a: 1, b: -1, c: -2, e: -1})
	for j := range l.n {
		l.move(j, l.resting(j))
	}
	l.fix(a, 0, 0)
	l.fix(e, 1, 1)
	l.fix(c, 0, 1)
	l.use(0)
	if end, _ := l.run(math.Inf(1), 10); end != solved || l.place[b] <= 0 || l.value(c) != 1 {
		t.Fatalf("%v, b in row %d, c = %v", end, l.place[b]-1, l.value(c))
	}
	l.fix(c, 0, 0)
	l.use(1)
	if end, row := l.run(math.Inf(1), 10); end != hopeless || l.basic[row] != l.n+1 {
		t.Errorf("%v in the row of %d", end, l.basic[row])
	}
}

// What is learned of an option is how much the bound rises for each unit it is moved, either way:
// the trials are made once more from the same place.
func TestPickLearnsGainsPerUnit(t *testing.T) {
	learned := 0
	for seed := range uint64(10) {
		c := newChooser(strategy(40, 120, 100+seed))
		if end, _ := c.relax(); end != solved {
			t.Fatalf("seed %d: %v", seed, end)
		}
		root := &branch{}
		if _, again := c.pick(root); again {
			continue
		}
		start := c.lp.objective()
		for j := range c.s.Cost {
			if c.tried[0][j] == 0 {
				continue
			}
			x := c.lp.value(j)
			down, _ := c.trial(root, j, false, start)
			up, _ := c.trial(root, j, true, start)
			if c.tried[0][j] != 1 || c.tried[1][j] != 1 || math.Abs(c.gainOf(0, j)-down/x) > 1e-9 || math.Abs(c.gainOf(1, j)-up/(1-x)) > 1e-9 {
				t.Errorf("seed %d, option %d at %v: %v and %v learned, want %v and %v", seed, j, x, c.gainOf(0, j), c.gainOf(1, j), down/x, up/(1-x))
			}
			if down > 0 && x < 0.9 {
				learned++
			}
		}
	}
	if learned < 5 {
		t.Errorf("%d gains were learned: the draws show nothing", learned)
	}
}

// What is called impossible is: no choice keeps the conditions with what is fixed, by trying every
// one. And it is called so where the simplex finds it, but for roundings. Seeds 0 on.
func TestImpossibleAgainstEnumeration(t *testing.T) {
	found, proven, first := 0, 0, 0
	for seed := range uint64(draws(300, 3000)) {
		s := randomSelection(seed, 10)
		c := newChooser(s)
		if c == nil {
			t.Fatal("the prices are too large")
		}
		rng := rand.New(rand.NewPCG(seed, 55))
		for range 1 + rng.IntN(8) { // nothing follows from it, as it would in a search
			on := int8(rng.IntN(2) * rng.IntN(2))
			c.lp.fix(rng.IntN(len(s.Cost)), on, on)
		}
		end, row := c.relax()
		if end != hopeless {
			continue
		}
		found++
		if c.lp.basic[row] == c.lp.n {
			first++
		}
		shown := c.impossible(row)
		if c.bound(); c.impossible(row) != shown {
			t.Errorf("seed %d: what is impossible hangs on what was asked before", seed)
		}
		if !shown {
			continue
		}
		proven++
		x := make([]bool, len(s.Cost))
		for mask := range 1 << len(x) {
			kept := true
			for j := range x {
				x[j] = mask>>j&1 == 1
				kept = kept && (x[j] && c.lp.up[j] == 1 || !x[j] && c.lp.lo[j] == 0)
			}
			if kept && s.fits(x) {
				t.Fatalf("seed %d: %v keeps all conditions", seed, x)
			}
		}
	}
	if proven < 30 || proven < found*9/10 || first == 0 {
		t.Errorf("%d found hopeless, %d in the first condition, %d proven", found, first, proven)
	}
}

// Sets of small numbers against lists of them.
func TestBitsets(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 56))
	in := 0
	for range 500 {
		const n = 130
		b, c := newBitset(n), newBitset(n)
		var list, other []int
		list = append(append(list, rng.Perm(n)[:rng.IntN(3)]...), rng.IntN(2)*64)
		for j := range n {
			if rng.IntN(8) > 0 {
				other = append(other, j)
				c.add(j)
			}
		}
		for _, j := range list {
			b.add(j)
		}
		for but := -1; but < n; but++ {
			want := !slices.ContainsFunc(list, func(j int) bool { return j != but && !slices.Contains(other, j) })
			if want {
				in++
			}
			if got := b.inBut(c, but); got != want {
				t.Fatalf("%v but %d in %v: %v", list, but, other, got)
			}
		}
		if b.in(c) != b.inBut(c, -1) {
			t.Fatalf("%v in %v", list, other)
		}
	}
	if in == 0 || in == 500*131 {
		t.Error("the draws show nothing")
	}
}

// The key of a set hangs on its members alone.
func TestKeysOfSets(t *testing.T) {
	list := []int{12, 3, 1}
	if setKey(list) != setKey([]int{1, 12, 3}) || list[0] != 12 {
		t.Errorf("%q and %q, after %v", setKey(list), setKey([]int{1, 12, 3}), list)
	}
	seen := map[string][]int{} // members near the sizes at which a number takes a byte more
	for _, a := range []int{0, 1, 127, 128, 129, 255, 256, 16383, 16384, 16512, 16640} {
		for _, b := range []int{0, 1, 127, 128, 129, 255, 256, 16383, 16384, 16512, 16640} {
			set := []int{min(a, b), max(a, b)}
			if was, ok := seen[setKey(set)]; ok && !slices.Equal(was, set) {
				t.Errorf("%v has the key of %v", set, was)
			}
			seen[setKey(set)] = set
		}
	}
	for _, other := range [][]int{nil, {1}, {1, 3}, {1, 2, 3}, {1, 3, 1, 2}, {11, 23}, {112, 3}} {
		if setKey(other) == setKey(list) {
			t.Errorf("%v has the key of %v", other, list)
		}
	}
}
