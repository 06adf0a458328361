package geom

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"fettle/internal/elem"
)

// Partition is one way to split the points into rigid blocks and points that
// moved alone.
type Partition struct {
	Blocks []Block
	// BIC is what the partition costs, see Matcher.Partitions; lower is better.
	BIC float64
}

// Found says how partitions were searched for.
type Found struct {
	Partitions []Partition // best first
	Exhaustive bool
	Triples    int // triples whose sides kept their length
	Seed       uint64
}

// Bounds of the search.
const (
	// perPass is how many of the best triples of a pass are grown.
	perPass = 20
	// passes is how many times the search is repeated beside what it found.
	passes = 3
	// maxBlocks is the most blocks of a partition.
	maxBlocks = 4
	// NearBIC is the difference of BIC below which a partition is kept beside
	// the best. At the border it weighs exp(-NearBIC/2), 6e-6, of the best.
	NearBIC = 24
)

// Partitions splits the points into rigid blocks of at least minPoints and
// single points, and returns the best split with all that come near it. seeds
// are sets to be tried as blocks beside those that the search finds.
//
// Method: a triple of points that did not move against one another keeps the
// lengths of its sides and gives a pose, which is scored over all points by
// bounded misfits. The best triples of every pass, and the best triple of
// every point, are grown into blocks. One to maxBlocks of these are then put
// together so that each point goes to the block it fits best, or to none; the
// blocks are fitted anew to their points until nothing changes. Blocks compete
// for the points between them: a block that grows by itself takes in points of
// a section that has moved little and tilts with them. Splits are compared by
//
//	BIC = misfit + k ln(3n) + 2 ln(ways to pick the blocks),
//
// k = 6 per block and 3 per point alone (Schwarz 1978; the last term after Chen
// and Chen 2008). Up to ExhaustiveUpTo points every triple is looked at; above that
// a fixed number is drawn from the seed.
//
// Ideas: largest consistent group (Neitzel 2004), consensus (Fischler and
// Bolles 1981), bounded score (Rousseeuw 1984). All from memory.
func (x *Matcher) Partitions(minPoints int, seed uint64, seeds ...Set) Found {
	out := Found{Exhaustive: x.Len() <= ExhaustiveUpTo, Seed: seed}
	s := newTripleSearch(x)
	if out.Exhaustive {
		s.all()
	} else {
		s.draw(sampledTriples, seed)
	}
	out.Triples = len(s.triples)
	pl := newPool(x, minPoints)
	for _, set := range seeds {
		pl.grow(set, nil)
	}
	pl.cuts()
	s.fill(pl)
	out.Partitions = pl.partitions()
	return out
}

// pool is the blocks that partitions are put together from.
type pool struct {
	x         *Matcher
	minPoints int
	single    float64     // cost of a point that moved alone
	unit      float64     // ln(3n)
	sets      map[Set]int // block that a set grows to, -1 for none
	blocks    []Block
	settled   [][]Set     // what was settled before
	plain     [][]float64 // misfit r' W r of every point against each block
	t         []float64
	along     [2][]int // the points in order along the two longest axes
}

func newPool(x *Matcher, minPoints int) *pool {
	unit := elem.Log(float64(3 * x.Len()))
	return &pool{x: x, minPoints: minPoints, single: 3 * unit, unit: unit, sets: map[Set]int{}, t: make([]float64, x.Len())}
}

// grow adds the block that a set settles to without the points of barred, and
// returns it; a way that another set has gone before is not gone again.
func (pl *pool) grow(set Set, barred *Set) (*Block, bool) {
	known := pl.sets
	if barred != nil {
		known = nil // the way depends on what is barred
	} else if at, old := known[set]; old {
		return pl.at(at)
	}
	b, ok := pl.x.settle(set, barred, pl.t, known)
	at := none
	if old, is := pl.sets[b.Set]; is {
		at = old
	} else if ok && b.Set.Len() >= pl.minPoints {
		b.T = nil
		at = len(pl.blocks)
		pl.blocks = append(pl.blocks, b)
		pl.plain = append(pl.plain, pl.x.plain(&b.Fit, make([]float64, pl.x.Len())))
		pl.sets[b.Set] = at
	}
	if barred == nil {
		for _, s := range pl.x.path {
			pl.sets[s] = at
		}
	}
	return pl.at(at)
}

// standsBeside says that what a set settles to without the points of held is a block
// that chance does not explain as well, first being the block it moved against.
func (pl *pool) standsBeside(set Set, held *Set, first *Block) bool {
	b, ok := pl.x.settle(set, held, pl.t, nil)
	if !ok || b.Set.Len() < pl.minPoints {
		return false
	}
	m := b.Set.Len()
	ways := min(logChoose(pl.x.Len()-held.Len(), m), pl.endWays(&b.Set, nil))
	return gain(&b, pl.meanOff(first, &b.Set), ways) > 0
}

func (pl *pool) at(i int) (*Block, bool) {
	if i < 0 {
		return nil, false
	}
	return &pl.blocks[i], true
}

// maxCuts is the most places a cloud is cut at along one axis.
const maxCuts = 16

// cuts adds the blocks of the two sides of cuts across the two longest
// principal axes of the cloud. A section that has moved lies at one end; what
// grows on one side of a cut is not drawn along by the other side.
func (pl *pool) cuts() {
	from := pl.x.m.From
	var mid Vec
	for _, p := range from {
		mid = mid.Add(p.Scale(1 / float64(len(from))))
	}
	var spread Mat3
	for _, p := range from {
		spread = spread.Add(Outer(p.Sub(mid), p.Sub(mid)))
	}
	_, axes := SymEigen(spread)
	for k := range pl.along {
		order := make([]int, len(from))
		axis := Vec{axes[0][k], axes[1][k], axes[2][k]}
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(axis.Dot(from[i]), axis.Dot(from[j])) })
		pl.along[k] = order
		pl.cutsAlong(order)
	}
}

func (pl *pool) cutsAlong(order []int) {
	n := len(order)
	step := max(1, (n-2*pl.minPoints+maxCuts-1)/maxCuts)
	for cut := pl.minPoints; cut <= n-pl.minPoints; cut += step {
		low, high := SetOf(order[:cut]...), SetOf(order[cut:]...)
		pl.grow(low, &high)
		pl.grow(high, &low)
	}
}

// plain fills v with r' W r of every point against a fit.
func (x *Matcher) plain(f *CovFit, v []float64) []float64 {
	for i := range x.m.From {
		if x.isotropic {
			v[i] = x.weight[i] * distance2(&f.Motion, &x.m.From[i], &x.m.To[i])
			continue
		}
		r := x.m.To[i].Sub(f.Motion.Apply(x.m.From[i]))
		v[i], _ = Mahalanobis(r, x.m.CovFrom[i].Turn(f.Motion.R).Add(x.m.CovTo[i]))
	}
	return v
}

// refined is how many of the best drafts with one, two, three and four blocks
// are refined. More blocks always look better in a draft, so that each number
// has its own share.
var refined = [maxBlocks]int{3, 8, 4, 2}

// draft is a choice of blocks from the pool with its rough cost.
type draft struct {
	of   []int
	cost float64
}

// partitions puts the blocks of the pool together.
func (pl *pool) partitions() []Partition {
	if len(pl.blocks) == 0 {
		return nil
	}
	var out []Partition
	level := []draft{{}}
	for depth := 1; depth <= maxBlocks; depth++ {
		level = pl.extend(level, depth)
		slices.SortStableFunc(level, func(a, b draft) int { return cmp.Compare(a.cost, b.cost) })
		for _, d := range level[:min(len(level), refined[depth-1])] {
			for _, assign := range []assignment{pl.assign, pl.assignInRow}[:min(depth, 2)] {
				if p, ok := pl.refine(d.of, assign); ok && !known(out, p) {
					out = append(out, p)
				}
			}
		}
	}
	for _, p := range slices.Clone(out) {
		for _, set := range pl.remainders(&p) {
			if q, ok := pl.joined(&p, set); ok && !known(out, q) {
				out = append(out, q)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Partition) int { return cmp.Compare(a.BIC, b.BIC) })
	for k := range out {
		if out[k].BIC > out[0].BIC+NearBIC {
			return out[:k]
		}
	}
	return out
}

// remainders are sets that remain beside the blocks of a split and were picked by
// nobody: all points that are in none, and those of an end of the length or the width
// up to the first that is in one, and up to the second: one of a small block may fit
// the large one as well by chance, and the others would be too few to be a block.
func (pl *pool) remainders(p *Partition) []Set {
	var held, all Set
	for k := range p.Blocks {
		held.Join(&p.Blocks[k].Set)
	}
	for i := range pl.x.Len() {
		if !held.Has(i) {
			all.Put(i)
		}
	}
	out := []Set{all}
	for _, order := range pl.along {
		for _, row := range [][]int{order, reversed(order)} {
			var end Set
			taken := 0
			for _, i := range row {
				if held.Has(i) {
					if !slices.Contains(out, end) {
						out = append(out, end)
					}
					if taken++; taken > 1 {
						break
					}
				}
				end.Put(i)
			}
		}
	}
	return slices.DeleteFunc(out, func(s Set) bool { return s.Len() < pl.minPoints })
}

func reversed(row []int) []int {
	out := slices.Clone(row)
	slices.Reverse(out)
	return out
}

// joined is a split with one more block, just this set, whatever the tests on a block
// and its points say of it: of a hundred true blocks of four some fail one of them at 0.1 %,
// and what remains beside the others would then count as points that moved one by
// one. What it costs decides, unless chance explains it as well.
func (pl *pool) joined(p *Partition, set Set) (Partition, bool) {
	if len(p.Blocks) >= maxBlocks {
		return Partition{}, false
	}
	b, err := pl.x.Evaluate(set)
	if err != nil || ChiSquareTail(b.Fit.Chi2, b.Fit.DOF) < alphaRemainder {
		return Partition{}, false
	}
	out := Partition{Blocks: []Block{b}}
	for k := range p.Blocks {
		other := p.Blocks[k]
		if kept := other.Set; kept.Common(&set) > 0 {
			if kept.Leave(&set); kept.Len() < pl.minPoints {
				return Partition{}, false
			}
			if other, err = pl.x.Evaluate(kept); err != nil {
				return Partition{}, false
			}
		}
		out.Blocks = append(out.Blocks, other)
	}
	sortBlocks(out.Blocks)
	out.BIC = pl.bic(out.Blocks)
	for k := range out.Blocks {
		if out.Blocks[k].Set == set && out.Blocks[k].Gain <= 0 {
			return out, false
		}
	}
	return out, true
}

// alphaRemainder is the level of the congruency test on what remains.
const alphaRemainder = 1e-8

// sortBlocks puts the largest block first.
func sortBlocks(blocks []Block) {
	slices.SortStableFunc(blocks, func(a, b Block) int {
		return cmp.Or(cmp.Compare(b.Set.Len(), a.Set.Len()), cmp.Compare(a.Score, b.Score))
	})
}

func known(ps []Partition, p Partition) bool {
	for _, q := range ps {
		if slices.EqualFunc(q.Blocks, p.Blocks, func(a, b Block) bool { return a.Set == b.Set }) {
			return true
		}
	}
	return false
}

// keepDrafts is how many drafts of one depth are extended to the next.
const keepDrafts = 12

// extend adds one more block of the pool to every draft and keeps the best.
func (pl *pool) extend(level []draft, depth int) []draft {
	var out []draft
	n := pl.x.Len()
	base := make([]float64, n)
	for _, d := range level {
		for i := range base {
			base[i] = pl.single
		}
		from := 0
		for _, b := range d.of {
			for i, v := range pl.plain[b] {
				base[i] = min(base[i], v)
			}
			if depth == 2 { // pairs are looked at once; beyond, order is free
				from = b + 1
			}
		}
		for b := from; b < len(pl.blocks); b++ {
			cost := float64(6 * pl.unit * float64(depth))
			for i, v := range pl.plain[b] {
				cost += min(base[i], v)
			}
			out = insertDraft(out, d.of, b, cost, depth)
		}
	}
	return out
}

func insertDraft(out []draft, of []int, b int, cost float64, depth int) []draft {
	limit := keepDrafts
	if depth == 1 {
		limit = math.MaxInt // every block may be one of a pair
	}
	at := len(out)
	if depth > 1 {
		at = sort.Search(len(out), func(i int) bool { return out[i].cost > cost })
	}
	if at >= limit {
		return out
	}
	d := draft{append(append(make([]int, 0, depth), of...), b), cost}
	out = append(out, draft{})
	copy(out[at+1:], out[at:])
	out[at] = d
	if len(out) > limit {
		out = out[:limit]
	}
	return out
}

// refine lets the blocks of a draft compete for the points until nothing
// changes, then lets each settle among the points that no other block holds. A
// block that is left with too few points is given up. False as well when another draft
// came to the same blocks before.
func (pl *pool) refine(of []int, assign assignment) (Partition, bool) {
	plain := make([][]float64, len(of))
	for k, b := range of {
		plain[k] = append([]float64(nil), pl.plain[b]...)
	}
	var sets []Set
	for round := 0; round < maxRounds && len(plain) > 0; round++ {
		next := assign(plain)
		if slices.Equal(sets, next) {
			break
		}
		sets = next
		for k := 0; k < len(sets); {
			f, err := pl.x.Fit(&sets[k])
			if err != nil || sets[k].Len() < pl.minPoints {
				sets = append(sets[:k], sets[k+1:]...)
				plain = append(plain[:k], plain[k+1:]...)
				continue
			}
			pl.x.plain(&f, plain[k])
			k++
		}
	}
	for _, s := range pl.settled {
		if slices.Equal(s, sets) {
			return Partition{}, false
		}
	}
	pl.settled = append(pl.settled, append([]Set(nil), sets...))
	return pl.settle(sets)
}

// assign gives each point to the block it fits best, or to none.
func (pl *pool) assign(plain [][]float64) []Set {
	sets := make([]Set, len(plain))
	for i := 0; i < pl.x.Len(); i++ {
		best, least := none, pl.single
		for k := range plain {
			if plain[k][i] < least {
				best, least = k, plain[k][i]
			}
		}
		if best >= 0 {
			sets[best].Put(i)
		}
	}
	return sets
}

// assignment gives points to blocks, by the misfit of every point against each.
type assignment func(plain [][]float64) []Set

// assignInRow gives each point to the block whose stretch it lies in, the blocks
// following one another along the length or the width, unless another block or none
// fits better by more than it costs to name an exception, 2 ln n: what the code
// length of a split asks for (see bic), which the best fit of each point alone does
// not find when the blocks have moved little against one another.
func (pl *pool) assignInRow(plain [][]float64) []Set {
	n, blocks := pl.x.Len(), len(plain)
	price := 2 * elem.Log(float64(n))
	best, other := make([]int, n), make([]float64, n) // best place of a point by itself, and what it costs as an exception
	for i := range n {
		best[i], other[i] = none, pl.single
		for k := range plain {
			if plain[k][i] < other[i] {
				best[i], other[i] = k, plain[k][i]
			}
		}
		other[i] += price
	}
	least, stretch := math.Inf(1), make([]int, n)
	cost, from := make([]float64, blocks*n), make([]bool, blocks*n)
	trial := make([]int, n)
	for _, order := range pl.along {
		eachOrder(blocks, func(row []int) {
			if c := pl.stretches(plain, other, order, row, cost, from, trial); c < least {
				least = c
				copy(stretch, trial)
			}
		})
	}
	sets := make([]Set, blocks)
	for i := range n {
		k := stretch[i]
		if plain[k][i] > other[i] {
			k = best[i]
		}
		if k >= 0 {
			sets[k].Put(i)
		}
	}
	return sets
}

// stretches puts the blocks of row one after another along an order of the points so
// that the points cost least, by dynamic programming, and writes the block of every
// point.
func (pl *pool) stretches(plain [][]float64, other []float64, order, row []int, cost []float64, from []bool, block []int) float64 {
	n := len(order)
	for j, k := range row {
		for at, i := range order {
			before := math.Inf(1)
			switch {
			case at > 0:
				before = cost[j*n+at-1]
			case j == 0:
				before = 0
			}
			from[j*n+at] = false
			if j > 0 && at > 0 && cost[(j-1)*n+at-1] < before {
				before, from[j*n+at] = cost[(j-1)*n+at-1], true
			}
			cost[j*n+at] = before + min(plain[k][i], other[i])
		}
	}
	j := len(row) - 1
	for at := n - 1; at >= 0; at-- {
		block[order[at]] = row[j]
		if from[j*n+at] {
			j--
		}
	}
	return cost[len(row)*n-1]
}

// eachOrder calls f with every order of n things; f must not keep it.
func eachOrder(n int, f func([]int)) {
	row := make([]int, n)
	for i := range row {
		row[i] = i
	}
	var rest func(k int)
	rest = func(k int) {
		if k == n {
			f(row)
			return
		}
		for i := k; i < n; i++ {
			row[k], row[i] = row[i], row[k]
			rest(k + 1)
			row[k], row[i] = row[i], row[k]
		}
	}
	rest(0)
}

// settle fits each block once more among the points that no other block
// holds, and sums up. False when no block is left.
func (pl *pool) settle(sets []Set) (Partition, bool) {
	p := Partition{}
	for k := range sets {
		var others Set
		for o := range sets {
			if o != k {
				others.Join(&sets[o])
			}
		}
		b, ok := pl.x.Settle(sets[k], &others, make([]float64, pl.x.Len()))
		if !ok || b.Set.Len() < pl.minPoints {
			sets[k] = Set{}
			continue
		}
		sets[k] = b.Set
		p.Blocks = append(p.Blocks, b)
	}
	if len(p.Blocks) == 0 {
		return p, false
	}
	sortBlocks(p.Blocks)
	p.BIC = pl.bic(p.Blocks)
	return p, true
}

// bic is the cost of a split; it fills in what each block is worth against
// chance. It does not depend on the order of the blocks: the points that are in
// none are picked out of all, then every block but the one that is hardest to
// describe, which is what remains.
func (pl *pool) bic(blocks []Block) float64 {
	n := pl.x.Len()
	var inBlocks Set
	for k := range blocks {
		inBlocks.Join(&blocks[k].Set)
	}
	alone := n - inBlocks.Len()
	sum, ways, most := float64(3*pl.unit*float64(alone))+pl.x.misfitOf(blocks), logChoose(n, alone), 0.0
	for k := range blocks {
		b := &blocks[k]
		w := min(logChoose(n-alone, b.Set.Len()), pl.endWays(&b.Set, &inBlocks))
		ways, most = ways+w, max(most, w)
		sum += float64(6 * pl.unit)
		pl.chance(blocks, k, alone)
	}
	return sum + 2*(ways-most)
}

// chance fills in Gain and Chance of block k: is it more than points that moved
// one by one and happen to fit together?
//
// With v the variance of such motions over that of the readings, plus 1, a
// chance group of m points has a misfit of v times chi-square with f = 3m - 6
// degrees of freedom, and there are N ways to pick one among the points that are
// in no other block:
//
//	Gain   = f ln v - chi2 (1 - 1/v) - 2 ln N    (twice the logarithm of the
//	         likelihood of the block over that of all chance groups)
//	Chance = N P(chi-square <= border / v)       (expected number of chance
//	         groups that pass the congruency test)
func (pl *pool) chance(blocks []Block, k, alone int) {
	b := &blocks[k]
	m := b.Set.Len()
	ways := min(logChoose(m+alone, m), pl.endWays(&b.Set, nil))
	v := pl.farOff(blocks, k)
	b.Gain, b.Chance = math.Inf(1), 0
	if f := b.Fit.DOF; v > 0 && f > 0 {
		b.Gain = gain(b, v, ways)
		b.Chance = elem.Exp(ways) * (1 - ChiSquareTail(pl.x.criticalBlock(f)/v, f))
	}
}

func gain(b *Block, v, ways float64) float64 {
	return float64(float64(b.Fit.DOF)*elem.Log(v)) - float64(b.Fit.Chi2*(1-1/v)) - 2*ways
}

// farOff is how far the points of a block, or those outside it if it is the
// first, stand off, as a variance over that of the readings, at least 1: of the
// others the mean misfit against the first block; of the first the middle one of
// the points outside it. 0 when there is nothing outside.
func (pl *pool) farOff(blocks []Block, k int) float64 {
	if k > 0 {
		return pl.meanOff(&blocks[0], &blocks[k].Set)
	}
	var off []float64
	for i, t := range blocks[0].T {
		if !blocks[0].Set.Has(i) {
			off = append(off, t)
		}
	}
	if len(off) == 0 {
		return 0
	}
	return max(1, median(off)/medianChi3)
}

// meanOff is the mean misfit per coordinate of a set against a block, at least 1.
func (pl *pool) meanOff(block *Block, set *Set) float64 {
	sum := 0.0
	off := pl.x.plain(&block.Fit, make([]float64, pl.x.Len()))
	for _, i := range set.Members() {
		sum += off[i]
	}
	return max(1, sum/float64(3*set.Len()))
}

// medianChi3 is the median of chi-square with 3 degrees of freedom.
var medianChi3 = ChiSquareQuantile(0.5, 3)

// endWays is the natural logarithm of the number of ways to pick a set out of
// those of among (all, when nil) as one side of a cut across an axis of the
// frame, with the points that are exceptions from it. A section that moved is
// mostly an end: it needs less evidence than the same number of points picked
// anyhow.
func (pl *pool) endWays(set, among *Set) float64 {
	n, m := pl.x.Len(), set.Len()
	if among != nil {
		n = among.Len()
	}
	least := n
	for _, order := range pl.along {
		inside, cut := 0, 0 // of the set, among the first cut points along the axis
		for _, i := range order {
			if among != nil && !among.Has(i) {
				continue
			}
			if cut++; cut == n {
				break
			}
			if set.Has(i) {
				inside++
			}
			low := m + cut - 2*inside
			least = min(least, low, n-low) // the other side has the other exceptions
		}
	}
	return elem.Log(float64(2*len(pl.along)*max(1, n-1))) + logChoose(n, least)
}

// logChoose is the natural logarithm of the number of k-subsets of n things.
func logChoose(n, k int) float64 {
	return elem.LogFactorial(n) - elem.LogFactorial(k) - elem.LogFactorial(n-k)
}
