package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// shown wants everything the procedure and the plan ask to be shown.
func (r *gate) shown() {
	for _, f := range r.in.Job.Findings {
		if c, ok := r.chosen(f.ID); ok {
			r.proofs(f, c, decide.OptionName(c.Kind, c.Line))
		}
	}
	if r.leans && !r.asked[string(body.ShowDimensions)] {
		r.setupsAfter("")
	}
	r.overlooked()
	r.setupsBefore()
	r.holds()
	r.cured()
	r.faultMemories()
}

// overlooked tells of what speaks against the repair under words that nothing asks for: of a
// word misspelt it would count for nothing.
func (r *gate) overlooked() {
	for _, x := range r.in.Job.Records {
		against := x.Show == body.ShowVisual && !x.Met || x.Show == body.ShowPenetrant && !x.None
		c, ok := r.chosen(x.Finding)
		held := func(o job.Record) bool {
			return o.Show == x.Show && strings.EqualFold(o.What, x.What) && r.asked["held\x00"+o.ID] && slices.Contains(r.alike(c), o.Finding)
		}
		if ok && against && x.What != "" && !slices.ContainsFunc(r.in.Job.Records, held) {
			r.missing(string(x.Finding), fmt.Sprintf("record %s (%s) speaks against the repair, and nothing that is asked for has its words: %s", x.ID, x.Show, x.What), "write 'what' in the words that are asked for, or repair again", "")
		}
	}
}

// proofs wants everything the procedure asks to be shown after a treatment. A
// procedure that asks for nothing is no permission to show nothing.
func (r *gate) proofs(f job.Finding, c Chosen, name string) {
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
			r.penetrant(*p, a, c, name)
		case body.ShowVisual:
			r.visual(*p, a, c, name)
		case body.ShowDimensions:
			r.onceFor(a, func() { r.dimensions(a) })
		case body.ShowTorque:
			r.onceFor(a, func() { r.torque(a) })
		case body.ShowAdhesive:
			r.onceFor(a, func() { r.bonds(a) })
			r.adhesive(a, c)
		}
	}
	r.afterwards(*p, f, c)
	if c.Kind == body.Straighten && r.in.Body.HasPoints(f.Part) { // whatever the procedure asks for: it was pulled
		asked = true
		r.onceFor(body.Acceptance{Show: body.ShowDimensions}, func() { r.dimensions(body.Acceptance{}) })
	}
	if !asked {
		r.missing(string(f.ID), decide.Title(p)+" does not say what has to be shown after "+name, "ask the manufacturer, and write it under 'acceptance' in the procedure", p.Source)
	}
}

// procedureOf is the procedure that decided a finding: of its casting, or for a
// part that is no casting that of the body's first casting.
func (r *gate) procedureOf(f job.Finding) *body.Procedure {
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
func (r *gate) touches(id job.FindingID, zones []body.ZoneID) bool {
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

// onceFor does what is asked for the whole job, however many findings ask.
func (r *gate) onceFor(a body.Acceptance, do func()) {
	if !r.asked[string(a.Show)] {
		r.asked[string(a.Show)] = true
		do()
	}
}

// last is the last record that fits, whatever it is worth: one that does not stand
// hides no older one behind it.
func (r *gate) last(fits func(job.Record) bool) (job.Record, bool) {
	var out job.Record
	for _, x := range r.in.Job.Records {
		if fits(x) && (out.ID == "" || !x.On.Before(out.On)) {
			out = x
		}
	}
	return out, out.ID != ""
}

// lastOn is the last record of a sort about a joint.
func (r *gate) lastOn(show body.ProofKind, id body.JointID) (job.Record, bool) {
	return r.last(func(x job.Record) bool { return x.Show == show && x.Joint == id })
}

// proven is the one rule for every record: somebody gave it who may, on a day that
// is not after today, not before the decision it serves, and not before the step it
// proves was done; and what belongs to the doing of a step was not entered after
// the work had gone on.
func (r *gate) proven(where string, x job.Record, s *PlannedStep, after []job.Mark, within bool) bool {
	what := "record " + x.ID + " (" + string(x.Show) + ")"
	r.asked["held\x00"+x.ID] = true
	if s != nil {
		after = append(slices.Clone(after), r.doneMark(*s)...)
	}
	ok := r.stands(where, what, job.Act{By: x.By, On: x.On, At: x.At, May: shop.MayInspect, After: lastOf(after)}, "show it again, and enter that")
	if s == nil || !within {
		return ok
	}
	for _, next := range r.follows(*s) {
		d := r.done[next.ID]
		began, timed := job.Clock(d.Began)
		shown, also := job.Clock(x.At)
		if d.On.Before(x.On) || d.On == x.On && timed && also && began < shown {
			r.missing(where, fmt.Sprintf("%s does not count: it is dated %s, and the work had gone on with \"%s\" on %s", what, strings.TrimSpace(x.On.String()+" "+x.At), next.Name, strings.TrimSpace(d.On.String()+" "+d.Began)), "open what was closed, and show it again", "")
			ok = false
		}
	}
	return ok
}

// lastStep is the last step of the plan that treats a finding.
func (r *gate) lastStep(id job.FindingID) *PlannedStep {
	for i := len(r.in.Steps) - 1; i >= 0; i-- {
		if s := &r.in.Steps[i]; s.Treats && slices.Contains(s.For, id) {
			return s
		}
	}
	return nil
}

// stepOf is the step that closes a joint.
func (r *gate) stepOf(id body.JointID) *PlannedStep {
	for i := range r.in.Steps {
		if slices.Contains(r.in.Steps[i].Joints, id) {
			return &r.in.Steps[i]
		}
	}
	return nil
}

// afterTreating holds a record of a finding against the rule.
func (r *gate) afterTreating(c Chosen, x job.Record) bool {
	marks := r.acceptedMarks(r.alike(c))
	s := r.lastStep(c.Finding)
	if s == nil {
		marks = append(marks, job.Mark{What: "the treatment was done"})
	}
	return r.proven(string(x.Finding), x, s, marks, false)
}

// penetrant wants a penetrant inspection of a piece of work, and judges what it showed.
func (r *gate) penetrant(p body.Procedure, a body.Acceptance, c Chosen, name string) {
	if !r.onceOf(c, string(a.Show), a.ID, a.Level, a.Cite) {
		return
	}
	id, xs := c.Finding, r.shownOf(c, body.ShowPenetrant, "")
	if len(xs) == 0 {
		r.wanting(Missing{Where: string(id), Text: "penetrant inspection to level " + a.Level + " after " + name + " is not on record", Hint: "inspect, and enter what was indicated ('records' in the job)", Cite: a.Cite},
			penetrantWanted(id, r.alike(c), "", "nothing indicated, or as level "+a.Level+" permits, after "+name+r.serves(c))...)
	}
	for _, x := range xs {
		if !x.None && len(x.Indications) == 0 {
			r.missing(string(x.Finding), "record "+x.ID+" does not say what was indicated", "", a.Cite)
		}
		r.afterTreating(c, x)
		r.conditions(p, x.Finding, x, a.Cite)
		if level, ok := p.Level(a.Level); ok {
			r.toLevel(level, a, x)
		} else {
			r.missing(string(x.Finding), "the procedure has no level "+a.Level, "correct the procedure", a.Cite)
		}
	}
}

// toLevel judges what was indicated by an acceptance level.
func (r *gate) toLevel(level body.Level, a body.Acceptance, x job.Record) {
	id := x.Finding
	ones, why := together(level, x)
	if why != "" {
		r.missing(string(id), "undecided (record "+x.ID+"): "+why, "enter both ends of each under 'ends_mm', or 'apart: yes' if no two are nearer to each other than the smaller one is long", a.Cite+"; "+level.Cite)
	}
	if o, why := inLine(level, x, float64(r.in.Body.Confidence)); o != OutcomeAccepted {
		r.missing(string(id), o.String()+" (record "+x.ID+"): "+why, map[Outcome]string{OutcomeRefused: "repair again, or ask the manufacturer",
			OutcomeOpen: "enter both ends of each under 'ends_mm', measured as well as can be"}[o], a.Cite+"; "+level.Cite)
	}
	for _, i := range ones {
		if o, why := JudgeIndication(level, i.Indication, float64(r.in.Body.Confidence)); o != OutcomeAccepted {
			r.missing(string(id), o.String()+" (record "+x.ID+"): "+i.count()+why, map[Outcome]string{OutcomeRefused: "repair again, or ask the manufacturer"}[o], a.Cite+"; "+level.Cite)
		}
	}
}

// visual wants a piece of work to have been looked at, and to have the quality asked for.
// Where several qualities are asked for a record names the one that it shows.
func (r *gate) visual(p body.Procedure, a body.Acceptance, c Chosen, name string) {
	if !r.onceOf(c, string(a.Show), a.ID, a.Quality, a.Cite) {
		return
	}
	several := len(r.qualities(p, c)) > 1
	want, asked := "", ""
	if several {
		want, asked = a.Quality, " ("+a.Quality+")"
	}
	xs := r.shownOf(c, body.ShowVisual, want)
	other := a.Quality
	if several {
		other = ""
	}
	for _, x := range r.shownOf(c, body.ShowVisual, other) { // what speaks against it counts, however it is named
		if !several || !x.Met {
			xs = append(xs, x)
		}
	}
	if !slices.ContainsFunc(xs, func(x job.Record) bool { return !several || x.What == want }) {
		hint := "look for: " + a.Quality
		if several {
			hint = "enter a record of what was seen, with these words under 'what'"
		}
		r.wanting(Missing{Where: string(c.Finding), Text: "visual inspection after " + name + " is not on record" + asked, Hint: hint, Cite: a.Cite},
			Wanted{Entry: WantSeen, Finding: c.Finding, Serves: r.alike(c), What: want, Must: a.Quality + r.serves(c)})
	}
	for _, x := range xs {
		r.afterTreating(c, x)
		if !x.Met {
			r.missing(string(x.Finding), "the visual quality is not met (record "+x.ID+"): "+a.Quality, "repair again, or ask the manufacturer", a.Cite)
		}
	}
}

// qualities is the qualities that a piece of work has to have to the eye.
func (r *gate) qualities(p body.Procedure, c Chosen) []string {
	var out []string
	for _, a := range p.Acceptance {
		touched := slices.ContainsFunc(r.alike(c), func(id job.FindingID) bool { return r.touches(id, a.Zones) })
		if a.Show == body.ShowVisual && slices.Contains(a.For, c.Kind) && touched && !slices.Contains(out, a.Quality) {
			out = append(out, a.Quality)
		}
	}
	return out
}

// torque wants a record for every joint that was closed and has a torque.
func (r *gate) torque(a body.Acceptance) {
	for _, id := range r.in.Joints {
		j, ok := r.in.Body.Joint(id)
		if !ok || j.Torque <= 0 {
			continue
		}
		x, ok := r.lastOn(body.ShowTorque, id)
		if !ok {
			r.wanting(Missing{Where: string(id), Text: "the torque of " + j.Name + " is not on record (" + j.Torque.String() + ")", Cite: a.Cite}, Wanted{Entry: WantTorque, About: string(id), Must: j.Name + ": " + j.Torque.String()})
			continue
		}
		r.closing(id, x)
		if x.Torque != j.Torque {
			r.missing(string(id), "the tool was set to "+x.Torque.String()+" for "+j.Name+", the body asks for "+j.Torque.String()+" (record "+x.ID+")", "open the joint and close it again with new fasteners where they are used once", a.Cite)
		}
		if why := job.Uncalibrated(x.Device, x.Calibrated, x.On); why != "" {
			r.missing(string(id), "record "+x.ID+" (torque) does not count: "+why, "close the joint again with a tool in calibration ('device' and 'calibrated_until' of the record)", a.Cite)
		}
	}
}

// closing holds a record of a joint against the rule.
func (r *gate) closing(id body.JointID, x job.Record) bool {
	marks := r.acceptedMarks(r.all())
	s := r.stepOf(id)
	if s == nil {
		marks = append(marks, job.Mark{What: "the joint was closed"})
	}
	return r.proven(string(id), x, s, marks, true)
}
