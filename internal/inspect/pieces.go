package inspect

import (
	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/job"
	"fettle/internal/normal"
)

// pieces finds which cracks surely are one: the faces and branches of a crack,
// and cracks that the rule of the procedure joins whatever the uncertainty of
// their traces, without any allowance for tips. A group holds more: all that may
// be one. What a limit on length is held against is the group; a limit on number
// is held against the pieces, or ignorance would make several into one and the
// number smaller.
//
// Two traces with the standard uncertainties u1, u2 at the seen distance s are
// surely joined when
//
//	s + 2 sqrt(u1^2 + u2^2) <= limit
//
// with the limit of the procedure at lengths and depths that are each less twice
// their uncertainty. A crack that may take another way is not surely near another.
func (r *run) pieces(all []apart) sets {
	set := r.crack.clone()
	z := max(nearStds, normal.Quantile(1-(1-r.confidence)/float64(max(1, len(r.found)-1))))
	var out []apart
	for _, d := range all {
		if r.surelyForks(d.i, d.j) && set.join(d.i, d.j) {
			out = append(out, d)
		}
	}
	for again := true; again; {
		size, next := r.sizesBy(set, out, r.leastSize), set.clone()
		again = false
		for _, d := range all {
			if len(r.traces[d.i].curve.otherWays)+len(r.traces[d.j].curve.otherWays) > 0 {
				continue
			}
			near := float64(z * elem.Hypot(r.traces[d.i].std, r.traces[d.j].std))
			if d.seen+near <= r.joinLimit(d.i, d.j, size[set.of(d.i)], size[set.of(d.j)]) && next.join(d.i, d.j) {
				out = append(out, d)
				again = r.grouping(d.i) != nil && r.grouping(d.i).Again
			}
		}
		set = next
	}
	return set
}

// leastSize is the size that a crack has at least.
func (r *run) leastSize(i int) size {
	t := r.traces[i]
	s := size{}
	if l := r.found[i].Length; l != nil {
		s.lengthMM = max(0, l.MM-float64(nearStds*l.Std))
	}
	switch d := t.in.Depth; {
	case r.found[i].Through == body.Yes:
		s.depthMM = float64(t.at.Of.Wall)
	case d.Known:
		s.depthMM = max(0, float64(d.Value)-float64(nearStds*float64(t.in.DepthStd)))
	}
	return s
}

// namePieces gives every finding of a group the name of the crack it surely is.
func (r *run) namePieces(set sets) {
	first := map[int]job.FindingID{}
	for i, f := range r.found {
		if was, ok := first[set.of(i)]; !ok || byName(f.ID, was) < 0 {
			first[set.of(i)] = f.ID
		}
	}
	for i := range r.found {
		if f := &r.found[i]; f.Group != "" {
			f.Piece = string(first[set.of(i)])
		}
	}
}
