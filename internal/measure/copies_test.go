package measure

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

func hasNote(r Result, code string) bool {
	return slices.ContainsFunc(r.Notes, func(n diag.Note) bool { return n.Code == "measure."+code })
}

// Copied rows, in the same set-up or as a set-up of their own, change no figure;
// before, a copy of every row made every uncertainty look 1.4 times smaller.
// A second measurement is none. Constructed, seed 41.
func TestCopiesCountOnce(t *testing.T) {
	c := newCar(16, 41)
	c.moveRear(0.3, 15)
	in := c.measure(0.5)
	in.Impact = "rear"
	in.Readings = append(in.Readings, spanReading("S1", "length", "P01", "P04", c.at[0].Dist(c.at[3]), 0.5))
	want, _ := Run(in)
	points, _ := json.Marshal(want.Hypotheses)
	for kind, setup := range map[string]string{"reading-repeated": "S1", "setup-copied": "S9"} {
		copied := in
		copied.Readings = append([]job.Reading(nil), in.Readings...)
		for _, r := range in.Readings {
			r.Setup = setup
			if setup == "S1" || r.Kind == "xyz" {
				copied.Readings = append(copied.Readings, r)
			}
		}
		got, _ := Run(copied)
		if p, _ := json.Marshal(got.Hypotheses); string(p) != string(points) {
			t.Errorf("%s: the figures changed", kind)
		}
		if !hasNote(got, kind) {
			t.Errorf("%s is not named: %+v", kind, got.Notes)
		}
	}
	again := in
	c.readBy(&again, "S9", fromTo(0, 16), 0.5)
	got, _ := Run(again)
	if hasNote(got, "setup-copied") || !(got.Hypotheses[0].Points[0].StdMM[0] < 0.9*want.Hypotheses[0].Points[0].StdMM[0]) {
		t.Errorf("a second measurement counts as a copy: %v then %v", want.Hypotheses[0].Points[0].StdMM, got.Hypotheses[0].Points[0].StdMM)
	}
}

// What is too little, or too much, is told by its true reason and no other.
func TestTrueReason(t *testing.T) {
	c := newCar(12, 42)
	whole := c.measure(0.5)
	part := func(setups ...int) Input { // set-ups of so many points each, none in common
		in := whole
		in.Readings = nil
		from := 0
		for k, n := range setups {
			c.readBy(&in, string(rune('A'+k)), fromTo(from, from+n), 0.5)
			from += n
		}
		return in
	}
	big := newCar(geom.MaxMatches+1, 43).measure(0.5)
	lengths := whole
	lengths.Readings = []job.Reading{spanReading("T", "length", "P01", "P02", 1100, 1), spanReading("T", "length", "P03", "P04", 1100, 1)}
	for _, k := range []struct {
		in   Input
		want string
	}{
		{part(), "no control point was measured"}, {part(1), "measured: 1, at least 4"}, {part(2), "measured: 2, at least 4"}, {part(3), "measured: 3, at least 4"},
		{part(2, 2), "measured: 4, but no set-up has three"}, {part(3, 2), "measured: 5, of which 3 have a position"},
		{lengths, "lengths and heights between 4 control points do not fix"}, {big, "there are 1025 points, at most 1024"},
	} {
		r, notes := Run(k.in)
		said := 0
		for _, n := range notes {
			if n.Code == "measure.no-steady-block" || n.Code == "measure.search" {
				said++
				if !strings.Contains(n.Text, k.want) {
					t.Errorf("%q, want %q", n.Text, k.want)
				}
			}
		}
		if said != 1 || len(r.Hypotheses) > 0 || !r.Ambiguous {
			t.Errorf("%q: %d reasons, %+v", k.want, said, notes)
		}
	}
}

// A thousand points are worked on. Constructed, seed 44.
func TestThousandPoints(t *testing.T) {
	c := newCar(1000, 44)
	c.moveRear(0.3, 15)
	in := c.measure(0.5)
	in.Impact = "rear"
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || hasNote(r, "search") {
		t.Fatalf("%+v", r.Notes)
	}
	if bad := firmAndWrong(c, r); len(bad) > 0 || len(h.Moved) < 250 {
		t.Errorf("%d moved, firm and wrong: %v", len(h.Moved), bad)
	}
}
