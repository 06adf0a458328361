package inspect

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Of two bores the nearer is known well and the farther, by a tip seen by eye, is
// not: both stay among the elements. Constructed: bores of radius 5 mm, 25 mm left
// and 33 mm right of the ends of a crack whose right tip may run 0 to 8 mm on.
func TestEveryElementOfAClearanceIsKept(t *testing.T) {
	b := newBench(plate())
	b.body.Castings[0].Bores = []body.Bore{{ID: "H1", At: geom.Vec{10, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5},
		{ID: "H2", At: geom.Vec{88, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5}}
	f := b.crack("F", 0.2, geom.Vec{40, 50, 0}, geom.Vec{50, 50, 0})
	f.Tips = []body.TipMethod{"penetrant", "visual"}
	c := firstOf(t, b).Bore
	if c.To != "H1" || len(c.Of) < 2 {
		t.Fatalf("%+v", c)
	}
	found := false
	for _, e := range c.Of {
		found = found || e.To == "H2" && e.Std > 2 && e.MM > c.MM
	}
	if !found {
		t.Errorf("the rougher one is not among %+v", c.Of)
	}
}

// A tip that may run 0 to 2a on may lie in the zone whose border is 1.9 a away, and
// not in one that is 3 a away. The allowance is 4 mm, the border at 100 mm.
func TestTipMayLieInTheNextZone(t *testing.T) {
	for _, c := range []struct {
		x       float64
		touches bool
	}{{92.4, true}, {88, false}} {
		b := newBench(plate())
		b.crack("F", 0.01, geom.Vec{60, 50, 0}, geom.Vec{c.x, 50, 0}).Tips = []body.TipMethod{"penetrant", "visual"}
		if f := firstOf(t, b); f.in("B") != c.touches {
			t.Errorf("a tip at %g mm: zones %+v", c.x, f.Zones)
		}
	}
}

// Every kind of finding is a neighbour, and what parts the wall counts as one with
// a crack 4 mm beside it, unless the procedure says otherwise. Constructed; a group
// gap of 5 mm.
func TestEveryKindIsANeighbour(t *testing.T) {
	for _, c := range []struct {
		kind     body.FindingKind
		named    []body.FindingKind
		near     bool
		together bool
	}{{"break", nil, true, true}, {"torn", nil, true, true}, {"dent", nil, true, false}, {"bend", nil, true, false},
		{"break", []body.FindingKind{"crack"}, false, false}, {"dent", []body.FindingKind{"crack", "dent"}, true, false}} {
		b := newBench(plate())
		b.body.Procedures[0].Neighbours = c.named
		b.crack("F1", 0.01, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
		b.crack("F2", 0.01, geom.Vec{44, 50, 0}, geom.Vec{60, 50, 0}).Kind = c.kind
		r, _ := Run(b.input(t))
		f := find(t, r, "F1")
		if (f.Spacing.To == "F2") != c.near || (f.Group != "") != c.together {
			t.Errorf("%s, neighbours %v: spacing %+v, group %q", c.kind, c.named, f.Spacing, f.Group)
		}
	}
}

// A spacing is known only as far as was looked: the zone beside the crack's own,
// whose border is 40 mm away, is not inspected, or no area is in it.
func TestSpacingIsKnownAsFarAsWasLooked(t *testing.T) {
	for _, c := range []struct {
		open  []string
		where float64 // nearest place not looked at; -1: none
	}{{nil, -1}, {[]string{"A-B"}, 40}, {[]string{"A-A", "A-B"}, 0}} {
		b := newBench(plate())
		b.body.Procedures[0].Areas = []body.AreaRule{{ID: "r", Cite: "test", Of: []body.AreaKind{"zone", "ribs", "bores", "joints"}, Method: "penetrant"}}
		for _, a := range []string{"A-A", "A-B"} {
			s := job.AreaSeen{Area: a, State: "penetrant", By: "T", On: benchDay, Look: "PT"}
			for _, o := range c.open {
				if o == a {
					s.State = "not-yet"
				}
			}
			b.job.Areas = append(b.job.Areas, s)
		}
		b.crack("F1", 0.01, geom.Vec{20, 50, 0}, geom.Vec{60, 50, 0})
		f := firstOf(t, b)
		got := -1.0
		for _, e := range f.Spacing.Of {
			if e.Maybe && (got < 0 || e.MM < got) {
				got = e.MM
			}
		}
		near(t, fmt.Sprint("not looked at ", c.open), got, c.where, 1e-6)
	}
}

// What is said of two cracks is held against the mesh: behind each other through a
// wall of 4 mm they are one crack; on one face, elsewhere or too roughly known they
// are two, whose lengths count together. Constructed, in every order.
func TestRelationsAreHeldAgainstTheMesh(t *testing.T) {
	over := []geom.Vec{{20, 50, 0}, {50, 50, 0}}
	for _, c := range []struct {
		name   string
		trace  []geom.Vec
		std    float64
		branch bool
		one    bool
	}{
		{"behind", []geom.Vec{{25, 50, -4}, {45, 50, -4}}, 0.3, false, true},
		{"on the same face", []geom.Vec{{25, 53, 0}, {45, 53, 0}}, 0.3, false, false},
		{"elsewhere", []geom.Vec{{150, 20, -4}, {170, 20, -4}}, 0.3, false, false},
		{"half behind", []geom.Vec{{40, 50, -4}, {80, 50, -4}}, 0.3, false, false},
		{"behind, roughly known", []geom.Vec{{25, 50, -4}, {45, 50, -4}}, 4, false, false},
		{"a fork", []geom.Vec{{35, 50, 0}, {40, 60, 0}}, 0.3, true, true},
		{"a fork far off", []geom.Vec{{150, 50, 0}, {160, 60, 0}}, 0.3, true, false},
		{"a fork on the other face", []geom.Vec{{35, 50, -4}, {40, 60, -4}}, 0.3, true, false},
		{"a fork roughly known", []geom.Vec{{35, 50, 0}, {40, 60, 0}}, 4, true, false},
	} {
		for _, turned := range []bool{false, true} {
			b := newBench(slab(4))
			b.body.Castings[0].Wall = 4
			b.body.Procedures[0].GroupGap = 1
			b.crack("F1", c.std, over...)
			f := b.crack("F2", c.std, c.trace...)
			if c.branch {
				f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
			} else {
				f.SameAs = "F1"
			}
			if turned {
				b.job.Findings[0], b.job.Findings[1] = b.job.Findings[1], b.job.Findings[0]
			}
			r, notes := Run(b.input(t))
			f1, f2 := find(t, r, "F1"), find(t, r, "F2")
			surely := f1.Piece != "" && f1.Piece == f2.Piece
			if surely != c.one {
				t.Errorf("%s: surely one is %v", c.name, surely)
			}
			if f1.Group == "" || f1.Group != f2.Group || f1.Decision.MM < 30 {
				t.Errorf("%s: their lengths do not count together: %+v", c.name, r.Groups)
			}
			blocked := false
			for _, n := range notes {
				blocked = blocked || n.Severity == diag.Blocking && (n.Code == "inspect.other-face" || n.Code == "inspect.branch-apart")
			}
			if blocked == c.one {
				t.Errorf("%s: blocked is %v", c.name, blocked)
			}
		}
	}
}

// A crack keeps its distance from the next crack, not from its own branch or other
// face; and what hangs together hides no crack that lies farther off. A branch that
// the mesh does not bear out keeps its distance. Constructed on a wall of 4 mm, in
// both orders; the next crack lies straight below the stem, one more 3 mm from it.
func TestBranchIsNoNeighbourOfItsCrack(t *testing.T) {
	for _, far := range []float64{8, 20, 45} {
		for _, turned := range []bool{false, true} {
			b := newBench(slab(4))
			b.body.Castings[0].Wall = 4
			b.body.Procedures[0].GroupGap = 1
			b.crack("F1", 0.3, geom.Vec{20, 50, 0}, geom.Vec{50, 50, 0})
			f := b.crack("F2", 0.3, geom.Vec{35, 50, 0}, geom.Vec{40, 60, 0})
			f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
			b.crack("F3", 0.3, geom.Vec{20, 50 - far, 0}, geom.Vec{50, 50 - far, 0})
			b.crack("F4", 0.3, geom.Vec{20, 47 - far, 0}, geom.Vec{50, 47 - far, 0})
			if turned {
				slices.Reverse(b.job.Findings)
			}
			r, _ := Run(b.input(t))
			for _, id := range []job.FindingID{"F1", "F2"} {
				f := find(t, r, id)
				for _, e := range f.Spacing.Of {
					if e.To == "F1" || e.To == "F2" {
						t.Errorf("%s at %v: its spacing is also to %s", id, far, e.To)
					}
				}
				if f.Spacing.To != "F3" {
					t.Errorf("%s at %v: spacing %+v", id, far, f.Spacing)
				}
			}
			near(t, "stem", find(t, r, "F1").Spacing.MM, far, 1e-6)
			near(t, "next", find(t, r, "F3").Spacing.MM, 3, 1e-6)
		}
	}
	b := newBench(slab(4))
	b.body.Castings[0].Wall = 4
	b.crack("F1", 0.3, geom.Vec{20, 50, 0}, geom.Vec{50, 50, 0})
	f := b.crack("F2", 0.3, geom.Vec{80, 50, 0}, geom.Vec{90, 60, 0})
	f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
	r, _ := Run(b.input(t))
	// 30 mm, less the 4 mm that the end which is no fork may run on unseen
	near(t, "a branch that is none", find(t, r, "F2").Spacing.MM, 26, 1e-6)
}
