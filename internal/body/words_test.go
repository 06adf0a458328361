package body

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/unit"
)

// What a row asks to be inspected afterwards is told with all that it says. Constructed.
func TestAfterInWords(t *testing.T) {
	for _, c := range []struct {
		a    After
		want string
	}{
		{After{Method: ShowPenetrant}, "penetrant"},
		{After{Method: ShowPenetrant, When: "after dressing"}, "penetrant after dressing"},
		{After{Method: ShowPenetrant, What: "both faces"}, "penetrant, both faces"},
		{After{Method: ShowPenetrant, What: "both faces", When: "after dressing"}, "penetrant, both faces, after dressing"},
		{After{Method: ShowVisual, What: "no undercut"}, "look: no undercut"},
		{After{Method: ShowVisual, When: "cold"}, "visual cold"},
		{After{Method: ShowVisual, What: "no undercut", When: "cold"}, "look: no undercut, cold"},
		{After{Method: ShowDimensions}, "control points measured again"},
	} {
		if got := c.a.String(); got != c.want {
			t.Errorf("%+v is %q, want %q", c.a, got, c.want)
		}
	}
}

// What a treatment puts right when the body does not say so: a weld joins what is parted and
// straightens nothing (common practice, no source); what the body says goes before.
func TestTreatmentsCure(t *testing.T) {
	kinds := []FindingKind{Crack, Break, Bend, Dent, Torn}
	for _, c := range []struct {
		t               Treatment
		casting, nowise string // those of crack, break, bend, dent, torn that it cures, on a casting and elsewhere
	}{
		{Treatment{Kind: Weld}, "yynny", "yynnn"}, {Treatment{Kind: WeldBacking}, "yynny", "yynnn"},
		{Treatment{Kind: Straighten}, "nnyyn", "nnyyn"}, {Treatment{Kind: Dress}, "ynnyn", "ynnyn"}, {Treatment{Kind: Leave}, "nnnnn", "nnnnn"},
		{Treatment{Kind: SectionOff}, "yyyyy", "yyyyy"}, {Treatment{Kind: Exchange}, "yyyyy", "yyyyy"},
		{Treatment{Kind: Leave, Cures: []FindingKind{Dent}}, "nnnyn", "nnnyn"}, {Treatment{Kind: Weld, Cures: []FindingKind{Bend}}, "nnynn", "nnynn"},
	} {
		for i, k := range kinds {
			for on, want := range map[bool]string{true: c.casting, false: c.nowise} {
				if got := c.t.Cure(k, on); got != (want[i] == 'y') {
					t.Errorf("%s %v cures a %s (on a casting: %v): %v", c.t.Kind, c.t.Cures, k, on, got)
				}
			}
		}
	}
}

// Expected: EN 1011-1, Q = k U I / (1000 v), by hand; a standing arc has no heat input.
func TestHeatInputByHand(t *testing.T) {
	if q, ok := HeatInput(0.8, 22, 150, 5); !ok || math.Abs(q-0.528) > 1e-15 {
		t.Errorf("%v %v, want 0.528 kJ/mm", q, ok)
	}
	for _, v := range []float64{0, -1, math.NaN()} {
		if q, ok := HeatInput(0.8, 22, 150, v); ok {
			t.Errorf("at %v mm/s: %v", v, q)
		}
	}
}

// The characters of a vehicle identification number: ISO 3779, digits and capital letters without
// I, O and Q (from memory).
func TestCharactersOfAVIN(t *testing.T) {
	for r := rune(0); r < 0x250; r++ {
		if want := !strings.ContainsRune("0123456789ABCDEFGHJKLMNPRSTUVWXYZ", r); notVIN(r) != want {
			t.Errorf("%q: %v, want %v", r, notVIN(r), want)
		}
	}
}

// Control points without a body are judged one by one. Constructed.
func TestCheckPointsTellsEach(t *testing.T) {
	std := func(mm float64) unit.Maybe[float64] { return unit.Some(mm) }
	points := []Point{{ID: "A", Std: std(0.5)}, {ID: "B", Std: std(0)}, {ID: "C", Std: std(-0.5)}, {ID: "D", Mirror: "D"}, {ID: "E", Mirror: "A"},
		{ID: "F", Mirror: "Z"}, {ID: "A"}, {ID: "G"}}
	var got []string
	for _, p := range CheckPoints(points, []int{2, 3, 4, 5, 6, 7, 8, 9}) {
		got = append(got, p.String())
	}
	want := []string{`points.csv:8: column id: the point "A" is there twice; give each its own identity`, `points.csv:4: column std_mm: the spread is negative; write it without the sign, or leave it out`,
		`points.csv:5: column mirror: point "D" is its own mirror point; leave the cell empty for a point on the centre plane`,
		`points.csv:7: column mirror: point "Z" does not exist; did you mean "A"?`}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

// A tolerance of a point without a body is more than zero, along each axis and as a radius; how
// they go together is not asked there.
func TestCheckPointsTellsOfTolerances(t *testing.T) {
	for column, set := range map[string]func(*Point, unit.Maybe[float64]){
		"tol_mm": func(p *Point, v unit.Maybe[float64]) { p.Tol = v }, "tol_x_mm": func(p *Point, v unit.Maybe[float64]) { p.TolX = v },
		"tol_y_mm": func(p *Point, v unit.Maybe[float64]) { p.TolY = v }, "tol_z_mm": func(p *Point, v unit.Maybe[float64]) { p.TolZ = v },
	} {
		for _, v := range []float64{-1, 0, 1e-6} {
			p := Point{ID: "A"}
			set(&p, unit.Some(v))
			problems := CheckPoints([]Point{p}, []int{2})
			if told := len(problems) == 1 && problems[0].Field == "column "+column && problems[0].Line == 2; told != (v <= 0) || v > 0 && len(problems) > 0 {
				t.Errorf("%s of %g: %v", column, v, problems)
			}
		}
	}
}

// The confidence of verdicts is at least the least one and less than certain.
func TestConfidenceIsLessThanCertain(t *testing.T) {
	for v, want := range map[unit.Frac]bool{LeastConfidence: true, 0.999999: true, LeastConfidence - 1e-9: false, 1: false, 1.5: false, 0: false, -1: false} {
		c := &checker{b: &Body{Confidence: v}}
		c.head()
		told := false
		for _, p := range c.problems {
			told = told || strings.Contains(p.String(), "and less than 100 %")
		}
		if told == want {
			t.Errorf("%v: told %v", v, told)
		}
	}
}

// The spread of a delivery, at its edges: nothing given, both ends, the likely time within them.
// Minutes; the words of the faults stand in testdata/broken/delivery.txt.
func TestSpreadOfADelivery(t *testing.T) {
	for _, c := range []struct {
		low, likely, high unit.Minutes
		want              string
	}{
		{0, 0, 0, ""}, {0, 60, 0, ""}, {1, 1, 1, ""}, {1, 2, 3, ""}, {2, 2, 3, ""}, {1, 3, 3, ""},
		{1, 1, 0, "two ends"}, {0, 1, 1, "two ends"}, {-1, 1, 2, "two ends"}, {1, 1, -1, "two ends"}, {-2, 0, -1, "two ends"},
		{2, 1, 3, "does not lie between"}, {1, 4, 3, "does not lie between"}, {3, 2, 1, "does not lie between"},
	} {
		k := &checker{b: &Body{}}
		p := Part{DeliveryLow: c.low, DeliveryHigh: c.high, Delivery: unit.Some(c.likely)}
		k.delivery("parts[0]", p)
		if text := k.problems.Error(); len(k.problems) > 1 || (len(k.problems) > 0) != (c.want != "") || !strings.Contains(text, c.want) {
			t.Errorf("%v, %v, %v: %q, want %q", c.low, c.likely, c.high, text, c.want)
		}
	}
}
