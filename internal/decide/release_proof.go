package decide

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// proofs wants everything the procedure asks to be shown after a treatment. A
// procedure that asks for nothing is no permission to show nothing.
func (r *release) proofs(f job.Finding, c Chosen, name string) {
	p := r.procedureOf(f)
	if p == nil || c.Kind == body.Leave {
		return // told as a procedure that is missing; leaving it needs no proof
	}
	asked := false
	for _, a := range p.Acceptance {
		if !slices.Contains(a.For, c.Kind) || !r.touches(f.ID, a.Zones) {
			continue
		}
		asked = true
		switch a.Show {
		case body.ShowPenetrant:
			r.penetrant(*p, a, f.ID, name)
		case body.ShowVisual:
			r.visual(a, f.ID, name)
		case body.ShowDimensions:
			r.once(a, func() { r.dimensions(a) })
		case body.ShowTorque:
			r.once(a, func() { r.torque(a) })
		case body.ShowAdhesive:
			r.once(a, func() { r.bonds(a) })
			r.adhesive(a, c, name)
		}
	}
	r.afterwards(*p, f, c)
	if !asked {
		r.missing(string(f.ID), title(p)+" does not say what has to be shown after "+name, "ask the manufacturer, and write it under 'acceptance' in the procedure", p.Source)
	}
}

// procedureOf is the procedure that decided a finding: of its casting, or for a
// part that is no casting that of the body's first casting.
func (r *release) procedureOf(f job.Finding) *body.Procedure {
	casting := body.CastingID("")
	for i, c := range r.in.Body.Castings {
		if i == 0 || c.Part == f.Part {
			casting = c.ID
		}
	}
	for _, in := range r.in.Result.Procedures {
		if in.Casting != casting {
			continue
		}
		for i := range r.in.Body.Procedures {
			if p := &r.in.Body.Procedures[i]; p.ID == in.Procedure && p.Revision == in.Revision {
				return p
			}
		}
	}
	return nil
}

// touches says that a finding lies, or may lie, in one of the zones.
func (r *release) touches(id job.FindingID, zones []body.ZoneID) bool {
	if len(zones) == 0 {
		return true
	}
	for _, g := range r.in.Inspect.Findings {
		if g.ID != id {
			continue
		}
		for _, z := range g.Zones {
			if slices.Contains(zones, z.Zone) {
				return true
			}
		}
		return len(g.Zones) == 0
	}
	return true
}

// once does what is asked for the whole job, however many findings ask.
func (r *release) once(a body.Acceptance, do func()) {
	if !r.asked[a.Show] {
		r.asked[a.Show] = true
		do()
	}
}

// last is the last record of a sort about a finding, up to today. What is older
// than the acceptance of its treatment was not made after the repair.
func (r *release) last(show string, id job.FindingID) (job.Record, bool) {
	var out job.Record
	for _, x := range r.in.Job.Records {
		if x.Show == show && x.Finding == id && x.What == "" && !r.in.Today.Before(x.On) && !x.On.Before(out.On) && !x.On.Before(r.acceptedOn(id)) {
			out = x
		}
	}
	return out, out.ID != ""
}

// acceptedOn is the day the treatment of a finding was accepted; empty when
// nobody has.
func (r *release) acceptedOn(id job.FindingID) unit.Date {
	for _, a := range r.in.Job.Accepted {
		if a.Finding == id {
			return a.On
		}
	}
	return unit.Date{}
}

func (r *release) penetrant(p body.Procedure, a body.Acceptance, id job.FindingID, name string) {
	level, ok := p.Level(a.Level)
	if !ok {
		r.missing(string(id), "the procedure has no level "+a.Level, "correct the procedure", a.Cite)
		return
	}
	x, ok := r.last(body.ShowPenetrant, id)
	if !ok {
		r.missing(string(id), "penetrant inspection to level "+a.Level+" after "+name+" is not on record", "inspect, and enter what was indicated ('records' in the job)", a.Cite)
		return
	}
	if !x.None && len(x.Indications) == 0 {
		r.missing(string(id), "record "+x.ID+" does not say what was indicated", "", a.Cite)
	}
	r.conditions(p, id, x, a.Cite)
	ones, why := together(level, x)
	if why != "" {
		r.missing(string(id), "undecided (record "+x.ID+"): "+why, "enter both ends of each under 'ends_mm', or 'apart: yes' if no two are nearer to each other than the smaller one is long", a.Cite+"; "+level.Cite)
	}
	for _, i := range ones {
		if o, why := JudgeIndication(level, i.Indication, float64(r.in.Body.Confidence)); o != OutcomeAccepted {
			r.missing(string(id), o.String()+" (record "+x.ID+"): "+i.count()+why, map[Outcome]string{OutcomeRefused: "repair again, or ask the manufacturer"}[o], a.Cite+"; "+level.Cite)
		}
	}
}

func (r *release) visual(a body.Acceptance, id job.FindingID, name string) {
	x, ok := r.last(body.ShowVisual, id)
	switch {
	case !ok:
		r.missing(string(id), "visual inspection after "+name+" is not on record", "look for: "+a.Quality, a.Cite)
	case !x.Met:
		r.missing(string(id), "the visual quality is not met (record "+x.ID+"): "+a.Quality, "repair again, or ask the manufacturer", a.Cite)
	}
}

func (r *release) dimensions(a body.Acceptance) {
	m := r.in.After
	if m == nil {
		r.missing("", "the control points have not been measured after the repair", "measure them, with set-ups of the stage 'after'", a.Cite)
		return
	}
	for _, x := range []struct {
		points []body.PointID
		text   string
	}{{m.NotMet, "out of tolerance after the repair: "}, {m.Undecided, "the tolerance is undecided after the repair for "}, {m.Missing, "not measured after the repair: "}} {
		if len(x.points) > 0 {
			r.missing("", x.text+joinWords(x.points), "", a.Cite)
		}
	}
}

// torque wants a record for every joint that was closed and has a torque.
func (r *release) torque(a body.Acceptance) {
	for _, id := range r.in.Joints {
		j, ok := r.in.Body.Joint(id)
		if !ok || j.Torque <= 0 {
			continue
		}
		x, ok := r.lastOf(body.ShowTorque, id)
		switch {
		case !ok:
			r.missing(string(id), "the torque of "+j.Name+" is not on record ("+j.Torque.String()+")", "", a.Cite)
		case x.Torque != j.Torque:
			r.missing(string(id), "the tool was set to "+x.Torque.String()+" for "+j.Name+", the body asks for "+j.Torque.String()+" (record "+x.ID+")", "open the joint and close it again with new fasteners where they are used once", a.Cite)
		}
	}
}

func (r *release) lastOf(show string, id body.JointID) (job.Record, bool) {
	var out job.Record
	for _, x := range r.in.Job.Records {
		if x.Show == show && x.Joint == id && !r.in.Today.Before(x.On) && !x.On.Before(out.On) {
			out = x
		}
	}
	return out, out.ID != ""
}

// bonds wants a record for every joint that was bonded again.
func (r *release) bonds(a body.Acceptance) {
	for _, id := range r.in.Joints {
		j, ok := r.in.Body.Joint(id)
		if !ok || j.Cures == "" {
			continue
		}
		x, ok := r.lastOf(body.ShowAdhesive, id)
		if !ok {
			r.missing(string(id), "the adhesive of "+j.Name+" is not on record ("+string(j.Cures)+")", "", a.Cite)
			continue
		}
		if x.Material != j.Cures {
			r.missing(string(id), j.Name+" was bonded with "+string(x.Material)+", the body asks for "+string(j.Cures)+" (record "+x.ID+")", "ask the manufacturer", a.Cite)
		}
		r.inDate(string(id), x, a)
	}
}

// adhesive wants a record for the bond of the treatment itself: the plate of a
// finding, or once for the joint along a section line.
func (r *release) adhesive(a body.Acceptance, c Chosen, name string) {
	if c.Kind != body.WeldBacking && c.Kind != body.SectionOff {
		return
	}
	for _, o := range r.in.Chosen {
		if o.Finding != c.Finding && (c.Kind != body.SectionOff || o.Kind != c.Kind || o.Line != c.Line) {
			continue
		}
		if x, ok := r.last(body.ShowAdhesive, o.Finding); ok {
			if o.Finding == c.Finding {
				r.inDate(string(c.Finding), x, a)
			}
			return
		}
	}
	if key := "bond of " + string(c.Line); c.Kind == body.SectionOff {
		if r.asked[key] {
			return
		}
		r.asked[key] = true
	}
	r.missing(string(c.Finding), "the adhesive of "+name+" is not on record", "enter the material, its batch and its last day of use", a.Cite)
}

// inDate wants an adhesive that was not too old, and closed in time.
func (r *release) inDate(where string, x job.Record, a body.Acceptance) {
	r.openTime(where, x, a)
	if x.UseBefore.Before(x.On) {
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
