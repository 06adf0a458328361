package report

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/golden"
	"fettle/internal/measure"
)

// The comparison of two sides for a terminal, as it is, with a pair of each kind.
func TestSidesTextStaysAsItIs(t *testing.T) {
	l := func(kind, from, to string, mm float64) measure.SideLength {
		s := measure.SideLength{From: body.PointID(from), To: body.PointID(to), MeasuredMM: mm, StdMM: 0.5, Kind: "length"}
		if kind != "" {
			s.Kind = "height"
		}
		return s
	}
	s := measure.Sides{
		Pairs: []measure.SidePair{
			{One: l("", "A", "D", 1174.3), Other: l("", "B", "C", 1182.1), DiffMM: -7.8, StdMM: 1.15, Detectable: 4.75, Verdict: measure.SidesDiffer, Because: "one side has moved, or was built unlike the other"},
			{One: l("", "A", "C", 900), Other: l("", "B", "D", 900.6), DiffMM: -0.6, StdMM: 1.15, Detectable: 4.75, Verdict: measure.SidesNotTold},
			{One: l("h", "A", "C", 5), Other: l("h", "B", "D", -5), DiffMM: 10, Verdict: measure.SidesOpen, Because: "nothing says how level the device stood to the vehicle"},
		},
		Alone:    []measure.SideLength{l("", "A", "B", 1200)},
		Disagree: []measure.Disagreement{{Kind: measure.DisagreeRepeat, Points: []body.PointID{"A", "B"}, Text: "length A–B was read as 1200.0 mm and as 1209.0 mm: one of the readings is wrong"}},
		Notes:    []diag.Note{{Code: "measure.no-published-places", Severity: diag.Blocking, Where: "control points", Text: "there are no published places"}},
	}
	golden.Same(t, "testdata/sides.txt", SidesText(s, 95))
}
