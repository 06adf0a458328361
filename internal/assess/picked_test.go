package assess

import (
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/job"
)

// A job is about the route that is named, or that was chosen last where it is still there, or
// the best.
func TestWhichRouteAJobIsAbout(t *testing.T) {
	choices := func(ids ...string) *job.State {
		j := &job.State{}
		for _, id := range ids {
			j.Choices = append(j.Choices, job.Choice{Route: id})
		}
		return j
	}
	r := routed("weld", "plate", "new-casting")
	for _, c := range []struct {
		j        *job.State
		id, want string
	}{
		{choices(), "", "weld"}, {choices(), "plate", "plate"},
		{choices("plate"), "", "plate"}, {choices("new-casting", "plate"), "", "plate"}, {choices("plate", "gone"), "", "weld"},
		{choices("plate"), "new-casting", "new-casting"},
	} {
		if got, err := Picked(c.j, r.Compare, c.id); err != nil || got.ID != c.want || got.Plan.Steps[0].Name != c.want {
			t.Errorf("chosen %v, named %q: %q, %v", c.j.Choices, c.id, got.ID, err)
		}
	}
}

// A route that is not there is told with those that are; that none can be taken asks for a name.
func TestRouteThatIsNotThere(t *testing.T) {
	r := routed("weld", "plate")
	var many []string
	for c := 'a'; c <= 'm'; c++ { // too many for a list of known words
		many = append(many, string(c))
	}
	none := routed("weld", "plate")
	none.Compare.Best = ""
	for _, c := range []struct {
		name    string
		r       Result
		id      string
		subject string
		hint    string
		remedy  bool
	}{
		{"misspelt", r, "wedl", `route "wedl"`, `did you mean "weld"?`, false},
		{"unheard of", r, "zzzzzzzzzz", `route "zzzzzzzzzz"`, "known: weld, plate", false},
		{"one of many", routed(many...), "zzzzzzzzzz", `route "zzzzzzzzzz"`, "known are a, b, c, d, e, f, g, h, i, j, k, l and 1 more", false},
		{"none can be taken", none, "", "routes", "known: weld, plate; name one to see what is missing", true},
	} {
		got, err := Picked(&job.State{Choices: []job.Choice{{Route: "gone"}}}, c.r.Compare, c.id)
		e, ok := err.(*diag.Error)
		if !ok || got.ID != "" || e.Kind != diag.NotFound || e.Subject != c.subject || e.Hint != c.hint || (e.Remedy != nil) != c.remedy {
			t.Errorf("%s: %q, %+v", c.name, got.ID, err)
		}
	}
}

// Only the last choice counts: where it names a route that is not there it blocks, with the
// route that was perhaps meant.
func TestChoiceOfNoRoute(t *testing.T) {
	r := routed("weld", "plate")
	for _, c := range []struct {
		choices []string
		blocks  bool
	}{{nil, false}, {[]string{"weld"}, false}, {[]string{"plate"}, false}, {[]string{"gone", "weld"}, false}, {[]string{"weld", "wedl"}, true}, {[]string{"wedl"}, true}} {
		in := Input{Job: &job.State{}}
		for _, id := range c.choices {
			in.Job.Choices = append(in.Job.Choices, job.Choice{Route: id})
		}
		got := staleChoice(in, r)
		if c.blocks != (len(got) > 0) || c.blocks && (len(got) != 1 || !got[0].Blocks() || got[0].Where != "wedl" || !strings.Contains(got[0].Hint, `did you mean "weld"?`)) {
			t.Errorf("chosen %v: %v", c.choices, got)
		}
	}
}
