package release

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// dimensions wants every control point measured in tolerance, with set-ups that
// count.
func (r *gate) dimensions(a body.Acceptance) {
	m := r.in.After
	if m == nil {
		r.wanting(Missing{Text: "the control points have not been measured after the repair", Hint: "measure them, with set-ups of the stage 'after'; the plan says what they have to reach", Remedy: diag.Do(job.ToPlan), Cite: a.Cite}, measuredWanted(r.points())...)
		return
	}
	r.setupsAfter(a.Cite)
	for _, x := range []struct {
		points []body.PointID
		text   string
		again  bool // measuring would show it
	}{{m.NotMet, "out of tolerance after the repair: ", false}, {m.Undecided, "the tolerance is undecided after the repair for ", true}, {m.Missing, "not measured after the repair: ", true}} {
		var points []body.PointID
		for _, id := range x.points {
			if !slices.Contains(r.in.Left, id) {
				points = append(points, id)
			}
		}
		if len(points) == 0 {
			continue
		}
		var wants []Wanted
		if x.again {
			wants = measuredWanted(points)
		}
		r.wanting(Missing{Text: x.text + decide.JoinWords(points), Cite: a.Cite}, wants...)
	}
}

// points is the control points that have to be measured after the repair.
func (r *gate) points() []body.PointID {
	var out []body.PointID
	for _, p := range r.in.Body.Points {
		if !slices.Contains(r.in.Left, p.ID) {
			out = append(out, p.ID)
		}
	}
	return out
}

// setupsAfter wants every set-up of the stage after to show the repair as it is:
// after every treatment was done and everything was bonded that may move a point,
// and could be handled.
func (r *gate) setupsAfter(cite string) {
	marks := r.acceptedMarks(r.all())
	for _, s := range r.in.Steps {
		if s.Asked && s.Treats {
			marks = append(marks, r.doneMark(s)...)
		}
	}
	bonds := r.bondsOf()
	for _, b := range bonds {
		if b.why != "" {
			marks = append(marks, job.Mark{What: "the adhesive of " + b.name + " could be handled"})
		}
	}
	for _, x := range r.in.Job.Setups {
		if x.Stage == job.StageAfter {
			r.setup(x, lastOf(marks), "measure again; a set-up that showed the repair on its way has the stage 'during'", cite)
			r.setupTime(x, bonds, cite)
		}
	}
}

// setupTime wants a set-up not to have been begun before a treatment was done and a
// bond could be handled; of one day it needs the times.
func (r *gate) setupTime(x job.Setup, bonds []bond, cite string) {
	if x.On.IsZero() {
		return // told by the rule for every act
	}
	began, last, what := at(x.On, x.At, r.opens), moment(0), ""
	take := func(m moment, text string) {
		if m > last {
			last, what = m, text
		}
	}
	for _, s := range r.in.Steps {
		if a, ok := r.done[s.ID]; ok && s.Asked && s.Treats && !a.Going && !x.On.Before(a.On) {
			take(r.ended(a), "\""+s.Name+"\" was done")
		}
	}
	for _, b := range bonds {
		if b.why == "" {
			take(b.handled, "the adhesive of "+b.name+" could be handled")
		}
	}
	if began < last {
		r.missing(x.ID, fmt.Sprintf("set-up %s does not count: it is taken as begun on %s, and %s from %s", x.ID, began.words(), what, last.words()),
			"measure again; where the times of day show that it did not, enter them ('at' of the set-up, 'ended' of the step, 'closed' of the bond)", cite)
	}
}

// setupsBefore wants what was measured of the damage to count.
func (r *gate) setupsBefore() {
	for _, x := range r.in.Job.Setups {
		if x.Stage == job.StageBefore {
			r.setup(x, nil, "measure again", "")
		}
	}
}

func (r *gate) setup(x job.Setup, after []job.Mark, hint, cite string) {
	r.stands(x.ID, "set-up "+x.ID, job.Act{By: x.By, On: x.On, After: slices.Clone(after)}, hint)
	if why := job.Uncalibrated(x.Device, x.Calibrated, x.On); why != "" {
		r.missing(x.ID, "set-up "+x.ID+" does not count: "+why, "have the device checked, and measure again", cite)
	}
}
