package compare

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/inspect"
)

// A body that gives no access at all: each route that works on the casting waits for one point, however
// many findings and zones there are, and the point is no question to the manufacturer; a new casting,
// for which nothing has to be reached, may start. One record of somebody at the vehicle settles it;
// one that does not count settles nothing. Constructed.
func TestAccessIsAskedOnce(t *testing.T) {
	made := func() Input {
		weld := verdicts{"weld": decide.Allowed, "cast": decide.Allowed}
		in := input(weld, weld, weld, weld)
		in.Body.Access = nil
		for i := range in.Inspect.Findings {
			in.Inspect.Findings[i].Zones = []inspect.ZoneShare{{Zone: body.ZoneID("Z" + string(rune('1'+i))), LengthMM: 20}}
		}
		return in
	}
	in := made()
	r, _ := Routes(in)
	w := route(t, r, "weld")
	if w.Open != 1 || !slices.Equal(w.Measure, []string{body.AccessOf("front")}) || len(w.Ask) > 0 || r.Best != "new-casting" {
		t.Errorf("best %s; weld is open for %v", r.Best, w.OpenFor())
	}
	if len(w.Plan.Gaps) != 1 || len(w.Plan.Gaps[0].To) != 4 || len(w.Plan.Gaps[0].For) != 4 {
		t.Errorf("gaps %+v", w.Plan.Gaps)
	}
	k := slices.IndexFunc(r.Worth, func(x Worth) bool { return x.Route == "weld" })
	if k < 0 || !r.Worth[k].Inside || len(r.Worth[k].Needs) != 1 || !strings.Contains(r.Worth[k].Needs[0], "front casting") {
		t.Errorf("worth %+v", r.Worth)
	}
	if lines := AskLines(r, "F2"); len(lines) != 1 || !strings.Contains(lines[0], "Z1, Z2, Z3 and Z4 on front casting") {
		t.Errorf("asked is %v", lines)
	}
	record := inspect.Access{To: []string{"Z1", "Z2", "Z3", "Z4"}, By: "W1", On: in.Job.Start}
	for fails, best := range map[string]string{"": "weld", "nobody of the shop signed": "new-casting"} {
		in := made()
		x := record
		x.Fails = fails
		in.Inspect.Access = []inspect.Access{x}
		if r, _ := Routes(in); r.Best != best || (route(t, r, "weld").Open == 0) != (fails == "") {
			t.Errorf("%q: best %s, weld open for %v", fails, r.Best, route(t, r, "weld").OpenFor())
		}
	}
	in = made()
	record.To = record.To[:3]
	in.Inspect.Access = []inspect.Access{record}
	if r, _ := Routes(in); route(t, r, "weld").Open != 1 {
		t.Error("three of four zones are enough")
	}
}
