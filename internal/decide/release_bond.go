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
			r.wanting(Missing{Where: string(id), Text: "the adhesive of " + j.Name + " is not on record (" + string(j.Cures) + ")", Cite: a.Cite}, bondWanted(string(id), "", j.Name, []body.MaterialID{j.Cures})...)
			continue
		}
		r.closing(id, x)
		r.adhesiveUsed(string(id), j.Name, []body.MaterialID{j.Cures}, x, a)
	}
}

// adhesive wants a record for each bond of a treatment itself: of a plate, or of the joint
// along a section line, once however many findings it serves.
func (r *release) adhesive(a body.Acceptance, c Chosen, name string) {
	if c.Kind != body.WeldBacking && c.Kind != body.SectionOff || !r.onceOf(c, a.Show) {
		return
	}
	materials := c.Bonds
	if len(materials) == 0 {
		materials = []body.MaterialID{""} // the body does not say with what, which every record is told
	}
	for _, m := range materials {
		xs := r.bondsWith(c, m)
		if len(xs) == 0 {
			r.wanting(Missing{Where: string(c.Finding), Text: "the adhesive of " + name + " is not on record" + asked(c, m), Hint: "enter the material, its batch and its last day of use", Cite: a.Cite},
				bondWanted("", c.Finding, name+r.serves(c), c.bonded(m))...)
		}
		for _, x := range xs {
			r.afterBonding(c, m, x)
			r.adhesiveUsed(string(x.Finding), name, c.bonded(m), x, a)
		}
	}
}

// bonded is an adhesive of a treatment; none where the body says none.
func (c Chosen) bonded(m body.MaterialID) []body.MaterialID {
	if m == "" {
		return nil
	}
	return []body.MaterialID{m}
}

// asked names the adhesive where a treatment has several.
func asked(c Chosen, m body.MaterialID) string {
	if len(c.Bonds) < 2 {
		return ""
	}
	return " (" + string(m) + ")"
}

// bondsWith is the records of the bond of a treatment with one of its adhesives. What was
// bonded with something that the treatment does not have serves none, and is told of each.
func (r *release) bondsWith(c Chosen, m body.MaterialID) []job.Record {
	return r.ofPiece(c, r.bondStep(c.Finding, m), func(x job.Record) bool {
		return x.Show == body.ShowAdhesive && (x.Material == m || !slices.Contains(c.Bonds, x.Material))
	})
}

// afterBonding holds the record of a treatment's own bond against the rule: it
// belongs to the step that bonds, and what follows waits for it.
func (r *release) afterBonding(c Chosen, m body.MaterialID, x job.Record) {
	marks := r.acceptedMarks(r.alike(c))
	s := r.bondStep(c.Finding, m)
	if s == nil {
		marks = append(marks, job.Mark{What: "it was bonded"})
	}
	r.proven(string(x.Finding), x, s, marks, true)
}

// bondStep is the last step of a finding's treatment with an adhesive in it; any where
// none is named.
func (r *release) bondStep(id job.FindingID, m body.MaterialID) *PlannedStep {
	for i := len(r.in.Steps) - 1; i >= 0; i-- {
		s := &r.in.Steps[i]
		with := m == "" && len(s.Bonds) > 0 || slices.Contains(s.Bonds, m)
		if s.Treats && with && len(s.Joints) == 0 && slices.Contains(s.For, id) {
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
	if why := job.Uncalibrated(x.Device, x.Calibrated, x.On); why != "" {
		r.missing(where, "the temperature in record "+x.ID+" does not count: "+why, "enter what it was read with ('device' and 'calibrated_until' of the record)", a.Cite)
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
	handled     moment       // from when it may be handled
	full        moment       // from when it has its full strength
	why         string       // why nobody can tell; empty: it is known
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
	for _, c := range r.in.Chosen {
		if c.Finding != r.piece(c) {
			continue // told with the first finding of the piece of work
		}
		for _, m := range c.Bonds {
			s, xs := r.bondStep(c.Finding, m), r.bondsWith(c, m)
			for _, x := range xs {
				out = append(out, r.cure(string(x.Finding), optionName(c.Kind, c.Line), m, x, true, s))
			}
			if len(xs) == 0 {
				out = append(out, r.cure(string(c.Finding), optionName(c.Kind, c.Line), m, job.Record{}, false, s))
			}
		}
	}
	return out
}

// cure is how far a bond has cured: counted from the last fastener on record, or from
// the end of its step, with the times of the next colder row of the body, which are
// never shorter, at the coldest of the temperatures on record and the shop's usual one.
func (r *release) cure(where, name string, id body.MaterialID, x job.Record, recorded bool, s *PlannedStep) bond {
	b := bond{where: where, name: name, step: s, why: "the day it was bonded is not on record"}
	m, _ := r.in.Body.Material(id)
	var done job.Actual
	if s != nil {
		done = r.done[s.ID]
	}
	made := r.ended(done)
	if recorded && !x.On.Before(done.On) {
		made, done.On = at(x.On, x.Closed, r.closes), x.On
	}
	warm := r.coldest(id, x, recorded, s)
	row, ok := m.CuringAt(warm)
	switch {
	case done.On.IsZero():
	case !ok:
		b.why = fmt.Sprintf("the body does not say how long %s cures at %s", id, warm)
	default:
		b.why, b.handled, b.full = "", r.after(made, row.Handling), r.after(made, row.Full)
	}
	return b
}

// coldest is the lowest temperature that is on record for a bond: the shop's usual one,
// that of its record, and what was read while it cured, less twice its uncertainty.
func (r *release) coldest(id body.MaterialID, x job.Record, recorded bool, s *PlannedStep) unit.Celsius {
	out := r.in.Shop.Temp
	if recorded && x.Temp.Known {
		out = min(out, x.Temp.Value)
	}
	for _, f := range r.in.Job.Figures {
		if s != nil && strings.EqualFold(f.Step, s.Name) && f.Reading == body.CureReading(id) && (f.Finding == "" || slices.Contains(s.For, f.Finding)) {
			out = min(out, unit.Celsius(f.Value.Value-float64(2*f.Std.Value)))
		}
	}
	return out
}

// afterBond is the steps on record that follow a bond; those done in one go with it
// belong to the bonding, and what follows them counts.
func (r *release) afterBond(s PlannedStep) []PlannedStep {
	var out []PlannedStep
	for _, next := range r.follows(s) {
		if s.Together != "" && next.Together == s.Together {
			out = append(out, r.afterBond(next)...)
		} else {
			out = append(out, next)
		}
	}
	return out
}

// cured wants every bond to have its full strength when today's work begins, and the
// work after it not to have been begun before it could be handled.
func (r *release) cured() {
	for _, b := range r.bondsOf() {
		if b.why != "" {
			r.missing(b.where, "whether the adhesive of "+b.name+" has cured is not known: "+b.why, "enter when and how warm it was bonded", "")
			continue
		}
		if at(r.in.Today, "", r.opens) < b.full {
			r.missing(b.where, "the adhesive of "+b.name+" has not cured: it has its full strength on "+b.full.workday(r.opens).String(), "wait until then", "")
		}
		if b.step == nil {
			continue
		}
		for _, next := range r.afterBond(*b.step) {
			if began := r.began(r.done[next.ID]); began < b.handled {
				r.missing(b.where, fmt.Sprintf("\"%s\" went on, from %s, before the adhesive of %s could be handled, from %s", next.Name, began.words(), b.name, b.handled.words()),
					"ask the manufacturer; where the times of day show that it did not, enter them ('began', 'closed')", "")
			}
		}
	}
}
