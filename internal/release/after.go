package release

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// afterwards wants the inspections that the rows ask for which allow the
// treatment, and the conditions of the answer that does.
func (r *gate) afterwards(p body.Procedure, f job.Finding, c Chosen) {
	o, _ := r.option(c)
	for _, row := range r.rowsOf(p, c) {
		for _, a := range row.After {
			switch {
			case a.What == "" && len(r.moments(p, c, a.Method)) > 1:
				r.inspectedAt(p, c, a, row.Cite)
			case a.What != "" || !r.accepts(p, f, c, a.Method):
				r.inspected(p, c, a, row.Cite)
			}
		}
	}
	for _, a := range r.in.Job.Answers {
		if a.ID == o.Answer && a.Conditions != "" && !r.lookedFor(c, a.Conditions) && r.onceOf(c, "condition", a.ID, a.Conditions) {
			r.wanting(Missing{Where: string(f.ID), Text: "that the condition of answer " + a.ID + " is met is not on record: " + a.Conditions,
				Hint: "enter a record of what was seen, with these words under 'what'", Cite: decide.CiteOf(a)}, Wanted{Entry: WantSeen, Finding: f.ID, Serves: r.alike(c), What: a.Conditions, Must: "met, as answer " + a.ID + " asks" + r.serves(c)})
		}
	}
}

// rowsOf is the rows that allow a treatment.
func (r *gate) rowsOf(p body.Procedure, c Chosen) []body.Row {
	o, _ := r.option(c)
	var out []body.Row
	for _, row := range p.Rows {
		if slices.Contains(o.Rows, row.ID) && slices.Contains(row.Allow, c.Kind) {
			out = append(out, row)
		}
	}
	return out
}

// moments is the points of the work at which rows ask for an inspection of one method, of
// all findings of a piece of work. At several it is as many inspections, and no record of
// one shows another.
func (r *gate) moments(p body.Procedure, c Chosen, method body.ProofKind) []string {
	var out []string
	for _, id := range r.alike(c) {
		o := c
		o.Finding = id
		for _, row := range r.rowsOf(p, o) {
			for _, a := range row.After {
				if a.Method == method && a.What == "" && a.Method != body.ShowDimensions && !slices.Contains(out, a.When) {
					out = append(out, a.When)
				}
			}
		}
	}
	return out
}

// inspectedAt wants an inspection that is asked for at several points of the work: a record
// that says at which ('what'). It need not have been after the last step.
func (r *gate) inspectedAt(p body.Procedure, c Chosen, a body.After, cite string) {
	if !r.onceOf(c, "at", string(a.Method), a.When) {
		return
	}
	xs := r.ofPiece(c, nil, func(x job.Record) bool { return x.Show == a.Method && x.What == a.When })
	if len(xs) == 0 {
		must := a.String() + r.serves(c)
		wants := []Wanted{{Entry: WantSeen, Finding: c.Finding, Serves: r.alike(c), What: a.When, Must: must}}
		if a.Method == body.ShowPenetrant {
			wants = penetrantWanted(c.Finding, r.alike(c), a.When, must)
		}
		r.wanting(Missing{Where: string(c.Finding), Text: "not on record: " + a.String(), Hint: "inspect, and enter the record with the words \"" + a.When + "\" under 'what'", Cite: cite}, wants...)
	}
	for _, x := range xs {
		r.proven(string(x.Finding), x, nil, r.acceptedMarks(r.alike(c)), false)
		switch {
		case a.Method == body.ShowPenetrant:
			r.conditions(p, x.Finding, x, cite)
			r.toLevels(p, c, x, cite)
		case !x.Met:
			r.missing(string(x.Finding), "it is not met (record "+x.ID+"): "+a.String(), "repair again, or ask the manufacturer", cite)
		}
	}
}

// toLevels judges what was indicated by the levels that 'acceptance' has for the treatment;
// without one only that nothing was indicated needs none.
func (r *gate) toLevels(p body.Procedure, c Chosen, x job.Record, cite string) {
	judged := x.None
	for _, a := range p.Acceptance {
		level, ok := p.Level(a.Level)
		if ok && a.Show == body.ShowPenetrant && slices.Contains(a.For, c.Kind) && r.touches(x.Finding, a.Zones) {
			r.toLevel(level, a, x)
			judged = true
		}
	}
	if !judged {
		r.missing(string(x.Finding), "undecided (record "+x.ID+"): something was indicated, and the procedure gives no level for it after "+decide.OptionName(c.Kind, c.Line), "ask the manufacturer", cite)
	}
}

// accepts says that 'acceptance' asks for the same method already.
func (r *gate) accepts(p body.Procedure, f job.Finding, c Chosen, method body.ProofKind) bool {
	return slices.ContainsFunc(p.Acceptance, func(a body.Acceptance) bool {
		return a.Show == method && slices.Contains(a.For, c.Kind) && r.touches(f.ID, a.Zones)
	})
}

// inspected wants one inspection of a row.
func (r *gate) inspected(p body.Procedure, c Chosen, a body.After, cite string) {
	switch {
	case a.Method == body.ShowDimensions:
		r.onceFor(body.Acceptance{Show: body.ShowDimensions}, func() { r.dimensions(body.Acceptance{Cite: cite}) })
		return
	case a.Method == body.ShowPenetrant && r.recorded(c, body.ShowPenetrant):
		r.withoutLevel(p, c, cite)
		return
	case a.Method == body.ShowVisual && a.What == "" && r.recorded(c, body.ShowVisual):
		return
	case a.Method == body.ShowVisual && a.What != "" && r.lookedFor(c, a.What):
		return
	}
	if !r.onceOf(c, "after", a.String()) {
		return
	}
	hint := "inspect, and enter the record"
	if a.What != "" {
		hint = "enter a record of what was seen, with the words \"" + a.What + "\" under 'what'"
	}
	wants := []Wanted{{Entry: WantSeen, Finding: c.Finding, Serves: r.alike(c), What: a.What, Must: a.String() + r.serves(c)}}
	if a.Method == body.ShowPenetrant {
		wants = penetrantWanted(c.Finding, r.alike(c), "", a.String()+r.serves(c))
	}
	r.wanting(Missing{Where: string(c.Finding), Text: "not on record: " + a.String(), Hint: hint, Cite: cite}, wants...)
}

// holds wants every hold point of the plan to have been passed: after the step was
// done, before anyone went on, and by a second person where one is asked for.
func (r *gate) holds() {
	for i := range r.in.Steps {
		s := &r.in.Steps[i]
		if s.Hold == "" {
			continue
		}
		where := first(s.For)
		if x, ok := r.last(func(x job.Record) bool { return x.Show == body.ShowHold && r.either(*s, x.Step, x.Finding) }); ok && r.first("hold", x.ID) {
			r.missing(where, fmt.Sprintf("nobody can tell of which step the hold point in record %s is: several are called %q", x.ID, x.Step), job.NameByRef, "")
		}
		x, ok := r.last(func(x job.Record) bool { return x.Show == body.ShowHold && r.names(*s, x.Step, x.Finding) })
		if !ok {
			r.wanting(Missing{Where: where, Text: "nobody has passed the hold point of \"" + s.Name + "\": " + s.Hold, Hint: "enter a record with 'show: hold' and the name of the step"},
				Wanted{Entry: WantHold, About: called(r.in.Steps, *s), Finding: job.FindingID(where), Serves: s.For, Must: s.Hold})
			continue
		}
		if !x.Met {
			r.missing(where, "the hold point of \""+s.Name+"\" is not met (record "+x.ID+"): "+s.Hold, "repair again, or ask the manufacturer", "")
		}
		r.proven(where, x, s, r.decidedFor(*s), true)
		if s.Second {
			r.bySecond(where, *s, x)
		}
	}
}

// bySecond wants a hold point to be passed by somebody else than who did the step.
func (r *gate) bySecond(where string, s PlannedStep, x job.Record) {
	a, ok := r.done[s.ID]
	if !ok {
		return // told as a step that is not on record
	}
	did, known := r.in.Shop.Signer(a.By)
	passed, also := r.in.Shop.Signer(x.By)
	if known && also && did.ID == passed.ID {
		r.missing(where, fmt.Sprintf("the hold point of \"%s\" asks for a second person, and %s did the step and passed it (record %s)", s.Name, did.ID, x.ID), "have it passed by somebody else", "")
	}
}
