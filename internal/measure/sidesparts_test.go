package measure

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// Heights read both ways round are one, with the sign of the first; the image of a length is
// told from the twin of its first end; a twin that is not there makes a point its own.
func TestSideLengthsByHand(t *testing.T) {
	in := Input{Symmetry: math.Inf(1), Points: []body.Point{{ID: "A", Mirror: "B"}, {ID: "B", Mirror: "A"}, {ID: "C", Mirror: "D"}, {ID: "D", Mirror: "C"}, {ID: "E", Mirror: "Z"}, {ID: "F"}}}
	for i := range in.Points {
		in.Points[i].Std = unit.Some([]float64{1, 2, 3, 4, 5, 6}[i])
	}
	in.Readings = append(in.Readings, spanReading("T", "height", "C", "A", 5, 0.5), spanReading("T", "height", "A", "C", -5.5, 1),
		spanReading("T", "length", "A", "C", 905, 1), spanReading("T", "length", "D", "B", 904, 1), spanReading("T", "length", "F", "E", 700, 0.123456789123), xyz("T", "A", geom.Vec{1, 2, 3}, 0.5), xyz("T", "B", geom.Vec{1, 2, 3}, 0.5))
	s := CompareSides(in)
	want := diag.Note{Code: "measure.no-published-places", Severity: diag.Blocking, Where: "control points", Text: "there are no published places: nothing can be said of where a point stands or whether it has moved", Hint: "get the places, or the lengths between them, from the manufacturer"}
	if len(s.Notes) < 2 || !slices.Contains(s.Notes, want) || !slices.ContainsFunc(s.Notes, func(n diag.Note) bool {
		return n.Code == "measure.coordinates-unused" && n.Severity == diag.Caution && n.Text == "2 coordinate and rim readings say nothing without published places; they are not used"
	}) {
		t.Errorf("%+v", s.Notes)
	}
	if len(s.Alone) != 2 || len(s.Pairs) != 1 {
		t.Fatalf("%+v", s)
	}
	// weights 4 and 1
	if h := s.Alone[0]; h.From != "C" || h.To != "A" || math.Abs(h.MeasuredMM-5.1) > 1e-6 || math.Abs(h.StdMM-math.Sqrt(0.2)) > 1e-6 {
		t.Errorf("%+v", h)
	}
	if l := s.Alone[1]; l.From != "F" || l.To != "E" || l.MeasuredMM != 700 || l.StdMM != roundMM(0.123456789123) {
		t.Errorf("%+v", l)
	}
	// an equality of any size is none: the spreads 1, 3, 2 and 4 count, with 1 and 1 of the readings
	p := s.Pairs[0]
	if p.One.From != "A" || p.Other.From != "B" || p.Other.To != "D" || p.DiffMM != 1 || math.Abs(p.StdMM-math.Sqrt(32)) > 1e-6 || p.Verdict != SidesNotTold || p.Because != "" {
		t.Errorf("%+v", p)
	}
	in.Readings[2].Value.Value = 924 // 20 is beyond 3.29 times 5.66
	if p := CompareSides(in).Pairs[0]; p.Verdict != SidesDiffer || p.Because != "one side has moved, or was built unlike the other" {
		t.Errorf("%+v", p)
	}
	in.Points[3].Std = unit.Some(0.0)
	if p := CompareSides(in).Pairs[0]; p.Verdict != SidesOpen {
		t.Errorf("without the spread of one end: %+v", p)
	}
}

// A place is made larger or smaller by the temperature before it is carried; its covariance is that of
// the pose times how much worse readings fit, and the temperature adds to it by the distance from the middle.
// By hand: 0.01 of 500 mm is 5.
func TestCarryByHand(t *testing.T) {
	pose := geom.Mat6{}
	for k := range 3 {
		pose[k][k] = 2
	}
	turn := geom.Mat3{{0, -1, 0}, {1, 0, 0}, {0, 0, 1}}
	a := Axes{fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Rigid{R: turn, T: geom.Vec{10, 20, 30}}, Centroid: geom.Vec{0, 400, 0}}, Pose: pose}, factor: 2, scale: 0.01, widen: 3}
	// of 300, 0, 0 in vehicle axes: turned to 0, 300, 0, shifted to 10, 320, 30
	at, cov := a.Carry(geom.Vec{5, 160, 15})
	if at.Dist(geom.Vec{300, 0, 0}) > 1e-9 {
		t.Errorf("%v", at)
	}
	for i := range cov {
		for j := range cov {
			want := 0.0
			if i == j {
				want = 3*2 + 25
			}
			if math.Abs(cov[i][j]-want) > 1e-9 {
				t.Errorf("%v", cov)
			}
		}
	}
}
