package decide

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// bonds wants a record for every joint that was bonded again.
func (r *release) bonds(a body.Acceptance) {
	for _, id := range r.in.Joints {
		j, ok := r.in.Body.Joint(id)
		if !ok || j.Cures == "" {
			continue
		}
		x, ok := r.lastOn(body.ShowAdhesive, id)
		if !ok {
			r.missing(string(id), "the adhesive of "+j.Name+" is not on record ("+string(j.Cures)+")", "", a.Cite)
			continue
		}
		r.closing(id, x)
		r.adhesiveUsed(string(id), j.Name, []body.MaterialID{j.Cures}, x, a)
	}
}

// adhesive wants a record for the bond of the treatment itself: the plate of a
// finding, or once for the joint along a section line.
func (r *release) adhesive(a body.Acceptance, c Chosen, name string) {
	if c.Kind != body.WeldBacking && c.Kind != body.SectionOff {
		return
	}
	if key := "bond of " + string(c.Line); c.Kind == body.SectionOff {
		if r.asked[key] {
			return
		}
		r.asked[key] = true
	}
	x, ok := r.bondOf(c)
	if !ok {
		r.missing(string(c.Finding), "the adhesive of "+name+" is not on record", "enter the material, its batch and its last day of use", a.Cite)
		return
	}
	r.afterBonding(c, x)
	r.adhesiveUsed(string(c.Finding), name, c.Bonds, x, a)
}

// bondOf is the last record of the bond of a treatment.
func (r *release) bondOf(c Chosen) (job.Record, bool) {
	ids := []job.FindingID{c.Finding}
	if c.Kind == body.SectionOff {
		ids = r.alike(c)
	}
	return r.last(func(x job.Record) bool { return x.Show == body.ShowAdhesive && slices.Contains(ids, x.Finding) })
}

// afterBonding holds the record of a treatment's own bond against the rule: it
// belongs to the step that bonds, and what follows waits for it.
func (r *release) afterBonding(c Chosen, x job.Record) {
	marks := r.acceptedMarks(r.alike(c))
	s := r.bondStep(c.Finding)
	if s == nil {
		marks = append(marks, job.Mark{What: "it was bonded"})
	}
	r.proven(string(c.Finding), x, s, marks, true)
}

// bondStep is the last step of a finding's treatment with an adhesive in it.
func (r *release) bondStep(id job.FindingID) *PlannedStep {
	for i := len(r.in.Steps) - 1; i >= 0; i-- {
		if s := &r.in.Steps[i]; s.Treats && len(s.Bonds) > 0 && len(s.Joints) == 0 && slices.Contains(s.For, id) {
			return s
		}
	}
	return nil
}

// adhesiveUsed wants the adhesive of the plan, not too old, and closed in time.
func (r *release) adhesiveUsed(where, name string, want []body.MaterialID, x job.Record, a body.Acceptance) {
	if !slices.Contains(want, x.Material) {
		asks := "the body asks for " + joinWords(want)
		if len(want) == 0 {
			asks = "the body does not say with what"
		}
		r.missing(where, name+" was bonded with "+string(x.Material)+", "+asks+" (record "+x.ID+")", "ask the manufacturer", a.Cite)
	}
	if strings.TrimSpace(x.Batch) == "" {
		r.missing(where, "record "+x.ID+" does not say which batch of adhesive was used", "enter its number ('batch')", a.Cite)
	}
	r.openTime(where, x, a)
	switch {
	case x.UseBefore.IsZero():
		r.missing(where, "record "+x.ID+" does not say until when the adhesive may be used", "enter its last day ('use_before')", a.Cite)
	case x.UseBefore.Before(x.On):
		r.missing(where, "the adhesive was used on "+x.On.String()+", after its last day of use, "+x.UseBefore.String()+" (record "+x.ID+")", "ask the manufacturer", a.Cite)
	}
}

// openTime holds the time an adhesive was open against the body's working time
// at the temperature on record.
func (r *release) openTime(where string, x job.Record, a body.Acceptance) {
	open, ok := x.OpenMinutes()
	if !ok || !x.Temp.Known {
		r.missing(where, "record "+x.ID+" does not say how long the adhesive was open, and at which temperature", "enter 'mixed', 'closed' and 'temperature'", a.Cite)
		return
	}
	m, _ := r.in.Body.Material(x.Material)
	most, ok := m.WorkingAt(x.Temp.Value)
	switch {
	case !ok:
		r.missing(where, "the body does not say how long "+string(x.Material)+" may be open at "+x.Temp.Value.String()+" (record "+x.ID+")", "ask the manufacturer", a.Cite)
	case open > most:
		r.missing(where, "the adhesive was open for "+open.Words()+", at "+x.Temp.Value.String()+" it may be for "+most.Words()+" (record "+x.ID+")", "ask the manufacturer", a.Cite)
	}
}

// bond is a bond of the plan and how far it has cured.
type bond struct {
	where, name string
	step        *PlannedStep // in which it is made; nil: none
	on          unit.Date    // day it was made
	handled     unit.Minutes // from the midnight that day began with, until it may be handled
	full        unit.Minutes // and until it has its full strength
	why         string       // why nobody can tell; empty: it is known
}

// day is the first day on which, at a time of the day, so many minutes have passed;
// empty when nobody can tell.
func (b bond) day(after, at unit.Minutes) unit.Date {
	if b.why != "" {
		return unit.Date{}
	}
	n := 0
	for after > at+unit.Minutes(n*minutesOfDay) {
		n++
	}
	return b.on.AddDays(n)
}

// bondsOf is every bond of the plan: joints that are bonded again, and the bonds of
// the treatments themselves.
func (r *release) bondsOf() []bond {
	var out []bond
	for _, id := range r.in.Joints {
		if j, ok := r.in.Body.Joint(id); ok && j.Cures != "" {
			x, ok := r.lastOn(body.ShowAdhesive, id)
			out = append(out, r.cure(string(id), j.Name, j.Cures, x, ok, r.stepOf(id)))
		}
	}
	told := map[body.LineID]bool{}
	for _, c := range r.in.Chosen {
		if len(c.Bonds) == 0 || c.Kind == body.SectionOff && told[c.Line] {
			continue
		}
		told[c.Line] = true
		x, ok := r.bondOf(c)
		for _, m := range c.Bonds {
			out = append(out, r.cure(string(c.Finding), optionName(c.Kind, c.Line), m, x, ok, r.bondStep(c.Finding)))
		}
	}
	return out
}

// cure is how far a bond has cured: counted from the last fastener on record, or from
// the end of the working day of its step, with the times of the next colder row of
// the body, which are never shorter, at the colder of the temperature on record and
// the shop's usual one.
func (r *release) cure(where, name string, id body.MaterialID, x job.Record, recorded bool, s *PlannedStep) bond {
	b := bond{where: where, name: name, step: s, why: "the day it was bonded is not on record"}
	m, _ := r.in.Body.Material(id)
	at, from := r.in.Shop.Temp, r.closes
	if s != nil {
		b.on = r.done[s.ID].On
	}
	if recorded {
		if b.on.Before(x.On) {
			b.on = x.On
		}
		if c, ok := x.ClosedAt(); ok && b.on == x.On {
			from = c
		}
		if x.Temp.Known && x.Temp.Value < at {
			at = x.Temp.Value
		}
	}
	row, ok := m.CuringAt(at)
	switch {
	case b.on.IsZero():
	case !ok:
		b.why = fmt.Sprintf("the body does not say how long %s cures at %s", id, at)
	default:
		b.why, b.handled, b.full = "", from+row.Handling, from+row.Full
	}
	return b
}

// cured wants every bond to have its full strength when today's work begins, and the
// work after it not to have gone on before it could be handled: not even late on the
// day of which it is.
func (r *release) cured() {
	for _, b := range r.bondsOf() {
		if b.why != "" {
			r.missing(b.where, "whether the adhesive of "+b.name+" has cured is not known: "+b.why, "enter when and how warm it was bonded", "")
			continue
		}
		if full := b.day(b.full, r.opens); r.in.Today.Before(full) {
			r.missing(b.where, "the adhesive of "+b.name+" has not cured: it has its full strength on "+full.String(), "wait until then", "")
		}
		if b.step == nil {
			continue
		}
		for _, next := range r.follows(*b.step) {
			if d := r.done[next.ID].On; d.Before(b.day(b.handled, r.closes)) {
				r.missing(b.where, fmt.Sprintf("\"%s\" of %s went on before the adhesive of %s could be handled", next.Name, d, b.name), "ask the manufacturer", "")
			}
		}
	}
}
