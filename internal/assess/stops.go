package assess

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/release"
)

// RestsOn is what of a route rests on answers of the manufacturer.
func RestsOn(in Input, r Result, route compare.Route) []plan.Rests {
	var out []plan.Rests
	answer := func(id string) (job.Answer, bool) {
		i := slices.IndexFunc(in.Job.Answers, func(a job.Answer) bool { return a.ID == id && id != "" })
		if i < 0 {
			return job.Answer{}, false
		}
		return in.Job.Answers[i], true
	}
	for _, it := range route.Items {
		for _, f := range it.Findings {
			if a, ok := answer(answerOf(r.Decide, f, it)); ok {
				out = append(out, plan.Rests{Answer: a, For: []job.FindingID{f}, Whole: it.Kind == body.Leave, What: fmt.Sprintf("%s of %s", it.Kind, f)})
			}
		}
	}
	if route.ID == "" || len(route.Items) == 0 {
		return out
	}
	for _, p := range decide.LeftByAnswer(in.Decide(r.Measure, r.Inspect)) {
		if a, ok := in.Job.PointAnswer(p); ok && keepsPoint(r, p) {
			out = append(out, plan.Rests{Answer: a, Whole: true, What: fmt.Sprintf("leaving control point %s as it is", p)})
		}
	}
	return out
}

// answerOf is the answer that a treatment of a finding rests on; empty when it rests on none.
func answerOf(r decide.Result, f job.FindingID, it plan.Item) string {
	for _, x := range r.Findings {
		for _, o := range x.Options {
			if x.ID == f && o.Kind == it.Kind && o.Line == it.Line {
				return o.Answer
			}
		}
	}
	return ""
}

// keepsPoint says that a control point is out of its tolerance, or may be, so that it takes an
// answer to leave it.
func keepsPoint(r Result, id body.PointID) bool {
	m := release.PointsOf(&r.Measure)
	return m == nil || slices.Contains(m.NotMet, id) || slices.Contains(m.Undecided, id) || slices.Contains(m.Missing, id)
}

// RouteNotes is what speaks against going on with a route as it is planned: steps that are not
// on record though later ones are, and steps after the answer that they rest on expires.
func RouteNotes(in Input, r Result, route compare.Route) []diag.Note {
	out := plan.UnrecordedNotes(route.Plan, in.Job, in.Shop, in.Today)
	return append(out, plan.OutlastedNotes(route.Plan, in.Job, in.Shop, RestsOn(in, r, route), in.Today)...)
}

// RouteStops is what of that blocks.
func RouteStops(in Input, r Result, route compare.Route) []diag.Note {
	return Stopping(RouteNotes(in, r, route))
}

// pickedStops is what blocks the route that the job goes by.
func pickedStops(in Input, r Result) []diag.Note {
	return RouteStops(in, r, goneBy(in, r))
}
