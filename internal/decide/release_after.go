package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
)

// Hold is a hold point of a planned step.
type Hold struct {
	Step string          // name of the step
	For  []job.FindingID // findings it is for; empty: for the job
	Text string          // what has to be inspected before anyone goes on
}

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
		if a.ID == o.Answer && a.Conditions != "" && !r.seen(c, a.Conditions) {
			r.missing(string(f.ID), "that the condition of answer "+a.ID+" is met is not on record: "+a.Conditions,
				"enter a record of what was seen, with these words under 'what'", citeOf(a))
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
		r.once(body.Acceptance{Show: body.ShowDimensions}, func() { r.dimensions(body.Acceptance{Cite: cite}) })
		return
	case a.Method == body.ShowPenetrant && r.recorded(c, body.ShowPenetrant):
		r.withoutLevel(p, c, cite)
		return
	case a.Method == body.ShowVisual && a.What == "" && r.recorded(c, body.ShowVisual):
		return
	case a.Method == body.ShowVisual && a.What != "" && r.seen(c, a.What):
		return
	}
	key := strings.Join([]string{"after", string(c.Finding), string(c.Line), a.String()}, " ")
	if c.Kind == body.SectionOff || c.Kind == body.ReplaceCasting { // one piece of work for many findings
		key = strings.Join([]string{"after", string(c.Kind), string(c.Line), a.String()}, " ")
	}
	if r.asked[key] {
		return
	}
	r.asked[key] = true
	hint := "inspect, and enter the record"
	if a.What != "" {
		hint = "enter a record of what was seen, with the words \"" + a.What + "\" under 'what'"
	}
	r.missing(string(c.Finding), "not on record: "+a.String(), hint, cite)
}

// alike is the findings of one piece of work: those that one section or one new
// casting takes out together.
func (r *release) alike(c Chosen) []job.FindingID {
	out := []job.FindingID{c.Finding}
	for _, o := range r.in.Chosen {
		whole := c.Kind == body.SectionOff || c.Kind == body.ReplaceCasting
		if whole && o.Kind == c.Kind && o.Line == c.Line && o.Finding != c.Finding {
			out = append(out, o.Finding)
		}
	}
	return out
}

func (r *release) recorded(c Chosen, show string) bool {
	return slices.ContainsFunc(r.alike(c), func(id job.FindingID) bool { _, ok := r.last(show, id); return ok })
}

// seen says that the last record of what was looked for says it is met.
func (r *release) seen(c Chosen, what string) bool {
	var last job.Record
	for _, x := range r.in.Job.Records {
		if x.Show == body.ShowVisual && x.What == what && slices.Contains(r.alike(c), x.Finding) && !r.in.Today.Before(x.On) && !x.On.Before(last.On) {
			last = x
		}
	}
	return last.ID != "" && last.Met
}

// holds wants every hold point of the plan to have been passed.
func (r *release) holds() {
	for _, h := range r.in.Holds {
		where := ""
		if len(h.For) > 0 {
			where = string(h.For[0])
		}
		var last job.Record
		for _, x := range r.in.Job.Records {
			about := x.Finding == "" && len(h.For) == 0 || slices.Contains(h.For, x.Finding)
			if x.Show == body.ShowHold && x.Step == h.Step && about && !r.in.Today.Before(x.On) && !x.On.Before(last.On) {
				last = x
			}
		}
		switch {
		case last.ID == "":
			r.missing(where, "nobody has passed the hold point of \""+h.Step+"\": "+h.Text, "enter a record with 'show: hold' and the name of the step", "")
		case !last.Met:
			r.missing(where, "the hold point of \""+h.Step+"\" is not met (record "+last.ID+"): "+h.Text, "repair again, or ask the manufacturer", "")
		}
	}
}
