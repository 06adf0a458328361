package report

import (
	"math"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/plan"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// A finding is drawn from the side of the wall it lies on, however thin the wall; one that
// goes through it from either.
func TestFindingIsDrawnFromItsSide(t *testing.T) {
	for axis := range 3 {
		hi := geom.Vec{300, 300, 300}
		hi[axis] = 2.5
		m := &mesh.Mesh{}
		addBox(m, geom.Vec{}, hi, 30)
		f := frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}}
		for side := range 2 {
			at, along, normal := geom.Vec{150, 150, 150}, geom.Vec{}, geom.Vec{}
			at[axis], along[(axis+1)%3], normal[axis] = hi[axis]*float64(side), 20, float64(2*side-1)
			mk := mark{"F", []geom.Vec{at, at.Add(along)}, normal, false}
			v := mostSeen(new(vehicle.Album), m, false, f, []mark{mk})
			if v.Toward.Dot(normal) < 0.99 || !v.best["F"] {
				t.Errorf("axis %d, side %d: drawn %s", axis, side, v.Name)
			}
			mk.both = true
			if v := mostSeen(new(vehicle.Album), m, false, f, []mark{mk}); math.Abs(v.Toward.Dot(normal)) < 0.99 {
				t.Errorf("axis %d, side %d, through: drawn %s", axis, side, v.Name)
			}
		}
	}
}

// Page 1 says which findings allow nothing milder than the gravest that the route does,
// and what every cheaper route waits for.
func TestForcedLine(t *testing.T) {
	option := func(k body.TreatmentKind, v decide.Verdict) decide.Option { return decide.Option{Kind: k, Verdict: v} }
	finding := func(id job.FindingID, o ...decide.Option) decide.Finding { return decide.Finding{ID: id, Options: o} }
	d := decide.Result{Findings: []decide.Finding{
		finding("F1", option(body.Weld, decide.Allowed), option(body.ReplaceCasting, decide.Allowed)),
		finding("F2", option(body.Weld, decide.Undecided), option(body.ReplaceCasting, decide.Allowed)),
		finding("F3", option(body.SectionOff, decide.Forbidden), option(body.ReplaceCasting, decide.Allowed)),
		finding("F4", option(body.Exchange, decide.Allowed)),
	}}
	casting := plan.Item{Kind: body.ReplaceCasting, Findings: []job.FindingID{"F1", "F2", "F3"}}
	weld := func(open bool) plan.Item {
		return plan.Item{Kind: body.Weld, Findings: []job.FindingID{"F1", "F2"}, Open: open}
	}
	bill := func(n unit.Minor) cost.Bill { return cost.Bill{Currency: "EUR", Total: n} }
	part := plan.Item{Kind: body.Exchange, Findings: []job.FindingID{"F4"}}
	dear := compare.Route{ID: "a", Items: []plan.Item{casting, part}, Bill: bill(900)}
	one := compare.Route{ID: "b", Items: []plan.Item{weld(true), part}, Bill: bill(500), Measure: []string{"A1", "A2"}, Ask: []string{"F2"}}
	two := compare.Route{ID: "c", Items: []plan.Item{weld(true)}, Bill: bill(600), Measure: []string{"A2", "A3"}, Ask: []string{"F2"}}
	gone := compare.Route{ID: "d", Items: []plan.Item{weld(true)}, Bill: bill(100), Excluded: "a part cannot be had"}
	for _, c := range []struct {
		name  string
		shown compare.Route
		all   []compare.Route
		want  string
	}{
		{"two findings and an area", dear, []compare.Route{dear, one, two, gone}, "Forced by F2 and F3, for which nothing milder than “replace casting” is allowed. Every cheaper route also waits for A2."},
		{"none cheaper", dear, []compare.Route{dear}, "Forced by F2 and F3, for which nothing milder than “replace casting” is allowed."},
		{"nothing forces it", one, []compare.Route{dear, one, two}, ""},
		{"only looked at", two, []compare.Route{one, two}, "Every cheaper route waits for F2, A1 and A2."},
		{"no work", compare.Route{ID: "nothing", Bill: bill(0)}, []compare.Route{dear}, ""},
	} {
		in := Input{Decide: d, Compare: compare.Result{Routes: c.all}}
		if got := forcedLine(in, c.shown); strings.ReplaceAll(got, "\u00a0", " ") != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
