package rule

import (
	"maps"
	"math"
	"slices"
	"strconv"
)

// Space is what a search over all facts has to know of them.
type Space struct {
	Words    map[string][]string // every word a fact can have
	Whole    map[string]bool     // numbers that are counts
	NotEmpty map[string]bool     // sets that always have a word
	Signed   map[string]bool     // numbers that may lie below zero
}

// Cell is a part of the space of facts: for each fact the values that are left.
// A fact it does not name may have any value. It is never changed, only
// narrowed into another.
type Cell map[string]region

// region is the values of one fact that are left.
type region struct {
	kind      Kind
	unit      string
	low, high Bound
	yes, no   bool     // Bool: the value may be so
	words     []string // Text: the words that are left
	terms     []Cond   // Set: conditions that all have to be met
}

// Narrow keeps the part of a cell in which the condition is met; false when
// nothing is left.
func (c Cell) Narrow(cond Cond, sp Space) (Cell, bool) {
	r := c.at(cond, sp)
	if !cond.ok || r.kind != cond.Kind {
		return nil, false
	}
	r.meet(cond)
	if r.empty(cond.Fact, sp) {
		return nil, false
	}
	return c.with(cond.Fact, r), true
}

// Outside is the parts of a cell in which the condition is not met.
func (c Cell) Outside(cond Cond, sp Space) []Cell {
	r := c.at(cond, sp)
	if !cond.ok || r.kind != cond.Kind {
		return []Cell{c}
	}
	var out []Cell
	for _, o := range r.miss(cond) {
		if !o.empty(cond.Fact, sp) {
			out = append(out, c.with(cond.Fact, o))
		}
	}
	return out
}

func (c Cell) with(name string, r region) Cell {
	out := maps.Clone(c)
	if out == nil {
		out = Cell{}
	}
	out[name] = r
	return out
}

// at is what is left of a fact, at first everything: numbers from zero, unless
// they may lie below it.
func (c Cell) at(cond Cond, sp Space) region {
	if r, ok := c[cond.Fact]; ok {
		return r
	}
	return region{kind: cond.Kind, unit: cond.Unit, low: Bound{Set: !sp.Signed[cond.Fact]}, yes: true, no: true, words: sp.Words[cond.Fact]}
}

// meet narrows a region to a condition.
func (r *region) meet(c Cond) {
	switch c.Kind {
	case Number:
		r.low, r.high = higher(r.low, c.Low), lower(r.high, c.High)
	case Bool:
		r.yes, r.no = r.yes && c.Yes, r.no && !c.Yes
	case Text:
		r.words = keep(r.words, c.Words, c.Op == OneOf)
	case Set:
		r.terms = append(slices.Clip(r.terms), c)
	}
}

// miss is the parts of a region in which a condition is not met.
func (r region) miss(c Cond) []region {
	var out []region
	part := func(change func(*region)) {
		o := r
		change(&o)
		out = append(out, o)
	}
	switch c.Kind {
	case Number:
		if c.Low.Set {
			part(func(o *region) { o.high = lower(o.high, Bound{true, c.Low.At, !c.Low.Strict}) })
		}
		if c.High.Set {
			part(func(o *region) { o.low = higher(o.low, Bound{true, c.High.At, !c.High.Strict}) })
		}
	case Bool:
		part(func(o *region) { o.yes, o.no = o.yes && !c.Yes, o.no && c.Yes })
	case Text:
		part(func(o *region) { o.words = keep(o.words, c.Words, c.Op != OneOf) })
	case Set:
		for _, t := range opposite(c) {
			part(func(o *region) { o.terms = append(slices.Clip(o.terms), t) })
		}
	}
	return out
}

// opposite is conditions of which one is met exactly when c is not. The
// opposite of "only these" is written with notOnly.
func opposite(c Cond) []Cond {
	turn := func(op Op) []Cond {
		o := c
		o.Op = op
		return []Cond{o}
	}
	switch c.Op {
	case Only:
		return turn(notOnly)
	case AnyOf:
		return turn(NoneOf)
	case NoneOf:
		return turn(AnyOf)
	}
	var out []Cond
	for _, w := range c.Words {
		o := c
		o.Op, o.Words = NoneOf, []string{w}
		out = append(out, o)
	}
	return out
}

// notOnly is the opposite of Only: empty, or with another word. It is never
// written by people.
const notOnly Op = -1

func keep(words, list []string, in bool) []string {
	var out []string
	for _, w := range words {
		if slices.Contains(list, w) == in {
			out = append(out, w)
		}
	}
	return out
}

func higher(a, b Bound) Bound {
	if !b.Set || (a.Set && (a.At > b.At || (a.At == b.At && a.Strict))) {
		return a
	}
	return b
}

func lower(a, b Bound) Bound {
	if !b.Set || (a.Set && (a.At < b.At || (a.At == b.At && a.Strict))) {
		return a
	}
	return b
}

func (r region) empty(name string, sp Space) bool {
	_, ok := r.example(name, sp)
	return !ok
}

// example is a value of the region; false when it has none.
func (r region) example(name string, sp Space) (Value, bool) {
	switch r.kind {
	case Number:
		v, ok := r.number(sp.Whole[name])
		return NumberValue(v, 0, r.unit), ok
	case Bool:
		return BoolValue(r.yes), r.yes || r.no
	case Text:
		if len(r.words) == 0 {
			return Value{}, false
		}
		return TextValue(r.words[0]), true
	}
	return r.set(sp.Words[name], sp.NotEmpty[name])
}

// exampleRoom is how far from its limit a number is looked for that has only one.
const exampleRoom = 10

// number prefers a short number in the middle.
func (r region) number(whole bool) (float64, bool) {
	lo, hi := r.low.At, r.high.At
	if !r.low.Set && r.high.Set && hi <= 0 {
		lo = hi - exampleRoom
	}
	inside := func(x float64) bool {
		return Cond{Kind: Number, Low: r.low, High: r.high}.meets(x)
	}
	if whole {
		x := math.Ceil(lo)
		if !inside(x) {
			x++
		}
		return x, inside(x)
	}
	if !r.high.Set {
		hi = lo + exampleRoom
	}
	for _, step := range []float64{10, 1, 0.1, 0.01, 0.001} {
		if x := tidy(math.Round((lo+hi)/2/step) * step); inside(x) {
			return x, true
		}
	}
	for _, x := range []float64{lo, hi, lo + (hi-lo)/2} {
		if inside(x) {
			return x, true
		}
	}
	return 0, false
}

// tidy drops the noise of a rounding to a decimal step.
func tidy(x float64) float64 { return math.Round(x*1000) / 1000 }

// set finds words that meet every condition: those that have to be there, then
// for every "any of" that is not met yet one more that may be.
func (r region) set(vocabulary []string, notEmpty bool) (Value, bool) {
	var have []string
	allowed := func(w string) bool {
		for _, t := range r.terms {
			in := slices.Contains(t.Words, w)
			if (t.Op == Only && !in) || (t.Op == NoneOf && in) {
				return false
			}
		}
		return true
	}
	for _, t := range r.terms {
		if t.Op == Includes {
			have = append(have, t.Words...)
		}
		notEmpty = notEmpty || t.Op == Only
	}
	if !slices.ContainsFunc(have, func(w string) bool { return !allowed(w) }) {
		return r.fill(have, vocabulary, notEmpty, allowed)
	}
	return Value{}, false
}

func (r region) fill(have, vocabulary []string, notEmpty bool, allowed func(string) bool) (Value, bool) {
	add := func(fits func(string) bool) bool {
		i := slices.IndexFunc(vocabulary, func(w string) bool { return allowed(w) && fits(w) })
		if i < 0 {
			return false
		}
		have = append(have, vocabulary[i])
		return true
	}
	for _, t := range r.terms {
		hit := slices.ContainsFunc(have, func(w string) bool { return slices.Contains(t.Words, w) })
		if t.Op == AnyOf && !hit && !add(func(w string) bool { return slices.Contains(t.Words, w) }) {
			return Value{}, false
		}
	}
	for _, t := range r.terms {
		if t.Op != notOnly || slices.ContainsFunc(have, func(w string) bool { return !slices.Contains(t.Words, w) }) {
			continue
		}
		if len(have) == 0 && !notEmpty {
			continue // empty is not "only these"
		}
		if !add(func(w string) bool { return !slices.Contains(t.Words, w) }) {
			return Value{}, false
		}
	}
	if len(have) == 0 && notEmpty && !add(func(string) bool { return true }) {
		return Value{}, false
	}
	return SetValue(have...), true
}

// Example is one value for every fact the cell names.
func (c Cell) Example(sp Space) Facts {
	out := Facts{}
	for name, r := range c {
		if v, ok := r.example(name, sp); ok {
			out[name] = v
		}
	}
	return out
}

// Between says in which interval a number of the cell lies, in words; empty
// when it may be anything.
func (c Cell) Between(name string) string {
	r, ok := c[name]
	if !ok || r.kind != Number {
		return ""
	}
	num := func(b Bound) string {
		if r.unit == UnitDate {
			return dayText(b.At)
		}
		return withUnit(strconv.FormatFloat(b.At, 'f', -1, 64), r.unit)
	}
	low, high := "", ""
	if r.low.Set && (r.low.At != 0 || r.low.Strict) {
		low = map[bool]string{true: "over ", false: "from "}[r.low.Strict] + num(r.low)
	}
	if r.high.Set {
		high = map[bool]string{true: "under ", false: "up to "}[r.high.Strict] + num(r.high)
	}
	if low != "" && high != "" {
		return low + " and " + high
	}
	return low + high
}
