package rule

import (
	"cmp"
	"math"
	"slices"
)

// Pick says which of several numbers a value is.
type Pick int

// Picks. The zero value is a number of its own.
const (
	Single Pick = iota
	Least       // the smallest of all elements
	Most        // the largest
)

// LeastOf is the smallest of several numbers. One that is not known makes it
// unknown; of none it is unknown too.
func LeastOf(elements ...Value) Value { return extreme(Least, elements) }

// MostOf is the largest of several numbers.
func MostOf(elements ...Value) Value { return extreme(Most, elements) }

// OrMore is a number of which only the lower end is known: it keeps no upper limit and
// misses no lower one for sure.
func OrMore(v Value) Value {
	if !v.Known || v.Kind != Number {
		return v
	}
	return MostOf(v, Value{Kind: Number, Known: true, Number: math.Inf(1), Unit: v.Unit, Maybe: true})
}

func extreme(p Pick, elements []Value) Value {
	var all []Value
	for _, e := range elements {
		if !e.Known || e.Kind != Number {
			return Value{Kind: Number, Unit: e.Unit}
		}
		if e.Pick == p && !e.Maybe { // the least of leasts is that of them all
			all = append(all, e.Of...)
		} else {
			all = append(all, e)
		}
	}
	if len(all) == 0 {
		return Value{Kind: Number}
	}
	slices.SortStableFunc(all, func(a, b Value) int {
		c := cmp.Compare(a.Number, b.Number)
		if p == Most {
			c = -c
		}
		return cmp.Or(boolOrder(a.Maybe, b.Maybe), c, cmp.Compare(b.Std, a.Std))
	})
	lead := all[0]
	all = needed(p, all)
	if len(all) == 1 && !lead.Maybe {
		return lead
	}
	out := NumberValue(lead.Number, lead.Std, lead.Unit)
	if lead.Maybe { // nothing is known to be there
		out.Number, out.Std = math.Inf(1), 0
		if p == Most {
			out.Number = math.Inf(-1)
		}
	}
	out.Of, out.Pick = all, p
	return out
}

// boolOrder puts what surely exists first.
func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// sureStds is how many of its standard uncertainties an element has to lie
// beyond the extreme one before it is left out: at no limit that the extreme one
// keeps does it then miss with a probability of more than 1e-15.
const sureStds = 8

// needed leaves out the elements that cannot matter at any limit.
func needed(p Pick, all []Value) []Value {
	lead := all[0]
	if lead.Maybe {
		return all
	}
	return slices.DeleteFunc(slices.Clone(all), func(e Value) bool {
		beyond := e.Number - lead.Number
		if p == Most {
			beyond = -beyond
		}
		return e.Of == nil && beyond > 0 && beyond >= float64(sureStds*e.Std)
	})
}

// miss is bounds on the probability that a value misses a limit; whichever way
// the elements of an extreme hang together, it lies between them.
type miss struct{ least, most float64 }

// misses bounds the probability that a value lies on the wrong side of a bound.
// For a number of its own it is known. That one of several misses is at least as
// probable as for any of them, and at most as the sum of all (G. Boole 1854; C. E.
// Bonferroni 1936): no independence is needed. An element that need not exist
// counts in the upper bound only.
func (b Bound) misses(v *Value, upper bool) miss {
	if !b.Set {
		return miss{}
	}
	if v.Pick == Single {
		p := b.missesOne(v.Number, v.Std, upper)
		if v.Maybe {
			return miss{0, p}
		}
		return miss{p, p}
	}
	// The least misses a lower bound when any element does, an upper one when all do.
	any := (v.Pick == Least) != upper
	least, most := 0.0, 0.0
	keepLeast, keepMost := 1.0, 0.0 // of keeping it
	sure := 0
	for i := range v.Of {
		m := b.misses(&v.Of[i], upper)
		least, most = max(least, m.least), most+m.most
		if v.Of[i].Maybe {
			keepMost += 1 - m.most
			continue
		}
		sure++
		keepLeast, keepMost = min(keepLeast, m.most), keepMost+(1-m.least)
	}
	if any {
		return miss{least, min(1, most)}
	}
	if sure == 0 { // nothing is known to be there: it lies beyond every bound
		return miss{max(0, 1-keepMost), 1}
	}
	return miss{max(0, 1-keepMost), keepLeast}
}

// missesOne is the probability for one number; 0 or 1 when it is exact.
func (b Bound) missesOne(y, u float64, upper bool) float64 {
	if u == 0 {
		low, high := y < b.At || b.Strict && y == b.At, y > b.At || b.Strict && y == b.At
		if upper && high || !upper && low {
			return 1
		}
		return 0
	}
	if upper {
		return above(b.At, y, u)
	}
	return Below(b.At, y, u)
}

// ofMany evaluates a condition on an extreme: met when the probability that all
// elements keep all limits is surely at least c; not met when one and the same
// limit is surely missed with at least that probability; unknown when only
// elements that need not exist keep it from being decided; undecided otherwise.
func (c Cond) ofMany(v Value, conf float64) (CondState, float64) {
	if c.Low.Set && c.High.Set && c.Low.At == c.High.At && !v.exact() {
		return CondUndecided, 0
	}
	low, high := c.Low.misses(&v, false), c.High.misses(&v, true)
	p := max(0, 1-low.most-high.most)
	switch {
	case low.least >= conf || high.least >= conf:
		return NotMet, p
	case p >= conf:
		return Met, p
	}
	if there, some := v.there(); some {
		if s, _ := c.number(there, conf); s == Met || s == NotMet {
			return CondUnknown, p
		}
	}
	return CondUndecided, p
}

// exact says that no element is uncertain and all of them exist.
func (v *Value) exact() bool {
	if v.Pick == Single {
		return v.Std == 0 && !v.Maybe
	}
	return !slices.ContainsFunc(v.Of, func(e Value) bool { return !e.exact() })
}

// there is the value without the elements that need not exist; some is false
// when there are none of those.
func (v Value) there() (out Value, some bool) {
	var sure []Value
	for _, e := range v.Of {
		if e.Maybe {
			some = true
		} else {
			sure = append(sure, e)
		}
	}
	if len(sure) == 0 {
		return NoneNear(v.Unit), some
	}
	return extreme(v.Pick, sure), some
}

// At is the value with another number and the same uncertainty. The elements of
// an extreme all move with it; those that need not exist do not.
func (v Value) At(number float64) Value {
	by := number - v.Number
	out := v
	out.Number, out.Of = number, slices.Clone(v.Of)
	for i, e := range out.Of {
		if !e.Maybe {
			out.Of[i] = e.At(e.Number + by)
		}
	}
	return out
}

// Within is the value with no uncertainty larger than std.
func (v Value) Within(std float64) Value {
	out := v
	out.Std, out.Of = min(v.Std, std), slices.Clone(v.Of)
	for i, e := range out.Of {
		out.Of[i] = e.Within(std)
	}
	return out
}

// MostStd is the largest standard uncertainty of the elements.
func (v Value) MostStd() float64 {
	most := v.Std
	for _, e := range v.Of {
		most = max(most, e.MostStd())
	}
	return most
}

// others is the elements that may lie farther out than the extreme one: those
// whose coverage interval does.
func (v Value) others() []Value {
	var out []Value
	sign := 1.0
	if v.Pick == Most {
		sign = -1
	}
	edge := func(e Value) float64 { return float64(sign*e.Number) - float64(Coverage*e.Std) }
	for _, e := range v.Of {
		if !e.Maybe && edge(e) < edge(v)-1e-9 {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b Value) int { return cmp.Compare(edge(a), edge(b)) })
	return out
}

// Looked is how far an extreme is known: the nearest element that need not exist;
// false when there is none.
func (v Value) Looked() (float64, bool) {
	nearest, some := math.Inf(1), false
	for _, e := range v.Of {
		if e.Maybe {
			nearest, some = min(nearest, e.Number), true
		}
	}
	return nearest, some
}

// manyText is the extreme element, those that may lie farther out, and how far
// was looked; of the largest that it may be more.
func (v Value) manyText(limits []float64) string {
	s := NumberValue(v.Number, v.Std, v.Unit).numberText(limits)
	for _, e := range v.others() {
		s += ", or " + e.numberText(limits)
	}
	if near, some := v.Looked(); some && v.Pick == Most {
		s += " or more"
	} else if some {
		s += ", not looked at from " + NumberValue(max(0, near), 0, v.Unit).numberText(nil) + " on"
	}
	return s
}
