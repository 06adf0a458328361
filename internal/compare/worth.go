package compare

import (
	"cmp"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/unit"
)

// worth lists the routes that cost less than the best one and only wait for
// something: what it would save to settle it. One that something stands in the way of which
// no answer settles (nobody who can do it, an adhesive that cannot be worked in time) is not
// among them, and none that another of them beats. What the shop can settle itself
// comes first, then what needs the fewest answers, then the largest saving.
func (f *finder) worth(res Result, said map[string][]diag.Note) []Worth {
	var out []Worth
	best := res.Routes[0]
	if res.Best == "" || best.ID == lossID || !dated(best) {
		return nil
	}
	for _, r := range res.Routes[1:] {
		saves := best.Bill.Total - r.Bill.Total
		if !r.Feasible || r.ID == lossID || r.Open == 0 || r.Bill.IsLoss || !dated(r) || saves <= unit.Minor(0) {
			continue
		}
		if slices.ContainsFunc(said[r.ID], diag.Note.Blocks) {
			continue
		}
		w := Worth{Route: r.ID, Saves: saves, Days: best.Plan.WorkDays - r.Plan.WorkDays, Inside: len(r.Ask) == 0}
		for _, x := range r.Measure {
			w.Needs = append(w.Needs, f.settle(x))
		}
		for _, x := range r.Ask {
			w.Needs = append(w.Needs, "the manufacturer's answer on "+x)
		}
		out = append(out, w)
	}
	out = withoutBeaten(out)
	slices.SortStableFunc(out, func(a, b Worth) int {
		return cmp.Or(soFirst(a.Inside, b.Inside), cmp.Compare(len(a.Needs), len(b.Needs)), cmp.Compare(b.Saves, a.Saves))
	})
	return out
}

// withoutBeaten leaves out what another one beats: that saves no less money and no fewer days and
// needs nothing else.
func withoutBeaten(list []Worth) []Worth {
	beats := func(a, b Worth) bool {
		return a.Saves >= b.Saves && a.Days >= b.Days && !slices.ContainsFunc(a.Needs, func(x string) bool { return !slices.Contains(b.Needs, x) })
	}
	var out []Worth
	for i, b := range list {
		if !slices.ContainsFunc(list, func(a Worth) bool { return a.Route != b.Route && beats(a, b) && !beats(b, a) }) &&
			!slices.ContainsFunc(list[:i], func(a Worth) bool { return beats(a, b) && beats(b, a) }) {
			out = append(out, b)
		}
	}
	return out
}

// settle says what has to be done about an open point.
func (f *finder) settle(x string) string {
	if slices.ContainsFunc(f.in.Inspect.Coverage, func(c inspect.Coverage) bool { return c.Area == x }) {
		return "inspect " + x
	}
	if k, ok := body.OfAccess(x); ok {
		casting, _ := f.in.Body.Casting(k)
		return "find out what has to come off to reach the places on " + casting.Name + " that are worked on"
	}
	return "measure " + x + " better"
}
