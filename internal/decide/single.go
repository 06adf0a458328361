package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// Single is one question about one spot, asked of a procedure alone. There is no vehicle
// and no job: what is not said is not known.
type Single struct {
	Procedure  body.Procedure
	Confidence float64   // that a limit has to be met with; the least one allowed unless larger
	Said       []Said    // what is known of the spot
	On         unit.Date // the day it is asked for
}

// Ruled is what a procedure says to a single question.
type Ruled struct {
	Procedure body.ProcedureID `json:"procedure"`
	Title     string           `json:"title"`
	Revision  string           `json:"revision"`
	Source    string           `json:"source"`
	Effective unit.Date        `json:"effective"`
	Recheck   unit.Date        `json:"recheckBefore"`
	On        unit.Date        `json:"askedFor"`
	Barred    string           `json:"barred,omitempty"` // why the revision permits nothing on that day

	Facts    []Fact    `json:"facts"`   // that are known, as they were said, and what follows from them
	Missing  []Missing `json:"missing"` // that rows look at which may yet decide
	Verdict  Verdict   `json:"verdict"` // best of the options
	Options  []Option  `json:"options"` // every treatment a row speaks of, mildest first
	Change   []string  `json:"wouldChange,omitempty"`
	Cautions []string  `json:"cautions,omitempty"` // what an answer without a vehicle cannot see
}

// Permits says that some treatment is allowed.
func (r Ruled) Permits() bool { return r.Verdict == Allowed }

// Missing is a fact that is not known, and the treatments that hang on it.
type Missing struct {
	Name  string               `json:"name"`
	Means string               `json:"means"`
	For   []body.TreatmentKind `json:"for"`
}

// Rule answers a single question. What was said wrongly is told all at once.
func (q Single) Rule() (Ruled, error) {
	rs, facts, list, add, err := q.known()
	if err != nil {
		return Ruled{}, err
	}
	p := &rs.Proc
	out := Ruled{Procedure: p.ID, Title: p.Title, Revision: p.Revision, Source: p.Source, Effective: p.Effective, Recheck: p.Recheck, On: q.On,
		Barred: barred(p, q.On), Facts: list, Missing: []Missing{}}
	d := decider{scene: &scene{}, sub: &subject{}, rs: rs, view: rs.Look(facts)}
	d.sub.g.TipAddMM = add
	out.Options = rs.Options(d.view)
	out.Missing = append(out.Missing, rs.missingFor(out.Options, d.view)...)
	if out.Barred != "" {
		for i := range out.Options {
			if o := &out.Options[i]; o.Verdict == Allowed {
				o.Verdict, o.Because = Undecided, out.Barred+"; "+o.Because
			}
		}
	}
	out.Verdict = Best(out.Options)
	if out.Barred == "" {
		out.Change = slices.DeleteFunc(d.changes(Finding{Verdict: out.Verdict, Options: out.Options}), func(s string) bool { return s == nothingSingle })
	}
	out.Cautions = q.cautions(out)
	return out, nil
}

// barred is why a revision permits nothing on a day; empty when it may.
func barred(p *body.Procedure, on unit.Date) string {
	switch {
	case on.IsZero():
		return "it is not said for which day"
	case p.Effective.IsZero() || on.Before(p.Effective):
		return Title(p) + " takes effect on " + p.Effective.String() + " only"
	case !on.Before(p.Recheck):
		return Title(p) + " had to be looked up again before " + p.Recheck.String()
	}
	return ""
}

// cautions is what the answer rests on that nothing here can look at.
func (q Single) cautions(r Ruled) []string {
	out := []string{"Nobody looked up here whether revision " + r.Revision + " is the current one."}
	if r.Verdict != Allowed {
		return out
	}
	out = append(out, "It holds for this one spot as it was described. A job holds the whole casting against the procedure: what else is cracked, moved, inspected or was repaired before.")
	if slices.ContainsFunc(r.Facts, func(f Fact) bool { return f.Name == body.FactTips && f.Value == string(body.TipPenetrant) }) {
		out = append(out, "A tip counts as found with penetrant only where that inspection was within the bounds of the procedure.")
	}
	return out
}

// missingFor is the facts that are not known and that a treatment which is undecided hangs
// on, in the order of the vocabulary.
func (rs *Ruleset) missingFor(options []Option, v view) []Missing {
	hang := map[string][]body.TreatmentKind{}
	put := func(name string, k body.TreatmentKind) {
		if !slices.Contains(hang[name], k) {
			hang[name] = append(hang[name], k)
		}
	}
	for _, o := range options {
		kr, ok := rs.findKind(o.Kind)
		if o.Verdict != Undecided || !ok {
			continue
		}
		for _, c := range rs.openConds(kr, v) {
			put(c.Fact, o.Kind)
		}
		if lines := v.facts[body.FactOutboard]; o.Kind == body.SectionOff && !lines.Known {
			put(body.FactOutboard, o.Kind)
		}
	}
	var out []Missing
	for _, d := range body.FactDefs() {
		kinds, means := hang[d.Name], d.Help
		if d.Name == body.FactLength {
			means = "length along the surface, measured from tip to tip"
		}
		if len(kinds) > 0 && !v.facts[d.Name].Known { // what is known from one side hangs on others
			out = append(out, Missing{d.Name, means, kinds})
		}
	}
	return out
}

// openConds is the conditions on facts that are missing, of the rows about a kind that may
// yet apply: for the spot as a whole or for its part in one zone.
func (rs *Ruleset) openConds(kr kindRows, v view) []rule.Cond {
	var out []rule.Cond
	collect := func(results []rule.RowResult) {
		for _, p := range kr.rows {
			if !results[p].State.Open() {
				continue
			}
			for i, c := range rs.Table.Rows()[p].Conds {
				if results[p].Conds[i].State == rule.CondUnknown && c.Readable() {
					out = append(out, c)
				}
			}
		}
	}
	collect(v.Whole)
	for _, z := range v.alone {
		collect(z.rows)
	}
	return out
}

// known is the facts that were said, with what follows from them, and the allowance for tips
// in the length [mm].
func (q Single) known() (*Ruleset, rule.Facts, []Fact, float64, error) {
	rs := Compile(q.Procedure, q.Confidence)
	rs.getBy = func(fact string) string { return "say " + fact + "=..." }
	s := saying{rs: rs, facts: rule.Facts{}, from: map[string]string{}}
	s.read(q.Said)
	s.rightful()
	add := s.decisionLength()
	if _, said := s.facts[body.FactOnCasting]; !said && len(s.problems) == 0 {
		s.put(body.FactOnCasting, rule.BoolValue(true), "taken so: the procedure speaks of its casting")
	}
	return rs, s.facts, s.list(), add, diag.Problems(s.problems).OrNil()
}

// wordsNamed is every word that the rows name in conditions on a fact.
func (rs *Ruleset) wordsNamed(fact string) []string {
	var out []string
	for _, r := range rs.Table.Rows() {
		for _, c := range r.Conds {
			if c.Fact == fact && c.Readable() {
				out = append(out, MissingFrom(c.Words, out)...)
			}
		}
	}
	slices.SortFunc(out, strings.Compare)
	return out
}
