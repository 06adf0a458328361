package compare

import (
	"slices"

	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/shop"
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

// WayOf is a route as bills and what was done are held against it.
func WayOf(r Route) cost.Way {
	w := cost.Way{Route: r.ID, Name: r.Name, Plan: r.Plan, Bill: r.Bill}
	switch {
	case r.Excluded != "":
		w.Bar = r.Excluded
	case !r.Feasible:
		w.Bar = r.Because
	case r.ID == lossID:
		w.Bar = "nothing is repaired"
	}
	return w
}

// SupplementOf holds the bill of a route against the one that was agreed last; false when
// nothing was agreed or nothing is different. A route without an identity is none: none can
// be taken.
func SupplementOf(r Result, route Route, s *shop.Shop, j *job.State) (cost.Supplement, bool) {
	h := cost.Held{Now: WayOf(route), Others: Ways(r, j, route.ID)}
	if route.ID == "" {
		h.Now.Bar = "no route can be taken"
	}
	if n := len(j.Agreed); n > 0 {
		for _, x := range r.Routes {
			if x.ID == j.Agreed[n-1].Route {
				w := WayOf(x)
				h.Agreed = &w
			}
		}
	}
	return cost.SupplementOf(h, s, j)
}
