package inspect

import (
	"fmt"
	"math"

	"fettle/internal/body"
)

// size is what a grouping rule looks at: of a crack, or of several that count
// as one.
type size struct{ lengthMM, depthMM float64 }

// grouping is the procedure's rule on lengths and depths; nil without one.
func (r *run) grouping(i int) *body.Grouping {
	if t := r.traces[i]; t != nil && t.at.rule != nil {
		return t.at.rule.Grouping
	}
	return nil
}

// joinLimit is the distance at or below which two cracks count as one [mm]:
// that of the procedure, the larger of its gap and its rule on lengths and
// depths. What is held against it is the distance less so many of its own
// standard uncertainties. Without a procedure none does.
//
//	s <= h (L1+L2)/2 + p min(L1,L2) + q max(L1,L2) + d max(a1,a2)
//
// L: lengths [mm] with the allowances of tips seen by eye only; a: depths [mm];
// h, p, q, d: the factors of the procedure's data, with the document they are
// from. The bound is inclusive.
func (r *run) joinLimit(i, j int, a, b size) float64 {
	p := r.traces[i].at.rule
	if p == nil || !r.parts(i) || !r.parts(j) {
		return math.Inf(-1)
	}
	limit := float64(p.GroupGap)
	if g := p.Grouping; g != nil {
		sum := 0.0
		for _, term := range [][2]float64{{g.HalfSum, (a.lengthMM + b.lengthMM) / 2}, {g.Shorter, min(a.lengthMM, b.lengthMM)},
			{g.Longer, max(a.lengthMM, b.lengthMM)}, {g.Deeper, max(a.depthMM, b.depthMM)}} {
			if term[0] > 0 {
				sum += float64(term[0] * term[1])
			}
		}
		limit = max(limit, sum)
	}
	return limit + roundingMM
}

// roundingMM keeps an inclusive bound inclusive: it is far below what anybody
// traces and far above the rounding of coordinates.
const roundingMM = 1e-9

// sizeOf is the size of one crack alone. One without a length may be of any.
func (r *run) sizeOf(i int) size {
	t := r.traces[i]
	s := size{lengthMM: math.Inf(1), depthMM: float64(t.at.Of.Wall)}
	if !isCrack(t.in.Kind) {
		s.lengthMM = 0 // one point is a defect without length
	}
	if l := r.found[i].Length; l != nil {
		s.lengthMM = l.MM + float64(float64(t.tipCount())*t.at.allowance())
	}
	if d := t.in.Depth; r.found[i].Through == body.No && d.Known {
		s.depthMM = min(s.depthMM, float64(d.Value)+float64(nearStds*float64(t.in.DepthStd)))
	}
	return s
}

// sizes is the size of every set of cracks, by its root: lengths and gaps
// together, of two faces the longer; the largest depth.
func (r *run) sizes(set sets, gaps []apart) []size { return r.sizesBy(set, gaps, r.sizeOf) }

func (r *run) sizesBy(set sets, gaps []apart, of func(int) size) []size {
	out := make([]size, len(r.found))
	members := make([][]int, len(r.found))
	for i, t := range r.traces {
		if t != nil && r.parts(i) {
			members[set.of(i)] = append(members[set.of(i)], i)
		}
	}
	for root, m := range members {
		for _, i := range r.longest(m) {
			s := of(i)
			out[root].lengthMM += s.lengthMM
			out[root].depthMM = max(out[root].depthMM, s.depthMM)
		}
	}
	for _, g := range gaps {
		out[set.of(g.i)].lengthMM += g.seen
	}
	return out
}

// joinText says by which rule cracks count as one.
func (p *place) joinText() string {
	g := p.rule.Grouping
	if g == nil {
		return fmt.Sprintf("no gap is surely longer than the %s of the procedure; ", full(float64(p.rule.GroupGap)))
	}
	again := ""
	if g.Again {
		again = ", and again as one crack"
	}
	return fmt.Sprintf("no gap is surely longer than the %s of the procedure or than its rule allows (%s%s; %s); ", full(float64(p.rule.GroupGap)), g.Name, again, g.Cite)
}

// forks says that one of two findings is said to be a branch of the other, or its
// other face and is not: whatever the truth, their lengths count together.
func (r *run) forks(i, j int) bool {
	a, b := r.traces[i], r.traces[j]
	said := func(a, b *trace) bool {
		return a.in.BranchOf == b.in.ID && a.in.BranchOf != "" || a.in.SameAs == b.in.ID && a.in.SameAs != ""
	}
	return a != nil && b != nil && a.at == b.at && (said(a, b) || said(b, a))
}

// surelyForks says that a branch was found to begin at the crack it is said to fork
// off.
func (r *run) surelyForks(i, j int) bool {
	a, b := r.traces[i], r.traces[j]
	return a.fork == b.in.ID && a.fork != "" || b.fork == a.in.ID && b.fork != ""
}
