package compare

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/measure"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// measured gives the test body control points and their verdicts. N1 and N2 lie
// on the casting before and behind the line S1 (x = 100), C1 on the cab.
func measured(in Input, verdict map[body.PointID]measure.Verdict, firm bool) Input {
	in.Body.Lines[0].Normal, in.Body.Lines[0].Offset = geom.Vec{1, 0, 0}, 100
	in.Body.Lines[1].Normal, in.Body.Lines[1].Offset = geom.Vec{1, 0, 0}, 300
	in.Body.Points = []body.Point{{ID: "N1", X: 50, Part: "cast"}, {ID: "N2", X: 200, Part: "cast"}, {ID: "C1", X: 900, Part: "cab"}}
	h := measure.Hypothesis{}
	for _, p := range in.Body.Points {
		if v, ok := verdict[p.ID]; ok {
			h.Points = append(h.Points, measure.PointResult{ID: p.ID, Tolerance: v, Firm: firm})
		}
	}
	in.Measure.Hypotheses = []measure.Hypothesis{h}
	return in
}

// Constructed: a point out of tolerance is dealt with by cutting off or
// replacing what it is on, and by nothing else; welding the crack beside it
// leaves the question to the manufacturer.
func TestMovedPointsAreNotForgotten(t *testing.T) {
	crack := verdicts{"weld": decide.Allowed, "S1": decide.Allowed, "cast": decide.Allowed}
	all := map[body.PointID]measure.Verdict{"N1": measure.Met, "N2": measure.Met, "C1": measure.Met}
	with := func(id body.PointID, v measure.Verdict) map[body.PointID]measure.Verdict {
		m := map[body.PointID]measure.Verdict{}
		for k, x := range all {
			m[k] = x
		}
		m[id] = v
		return m
	}
	without := map[body.PointID]measure.Verdict{"N1": measure.Met, "C1": measure.Met}
	for _, c := range []struct {
		name         string
		verdict      map[body.PointID]measure.Verdict
		firm         bool
		route        string
		ask, measure []string
	}{
		{"all in tolerance", all, true, "weld", nil, nil},
		{"moved nose, welded", with("N1", measure.NotMet), true, "weld", []string{"N1"}, nil},
		{"moved nose, cut off", with("N1", measure.NotMet), true, "section-S1", nil, nil},
		{"moved behind the line", with("N2", measure.NotMet), true, "section-S1", []string{"N2"}, nil},
		{"moved behind the line, new casting", with("N2", measure.NotMet), true, "new-casting", nil, nil},
		{"moved cab, new casting", with("C1", measure.NotMet), true, "new-casting", []string{"C1"}, nil},
		{"undecided", with("N1", measure.Undecided), true, "weld", nil, []string{"N1"}},
		{"not measured", without, true, "weld", nil, []string{"N2"}},
		{"not firm", all, false, "new-casting", nil, []string{"C1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _ := Routes(measured(input(crack), c.verdict, c.firm))
			got := route(t, r, c.route)
			if !slices.Equal(got.Ask, c.ask) || !slices.Equal(got.Measure, c.measure) || got.Open != len(c.ask)+len(c.measure) {
				t.Errorf("ask %v, measure %v, open %d; want %v, %v", got.Ask, got.Measure, got.Open, c.ask, c.measure)
			}
		})
	}
}

// Constructed: an area nobody inspected has to be inspected before any route
// that leaves it on the vehicle; the line S1 takes off the zone in front of it.
func TestUninspectedAreasAreNotSound(t *testing.T) {
	in := measured(input(verdicts{"weld": decide.Allowed, "S1": decide.Allowed, "S2": decide.Allowed, "cast": decide.Allowed}), nil, true)
	in.Body.Points = nil
	in.Body.Castings[0].Zones = []body.Zone{{ID: "Z", Label: 1}, {ID: "NOSE", Label: 2}}
	m := bar(400, 50)
	m.Label = []int32{1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 1, 1} // the face at x = 0 is the nose
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"front": s})
	in.Inspect.Coverage = []inspect.Coverage{{Area: "A1", Casting: "front", Zone: "NOSE"}, {Area: "A2", Casting: "front", Zone: "Z"}, {Area: "A3", Casting: "front", Zone: "Z", Covered: true}}
	r, _ := Routes(in)
	for id, want := range map[string][]string{"weld": {"A1", "A2"}, "section-S1": {"A2"}, "new-casting": nil} {
		if got := route(t, r, id).Measure; !slices.Equal(got, want) {
			t.Errorf("%s: inspect %v first, want %v", id, got, want)
		}
	}
}

// With no finding, a moved point still blocks: there is not nothing to do.
func TestNoFindingButMoved(t *testing.T) {
	r, notes := Routes(measured(input(), map[body.PointID]measure.Verdict{"N1": measure.Met, "N2": measure.NotMet, "C1": measure.Met}, true))
	if got := route(t, r, "nothing"); !slices.Equal(got.Ask, []string{"N2"}) || got.Open != 1 {
		t.Errorf("asks %v", got.Ask)
	}
	if len(notes) == 0 || notes[len(notes)-1].Code != "compare.open" {
		t.Errorf("nothing blocks: %v", notes)
	}
}

// Constructed: welding waits for a better measurement and would save money; the
// result says what it needs and that the shop can settle it itself.
func TestWorthDeciding(t *testing.T) {
	r, _ := Routes(input(verdicts{"weld": decide.Undecided, "cast": decide.Allowed}))
	if r.Best != "new-casting" || len(r.Worth) != 1 {
		t.Fatalf("best %s, worth %v", r.Best, r.Worth)
	}
	w := r.Worth[0]
	want := route(t, r, "new-casting").Bill.Total - route(t, r, "weld").Bill.Total
	if w.Route != "weld" || w.Saves != want || !w.Inside || !slices.Equal(w.Needs, []string{"measure F1 better"}) {
		t.Errorf("%+v, want %d saved", w, want)
	}
}

// Constructed: on a bar along x the cut at 100 lies on what the cut at 300
// takes off; to make both is no route.
func TestNestedLinesAreNoRoute(t *testing.T) {
	in := measured(input(verdicts{"S1": decide.Allowed, "cast": decide.Allowed}, verdicts{"S2": decide.Allowed, "cast": decide.Allowed}), nil, true)
	in.Body.Points = nil
	both := func(in Input) bool {
		r, _ := Routes(in)
		return slices.Contains(ids(r), "section-S1+S2")
	}
	if !both(in) {
		t.Fatal("without a mesh nobody knows that the lines are nested")
	}
	s, err := mesh.NewSurface(bar(400, 50))
	if err != nil {
		t.Fatal(err)
	}
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"front": s})
	if both(in) {
		t.Error("both cuts are made, the first on what the second takes off")
	}
}

// bar is a box from the origin, long along x.
func bar(length, width float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Points = append(m.Points, geom.Vec{length * float64(i&1), width * float64(i>>1&1), width * float64(i>>2)})
	}
	m.Faces = [][3]int32{{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}}
	return m
}
