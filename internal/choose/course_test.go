package choose

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/golden"
)

// TestCourseOfTheSearchStaysAsItIs: which parts the search looks at, cut short at different
// lengths and to its end: its parts, pivots and trials, the way to the part it would look at
// next, and what it has found by then. Enumerations show that none of it is false; how short it
// is follows from no definition, and is held here. Whoever changes the search for the better
// writes it anew.
func TestCourseOfTheSearchStaysAsItIs(t *testing.T) {
	var b strings.Builder
	course := func(name string, s *Selection) {
		for _, nodes := range []int{1, 2, 4, 9, 1000} {
			c := newChooser(s)
			c.search(nodes)
			trials, learned := 0.0, 0.0
			for j := range s.Cost {
				trials += c.tried[0][j] + c.tried[1][j]
				learned += c.gain[0][j] + float64(2*c.gain[1][j])
			}
			sum := fnv.New32a()
			fmt.Fprint(sum, c.best.Chosen, c.lp.basic, c.lp.slots, c.lp.at)
			for _, x := range c.open {
				fmt.Fprint(sum, x.path, c.whole(x.bound))
			}
			fmt.Fprintf(&b, "%s\t%d parts\t%d pivots\t%d open of %d\tbetween %d and %d, proven %t\t%.0f trials, %.4f\t%08x\n",
				name, c.best.nodes, c.lp.pivots, len(c.open), c.serial, c.best.Bound, c.best.Cost, c.best.Proven, trials, learned+1e-9, sum.Sum32())
			if c.best.Proven {
				break
			}
		}
	}
	for seed := range uint64(12) {
		course(fmt.Sprint("strategy ", seed), strategy(30+5*int(seed%3), 90, seed))
	}
	for seed := range uint64(30) {
		course(fmt.Sprint("tangled ", seed), tangled(seed))
		course(fmt.Sprint("stocks ", seed), randomSelection(seed, 25))
	}
	for n := 5; n < 12; n++ { // rings of rows: each option covers two of them, and half of each is the point
		s := &Selection{}
		for k := range n {
			s.Cover = append(s.Cover, []int{s.Add(int64(1 + k%3)), (k + 1) % n})
		}
		course(fmt.Sprint("ring ", n), s)
	}
	golden.Same(t, "testdata/course.tsv", b.String())
}

// By definition: of what is open the part of the lowest bound comes next, and of equal ones the
// first that was put there.
func TestTheLowestBoundComesNext(t *testing.T) {
	q := queue{{bound: 5, serial: 2}, {bound: 5, serial: 1}, {bound: 4, serial: 3}, {bound: 4, serial: 3}}
	for _, c := range []struct {
		i, j int
		want bool
	}{{0, 1, false}, {1, 0, true}, {0, 2, false}, {2, 0, true}, {2, 1, true}, {1, 2, false}, {2, 3, false}} {
		if q.Less(c.i, c.j) != c.want {
			t.Errorf("%+v before %+v: %v", q[c.i], q[c.j], !c.want)
		}
	}
}

// Law: with every price seven times as much, a search takes the same course, wherever it is cut
// short, and its bound and its cost are seven times as much. The simplex has the dearest option
// at one either way.
func TestPricesManyTimesAsLarge(t *testing.T) {
	open := 0
	for seed := range uint64(25) {
		s := strategy(20, 60, seed)
		s.Add(1) // so that there is no common part of the prices
		large := s.clone()
		for j := range large.Cost {
			large.Cost[j] *= 7
		}
		a, b := newChooser(s), newChooser(large)
		if math.Abs(slices.Max(b.lp.cost)-1) > 1e-15 || a.unit != 1 || b.unit != 7 {
			t.Fatalf("seed %d: the dearest is at %v, prices are in units of %d and %d", seed, slices.Max(b.lp.cost), a.unit, b.unit)
		}
		nodes := 1 + int(seed%3)
		a.search(nodes)
		b.search(nodes)
		if a.best.Bound*7 != b.best.Bound || a.best.Cost*7 != b.best.Cost || a.best.nodes != b.best.nodes || a.lp.pivots != b.lp.pivots || a.best.Proven != b.best.Proven {
			t.Errorf("seed %d: %+v, at seven times the prices %+v", seed, a.best, b.best)
		}
		if !a.best.Proven && a.best.Bound > 0 {
			open++
		}
	}
	if c := newChooser(&Selection{Cost: []int64{5, 0, 5}}); !slices.Equal(c.lp.cost, []float64{1, 0, 1}) {
		t.Errorf("prices of 5 and nothing: %v", c.lp.cost)
	}
	if open < 5 {
		t.Errorf("only %d of the searches end with a gap", open)
	}
}

// By hand: option 0 excludes both that cover row 0, so that with it nothing is left, which shows
// before any pivot is made; without it everything is.
func TestTrialOfWhatCannotBe(t *testing.T) {
	s := &Selection{Cost: []int64{1, 2, 3}, Cover: [][]int{{1, 2}}, Apart: [][2]int{{0, 1}, {0, 2}}}
	c := newChooser(s)
	if end, _ := c.relax(); end != solved {
		t.Fatal(end)
	}
	start := c.lp.objective()
	if gain, out := c.trial(&branch{}, 0, true, start); gain != 0 || !out {
		t.Errorf("chosen: %v, out %v", gain, out)
	}
	if gain, out := c.trial(&branch{}, 0, false, start); gain != 0 || out {
		t.Errorf("left out: %v, out %v", gain, out)
	}
	if gain, out := c.trial(&branch{}, 1, false, start); math.Abs(gain-1.0/3) > 1e-9 || out { // 3 for 2, of 3
		t.Errorf("the cheaper one left out: %v, out %v", gain, out)
	}
}

// By hand: a multiplier is rounded to the nearest whole part, and cut so that all conditions
// together stay below 2^59; nothing or less than that takes no part.
func TestMultipliersAreCut(t *testing.T) {
	for _, c := range []struct {
		by   float64
		want int64
	}{{-1, 0}, {0, 0}, {math.NaN(), 0}, {0.4, 0}, {0.5, 1}, {7.4, 7}, {7.5, 8}, {1e300, 1 << 59 / 2}, {math.Inf(1), 1 << 59 / 2}} {
		q := newChooser(&Selection{Cost: []int64{1, 1, 1}, Cover: [][]int{{0, 1}}, Apart: [][2]int{{1, 2}}})
		clear(q.reduced)
		if got := q.weigh(0, c.by); got != c.want || q.reduced[0] != -c.want || q.reduced[1] != -c.want || q.reduced[2] != 0 {
			t.Errorf("%v: %d, reduced %v; want %d", c.by, got, q.reduced, c.want)
		}
	}
	stock := newChooser(&Selection{Cost: []int64{1, 1}, Stocks: []Stock{{Packs: []int{0}, Size: 100, Users: []int{1}, Use: []int32{250}, Sure: -300}}})
	clear(stock.reduced)
	if got := stock.weigh(0, 700); got != 7*-300 || stock.reduced[0] != -700 || stock.reduced[1] != 7*250 { // 700 of packs are 7 of pieces
		t.Errorf("of a stock: %d, reduced %v", got, stock.reduced)
	}
	if got := stock.weigh(0, 1e300); got != (1<<59/300)*-300 { // 300 is the largest number in it
		t.Errorf("of a stock: %d", got)
	}
}

// Reduced prices far below nothing are no bound, whatever their number: their sum does not come
// round to where it would be one.
func TestReducedPricesDoNotOverflow(t *testing.T) {
	for n := 1; n < 40; n++ {
		s := &Selection{Cost: make([]int64, n)}
		c := newChooser(s)
		for j := range c.reduced {
			c.reduced[j] = -1 << 60
		}
		want := max(-int64(n), -3) << 60
		if got := c.rest(); got != want {
			t.Errorf("of %d options: %d, want %d", n, got, want)
		}
	}
}

// A part of the search that asks for both values of an option is empty; and after thousands of
// pivots the inverse is computed anew, which changes nothing that is found.
func TestPartsOfTheSearch(t *testing.T) {
	s := strategy(12, 36, 3)
	c := newChooser(s)
	if next := c.node(branch{path: []literal{{20, true}, {20, false}}}); next != nil || len(c.open) != 0 || c.best.Found {
		t.Errorf("both values of an option: %+v, %+v", next, c.best)
	}
	worn := newChooser(s)
	worn.lp.pivots = 4001
	worn.search(1000)
	if want := s.Choose(1000); worn.best.Cost != want.Cost || !worn.best.Proven || worn.lp.pivots >= 4000 {
		t.Errorf("%+v after %d pivots, want %+v", worn.best, worn.lp.pivots, want)
	}
}

// What rests outside the basis lies at the bound of its reduced price, at nothing where either is
// as good, also when all is computed anew.
func TestOptionsRestAtTheirBounds(t *testing.T) {
	l := newSimplex([]inequality{{cols: []int{0, 1}, coef: []int32{1, 1}, rhs: 1}}, []float64{2, 1, 0, -1, 3})
	l.use(0)
	l.fix(4, 1, 1)
	want := []float64{0, 0, 0, 1, 1}
	for j, x := range want {
		if l.resting(j) != x {
			t.Errorf("option %d rests at %v, want %v", j, l.resting(j), x)
		}
	}
	for j := range l.at {
		l.at[j] = 1 - want[j]
	}
	l.settle()
	for j, x := range want {
		if l.at[j] != x {
			t.Errorf("option %d lies at %v, want %v", j, l.at[j], x)
		}
	}
	if l.beta[0] != -1 {
		t.Errorf("the slack of the row is %v", l.beta[0])
	}
}

// A point that is whole is offered as it is, also where rounding would come to something else,
// and one that is not is rounded.
func TestWholePointsAreOffered(t *testing.T) {
	for _, c := range []struct {
		at   []float64
		want []bool
	}{{[]float64{1, 0}, []bool{true, false}}, {[]float64{0, 1}, []bool{false, true}}, {[]float64{0.5, 0.5}, []bool{false, true}}} {
		q := newChooser(&Selection{Cost: []int64{1000, 1}, Cover: [][]int{{0, 1}}})
		copy(q.lp.at, c.at)
		q.round()
		if !q.best.Found || !slices.Equal(q.best.Chosen, c.want) {
			t.Errorf("at %v: %v, want %v", c.at, q.best.Chosen, c.want)
		}
	}
}
