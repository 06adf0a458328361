package decide

import (
	"strings"

	"fettle/internal/body"
	"fettle/internal/rule"
)

// view is the table evaluated for a finding: with all its zones, and with each
// zone alone when there are several.
type view struct {
	facts rule.Facts
	Whole []rule.RowResult
	alone []zoneView
}

type zoneView struct {
	zone  string
	facts rule.Facts
	rows  []rule.RowResult
}

// Look evaluates the whole table.
func (rs *Ruleset) Look(facts rule.Facts) view {
	v := view{facts: facts, Whole: rs.Table.Eval(facts, rs.Confidence)}
	for _, z := range eachZone(facts) {
		f := facts.With(body.FactZones, rule.SetValue(z))
		v.alone = append(v.alone, zoneView{z, f, rs.Table.Eval(f, rs.Confidence)})
	}
	return v
}

// eachZone is the zones of a finding that lies in more than one.
func eachZone(facts rule.Facts) []string {
	z := facts[body.FactZones]
	if !z.Known || len(z.Words) < 2 {
		return nil
	}
	return z.Words
}

// ruling is what the table says about one kind of treatment.
type ruling struct {
	verdict Verdict
	rows    []int // places of the rows that decided it
	because string
}

// ruleOn is the strictest of what the table says for the finding as a whole and
// for each of its zones alone.
func (rs *Ruleset) ruleOn(kr kindRows, v view) ruling {
	worst := rs.ruleOnce(kr, pick(v.Whole, kr.rows), v.facts)
	for _, z := range v.alone {
		r := rs.ruleOnce(kr, pick(z.rows, kr.rows), z.facts)
		if r.verdict.strictness() > worst.verdict.strictness() {
			r.because = "for its part in " + z.zone + ": " + r.because
			worst = r
		}
	}
	return worst
}

// allows says whether a kind would be allowed with other facts, evaluating
// only the rows that have a say.
func (rs *Ruleset) allows(kr kindRows, facts rule.Facts) bool {
	if kr.kind == body.SectionOff {
		for _, o := range rs.sectionOptions(kr, rs.Look(facts)) {
			if o.Verdict == Allowed {
				return true
			}
		}
		return false
	}
	if rs.ruleOnce(kr, kr.table.Eval(facts, rs.Confidence), facts).verdict != Allowed {
		return false
	}
	for _, z := range eachZone(facts) {
		f := facts.With(body.FactZones, rule.SetValue(z))
		if rs.ruleOnce(kr, kr.table.Eval(f, rs.Confidence), f).verdict != Allowed {
			return false
		}
	}
	return true
}

func pick(all []rule.RowResult, at []int) []rule.RowResult {
	out := make([]rule.RowResult, len(at))
	for i, p := range at {
		out[i] = all[p]
	}
	return out
}

// tally sorts the rows that speak of a kind by what they say and how they
// ended. Entries are places in kindRows.
type tally struct {
	forbids, asks, permits       []int // apply
	mayForbid, mayAsk, mayPermit []int // undecided or unknown
}

func (rs *Ruleset) tally(kr kindRows, results []rule.RowResult) tally {
	var t tally
	for i := range kr.rows {
		what, state := kr.says[i], results[i].State
		put := func(yes bool, applies, may *[]int) {
			switch {
			case !yes:
			case state == rule.Applies:
				*applies = append(*applies, i)
			case state.Open():
				*may = append(*may, i)
			}
		}
		put(what.Forbids, &t.forbids, &t.mayForbid)
		put(what.Asks, &t.asks, &t.mayAsk)
		put(what.Permits, &t.permits, &t.mayPermit)
	}
	return t
}

// ruleOnce is the heart of the decision. Forbidding beats asking, asking beats
// doubt, doubt beats allowing; no row means ask.
func (rs *Ruleset) ruleOnce(kr kindRows, results []rule.RowResult, facts rule.Facts) ruling {
	t := rs.tally(kr, results)
	doubt := func(at []int, before, after string) ruling {
		i := at[0]
		return ruling{Undecided, rs.places(kr, at), before + rs.name(kr.rows[i]) + after + rs.open(kr.rows[i], results[i], facts)}
	}
	switch {
	case len(t.forbids) > 0:
		return ruling{Forbidden, rs.places(kr, t.forbids), rs.names(kr, t.forbids) + forbidWord(t.forbids)}
	case len(t.asks) > 0:
		p := kr.rows[t.asks[0]]
		return ruling{Ask, rs.places(kr, t.asks), rs.name(p) + " asks the manufacturer: " + rs.Proc.Rows[p].Ask}
	case len(t.permits)+len(t.mayPermit) == 0:
		return ruling{Ask, nil, "no row permits it here"}
	case len(t.mayForbid) > 0:
		return doubt(t.mayForbid, "it is open whether ", " forbids it: ")
	case len(t.mayAsk) > 0:
		return doubt(t.mayAsk, "it is open whether ", " asks the manufacturer: ")
	case len(t.permits) > 0:
		return ruling{Allowed, rs.places(kr, t.permits), rs.names(kr, t.permits) + permitWord(t.permits)}
	}
	return doubt(t.mayPermit, "", " would permit it, but ")
}

func forbidWord(at []int) string {
	if len(at) > 1 {
		return " forbid it"
	}
	return " forbids it"
}

func permitWord(at []int) string {
	if len(at) > 1 {
		return " permit it"
	}
	return " permits it"
}

func (rs *Ruleset) places(kr kindRows, at []int) []int {
	out := make([]int, len(at))
	for i, a := range at {
		out[i] = kr.rows[a]
	}
	return out
}

func (rs *Ruleset) name(p int) string {
	return "row " + rs.Proc.Rows[p].ID + " (" + rs.Proc.Rows[p].Cite + ")"
}

func (rs *Ruleset) names(kr kindRows, at []int) string {
	s := make([]string, len(at))
	for i, a := range at {
		s[i] = rs.name(kr.rows[a])
	}
	return strings.Join(s, " and ")
}

// open says which facts keep a row from being settled, and what would.
func (rs *Ruleset) open(p int, r rule.RowResult, facts rule.Facts) string {
	var parts []string
	for i, c := range rs.Table.Rows()[p].Conds {
		switch r.Conds[i].State {
		case rule.CondUnknown:
			parts = append(parts, rs.missing(c))
		case rule.CondUndecided:
			v := facts[c.Fact]
			parts = append(parts, body.Fact(c.Fact).InSentence()+" "+c.Shown(v)+" is too uncertain for "+c.Text+" ("+c.Need(v, rs.Confidence).Text+")")
		}
	}
	return strings.Join(parts, "; ")
}

// missing says that a fact is not known and how to get it.
func (rs *Ruleset) missing(c rule.Cond) string {
	if !c.Readable() {
		return "the condition on " + c.Fact + " cannot be read"
	}
	return body.Fact(c.Fact).InSentence() + " is not known (" + rs.toGet(c.Fact) + ")"
}
