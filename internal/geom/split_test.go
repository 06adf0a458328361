package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Blocks laid one after another along an order: the cheapest of all ways to cut the order into as
// many stretches, each point paying its block or the exception, whichever is less.
func TestStretchesAreTheCheapestCut(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 0))
	for trial := range 60 {
		n, blocks := 4+trial%5, 1+trial%3
		plain, other, order := make([][]float64, blocks), make([]float64, n), rng.Perm(n)
		for k := range plain {
			for range n {
				plain[k] = append(plain[k], 10*rng.Float64())
			}
		}
		for i := range other {
			other[i] = 12 * rng.Float64()
		}
		row := rng.Perm(blocks)
		pay := func(i, k int) float64 { return min(plain[k][i], other[i]) }
		best := math.Inf(1)
		var cut func(at, j int, sum float64)
		cut = func(at, j int, sum float64) {
			if at == n {
				if j == blocks-1 {
					best = min(best, sum)
				}
				return
			}
			for next := j; next <= min(j+1, blocks-1); next++ {
				if at == 0 && next > 0 {
					continue // every block has its stretch, and the first begins
				}
				cut(at+1, next, sum+pay(order[at], row[next]))
			}
		}
		cut(0, 0, 0)
		pl := &pool{}
		block := make([]int, n)
		got := pl.stretches(plain, other, order, row, make([]float64, blocks*n), make([]bool, blocks*n), block)
		if math.Abs(got-best) > 1e-12 {
			t.Fatalf("trial %d: %g, of all cuts %g", trial, got, best)
		}
		sum, j := 0.0, 0
		for _, i := range order { // one stretch after another, and what they cost
			if j < blocks-1 && block[i] == row[j+1] {
				j++
			}
			if sum += pay(i, block[i]); block[i] != row[j] {
				t.Fatalf("trial %d: blocks %v in the order %v are not in the row %v", trial, block, order, row)
			}
		}
		if j != blocks-1 || math.Abs(sum-best) > 1e-12 {
			t.Fatalf("trial %d: the blocks cost %g, want %g", trial, sum, best)
		}
	}
	seen := map[[4]int]bool{}
	eachOrder(4, func(row []int) { seen[[4]int(row)] = true })
	if len(seen) != 24 {
		t.Errorf("%d orders of four", len(seen))
	}
	for row := range seen {
		sorted := row
		if slices.Sort(sorted[:]); sorted != [4]int{0, 1, 2, 3} {
			t.Errorf("%v is no order of four", row)
		}
	}
}

// pooled is a pool over a cloud of three parts, with the misfits of as many blocks as are given.
func pooled(t *testing.T, plain [][]float64, n int) *pool {
	t.Helper()
	m, _ := threeParts([3]int{n, 0, 0}, 1)
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	pl := newPool(x, 4)
	pl.blocks, pl.plain = make([]Block, len(plain)), plain
	return pl
}

// The drafts of one, two and three blocks are the cheapest of all choices: each point pays the best
// of the chosen blocks or that of a point alone, 3 ln 3n, and each block 6 ln 3n.
func TestDraftsAreTheCheapestChoices(t *testing.T) {
	rng := rand.New(rand.NewPCG(72, 0))
	const n, blocks = 9, 7
	plain := make([][]float64, blocks)
	for k := range plain {
		for range n {
			plain[k] = append(plain[k], 25*rng.Float64())
		}
	}
	pl := pooled(t, plain, n)
	unit := math.Log(3 * n)
	cost := func(of []int) float64 {
		sum := 6 * unit * float64(len(of))
		for i := range n {
			least := 3 * unit
			for _, k := range of {
				least = min(least, plain[k][i])
			}
			sum += least
		}
		return sum
	}
	one := pl.extend([]draft{{}}, 1)
	if len(one) != blocks {
		t.Fatalf("%d drafts of one block, want all %d: each may be one of a pair", len(one), blocks)
	}
	two := pl.extend(one, 2)
	three := pl.extend(two, 3)
	var pairs []float64
	for a := range blocks {
		near(t, "one block", one[a].cost, cost([]int{a}), 1e-9)
		for b := a + 1; b < blocks; b++ {
			pairs = append(pairs, cost([]int{a, b}))
		}
	}
	slices.Sort(pairs)
	if len(two) != keepDrafts || len(three) != keepDrafts {
		t.Fatalf("%d and %d drafts, want %d", len(two), len(three), keepDrafts)
	}
	var extended []float64
	for k, d := range two {
		near(t, "two blocks", d.cost, pairs[k], 1e-9)
		near(t, "two blocks by their names", d.cost, cost(d.of), 1e-9)
		if len(d.of) != 2 || d.of[0] >= d.of[1] {
			t.Errorf("a pair %v", d.of)
		}
		for b := range blocks {
			extended = append(extended, cost([]int{d.of[0], d.of[1], b}))
		}
	}
	slices.Sort(extended)
	for k, d := range three {
		near(t, "three blocks", d.cost, extended[k], 1e-9)
		near(t, "three blocks by their names", d.cost, cost(d.of), 1e-9)
	}
	// equal costs keep the order in which they came
	var out []draft
	for b := range 14 {
		out = insertDraft(out, []int{9}, b, 5, 2)
	}
	for k := range out {
		if len(out) != keepDrafts || out[k].of[1] != k {
			t.Fatalf("of equal drafts %v", out)
		}
	}
	if more := insertDraft(out, []int{9}, 99, 4, 2); more[0].of[1] != 99 || len(more) != keepDrafts {
		t.Errorf("a cheaper one stands %v", more)
	}
}

// Each point goes to the block it fits best, or to none where a point alone costs less or as much.
func TestPointsGoToTheBestBlock(t *testing.T) {
	pl := pooled(t, nil, 6)
	s := pl.single
	plain := [][]float64{{1, 5, s, s + 1, 2, s - 1e-9}, {2, 4, s, s + 2, 2, s}}
	got := pl.assign(plain)
	if got[0] != SetOf(0, 4, 5) || got[1] != SetOf(1) {
		t.Errorf("%v and %v", got[0].Members(), got[1].Members())
	}
	// in a row along the length: what lies in the stretch of a block is left to it unless another is
	// better by more than naming an exception costs, 2 ln n
	pl.along = [2][]int{{0, 1, 2, 3, 4, 5}, {0, 1, 2, 3, 4, 5}}
	price := 2 * math.Log(6)
	row := [][]float64{{0, 0, price + 1, 30, 30, 30}, {30, 30, 1.01, 0, 0, 0}}
	if got := pl.assignInRow(row); got[0] != SetOf(0, 1) || got[1] != SetOf(2, 3, 4, 5) {
		t.Errorf("%v and %v", got[0].Members(), got[1].Members())
	}
	for _, c := range []struct {
		better float64 // by how much the other block fits the point in the middle of a stretch better
		stays  bool
	}{{price - 0.01, true}, {price + 0.01, false}} {
		row := [][]float64{{0, c.better, 0, 30, 30, 30}, {30, 0, 30, 0, 0, 0}}
		if got := pl.assignInRow(row); got[0].Has(1) != c.stays || got[1].Has(1) == c.stays || got[0].Len()+got[1].Len() != 6 {
			t.Errorf("better by %g: %v and %v", c.better, got[0].Members(), got[1].Members())
		}
		row = [][]float64{{0, s + c.better, 0, 30, 30, 30}, {30, s + c.better + 1, 30, 0, 0, 0}} // none fits it
		if got := pl.assignInRow(row); got[0].Has(1) != c.stays || got[1].Has(1) {
			t.Errorf("worse than alone by %g: %v and %v", c.better, got[0].Members(), got[1].Members())
		}
	}
}

// What remains beside the blocks of a split: all that are in none, and from each end of the length
// and of the width what lies before the first point that is in a block, and before the second.
func TestRemaindersAreTheEnds(t *testing.T) {
	pl := pooled(t, nil, 12)
	pl.minPoints = 2
	length, width := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, []int{6, 0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 11}
	pl.along = [2][]int{length, width}
	got := pl.remainders(&Partition{Blocks: []Block{{Set: SetOf(2, 4, 5)}, {Set: SetOf(6, 7, 9)}}})
	want := []Set{SetOf(0, 1, 3, 8, 10, 11), SetOf(0, 1), SetOf(0, 1, 2, 3), SetOf(10, 11), SetOf(8, 9, 10, 11), SetOf(0, 1, 6)}
	if len(got) != len(want) {
		t.Fatalf("%d remainders, want %d", len(got), len(want))
	}
	for k := range want {
		if got[k] != want[k] {
			t.Errorf("remainder %d: %v, want %v", k, got[k].Members(), want[k].Members())
		}
	}
}

// One more block beside those of a split: what it takes from them is theirs no more, a block of
// which too little is left makes none, and so do points that do not fit together, more blocks than
// there may be, and one that chance explains as well.
func TestJoinedTakesFromTheOthers(t *testing.T) {
	m, part := threeParts([3]int{10, 10, 6}, 2)
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	pl := newPool(x, 4)
	pl.cuts()
	split := func(sets ...Set) *Partition {
		p := &Partition{}
		for _, s := range sets {
			b, err := x.Evaluate(s)
			if err != nil {
				t.Fatal(err)
			}
			p.Blocks = append(p.Blocks, b)
		}
		return p
	}
	whole := part[1]
	whole.Put(20) // one of the rear stands among the middle
	rear := part[2]
	got, ok := pl.joined(split(part[0], whole), rear)
	if !ok || len(got.Blocks) != 3 || got.Blocks[2].Set != rear {
		t.Fatalf("%v: %d blocks", ok, len(got.Blocks))
	}
	for _, b := range got.Blocks[:2] {
		if b.Set != part[0] && b.Set != part[1] {
			t.Errorf("a block %v", b.Set.Members())
		}
	}
	near(t, "cost", got.BIC, pl.bic(split(part[0], part[1], rear).Blocks), 1e-9)
	few := SetOf(20, 21, 22, 0, 1) // three of them go: two are left
	if _, ok := pl.joined(split(part[1], few), SetOf(20, 21, 22, 23, 24, 25)); ok {
		t.Error("two points stay a block")
	}
	exact := SetOf(20, 21, 0, 1, 2, 3) // two of them go: four are left
	if got, ok := pl.joined(split(part[1], exact), rear); !ok || got.Blocks[2].Set.Len()+got.Blocks[1].Set.Len() != 10 {
		t.Errorf("four points stay none: %v", ok)
	}
	if _, ok := pl.joined(split(part[0], part[1], rear, SetOf(0, 1, 2, 3)), SetOf(4, 5, 6, 7)); ok {
		t.Error("a fifth block")
	}
	if _, ok := pl.joined(split(part[0]), SetOf(12, 13, 14, 22, 23, 24)); ok {
		t.Error("what does not fit together is a block")
	}
	if _, ok := pl.joined(split(part[0]), SetOf(11, 12)); ok {
		t.Error("two points are a block")
	}
	most, four := part[1], SetOf(11, 13, 16, 18)
	most.Leave(&four)
	if _, ok := pl.joined(split(most), four); ok { // they did not move against the others
		t.Error("what chance explains is a block")
	}
}

// The same blocks are known again whatever their fits; other ones, or more, are not.
func TestKnownByItsSets(t *testing.T) {
	of := func(sets ...Set) (p Partition) {
		for _, s := range sets {
			p.Blocks = append(p.Blocks, Block{Set: s, Score: float64(len(p.Blocks))})
		}
		return p
	}
	list := []Partition{of(SetOf(1, 2), SetOf(3, 4)), of(SetOf(1, 2, 3))}
	for _, c := range []struct {
		p    Partition
		want bool
	}{{of(SetOf(1, 2), SetOf(3, 4)), true}, {of(SetOf(1, 2, 3)), true}, {of(SetOf(1, 2), SetOf(3, 5)), false}, {of(SetOf(2, 1)), false}, {of(SetOf(3, 4), SetOf(1, 2)), false}, {of(), false}} {
		if known(list, c.p) != c.want {
			t.Errorf("%+v: known %v", c.p, !c.want)
		}
	}
	// the largest first, of two as large the one that explains more
	b := []Block{{Set: SetOf(1, 2), Score: 5}, {Set: SetOf(3, 4), Score: 4}, {Set: SetOf(5, 6, 7), Score: 9}}
	if sortBlocks(b); b[0].Set != SetOf(5, 6, 7) || b[1].Set != SetOf(3, 4) || b[2].Set != SetOf(1, 2) {
		t.Errorf("%+v", b)
	}
	// at most half of the smaller of two is shared by both
	if !distinct(&Set{}, nil) {
		t.Error("nothing is like nothing")
	}
	for _, c := range []struct {
		set  Set
		want bool
	}{{SetOf(1, 2, 8, 9), true}, {SetOf(1, 2, 3, 9), false}, {SetOf(1, 2), false}, {SetOf(1, 9), true}, {SetOf(1, 2, 3, 10, 11, 12, 13, 14), false}} {
		if got := distinct(&c.set, []Block{{Set: SetOf(20, 21)}, {Set: SetOf(1, 2, 3, 4, 5)}}); got != c.want {
			t.Errorf("%v: distinct %v", c.set.Members(), got)
		}
	}
	if shares(triple{1, 7, 8}, []Block{{Set: SetOf(1, 2, 3)}}) || !shares(triple{1, 7, 3}, []Block{{Set: SetOf(9)}, {Set: SetOf(1, 2, 3)}}) || shares(triple{1, 9, 8}, []Block{{Set: SetOf(1, 2)}, {Set: SetOf(9, 10)}}) {
		t.Error("a triple shares two of its points with one block")
	}
}
