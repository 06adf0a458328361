// Package rule owns decision tables over named facts: conditions as a planner
// writes them, values with units and uncertainty, and the total evaluation of
// every row with its reasons.
//
// It knows no word of any trade and gives no verdict: a row applies, does not
// apply, is undecided (a number is too uncertain) or unknown (a fact is
// missing). Evaluation never stops early and has no default that permits: a
// condition that cannot be read and a fact that is missing are both unknown.
package rule

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"fettle/internal/unit"
)

// Kind is the type of a fact.
type Kind int

// Kinds of fact.
const (
	Text   Kind = iota // one word
	Set                // any number of words
	Number             // a number with a unit and a standard uncertainty
	Bool               // yes or no
)

// String is the word shown to people.
func (k Kind) String() string {
	switch k {
	case Text:
		return "word"
	case Set:
		return "set of words"
	case Number:
		return "number"
	case Bool:
		return "yes or no"
	}
	return "unknown kind"
}

// Value is what is known of a fact. The zero value is unknown.
type Value struct {
	Kind   Kind
	Known  bool
	Words  []string // Text: one word; Set: sorted, each once
	Number float64  // in the unit of the fact; +Inf: there is none near
	Std    float64  // standard uncertainty of Number; 0: exact
	Yes    bool
	Unit   string // unit of Number, for people
	// Of is what a Number is the extreme of, when there is more than one; Number
	// and Std are then those of the element whose number is the extreme, and all
	// of them are held against a limit.
	Of   []Value
	Pick Pick // which extreme it is
	// Maybe marks an element that need not exist: it can keep a limit from being
	// met, and never shows that one is not.
	Maybe bool
}

// Unknown is a missing value of a kind.
func Unknown(k Kind) Value { return Value{Kind: k} }

// TextValue is a known word.
func TextValue(w string) Value { return Value{Kind: Text, Known: true, Words: []string{w}} }

// SetValue is a known set; it sorts the words and drops repeats.
func SetValue(words ...string) Value {
	out := make([]string, 0, len(words))
	out = append(out, words...)
	sort.Strings(out)
	n := 0
	for i, w := range out {
		if i == 0 || w != out[n-1] {
			out[n] = w
			n++
		}
	}
	return Value{Kind: Set, Known: true, Words: out[:n]}
}

// NumberValue is a known number with its standard uncertainty. A number that
// is NaN, or an uncertainty that is negative or not finite, is unknown.
func NumberValue(v, std float64, unitName string) Value {
	if math.IsNaN(v) || math.IsInf(v, -1) || !(std >= 0) || math.IsInf(std, 1) {
		return Value{Kind: Number, Unit: unitName}
	}
	return Value{Kind: Number, Known: true, Number: v, Std: std, Unit: unitName}
}

// NoneNear is the distance to something that does not exist: known, exact and
// larger than every limit.
func NoneNear(unitName string) Value { return NumberValue(math.Inf(1), 0, unitName) }

// BoolValue is a known yes or no.
func BoolValue(yes bool) Value { return Value{Kind: Bool, Known: true, Yes: yes} }

// String writes the value as ParseValue reads it, numbers rounded for people
// to two decimals, measured lengths as everything prints them (unit.Spread).
func (v Value) String() string {
	if !v.Known {
		return "unknown"
	}
	switch v.Kind {
	case Text, Set:
		if len(v.Words) == 0 {
			return "none"
		}
		return strings.Join(v.Words, ", ")
	case Bool:
		if v.Yes {
			return "yes"
		}
		return "no"
	}
	return v.numberText(nil)
}

// Beside is String beside the limits that a number is compared with: with as many decimals
// as it needs to read above, on or below each of them as it is.
func (v Value) Beside(limits ...float64) string {
	if !v.Known || v.Kind != Number {
		return v.String()
	}
	return v.numberText(limits)
}

// Shown is a value as it is printed beside the condition.
func (c Cond) Shown(v Value) string {
	var limits []float64
	for _, b := range []Bound{c.Low, c.High} {
		if b.Set {
			limits = append(limits, b.At)
		}
	}
	return v.Beside(limits...)
}

// Coverage is the factor between the standard uncertainty and the expanded one
// that is written after ± (k = 2; JCGM 100:2008 6.2, from memory).
const Coverage = 2

func (v Value) numberText(limits []float64) string {
	if v.Pick != Single {
		return v.manyText(limits)
	}
	if math.IsInf(v.Number, 1) {
		return "none near"
	}
	if v.Unit == UnitDate {
		s := dayText(v.Number)
		if v.Std > 0 {
			s += " ± " + short(Coverage*v.Std) + " days"
		}
		return s
	}
	s := shortBeside(v.Number, limits)
	switch {
	case v.Std > 0 && v.Unit == "mm":
		s = unit.SpreadBeside(v.Number, Coverage*v.Std, limits...)
	case v.Std > 0:
		s += " ± " + short(Coverage*v.Std)
	}
	if v.Unit != "" {
		s += " " + v.Unit
	}
	return s
}

// short prints at most two decimals; a number that would be more than a
// hundredth off that way keeps three digits.
func short(x float64) string {
	r := math.Round(x*100) / 100
	if math.IsInf(r, 0) || math.Abs(r-x) > 0.01*math.Abs(x) {
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

// shortBeside is short where that reads above, on or below each limit as the number is;
// with more decimals otherwise.
func shortBeside(x float64, limits []float64) string {
	s := short(x)
	read, err := strconv.ParseFloat(s, 64)
	if err == nil && !slices.ContainsFunc(limits, func(l float64) bool { return cmp.Compare(read, l) != cmp.Compare(x, l) }) {
		return s
	}
	return unit.FixedBeside(x, 2, limits...)
}

// CondState is how a condition ended. The zero value is the most cautious.
type CondState int

// States of a condition.
const (
	CondUnknown   CondState = iota // the fact is missing
	CondUndecided                  // the number is too uncertain
	NotMet
	Met
)

// String is the word shown to people.
func (s CondState) String() string {
	switch s {
	case CondUndecided:
		return "undecided"
	case NotMet:
		return "not met"
	case Met:
		return "met"
	}
	return "unknown"
}

// RowState is how a row ended. The zero value is the most cautious.
type RowState int

// States of a row.
const (
	RowUnknown RowState = iota
	RowUndecided
	DoesNotApply
	Applies
)

// String is the word shown to people.
func (s RowState) String() string {
	switch s {
	case RowUndecided:
		return "undecided"
	case DoesNotApply:
		return "does not apply"
	case Applies:
		return "applies"
	}
	return "unknown"
}

// Open says that the row may still turn out to apply.
func (s RowState) Open() bool { return s == RowUnknown || s == RowUndecided }

// Op is how a condition compares words.
type Op int

// Operators of conditions on words.
const (
	OneOf    Op = iota // Text: the word is one of these
	NotOneOf           // Text: the word is none of these
	Only               // Set: not empty, and nothing but these
	AnyOf              // Set: at least one of these
	NoneOf             // Set: none of these
	Includes           // Set: all of these
)

// Bound is one limit of a number.
type Bound struct {
	Set    bool    // there is a limit on this side
	At     float64 // in the unit of the fact
	Strict bool    // the limit itself does not meet it
}

// Cond is one condition on one fact, ready to be evaluated. The zero value
// can never be met.
type Cond struct {
	Fact  string
	Kind  Kind
	Unit  string
	Text  string // as the planner wrote it
	Op    Op
	Words []string
	Low   Bound // Number: the value is at least, or above
	High  Bound // Number: the value is at most, or below
	Yes   bool
	ok    bool // it could be read
}

// Unreadable is a condition that could not be read: it is unknown for every
// value, so that a row with it never permits.
func Unreadable(fact, text string) Cond { return Cond{Fact: fact, Text: text} }

// Readable says that the condition was read without fault.
func (c Cond) Readable() bool { return c.ok }
