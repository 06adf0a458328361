package decide

import (
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// chosen is the procedure used for a casting; proc is nil when there is none.
type chosen struct {
	InForce
	proc *body.Procedure
}

// inForce picks the procedure of every casting, in the order of the body.
func inForce(in Input) ([]chosen, []diag.Note) {
	var out []chosen
	var notes []diag.Note
	for _, c := range in.Body.Castings {
		ch, ns := forCasting(in, c.ID)
		out = append(out, ch)
		notes = append(notes, ns...)
	}
	return out, notes
}

// forCasting picks the revision that took effect last, today included.
func forCasting(in Input, c body.CastingID) (chosen, []diag.Note) {
	ps := effective(in, c)
	if len(ps) == 0 {
		why := diag.Say("decide.no-procedure", "no procedure of the body is in effect for casting {casting}", c)
		ch := chosen{InForce: InForce{Casting: c, Expired: true, Unchecked: true, Why: why.Text}}
		return ch, []diag.Note{blocks(string(c), why, "get the manufacturer's current procedure", "")}
	}
	p := ps[0]
	ch := chosen{proc: p, InForce: InForce{Casting: c, Procedure: p.ID, Title: p.Title, Revision: p.Revision, Effective: p.Effective, Recheck: p.Recheck}}
	var notes []diag.Note
	if rival := rivalOf(p, ps[1:]); rival.Text != "" {
		notes = append(notes, blocks(string(c), rival, "say in the body's procedures which one supersedes which", p.Source))
	}
	return ch, append(notes, ch.validity(in)...)
}

// effective is the procedures of a casting that are in effect, the one to be
// used first.
func effective(in Input, c body.CastingID) []*body.Procedure {
	var out []*body.Procedure
	for i := range in.Body.Procedures {
		p := &in.Body.Procedures[i]
		if p.Casting == c && !p.Effective.IsZero() && !in.Today.Before(p.Effective) {
			out = append(out, p)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return before(out[j], out[i]) })
	return out
}

// before orders by the day of effect; on the same day the one superseded comes
// first, then by issue and name so that the order of files does not matter.
func before(a, b *body.Procedure) bool {
	switch {
	case a.Effective != b.Effective:
		return a.Effective.Before(b.Effective)
	case replaces(b, a) != replaces(a, b):
		return replaces(b, a)
	case a.Issued != b.Issued:
		return a.Issued.Before(b.Issued)
	case a.ID != b.ID:
		return a.ID < b.ID
	}
	return a.Revision < b.Revision
}

// replaces says that a names b as the revision it takes the place of.
func replaces(a, b *body.Procedure) bool {
	return a.ID == b.ID && a.Supersedes != "" && a.Supersedes == b.Revision
}

// rivalOf says why the choice is not clear: another procedure of the same day
// that is not superseded, or one under another name.
func rivalOf(p *body.Procedure, rest []*body.Procedure) diag.Said {
	for _, o := range rest {
		switch {
		case o.ID != p.ID:
			return diag.Say("decide.procedure-ambiguous", "casting {casting} has two procedures in effect, {used} and {other}; only the first was used", p.Casting, Title(p), Title(o))
		case o.Effective == p.Effective && !replaces(p, o):
			return diag.Say("decide.procedure-ambiguous", "{procedure} and {same-day} took effect on the same day", Title(p), Title(o))
		}
	}
	return diag.Said{}
}

func Title(p *body.Procedure) string { return string(p.ID) + " revision " + p.Revision }

// lookUp is what every note about a revision begins with.
const lookUp = "check the current revision: "

// validity fills in whether the revision may still be used for a release. A
// procedure that may not is used for sight only.
func (ch *chosen) validity(in Input) []diag.Note {
	p, name := ch.proc, Title(ch.proc)
	var notes []diag.Note
	block := func(said diag.Said) {
		if ch.Why != "" {
			ch.Why += "; "
		}
		ch.Why += strings.TrimPrefix(said.Text, lookUp)
		notes = append(notes, blocks(string(ch.Casting), said, "look up the manufacturer's current revision and record the check", p.Source))
	}
	if !in.Today.Before(p.Recheck) {
		ch.Expired = true
		block(diag.Say("decide.procedure-expired", lookUp+"{procedure} had to be looked up again before {recheck}", name, p.Recheck))
	}
	last, of := lastCheck(in, p)
	ch.CheckedOn = of
	switch {
	case last != nil && last.Revision != p.Revision:
		ch.Unchecked = true
		block(diag.Say("decide.revision-unchecked", lookUp+"on {on} revision {found} was found to be the current one, the body has revision {revision}", last.On, last.Revision, p.Revision))
	case of.IsZero() || of.Before(p.Effective):
		ch.Unchecked = true
		block(diag.Say("decide.revision-unchecked", lookUp+"nobody has looked up whether {procedure} is the current revision since it took effect on {effective}", name, p.Effective))
	}
	return notes
}

// lastCheck is the last look-up of the procedure up to today, and the day of
// the last one that found exactly this revision. Of two on the same day the
// one that found another revision counts.
func lastCheck(in Input, p *body.Procedure) (*job.Check, unit.Date) {
	var last *job.Check
	var of unit.Date
	for i := range in.Job.Checks {
		c := &in.Job.Checks[i]
		if c.Procedure != p.ID || in.Today.Before(c.On) {
			continue
		}
		if c.Revision == p.Revision && of.Before(c.On) && in.Job.Stands(job.Act{By: c.By, On: c.On}, in.Shop, in.Today) {
			of = c.On
		}
		if last == nil || last.On.Before(c.On) || (last.On == c.On && c.Revision != p.Revision) {
			last = c
		}
	}
	return last, of
}

func blocks(where string, said diag.Said, hint, source string) diag.Note {
	return said.Note(diag.Note{Severity: diag.Blocking, Where: where, Hint: hint, Source: source})
}
