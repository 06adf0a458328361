package decide

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
)

// dimensions wants every control point measured in tolerance, with set-ups that
// count.
func (r *release) dimensions(a body.Acceptance) {
	m := r.in.After
	if m == nil {
		r.missing("", "the control points have not been measured after the repair", "measure them, with set-ups of the stage 'after'; 'fettle plan' says what they have to reach", a.Cite)
		return
	}
	r.setupsAfter(a.Cite)
	for _, x := range []struct {
		points []body.PointID
		text   string
	}{{m.NotMet, "out of tolerance after the repair: "}, {m.Undecided, "the tolerance is undecided after the repair for "}, {m.Missing, "not measured after the repair: "}} {
		var points []body.PointID
		for _, id := range x.points {
			if !slices.Contains(r.in.Left, id) {
				points = append(points, id)
			}
		}
		if len(points) > 0 {
			r.missing("", x.text+joinWords(points), "", a.Cite)
		}
	}
}

// setupsAfter wants every set-up of the stage after to show the repair as it is:
// after every treatment was done and everything was bonded that may move a point,
// and could be handled.
func (r *release) setupsAfter(cite string) {
	marks := r.acceptedMarks(r.all())
	for _, s := range r.in.Steps {
		if s.Asked && s.Treats {
			marks = append(marks, r.doneMark(s)...)
		}
	}
	for _, b := range r.bondsOf() {
		marks = append(marks, job.Mark{On: b.day(b.handled, r.opens), What: "the adhesive of " + b.name + " could be handled"})
	}
	for _, x := range r.in.Job.Setups {
		if x.Stage == job.StageAfter {
			r.setup(x, lastOf(marks), "measure again; a set-up that showed the repair on its way has the stage 'during'", cite)
		}
	}
}

// setupsBefore wants what was measured of the damage to count.
func (r *release) setupsBefore() {
	for _, x := range r.in.Job.Setups {
		if x.Stage == job.StageBefore {
			r.setup(x, nil, "measure again", "")
		}
	}
}

func (r *release) setup(x job.Setup, after []job.Mark, hint, cite string) {
	r.stands(x.ID, "set-up "+x.ID, job.Act{By: x.By, On: x.On, After: slices.Clone(after)}, hint)
	if why := uncalibrated(x.Device, x.Calibrated, x.On); why != "" {
		r.missing(x.ID, "set-up "+x.ID+" does not count: "+why, "have the device checked, and measure again", cite)
	}
}
