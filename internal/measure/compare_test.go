package measure

import (
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// stages are a car whose rear has moved, and the same car after a pull that
// left point 19 out and disturbed point 1. Constructed, seed 60.
func stages() Input {
	c := newCar(20, 60)
	c.moveRear(0.3, 14)
	in := c.measure(0.4)
	in.Impact = "rear"
	in.Setups = []job.Setup{{ID: "S1", Std: unit.MM(0.4)}, {ID: "S2", Stage: "after", Std: unit.MM(0.4)}}
	for i := range c.shift {
		c.shift[i] = c.shift[i].Scale(0.03)
	}
	c.shift[19] = geom.Vec{0, 0, 8}
	c.shift[0] = geom.Vec{9, 0, 0}
	m := geom.Rigid{R: geom.FromRotationVector(geom.Vec{0, 0, 2}), T: geom.Vec{10, 20, 30}}
	for _, i := range []int{0, 19} { // what moved by itself is read twice
		in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(0.4)), 0.4))
	}
	for i := range c.at {
		in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(0.4)), 0.4))
	}
	return in
}

func TestCompareStages(t *testing.T) {
	in := stages()
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	p := Compare(in.Points, before, after)
	if !p.Comparable || len(p.Points) != 20 {
		t.Fatalf("%+v", p)
	}
	want := map[string]PointAnswer{"P01": "lost its tolerance", "P20": "still out of tolerance", "P18": "brought into tolerance", "P05": "stayed in tolerance"}
	for _, q := range p.Points {
		if w, ok := want[string(q.ID)]; ok && q.Answer != w {
			t.Errorf("%s: %q, want %q (%v then %v)", q.ID, q.Answer, w, q.Was, q.Is)
		}
		if still := q.ID == "P05"; still && q.Changed {
			t.Errorf("%s did not change: %+v", q.ID, q)
		}
		if q.ID == "P18" && !q.Changed {
			t.Errorf("%s was pulled back: %+v", q.ID, q)
		}
	}
	in.Stage = "during"
	none, _ := Run(in)
	if p := Compare(in.Points, before, none); p.Comparable || len(p.Notes) == 0 {
		t.Error("a stage without readings cannot be compared")
	}
}

// TestAnswers: every pair of verdicts has its own words, and only "brought into
// tolerance" says that the work did it. Constructed.
func TestAnswers(t *testing.T) {
	seen := map[PointAnswer]bool{}
	for _, before := range []bool{false, true} {
		for _, was := range []Verdict{Undecided, Met, NotMet} {
			for _, is := range []Verdict{Undecided, Met, NotMet} {
				got := answer(before, was, is)
				seen[got] = true
				if !slices.Contains(Answers(), got) {
					t.Errorf("%q is not listed", got)
				}
				if brought := got == "brought into tolerance"; brought != (before && was == NotMet && is == Met) {
					t.Errorf("%v %v then %v: %q", before, was, is, got)
				}
				if is == Undecided && got != "undecided" {
					t.Errorf("undecided became %q", got)
				}
			}
		}
	}
	seen[inForNow] = true // given while the work goes on: see TestWhatIsMeasuredDuringTheWorkIsNotBroughtIn
	if len(seen) != len(Answers()) {
		t.Errorf("%d answers are given, %d listed", len(seen), len(Answers()))
	}
}

// What was measured while the work goes on brings nothing into tolerance (constructed).
func TestWhatIsMeasuredDuringTheWorkIsNotBroughtIn(t *testing.T) {
	for to, want := range map[job.Stage]PointAnswer{"during": "in tolerance while the work goes on", "after": "brought into tolerance"} {
		p := &Progress{To: to, Comparable: true}
		got := p.progress(PointResult{ID: "P", Tolerance: NotMet}, true, PointResult{ID: "P", Tolerance: Met, Firm: true}, change{})
		if got.Answer != want {
			t.Errorf("%s: %q", to, got.Answer)
		}
	}
}
