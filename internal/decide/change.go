package decide

import (
	"math"
	"slices"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// nothingSingle stands where no change of one fact is enough.
const nothingSingle = "no single fact would change it"

// changes is the nearest single facts that would give a milder treatment, and
// the answer of the manufacturer where nothing is allowed. Every suggestion
// has been evaluated: with that fact the table does allow the kind.
func (d *decider) changes(f Finding) []string {
	var out []string
	if d.rs != nil {
		for _, k := range d.wanted(f) {
			out = append(out, d.changesFor(k)...)
		}
		if len(out) == 0 && f.Verdict != Allowed {
			out = append(out, nothingSingle)
		}
	}
	if f.Verdict != Allowed && !d.current() {
		out = append(out, "an answer of the manufacturer")
	}
	return out
}

// wanted is the kinds that are not allowed and milder than the mildest that
// is, leaving out those an answer has settled.
func (d *decider) wanted(f Finding) []kindRows {
	var out []kindRows
	for _, o := range f.Options {
		if o.Verdict == Allowed {
			break
		}
		answered := slices.ContainsFunc(d.answers, func(a job.Answer) bool { return slices.Contains(a.Forbid, o.Kind) })
		if kr, ok := d.rs.findKind(o.Kind); ok && !answered && (len(out) == 0 || out[len(out)-1].kind != o.Kind) {
			out = append(out, kr)
		}
	}
	return out
}

func (d *decider) changesFor(kr kindRows) []string {
	out := d.changesWith(kr, d.view.facts)
	if len(out) > 0 {
		return out
	}
	// Nothing alone: try it together with one fact that is missing.
	for _, name := range d.factsOfRows(kr) {
		if d.view.facts[name].Known {
			continue
		}
		for _, t := range d.trialsOf(kr, name) {
			for _, s := range d.changesWith(kr, d.view.facts.With(name, t.value)) {
				out = append(out, s+", and find out "+body.Fact(name).InSentence()+": it has to be "+t.text+" ("+d.rs.toGet(name)+")")
			}
			if len(out) > 0 {
				return out
			}
		}
	}
	return nil
}

// changesWith is the single changes to the facts given that make the table
// allow the kind.
func (d *decider) changesWith(kr kindRows, facts rule.Facts) []string {
	var out []string
	if t := d.byTips(kr, facts); t != "" {
		out = append(out, t)
	}
	base := kr.table.Eval(facts, d.rs.Confidence)
	for _, name := range d.factsOfRows(kr) {
		v := facts[name]
		var t string
		switch {
		case !d.hangsOn(kr, base, name):
		case body.Fact(name).Fixed:
		case !v.Known:
			t = d.byKnowing(kr, facts, name)
		case v.Kind == rule.Number && v.Unit != "":
			t = d.byNumber(kr, facts, name)
		}
		if t != "" {
			out = append(out, t)
		}
	}
	if t := d.byPresence(kr, facts); t != "" {
		out = append(out, t)
	}
	return out
}

// hangsOn says that a change of one fact could be enough: some row that allows
// the kind is kept back by nothing else, and every row in the way looks at it.
func (d *decider) hangsOn(kr kindRows, base []rule.RowResult, name string) bool {
	permitted := false
	for i, r := range kr.table.Rows() {
		onlyThis, looksAt := true, false
		for j, c := range r.Conds {
			looksAt = looksAt || c.Fact == name
			onlyThis = onlyThis && (c.Fact == name || base[i].Conds[j].State == rule.Met)
		}
		row := d.rs.Proc.Rows[kr.rows[i]]
		blocks := slices.Contains(row.Forbid, kr.kind) || (row.Ask != "" && staysInVehicle(kr.kind))
		if blocks && base[i].State != rule.DoesNotApply && !looksAt {
			return false
		}
		permitted = permitted || (onlyThis && slices.Contains(row.Allow, kr.kind))
	}
	return permitted
}

// factsOfRows is the facts that the rows with a say look at, by name.
func (d *decider) factsOfRows(kr kindRows) []string {
	var out []string
	for _, r := range kr.table.Rows() {
		for _, c := range r.Conds {
			if c.Readable() && !slices.Contains(out, c.Fact) {
				out = append(out, c.Fact)
			}
		}
	}
	slices.Sort(out)
	return out
}

// byTips tries penetrant inspection of tips that were seen by eye only.
func (d *decider) byTips(kr kindRows, facts rule.Facts) string {
	v, add := facts[body.FactLength], d.sub.g.TipAddMM
	if !v.Known || add <= 0 || add > v.Number {
		return ""
	}
	shorter := v.At(v.Number - add)
	facts = facts.With(body.FactLength, shorter).With(body.FactTips, rule.TextValue(string(body.TipPenetrant)))
	if !d.rs.allows(kr, facts) {
		return ""
	}
	return string(kr.kind) + ": penetrant at both tips (the allowance of " + d.allowance(add) + " falls away)"
}

// allowance writes "2 × 3 mm" when it is that, otherwise the sum.
func (d *decider) allowance(add float64) string {
	tip := float64(d.rs.Proc.TipVisual)
	if tip > 0 {
		n := math.Round(add / tip)
		if n >= 1 && math.Abs(float64(n*tip)-add) < 1e-6 {
			return strconv.Itoa(int(n)) + " × " + mm(tip)
		}
	}
	return mm(add)
}

// byNumber tries the nearest values of a number, then a better measurement.
func (d *decider) byNumber(kr kindRows, facts rule.Facts, name string) string {
	text, v := "", facts[name]
	if c, f, ok := d.nearest(kr, facts, name); ok {
		text = string(kr.kind) + ": " + difference(name, f, v.Unit) + atThis(v) + " (" + body.Fact(name).BeforeValue() + " " + c.Shown(v) + ", limit " + limitOf(c, f) + ")"
	}
	if u := d.betterStd(kr, facts, name); u != "" {
		if text != "" {
			text += ", or "
		} else {
			text = string(kr.kind) + ": "
		}
		text += body.Fact(name).BeforeValue() + " " + u
	}
	return text
}
