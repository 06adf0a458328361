package rule

import (
	"math"
	"strconv"

	"fettle/internal/elem"
	"fettle/internal/normal"
)

// Need says what would decide a number that is too uncertain.
type Need struct {
	// Std is the largest standard uncertainty that decides the condition at
	// the value as it is; 0: none does, the value lies on the limit.
	Std float64
	// As is how the condition would then end.
	As CondState
	// Text says it in words.
	Text string
}

// Need is what would decide an undecided condition on a number. For one limit
// t and the measured value y the largest uncertainty is
//
//	u = |t − y| / z,  Φ(z) = c
//
// (JCGM 106:2012 7.3 solved for u; for two limits the bound is found by
// halving). Figures for people are rounded so that they still hold.
func (c Cond) Need(v Value, confidence float64) Need {
	conf := threshold(confidence)
	if c.eval(&v, conf).State != CondUndecided {
		return Need{}
	}
	n := Need{As: NotMet}
	if c.meets(v.Number) {
		n.As = Met
	}
	n.Std = c.largestStd(v, conf)
	switch {
	case n.Std > 0:
		n.Text = KnownTo(n.Std, c.Unit) + " it would be decided at this value (" + n.As.String() + ")"
	case c.Low.Set && c.High.Set && c.Low.At == c.High.At:
		n.Text = "only an exact number decides this condition"
	default:
		n.Text = "the value lies on the limit: no measurement decides it there"
	}
	if f, ok := c.Nearest(v, conf, Met); ok {
		n.Text += "; at this uncertainty it would be met at " + f.Limit(c.Unit)
	}
	return n
}

// Limit says the value of a flip in words, "20.7 mm or less", rounded to two
// decimals on the side where it still holds.
func (f Flip) Limit(unitName string) string {
	if unitName == UnitDate {
		return f.dateLimit()
	}
	word, at := " or more", math.Ceil(float64(f.At*100)-1e-6)/100
	if f.By < 0 {
		word, at = " or less", math.Floor(float64(f.At*100)+1e-6)/100
	}
	num := withUnit(strconv.FormatFloat(at, 'f', -1, 64), unitName)
	switch {
	case f.Beyond && f.By < 0:
		return "less than " + num
	case f.Beyond:
		return "more than " + num
	}
	return num + word
}

// dateLimit is Limit for a calendar day.
func (f Flip) dateLimit() string {
	switch {
	case f.By < 0 && f.Beyond:
		return "before " + dayText(math.Ceil(f.At))
	case f.By < 0:
		return dayText(math.Floor(f.At)) + " or before"
	case f.Beyond:
		return "after " + dayText(math.Floor(f.At))
	}
	return dayText(math.Ceil(f.At)) + " or after"
}

// largestStd halves between 0 (the exact answer, if any) and the uncertainty
// at hand. The states change once only as the uncertainty grows.
func (c Cond) largestStd(v Value, conf float64) float64 {
	decided := func(u float64) bool {
		w := v.Within(u)
		return c.eval(&w, conf).State != CondUndecided
	}
	u := halved(v.MostStd(), 0, decided)
	if u < v.MostStd()*1e-12 {
		return 0
	}
	return u
}

// halved is the number nearest to one that does not do, as far as the way from it to one
// that does is halved: of what lies between, all from some place on does.
func halved(not, does float64, do func(float64) bool) float64 {
	const halvings = 60
	for range halvings {
		if mid := not + (does-not)/2; do(mid) {
			does = mid
		} else {
			not = mid
		}
	}
	return does
}

// Flip is the nearest value of a fact, at its present uncertainty, that would
// change how a condition on a number ends.
type Flip struct {
	Fact string
	To   CondState // how it would end: met or not met
	At   float64   // the nearest value
	By   float64   // At minus the present value
	// Beyond says that At itself is not enough: the value has to lie beyond
	// it (an exact number and a limit that is itself excluded).
	Beyond bool
}

// Nearest is the value nearest to v at which the condition would end as want
// (met or not met) at the same uncertainty; false when there is none, or when
// the condition is not about a number.
func (c Cond) Nearest(v Value, confidence float64, want CondState) (Flip, bool) {
	if !c.ok || c.Kind != Number || !v.Known || v.Kind != Number || math.IsInf(v.Number, 0) {
		return Flip{}, false
	}
	conf := threshold(confidence)
	if c.eval(&v, conf).State == want {
		return Flip{Fact: c.Fact, To: want, At: v.Number}, true
	}
	if v.Pick != Single {
		return c.nearestOfMany(v, conf, want)
	}
	if want == Met && v.Std > 0 && c.Low.Set && c.High.Set {
		return c.nearestInside(v, conf)
	}
	best, found := Flip{}, false
	consider := func(at float64, beyond bool) {
		f := Flip{Fact: c.Fact, To: want, At: at, By: at - v.Number, Beyond: beyond}
		if !found || math.Abs(f.By) < math.Abs(best.By) {
			best, found = f, true
		}
	}
	for _, e := range c.edges(v.Std, conf, want) {
		if c.edgeHolds(e, v, conf, want) {
			consider(e.at, e.beyond)
		}
	}
	return best, found
}

// nearestInside finds where an interval begins to be met. Both tails count
// there, and the probability only grows toward the middle: halving finds it.
func (c Cond) nearestInside(v Value, conf float64) (Flip, bool) {
	met := func(at float64) bool {
		w := v
		w.Number = at
		return c.eval(&w, conf).State == Met
	}
	to := c.Low.At + (c.High.At-c.Low.At)/2
	if !met(to) {
		return Flip{}, false
	}
	to = halved(v.Number, to, met)
	return Flip{Fact: c.Fact, To: Met, At: to, By: to - v.Number}, true
}

// nearestOfMany moves all elements of an extreme together, to either side, until
// the condition ends as wanted, and halves back.
func (c Cond) nearestOfMany(v Value, conf float64, want CondState) (Flip, bool) {
	holds := func(by float64) bool {
		w := v.At(v.Number + by)
		return c.eval(&w, conf).State == want
	}
	best, found := Flip{}, false
	for _, sign := range []float64{-1, 1} {
		to, ok := 1e-3, false
		for range 40 {
			if ok = holds(float64(sign * to)); ok {
				break
			}
			to *= 2
		}
		if !ok {
			continue
		}
		to = halved(0, to, func(by float64) bool { return holds(float64(sign * by)) })
		if by := float64(sign * to); !found || math.Abs(by) < math.Abs(best.By) {
			best, found = Flip{Fact: c.Fact, To: want, At: v.Number + by, By: by}, true
		}
	}
	return best, found
}

// edge is a value at which a condition begins to end in a certain way.
type edge struct {
	at     float64
	beyond bool    // the edge itself does not belong
	toward float64 // direction in which it ends that way: -1 or +1
}

// edges are where the condition begins to be met, or not met: each limit moved
// by z·u to the safe side.
func (c Cond) edges(u, conf float64, want CondState) []edge {
	shift := float64(normal.Quantile(conf) * u)
	if u == 0 {
		shift = 0
	}
	var out []edge
	add := func(b Bound, inward float64) {
		if !b.Set {
			return
		}
		if want == Met {
			out = append(out, edge{b.At + float64(inward*shift), u == 0 && b.Strict, inward})
			return
		}
		out = append(out, edge{b.At - float64(inward*shift), u == 0 && !b.Strict, -inward})
	}
	add(c.Low, 1)
	add(c.High, -1)
	return out
}

// edgeHolds checks an edge against the evaluation itself, a hair on its safe
// side, so that a suggestion is never made that the table would not accept.
func (c Cond) edgeHolds(e edge, v Value, conf float64, want CondState) bool {
	w := v
	w.Number = e.at + float64(e.toward*1e-9*(1+math.Abs(e.at)+v.Std))
	return c.eval(&w, conf).State == want
}

// KnownTo says in words how well a number has to be known when its standard uncertainty may
// be std at most: by the expanded one, as everything is printed after ±.
func KnownTo(std float64, unitName string) string {
	return "uncertain by no more than ± " + RoundedDown(Coverage*std, unitName) + " (k = 2)"
}

// RoundedDown is a positive number with its unit, two significant digits, never
// rounded up: an upper bound for people that still holds.
func RoundedDown(x float64, unitName string) string { return withUnit(downText(x), unitName) }

// downText writes a positive number with two significant digits, never
// rounded up.
func downText(x float64) string {
	exp := elem.Decade(x) - 1
	step := math.Pow10(exp)
	if exp < 0 {
		scale := math.Pow10(-exp)
		return strconv.FormatFloat(math.Floor(x*scale)/scale, 'f', -1, 64)
	}
	return strconv.FormatFloat(float64(math.Floor(x/step)*step), 'f', 0, 64)
}

func withUnit(num, unitName string) string {
	if unitName == "" {
		return num
	}
	return num + " " + unitName
}
