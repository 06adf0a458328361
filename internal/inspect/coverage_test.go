package inspect

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

func TestCoverage(t *testing.T) {
	// Constructed: every state against both methods.
	for _, c := range []struct {
		needs   body.InspectionMethod
		state   job.AreaState
		covered bool
		shown   job.AreaState
	}{
		{"visual", "seen", true, "seen"}, {"visual", "penetrant", true, "penetrant"},
		{"penetrant", "seen", false, "seen"}, {"penetrant", "penetrant", true, "penetrant"},
		{"visual", "not-reachable", false, "not-reachable"}, {"penetrant", "not-yet", false, "not-yet"},
		{"visual", "", false, "not-yet"}, {"visual", "perhaps", false, "not-yet"},
	} {
		t.Run(string(c.needs)+" "+string(c.state), func(t *testing.T) {
			b := newBench(plate())
			b.body.Inspect = []body.Area{{ID: "1", Name: "left rib", Casting: "C", Zone: "A", Method: c.needs, Finds: 3},
				{ID: "2", Name: "rear wall", Casting: "C", Zone: "B", Method: c.needs, Finds: 2}}
			if c.state != "" {
				look := map[job.AreaState]string{"seen": "VT", "penetrant": "PT"}[c.state]
				b.job.Areas = []job.AreaSeen{{Area: "1", State: c.state, Look: look, By: "T", On: benchDay}, {Area: "2", State: c.state, Look: look, By: "T", On: benchDay}}
			}
			b.crack("F", 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
			r, notes := Run(b.input(t))
			one, two := r.Coverage[0], r.Coverage[1]
			if one.Covered != c.covered || one.State != c.shown || one.FindsMM != 3 {
				t.Errorf("%+v", one)
			}
			if strings.Contains(one.Text+two.Text, "no damage found") != c.covered {
				t.Errorf("texts %q and %q", one.Text, two.Text)
			}
			if c.covered && (!strings.Contains(one.Text, "beyond F") || !strings.Contains(two.Text, "shorter than 2.0 mm")) {
				t.Errorf("texts %q and %q", one.Text, two.Text)
			}
			severity := func(where string, want diag.Severity) {
				n := has(notes, "inspect.not-covered", where)
				if (n != nil) == c.covered {
					t.Errorf("area %s: note %+v", where, n)
				} else if n != nil && n.Severity != want {
					t.Errorf("area %s: severity %v", where, n.Severity)
				} else if n != nil {
					hint := map[body.InspectionMethod]string{"visual": "inspect the area with good light", "penetrant": "penetrant inspection of the area"}[c.needs]
					if c.state == "not-reachable" {
						hint = "make it accessible, then inspect it (" + string(c.needs) + ")"
					}
					if n.Hint != hint {
						t.Errorf("area %s: hint %q, want %q", where, n.Hint, hint)
					}
				}
			}
			severity("1", diag.Blocking) // its zone carries the crack
			severity("2", diag.Caution)
		})
	}
}

func TestLastStateOfAnAreaCounts(t *testing.T) {
	b := newBench(plate())
	b.body.Inspect = []body.Area{{ID: "1", Casting: "C", Zone: "A", Method: "penetrant", Finds: 3}}
	b.job.Areas = []job.AreaSeen{{Area: "1", State: "not-yet"}, {Area: "1", State: "penetrant", Look: "PT", By: "T", On: benchDay}}
	r, notes := Run(b.input(t))
	if !r.Coverage[0].Covered {
		t.Errorf("%+v", r.Coverage[0])
	}
	if n := has(notes, "inspect.zone-without-area", "C"); n == nil || !strings.Contains(n.Text, "zone B") {
		t.Errorf("note %+v", n)
	}
}
