package compare

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// The same set of items has the same key in whatever order it and its findings stand, and
// another has another.
func TestSameItemsSameKey(t *testing.T) {
	weld := func(ids ...job.FindingID) plan.Item {
		return plan.Item{Treatment: "W", Kind: body.Weld, Findings: ids}
	}
	a := key([]plan.Item{weld("F1", "F2"), weld("F3")})
	for _, same := range [][]plan.Item{{weld("F2", "F1"), weld("F3")}, {weld("F3"), weld("F1", "F2")}} {
		if key(same) != a {
			t.Errorf("%+v has another key", same)
		}
	}
	asked := weld("F3")
	asked.Ask = true
	for _, other := range [][]plan.Item{{weld("F1"), weld("F2", "F3")}, {weld("F1", "F2")}, {weld("F1", "F2"), asked}} {
		if key(other) == a {
			t.Errorf("%+v has the same key", other)
		}
	}
	ids := []job.FindingID{"F2", "F1"}
	if key([]plan.Item{{Findings: ids}}); ids[0] != "F2" {
		t.Error("the findings were sorted where they stand")
	}
}

// The ways that bills are held against: every route that has steps but the one named, and
// first that whose bill was agreed last.
func TestWaysBeginWithTheAgreed(t *testing.T) {
	route := func(id string, steps int) Route {
		return Route{ID: id, Plan: plan.Plan{Steps: make([]plan.Step, steps)}}
	}
	r := Result{Routes: []Route{route("a", 1), route("b", 2), route("none", 0), route("c", 1)}}
	ids := func(but string, agreed ...string) string {
		j := &job.State{}
		for _, x := range agreed {
			j.Agreed = append(j.Agreed, job.Agreed{Route: x})
		}
		out := ""
		for _, w := range Ways(r, j, but) {
			out += w.Route + " "
		}
		return out
	}
	for _, c := range [][2]string{{ids(""), "a b c "}, {ids("a"), "b c "}, {ids("a", "c"), "c b "}, {ids("", "c", "b"), "b a c "}, {ids("b", "b"), "a c "}} {
		if c[0] != c[1] {
			t.Errorf("ways %q, want %q", c[0], c[1])
		}
	}
}
