package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// bonds wants a record for every joint that was bonded again, and for every step of the job
// itself that bonds.
func (r *gate) bonds(a body.Acceptance) {
	for _, id := range r.in.Joints {
		j, ok := r.in.Body.Joint(id)
		if !ok || j.Cures == "" {
			continue
		}
		x, ok := r.lastOn(body.ShowAdhesive, id)
		if !ok {
			r.wanting(Missing{Where: string(id), Text: "the adhesive of " + j.Name + " is not on record (" + string(j.Cures) + ")", Cite: a.Cite}, bondWanted(Wanted{About: string(id)}, j.Name, j.Cures))
			continue
		}
		r.closing(id, x)
		r.adhesiveUsed(string(id), j.Name, []body.MaterialID{j.Cures}, x, a)
	}
	tasks := r.taskBonds()
	for _, b := range tasks {
		r.bonded(b, a)
	}
	r.strayBonds(tasks, func(x job.Record) bool { return x.Finding == "" && x.Joint == "" })
}

// bondOf is one bond: an adhesive in a step of a treatment or of a task of the job. Two steps
// with the same adhesive are two bonds, each with a batch, a time and a temperature of its
// own.
type bondOf struct {
	c        Chosen // the treatment; of a task without a finding
	name     string
	material body.MaterialID // empty: the body does not say with what
	step     *PlannedStep    // nil: the plan has none
	several  bool            // another step of the treatment has the same adhesive: the record has to name its own
	others   []body.MaterialID
}

// adhesive wants a record for each bond of a treatment itself: of a plate, or of the joint
// along a section line, once however many findings it serves.
func (r *gate) adhesive(a body.Acceptance, c Chosen) {
	if !r.onceOf(c, string(a.Show)) {
		return
	}
	own := r.ownBonds(c)
	for _, b := range own {
		r.bonded(b, a)
	}
	ids := r.alike(c)
	r.strayBonds(own, func(x job.Record) bool { return slices.Contains(ids, x.Finding) })
}

// bonded wants the record of a bond, and holds it against the rule.
func (r *gate) bonded(b bondOf, a body.Acceptance) {
	xs := r.bondRecords(b)
	if len(xs) == 0 {
		r.wanting(Missing{Where: string(b.c.Finding), Text: "the adhesive of " + b.name + " is not on record" + r.among(b), Hint: "enter the material, its batch and its last day of use" + r.naming(b), Cite: a.Cite},
			bondWanted(Wanted{Finding: b.c.Finding, Serves: r.servedBy(b.c), Step: r.stepNamed(b)}, b.name+r.among(b)+r.serves(b.c), b.material))
	}
	for _, x := range xs {
		r.afterBonding(b, x)
		r.adhesiveUsed(string(x.Finding), b.name, b.with(), x, a)
	}
}

// servedBy is the findings that a bond serves; none of a task.
func (r *gate) servedBy(c Chosen) []job.FindingID {
	if c.Finding == "" {
		return nil
	}
	return r.alike(c)
}

// with is the adhesive of a bond; none where the body says none.
func (b bondOf) with() []body.MaterialID {
	if b.material == "" {
		return nil
	}
	return []body.MaterialID{b.material}
}

// among tells the bond from the others of its treatment.
func (r *gate) among(b bondOf) string {
	switch {
	case b.several:
		return fmt.Sprintf(" (%s, at \"%s\")", b.material, called(r.in.Steps, *b.step))
	case len(b.others) > 0:
		return " (" + string(b.material) + ")"
	}
	return ""
}

// stepNamed is the step that the record of a bond has to name; empty: none.
func (r *gate) stepNamed(b bondOf) string {
	if b.step == nil || !b.several && b.c.Finding != "" {
		return ""
	}
	return called(r.in.Steps, *b.step)
}

func (r *gate) naming(b bondOf) string {
	if s := r.stepNamed(b); s != "" {
		return ", and 'step: " + s + "'"
	}
	return ""
}

// ownBonds is the bonds of a treatment, by its adhesives and the steps that have them.
func (r *gate) ownBonds(c Chosen) []bondOf {
	materials := slices.Clone(c.Bonds)
	var steps []*PlannedStep
	for i := range r.in.Steps {
		if s := &r.in.Steps[i]; s.Treats && len(s.Bonds) > 0 && len(s.Joints) == 0 && slices.Contains(s.For, c.Finding) {
			steps = append(steps, s)
			for _, m := range s.Bonds {
				if !slices.Contains(materials, m) {
					materials = append(materials, m)
				}
			}
		}
	}
	if len(c.Bonds) == 0 && (c.Kind == body.WeldBacking || c.Kind == body.SectionOff) { // the body does not say with what, which every record is told
		b := bondOf{c: c, name: decide.OptionName(c.Kind, c.Line)}
		if len(steps) > 0 {
			b.step = steps[len(steps)-1]
		}
		return []bondOf{b}
	}
	var out []bondOf
	for _, m := range materials {
		n := len(out)
		for _, s := range steps {
			if slices.Contains(s.Bonds, m) {
				out = append(out, bondOf{c: c, name: decide.OptionName(c.Kind, c.Line), material: m, step: s})
			}
		}
		if len(out) == n {
			out = append(out, bondOf{c: c, name: decide.OptionName(c.Kind, c.Line), material: m})
		}
		for k := n; k < len(out); k++ {
			out[k].several = len(out) > n+1
			out[k].others = slices.DeleteFunc(slices.Clone(materials), func(o body.MaterialID) bool { return o == m })
		}
	}
	return out
}

// taskBonds is the bonds of the steps that belong to no treatment and close no joint.
func (r *gate) taskBonds() []bondOf {
	var out []bondOf
	for i := range r.in.Steps {
		s := &r.in.Steps[i]
		if s.Treats || len(s.Joints) > 0 {
			continue
		}
		for _, m := range s.Bonds {
			out = append(out, bondOf{name: "\"" + s.Name + "\"", material: m, step: s, others: slices.DeleteFunc(slices.Clone(s.Bonds), func(o body.MaterialID) bool { return o == m })})
		}
	}
	return out
}

// allBonds is the bonds of all treatments, each piece of work once, and of the job.
func (r *gate) allBonds() []bondOf {
	var out []bondOf
	for _, c := range r.in.Chosen {
		if c.Finding == r.piece(c) {
			out = append(out, r.ownBonds(c)...)
		}
	}
	return append(out, r.taskBonds()...)
}

// bondRecords is the records of a bond. What was bonded with something that the treatment
// does not have serves none, and is told of each.
func (r *gate) bondRecords(b bondOf) []job.Record {
	if b.c.Finding == "" {
		if x, ok := r.last(func(x job.Record) bool { return x.Finding == "" && x.Joint == "" && r.ofBond(b, x) }); ok {
			return []job.Record{x}
		}
		return nil
	}
	return r.ofPiece(b.c, b.step, func(x job.Record) bool { return r.ofBond(b, x) })
}

// ofBond says that a record of its findings is of a bond: it names its step, or there is no
// other that it could be of.
func (r *gate) ofBond(b bondOf, x job.Record) bool {
	if x.Show != body.ShowAdhesive || x.Material != b.material && slices.Contains(b.others, x.Material) {
		return false
	}
	if x.Step == "" {
		return b.c.Finding != "" && (!b.several || x.Material != b.material)
	}
	return b.step != nil && r.names(*b.step, x.Step, x.Finding)
}

// strayBonds tells of records that are of none of the bonds that they could be of: one that
// does not say in which of several steps it was, or names another one. What it says of the
// adhesive would be overlooked.
func (r *gate) strayBonds(bonds []bondOf, about func(job.Record) bool) {
	for _, x := range r.in.Job.Records {
		if x.Show != body.ShowAdhesive || !about(x) || slices.ContainsFunc(bonds, func(b bondOf) bool { return r.ofBond(b, x) }) {
			continue
		}
		var steps []string
		for _, b := range bonds {
			if b.step != nil {
				steps = append(steps, fmt.Sprintf("%q with %s", called(r.in.Steps, *b.step), b.material))
			}
		}
		text := "record " + x.ID + " does not say in which step " + string(x.Material) + " was used"
		if x.Step != "" {
			text = fmt.Sprintf("record %s has %s at %q, where it is not used", x.ID, x.Material, x.Step)
		}
		hint := "take it out, or say what it is about"
		if len(steps) > 0 {
			hint = "correct 'step' and 'material' in the record: " + decide.JoinWords(steps)
		}
		r.missing(string(x.Finding), text, hint, "")
	}
}

// afterBonding holds the record of a bond against the rule: it belongs to the step that
// bonds, and what follows waits for it.
func (r *gate) afterBonding(b bondOf, x job.Record) {
	marks := r.acceptedMarks(r.all())
	if b.c.Finding != "" {
		marks = r.acceptedMarks(r.alike(b.c))
	}
	if b.step == nil {
		marks = append(marks, job.Mark{What: "it was bonded"})
	}
	r.proven(string(x.Finding), x, b.step, marks, true)
}

// adhesiveUsed wants the adhesive of the plan, not too old, and closed in time.
func (r *gate) adhesiveUsed(where, name string, want []body.MaterialID, x job.Record, a body.Acceptance) {
	if !slices.Contains(want, x.Material) {
		asks := "the body asks for " + decide.JoinWords(want)
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
func (r *gate) openTime(where string, x job.Record, a body.Acceptance) {
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
// the treatments and the job.
func (r *gate) bondsOf() []bond {
	var out []bond
	for _, id := range r.in.Joints {
		if j, ok := r.in.Body.Joint(id); ok && j.Cures != "" {
			x, ok := r.lastOn(body.ShowAdhesive, id)
			out = append(out, r.cure(string(id), j.Name, j.Cures, x, ok, r.stepOf(id)))
		}
	}
	for _, b := range r.allBonds() {
		if b.material == "" {
			continue // told as a bond of which nobody says with what
		}
		xs := r.bondRecords(b)
		for _, x := range xs {
			out = append(out, r.cure(string(x.Finding), b.name, b.material, x, true, b.step))
		}
		if len(xs) == 0 {
			out = append(out, r.cure(string(b.c.Finding), b.name, b.material, job.Record{}, false, b.step))
		}
	}
	return out
}

// cure is how far a bond has cured: counted from the last fastener on record, or from
// the end of its step, with the times of the next colder row of the body, which are
// never shorter, at the coldest of the temperatures on record and the shop's usual one.
func (r *gate) cure(where, name string, id body.MaterialID, x job.Record, recorded bool, s *PlannedStep) bond {
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
func (r *gate) coldest(id body.MaterialID, x job.Record, recorded bool, s *PlannedStep) unit.Celsius {
	out := r.in.Shop.Temp
	if recorded && x.Temp.Known {
		out = min(out, x.Temp.Value)
	}
	for _, f := range r.in.Job.Figures {
		if s != nil && (strings.EqualFold(f.Step, s.Name) || s.Ref != "" && f.Step == s.Ref) && f.Reading == body.CureReading(id) && (f.Finding == "" || slices.Contains(s.For, f.Finding)) {
			out = min(out, unit.Celsius(f.Value.Value-float64(2*f.Std.Value)))
		}
	}
	return out
}

// afterBond is the steps on record that follow a bond; those done in one go with it
// belong to the bonding, and what follows them counts.
func (r *gate) afterBond(s PlannedStep) []PlannedStep {
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
func (r *gate) cured() {
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
