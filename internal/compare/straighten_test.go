package compare

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/measure"
	"fettle/internal/plan"
)

// bentBracket is a job with one bend on the bracket, which is bolted on or not, and what rows say of
// it; the bracket has a control point.
func bentBracket(kind body.FindingKind, v verdicts, boltOn bool) Input {
	in := measured(input(verdicts{"swap": v["swap"]}), map[body.PointID]measure.Verdict{"N1": measure.Met, "N2": measure.Met, "C1": measure.Met, "B1": measure.NotMet}, true)
	in.Body.Points = append(in.Body.Points, body.Point{ID: "B1", Part: "bracket"})
	in.Measure.Hypotheses[0].Points = append(in.Measure.Hypotheses[0].Points, measure.PointResult{ID: "B1", Tolerance: measure.NotMet, Firm: true})
	in.Body.Parts[1].BoltOn = boltOn
	in.Body.Treatments = append(in.Body.Treatments, body.Treatment{ID: "pull", Name: "pull", Kind: body.Straighten, Steps: []body.Step{{ID: "s", Name: "pull", Skill: "alu", Fixed: 20}}})
	in.Job.Findings[0].Kind, in.Inspect.Findings[0].Kind = kind, kind
	f := &in.Decide.Findings[0]
	f.Options = nil
	if x, ok := v["pull"]; ok {
		f.Options = append(f.Options, decide.Option{Kind: body.Straighten, Verdict: x, Because: "row pull"})
	}
	if x, ok := v["swap"]; ok {
		f.Options = append(f.Options, decide.Option{Kind: body.Exchange, Verdict: x, Because: "row swap"})
	}
	return in
}

// kindsOn is the kinds of the items of all routes that are not excluded.
func kindsOn(r Result) []string {
	var out []string
	for _, route := range r.Routes {
		for _, it := range route.Items {
			if k := string(it.Kind); route.Excluded == "" && !slices.Contains(out, k) {
				out = append(out, k)
			}
		}
	}
	slices.Sort(out)
	return out
}

// Constructed: a bent bracket is straightened where it is allowed, which deals with its control
// point; a crack in it is not, whoever allows it. Where nothing is allowed a route may reckon with
// an answer that lets a part be straightened, but not one that is out of the question.
func TestABentPartIsStraightened(t *testing.T) {
	for name, c := range map[string]struct {
		kind   body.FindingKind
		v      verdicts
		boltOn bool
		want   string
	}{
		"allowed":             {body.Bend, verdicts{"pull": decide.Allowed}, true, "straighten"},
		"a dent":              {body.Dent, verdicts{"pull": decide.Allowed}, true, "straighten"},
		"both":                {body.Bend, verdicts{"pull": decide.Allowed, "swap": decide.Allowed}, true, "straighten"},
		"a crack":             {body.Crack, verdicts{"pull": decide.Allowed}, true, "exchange bolt-on part"},
		"torn":                {body.Torn, verdicts{"pull": decide.Allowed, "swap": decide.Allowed}, true, "exchange bolt-on part"},
		"forbidden":           {body.Bend, verdicts{"pull": decide.Forbidden, "swap": decide.Allowed}, true, "exchange bolt-on part"},
		"undecided":           {body.Bend, verdicts{"pull": decide.Undecided}, true, "straighten"},
		"asked, bolted":       {body.Bend, verdicts{"pull": decide.Ask}, true, "exchange bolt-on part"},
		"asked, no other way": {body.Bend, verdicts{"pull": decide.Ask}, true, "straighten"},
		"asked, not bolted":   {body.Bend, verdicts{"pull": decide.Ask}, false, "replace part"},
	} {
		in := bentBracket(c.kind, c.v, c.boltOn)
		if name == "asked, no other way" {
			k := slices.IndexFunc(in.Body.Parts, func(p body.Part) bool { return p.ID == in.Job.Findings[0].Part })
			in.Body.Parts = slices.Clone(in.Body.Parts)
			in.Body.Parts[k].Comes = body.Never
		}
		r, _ := Routes(in)
		got := kindsOn(r)
		if !slices.Contains(got, c.want) || c.want != string(body.Straighten) && slices.Contains(got, string(body.Straighten)) {
			t.Errorf("%s: %q, want %s", name, got, c.want)
		}
		for _, route := range r.Routes {
			if slices.ContainsFunc(route.Items, func(it plan.Item) bool { return it.Kind == body.Straighten || it.Kind.NewPart() }) && slices.Contains(route.Ask, "B1") {
				t.Errorf("%s: %s asks about the point of what it puts right", name, route.ID)
			}
			if slices.ContainsFunc(route.Items, func(it plan.Item) bool { return it.Kind == body.Straighten }) && !strings.Contains(strings.ToLower(route.Name), "straighten what is bent") {
				t.Errorf("%s: the route is called %q", name, route.Name)
			}
		}
	}
}

// Constructed: that an answer would let a casting be straightened is assumed on no route, whether a
// row asks or none speaks of it.
func TestNoCastingIsAssumedStraightened(t *testing.T) {
	for _, options := range [][]decide.Option{nil, {{Kind: body.Straighten, Verdict: decide.Ask, Because: "row"}}} {
		in := input(verdicts{"weld": decide.Ask})
		in.Body.Treatments = append(in.Body.Treatments, body.Treatment{ID: "pull", Name: "pull", Kind: body.Straighten, Steps: []body.Step{{ID: "s", Name: "pull", Skill: "alu", Fixed: 20}}})
		in.Job.Findings[0].Kind, in.Inspect.Findings[0].Kind = body.Bend, body.Bend
		in.Decide.Findings[0].Options = options
		r, _ := Routes(in)
		if got := kindsOn(r); slices.Contains(got, string(body.Straighten)) {
			t.Errorf("%q", got)
		}
	}
}

// A finding on another part has no say in what becomes of a point.
func TestAPointIsDealtWithOnItsOwnPart(t *testing.T) {
	in := bentBracket(body.Bend, verdicts{"pull": decide.Allowed}, true)
	in.Body.Points[3].Part = "horn"
	r, _ := Routes(in)
	for _, route := range r.Routes {
		if slices.ContainsFunc(route.Items, func(it plan.Item) bool { return it.Kind == body.Straighten }) && !slices.Contains(route.Ask, "B1") {
			t.Errorf("%s leaves the point of the horn unasked: %v", route.ID, route.Ask)
		}
	}
}
