package inspect

import (
	"math"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

func TestZonesSplitAndTouch(t *testing.T) {
	// Constructed on the plate whose zones meet at x = 100 mm.
	b := newBench(plate())
	b.crack("across", 0.5, geom.Vec{80, 22, 0}, geom.Vec{112, 46, 0}) // 3-4-5: 40 mm, 25 in A, 15 in B
	b.crack("beside", 0.5, geom.Vec{70, 60, 0}, geom.Vec{99.1, 60, 0})
	b.crack("clear", 0.5, geom.Vec{70, 80, 0}, geom.Vec{98.9, 80, 0})
	b.crack("point", 0.5, geom.Vec{130, 80, 0})
	r, _ := Run(b.input(t))
	f := find(t, r, "across")
	if len(f.Zones) != 2 || f.Zones[0].Zone != "A" || f.Zones[1].Zone != "B" || f.Zones[0].Touches || f.Zones[1].Touches {
		t.Fatalf("zones %+v", f.Zones)
	}
	near(t, "in A", f.Zones[0].LengthMM, 25, 1e-9)
	near(t, "in B", f.Zones[1].LengthMM, 15, 1e-9)
	near(t, "border of one that crosses", f.Border.MM, 0, 0)
	// Twice sqrt(0.5^2 + 0.1^2) = 1.02 mm (JCGM 100:2008 5.1.2 and 6.2).
	f = find(t, r, "beside")
	if len(f.Zones) != 2 || f.Zones[1].Zone != "B" || !f.Zones[1].Touches || f.Zones[1].LengthMM != 0 {
		t.Errorf("0.9 mm from the border: %+v", f.Zones)
	}
	near(t, "border", f.Border.MM, 0.9, 1e-9)
	near(t, "std of the border", f.Border.Std, math.Hypot(0.5, 0.1), 1e-9)
	f = find(t, r, "clear")
	if len(f.Zones) != 1 || f.Border.To != "B" {
		t.Errorf("1.1 mm from the border: %+v, border %+v", f.Zones, f.Border)
	}
	f = find(t, r, "point")
	if len(f.Zones) != 1 || f.Zones[0].Zone != "B" || f.Zones[0].Touches {
		t.Errorf("point: %+v", f.Zones)
	}
}

func TestZonesAtACorner(t *testing.T) {
	// Constructed: zones 1, 2 and 3 in strips that end at x = 100 and 105 mm;
	// zone 4 begins at y = 50 mm beside zone 1.
	m := plate()
	for i, f := range m.Faces {
		mid := m.Points[f[0]].Add(m.Points[f[1]]).Add(m.Points[f[2]]).Scale(1. / 3)
		switch {
		case mid[0] > 105:
			m.Label[i] = 3
		case mid[0] < 100 && mid[1] > 50:
			m.Label[i] = 4
		}
	}
	b := newBench(m)
	b.body.Castings[0].Zones = append(b.body.Castings[0].Zones, body.Zone{ID: "C", Label: 3}, body.Zone{ID: "D", Label: 4})
	b.crack("F", 2.5, geom.Vec{70, 48, 0}, geom.Vec{99.5, 48, 0}) // 0.5 mm from B, 2 mm from D, 5.5 mm from C
	b.body.Castings[0].MeshStd = 1
	f := firstOf(t, b)
	if len(f.Zones) != 3 || f.Zones[0].Zone != "A" || f.Zones[1].Zone != "B" || f.Zones[2].Zone != "D" {
		t.Errorf("zones %+v", f.Zones)
	}
	b.job.Findings[0].Std = 3 // within its 6.3 mm lies C too, across B
	if f = firstOf(t, b); len(f.Zones) != 4 {
		t.Errorf("zones %+v", f.Zones)
	}
	near(t, "border", f.Border.MM, 0.5, 1e-9)
	// A border between two other zones is none of this zone's.
	b.job.Findings[0].Trace = []geom.Vec{{115, 48, 0}, {130, 48, 0}}
	if f = firstOf(t, b); f.Border.To != "B" {
		t.Errorf("border %+v", f.Border)
	}
	near(t, "border", f.Border.MM, 10, 1e-9)
}

func TestBorderOfOtherZonesBehindTheWall(t *testing.T) {
	// Constructed: the upper face and the rim are one zone, the lower face is two
	// others whose border runs 5 mm under the crack; the crack's own border is
	// the lower edge of the rim.
	m := slab(5)
	for i, f := range m.Faces {
		lower := m.Points[f[0]][2] + m.Points[f[1]][2] + m.Points[f[2]][2]
		switch {
		case lower > -14.9:
			m.Label[i] = 1
		case halves(m.Points[f[0]].Lerp(m.Points[f[1]], .5)) == 2:
			m.Label[i] = 2
		default:
			m.Label[i] = 3
		}
	}
	b := newBench(m)
	b.crack("F", 0.5, geom.Vec{95, 50, 0}, geom.Vec{105, 50, 0})
	f := firstOf(t, b)
	near(t, "border", f.Border.MM, math.Hypot(50, 5), 1e-9)
	if len(f.Zones) != 1 {
		t.Errorf("zones %+v", f.Zones)
	}
}

func TestTipSeenByEyeRunsOn(t *testing.T) {
	// Constructed: the procedure's allowance is 4 mm for each such tip.
	b := newBench(plate())
	b.body.Castings[0].Bores = []body.Bore{{ID: "H", At: geom.Vec{60, 50, 0}, Axis: geom.Vec{0, 0, 2}, Radius: 5}}
	b.crack("F", 0.5, geom.Vec{75, 50, 0}, geom.Vec{95.5, 50, 0}).Tips = []body.TipMethod{"penetrant", "visual"}
	r, notes := Run(b.input(t))
	f := find(t, r, "F")
	near(t, "decision", f.Decision.MM, 20.5+4, 1e-9)
	near(t, "allowance", f.TipAddMM, 4, 0)
	// JCGM 100:2008 4.3.7: rectangular, half width 4 mm.
	near(t, "std", f.Decision.Std, math.Sqrt(2*.25+16./3), 1e-9)
	near(t, "border, tip by eye", f.Border.MM, 0.5, 1e-9)
	near(t, "border as seen", f.Border.SeenMM, 4.5, 1e-9)
	near(t, "std of the border", f.Border.Std, math.Sqrt(.25+.01+16./3), 1e-9)
	if len(f.Zones) != 2 || !f.Zones[1].Touches {
		t.Errorf("a crack that may run on to the border carries one zone: %+v", f.Zones)
	}
	near(t, "bore, tip by penetrant", f.Bore.MM, 10, 1e-9)
	if n := has(notes, "inspect.tip-visual", "F"); n == nil || n.Severity != diag.Caution {
		t.Errorf("note %+v", n)
	}
	for _, c := range []struct {
		tips []body.TipMethod
		add  float64
	}{{nil, 8}, {[]body.TipMethod{"penetrant"}, 4}, {[]body.TipMethod{"stop-hole", "penetrant"}, 0}, {[]body.TipMethod{"visual", "visual"}, 8},
		{[]body.TipMethod{"penetrant", "glimpsed"}, 4}, {[]body.TipMethod{"penetrant", "penetrant", "visual"}, 4}} {
		b.job.Findings[0].Tips = c.tips
		r, _ := Run(b.input(t))
		near(t, "allowance", r.Findings[0].TipAddMM, c.add, 0)
	}
}

func TestBoreClearance(t *testing.T) {
	// Constructed: least distance of a segment from an axis less the radius.
	b := newBench(plate())
	b.body.Castings[0].Bores = []body.Bore{
		{ID: "far", At: geom.Vec{160, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5},
		{ID: "near", At: geom.Vec{40, 30, -12}, Axis: geom.Vec{0, 0, 1}, Radius: 6}, // 12 mm below, within three walls
		{ID: "deep", At: geom.Vec{40, 42, -40}, Axis: geom.Vec{0, 0, 1}, Radius: 6}, // its axis ends 25 mm below
	}
	b.crack("F", 0.5, geom.Vec{20, 50, 0}, geom.Vec{70, 50, 0})
	f := firstOf(t, b)
	if f.Bore.To != "near" {
		t.Errorf("nearest bore %+v", f.Bore)
	}
	near(t, "bore", f.Bore.MM, 14, 1e-9)
	b.job.Findings[0].Trace = []geom.Vec{{20, 33, 0}, {70, 33, 0}}
	near(t, "bore that is crossed", firstOf(t, b).Bore.MM, 0, 0)
	// Without an axis the centre may lie a wall (5 mm) deep: 13 - sqrt(6^2 + 5^2).
	b.body.Castings[0].Bores = []body.Bore{{ID: "ball", At: geom.Vec{40, 37, 0}, Radius: 6}}
	b.job.Findings[0].Trace = []geom.Vec{{20, 50, 0}, {70, 50, 0}}
	near(t, "bore without axis", firstOf(t, b).Bore.MM, 13-math.Sqrt(61), 1e-9)
	b.body.Castings[0].Bores = nil
	if f := firstOf(t, b); f.Bore != nil {
		t.Errorf("a bore where the data have none: %+v", f.Bore)
	}
}

// firstOf is the first finding of a bench.
func firstOf(t *testing.T, b *bench) Finding {
	t.Helper()
	r, _ := Run(b.input(t))
	return r.Findings[0]
}

func TestSectionLineSides(t *testing.T) {
	// Constructed: the plane x = 60 mm; what has a smaller x is taken off.
	b := newBench(plate())
	b.body.Lines = []body.Line{{ID: "L", Casting: "C", Normal: geom.Vec{2, 0, 0}, Offset: 120, Margin: 10},
		{ID: "other", Casting: "D", Normal: geom.Vec{1, 0, 0}}}
	std := math.Hypot(0.5, 0.1)
	// A standard normal variable is below 1.6448536 with 95 % (any table).
	enough := 50 - 1.6448536*std
	for _, c := range []struct {
		name     string
		x        float64
		outboard bool
	}{{"just enough", enough - 1e-6, true}, {"just not", enough + 1e-6, false}, {"inboard", 80, false}} {
		b.job.Findings = nil
		b.crack("F", 0.5, geom.Vec{20, 50, 0}, geom.Vec{c.x, 50, 0})
		f := firstOf(t, b)
		if len(f.Sides) != 1 || f.Sides[0].Outboard != c.outboard {
			t.Errorf("%s: %+v", c.name, f.Sides)
		}
		near(t, c.name, f.Sides[0].MarginMM, 60-c.x, 1e-9)
		near(t, "std", f.Sides[0].Std, std, 1e-12)
	}
	b.job.Findings[0].Tips = []body.TipMethod{"penetrant", "visual"}
	b.job.Findings[0].Trace = []geom.Vec{{20, 50, 0}, {40, 50, 0}}
	f := firstOf(t, b)
	near(t, "margin of a tip seen by eye", f.Sides[0].MarginMM, 20-4, 1e-9)
	near(t, "its std", f.Sides[0].Std, math.Sqrt(.25+.01+16./3), 1e-9)
	b.job.Findings[0] = job1("bend", geom.Vec{30, 50, 0})
	if f := firstOf(t, b); !f.Sides[0].Outboard || f.Length != nil {
		t.Errorf("bend with one point: %+v", f)
	}
	b.body.Lines[0].Within = body.Box{Min: geom.Vec{0, 0, -1}, Max: geom.Vec{200, 40, 1}}
	if f := firstOf(t, b); f.Sides[0].Outboard {
		t.Error("outboard of a line that does not reach there")
	}
	b.body.Lines[0].Within.Max[1] = 60
	if f := firstOf(t, b); !f.Sides[0].Outboard {
		t.Error("inside the box of the line and outboard of it")
	}
	b.body.Confidence = unit.Frac(1)
	if f := firstOf(t, b); f.Sides[0].Outboard {
		t.Error("nothing is certain")
	}
}

func TestUnknownLabelBlocks(t *testing.T) {
	b := newBench(plate())
	b.body.Castings[0].Zones = b.body.Castings[0].Zones[:1]
	b.crack("F", 0.5, geom.Vec{120, 50, 0}, geom.Vec{140, 50, 0})
	r, notes := Run(b.input(t))
	if n := has(notes, "inspect.unknown-label", "F"); n == nil || n.Severity != diag.Blocking {
		t.Errorf("note %+v", n)
	}
	if f := r.Findings[0]; len(f.Zones) != 0 || len(f.Unknown) == 0 {
		t.Errorf("%+v", f)
	}
}
