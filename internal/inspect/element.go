package inspect

import (
	"cmp"
	"slices"

	"fettle/internal/normal"
)

// Element is one of the distances that a clearance is the least of. A limit on the
// clearance holds when all of them surely keep it; see rule.LeastOf.
type Element struct {
	To  string  `json:"to"`
	MM  float64 `json:"mm"`
	Std float64 `json:"stdMm"`
	// Maybe: what it is to need not exist. It is where something could lie that
	// nobody has looked for.
	Maybe bool `json:"maybe,omitempty"`

	end int // of the finding that it is from, or noEnd: all of it
}

// noEnd is said of all of a finding, and of a place between its two ends.
const noEnd = -1

// apartStds is how many of its standard uncertainties an element has to lie above
// the least one before it cannot matter at any limit (Phi(-8) < 1e-15).
const apartStds = 8

// elements is those of reaches to one thing.
func elements(to string, by []reach, std float64) []Element {
	out := make([]Element, len(by))
	for i, x := range by {
		out[i] = Element{To: to, MM: x.allowed, Std: x.std(std), end: x.end}
	}
	return out
}

// leastElement is the least; of equals the least certain.
func leastElement(all []Element) Element {
	return slices.MinFunc(all, func(a, b Element) int {
		return cmp.Or(cmp.Compare(a.MM, b.MM), cmp.Compare(b.Std, a.Std), cmp.Compare(a.To, b.To))
	})
}

// mayMatter says that an element may break a limit that the least one keeps.
func (e Element) mayMatter(leastMM float64) bool {
	return e.MM < leastMM+float64(apartStds*e.Std) || e.MM <= leastMM
}

// withElements makes one clearance of those to several things: it is to the
// nearest, and names every element that may matter. What one line is given in
// pieces counts once.
func withElements(all []*Clearance) *Clearance {
	var of []Element
	best := all[0]
	for _, c := range all {
		if c.MM < best.MM || c.MM == best.MM && c.Std > best.Std {
			best = c
		}
		for _, e := range c.Of {
			i := slices.IndexFunc(of, func(o Element) bool { return o.To == e.To && o.end == e.end })
			switch {
			case i < 0:
				of = append(of, e)
			case e.MM < of[i].MM || e.MM == of[i].MM && e.Std > of[i].Std:
				of[i] = e
			}
		}
	}
	out := *best
	out.Of = slices.DeleteFunc(of, func(e Element) bool { return !e.mayMatter(out.MM) })
	slices.SortFunc(out.Of, func(a, b Element) int {
		return cmp.Or(cmp.Compare(a.MM, b.MM), cmp.Compare(b.Std, a.Std), cmp.Compare(a.To, b.To), cmp.Compare(a.end, b.end))
	})
	if len(out.Of) == 1 {
		out.Of = nil
	}
	return &out
}

// closeStds is how many standard uncertainties something has to be away to be
// surely away: coverage factor 2 (JCGM 100:2008 6.2), more where the body asks for
// more than that gives.
func (r *run) closeStds() float64 { return max(nearStds, normal.Quantile(r.confidence)) }
