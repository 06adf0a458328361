package choose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// splitmix is a counter based generator (Steele, Lea and Flood, "Fast splittable
// pseudorandom number generators", OOPSLA 2014), as numbers in [0, 1).
func splitmix(seed uint64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		z := seed + (uint64(i)+1)*0x9E3779B97F4A7C15
		z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
		z = (z ^ z>>27) * 0x94D049BB133111EB
		out[i] = float64((z^z>>31)>>11) * 0x1p-53
	}
	return out
}

// strategy is an invented question: option o covers 1 to 4 rows near one
// another, one in twenty up to a quarter of all; prices are in tenths.
func strategy(rows, options int, seed uint64) *Selection {
	u := splitmix(seed, 64*options)
	s := &Selection{Cover: make([][]int, rows)}
	for o := range options {
		v := u[64*o : 64*o+64]
		k := 1 + int(4*v[1])
		if v[0] < 0.05 {
			k = max(2, int(float64(rows)/4*v[1]))
		}
		c := o % rows
		if o >= rows {
			c = int(float64(rows) * v[2])
		}
		mine := []int{c}
		for i := range k - 1 {
			mine = append(mine, (c+int(float64(k*2)*v[3+i%50]))%rows)
		}
		slices.Sort(mine)
		mine = slices.Compact(mine)
		for _, r := range mine {
			s.Cover[r] = append(s.Cover[r], o)
		}
		s.Add(price(v[60], len(mine)))
	}
	both := func(seed uint64, n int) [][2]int {
		u := splitmix(seed, 2*n)
		var out [][2]int
		for i := range n {
			out = append(out, [2]int{int(float64(options) * u[2*i]), int(float64(options) * u[2*i+1])})
		}
		return out
	}
	for _, p := range both(seed+1, options) {
		p = [2]int{min(p[0], p[1]), max(p[0], p[1])}
		if p[0] != p[1] && p[1] >= rows && !slices.Contains(s.Apart, p) {
			s.Apart = append(s.Apart, p)
		}
	}
	for _, p := range both(seed+2, options/2) {
		if p[0] > p[1] && p[0] >= rows && !slices.Contains(s.Apart, [2]int{p[1], p[0]}) {
			if !slices.ContainsFunc(s.Needs, func(n Need) bool { return n.who == p[0] && n.oneOf[0] == p[1] }) {
				s.Need(p[0], p[1])
			}
		}
	}
	return s
}

func price(u float64, rows int) int64 {
	return int64(float64(float64(100*(0.5+u))*math.Pow(float64(rows), 0.8)) * 10)
}

// strategies are the sizes of the questions and the least cost of each, in tenths: found by
// CBC 2.10.8 (and GLPK 5.0 for the small ones) from the same questions written as
// integer programs.
var strategies = []struct {
	rows, options int
	seed          uint64
	least         int64
}{
	{40, 120, 100, 28224}, {40, 120, 200, 26024}, {40, 120, 300, 24575}, {40, 120, 400, 25545}, {40, 120, 500, 29065},
	{200, 800, 100, 113250}, {200, 800, 200, 103624}, {200, 800, 300, 106661}, {200, 800, 400, 110466}, {200, 800, 500, 113026},
}

func TestSelectionOf200RowsAnd800Options(t *testing.T) {
	for _, x := range strategies[:draws(4, len(strategies))] {
		s := strategy(x.rows, x.options, x.seed)
		r := s.Choose(2000)
		if !r.Found || !r.Proven || r.Cost != x.least || r.Bound != x.least || !s.fits(r.Chosen) || s.costOf(r.Chosen) != r.Cost {
			t.Errorf("%dx%d, seed %d: %d, bound %d, proven %t, want %d", x.rows, x.options, x.seed, r.Cost, r.Bound, r.Proven, x.least)
		}
	}
}

// A search cut short tells a bound below and a choice above the least cost.
func TestSelectionCutShortTellsTheGap(t *testing.T) {
	for _, x := range strategies[5 : 5+draws(2, 5)] {
		s := strategy(x.rows, x.options, x.seed)
		r := s.Choose(2)
		if !r.Found || r.Proven || r.Bound > x.least || r.Cost < x.least || !s.fits(r.Chosen) || float64(r.Bound) < 0.9*float64(x.least) {
			t.Errorf("seed %d: between %d and %d, proven %t, least %d", x.seed, r.Bound, r.Cost, r.Proven, x.least)
		}
	}
}

// randomSelection is small enough to try every choice.
func randomSelection(seed uint64, options int) *Selection {
	rng := rand.New(rand.NewPCG(seed, 51))
	s := &Selection{}
	for range options {
		s.Add(rng.Int64N(60) * []int64{1, 1, 5, 60000}[seed%4])
	}
	some := func(n int) []int { return rng.Perm(options)[:n] }
	for range 3 + rng.IntN(6) {
		s.Cover = append(s.Cover, some(1+rng.IntN(4)))
	}
	for range rng.IntN(8) {
		p := some(2)
		s.Apart = append(s.Apart, [2]int{p[0], p[1]})
	}
	for range rng.IntN(8) {
		p := some(1 + rng.IntN(4)) // with nothing to need, it is out
		s.Need(p[0], p[1:]...)
	}
	for range int(seed % 3) { // one pack of a stock after the other
		k := Stock{Size: []int32{10, 100, 1000000}[rng.IntN(3)]}
		for _, j := range some(1 + rng.IntN(5)) {
			k.Users, k.Use = append(k.Users, j), append(k.Use, k.Size/10*rng.Int32N(12))
		}
		k.Sure = k.Size/10*rng.Int32N(10) - k.Size/2
		for range 1 + rng.IntN(2) {
			k.Packs = append(k.Packs, s.Add(rng.Int64N(40)*[]int64{1, 1, 5, 60000}[seed%4]))
		}
		s.Stocks = append(s.Stocks, k)
	}
	return s
}

// enumerate tries every choice; -1: none meets the conditions.
func (s *Selection) enumerate() int64 {
	best := int64(-1)
	x := make([]bool, len(s.Cost))
	for mask := range 1 << len(x) {
		for j := range x {
			x[j] = mask>>j&1 == 1
		}
		if c := s.costOf(x); (best < 0 || c < best) && s.fits(x) {
			best = c
		}
	}
	return best
}

func TestSelectionAgainstEnumerationSeeds(t *testing.T) {
	none := 0
	for seed := range uint64(draws(300, 3000)) {
		s := randomSelection(seed, 10)
		r, want := s.Choose(10000), s.enumerate()
		if want < 0 {
			none++
		}
		if !r.Proven || r.Found != (want >= 0) || r.Found && (r.Cost != want || !s.fits(r.Chosen)) {
			t.Errorf("seed %d: %d, found %t, proven %t; by enumeration %d", seed, r.Cost, r.Found, r.Proven, want)
		}
	}
	if none < 15 || none > draws(200, 2000) {
		t.Errorf("%d of the questions have no answer", none)
	}
}

// Laws: one option more never costs more, one row more never costs less, and
// the order of options and rows changes nothing.
func TestSelectionLawsSeeds(t *testing.T) {
	dearer, cheaper := 0, 0
	of := draws(6, 30)
	for seed := range uint64(of) {
		rng := rand.New(rand.NewPCG(seed, 52))
		s := strategy(40, 120, 1000+seed)
		least := s.Choose(10000)

		more := s.clone()
		o := more.Add(rng.Int64N(2000))
		for range 3 {
			r := rng.IntN(len(more.Cover))
			more.Cover[r] = append(more.Cover[r], o)
		}
		if r := more.Choose(10000); !r.Proven || r.Cost > least.Cost {
			t.Errorf("seed %d: an option more: %d before, %d after", seed, least.Cost, r.Cost)
		} else if r.Cost < least.Cost {
			cheaper++
		}

		more = s.clone()
		more.Cover = append(more.Cover, rng.Perm(len(s.Cost))[:4])
		if r := more.Choose(10000); !r.Proven || r.Cost < least.Cost {
			t.Errorf("seed %d: a finding more: %d before, %d after", seed, least.Cost, r.Cost)
		} else if r.Cost > least.Cost {
			dearer++
		}

		if r := s.shuffled(rng).Choose(10000); !r.Proven || r.Cost != least.Cost {
			t.Errorf("seed %d: in another order %d instead of %d", seed, r.Cost, least.Cost)
		}
		if r := s.Choose(10000); !slices.Equal(r.Chosen, least.Chosen) || r.nodes != least.nodes {
			t.Errorf("seed %d: the same question has two answers", seed)
		}
	}
	if 6*dearer < of || 6*cheaper < of {
		t.Errorf("the test shows little: %d dearer, %d cheaper", dearer, cheaper)
	}
}

func (s *Selection) clone() *Selection {
	out := &Selection{Cost: slices.Clone(s.Cost), Apart: slices.Clone(s.Apart), Needs: slices.Clone(s.Needs)}
	for _, r := range s.Cover {
		out.Cover = append(out.Cover, slices.Clone(r))
	}
	return out
}

// shuffled is the same question with its options, rows and conditions in another
// order.
func (s *Selection) shuffled(rng *rand.Rand) *Selection {
	to := rng.Perm(len(s.Cost))
	out := &Selection{Cost: make([]int64, len(s.Cost))}
	for j, k := range to {
		out.Cost[k] = s.Cost[j]
	}
	list := func(js []int) []int {
		var out []int
		for _, j := range js {
			out = append(out, to[j])
		}
		rng.Shuffle(len(out), func(a, b int) { out[a], out[b] = out[b], out[a] })
		return out
	}
	for _, i := range rng.Perm(len(s.Cover)) {
		out.Cover = append(out.Cover, list(s.Cover[i]))
	}
	for _, i := range rng.Perm(len(s.Apart)) {
		p := list(s.Apart[i][:])
		out.Apart = append(out.Apart, [2]int{p[0], p[1]})
	}
	for _, i := range rng.Perm(len(s.Needs)) {
		out.Need(to[s.Needs[i].who], list(s.Needs[i].oneOf)...)
	}
	return out
}

// Prices that do not fit are told as not proven, with nothing found.
func TestSelectionOfTooLargePrices(t *testing.T) {
	s := &Selection{}
	s.Cover = [][]int{{s.Add(1<<60 + 1), s.Add(1<<60 + 2)}}
	if r := s.Choose(100); r.Found || r.Proven || r.Bound != 0 {
		t.Errorf("%+v", r)
	}
}

func BenchmarkSelection200Rows800Options(b *testing.B) {
	for _, x := range strategies[5:] {
		s := strategy(x.rows, x.options, x.seed)
		b.Run(fmt.Sprint("seed", x.seed), func(b *testing.B) {
			for b.Loop() {
				s.Choose(2000)
			}
		})
	}
}

// tangled is a question in which everything is part of everything: packs cover rows, exclude, need and use up
// other packs, options are listed twice, and prices are so near one another that many choices cost the
// same or one unit more.
func tangled(seed uint64) *Selection {
	rng := rand.New(rand.NewPCG(seed, 59))
	n := 4 + rng.IntN(7)
	s := &Selection{}
	near := rng.Int64N(4)
	for range n {
		s.Add(near + rng.Int64N(2+rng.Int64N(3)))
	}
	some := func(most int) (out []int) {
		for range 1 + rng.IntN(most) {
			out = append(out, rng.IntN(n))
		}
		return out
	}
	for range 1 + rng.IntN(5) {
		s.Cover = append(s.Cover, some(5))
	}
	for range rng.IntN(4) {
		s.Apart = append(s.Apart, [2]int{rng.IntN(n), rng.IntN(n)})
	}
	for range rng.IntN(4) {
		s.Need(rng.IntN(n), some(3)...)
	}
	for range rng.IntN(3) {
		k := Stock{Size: 1 + rng.Int32N(5), Sure: rng.Int32N(6) - 2, Packs: some(3)}
		for _, j := range some(4) {
			k.Users, k.Use = append(k.Users, j), append(k.Use, rng.Int32N(5))
		}
		s.Stocks = append(s.Stocks, k)
	}
	return s
}

// The cheapest of every choice is found where everything hangs on everything, also where many cost the
// same; the bound of a search cut short lies below it, and what it found above.
func TestTangledSelectionsAgainstEnumerationSeeds(t *testing.T) {
	none, open := 0, 0
	for seed := range uint64(draws(1000, 20000)) {
		s := tangled(seed)
		want := s.enumerate()
		if want < 0 {
			none++
		}
		r := s.Choose(10000)
		if !r.Proven || r.Found != (want >= 0) || r.Found && (r.Cost != want || r.Bound != want || !s.fits(r.Chosen) || s.costOf(r.Chosen) != want) {
			t.Errorf("seed %d: %+v; by enumeration %d of %+v", seed, r, want, s)
		}
		for nodes := range 3 {
			r := s.Choose(nodes)
			if !r.Proven {
				open++
			}
			if r.nodes > nodes || want >= 0 && r.Bound > want || r.Found && (r.Cost < want || !s.fits(r.Chosen)) || r.Proven && r.Found != (want >= 0) || r.Proven && r.Found && r.Cost != want {
				t.Errorf("seed %d, cut short after %d: %+v; by enumeration %d of %+v", seed, nodes, r, want, s)
			}
		}
	}
	if none < 60 || none > draws(800, 16000) || open < 600 {
		t.Errorf("%d without an answer, %d left open: the draws show little", none, open)
	}
}

// The inequalities are the conditions: of every choice, all of them hold where it fits and not all where it
// does not; and so do the numbers that the simplex has of them.
func TestInequalitiesAreTheConditions(t *testing.T) {
	fits, not := 0, 0
	for seed := range uint64(300) {
		s := tangled(seed)
		x := make([]bool, len(s.Cost))
		rules := s.inequalities()
		for mask := range 1 << len(x) {
			for j := range x {
				x[j] = mask>>j&1 == 1
			}
			all := true
			for _, q := range rules {
				sum, scaled := 0, 0.0
				for k, j := range q.cols {
					if x[j] {
						sum, scaled = sum+int(q.coef[k]), scaled+q.scaled(q.coef[k])
					}
				}
				all = all && sum >= int(q.rhs)
				if (sum >= int(q.rhs)) != (scaled >= q.bound()-1e-9) || q.large() < max(int64(q.rhs), -int64(q.rhs), 1) {
					t.Fatalf("seed %d: %+v is %d, scaled %v of %v", seed, q, sum, scaled, q.bound())
				}
			}
			if all != s.fits(x) {
				t.Fatalf("seed %d: %v fits: %v, its inequalities hold: %v, of %+v", seed, x, !all, all, s)
			}
			if all {
				fits++
			} else {
				not++
			}
		}
	}
	if fits < 300 || not < 300 {
		t.Errorf("%d choices fit, %d do not: the draws show little", fits, not)
	}
}
