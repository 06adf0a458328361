package choose

import (
	"math"
	"math/rand/v2"
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
