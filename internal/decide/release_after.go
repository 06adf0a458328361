package decide

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
)

// afterwards wants the inspections that the rows ask for which allow the
// treatment, and the conditions of the answer that does.
func (r *release) afterwards(p body.Procedure, f job.Finding, c Chosen) {
	o, _ := r.option(c)
	for _, row := range p.Rows {
		if !slices.Contains(o.Rows, row.ID) || !slices.Contains(row.Allow, c.Kind) {
			continue
		}
		for _, a := range row.After {
			if a.What != "" || !r.accepts(p, f, c, a.Method) {
				r.inspected(p, c, a, row.Cite)
			}
		}
	}
	for _, a := range r.in.Job.Answers {
		if a.ID == o.Answer && a.Conditions != "" && !r.lookedFor(c, a.Conditions) && r.onceOf(c, "condition", a.ID, a.Conditions) {
			r.wanting(Missing{Where: string(f.ID), Text: "that the condition of answer " + a.ID + " is met is not on record: " + a.Conditions,
				Hint: "enter a record of what was seen, with these words under 'what'", Cite: citeOf(a)}, Wanted{Entry: WantSeen, Finding: f.ID, What: a.Conditions, Must: "met, as answer " + a.ID + " asks" + r.serves(c)})
		}
	}
}

// accepts says that 'acceptance' asks for the same method already.
func (r *release) accepts(p body.Procedure, f job.Finding, c Chosen, method string) bool {
	return slices.ContainsFunc(p.Acceptance, func(a body.Acceptance) bool {
		return a.Show == method && slices.Contains(a.For, c.Kind) && r.touches(f.ID, a.Zones)
	})
}

// inspected wants one inspection of a row.
func (r *release) inspected(p body.Procedure, c Chosen, a body.After, cite string) {
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
	wants := []Wanted{{Entry: WantSeen, Finding: c.Finding, What: a.What, Must: a.String() + r.serves(c)}}
	if a.Method == body.ShowPenetrant {
		wants = penetrantWanted(c.Finding, a.String()+r.serves(c))
	}
	r.wanting(Missing{Where: string(c.Finding), Text: "not on record: " + a.String(), Hint: hint, Cite: cite}, wants...)
}

// holds wants every hold point of the plan to have been passed: after the step was
// done, before anyone went on, and by a second person where one is asked for.
func (r *release) holds() {
	for i := range r.in.Steps {
		s := &r.in.Steps[i]
		if s.Hold == "" {
			continue
		}
		where := first(s.For)
		x, ok := r.last(func(x job.Record) bool {
			about := x.Finding == "" && len(s.For) == 0 || slices.Contains(s.For, x.Finding)
			return x.Show == body.ShowHold && x.Step == s.Name && about
		})
		if !ok {
			r.wanting(Missing{Where: where, Text: "nobody has passed the hold point of \"" + s.Name + "\": " + s.Hold, Hint: "enter a record with 'show: hold' and the name of the step"},
				Wanted{Entry: WantHold, About: s.Name, Finding: job.FindingID(where), Must: s.Hold})
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
func (r *release) bySecond(where string, s PlannedStep, x job.Record) {
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
