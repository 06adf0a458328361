package report

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/shop"
)

// numbered is so many names.
func numbered[T ~string](n int) []T {
	var out []T
	for i := range n {
		out = append(out, T(fmt.Sprintf("n%d", i+1)))
	}
	return out
}

// TestLongListsSayHowManyMore: each place that names things names as many as it has room for, and says how many
// more there are: of one more than that the last is counted, of as many all are named. How many a place has room
// for is our own choice.
func TestLongListsSayHowManyMore(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	zones := func(n int) (out []inspect.ZoneShare) {
		for _, z := range numbered[body.ZoneID](n) {
			out = append(out, inspect.ZoneShare{Zone: z})
		}
		return out
	}
	findings := func(n int, casting body.CastingID, kind bool) (out []inspect.Finding) {
		for _, id := range numbered[job.FindingID](n) {
			f := inspect.Finding{ID: id, Kind: "crack", Casting: casting, Sides: []inspect.LineSide{{Line: "L"}}}
			if kind {
				f.Kind = body.FindingKind(string(id))
			}
			out = append(out, f)
		}
		return out
	}
	steps := func(n int, set func(s *plan.Step)) (out []plan.Step) {
		for _, id := range numbered[string](n) {
			s := plan.Step{ID: id}
			set(&s)
			out = append(out, s)
		}
		return out
	}
	points := func(n int, tol measure.Verdict) (out []measure.PointResult) {
		for _, id := range numbered[body.PointID](n) {
			out = append(out, measure.PointResult{ID: id, Tolerance: tol})
		}
		return out
	}
	lost := func(n int) (out []plan.Lost) {
		for _, name := range numbered[string](n) {
			out = append(out, plan.Lost{Part: body.PartID(name), Name: name, Quantity: 1})
		}
		return out
	}
	with := func(change func(x *Input)) Input {
		x := in
		state, b := *in.Job, *in.Body
		x.Job, x.Body = &state, &b
		change(&x)
		return x
	}
	route := func(p plan.Plan) pick {
		return pick{Found: true, Route: compare.Route{Plan: p}, Word: word{"", toneGood}}
	}
	for name, c := range map[string]struct {
		most int
		say  func(n int) string
	}{
		"points out of tolerance": {8, func(n int) string { return toleranceLine(movedCount{out: numbered[string](n)}) }},
		"points undecided":        {8, func(n int) string { return toleranceLine(movedCount{unsure: numbered[string](n)}) }},
		"questions of a route":    {8, func(n int) string { return openText(in, compare.Route{Ask: numbered[string](n)}) }},
		"measurements of a route": {8, func(n int) string { return openText(in, compare.Route{Measure: numbered[string](n)}) }},
		"one crack with": {8, func(n int) string {
			return countsWith(with(func(x *Input) { x.Inspect.Groups = []inspect.Group{{ID: "G", Findings: numbered[job.FindingID](n)}} }), inspect.Finding{ID: "F", Group: "G"})
		}},
		"treatments without a row": {12, func(n int) string {
			var d decide.Finding
			for _, k := range numbered[body.TreatmentKind](n) {
				d.Options = append(d.Options, decide.Option{Kind: k})
			}
			_, noRow := optionRows(d)
			return noRow
		}},
		"rows of a treatment": {9, func(n int) string { return source(decide.Option{Rows: numbered[string](n)}) }},
		"rows on the first page": {3, func(n int) string {
			return mildest(with(func(x *Input) {
				x.Decide.Findings = []decide.Finding{{ID: "F", Options: []decide.Option{{Verdict: decide.Allowed, Rows: numbered[string](n)}}}}
			}), inspect.Finding{ID: "F"})
		}},
		"zones": {4, func(n int) string {
			return zonesText(in.Body, inspect.Finding{Casting: "C1", Located: true, Zones: zones(n)})
		}},
		"kinds for the owner": {6, func(n int) string {
			return strings.ReplaceAll(ownerCasting(with(func(x *Input) { x.Inspect.Findings = findings(n, "C1", true) }))[0], "1 n", "n")
		}},
		"new parts for the owner": {8, func(n int) string { return ownerPlan(in, route(plan.Plan{Lost: lost(n)}))[1] }},
		"what a photo is of":      {6, func(n int) string { return shown(Photo{For: numbered[string](n)}).For }},
		"points of a stage": {40, func(n int) string {
			var p measure.Progress
			for _, id := range numbered[body.PointID](n) {
				p.Points = append(p.Points, measure.PointProgress{ID: id, Answer: measure.Answers()[0]})
			}
			return progressLines(p)[0]
		}},
		"steps that wait for a part": {6, func(n int) string {
			return readyRows(plan.Plan{Lost: lost(1), Steps: steps(n, func(s *plan.Step) { s.Awaits = []plan.Awaited{{Kind: plan.Delivery, Part: "n1"}} })})[0].For
		}},
		"steps that use a material": {6, func(n int) string {
			var lines []plan.TakeoffLine
			for _, s := range numbered[string](n) {
				lines = append(lines, plan.TakeoffLine{Step: s})
			}
			return readyRows(plan.Plan{Takeoff: []plan.Takeoff{{Lines: lines}}})[0].For
		}},
		"findings of a step": {12, func(n int) string { return forWords(in, plan.Step{For: numbered[job.FindingID](n)}) }},
		"steps that wait": {8, func(n int) string {
			return orderWords(plan.Plan{Steps: append(steps(n, func(s *plan.Step) { s.After = []string{"X"} }), plan.Step{ID: "X"})}, n)
		}},
		"steps in one go": {6, func(n int) string {
			return togetherWords(plan.Plan{Steps: append(steps(n, func(s *plan.Step) { s.Together = "X" }), plan.Step{Together: "X"})}, n)
		}},
		"skills": {4, func(n int) string {
			var ss []sheetStep
			for _, k := range numbered[string](n) {
				ss = append(ss, sheetStep{Skill: k})
			}
			return skillsOf(ss)
		}},
		"what a card is for":   {12, func(n int) string { return stepCardOf(in, plan.Step{For: numbered[job.FindingID](n)}).For }},
		"what a card is after": {12, func(n int) string { return stepCardOf(in, plan.Step{After: numbered[string](n)}).After }},
		"certain points":       {60, func(n int) string { return certainty{moved: numbered[string](n)}.lines()[0] }},
		"missing points": {40, func(n int) string {
			var bs []body.Point
			for _, id := range numbered[body.PointID](n) {
				bs = append(bs, body.Point{ID: id})
			}
			return measured{points: bs}.next()[0]
		}},
		"set-ups of a temperature": {12, func(n int) string {
			var r measure.Result
			for _, id := range numbered[string](n) {
				r.Thermal = append(r.Thermal, measure.Temperature{Setup: id, Text: "warm"})
			}
			return measured{r: r}.heat()[0]
		}},
		"findings that stay": {20, func(n int) string {
			return marginRows(with(func(x *Input) { x.Inspect.Findings = findings(n, "C1", false) }), body.Line{ID: "L", Casting: "C1"})[0].Value
		}},
		"done again": {6, func(n int) string {
			return buildDone(in, cost.Reality{Steps: []cost.StepReality{{Again: numbered[string](n)}}}).Steps[0].Again
		}},
		"parts on their way": {4, func(n int) string {
			return promisedLine(with(func(x *Input) { promiseAll(x, n) }), plan.Plan{Lost: lost(n)})
		}},
		"parts that come off": {6, func(n int) string {
			var p plan.Plan
			for _, l := range lost(n) {
				p.Removal = append(p.Removal, plan.Removal{Part: l.Part, Name: l.Name})
			}
			return answerOpening(route(p)).Text
		}},
		"parts to buy": {8, func(n int) string { return answerOpening(route(plan.Plan{Lost: lost(n)})).Lines[0] }},
		"findings that are not allowed": {8, func(n int) string {
			return strings.ReplaceAll(answerMay(with(func(x *Input) {
				x.Decide.Permits, x.Decide.Findings = false, nil
				for _, id := range numbered[job.FindingID](n) {
					x.Decide.Findings = append(x.Decide.Findings, decide.Finding{ID: id})
				}
			})).Text, " ask the manufacturer", "")
		}},
		"points out of tolerance in a table": {40, func(n int) string { return outOfTolerance(measure.Hypothesis{Points: points(n, measure.NotMet)})[0] }},
		"points not shown afterwards": {8, func(n int) string {
			return answerAfter(with(func(x *Input) {
				x.After, x.Body.Points = &measure.Result{}, nil
				for _, id := range numbered[body.PointID](n) {
					x.Body.Points = append(x.Body.Points, body.Point{ID: id})
				}
			})).Text
		}},
		"points not measured": {8, func(n int) string {
			x := with(func(x *Input) {
				x.Body.Points = nil
				for _, id := range numbered[body.PointID](n) {
					x.Body.Points = append(x.Body.Points, body.Point{ID: id})
				}
			})
			return strings.Join(answerMoved(x).Lines, " ")
		}},
		"areas not inspected": {12, func(n int) string {
			x := with(func(x *Input) {
				x.Inspect.Coverage = nil
				for _, id := range numbered[string](n) {
					x.Inspect.Coverage = append(x.Inspect.Coverage, inspect.Coverage{Area: id, Name: id})
				}
			})
			for _, s := range nextSteps(x, pick{}) {
				if strings.HasPrefix(s, "Inspect ") {
					return s
				}
			}
			return ""
		}},
		"inspections afterwards": {5, func(n int) string {
			x := with(func(x *Input) { x.Decide.Findings = []decide.Finding{{ID: "F", After: numbered[string](n)}} })
			return strings.Join(answerWorked(x, route(plan.Plan{Steps: make([]plan.Step, 1)})).Lines, " ")
		}},
		"ways to a goal": {12, func(n int) string {
			return wayTo(plan.Plan{Removal: []plan.Removal{{Part: "A", Name: "a", Needs: numbered[body.PartID](n)}}}, nil, []body.PartID{"A"})
		}},
		"cheaper routes' needs": {6, func(n int) string {
			return worthLines(with(func(x *Input) { x.Compare.Worth = []compare.Worth{{Route: "r", Needs: numbered[string](n)}} }), pick{Route: compare.Route{ID: "weld"}})[0]
		}},
		"critical steps": {40, func(n int) string {
			return buildSteps(in, route(plan.Plan{Critical: numbered[string](n), Steps: make([]plan.Step, 1)})).Critical
		}},
	} {
		last, next := fmt.Sprintf("n%d", c.most), fmt.Sprintf("n%d", c.most+1)
		if text := c.say(c.most); strings.Contains(text, " and 1 more") || !strings.Contains(text, last) {
			t.Errorf("%s: of %d it says %q", name, c.most, text)
		}
		if text := c.say(c.most + 1); !strings.Contains(text, " and 1 more") || !strings.Contains(text, last) || strings.Contains(text, next) {
			t.Errorf("%s: of %d it says %q", name, c.most+1, text)
		}
	}
}

// promiseAll promises so many parts.
func promiseAll(in *Input, n int) {
	in.Job.Promises = nil
	for _, id := range numbered[string](n) {
		in.Job.Promises = append(in.Job.Promises, job.Promised{ID: "PR", Item: id, Expected: d(10), On: d(2), By: "ST1"})
	}
	in.Shop = &shop.Shop{}
}
