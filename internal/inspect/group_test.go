package inspect

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

func job1(kind body.FindingKind, at ...geom.Vec) job.Finding {
	return job.Finding{ID: "F", Kind: kind, Part: "P", Trace: at, Std: 0.5}
}

// members are the groups in short.
func members(r Result) string {
	var out []string
	for _, g := range r.Groups {
		var ids []string
		for _, id := range g.Findings {
			ids = append(ids, string(id))
		}
		out = append(out, strings.Join(ids, "+"))
	}
	return strings.Join(out, " ")
}

func TestGroupsOnOneLine(t *testing.T) {
	// Constructed: cracks at [0,8], [13,21], [30,36], [60,62] mm, so that the
	// gaps are 5, 9 and 24 mm. The bound is inclusive, and cracks that hang
	// together through others count as one.
	intervals := map[job.FindingID][2]float64{"a": {0, 8}, "b": {13, 21}, "c": {30, 36}, "d": {60, 62}}
	for _, c := range []struct {
		gap    float64
		groups string
		length float64 // of the first group
	}{{4.9, "", 0}, {5, "a+b", 21}, {8.9, "a+b", 21}, {9, "a+b+c", 36}, {23.9, "a+b+c", 36}, {24, "a+b+c+d", 62}} {
		for _, order := range []string{"abcd", "dcba", "cadb"} {
			b := newBench(plate())
			b.body.Procedures[0].GroupGap = unit.MM(c.gap)
			for _, id := range strings.Split(order, "") {
				i := intervals[job.FindingID(id)]
				b.crack(job.FindingID(id), 0.001, geom.Vec{20 + i[0], 51, 0}, geom.Vec{20 + i[1], 51, 0})
			}
			r, _ := Run(b.input(t))
			if members(r) != c.groups {
				t.Fatalf("gap %g, order %s: groups %q, want %q", c.gap, order, members(r), c.groups)
			}
			if c.groups == "" {
				continue
			}
			near(t, "group length", r.Groups[0].LengthMM, c.length, 1e-9)
			near(t, "decision of a member", find(t, r, "a").Decision.MM, c.length, 1e-9)
			near(t, "its own length", find(t, r, "a").Length.MM, 8, 1e-9)
			near(t, "spacing of the second", find(t, r, "b").Spacing.MM, 5, 1e-9)
			if n := r.CracksOnCasting("C"); n != 5-len(r.Groups[0].Findings) {
				t.Errorf("gap %g: %d cracks", c.gap, n)
			}
		}
	}
}

func TestGroupTakesTheUncertaintyIn(t *testing.T) {
	// Constructed: gap 7 mm, limit 5 mm, twice sqrt(s^2 + s^2) = 2 mm at
	// s = 1/sqrt 2 mm (JCGM 100:2008 5.1.2 and 6.2).
	for _, c := range []struct {
		std   float64
		group bool
	}{{0.70, false}, {0.71, true}} {
		b := newBench(plate())
		b.crack("a", c.std, geom.Vec{20, 51, 0}, geom.Vec{40, 51, 0})
		b.crack("b", c.std, geom.Vec{47, 51, 0}, geom.Vec{67, 51, 0})
		r, _ := Run(b.input(t))
		if (len(r.Groups) == 1) != c.group {
			t.Errorf("std %g: groups %+v", c.std, r.Groups)
		}
	}
}

func TestGroupOfTipsSeenByEye(t *testing.T) {
	// Constructed: 14 mm apart as seen; with two tips that may lie 4 mm farther
	// on, 6 mm. The two in the gap add nothing to the length, the outer two do.
	b := newBench(plate())
	b.crack("a", 0.5, geom.Vec{20, 51, 0}, geom.Vec{40, 51, 0}).Tips = nil
	b.crack("b", 0.5, geom.Vec{54, 51, 0}, geom.Vec{74, 51, 0}).Tips = nil
	r, _ := Run(b.input(t))
	f := find(t, r, "a")
	near(t, "spacing", f.Spacing.MM, 6, 1e-9)
	near(t, "spacing as seen", f.Spacing.SeenMM, 14, 1e-9)
	if len(r.Groups) != 1 {
		t.Fatalf("groups %+v", r.Groups)
	}
	near(t, "decision", f.Decision.MM, 54+2*4, 1e-9)
	near(t, "std", f.Decision.Std, math.Sqrt(2*.5+.5+2*16./3), 1e-9)
	b.job.Findings[0].Tips = []body.TipMethod{"visual", "penetrant"}
	b.job.Findings[1].Tips = []body.TipMethod{"stop-hole", "visual"}
	if r, _ := Run(b.input(t)); len(r.Groups) != 0 {
		t.Errorf("14 mm apart with sure tips: %+v", r.Groups)
	}
}

func TestGapIsMeasuredAlongTheSurface(t *testing.T) {
	// Constructed on the plate 5 mm thick: two cracks over each other are 5 mm
	// apart through the metal, but more than 100 mm along the surface.
	b := newBench(slab(5))
	b.body.Procedures[0].GroupGap = 6
	b.crack("a", 0.5, geom.Vec{60, 50, 0}, geom.Vec{90, 50, 0})
	b.crack("b", 0.5, geom.Vec{60, 50, -5}, geom.Vec{90, 50, -5})
	r, notes := Run(b.input(t))
	if len(r.Groups) != 0 {
		t.Errorf("grouped through the wall: %+v", r.Groups)
	}
	// The limit of 6 mm and twice 0.7 mm decides; the way known is 105 mm long.
	if s := find(t, r, "a").Spacing; s.MM < 6+2*math.Sqrt(.5)-1e-6 || s.MM > 105 || math.Abs(s.UpperMM-105) > 1e-6 {
		t.Errorf("spacing %+v", s)
	}
	if has(notes, "inspect.opposite-face", "a") == nil {
		t.Error("no note about two cracks on the two sides of one wall")
	}
	// Said to be one crack: linked, not added, with the longer.
	b.job.Findings[1].SameAs = "a"
	b.job.Findings[1].Trace[1][0] = 95
	b.job.Findings[0].Through, b.job.Findings[1].Through = "", ""
	r, notes = Run(b.input(t))
	if members(r) != "a+b" || r.CracksOnCasting("C") != 1 || r.CracksInZone("A") != 1 {
		t.Fatalf("groups %+v", r.Groups)
	}
	for _, f := range r.Findings {
		near(t, "decision", f.Decision.MM, 35, 1e-9)
		if f.Through != "yes" || f.Spacing.To != None {
			t.Errorf("%s: through %q, spacing %+v", f.ID, f.Through, f.Spacing)
		}
	}
	if has(notes, "inspect.through-unknown", "a") != nil || has(notes, "inspect.opposite-face", "a") != nil {
		t.Errorf("notes %+v", notes)
	}
}

func TestOtherFaceThatIsNone(t *testing.T) {
	b := newBench(plate())
	b.crack("a", 0.5, geom.Vec{60, 50, 0}, geom.Vec{90, 50, 0}).SameAs = "nobody"
	_, notes := Run(b.input(t))
	if n := has(notes, "inspect.other-face", "a"); n == nil || n.Severity != diag.Blocking {
		t.Errorf("note %+v", n)
	}
}

func TestGroupWithAnUnknownLength(t *testing.T) {
	b := newBench(plate())
	b.crack("a", 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
	b.crack("b", 0.5, geom.Vec{43, 50, 0})
	r, _ := Run(b.input(t))
	f := find(t, r, "a")
	if len(r.Groups) != 1 || !r.Groups[0].Unknown || f.Decision != nil || len(f.Unknown) == 0 {
		t.Errorf("groups %+v, finding %+v", r.Groups, f)
	}
}

func TestWithoutProcedureThereIsNoDecisionLength(t *testing.T) {
	b := newBench(plate())
	b.job.Opened = unit.Date{Year: 2025, Month: 12, Day: 31}
	b.crack("a", 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
	r, notes := Run(b.input(t))
	if n := has(notes, "inspect.no-procedure", "a"); n == nil || n.Severity != diag.Blocking {
		t.Errorf("note %+v", n)
	}
	if f := r.Findings[0]; f.Decision != nil || f.Length == nil || len(r.Rules) != 0 {
		t.Errorf("%+v", f)
	}
}

// scatter is a job of six cracks on the plate.
func scatter(seed uint64) *bench {
	r := rng(seed)
	b := newBench(plate())
	b.body.Procedures[0].GroupGap = 12
	tips := []body.TipMethod{"visual", "penetrant", "stop-hole"}
	for i := range 6 {
		at := geom.Vec{20 + 150*r.Float64(), 15 + 70*r.Float64(), 0}
		trace := []geom.Vec{at}
		for range r.IntN(4) {
			at = at.Add(geom.Vec{8 * (r.Float64() - .5), 8 * (r.Float64() - .5), 0})
			trace = append(trace, at)
		}
		c := b.crack(job.FindingID(fmt.Sprintf("F%d", i)), 0.2+r.Float64(), trace...)
		c.Tips = []body.TipMethod{tips[r.IntN(3)], tips[r.IntN(3)]}
	}
	return b
}

func TestOrderOfFindingsChangesNothing(t *testing.T) {
	grouped := 0
	for seed := range uint64(12) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			b := scatter(seed)
			first, _ := Run(b.input(t))
			grouped += len(first.Groups)
			r := rng(seed + 1000)
			r.Shuffle(len(b.job.Findings), func(i, j int) {
				b.job.Findings[i], b.job.Findings[j] = b.job.Findings[j], b.job.Findings[i]
			})
			second, _ := Run(b.input(t))
			byID := func(a, b Finding) int { return strings.Compare(string(a.ID), string(b.ID)) }
			slices.SortFunc(first.Findings, byID)
			slices.SortFunc(second.Findings, byID)
			x, err := json.Marshal(first)
			if err != nil {
				t.Fatal(err)
			}
			y, err := json.Marshal(second)
			if err != nil {
				t.Fatal(err)
			}
			if string(x) != string(y) {
				t.Errorf("first\n%s\nshuffled\n%s", x, y)
			}
		})
	}
	if grouped == 0 {
		t.Error("no seed made a group: the test shows nothing")
	}
}

func TestRigidMotionChangesNothing(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			b := scatter(seed)
			before, _ := Run(b.input(t))
			r := rng(seed + 2000)
			x := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			y := x.Cross(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}).Unit()
			z := x.Cross(y)
			shift := geom.Vec{1000 * r.Float64(), -700, 300}
			move := func(p geom.Vec) geom.Vec {
				return x.Scale(p[0]).Add(y.Scale(p[1])).Add(z.Scale(p[2])).Add(shift)
			}
			for i, p := range b.mesh.Points {
				b.mesh.Points[i] = move(p)
			}
			for i := range b.job.Findings {
				for k, p := range b.job.Findings[i].Trace {
					b.job.Findings[i].Trace[k] = move(p)
				}
			}
			after, _ := Run(b.input(t))
			if members(before) != members(after) {
				t.Fatalf("groups %s and %s", members(before), members(after))
			}
			for i, f := range before.Findings {
				same(t, f, after.Findings[i])
			}
		})
	}
}

func same(t *testing.T, f, g Finding) {
	t.Helper()
	const tol = 1e-6
	if f.Length != nil {
		near(t, string(f.ID)+" length", g.Length.MM, f.Length.MM, tol)
		near(t, string(f.ID)+" std", g.Length.Std, f.Length.Std, tol)
		near(t, string(f.ID)+" raw", g.UpperMM, f.UpperMM, tol)
	}
	if f.Decision != nil {
		near(t, string(f.ID)+" decision", g.Decision.MM, f.Decision.MM, tol)
	}
	near(t, string(f.ID)+" spacing", g.Spacing.MM, f.Spacing.MM, tol)
	near(t, string(f.ID)+" border", g.Border.MM, f.Border.MM, tol)
	for i := range f.Zones {
		near(t, string(f.ID)+" zone", g.Zones[i].LengthMM, f.Zones[i].LengthMM, tol)
	}
}

// A group is as long as its cracks and the shortest gaps that connect it. By half the
// sum of the lengths a crack of 20 mm joins one of 1 mm on each end, 9 and 8 mm off its
// end and 3 mm from each other: 1 mm, half their sum, does not join those two, and yet
// the way through both gaps is 8 + 3 mm, not 8 + 9. Constructed.
func TestGroupGoesByTheShortestWay(t *testing.T) {
	for _, again := range []bool{false, true} {
		for _, turned := range []bool{false, true} {
			b := newBench(plate())
			b.body.Procedures[0].GroupGap = 0
			b.body.Procedures[0].Grouping = &body.Grouping{HalfSum: 1, Again: again}
			b.crack("a", 1e-6, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
			b.crack("b", 1e-6, geom.Vec{48, 50, 0}, geom.Vec{49, 50, 0})
			b.crack("c", 1e-6, geom.Vec{48.5, 53, 0}, geom.Vec{49.5, 53, 0})
			if turned {
				slices.Reverse(b.job.Findings)
			}
			r, _ := Run(b.input(t))
			if members(r) != "a+b+c" {
				t.Fatalf("again %v: groups %q", again, members(r))
			}
			near(t, "length of the group", r.Groups[0].LengthMM, 20+1+1+8+3, 1e-3)
		}
	}
}
