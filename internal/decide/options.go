package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/rule"
)

// Options is every kind any row speaks of, mildest first.
func (rs *Ruleset) Options(v view) []Option {
	var out []Option
	for _, kr := range rs.kinds {
		if kr.kind == body.SectionOff {
			out = append(out, rs.sectionOptions(kr, v)...)
			continue
		}
		out = append(out, rs.option(kr.kind, rs.ruleOn(kr, v)))
	}
	return out
}

func (rs *Ruleset) option(k body.TreatmentKind, r ruling) Option {
	o := Option{Kind: k, Verdict: r.verdict, Because: r.because, Rows: []string{}}
	var cites []string
	for _, p := range r.rows {
		row := rs.Proc.Rows[p]
		o.Rows = append(o.Rows, row.ID)
		if row.Cite != "" && !slices.Contains(cites, row.Cite) {
			cites = append(cites, row.Cite)
		}
		if slices.Contains(row.Allow, k) {
			o.Manner = append(o.Manner, MissingFrom(row.With.Words(rs.body), o.Manner)...)
			o.After = append(o.After, MissingFrom(afterTexts(row.After), o.After)...)
		}
	}
	o.Cite = strings.Join(cites, "; ")
	return o
}

// sectionOptions is one option per section line that the finding lies outboard
// of, when the table permits sectioning; each line has to be permitted when it
// is looked at alone. Without such a line there is nothing to cut along.
func (rs *Ruleset) sectionOptions(kr kindRows, v view) []Option {
	whole := rs.option(kr.kind, rs.ruleOn(kr, v))
	lines := v.facts[body.FactOutboard]
	switch {
	case whole.Verdict != Allowed:
		return []Option{whole}
	case !lines.Known:
		whole.Verdict = Undecided
		whole.Because += ", but " + body.Fact(body.FactOutboard).InSentence() + " is not known (" + rs.toGet(body.FactOutboard) + ")"
		return []Option{whole}
	case len(lines.Words) == 0:
		whole.Verdict = Ask
		whole.Because += ", but the finding does not lie outboard of any section line by its margin"
		return []Option{whole}
	}
	var out []Option
	for _, l := range lines.Words {
		o := rs.option(kr.kind, rs.ruleOn(kr, rs.Look(forLine(v.facts, l))))
		o.Line = body.LineID(l)
		out = append(out, o)
	}
	return out
}

// Best is the verdict of a finding from its options.
func Best(options []Option) Verdict {
	has := func(v Verdict) bool {
		return slices.ContainsFunc(options, func(o Option) bool { return o.Verdict == v })
	}
	switch {
	case has(Allowed):
		return Allowed
	case has(Undecided):
		return Undecided
	case everyKindForbidden(options):
		return Forbidden
	}
	return Ask
}

func everyKindForbidden(options []Option) bool {
	for _, k := range body.TreatmentKinds() {
		if k == body.ReplacePart && !slices.ContainsFunc(options, func(o Option) bool { return o.Kind == k }) {
			continue // no row speaks of it: on a casting there is nothing to forbid
		}
		forbidden := slices.ContainsFunc(options, func(o Option) bool { return o.Kind == k && o.Verdict == Forbidden })
		if !forbidden {
			return false
		}
	}
	return true
}

// rowResults is every row with every condition, as people read it.
func (rs *Ruleset) rowResults(v view) []RowResult {
	out := make([]RowResult, len(v.Whole))
	for i, r := range v.Whole {
		row := rs.Proc.Rows[i]
		out[i] = RowResult{Row: row.ID, Cite: row.Cite, State: RowState(r.State.String()), Effect: Effect(row), Conds: rs.condResults(i, r, v.facts)}
	}
	return out
}

func (rs *Ruleset) condResults(p int, r rule.RowResult, facts rule.Facts) []CondResult {
	conds := rs.Table.Rows()[p].Conds
	out := make([]CondResult, len(conds))
	for i, c := range conds {
		v := facts[c.Fact]
		res := CondResult{Fact: c.Fact, Text: c.Text, Value: c.Shown(v), State: CondState(r.Conds[i].State.String()), Prob: r.Conds[i].Prob}
		switch r.Conds[i].State {
		case rule.CondUndecided:
			res.Need = c.Need(v, rs.Confidence).Text
		case rule.CondUnknown:
			res.Need = rs.toGet(c.Fact)
		}
		if rs.implied[p] && i == len(conds)-1 {
			res.Text += " (the row does not say otherwise)"
		}
		out[i] = res
	}
	return out
}
