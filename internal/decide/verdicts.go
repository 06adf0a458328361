package decide

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Ready is the procedures of a body made ready for deciding many jobs. It is
// not changed by deciding, so it may be shared.
type Ready struct {
	body *body.Body
	sets []*Ruleset                  // in the order of the body's procedures
	defs map[*Ruleset][]body.FactDef // the facts each needs; nil: of no procedure
}

// NewReady makes the procedures of a body ready.
func NewReady(b *body.Body) *Ready {
	r := &Ready{body: b, defs: map[*Ruleset][]body.FactDef{nil: needed(nil)}}
	for _, p := range b.Procedures {
		rs := compileOn(b, p)
		r.sets, r.defs[rs] = append(r.sets, rs), needed(rs)
	}
	return r
}

// needed is the facts that deciding by a table takes: those it names, and those
// that the program looks at itself.
func needed(rs *Ruleset) []body.FactDef {
	return slices.DeleteFunc(body.FactDefs(), func(d body.FactDef) bool {
		return d.Name != body.FactOutboard && d.Name != body.FactZones && (rs == nil || !rs.Table.Names(d.Name))
	})
}

// FindingVerdict is the decision for one finding without its reasons.
type FindingVerdict struct {
	ID      job.FindingID   `json:"id"`
	Verdict Verdict         `json:"verdict"`
	Options []OptionVerdict `json:"options"` // mildest first
}

// OptionVerdict is the verdict on one treatment.
type OptionVerdict struct {
	Kind    body.TreatmentKind `json:"kind"`
	Line    body.LineID        `json:"line,omitempty"`
	Verdict Verdict            `json:"verdict"`
}

// Mildest is the mildest treatment that is allowed; false when none is.
func (f FindingVerdict) Mildest() (OptionVerdict, bool) {
	for _, o := range f.Options {
		if o.Verdict == Allowed {
			return o, true
		}
	}
	return OptionVerdict{}, false
}

// Verdicts decides every finding of a job as Run does, in the order of the
// job, without the reasons: for replaying many jobs, and for a first look.
// in.Body has to be the body that was made ready.
func (r *Ready) Verdicts(in Input) []FindingVerdict {
	sets := make([]*Ruleset, len(in.Body.Castings))
	for i, c := range in.Body.Castings {
		if ps := effective(in, c.ID); len(ps) > 0 {
			for k := range r.body.Procedures {
				if &r.body.Procedures[k] == ps[0] {
					sets[i] = r.sets[k]
				}
			}
		}
	}
	s := newScene(in)
	out := make([]FindingVerdict, 0, len(s.subjects))
	var q quick
	for _, sub := range s.subjects {
		var table []Option
		q.rs = rulesFor(in, sets, sub)
		facts := s.factValues(r.defs[q.rs], sub)
		if q.rs != nil {
			table = q.options(facts)
		}
		if len(in.Job.Answers) > 0 {
			answers, _ := s.validAnswers(sub.f.ID)
			table = s.applyAnswers(table, answers, s.withAnswers(sub, facts, answers))
		}
		f := FindingVerdict{ID: sub.f.ID, Verdict: Best(table), Options: make([]OptionVerdict, len(table))}
		for i, o := range table {
			f.Options[i] = OptionVerdict{o.Kind, o.Line, o.Verdict}
		}
		out = append(out, f)
	}
	return out
}

// quick evaluates a table for verdicts only. Its room is used again from one
// finding to the next.
type quick struct {
	rs    *Ruleset
	whole []rule.RowState
	alone [][]rule.RowState
	line  quickRoom
}

type quickRoom struct {
	whole []rule.RowState
	alone [][]rule.RowState
}

// look evaluates the table for all zones together and for each alone.
func (q *quick) look(facts rule.Facts, room quickRoom) quickRoom {
	room.whole = q.rs.Table.States(facts, q.rs.Confidence, room.whole)
	zones := eachZone(facts)
	room.alone = slices.Grow(room.alone[:0], len(zones))[:len(zones)]
	for i, z := range zones {
		room.alone[i] = q.rs.Table.States(facts.With(body.FactZones, rule.SetValue(z)), q.rs.Confidence, room.alone[i])
	}
	return room
}

func (q *quick) options(facts rule.Facts) []Option {
	room := q.look(facts, quickRoom{q.whole, q.alone})
	q.whole, q.alone = room.whole, room.alone
	out := make([]Option, 0, len(q.rs.kinds))
	for i := range q.rs.kinds {
		kr := &q.rs.kinds[i]
		v := q.verdict(kr, room)
		if kr.kind != body.SectionOff || v != Allowed {
			out = append(out, Option{Kind: kr.kind, Verdict: v})
			continue
		}
		out = append(out, q.section(kr, facts)...)
	}
	return out
}

// section is one option for each line, as sectionOptions makes them.
func (q *quick) section(kr *kindRows, facts rule.Facts) []Option {
	lines := facts[body.FactOutboard]
	switch {
	case !lines.Known:
		return []Option{{Kind: kr.kind, Verdict: Undecided}}
	case len(lines.Words) == 0:
		return []Option{{Kind: kr.kind, Verdict: Ask}}
	case len(lines.Words) == 1 && !has(facts, marginKey(lines.Words[0])):
		return []Option{{Kind: kr.kind, Verdict: Allowed, Line: body.LineID(lines.Words[0])}}
	}
	var out []Option
	for _, l := range lines.Words {
		q.line = q.look(forLine(facts, l), q.line)
		out = append(out, Option{Kind: kr.kind, Verdict: q.verdict(kr, q.line), Line: body.LineID(l)})
	}
	return out
}

func has(facts rule.Facts, name string) bool {
	_, ok := facts[name]
	return ok
}

// verdict is the strictest for the finding as a whole and each zone alone.
func (q *quick) verdict(kr *kindRows, room quickRoom) Verdict {
	worst := kr.verdict(room.whole)
	for _, states := range room.alone {
		if v := kr.verdict(states); v.strictness() > worst.strictness() {
			worst = v
		}
	}
	return worst
}

// say is what a row says about a kind of treatment.
type say struct{ Forbids, Asks, Permits bool }

// Says is what a row says about a kind. Straightening is allowed by a row that says whether it
// speaks of a casting, and by no other: it is never taken for granted there.
func Says(r body.Row, k body.TreatmentKind) say {
	asks := staysInVehicle(k)
	if r.AskFor != nil {
		asks = slices.Contains(r.AskFor, k)
	}
	_, says := r.When[body.FactOnCasting]
	permits := slices.Contains(r.Allow, k) && (k != body.Straighten || says)
	return say{slices.Contains(r.Forbid, k), r.Ask != "" && asks, permits}
}

// verdict is the order of ruleOnce: forbidding beats asking, asking beats
// doubt, doubt beats allowing; no row means ask.
func (kr *kindRows) verdict(states []rule.RowState) Verdict {
	var forbid, ask, permit, mayForbid, mayAsk, mayPermit bool
	for i, p := range kr.rows {
		s, state := kr.says[i], states[p]
		switch {
		case state == rule.Applies:
			forbid, ask, permit = forbid || s.Forbids, ask || s.Asks, permit || s.Permits
		case state.Open():
			mayForbid, mayAsk, mayPermit = mayForbid || s.Forbids, mayAsk || s.Asks, mayPermit || s.Permits
		}
	}
	switch {
	case forbid:
		return Forbidden
	case ask || (!permit && !mayPermit):
		return Ask
	case permit && !mayForbid && !mayAsk:
		return Allowed
	}
	return Undecided
}
