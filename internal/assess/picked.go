package assess

import (
	"cmp"
	"strconv"

	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// Picked is the route a job is about: the one named; else the last choice of a
// person when it still exists, else the best.
func Picked(j *job.State, r compare.Result, id string) (compare.Route, error) {
	if id == "" {
		id = r.Best
		if n := len(j.Choices); n > 0 {
			if _, ok := routeOf(r, j.Choices[n-1].Route); ok {
				id = j.Choices[n-1].Route
			}
		}
	}
	if route, ok := routeOf(r, id); ok {
		return route, nil
	}
	var known []string
	for _, x := range r.Routes {
		known = append(known, x.ID)
	}
	hint := cmp.Or(doc.DidYouMean(id, known), "this job has no routes")
	e := &diag.Error{Kind: diag.NotFound, Op: "pick a route", Subject: "route " + strconv.Quote(id), Msg: "there is no such route", Hint: hint}
	if id == "" {
		e.Subject, e.Msg = "routes", "no route can be taken, so none is picked"
		e.Hint, e.Remedy = hint+"; name one to see what is missing", job.Give(job.GiveRoute)
	}
	return compare.Route{}, e
}

// goneBy is the route that the job goes by; none, without steps and without a bill, where no route
// can be taken.
func goneBy(in Input, r Result) compare.Route {
	var out compare.Route
	if route, err := Picked(in.Job, r.Compare, ""); err == nil {
		out = route
	}
	return out
}

func routeOf(r compare.Result, id string) (compare.Route, bool) {
	for _, x := range r.Routes {
		if x.ID == id {
			return x, true
		}
	}
	return compare.Route{}, false
}

// staleChoice tells of a choice that names no route there is: what a person
// decided on cannot be done any more, or never could.
func staleChoice(in Input, r Result) []diag.Note {
	n := len(in.Job.Choices)
	if n == 0 {
		return nil
	}
	last := in.Job.Choices[n-1].Route
	var known []string
	for _, route := range r.Compare.Routes {
		if route.ID == last {
			return nil
		}
		known = append(known, route.ID)
	}
	return []diag.Note{diag.Say("choice.no-such-route", "the route that was chosen is not among the routes").
		Note(diag.Note{Severity: diag.Blocking, Where: last, Hint: "choose again; " + doc.DidYouMean(last, known)})}
}

// nearlyAsCheap gives every plan the other openings that cost hardly more.
func nearlyAsCheap(in Input, out *Result) {
	for i := range out.Compare.Routes {
		r := &out.Compare.Routes[i]
		if len(r.Plan.Removal) > 0 {
			r.Plan.Nearly, r.Plan.NearlyAll = plan.Alternatives(plan.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Inspect: out.Inspect, Choice: plan.Choice{Items: r.Items}})
		}
	}
}
