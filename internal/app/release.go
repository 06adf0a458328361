package app

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Release is what is still missing before the vehicle may be handed back.
type Release struct {
	Job     string           `json:"job"`
	Route   string           `json:"route"` // the chosen one; empty: none
	Missing []decide.Missing `json:"missing"`
}

// Ready says that nothing is missing.
func (r Release) Ready() bool { return len(r.Missing) == 0 }

// Release says what is still missing. It gathers what the gate of package decide
// asks for, and judges nothing itself.
func (a *App) Release(c *Case, r Assessment) Release {
	in, route := releaseInput(c, r)
	return Release{Job: c.Job.ID, Route: route, Missing: append([]decide.Missing{}, decide.Release(in)...)}
}

// releaseInput is what the gate takes, and the chosen route; empty: there is none.
func releaseInput(c *Case, r Assessment) (decide.ReleaseInput, string) {
	in := decide.ReleaseInput{Input: decideInput(c, r), Left: decide.LeftByAnswer(decideInput(c, r)),
		Result: r.Decide, Notes: r.Notes, After: measuredAfter(r.After)}
	route, why := chosenRoute(c, r)
	if in.NoRoute = why; why == "" {
		in.Waits, in.Chosen, in.Joints, in.Steps = waitsOf(route), treatmentsOf(c.Body, route), jointsOf(route), stepsOf(route)
	}
	return in, route.ID
}

// chosenRoute is the route of the last choice, or why there is none.
func chosenRoute(c *Case, r Assessment) (compare.Route, string) {
	if len(c.Job.Choices) == 0 {
		return compare.Route{}, "nobody has chosen a route"
	}
	last := c.Job.Choices[len(c.Job.Choices)-1]
	for _, route := range r.Compare.Routes {
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
func waitsOf(route compare.Route) []decide.Wait {
	var out []decide.Wait
	for _, x := range route.Ask {
		out = append(out, decide.Wait{What: x, Ask: true})
	}
	for _, x := range route.Measure {
		out = append(out, decide.Wait{What: x})
	}
	return out
}

// treatmentsOf is what the route does with each finding, and what it bonds with.
func treatmentsOf(b *body.Body, route compare.Route) []decide.Chosen {
	var out []decide.Chosen
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
			out = append(out, decide.Chosen{Finding: f, Kind: i.Kind, Line: i.Line, Item: k, Bonds: bonds})
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
func stepsOf(route compare.Route) []decide.PlannedStep {
	var out []decide.PlannedStep
	for _, s := range route.Plan.Steps {
		if s.Move != nil {
			continue
		}
		opens := s.Phase == plan.PhaseOpen
		out = append(out, decide.PlannedStep{ID: s.ID, Ref: s.Ref, Name: s.Name, For: s.For, Skill: s.Skill, Equipment: s.Equipment,
			Minutes: unit.Minutes(s.Minutes), Asked: !opens, Treats: s.Phase == plan.PhaseRepair, Prepares: opens || s.Phase == plan.PhasePrepare, Shuts: s.Phase == plan.PhaseClose || s.Phase == plan.PhaseFinish,
			Hold: s.Hold, Second: s.Second, Joints: s.Closes, Bonds: s.Bonds, WaitMin: s.WaitMin, Together: s.Together, After: s.Needs, Readings: s.Readings, Uses: usesOf(route.Plan, s)})
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

// measuredAfter is how the points lie after the repair; nil when they have not
// been measured, or no reading of them could be made.
func measuredAfter(m *measure.Result) *decide.MeasuredAfter {
	if m == nil {
		return nil
	}
	h, ok := m.Best()
	if !ok {
		return nil
	}
	out := &decide.MeasuredAfter{Missing: m.Missing}
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

// missingGroups are the headings of the list.
var missingGroups = map[string]string{
	decide.GroupBlocks: "What blocks", decide.GroupRoute: "The route", decide.GroupSafe: "Made safe", decide.GroupDecided: "Decided and accepted",
	decide.GroupReviewed: "Reviewed", decide.GroupWork: "Done", decide.GroupFigures: "Written down", decide.GroupShown: "Shown",
}

// ReleaseText is the list for a terminal.
func (a *App) ReleaseText(r Release, width int) string {
	var b strings.Builder
	if r.Ready() {
		return fmt.Sprintf("Job %s, route %s: nothing is missing.\n", r.Job, r.Route)
	}
	b.WriteString(wrap(fmt.Sprintf("Job %s may not be released yet. Missing: %d.", r.Job, len(r.Missing)), "", "", width))
	group := ""
	for _, m := range r.Missing {
		if m.Group != group {
			group = m.Group
			b.WriteString(missingGroups[group] + ":\n")
		}
		t := m.Text
		if m.Where != "" {
			t = m.Where + ": " + t
		}
		if m.Hint != "" {
			t += "; " + m.Hint
		}
		b.WriteString(wrap(t+source(m.Cite), "- ", "  ", width))
	}
	return b.String()
}
