package rule

import (
	"maps"
	"slices"
)

// Row is one line of a table: it applies when every condition is met. A row
// without conditions always applies.
type Row struct {
	ID    string
	Conds []Cond
}

// Facts are named values. A name that is not there is unknown.
type Facts map[string]Value

// With is a copy in which one fact has another value.
func (f Facts) With(name string, v Value) Facts {
	out := maps.Clone(f)
	if out == nil {
		out = Facts{}
	}
	out[name] = v
	return out
}

// RowResult is how a row ended, with every condition in the order of the row.
type RowResult struct {
	Row   string
	State RowState
	Conds []CondResult
}

// CondResult is how a condition ended.
type CondResult struct {
	State CondState
	// Prob is the probability that the true value meets the condition; 0 or 1
	// when no uncertainty is involved, 0 for a fact that is missing.
	Prob float64
}

// Table is a list of rows made ready for evaluation. It is not changed by
// evaluating, so it may be shared.
type Table struct {
	rows  []Row
	facts []string // every fact named by a condition, once
	index [][]int  // per row and condition: place in facts
	conds int

	fast   [][]fastCond   // for States
	words  map[string]int // every word a condition names
	asBits bool           // they are few enough to be compared as bits
}

// NewTable makes rows ready for evaluation, in the order given.
func NewTable(rows []Row) Table {
	t := Table{rows: rows, index: make([][]int, len(rows))}
	place := map[string]int{}
	for i, r := range rows {
		t.index[i] = make([]int, len(r.Conds))
		for j, c := range r.Conds {
			p, ok := place[c.Fact]
			if !ok {
				p = len(t.facts)
				place[c.Fact] = p
				t.facts = append(t.facts, c.Fact)
			}
			t.index[i][j] = p
		}
		t.conds += len(r.Conds)
	}
	t.fastRows()
	return t
}

// Names says that a condition of the table names the fact.
func (t Table) Names(fact string) bool { return slices.Contains(t.facts, fact) }

// Rows are the rows of the table.
func (t Table) Rows() []Row { return t.rows }

// Eval evaluates every condition of every row: nothing stops early. confidence
// is the probability a limit has to be met with, at least LeastConfidence.
func Eval(rows []Row, facts Facts, confidence float64) []RowResult {
	return NewTable(rows).Eval(facts, confidence)
}

// Eval evaluates the table. The results are in the order of the rows.
func (t Table) Eval(facts Facts, confidence float64) []RowResult {
	conf := threshold(confidence)
	values := make([]Value, len(t.facts))
	for i, name := range t.facts {
		values[i] = facts[name]
	}
	out := make([]RowResult, len(t.rows))
	all := make([]CondResult, 0, t.conds)
	for i := range t.rows {
		r := &t.rows[i]
		from := len(all)
		for j := range r.Conds {
			all = append(all, r.Conds[j].eval(&values[t.index[i][j]], conf))
		}
		conds := all[from:len(all):len(all)]
		out[i] = RowResult{Row: r.ID, State: rowState(conds), Conds: conds}
	}
	return out
}

// rowState is the worst of the conditions: one that is not met settles the
// row, whatever else is missing; then unknown, then undecided.
func rowState(conds []CondResult) RowState {
	state := Applies
	for _, c := range conds {
		switch c.State {
		case NotMet:
			return DoesNotApply
		case CondUnknown:
			state = RowUnknown
		case CondUndecided:
			if state == Applies {
				state = RowUndecided
			}
		}
	}
	return state
}

// Eval evaluates one condition.
func (c Cond) Eval(v Value, confidence float64) CondResult {
	return c.eval(&v, threshold(confidence))
}

func (c *Cond) eval(v *Value, conf float64) CondResult {
	if !c.ok || !v.Known || v.Kind != c.Kind {
		return CondResult{}
	}
	met := false
	switch c.Kind {
	case Number:
		s, p := c.number(*v, conf)
		return CondResult{s, p}
	case Bool:
		met = v.Yes == c.Yes
	case Text, Set:
		met = c.words(v.Words)
	default:
		return CondResult{}
	}
	if met {
		return CondResult{Met, 1}
	}
	return CondResult{NotMet, 0}
}

func (c *Cond) words(have []string) bool {
	switch c.Op {
	case OneOf, AnyOf:
		return countIn(have, c.Words) > 0
	case NotOneOf, NoneOf:
		return countIn(have, c.Words) == 0
	case Only:
		return len(have) > 0 && countIn(have, c.Words) == len(have)
	case Includes:
		return countIn(c.Words, have) == len(c.Words)
	}
	return false
}

// countIn is how many of the words are in the list.
func countIn(words, list []string) int {
	n := 0
	for _, w := range words {
		for _, l := range list {
			if w == l {
				n++
				break
			}
		}
	}
	return n
}
