package report

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/vehicle"
)

// What a page of lengths says they would settle: of each list with one entry, with none and with
// both, and that nothing is settled only where both are empty.
func TestWhatLengthsWouldSettle(t *testing.T) {
	p := func(ids ...body.PointID) []body.PointID { return ids }
	const nothing = "no point more would be settled"
	for _, c := range []struct {
		placed, decided, open []body.PointID
		want, not             []string
	}{
		{p("A"), p("B"), nil, []string{" A would get a place.", " B would be shown within tolerance"}, []string{nothing, "Open all the same"}},
		{p("A"), nil, p("C"), []string{" A would get a place.", "Open all the same: C."}, []string{nothing, "within tolerance"}},
		{nil, p("B"), nil, []string{" B would be shown within tolerance"}, []string{nothing, "get a place"}},
		{nil, nil, p("C"), []string{nothing, "Open all the same: C."}, []string{"get a place"}},
	} {
		got := strings.Join(nextLead(measure.NextLengths{StdMM: 1, Placed: c.placed, Decided: c.decided, Open: c.open, Rows: make([]measure.NextLength, 1)}), " ")
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%v: no %q in %q", c, w, got)
			}
		}
		for _, w := range c.not {
			if strings.Contains(got, w) {
				t.Errorf("%v: %q in %q", c, w, got)
			}
		}
	}
	if got := nextLead(measure.NextLengths{Open: p("C")}); len(got) != 1 || !strings.HasSuffix(got[0], "Open: C.") {
		t.Errorf("%q", got)
	}
	if got := nextLead(measure.NextLengths{}); len(got) != 1 || strings.Contains(got[0], "Open") {
		t.Errorf("%q", got)
	}
}

// Lengths without a mirror image are named as far as twenty-four, and counted beyond.
func TestLengthsWithoutAMirrorImageAreCounted(t *testing.T) {
	for n, want := range map[int]string{24: "and length A-B23 (1.0 mm).", 25: "and 1 more.", 26: "and 2 more."} {
		var s measure.Sides
		for i := range n {
			s.Alone = append(s.Alone, measure.SideLength{Kind: "length", From: "A", To: body.PointID(fmt.Sprintf("B%d", i)), MeasuredMM: 1})
		}
		if got := strings.Join(strings.Fields(SidesText(s, 100)), " "); !strings.Contains(got, want) {
			t.Errorf("%d: no %q in\n%s", n, want, got)
		}
	}
}

// The drawing of the first page is of a map where no casting with a mesh has a finding that is drawn:
// of the map with the most of them, and of none where none shows any.
func TestFirstPageDrawsAMapWhereNoMeshShowsAnything(t *testing.T) {
	in := fixture(t)
	square := geom.Polygon{{0, 0}, {80, 0}, {80, 80}, {0, 80}}
	plain := func(id body.CastingID, zone body.ZoneID, name string) body.Casting {
		return body.Casting{ID: id, Zones: []body.Zone{{ID: zone, Name: string(zone)}}, Maps: []body.ZoneMap{{ID: body.MapID("M-" + id), Name: name, Size: geom.Flat{100, 100}, Zones: []body.ZoneOutline{{Zone: zone, Outline: square}}}}}
	}
	in.Body = &body.Body{Castings: []body.Casting{plain("K1", "Z1", "First"), plain("K2", "Z2", "Second"), plain("K3", "Z3", "Third")}}
	in.Vehicle = vehicle.New(in.Body, nil)
	in.Job = &job.State{}
	on := func(id job.FindingID, k body.CastingID, z body.ZoneID) inspect.Finding {
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: id})
		return inspect.Finding{ID: id, Casting: k, Located: true, Zones: []inspect.ZoneShare{{Zone: z}}}
	}
	all := []inspect.Finding{on("F1", "K1", "Z1"), on("F2", "K2", "Z2"), on("F3", "K2", "Z2"), on("F4", "K3", "Z3"), on("F5", "K9", "Z9")}
	for _, c := range []struct {
		of   []inspect.Finding
		want string
	}{{all, "Second"}, {all[:1], "First"}, {all[:2], "First"}, {all[3:], "Third"}, {all[4:], ""}} {
		var l frontFindings
		if err := l.draw(in, c.of); err != nil || l.Map != c.want || (l.SVG == "") != (c.want == "") || l.Seen != "" {
			t.Errorf("%d findings: map %q, seen %q, %v", len(c.of), l.Map, l.Seen, err)
		}
	}
}

// The owner reads of one place that has moved, or may have, as of several; and of those that were
// not measured how many they are.
func TestOwnerReadsOfASinglePlace(t *testing.T) {
	moved, maybe, still := measure.PointResult{ID: "P1", Firm: true, Moved: true}, measure.PointResult{ID: "P2"}, measure.PointResult{ID: "P3", Firm: true}
	for _, c := range []struct {
		points []measure.PointResult
		want   string
	}{
		{[]measure.PointResult{moved}, "The structure has moved: of 1 place that were measured, 1 are no longer where they belong"},
		{[]measure.PointResult{moved, still}, "The structure has moved: of 2 places that were measured, 1 are no longer where they belong"},
		{[]measure.PointResult{moved, maybe, maybe}, "The structure has moved: of 3 places that were measured, 1 are no longer where they belong"},
		{[]measure.PointResult{maybe, still}, "We measured 2 places of the structure. None has surely moved; of 1 it is not certain."},
		{[]measure.PointResult{still}, "We measured 1 place of the structure. None has moved as far as the readings can tell."},
	} {
		in := Input{Body: &body.Body{}, Measure: measure.Result{Hypotheses: []measure.Hypothesis{{Points: c.points}}}}
		if got := ownerMoved(in); len(got) != 1 || !strings.HasPrefix(got[0], c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
		in.Body.Points = []body.Point{{ID: "P9"}}
		if got := ownerMoved(in); len(got) != 2 || got[1] != "1 place could not be measured or have not been yet." {
			t.Errorf("%q", got)
		}
	}
}
