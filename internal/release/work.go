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

// minutesOfDay is a whole day.
const minutesOfDay = 24 * 60

// work wants every step of the plan to be on record as done, in the order of the
// plan, by somebody who does such work, with equipment that was in date. A step
// that was begun again is not done.
func (r *gate) work() {
	r.lookUp()
	r.underWay()
	for _, s := range r.in.Steps {
		a, ok := r.done[s.ID]
		switch {
		case !ok && s.Asked:
			r.wanting(Missing{Where: first(s.For), Text: "that \"" + s.Name + "\" was done is not on record", Hint: "enter who did it and when ('actuals' in the job)"}, stepWanted(r.in.Steps, s))
		case ok && !a.Going:
			r.stepDone(s, a)
		}
	}
	for _, c := range r.in.Chosen {
		if c.Kind != body.Leave && !slices.ContainsFunc(r.in.Steps, func(s PlannedStep) bool { return s.Treats && slices.Contains(s.For, c.Finding) }) {
			r.missing(string(c.Finding), "the plan has no step that deals with it", "see that the body has a treatment for "+string(c.Kind), "")
		}
		r.underAnswer(c)
	}
	r.kept()
	r.undone()
}

// underAnswer wants every step of a treatment that an answer of the manufacturer allowed to
// have been done while that answer held.
func (r *gate) underAnswer(c Chosen) {
	o, _ := r.option(c)
	i := slices.IndexFunc(r.in.Job.Answers, func(a job.Answer) bool { return a.ID == o.Answer && a.ID != "" })
	if i < 0 || o.Verdict != decide.Allowed {
		return
	}
	x := r.in.Job.Answers[i]
	for _, s := range r.in.Steps {
		a, ok := r.done[s.ID]
		if !ok || a.Going || !s.Treats || !slices.Contains(s.For, c.Finding) || !a.On.Before(x.On) && a.On.Before(x.Expires) {
			continue
		}
		when := "before answer " + x.ID + " of " + x.On.String()
		if !a.On.Before(x.Expires) {
			when = "after answer " + x.ID + " expired on " + x.Until()
		}
		r.missing(string(c.Finding), fmt.Sprintf("that \"%s\" was done does not count: it is of %s, %s", s.Name, a.On, when), "ask the manufacturer again, and say what was done and when", decide.CiteOf(x))
	}
}

func first(ids []job.FindingID) string {
	if len(ids) == 0 {
		return ""
	}
	return string(ids[0])
}

// lookUp finds the last entry about every step, and which steps on record follow
// which. An entry that names no finding is about a step only when no other has its
// name.
func (r *gate) lookUp() {
	r.done, r.prev, r.next = map[string]job.Actual{}, map[string][]int{}, map[string][]int{}
	steps := workSteps(r.in.Steps)
	for _, a := range r.in.Job.Actuals {
		about := job.About(steps, a)
		if len(about) != 1 || a.Unplanned != "" {
			continue
		}
		s := r.in.Steps[about[0]]
		if last, ok := r.done[s.ID]; !ok || !a.On.Before(last.On) {
			r.done[s.ID] = a
		}
	}
	at := map[string]int{}
	for i, s := range r.in.Steps {
		at[s.ID] = i
	}
	for i, s := range r.in.Steps {
		r.prev[s.ID] = r.recordedBefore(s, at)
		if _, ok := r.done[s.ID]; ok {
			for _, p := range r.prev[s.ID] {
				r.next[r.in.Steps[p].ID] = append(r.next[r.in.Steps[p].ID], i)
			}
		}
	}
}

// workSteps is the steps as records of work are held against them.
func workSteps(steps []PlannedStep) []job.WorkStep {
	out := make([]job.WorkStep, len(steps))
	for i, s := range steps {
		out[i] = job.WorkStep{Ref: s.Ref, Name: s.Name, For: s.For, Skill: s.Skill}
	}
	return out
}

// underWay tells of every step that was begun and of which no later entry says
// that it is done, whether the plan still has it or not.
func (r *gate) underWay() {
	for i, a := range r.in.Job.Actuals {
		later := func(o job.Actual) bool {
			return r.sameStep(o, a) && !o.Going && !o.On.Before(a.On)
		}
		if a.Going && !slices.ContainsFunc(r.in.Job.Actuals[i+1:], later) {
			r.missing(string(a.Finding), fmt.Sprintf("\"%s\" is under way since %s", a.Step, a.On), "finish it, and enter that", "")
		}
	}
}

// stepDone holds one step against the rule.
func (r *gate) stepDone(s PlannedStep, a job.Actual) {
	where, what := first(s.For), "that \""+s.Name+"\" was done"
	after := r.decidedFor(s)
	for _, p := range r.before(s) {
		d := r.done[p.ID]
		after = append(after, job.Mark{On: d.On, At: d.Ended, What: "\"" + p.Name + "\" was done"})
		if from, over := r.began(a), r.after(r.ended(d), unit.Minutes(p.WaitMin)); p.WaitMin > 0 && from < over {
			r.missing(where, fmt.Sprintf("%s does not count: it is taken as begun on %s, and the wait of %s after \"%s\" is over on %s", what, from.words(), unit.Minutes(p.WaitMin).Words(), p.Name, over.words()),
				"where the times of day show that it was, enter them ('began' and 'ended' in the job)", "")
		}
	}
	if !r.stands(where, what, job.Act{By: a.By, On: a.On, At: a.Began, After: after}, "enter it as it was") {
		return
	}
	if why := job.Unskilled(a.By, s.Skill, r.in.Shop); why != "" {
		r.missing(where, what+" does not count: "+why, "say who did it", "")
	}
	if p, ok := r.in.Shop.Signer(a.By); s.Qualified != "" {
		if _, held := p.QualifiedFor(s.Qualified, a.On); !ok || !held {
			r.missing(where, fmt.Sprintf("%s does not count: %s was not qualified for %q on %s", what, a.By, s.Qualified, a.On), "have it done by somebody who is, or enter the certificate in the shop file", "")
		}
	}
	for _, e := range s.Equipment {
		for _, t := range r.in.Shop.Tested {
			if t.Equipment == e && t.Until.Before(a.On) {
				r.missing(where, fmt.Sprintf("%s does not count: the test of the %s ended on %s, the step is of %s", what, e, t.Until, a.On), "have it tested, and do the step again", "")
			}
		}
	}
}

// doneMark is the day on which a step was done, as what no proof of it is older than.
// A step that is not done and has to be is told once, and not with every proof.
func (r *gate) doneMark(s PlannedStep) []job.Mark {
	a, ok := r.done[s.ID]
	if !ok || a.Going {
		if s.Asked {
			return nil
		}
		a.On = unit.Date{}
	}
	return []job.Mark{{On: a.On, At: a.Ended, What: "\"" + s.Name + "\" was done"}}
}

// recordedBefore is the steps on record that a step follows, through those that are
// not.
func (r *gate) recordedBefore(s PlannedStep, at map[string]int) []int {
	var out []int
	seen := map[string]bool{}
	var walk func(ids []string)
	walk = func(ids []string) {
		for _, id := range ids {
			i, ok := at[id]
			if !ok || seen[id] {
				continue
			}
			seen[id] = true
			if _, ok := r.done[id]; ok {
				out = append(out, i)
			} else {
				walk(r.in.Steps[i].After)
			}
		}
	}
	walk(s.After)
	return out
}

// before is the steps on record that a step follows, follows those that follow it.
func (r *gate) before(s PlannedStep) []PlannedStep  { return r.steps(r.prev[s.ID]) }
func (r *gate) follows(s PlannedStep) []PlannedStep { return r.steps(r.next[s.ID]) }

func (r *gate) steps(at []int) []PlannedStep {
	out := make([]PlannedStep, len(at))
	for k, i := range at {
		out[k] = r.in.Steps[i]
	}
	return out
}

// decidedFor is the decision that a step carries out: nothing done before it
// serves it. A treatment carries out the acceptance of its own findings. What goes
// back on and is closed serves all of them, the last included. What prepares
// stays good for a finding that is accepted while the vehicle is open, and is done
// again once it had been closed.
func (r *gate) decidedFor(s PlannedStep) []job.Mark {
	switch {
	case s.Treats && len(s.For) > 0:
		return r.acceptedMarks(s.For)
	case s.Prepares && !r.shutBefore():
		var earliest []job.Mark
		for _, id := range r.all() {
			if m := r.acceptedMarks([]job.FindingID{id}); len(earliest) == 0 || m[0].On.Before(earliest[0].On) {
				earliest = m
			}
		}
		return earliest
	}
	return r.acceptedMarks(r.all())
}

func (r *gate) all() []job.FindingID {
	var out []job.FindingID
	for _, c := range r.in.Chosen {
		out = append(out, c.Finding)
	}
	return out
}

// acceptedMarks is the days on which the treatments of findings were accepted.
func (r *gate) acceptedMarks(ids []job.FindingID) []job.Mark {
	var out []job.Mark
	for _, id := range ids {
		a, _ := r.acceptance(id)
		out = append(out, job.Mark{On: a.On, What: "the treatment of " + string(id) + " was accepted"})
	}
	return lastOf(out)
}

// lastOf keeps the marks that bind: those without a day, and the last.
func lastOf(marks []job.Mark) []job.Mark {
	var out []job.Mark
	var last job.Mark
	for _, m := range marks {
		switch {
		case m.On.IsZero():
			out = append(out, m)
		case last.On.IsZero() || last.On.Before(m.On) || last.On == m.On && last.At < m.At:
			last = m
		}
	}
	if !last.On.IsZero() {
		out = append(out, last)
	}
	return out
}

// shutBefore says that something was closed again before the last treatment was
// accepted.
func (r *gate) shutBefore() bool {
	marks := r.acceptedMarks(r.all())
	if len(marks) == 0 {
		return false
	}
	last := marks[len(marks)-1].On
	return slices.ContainsFunc(r.in.Job.Actuals, func(a job.Actual) bool {
		return a.On.Before(last) && slices.ContainsFunc(r.in.Steps, func(s PlannedStep) bool {
			return s.Shuts && (strings.EqualFold(s.Name, a.Step) || s.Ref != "" && s.Ref == a.Step)
		})
	})
}
