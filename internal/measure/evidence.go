package measure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Datum is what chose the steady block.
type Datum string

// What may choose it.
const (
	ByReference Datum = "reference"
	ByImpact    Datum = "impact"
	ByMajority  Datum = "majority"
)

// choice is what the evidence says about the candidates.
type choice struct {
	order     []int // candidates, best first
	datum     []Datum
	because   []string
	survives  []bool // by place in order
	reference int    // candidate that the reference points choose, or -1
	impact    int    // the only candidate that the impact leaves, or -1
	excluded  []int  // candidates that the impact says have moved: what it hit, the nearest first
	majority  int
}

// choose orders the candidates by the evidence: the body's nominated reference
// points, then the recorded impact, then the majority. A candidate that only
// the majority stands against survives beside the first, and so does one that
// the impact leaves beside it.
func (p *problem) choose(e *epoch, cs []*candidate) choice {
	ch := choice{reference: none, impact: none, majority: none}
	if len(cs) == 0 {
		return ch
	}
	ch.majority = majorityOf(cs)
	var refText string
	ch.reference, refText = p.chosenByReferences(e, cs)
	left := p.leftByImpact(e, cs, &ch)
	first, datum, why := ch.majority, ByMajority, fmt.Sprintf("the largest block: %d of %d points kept their places against one another", cs[ch.majority].steady.Len(), len(e.points))
	if len(ch.excluded) > 0 {
		first, datum = left[0], ByImpact
		why = fmt.Sprintf("the impact is recorded as %s, and this block lies away from it", p.in.Impact)
		if len(left) > 1 {
			why = fmt.Sprintf("the impact is recorded as %s, and of %d blocks that lie away from it this is the largest", p.in.Impact, len(left))
		}
	}
	if ch.reference != none {
		first, datum, why = ch.reference, ByReference, refText
	}
	ch.order = []int{first}
	for i := range cs {
		if i != first {
			ch.order = append(ch.order, i)
		}
	}
	sort.SliceStable(ch.order[1:], func(i, j int) bool {
		a, b := ch.order[1+i], ch.order[1+j]
		if x, y := chance(cs, first, a), chance(cs, first, b); x != y {
			return y
		}
		return better(cs[a], cs[b])
	})
	for rank, i := range ch.order {
		if rank == 0 {
			ch.datum, ch.because, ch.survives = append(ch.datum, datum), append(ch.because, why), append(ch.survives, true)
			continue
		}
		ch.datum = append(ch.datum, "none")
		because := fmt.Sprintf("the readings fit as well if these %d points held", cs[i].steady.Len())
		if chance(cs, first, i) {
			because = fmt.Sprintf("these %d points kept their places against one another, which may be chance", cs[i].steady.Len())
		}
		ch.because = append(ch.because, because)
		ch.survives = append(ch.survives, !chance(cs, first, i) && p.survives(&ch, first, i))
	}
	return ch
}

// unlikely is the weight, against that of the best split, below which all
// explanations that contradict a statement must stay together for it to be firm:
// the false-alarm rate of the vehicle. A split weighs exp(-BIC/2).
const unlikely = falseAlarm

// unlikelyBIC is the difference of BIC at that weight: 13.8.
var unlikelyBIC = -2 * elem.Log(unlikely)

// rivalBIC is the difference of BIC below which a block of another split is shown
// as a hypothesis that survives (customary, no source). Others count for what is
// firm, by their weight.
const rivalBIC = 6

// chance says that candidate i is no serious rival: its split of the points is
// clearly worse than that of the first, or chance explains its block far better.
// It goes by the likelihood of what was found and not by a test of the block
// alone, which strikes out some true blocks.
func chance(cs []*candidate, first, i int) bool {
	return cs[i].bic >= cs[first].bic+rivalBIC || cs[i].gain < -unlikelyBIC
}

// survives says whether candidate i stays beside the first. It goes only when
// named evidence stands against it and none, the majority included, against the
// first: reference points in the first, or the impact at i. The impact says
// nothing about a block that it does not exclude.
func (p *problem) survives(ch *choice, first, i int) bool {
	named := ch.reference == first || slices.Contains(ch.excluded, i)
	against := ch.majority != first || slices.Contains(ch.excluded, first) || (ch.reference != none && ch.reference != first)
	return !named || against
}

func majorityOf(cs []*candidate) int {
	best := 0
	for i := range cs {
		if better(cs[i], cs[best]) {
			best = i
		}
	}
	return best
}

// better: more steady points, then the lower score.
func better(a, b *candidate) bool {
	if n, m := a.steady.Len(), b.steady.Len(); n != m {
		return n > m
	}
	return a.score < b.score
}

// minReferences is how many nominated points must agree to choose a block.
const minReferences = 3

// chosenByReferences is the candidate that holds at least three and more than
// half of the nominated reference points that were measured. It notes those
// that disagree.
func (p *problem) chosenByReferences(e *epoch, cs []*candidate) (int, string) {
	var refs []int // places in the epoch
	named := 0
	for i, pt := range p.in.Points {
		if !pt.Reference || p.index[pt.ID] != i {
			continue
		}
		named++
		if e.has(i) {
			refs = append(refs, e.slot[i])
		}
	}
	if named == 0 {
		return none, ""
	}
	best, most := none, 0
	for i, c := range cs {
		n := 0
		for _, r := range refs {
			if c.steady.Has(r) {
				n++
			}
		}
		if n > most || (n == most && best != none && better(c, cs[best])) {
			best, most = i, n
		}
	}
	if most < minReferences || 2*most <= len(refs) {
		p.note(diag.Caution, "reference points",
			diag.Say("measure.references-disagree", "of {named} nominated reference points {measured} were measured and at most {most} of them kept their places against one another; they cannot say what stood still", named, len(refs), most),
			"measure the reference points again, or more of them")
		return none, ""
	}
	var out, in []body.PointID
	for _, r := range refs {
		if id := p.id(e.points[r]); cs[best].steady.Has(r) {
			in = append(in, id)
		} else {
			out = append(out, id)
		}
	}
	text := "the nominated reference points " + joinIDs(in) + " kept their places against one another"
	if len(out) > 0 {
		p.note(diag.Caution, joinIDs(out),
			diag.Say(CodeReferenceMoved, "nominated reference point {points} does not agree with {others}; it is not used as reference", joinIDs(out), joinIDs(in)),
			"measure it again; if it stays so, the point itself has moved")
	}
	return best, text
}

const (
	// impactMargin is by how much of the measured length the centre of every
	// other block must lie further from the impact than that of the nearest for
	// the impact to exclude the nearest.
	impactMargin = 0.15
	// impactShare is the least size, against the largest block, of a block that
	// the impact may leave: a few points far from the impact are no datum.
	impactShare = 0.5
)

// leftByImpact is the candidates that the recorded impact leaves, the largest
// first; none when the impact is unknown or does not tell what it hit from
// the others. It notes those excluded, and the one left when it is alone.
//
// The impact says that what was hit has moved, and no more: how far a block lies
// from it does not say that the block stood still. That it hit two blocks side by side
// is taken only beside one that holds most of all points.
func (p *problem) leftByImpact(e *epoch, cs []*candidate, ch *choice) []int {
	if p.awayFromImpact().Norm() == 0 {
		return nil
	}
	var open []int
	var sets []geom.Set
	for i, c := range cs {
		if i == ch.majority || !chance(cs, ch.majority, i) {
			open, sets = append(open, i), append(sets, c.steady)
		}
	}
	hit := p.hitBlocks(e, sets)
	if hit == nil || !p.apartFromHit(e, sets, hit) {
		return nil
	}
	var left []int
	var all, struck geom.Set
	for k, i := range open {
		all.Join(&sets[k])
		if slices.Contains(hit, k) {
			struck.Join(&sets[k])
		} else {
			left = append(left, i)
		}
	}
	if held, of := p.hitPoints(e, &struck, &all); 2*held <= of {
		return nil
	}
	sort.SliceStable(left, func(a, b int) bool { return better(cs[left[a]], cs[left[b]]) })
	if len(left) == 0 || float64(cs[left[0]].steady.Len()) < impactShare*float64(cs[ch.majority].steady.Len()) {
		return nil
	}
	if len(hit) > 1 && 2*cs[left[0]].steady.Len() <= len(e.points) {
		return nil
	}
	for _, k := range hit { // of two that are equally large neither is the majority
		if open[k] != ch.majority && cs[open[k]].steady.Len() >= cs[left[0]].steady.Len() {
			ch.majority = open[k]
		}
	}
	for _, k := range hit {
		ch.excluded = append(ch.excluded, open[k])
	}
	if len(left) == 1 {
		ch.impact = left[0]
	}
	return left
}

// reachAway is where a set of points begins, has its middle and ends along the
// direction away from the impact.
type reachAway struct{ near, middle, far float64 }

func (p *problem) reachAway(e *epoch, set *geom.Set) reachAway {
	away := p.awayFromImpact()
	r := reachAway{inf, 0, -inf}
	for _, m := range set.Members() {
		v := away.Dot(p.in.Points[e.points[m]].At())
		r.near, r.far = math.Min(r.near, v), math.Max(r.far, v)
		r.middle += v / float64(set.Len())
	}
	return r
}

// holds says that the middle of another set lies within the reach.
func (r reachAway) holds(o reachAway) bool { return r.near <= o.middle && o.middle <= r.far }

// hitBlocks are the sets that the impact hit: the one whose centre is nearest to it,
// and those side by side with that, neither of the two centres beyond the reach of the
// other: an end that was hit and lost its form is found as two halves.
func (p *problem) hitBlocks(e *epoch, sets []geom.Set) []int {
	if len(sets) == 0 {
		return nil
	}
	at, nearest := make([]reachAway, len(sets)), 0
	for k := range sets {
		if at[k] = p.reachAway(e, &sets[k]); at[k].middle < at[nearest].middle {
			nearest = k
		}
	}
	hit := []int{nearest}
	apart := impactMargin * p.lengthAlong(e, p.awayFromImpact())
	for k := range sets {
		if k != nearest && at[k].middle-at[nearest].middle < apart && at[k].holds(at[nearest]) && at[nearest].holds(at[k]) {
			hit = append(hit, k)
		}
	}
	return hit
}

// apartFromHit says that all other sets lie clearly further from the impact than
// those that it hit, and where it hit several that none begins among them.
func (p *problem) apartFromHit(e *epoch, sets []geom.Set, hit []int) bool {
	apart := impactMargin * p.lengthAlong(e, p.awayFromImpact())
	for k := range sets {
		if slices.Contains(hit, k) {
			continue
		}
		r := p.reachAway(e, &sets[k])
		for _, h := range hit {
			if o := p.reachAway(e, &sets[h]); r.middle-o.middle < apart || len(hit) > 1 && o.holds(r) {
				return false
			}
		}
	}
	return true
}

// hitPoints is how many a block holds of those points of all blocks that lie nearest
// to the impact, as many as a block has at least, and how many these are. A block
// between two others that went the same way may have the nearest centre, and is not
// what was hit: that holds most of them.
func (p *problem) hitPoints(e *epoch, block, all *geom.Set) (held, of int) {
	away := p.awayFromImpact()
	members := all.Members()
	along := func(i int) float64 { return away.Dot(p.in.Points[e.points[i]].At()) }
	slices.SortStableFunc(members, func(a, b int) int { return cmp.Compare(along(a), along(b)) })
	near := geom.SetOf(members[:min(minBlock, len(members))]...)
	return near.Common(block), near.Len()
}

// lengthAlong is the extent of the points of the epoch along a direction.
func (p *problem) lengthAlong(e *epoch, dir geom.Vec) float64 {
	lo, hi := inf, -inf
	for _, pt := range e.points {
		v := dir.Dot(p.in.Points[pt].At())
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	return hi - lo
}

// awayFromImpact is the direction away from the impact in vehicle axes, or
// zero when it is unknown.
func (p *problem) awayFromImpact() geom.Vec {
	back, right := geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}
	if p.in.Axes.X == body.Forward {
		back = back.Scale(-1)
	}
	if p.in.Axes.Y == body.Left {
		right = right.Scale(-1)
	}
	var v geom.Vec
	for _, word := range strings.Split(string(p.in.Impact), "-") {
		switch word {
		case "front":
			v = v.Add(back)
		case "rear":
			v = v.Sub(back)
		case "left":
			v = v.Add(right)
		case "right":
			v = v.Sub(right)
		}
	}
	return v.Unit()
}
