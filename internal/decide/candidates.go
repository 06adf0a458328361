package decide

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/rule"
)

type candidate struct {
	cond rule.Cond
	flip rule.Flip
}

// nearest is the smallest change of a number that makes the table allow the
// kind.
func (d *decider) nearest(kr kindRows, facts rule.Facts, name string) (rule.Cond, rule.Flip, bool) {
	v := facts[name]
	var cands []candidate
	for _, r := range kr.table.Rows() {
		for _, c := range r.Conds {
			if c.Fact != name {
				continue
			}
			for _, want := range []rule.CondState{rule.Met, rule.NotMet} {
				if f, ok := c.Nearest(v, d.rs.Confidence, want); ok && f.By != 0 {
					cands = append(cands, candidate{c, f})
				}
			}
		}
	}
	slices.SortStableFunc(cands, func(a, b candidate) int { return cmp.Compare(math.Abs(a.flip.By), math.Abs(b.flip.By)) })
	for _, c := range cands {
		at := c.flip.At + float64(math.Copysign(1e-6, c.flip.By))
		if (at >= 0 || body.Fact(name).Signed) && d.rs.allows(kr, facts.With(name, v.At(at))) {
			return c.cond, c.flip, true
		}
	}
	return rule.Cond{}, rule.Flip{}, false
}

// betterStd is the largest standard uncertainty with which the table allows
// the kind at the value as it is; empty when no measurement helps.
func (d *decider) betterStd(kr kindRows, facts rule.Facts, name string) string {
	v := facts[name]
	var stds []rule.Need
	for _, r := range kr.table.Rows() {
		for _, c := range r.Conds {
			if c.Fact != name {
				continue
			}
			if n := c.Need(v, d.rs.Confidence); n.Std > 0 {
				stds = append(stds, n)
			}
		}
	}
	slices.SortStableFunc(stds, func(a, b rule.Need) int { return cmp.Compare(b.Std, a.Std) })
	for _, n := range stds {
		if d.rs.allows(kr, facts.With(name, v.Within(n.Std))) {
			return rule.KnownTo(n.Std, v.Unit)
		}
	}
	return ""
}

// byKnowing tries the values that the rows name for a fact that is missing.
func (d *decider) byKnowing(kr kindRows, facts rule.Facts, name string) string {
	for _, t := range d.trialsOf(kr, name) {
		if d.rs.allows(kr, facts.With(name, t.value)) {
			return string(kr.kind) + ": find out " + body.Fact(name).InSentence() + "; if " + t.text + ", it is allowed (" + d.rs.toGet(name) + ")"
		}
	}
	return ""
}

// trialsOf is the values of a fact that the rows with a say tell apart.
func (d *decider) trialsOf(kr kindRows, name string) []trial {
	var out []trial
	for _, r := range kr.table.Rows() {
		for _, c := range r.Conds {
			if c.Fact != name {
				continue
			}
			for _, t := range trials(c) {
				if !slices.ContainsFunc(out, func(o trial) bool { return o.text == t.text }) {
					out = append(out, t)
				}
			}
		}
	}
	return out
}

type trial struct {
	value rule.Value
	text  string
}

// trials is values that meet and that miss a condition.
func trials(c rule.Cond) []trial {
	switch c.Kind {
	case rule.Bool:
		return []trial{{rule.BoolValue(c.Yes), rule.BoolValue(c.Yes).String()}, {rule.BoolValue(!c.Yes), rule.BoolValue(!c.Yes).String()}}
	case rule.Text:
		var out []trial
		for _, w := range c.Words {
			out = append(out, trial{rule.TextValue(w), w})
		}
		return append(out, trial{rule.TextValue("anything-else"), "none of these: " + rule.SetValue(c.Words...).String()})
	case rule.Number:
		var out []trial
		for _, want := range []rule.CondState{rule.Met, rule.NotMet} {
			if v, ok := example(c, want); ok {
				out = append(out, trial{v, exampleText(c, want)})
			}
		}
		return out
	}
	return nil
}

// example is an exact number that meets, or misses, a condition.
func example(c rule.Cond, want rule.CondState) (rule.Value, bool) {
	for _, b := range []rule.Bound{c.Low, c.High} {
		if !b.Set {
			continue
		}
		for _, at := range []float64{b.At, b.At - 1, b.At + 1} {
			v := rule.NumberValue(at, 0, c.Unit)
			if at >= 0 && c.Eval(v, rule.LeastConfidence).State == want {
				return v, true
			}
		}
	}
	return rule.Value{}, false
}

func exampleText(c rule.Cond, want rule.CondState) string {
	if want == rule.Met {
		return c.Text
	}
	return "not " + c.Text
}

// presence is something that the shop could have and has not.
type presence struct{ fact, word string }

// byPresence tries equipment and qualifications that the rows name and the shop
// has not: one of them, then all together.
func (d *decider) byPresence(kr kindRows, facts rule.Facts) string {
	var absent []presence
	for _, r := range kr.table.Rows() {
		for _, c := range r.Conds {
			if !body.Fact(c.Fact).Open {
				continue
			}
			for _, w := range c.Words {
				p := presence{c.Fact, w}
				if !slices.Contains(facts[c.Fact].Words, w) && !slices.Contains(absent, p) {
					absent = append(absent, p)
				}
			}
		}
	}
	for _, p := range absent {
		if d.rs.allows(kr, withPresent(facts, p)) {
			return string(kr.kind) + ": " + p.word + " present"
		}
	}
	if len(absent) > 1 && d.rs.allows(kr, withPresent(facts, absent...)) {
		var words []string
		for _, p := range absent {
			words = append(words, p.word)
		}
		return string(kr.kind) + ": " + strings.Join(words, " and ") + " present"
	}
	return ""
}

func withPresent(facts rule.Facts, add ...presence) rule.Facts {
	for _, p := range add {
		facts = facts.With(p.fact, rule.SetValue(append(slices.Clone(facts[p.fact].Words), p.word)...))
	}
	return facts
}

// difference is "3.8 mm shorter", rounded so that it still holds.
func difference(name string, f rule.Flip, unitName string) string {
	by := math.Ceil(float64(math.Abs(f.By)*10)-1e-6) / 10
	text := rule.NumberValue(by, 0, unitName).String() + " " + body.Fact(name).MoreOrLess(f.By > 0)
	if f.Beyond {
		return "more than " + text
	}
	return text
}

// atThis reminds of the uncertainty that a difference leaves room for.
func atThis(v rule.Value) string {
	if v.Std == 0 {
		return ""
	}
	return " at this uncertainty"
}

// limitOf is the limit that a change would cross.
func limitOf(c rule.Cond, f rule.Flip) string {
	at := c.Low
	if !at.Set || (c.High.Set && math.Abs(c.High.At-f.At) < math.Abs(c.Low.At-f.At)) {
		at = c.High
	}
	return rule.NumberValue(at.At, 0, c.Unit).String()
}
