package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// pairs is all pairs of cracks on one casting whose places are known, the two
// faces of one crack left out; those that may be nearest come first.
func (r *run) pairs() []pair {
	var out []pair
	for i, a := range r.traces {
		for j, b := range r.traces {
			if a == nil || b == nil || a.at != b.at || !isCrack(r.found[i].Kind) || !isCrack(r.found[j].Kind) ||
				byName(r.found[i].ID, r.found[j].ID) >= 0 || r.crack.of(i) == r.crack.of(j) {
				continue
			}
			out = append(out, newPair(i, j, a, b))
		}
	}
	slices.SortFunc(out, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.least, b.least), r.pairByName(a.i, a.j, b.i, b.j))
	})
	return out
}

func (r *run) pairByName(i, j, k, l int) int {
	return cmp.Or(byName(r.found[i].ID, r.found[k].ID), byName(r.found[j].ID, r.found[l].ID))
}

// distances is how far cracks are from one another, shortest first. A pair
// that is surely too far apart to count as one, and for both of which another
// crack is surely nearer, is left out, unless the procedure joins cracks by
// their lengths: then what is too far for two may be near enough for more.
// Nothing depends on the order of the findings.
func (r *run) distances() []apart {
	var out []apart
	nearest := make([]float64, len(r.found))
	for i := range nearest {
		nearest[i] = math.Inf(1)
	}
	for _, p := range r.pairs() {
		needs := r.needsOf(p.i, p.j)
		grows := r.grouping(p.i) != nil && r.grouping(p.i).Again
		if !grows && !r.forks(p.i, p.j) && p.least > needs[len(needs)-1] && p.least >= nearest[p.i] && p.least >= nearest[p.j] {
			continue
		}
		d := distance(p.i, p.j, r.traces[p.i], r.traces[p.j], p.touches, needs)
		nearest[p.i], nearest[p.j] = min(nearest[p.i], d.allowed), min(nearest[p.j], d.allowed)
		r.oppositeFaces(d)
		out = append(out, d)
	}
	slices.SortFunc(out, func(a, b apart) int {
		return cmp.Or(cmp.Compare(a.seen, b.seen), r.pairByName(a.i, a.j, b.i, b.j))
	})
	return out
}

// justAboveMM is how far above the limit two cracks have to be for certain not
// to count as one: the limit itself joins.
const justAboveMM = 1e-6

// needsOf is the distances at which the way between two cracks has to be
// decided, ascending: the limits on spacing with their guard, and the distance
// at which the two count as one.
func (r *run) needsOf(i, j int) []float64 {
	t := r.traces[i]
	std := math.Hypot(t.std, r.traces[j].std)
	hidden := math.Hypot(hiddenStd(t.at.allowance()), hiddenStd(t.at.allowance()))
	out := needs(t.at.limitsOf(factSpacing), float64(r.sureStds()*math.Hypot(std, hidden)), 0)
	out = append(out, r.joinLimit(i, j, r.sizeOf(i), r.sizeOf(j))+justAboveMM)
	slices.Sort(out)
	return out
}

// spacing fills in the distance of every crack to the next one.
func (r *run) spacing(all []apart) {
	for i := range r.found {
		f, t := &r.found[i], r.traces[i]
		if t == nil || !isCrack(f.Kind) {
			continue
		}
		for _, d := range all {
			if d.i != i && d.j != i {
				continue
			}
			if f.Spacing == nil || d.allowed < f.Spacing.MM {
				f.Spacing = r.spacingOf(d, d.i+d.j-i)
			}
		}
		if f.Spacing == nil {
			f.Spacing = t.at.none()
		} else {
			f.because("%s", clearanceText(*f.Spacing, "crack "))
		}
		for j := range r.found {
			if o := &r.found[j]; isCrack(o.Kind) && !o.Located && o.Casting == f.Casting && r.crack.of(i) != r.crack.of(j) {
				f.Spacing = nil
				f.Unknown = append(f.Unknown, fmt.Sprintf("spacing: where %s lies is not known", o.ID))
			}
		}
	}
}

// sameMM is how near two bounds are the same: far above the roundings of a
// vehicle's coordinates, so that the words do not depend on where it stands.
const sameMM = 1e-6

func (r *run) spacingOf(d apart, other int) *Clearance {
	a, b := r.traces[d.i].std, r.traces[d.j].std
	upper := d.seen
	if upper <= d.least+sameMM { // nothing above the lower bound was looked for
		upper = 0
	}
	return &Clearance{To: string(r.found[other].ID), MM: d.allowed, SeenMM: d.least, UpperMM: upper, Doubt: d.doubt,
		Std: math.Sqrt(float64(a*a) + float64(b*b) + d.aheadVar)}
}
