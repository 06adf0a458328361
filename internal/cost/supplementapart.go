package cost

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Moved is a step or part that one of two plans has and the other has not.
type Moved struct {
	ID      string       `json:"id"` // a step as it is in every plan, or a line of parts or materials
	Name    string       `json:"name,omitempty"`
	Skill   body.SkillID `json:"skill,omitempty"`
	Minutes float64      `json:"minutes,omitempty"` // of a step
	Sum     unit.Minor   `json:"sumMinor,omitempty"`
}

// worked is the steps of a plan that take minutes, those that are the same thing together.
func worked(p plan.Plan) []plan.Step {
	var out []plan.Step
	at := map[string]int{}
	for _, s := range p.Steps {
		switch k, there := at[s.Ref]; {
		case s.Minutes == 0 || s.Ref == "":
		case there:
			out[k].Minutes += s.Minutes
		default:
			at[s.Ref] = len(out)
			out = append(out, s)
		}
	}
	return out
}

// AgreedWork is the steps of a plan as an agreed bill keeps them: those that take minutes.
func AgreedWork(p plan.Plan) []job.AgreedStep {
	var out []job.AgreedStep
	for _, s := range worked(p) {
		out = append(out, job.AgreedStep{Step: s.Ref, Findings: s.For, Skill: s.Skill, Minutes: unit.Minutes(s.Minutes)})
	}
	return out
}

// stepsMoved is the steps of an agreed plan against those of a plan now.
type stepsMoved struct {
	known bool // the steps of the agreed plan are on record
	away  []job.AgreedStep
	fresh []plan.Step
	was   map[body.SkillID]int64 // thousandths of a minute of the agreed plan
}

// stepsApart tells which steps two plans share. A step is the same when it is the same thing
// in every plan; one that was for some findings and is now for others of them, or more, is
// the same as well.
func stepsApart(was []job.AgreedStep, now plan.Plan) stepsMoved {
	out := stepsMoved{known: len(was) > 0, was: map[body.SkillID]int64{}}
	taken := make([]bool, len(was))
	for _, w := range was {
		out.was[w.Skill] += thousandths(float64(w.Minutes))
	}
	pair := func(s plan.Step, same func(job.AgreedStep) bool) bool {
		for k, w := range was {
			if !taken[k] && w.Skill == s.Skill && same(w) {
				taken[k] = true
				return true
			}
		}
		return false
	}
	var rest []plan.Step
	for _, s := range worked(now) {
		if !pair(s, func(w job.AgreedStep) bool { return w.Step == s.Ref }) {
			rest = append(rest, s)
		}
	}
	for _, s := range rest {
		if !pair(s, func(w job.AgreedStep) bool {
			return kindOf(w.Step, w.Findings) == kindOf(s.Ref, s.For) && slices.ContainsFunc(w.Findings, func(f job.FindingID) bool { return slices.Contains(s.For, f) })
		}) {
			out.fresh = append(out.fresh, s)
		}
	}
	for k, w := range was {
		if !taken[k] {
			out.away = append(out.away, w)
		}
	}
	return out
}

// kindOf is what a step is in every plan without the findings it is for.
func kindOf(ref string, of []job.FindingID) string {
	if len(of) > 0 {
		ref, _, _ = strings.Cut(ref, " "+string(of[0]))
	}
	return ref
}

// minutes are the thousandths of a minute of a skill that fall away and that are new.
func (m stepsMoved) minutes(skill body.SkillID) (away, fresh int64) {
	for _, w := range m.away {
		if w.Skill == skill {
			away += thousandths(float64(w.Minutes))
		}
	}
	for _, s := range m.fresh {
		if s.Skill == skill {
			fresh += thousandths(s.Minutes)
		}
	}
	return away, fresh
}

// moved is the steps, parts and materials that only one of the plans has.
func (m stepsMoved) moved(last job.Agreed, now Way) (away, fresh []Moved) {
	if m.known {
		for _, w := range m.away {
			away = append(away, Moved{ID: w.Step, Skill: w.Skill, Minutes: float64(w.Minutes)})
		}
		for _, s := range m.fresh {
			fresh = append(fresh, Moved{ID: s.Ref, Name: s.Name, Skill: s.Skill, Minutes: s.Minutes})
		}
	}
	goods := func(id string) bool { return strings.HasPrefix(id, "P-") || strings.HasPrefix(id, "M-") }
	for _, l := range last.Lines {
		if goods(l.ID) && !slices.ContainsFunc(now.Bill.Lines, func(x Line) bool { return x.ID == l.ID }) {
			away = append(away, Moved{ID: l.ID, Sum: l.Sum.Minor})
		}
	}
	for _, l := range now.Bill.Lines {
		if goods(l.ID) && !slices.ContainsFunc(last.Lines, func(x job.AgreedLine) bool { return x.ID == l.ID }) {
			fresh = append(fresh, Moved{ID: l.ID, Name: l.Text, Sum: l.Sum})
		}
	}
	return away, fresh
}

// apart is the difference of a line, apart by what makes it.
func apart(a job.AgreedLine, there bool, l Line, work stepsMoved) Difference {
	d := Difference{ID: l.ID, Text: l.Text, Was: a.Sum.Minor, Is: l.Sum}
	priced := a.Price != (unit.Money{})
	switch {
	case !there:
		d.New = l.Sum
	case l.Kind == LineLabour && priced && work.known:
		skill := body.SkillID(strings.TrimPrefix(l.ID, "L-"))
		away, fresh := work.minutes(skill)
		d.Away, d.New = -a.Price.Minor.Times(away, 60000), l.Price.Times(fresh, 60000)
		d.ByPrice = (l.Price - a.Price.Minor).Times(work.was[skill]-away, 60000)
	case (l.Kind == LineParts || l.Kind == LineMaterials || l.Kind == LineStorage) && priced && a.Price.Minor != 0:
		d.ByPrice = (l.Price - a.Price.Minor).Times(int64(a.Sum.Minor)/int64(a.Price.Minor), 1)
	}
	d.Rest = d.By() - d.Away - d.New - d.ByPrice
	if there {
		d.Why = d.why(a, l)
	}
	return d
}

// why is what differs in a line, in words.
func (d Difference) why(a job.AgreedLine, l Line) string {
	var out []string
	if a.Price != (unit.Money{}) && a.Price.Minor != l.Price && l.Kind != LineTax {
		out = append(out, fmt.Sprintf("the price of one is %s instead of %s", l.Price.Grouped(), a.Price.Minor.Grouped()))
	}
	if a.Amount != "" && a.Amount != l.Amount {
		out = append(out, fmt.Sprintf("%s instead of %s", l.Amount, a.Amount))
	}
	if d.Away != 0 {
		out = append(out, d.Away.Grouped()+" fall away")
	}
	if d.New != 0 {
		out = append(out, d.New.Grouped()+" are new")
	}
	return strings.Join(out, "; ")
}
