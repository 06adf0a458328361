package release

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Assessed is what the stages found of a job.
type Assessed struct {
	decide.Input
	Decide  decide.Result
	Compare compare.Result
	After   *measure.Result // nil: nothing was measured after the repair
	Notes   []diag.Note     // of all stages
}

// Gate is what the gate found, run once: what is missing, and what would show it.
type Gate struct {
	Route   string // the chosen one; empty: none
	Missing []Missing
	in      Input
	of      Assessed
}

// Ready says that nothing is missing.
func (g Gate) Ready() bool { return len(g.Missing) == 0 }

// Check runs the gate over what was found of a job. It gathers what Release asks
// for, and judges nothing itself.
func Check(of Assessed) Gate {
	in := Input{Input: of.Input, Left: decide.LeftByAnswer(of.Input), Result: of.Decide, Notes: of.Notes, After: PointsOf(of.After)}
	route, why := ChosenRoute(of.Job, of.Compare)
	if in.NoRoute = why; why == "" {
		in.Waits, in.Chosen, in.Joints, in.Steps = waitsOf(route), treatmentsOf(of.Body, route), jointsOf(route), stepsOf(route)
	}
	return Gate{Route: route.ID, Missing: Release(in), in: in, of: of}
}

// ChosenRoute is the route of the last choice, or why there is none.
func ChosenRoute(j *job.State, r compare.Result) (compare.Route, string) {
	if len(j.Choices) == 0 {
		return compare.Route{}, "nobody has chosen a route"
	}
	last := j.Choices[len(j.Choices)-1]
	for _, route := range r.Routes {
		if route.ID != last.Route {
			continue
		}
		if !route.Feasible || route.Excluded != "" {
			return compare.Route{}, fmt.Sprintf("the route that was chosen, %q, cannot be taken: %s", route.ID, orBecause(route))
		}
		return route, ""
	}
	return compare.Route{}, fmt.Sprintf("the route that was chosen, %q, is not among the routes any more", last.Route)
}

func orBecause(r compare.Route) string {
	if r.Excluded != "" {
		return r.Excluded
	}
	return r.Because
}

// waitsOf is what the route waits for.
func waitsOf(route compare.Route) []Wait {
	var out []Wait
	for _, x := range route.Ask {
		out = append(out, Wait{What: x, Ask: true})
	}
	for _, x := range route.Measure {
		out = append(out, Wait{What: x})
	}
	return out
}

// treatmentsOf is what the route does with each finding, and what it bonds with.
func treatmentsOf(b *body.Body, route compare.Route) []Chosen {
	var out []Chosen
	for k, i := range route.Items {
		var bonds []body.MaterialID
		for _, t := range b.Treatments {
			for _, s := range t.Steps {
				for _, m := range b.Bonds(s) {
					if t.ID == i.Treatment && !slices.Contains(bonds, m) {
						bonds = append(bonds, m)
					}
				}
			}
		}
		for _, f := range i.Findings {
			out = append(out, Chosen{Finding: f, Kind: i.Kind, Line: i.Line, Item: k, Bonds: bonds})
		}
	}
	return out
}

func jointsOf(route compare.Route) []body.JointID {
	var out []body.JointID
	for _, p := range route.Plan.Removal {
		for _, j := range p.Joints {
			if !slices.Contains(out, j) {
				out = append(out, j)
			}
		}
	}
	return out
}

// stepsOf is the steps of the route's plan. What comes off is shown by going back
// on; every other step has to be on record, but for moves of the vehicle, which show nothing.
func stepsOf(route compare.Route) []PlannedStep {
	var out []PlannedStep
	for _, s := range route.Plan.Steps {
		if s.Move != nil {
			continue
		}
		opens := s.Phase == plan.PhaseOpen
		out = append(out, PlannedStep{ID: s.ID, Ref: s.Ref, Name: s.Name, For: s.For, Skill: s.Skill, Equipment: s.Equipment,
			Minutes: unit.Minutes(s.Minutes), Asked: !opens, Treats: s.Phase == plan.PhaseRepair, Prepares: opens || s.Phase == plan.PhasePrepare, Shuts: s.Phase == plan.PhaseClose || s.Phase == plan.PhaseFinish,
			Hold: s.Hold, Second: s.Second, Joints: s.Closes, Bonds: s.Bonds, WaitMin: s.WaitMin, Together: s.Together, After: s.Needs, Readings: s.Readings, Faults: s.Faults, Qualified: s.Qualified, Uses: usesOf(route.Plan, s)})
	}
	return out
}

// usesOf is the materials that a step uses and the new parts that it takes.
func usesOf(p plan.Plan, s plan.Step) []string {
	var out []string
	for _, id := range s.Takes {
		out = append(out, string(id))
	}
	for _, t := range p.Takeoff {
		if slices.ContainsFunc(t.Lines, func(l plan.TakeoffLine) bool { return l.Step == s.ID }) {
			out = append(out, string(t.Material))
		}
	}
	return out
}

// PointsOf is how the control points lie by one measuring; nil when they have not
// been measured, or no reading of them could be made.
func PointsOf(m *measure.Result) *MeasuredAfter {
	if m == nil {
		return nil
	}
	h, ok := m.Best()
	if !ok {
		return nil
	}
	out := &MeasuredAfter{Missing: m.Missing}
	for _, p := range h.Points {
		switch {
		case p.Tolerance == measure.NotMet:
			out.NotMet = append(out.NotMet, p.ID)
		case p.Tolerance != measure.Met || !p.Firm:
			out.Undecided = append(out.Undecided, p.ID)
		}
	}
	return out
}
