package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// An answer of the manufacturer holds for a time. What counts is the day of the act that it
// allowed, not the day on which somebody looks: a weld that was made while the answer held
// stays allowed when it has expired since, and one that was made, or made again, after it
// expired does not become so. The act is the treatment: every step of it, on record, by
// people who stand for it; to leave something as it is is done when that is accepted.

// carriedOut is the treatment that was carried out while an answer allowed it, and the last
// day of it; false when it was not, or not all of it, or that is not on record.
func (s *scene) carriedOut(a job.Answer) (body.TreatmentKind, unit.Date, bool) {
	acc, ok := s.acceptance(a.Finding)
	if !ok || !slices.Contains(a.Allow, acc.Kind) || !s.within(a, acc.By, acc.On) {
		return "", unit.Date{}, false
	}
	if acc.Kind == body.Leave {
		return acc.Kind, acc.On, true
	}
	if t, ok := s.bareReplacement(acc); ok {
		last, ok := s.treated(a, acc, t)
		return acc.Kind, last, ok
	}
	for _, t := range s.in.Body.Treatments {
		if t.Kind != acc.Kind || acc.Line != "" && !s.alongLine(t.ID, acc.Line) {
			continue
		}
		if last, ok := s.treated(a, acc, t); ok {
			return acc.Kind, last, true
		}
	}
	return "", unit.Date{}, false
}

// bareReplacement is the one step that a part is replaced with where the body has no treatment
// for that; see package plan.
func (s *scene) bareReplacement(acc job.Accepted) (body.Treatment, bool) {
	if acc.Kind != body.ReplacePart || slices.ContainsFunc(s.in.Body.Treatments, func(t body.Treatment) bool { return t.Kind == acc.Kind }) {
		return body.Treatment{}, false
	}
	for _, sub := range s.subjects {
		if sub.f.ID == acc.Finding && sub.part != nil {
			return body.Treatment{Steps: []body.Step{{Name: "Fit new " + sub.part.Name}}}, true
		}
	}
	return body.Treatment{}, false
}

// within says that an act stands and lies in the time in which an answer holds.
func (s *scene) within(a job.Answer, by string, on unit.Date) bool {
	return !on.Before(a.On) && on.Before(a.Expires) && s.in.Job.Stands(job.Act{By: by, On: on}, s.in.Shop, s.in.acts())
}

func (s *scene) alongLine(t body.TreatmentID, line body.LineID) bool {
	l, ok := s.in.Body.Line(line)
	return ok && l.Treatment == t
}

// acceptance is what was accepted last for a finding.
func (s *scene) acceptance(id job.FindingID) (job.Accepted, bool) {
	var last job.Accepted
	for _, a := range s.in.Job.Accepted {
		if a.Finding == id && !a.On.Before(last.On) {
			last = a
		}
	}
	return last, last.Finding != ""
}

// treated says that every step of a treatment is on record for what was accepted, and all of
// it in the time in which the answer held; and the last day of it.
func (s *scene) treated(a job.Answer, acc job.Accepted, t body.Treatment) (last unit.Date, ok bool) {
	of := s.treatedTogether(acc)
	for _, st := range t.Steps {
		done := false
		for _, x := range s.in.Job.Actuals {
			if !strings.EqualFold(x.Step, st.Name) || x.Finding == "" && !s.onlyOne(st.Name) || x.Finding != "" && !slices.Contains(of, x.Finding) {
				continue
			}
			if x.Unplanned != "" {
				continue
			}
			if !s.within(a, x.By, x.On) || job.Unskilled(x.By, st.Skill, s.in.Shop) != "" {
				return unit.Date{}, false
			}
			done = !x.Going
			if last.Before(x.On) {
				last = x.On
			}
		}
		if !done {
			return unit.Date{}, false
		}
	}
	return last, len(t.Steps) > 0
}

// treatedTogether is the findings that a treatment deals with at once: all on one part for
// which the same cut, or the same new part, was accepted.
func (s *scene) treatedTogether(acc job.Accepted) []job.FindingID {
	out := []job.FindingID{acc.Finding}
	if acc.Kind != body.SectionOff && acc.Kind != body.ReplaceCasting && !acc.Kind.NewPart() {
		return out
	}
	part := map[job.FindingID]body.PartID{}
	for _, f := range s.in.Job.Findings {
		part[f.ID] = f.Part
	}
	for _, f := range s.in.Job.Findings {
		if o, ok := s.acceptance(f.ID); ok && f.ID != acc.Finding && o.Kind == acc.Kind && o.Line == acc.Line && part[f.ID] == part[acc.Finding] {
			out = append(out, f.ID)
		}
	}
	return out
}

// onlyOne says that a record of a step that names no finding can be about one only: no more
// than one finding was accepted for treatments with a step of that name.
func (s *scene) onlyOne(step string) bool {
	n := 0
	for _, f := range s.in.Job.Findings {
		acc, ok := s.acceptance(f.ID)
		has := func(t body.Treatment) bool {
			return t.Kind == acc.Kind && slices.ContainsFunc(t.Steps, func(x body.Step) bool { return strings.EqualFold(x.Name, step) })
		}
		if ok && slices.ContainsFunc(s.in.Body.Treatments, has) {
			n++
		}
	}
	return n == 1
}

// judgedOn is the day by which it is judged whether an answer holds: today, or the last day of
// what was carried out while it held. Then it allows that treatment and no other.
func (s *scene) judgedOn(a job.Answer) (job.Answer, unit.Date) {
	if s.in.Today.Before(a.Expires) {
		return a, s.in.Today
	}
	kind, last, ok := s.carriedOut(a)
	if !ok {
		return a, s.in.Today
	}
	a.Allow = []body.TreatmentKind{kind}
	return a, last
}
