package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/elem"
)

// pairs is all pairs of findings on one casting of which one weakens the wall and
// both places are known, the two faces of one crack left out; those that may be nearest come first.
func (r *run) pairs() []pair {
	var out []pair
	for i, a := range r.traces {
		for j, b := range r.traces {
			if a == nil || b == nil || a.at != b.at || !(r.weakens(i) || r.weakens(j)) ||
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
// their lengths: then what is too far for two may be near enough for more, and
// nearer than the gaps that a group hangs together by.
// Nothing depends on the order of the findings.
func (r *run) distances() []apart {
	var out []apart
	nearest := make([]float64, len(r.found))
	for i := range nearest {
		nearest[i] = math.Inf(1)
	}
	for _, p := range r.pairs() {
		most := r.mostStd(p.i, p.j)
		join := r.joinLimit(p.i, p.j, r.sizeOf(p.i), r.sizeOf(p.j))
		needs := append(r.traces[p.i].at.limitsOf(body.FactSpacing), join)
		far := slices.Max(needs) + float64(r.sureStds()*most) + justAboveMM
		beyond := p.least - float64(apartStds*most)
		grows := r.grouping(p.i) != nil
		of, by := r.weakens(p.i) && beyond < nearest[p.j], r.weakens(p.j) && beyond < nearest[p.i]
		if !grows && !r.forks(p.i, p.j) && p.least > far && !of && !by {
			continue
		}
		d := r.distance(p.i, p.j, p.touches, join)
		neighbours := r.whole.of(p.i) != r.whole.of(p.j) // a branch of its own hides no other crack
		if neighbours && r.weakens(p.j) {
			nearest[p.i] = min(nearest[p.i], d.allowed)
		}
		if neighbours && r.weakens(p.i) {
			nearest[p.j] = min(nearest[p.j], d.allowed)
		}
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

// mostStd is the largest standard uncertainty that a distance between two cracks
// can have.
func (r *run) mostStd(i, j int) float64 {
	t := r.traces[i]
	hidden := elem.Hypot(hiddenStd(t.at.allowance()), hiddenStd(t.at.allowance()))
	return elem.Hypot(elem.Hypot(t.std, r.traces[j].std), hidden)
}

// spacing fills in the distance of every finding to the others that weaken the
// wall. It is known only as far as the casting was inspected: what has not been
// looked at may carry one more. The other face and the branches of a crack are no
// neighbours of it.
func (r *run) spacing(all []apart) {
	for i := range r.found {
		f, t := &r.found[i], r.traces[i]
		if t == nil {
			continue
		}
		var to []*Clearance
		for _, d := range all {
			if (d.i == i || d.j == i) && r.weakens(d.i+d.j-i) && r.whole.of(d.i) != r.whole.of(d.j) {
				to = append(to, r.spacingOf(d, d.i+d.j-i))
			}
		}
		if f.Spacing = t.at.none(); len(to) > 0 {
			f.Spacing = withElements(to)
			f.because("%s", clearanceText(*f.Spacing, string(r.kindOf(f.Spacing.To))+" "))
		}
		r.lookedAround(f, t)
		for j := range r.found {
			if o := &r.found[j]; r.weakens(j) && !o.Located && o.Casting == f.Casting && i != j && r.crack.of(i) != r.crack.of(j) {
				f.Spacing = nil
				f.Unknown = append(f.Unknown, fmt.Sprintf("spacing: where %s lies is not known", o.ID))
			}
		}
	}
}

// lookedAround adds to a spacing what has not been inspected: a finding may lie
// there from its nearest point on. A zone counts as not inspected while one area in
// it is not, and when no area is in it; an area of which nobody knows where it lies may
// be anywhere.
func (r *run) lookedAround(f *Finding, t *trace) {
	std := elem.Hypot(t.std, t.meshStd())
	var open []string
	for _, z := range t.at.Of.Zones {
		area := r.openIn(f.Casting, z.ID)
		if area == "" {
			continue
		}
		by := []reach{{end: noEnd}}
		if !f.in(z.ID) {
			by = t.toLabel(int32(z.Label))
		}
		for _, e := range elements("area "+area+", which is not inspected", by, std) {
			e.Maybe = true
			if f.Spacing.To == None || e.mayMatter(f.Spacing.MM) {
				f.Spacing.Of = append(f.Spacing.Of, e)
			}
		}
		open = append(open, area)
	}
	if len(open) > 0 {
		f.because("how near the next finding may be is not known where nobody has looked: area %s", joinWords(open))
	}
}

// openIn names an area of a zone that has not been inspected as asked; empty when
// all of it has been. Where there is no area nobody has looked.
func (r *run) openIn(c body.CastingID, z body.ZoneID) string {
	inZone := false
	for _, a := range r.res.Coverage {
		if a.Casting != c {
			continue
		}
		if a.Zone == z || a.Zone == "" {
			inZone = inZone || a.Zone == z
			if !a.Covered {
				return a.Area
			}
		}
	}
	if !inZone {
		return "of zone " + string(z)
	}
	return ""
}

// toLabel is the distances of a finding to what carries a label.
func (t *trace) toLabel(label int32) []reach {
	var out []labelReach
	to := t.toBorders()
	for i, e := range t.at.Borders() {
		if e.A == label || e.B == label {
			out = nearer(out, labelReach{label, to[i]})
		}
	}
	if out == nil {
		return []reach{{end: noEnd}} // it borders on nothing: it may be anywhere
	}
	return out[0].by
}

// kindOf is what a finding is.
func (r *run) kindOf(id string) body.FindingKind {
	for _, f := range r.found {
		if string(f.ID) == id {
			return f.Kind
		}
	}
	return body.Crack
}

// sameMM is how near two bounds are the same: far above the roundings of a
// vehicle's coordinates, so that the words do not depend on where it stands.
const sameMM = 1e-6

func (r *run) spacingOf(d apart, other int) *Clearance {
	upper := d.seen
	if upper <= d.least+sameMM { // nothing above the lower bound was looked for
		upper = 0
	}
	to := string(r.found[other].ID)
	of := make([]Element, len(d.of))
	for k, e := range d.of {
		of[k] = Element{To: to, MM: e.mm, Std: e.std, end: k}
	}
	return &Clearance{To: to, MM: d.allowed, SeenMM: d.least, UpperMM: upper, Doubt: d.doubt,
		Std: d.std, Of: of}
}
