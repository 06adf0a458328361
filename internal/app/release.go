package app

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/measure"
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

// Release says what is still missing, in the order it has to be settled: what
// blocks, the choice of a route, then decisions and proofs.
func (a *App) Release(c *Case, r Assessment) Release {
	out := Release{Job: c.Job.ID, Missing: []decide.Missing{}}
	miss := func(where, text, hint, cite string) {
		out.Missing = append(out.Missing, decide.Missing{Where: where, Text: text, Hint: hint, Cite: cite})
	}
	for _, n := range r.Notes {
		told := strings.HasPrefix(n.Code, "decide.procedure") || n.Code == "decide.revision-unchecked" || n.Code == decide.CodeAcceptedUnreasoned
		if n.Severity == diag.Blocking && !told { // the others are told by decide.Release
			miss(n.Where, n.Text, n.Hint, n.Source)
		}
	}
	for _, h := range c.Job.Hazards {
		if !h.Cleared {
			miss(string(h.Kind), "not made safe yet: "+h.Text, "have it made safe by somebody qualified", "")
		}
	}
	in := decide.ReleaseInput{Input: decide.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: r.Inspect, Today: unit.DateOf(r.Made)}, Result: r.Decide, After: measuredAfter(r.After)}
	route, why := chosenRoute(c, r)
	if why != "" {
		miss("", why, "choose one ('choices' in the job)", "")
	} else {
		out.Route = route.ID
		in.Chosen, in.Joints, in.Holds = treatmentsOf(route), jointsOf(route), holdsOf(route)
	}
	out.Missing = append(out.Missing, decide.Release(in)...)
	return out
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

func treatmentsOf(route compare.Route) []decide.Chosen {
	var out []decide.Chosen
	for _, i := range route.Items {
		for _, f := range i.Findings {
			out = append(out, decide.Chosen{Finding: f, Kind: i.Kind, Line: i.Line})
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

// holdsOf is the hold points of the steps, in order of work.
func holdsOf(route compare.Route) []decide.Hold {
	var out []decide.Hold
	for _, s := range route.Plan.Steps {
		if s.Hold != "" {
			out = append(out, decide.Hold{Step: s.Name, For: s.For, Text: s.Hold})
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

// ReleaseText is the list for a terminal.
func (a *App) ReleaseText(r Release, width int) string {
	var b strings.Builder
	if r.Ready() {
		return fmt.Sprintf("Job %s, route %s: nothing is missing.\n", r.Job, r.Route)
	}
	b.WriteString(wrap(fmt.Sprintf("Job %s may not be released yet. Missing: %d.", r.Job, len(r.Missing)), "", "", width))
	for _, m := range r.Missing {
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
