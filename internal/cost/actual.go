package cost

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Reality is what was done so far against the plan. Every record of work is in one of
// its lists, and in no two.
type Reality struct {
	Steps  []StepReality `json:"steps"`
	Beyond []WorkBeyond  `json:"beyond,omitempty"`     // work that no step of the plan has
	Unfit  []NotCounted  `json:"notCounted,omitempty"` // records that do not count
	Used   []PartReality `json:"used,omitempty"`       // parts and materials
	// Planned is the minutes of the steps that were recorded, Taken those of all work that
	// counts, Left the planned minutes of steps that are not done and not on record, and what
	// is left of those under way.
	Planned float64    `json:"plannedMinutes"`
	Taken   float64    `json:"takenMinutes"`
	Left    float64    `json:"leftMinutes"`
	Labour  unit.Minor `json:"labourMinor"` // what the difference costs at the shop's rates, without tax
	Parts   unit.Minor `json:"partsMinor"`  // parts and materials beyond the plan, without tax
	Dearer  unit.Minor `json:"dearerMinor"` // what those of the plan cost more than planned, without tax
}

// StepReality is one step that was recorded.
type StepReality struct {
	Step    string     `json:"step"`
	Name    string     `json:"name"`
	Planned float64    `json:"plannedMinutes"`
	Taken   float64    `json:"takenMinutes"` // all times together
	By      string     `json:"by"`
	Going   bool       `json:"underWay,omitempty"` // begun and not done
	Left    float64    `json:"leftMinutes,omitempty"`
	Again   []string   `json:"again,omitempty"` // why it was done once more, each time
	Labour  unit.Minor `json:"labourMinor"`     // at the shop's rate, against the plan
}

// WorkBeyond is work that no step of the plan has: done for another route, or unplanned.
type WorkBeyond struct {
	Name   string     `json:"name"`
	Route  string     `json:"route,omitempty"` // that has the step; empty: none has
	Taken  float64    `json:"takenMinutes"`
	Left   float64    `json:"leftMinutes,omitempty"`
	By     string     `json:"by"`
	Why    string     `json:"why"`
	Labour unit.Minor `json:"labourMinor"`
}

// NotCounted is a record of work that does not count.
type NotCounted struct {
	Name    string  `json:"name"`
	On      string  `json:"on"`
	Minutes float64 `json:"minutes"`
	Why     string  `json:"why"`
}

// PartReality is a part or material that was used.
type PartReality struct {
	ID      string     `json:"id"`
	Planned int        `json:"planned"` // pieces of a part, packs of a material
	Used    int        `json:"used"`
	Beyond  int        `json:"beyond"`
	Sum     unit.Minor `json:"beyondMinor"`
	Dearer  unit.Minor `json:"dearerMinor"` // of those that were planned
}

// RealityOf holds what was recorded against a plan; see job.Work for what counts. Work
// that a step of another way has was done for that one. False says that nothing is on
// record.
func RealityOf(of Way, others []Way, s *shop.Shop, j *job.State, today unit.Date) (Reality, bool) {
	r := &reckoned{shop: s, job: j}
	work, done := j.Work(of.Plan.WorkSteps(), s, today), plan.DoneSteps(of.Plan, j, s, today)
	for k, d := range work.Steps {
		x := of.Plan.Steps[k]
		switch {
		case len(d) > 0:
			r.step(x, d, done[x.ID])
		case !done[x.ID]:
			r.out.Left += x.Minutes
		}
	}
	for _, b := range work.Beyond {
		r.beyond(b.Step, "", b.Why, b.Skill, b.Doings)
	}
	unfit := r.elsewhere(work.Faults, others, today)
	for k, f := range unfit {
		if k > 0 && unfit[k-1].At == f.At {
			r.out.Unfit[len(r.out.Unfit)-1].Why += "; " + f.Text
			continue
		}
		a := j.Actuals[f.At]
		r.out.Unfit = append(r.out.Unfit, NotCounted{a.Step, a.On.String(), float64(a.Minutes), f.Text})
	}
	r.parts(of)
	return r.out, len(j.Actuals) > 0
}

// reckoned holds what one call of RealityOf works with.
type reckoned struct {
	shop  *shop.Shop
	job   *job.State
	out   Reality
	times []job.Doing // all that count
}

// step puts a step that was recorded to the sums. One under way may be done by what was
// recorded after it.
func (r *reckoned) step(x plan.Step, d job.Doings, done bool) {
	last := d[len(d)-1].Last
	t := StepReality{Step: x.ID, Name: x.Name, Planned: x.Minutes, Taken: float64(d.Minutes()), By: last.By, Going: last.Going, Left: float64(d.Left())}
	for _, one := range d {
		if one.Again != "" {
			t.Again = append(t.Again, one.Again)
		}
	}
	if done {
		t.Going, t.Left = false, 0
	}
	t.Labour = r.labour(x.Skill, t.Taken+t.Left, x.Minutes)
	r.out.Steps = append(r.out.Steps, t)
	r.out.Planned, r.out.Taken, r.out.Left, r.out.Labour = r.out.Planned+t.Planned, r.out.Taken+t.Taken, r.out.Left+t.Left, r.out.Labour+t.Labour
	r.times = append(r.times, d...)
}

// beyond puts work that no step of the plan has to the sums.
func (r *reckoned) beyond(name, route, why string, skill body.SkillID, d job.Doings) {
	w := WorkBeyond{Name: name, Route: route, Taken: float64(d.Minutes()), Left: float64(d.Left()), By: d[len(d)-1].Last.By, Why: why}
	if route != "" { // it will not be gone on with
		w.Left = 0
	}
	w.Labour = r.labour(skill, w.Taken+w.Left, 0)
	r.out.Beyond = append(r.out.Beyond, w)
	r.out.Taken, r.out.Left, r.out.Labour = r.out.Taken+w.Taken, r.out.Left+w.Left, r.out.Labour+w.Labour
	r.times = append(r.times, d...)
}

// labour is what minutes cost more than those planned, at the rate of a skill, rounded
// once. Sublet work is paid as agreed with whoever does it.
func (r *reckoned) labour(skill body.SkillID, taken, planned float64) unit.Minor {
	rate, ok := r.shop.Rate(skill)
	if _, sublet := r.shop.Sublet(skill); !ok || sublet {
		return 0
	}
	return rate.Hour.Minor.Times(thousandths(taken)-thousandths(planned), 60000)
}

// elsewhere takes the records that fit no step of the plan but one of another way, the
// first that has it, and gives back the faults of the others.
func (r *reckoned) elsewhere(faults []job.WorkFault, others []Way, today unit.Date) []job.WorkFault {
	var stray []int
	for _, f := range faults {
		if f.Kind == job.WorkNoStep {
			stray = append(stray, f.At)
		}
	}
	for _, o := range others {
		if len(stray) == 0 {
			break
		}
		only := *r.job
		only.Actuals = nil
		for _, i := range stray {
			only.Actuals = append(only.Actuals, r.job.Actuals[i])
		}
		counted := map[int]bool{}
		for k, d := range only.Work(o.Plan.WorkSteps(), r.shop, today).Steps {
			if len(d) == 0 {
				continue
			}
			d = slices.Clone(d)
			for n := range d {
				d[n].Records = slices.Clone(d[n].Records)
				for m, i := range d[n].Records {
					d[n].Records[m] = stray[i]
					counted[stray[i]] = true
				}
			}
			r.beyond(o.Plan.Steps[k].Name, o.Route, "done for route "+o.Route, o.Plan.Steps[k].Skill, d)
		}
		stray = slices.DeleteFunc(slices.Clone(stray), func(i int) bool { return counted[i] })
		faults = slices.DeleteFunc(slices.Clone(faults), func(f job.WorkFault) bool { return counted[f.At] })
	}
	return faults
}
