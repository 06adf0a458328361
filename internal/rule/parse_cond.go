package rule

import (
	"sort"
	"strings"
)

// ParseCond reads a condition as a planner writes it.
//
//	number:    "<= 24 mm"   "< 3"   "= 2"   ">= 10 mm and <= 24 mm"
//	word:      "round"   "round or flat"   "not round"   "neither round nor flat"
//	set:       "only A, B"   "any of A, B"   "none of A, B"   "includes A and B"
//	yes or no: "yes"   "no"
//
// The unit is compulsory when the fact has one. An error says what is wrong
// and what would be right.
func ParseCond(name string, kind Kind, unitName, text string) (Cond, error) {
	c := Cond{Fact: name, Kind: kind, Unit: unitName, Text: strings.Join(strings.Fields(text), " ")}
	var err error
	switch {
	case c.Text == "":
		err = bad(name, "the condition is empty", "write the condition, or leave the fact out")
	case kind == Text:
		err = c.parseText()
	case kind == Set:
		err = c.parseSet()
	case kind == Number:
		err = c.parseNumber()
	case kind == Bool:
		c.Yes, err = yesNo(name, c.Text)
	default:
		err = bad(name, "the fact has no kind this program knows", "")
	}
	if err != nil {
		return Unreadable(name, c.Text), err
	}
	sort.Strings(c.Words)
	c.ok = true
	return c, nil
}

func (c *Cond) parseText() error {
	s, seps := c.Text, []string{"or"}
	c.Op = OneOf
	if rest, ok := strings.CutPrefix(s, "not "); ok {
		if strings.ContainsAny(rest, " ,") {
			return bad(c.Fact, "\"not\" before several words can be read in two ways", "write \"neither A nor B\"")
		}
		s, c.Op = rest, NotOneOf
	} else if rest, ok := strings.CutPrefix(s, "neither "); ok {
		s, seps, c.Op = rest, []string{"nor"}, NotOneOf
	}
	words, err := wordList(c.Fact, s, seps)
	c.Words = words
	return err
}

func (c *Cond) parseSet() error {
	forms := []struct {
		prefix string
		op     Op
		seps   []string
	}{
		{"only ", Only, []string{"and", "or"}},
		{"any of ", AnyOf, []string{"or"}},
		{"none of ", NoneOf, []string{"or"}},
		{"includes ", Includes, []string{"and"}},
	}
	for _, f := range forms {
		rest, ok := strings.CutPrefix(c.Text, f.prefix)
		if !ok {
			continue
		}
		words, err := wordList(c.Fact, rest, f.seps)
		c.Op, c.Words = f.op, words
		return err
	}
	return bad(c.Fact, "a condition on a set has to say how "+quote(c.Text)+" is meant",
		"begin with \"only\", \"any of\", \"none of\" or \"includes\"")
}

func (c *Cond) parseNumber() error {
	for _, clause := range strings.Split(c.Text, " and ") {
		if err := c.addClause(strings.TrimSpace(clause)); err != nil {
			return err
		}
	}
	if c.Low.Set && c.High.Set {
		open := c.Low.Strict || c.High.Strict
		if c.Low.At > c.High.At || (open && c.Low.At == c.High.At) {
			return bad(c.Fact, "no number can meet "+quote(c.Text), "write the lower limit first: \">= 10 and <= 24\"")
		}
	}
	return nil
}

// numberOps has the longer operators first.
var numberOps = []struct {
	sign              string
	low, high, strict bool
}{
	{"<=", false, true, false}, {"≤", false, true, false},
	{">=", true, false, false}, {"≥", true, false, false},
	{"<", false, true, true}, {">", true, false, true},
	{"=", true, true, false},
}

func (c *Cond) addClause(clause string) error {
	for _, op := range numberOps {
		rest, ok := strings.CutPrefix(clause, op.sign)
		if !ok {
			continue
		}
		at, err := quantity(c.Fact, rest, c.Unit, false)
		if err != nil {
			return err
		}
		if op.low && op.high && c.Unit != "" {
			return bad(c.Fact, "a measured value never equals a limit exactly", "write an interval: \">= 10 "+c.Unit+" and <= 12 "+c.Unit+"\"")
		}
		if (op.low && c.Low.Set) || (op.high && c.High.Set) {
			return bad(c.Fact, quote(c.Text)+" has two limits on the same side", "leave one out")
		}
		if op.low {
			c.Low = Bound{Set: true, At: at, Strict: op.strict}
		}
		if op.high {
			c.High = Bound{Set: true, At: at, Strict: op.strict}
		}
		return nil
	}
	return bad(c.Fact, quote(clause)+" does not begin with a comparison", "write <=, <, >=, > or = and the limit")
}
