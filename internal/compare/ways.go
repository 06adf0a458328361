package compare

import (
	"slices"

	"fettle/internal/cost"
	"fettle/internal/job"
)

// Ways are the routes that have a plan, but for one of them: first the one whose bill
// was agreed last, since what was done before another was taken was done for it.
func Ways(r Result, j *job.State, but string) []cost.Way {
	var out []cost.Way
	agreed := ""
	if n := len(j.Agreed); n > 0 {
		agreed = j.Agreed[n-1].Route
	}
	for _, route := range r.Routes {
		switch {
		case route.ID == but || len(route.Plan.Steps) == 0:
		case route.ID == agreed:
			out = slices.Insert(out, 0, WayOf(route))
		default:
			out = append(out, WayOf(route))
		}
	}
	return out
}

// WayOf is a route as what was done is held against it.
func WayOf(r Route) cost.Way { return cost.Way{Route: r.ID, Plan: r.Plan, Bill: r.Bill} }
