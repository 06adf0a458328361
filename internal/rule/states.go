package rule

import "fettle/internal/normal"

// maxFast is the most different words a table may name for States to compare
// them as bits; a larger table compares the words themselves.
const maxFast = 64

// fastCond is a condition made ready for States.
type fastCond struct {
	at   int // place of the fact
	cond *Cond
	bits uint64 // its words, when the table's words fit
}

// fastRows makes the conditions ready: sets come first, which tell most rows
// apart, and numbers last, which cost most, because a row is settled by the
// first condition that is not met.
func (t *Table) fastRows() {
	words := map[string]int{}
	for i := range t.rows {
		for _, c := range t.rows[i].Conds {
			for _, w := range c.Words {
				if _, ok := words[w]; !ok {
					words[w] = len(words)
				}
			}
		}
	}
	t.asBits = len(words) <= maxFast
	t.words = words
	t.fast = make([][]fastCond, len(t.rows))
	all := make([]fastCond, 0, t.conds)
	for i := range t.rows {
		from := len(all)
		for _, kind := range [...]Kind{Set, Text, Bool, Number} {
			for j := range t.rows[i].Conds {
				if c := &t.rows[i].Conds[j]; c.Kind == kind {
					all = append(all, fastCond{t.index[i][j], c, t.bitsOf(c.Words)})
				}
			}
		}
		t.fast[i] = all[from:len(all):len(all)]
	}
}

func (t *Table) bitsOf(words []string) uint64 {
	var bits uint64
	if t.asBits {
		for _, w := range words {
			if n, ok := t.words[w]; ok {
				bits |= 1 << n
			}
		}
	}
	return bits
}

// fastValue is a fact made ready for States.
type fastValue struct {
	v     Value
	bits  uint64
	other bool // it has words that no condition names
}

// States is how every row ends and nothing else: the same states as Eval
// gives, without the conditions' results. A row stops at its first condition
// that is not met, since nothing can undo that. out is used again when it is
// large enough.
func (t Table) States(facts Facts, confidence float64, out []RowState) []RowState {
	conf := threshold(confidence)
	screen := float64(normal.Quantile(conf)*screenWidth) + screenMargin
	values := make([]fastValue, len(t.facts))
	for i, name := range t.facts {
		v := facts[name]
		values[i] = fastValue{v: v, bits: t.bitsOf(v.Words)}
		for _, w := range v.Words {
			if _, named := t.words[w]; !named {
				values[i].other = true
			}
		}
	}
	if cap(out) < len(t.rows) {
		out = make([]RowState, len(t.rows))
	}
	out = out[:len(t.rows)]
	for i, conds := range t.fast {
		state := Applies
	row:
		for j := range conds {
			switch conds[j].state(&values[conds[j].at], conf, screen, t.asBits) {
			case NotMet:
				state = DoesNotApply
				break row
			case CondUnknown:
				state = RowUnknown
			case CondUndecided:
				if state == Applies {
					state = RowUndecided
				}
			}
		}
		out[i] = state
	}
	return out
}

func (f *fastCond) state(v *fastValue, conf, screen float64, asBits bool) CondState {
	c := f.cond
	if !c.ok || !v.v.Known || v.v.Kind != c.Kind {
		return CondUnknown
	}
	if c.Kind == Number {
		return c.numberState(&v.v, conf, screen)
	}
	if c.Kind == Bool {
		return metIf(v.v.Yes == c.Yes)
	}
	if !asBits {
		return metIf(c.words(v.v.Words))
	}
	switch c.Op {
	case OneOf, AnyOf:
		return metIf(v.bits&f.bits != 0)
	case NotOneOf, NoneOf:
		return metIf(v.bits&f.bits == 0)
	case Only:
		return metIf(len(v.v.Words) > 0 && !v.other && v.bits&^f.bits == 0)
	case Includes:
		return metIf(f.bits&^v.bits == 0)
	}
	return CondUnknown
}

func metIf(yes bool) CondState {
	if yes {
		return Met
	}
	return NotMet
}

// A single limit farther away than a little more than z standard
// uncertainties is decided without computing the probability. The width and
// the margin keep rounding out of it: what is nearer is computed.
const (
	screenWidth  = 1.001
	screenMargin = 1e-6
)

// numberState is number without the probability.
func (c *Cond) numberState(v *Value, conf, screen float64) CondState {
	if v.Pick != Single || v.Maybe {
		s, _ := c.ofMany(*v, conf)
		return s
	}
	if v.Std == 0 {
		return metIf(c.meets(v.Number))
	}
	if c.Low.Set != c.High.Set {
		d := c.High.At - v.Number
		if c.Low.Set {
			d = v.Number - c.Low.At
		}
		switch far := float64(screen * v.Std); {
		case d > far:
			return Met
		case d < -far:
			return NotMet
		}
	}
	s, _ := c.number(*v, conf)
	return s
}
