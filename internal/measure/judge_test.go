package measure

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// judged is how many points a judge decides who knows the truth about the damage, by the
// tests of the page: a bound for what can be firm.
type judged struct {
	decides int // he knows every block, and says what the tests say
	may     int // and keeps to the rules of the page as well
	open    int // and knows neither where the borders lie nor which block stood, but by the record
}

func (j *judged) add(o judged) {
	j.decides, j.may, j.open = j.decides+o.decides, j.may+o.may, j.open+o.open
}

// judge is what he decides of one vehicle.
//
// By the rules of the page a point that moved with a block is not said to stand in its
// place however little it moved there, and one that moved by itself and was read once
// is moved, or misread.
//
// The fair bound is that of a judge who is certain of the law of the damage, how many
// blocks there are and in which order along the vehicle, and of nothing else that
// only the readings could tell: every place of a border is as probable as any other (the
// posterior weight of one is exp(-chi2/2)), and which block stood is told by the
// reference points and the impact alone. He asks of every statement what the program asks
// of its explanations, and what he says and is wrong in does not count.
func (c *car) judge(in Input) judged {
	p := prepare(in)
	e := p.locate()
	p.estimateSpread(e)
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		return judged{}
	}
	off := c.standsOff(e, x)
	truth, ok := c.split(e, x, c.block, &off)
	if !ok {
		return judged{}
	}
	cand, ok := p.examine(e, x, truth, 0)
	if !ok {
		return judged{}
	}
	var j judged
	lone := p.lone(e, cand)
	for i := range e.points {
		moved := cand.sure[i]
		if !moved && (cand.t2[i] > criticalPoint || !cand.proven[i]) {
			continue
		}
		j.decides++
		if moved && !lone[i] || !moved && !cand.inGroup(i) {
			j.may++
		}
	}
	j.open = c.open(p, e, x, c.borders(e, x, truth, &off))
	return j
}

// split is the partition of the points into blocks, that which stood (number 0) first.
// Points that moved by themselves are in none, nor those that are off; a block of fewer
// than four is none.
func (c *car) split(e *epoch, x *geom.Matcher, block []int, off *geom.Set) (*geom.Partition, bool) {
	var part geom.Partition
	for k, set := range c.sets(e, block) {
		for _, i := range off.Members() {
			set.Drop(i)
		}
		b, err := x.Evaluate(set)
		if err != nil || set.Len() < minBlock {
			if k == 0 {
				return nil, false
			}
			continue
		}
		b.Gain = math.Inf(1)
		part.Blocks = append(part.Blocks, b)
		part.BIC += b.Fit.Chi2
	}
	return &part, true
}

// sets are the points of every block by number, without those that moved by themselves.
func (c *car) sets(e *epoch, block []int) []geom.Set {
	out := make([]geom.Set, 1+slices.Max(block))
	for i, pt := range e.points {
		if pt < len(c.shift) && (c.block[pt] > 0 || c.shift[pt] == (geom.Vec{})) {
			out[block[pt]].Put(i)
		}
	}
	return out
}

// standsOff are the points that stand off for certain from the block which they truly
// belong to, the worst put out first: their record is wrong.
func (c *car) standsOff(e *epoch, x *geom.Matcher) (off geom.Set) {
	for _, set := range c.sets(e, c.block) {
		for {
			b, err := x.Evaluate(set)
			worst := -1
			for _, i := range set.Members() {
				if err == nil && b.T[i] > firmMoved && (worst < 0 || b.T[i] > b.T[worst]) {
					worst = i
				}
			}
			if worst < 0 {
				break
			}
			set.Drop(worst)
			off.Put(worst)
		}
	}
	return off
}

// open is how many points he decides rightly who knows neither borders nor, but by the
// record, which block stood.
func (c *car) open(p *problem, e *epoch, x *geom.Matcher, parts []*geom.Partition) int {
	least := 0
	for k := range parts {
		if parts[k].BIC < parts[least].BIC {
			least = k
		}
	}
	if !p.toldByRecord(e, x, parts[least]) {
		return 0
	}
	var rivals []rival
	for k := range parts {
		weight := math.Exp((parts[least].BIC - parts[k].BIC) / 2)
		if weight < negligible {
			continue
		}
		if cand, ok := p.examine(e, x, parts[k], 0); ok {
			rivals = append(rivals, p.rival(e, cand, weight))
		}
	}
	best, ok := p.examine(e, x, parts[least], 0)
	if !ok {
		return 0
	}
	n, lone, own := 0, p.lone(e, best), p.groupMotions(e, best)
	lambda := p.pointTest(len(e.points)).Noncentrality
	for i, pt := range e.points {
		d := best.detectable(i, lambda)
		if lone[i] || !best.cov[i].Finite() || !best.proven[i] || !best.moved[i] && own[i].went() || !p.borneOut(e, rivals, nil, best, i, d) {
			continue
		}
		if shift := c.shift[pt].Norm(); shift > 0 == best.moved[i] || !best.moved[i] && shift <= d {
			n++
		}
	}
	return n
}

// toldByRecord says that reference points and impact leave the first block of a split
// alone as the one that stood.
func (p *problem) toldByRecord(e *epoch, x *geom.Matcher, part *geom.Partition) bool {
	var cs []*candidate
	for k := range part.Blocks {
		cand, ok := p.examine(e, x, part, k)
		if !ok {
			return false
		}
		cs = append(cs, cand)
	}
	ch := p.choose(e, cs)
	for rank, i := range ch.order {
		if (i == 0) != (rank == 0) || rank > 0 && ch.survives[rank] {
			return false
		}
	}
	return ch.order[0] == ch.majority
}

// borders are the splits with the blocks of the truth in their order along the vehicle
// and every border up to eight points away from where it was, four where there are two.
// Where the blocks do not follow one another, or there are more, or one has fewer than
// four points, it is the truth alone.
func (c *car) borders(e *epoch, x *geom.Matcher, truth *geom.Partition, off *geom.Set) []*geom.Partition {
	order := c.alongX()
	var begin, number []int // of the blocks along the vehicle
	for rank, i := range order {
		if c.block[i] == 0 && c.shift[i] != (geom.Vec{}) {
			return []*geom.Partition{truth}
		}
		if rank == 0 || c.block[i] != number[len(number)-1] {
			begin, number = append(begin, rank), append(number, c.block[i])
		}
	}
	far := []int{0, 8, 4}
	if len(begin) > len(far) || len(begin) != 1+slices.Max(number) || len(truth.Blocks) != len(begin) {
		return []*geom.Partition{truth}
	}
	var out []*geom.Partition
	var shift func(k int, at []int)
	shift = func(k int, at []int) {
		if k == len(begin) {
			block := make([]int, len(order))
			for rank, i := range order {
				last := 0
				for b := range at {
					if at[b] <= rank {
						last = b
					}
				}
				block[i] = number[last]
			}
			if part, ok := c.split(e, x, block, off); ok && len(part.Blocks) == len(begin) {
				out = append(out, part)
			}
			return
		}
		for by := -far[len(begin)-1]; by <= far[len(begin)-1]; by++ {
			to, end := begin[k]+by, len(order)
			if to >= at[k-1]+minBlock && to+minBlock*(len(begin)-k) <= end {
				shift(k+1, append(slices.Clone(at), to))
			}
		}
	}
	if shift(1, []int{0}); len(out) == 0 {
		return []*geom.Partition{truth}
	}
	return out
}

// The fair bound allows all that a clear record proves and nothing that it leaves open:
// an end that moved far with the impact there, the same without, two moved ends, and the
// points beside a border that the readings cannot place. Constructed.
func TestFairBound(t *testing.T) {
	far := newCar(30, 3)
	far.moveRear(0.4, 40)
	in := far.measure(0.3)
	in.Impact = "rear"
	if j := far.judge(in); j.open < 28 || j.decides != 30 {
		t.Errorf("one end by 40 mm: %+v of 30 points", j)
	}
	in.Impact = "unknown"
	if j := far.judge(in); j.open != 0 || j.may < 28 {
		t.Errorf("the same without an impact: %+v", j)
	}
	both := bothEnds([3]int{10, 10, 10}, 3)
	in = both.measure(0.3)
	in.Impact = "rear"
	if j := both.judge(in); j.open != 0 || j.may < 28 {
		t.Errorf("both ends: %+v", j)
	}
	open, may := 0, 0
	for seed := uint64(1); seed <= 20; seed++ {
		c := newCar(30, seed)
		c.moveRear(0.4, 3)
		in := c.measure(0.7)
		in.Impact = "rear"
		j := c.judge(in)
		open, may = open+j.open, may+j.may
	}
	if may-open < 10 || 10*open < 8*may {
		t.Errorf("ends that moved by 3 mm: %d of %d points where the border is not known", open, may)
	}
}
