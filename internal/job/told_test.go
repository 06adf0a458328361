package job

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// toldJob has a crack with a neighbour on its part, a dent on another part, and a repair
// of long ago.
func toldJob() *State {
	return &State{
		Findings: []Finding{
			{ID: "F1", Kind: "crack", Part: "P", Trace: []geom.Vec{{0, 0, 0}, {20, 0, 0}}, Std: 0.5, Tips: []body.TipMethod{"penetrant", "penetrant"}, Through: "unknown",
				Depth: unit.Some(unit.MM(1)), DepthStd: 0.1, Text: "words", Photos: []string{"E1"}},
			{ID: "F2", Kind: "crack", Part: "P", Trace: []geom.Vec{{0, 30, 0}, {20, 30, 0}}, Std: 0.5, Tips: []body.TipMethod{"penetrant", "visual"}},
			{ID: "F3", Kind: "dent", Part: "Q"},
		},
		Earlier: []Earlier{{Zone: "Z", Length: 12, Trace: []geom.Vec{{0, 60, 0}, {12, 60, 0}}, Std: 0.5, Text: "words"}},
	}
}

// What is told of a finding is the facts of its part alone, and no part of the job.
func TestAsTold(t *testing.T) {
	s := toldJob()
	got := s.AsTold("F1")
	if len(got.Findings) != 2 || got.Findings[0].ID != "F1" || got.Findings[1].ID != "F2" || len(got.Earlier) != 1 {
		t.Fatalf("told %+v", got)
	}
	if f := got.Findings[0]; f.Text != "" || f.Photos != nil || got.Earlier[0].Text != "" {
		t.Errorf("words and pictures are told: %+v", got)
	}
	got.Findings[0].Trace[0], got.Findings[0].Tips[0], got.Earlier[0].Trace[0] = geom.Vec{9, 9, 9}, "visual", geom.Vec{9, 9, 9}
	if s.Findings[0].Trace[0] != (geom.Vec{}) || s.Findings[0].Tips[0] != "penetrant" || s.Earlier[0].Trace[0] != (geom.Vec{0, 60, 0}) || s.Findings[0].Text != "words" {
		t.Errorf("the job was changed through what was told: %+v", s)
	}
	if s.AsTold("F9") != nil {
		t.Error("something is told of a finding that there is not")
	}
}

// Each change for the worse is named; what is as it was, or better, takes nothing away
// from an answer.
func TestWorseThanTold(t *testing.T) {
	asOne, beside, away := AsOne, Beside, Away
	for _, c := range []struct {
		name  string
		do    func(s *State)
		touch *Touch // of F2; beside unless given
		want  string // empty: nothing is worse
	}{
		{name: "as it was", do: func(*State) {}},
		{name: "shorter", do: func(s *State) { s.Findings[0].Trace[1] = geom.Vec{15, 0, 0} }},
		{name: "from the other end", do: func(s *State) {
			slices.Reverse(s.Findings[0].Trace)
		}},
		{name: "known better", do: func(s *State) { s.Findings[0].Std, s.Findings[0].Through = 0.2, "no" }},
		{name: "gone", do: func(s *State) { s.Findings = s.Findings[1:] }, want: "there is no finding F1 any more"},
		{name: "longer", do: func(s *State) { s.Findings[0].Trace[1] = geom.Vec{21, 0, 0} }, want: "F1 has another trace, or a longer one"},
		{name: "elsewhere", do: func(s *State) { s.Findings[0].Trace = []geom.Vec{{0, 1, 0}, {20, 1, 0}} }, want: "F1 has another trace"},
		{name: "round a corner", do: func(s *State) { s.Findings[0].Trace = []geom.Vec{{2, 0, 0}, {10, 3, 0}, {18, 0, 0}} }, want: "F1 has another trace"},
		{name: "endless", do: func(s *State) { s.Findings[0].Trace = []geom.Vec{{0, 0, 0}, {1e9, 0, 0}} }, want: "F1 has another trace"},
		{name: "no trace", do: func(s *State) { s.Findings[0].Trace = nil }, want: "F1 has another trace"},
		{name: "another kind", do: func(s *State) { s.Findings[0].Kind = "break" }, want: "F1 is a break, told was a crack"},
		{name: "another part", do: func(s *State) { s.Findings[0].Part = "Q" }, want: "F1 is on part Q, told was P"},
		{name: "a branch", do: func(s *State) { s.Findings[0].BranchOf = "F2" }, want: "F1 belongs to other findings"},
		{name: "traced worse", do: func(s *State) { s.Findings[0].Std = 0.6 }, want: "F1 is traced to"},
		{name: "through the wall", do: func(s *State) { s.Findings[0].Through = "yes" }, want: "F1 goes through the wall: yes; told was unknown"},
		{name: "deeper", do: func(s *State) { s.Findings[0].Depth = unit.Some(unit.MM(1.1)) }, want: "F1 has another depth"},
		{name: "depth known worse", do: func(s *State) { s.Findings[0].DepthStd = 0.2 }, want: "F1 has another depth"},
		{name: "depth unknown", do: func(s *State) { s.Findings[0].Depth = unit.Maybe[unit.MM]{} }, want: "F1 has another depth"},
		{name: "a tip by eye", do: func(s *State) { s.Findings[0].Tips[1] = body.TipVisual }, want: "F1 has a tip that is known less well (visual) than was told (penetrant)"},
		{name: "no word of its tips", do: func(s *State) { s.Findings[0].Tips = nil }, want: "F1 has a tip that is known less well"},
		{name: "tips turned with the trace", do: func(s *State) { // F2 as one: its second tip was found by eye
			slices.Reverse(s.Findings[1].Trace)
			s.Findings[1].Tips = []body.TipMethod{"visual", "penetrant"}
		}, touch: &asOne},
		{name: "tips turned, the trace not", do: func(s *State) { s.Findings[1].Tips = []body.TipMethod{"visual", "penetrant"} }, touch: &asOne, want: "F2 has a tip"},
		{name: "another beside it", do: func(s *State) {
			f := s.Findings[1]
			f.ID = "F4"
			s.Findings = append(s.Findings, f)
		}, want: "F4 on the same part was not told"},
		{name: "another far away", do: func(s *State) {
			f := s.Findings[1]
			f.ID = "F4"
			s.Findings = append(s.Findings, f)
		}, touch: &away},
		{name: "the neighbour goes on, no nearer", do: func(s *State) { s.Findings[1].Trace[1] = geom.Vec{40, 30, 0} }, touch: &beside},
		{name: "the same, as one with it", do: func(s *State) { s.Findings[1].Trace[1] = geom.Vec{40, 30, 0} }, touch: &asOne, want: "F2 has another trace"},
		{name: "the neighbour comes nearer", do: func(s *State) { s.Findings[1].Trace[1] = geom.Vec{20, 29, 0} }, want: "F2 comes nearer"},
		{name: "the neighbour without a trace", do: func(s *State) { s.Findings[1].Trace = nil }, want: "F2 comes nearer"},
		{name: "the neighbour of another kind", do: func(s *State) { s.Findings[1].Kind = "bend" }, want: "F2 is a bend, told was a crack"},
		{name: "the neighbour of another", do: func(s *State) { s.Findings[1].SameAs = "F1" }, want: "F2 belongs to other findings"},
		{name: "the neighbour traced worse", do: func(s *State) { s.Findings[1].Std = 0.7 }, want: "F2 is traced to"},
		{name: "a branch of its neighbour", do: func(s *State) {
			s.Findings[1].BranchOf, s.Findings[1].Tips = "F1", []body.TipMethod{"penetrant"}
		}, want: "F2 belongs to other findings"},
		{name: "the neighbour a hair nearer", do: func(s *State) { s.Findings[1].Trace[1] = geom.Vec{20, 29.95, 0} }},
		{name: "the neighbour in other zones", do: func(s *State) { s.Findings[1].Zones = []body.ZoneID{"Z"} }, want: "F2 lies in other zones"},
		{name: "the neighbour with a tip by eye more", do: func(s *State) { s.Findings[1].Tips = []body.TipMethod{"visual", "visual"} }},
		{name: "in other zones", do: func(s *State) { s.Findings[0].Zones = []body.ZoneID{"Z"} }, want: "F1 lies in other zones"},
		{name: "other lengths by hand", do: func(s *State) { s.Findings[0].Measured = []HandReading{{What: HandBore, None: true}} }, want: "F1 has other lengths measured by hand"},
		{name: "a repair more", do: func(s *State) { s.Earlier = append(s.Earlier, Earlier{Zone: "Y", Length: 3}) }, want: "the repair done before in zone Y was not told"},
		{name: "a longer repair", do: func(s *State) { s.Earlier[0].Length = 13 }, want: "the repair done before in zone Z was not told"},
		{name: "a repair less", do: func(s *State) { s.Earlier = nil }},
	} {
		was, now := toldJob(), toldJob()
		c.do(now)
		touch := func(FindingID) Touch {
			if c.touch == nil {
				return Beside
			}
			return *c.touch
		}
		got := was.AsTold("F1").Worse("F1", asNow(now), touch)
		if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	var none *Told
	if got := none.Worse("F1", asNow(toldJob()), nil); got != "it is not on record for which facts it was given" {
		t.Errorf("nothing on record: %q", got)
	}
	if got := (&Told{}).Worse("F1", asNow(toldJob()), nil); got != "the facts on record with it are not those of F1" {
		t.Errorf("other facts on record: %q", got)
	}
}

// The gap of two traces is the least distance of any points of them; by hand, on triangles of sides
// 3, 4, 5 and on right angles.
func TestGapOfTraces(t *testing.T) {
	line := func(p ...geom.Vec) Finding { return Finding{Trace: p} }
	corner := line(geom.Vec{0, 0, 0}, geom.Vec{10, 0, 0}, geom.Vec{10, 10, 0}, geom.Vec{20, 10, 0})
	for _, k := range []struct {
		a, b Finding
		want float64
	}{
		{line(geom.Vec{0, 0, 0}), line(geom.Vec{3, 4, 0}), 5},
		{corner, line(geom.Vec{5, 0, 2}), 2},                        // of the first part
		{corner, line(geom.Vec{7, 5, 0}), 3},                        // of the second: its ends are farther off
		{corner, line(geom.Vec{17, 14, 0}, geom.Vec{17, 20, 0}), 4}, // of the third
		{corner, line(geom.Vec{2, 8, 0}, geom.Vec{4, 6, 0}), 6},     // no part runs from its beginning to its end
		{corner, line(geom.Vec{5, -1, 0}, geom.Vec{5, 1, 0}), 0},
		{corner, Finding{}, math.Inf(1)},
		{Finding{}, Finding{}, math.Inf(1)},
	} {
		if ab, ba := gap(k.a, k.b), gap(k.b, k.a); math.Abs(ab-k.want) > 1e-9 || math.Abs(ba-k.want) > 1e-9 {
			if !(math.IsInf(ab, 1) && math.IsInf(ba, 1) && math.IsInf(k.want, 1)) {
				t.Errorf("%v and %v: %g, turned %g, want %g", k.a.Trace, k.b.Trace, ab, ba, k.want)
			}
		}
	}
}

// A trace that ends where it begins, as it was told, is not turned round: its tips are as they were.
func TestALoopIsNotTurned(t *testing.T) {
	was := toldJob()
	was.Findings[0].Trace = []geom.Vec{{0, 0, 0}, {20, 0, 0}, {20, 20, 0}, {0, 0, 0}}
	was.Findings[0].Tips = []body.TipMethod{"penetrant", "visual"}
	if got := was.AsTold("F1").Worse("F1", asNow(was), func(FindingID) Touch { return Away }); got != "" {
		t.Errorf("as it was told: %q", got)
	}
}

// asNow is all but the dent on the other part, whatever part it is said to be on.
func asNow(s *State) *Told {
	return &Told{Findings: slices.DeleteFunc(s.Findings, func(f Finding) bool { return f.ID == "F3" }), Earlier: s.Earlier}
}

// The facts of an answer are its own, else those of the question about the same finding.
func TestToldFor(t *testing.T) {
	s := &State{
		Questions: []Asked{{ID: "Q1", Finding: "F1"}, {ID: "Q2", Finding: "F2"}, {ID: "Q3", Finding: "F3"}},
		Told:      []Told{{Question: "Q1"}, {Answer: "A2"}, {Question: "Q2"}, {}},
	}
	for _, c := range []struct {
		a    Answer
		want int // of the facts; -1: none
	}{
		{Answer{ID: "A1", Finding: "F1", Question: "Q1"}, 0},
		{Answer{ID: "A2", Finding: "F2", Question: "Q2"}, 1},
		{Answer{ID: "A3", Finding: "F2", Question: "Q2"}, 2},
		{Answer{ID: "A4", Finding: "F2", Question: "Q1"}, -1}, // the question is about another finding
		{Answer{ID: "A5", Finding: "F3", Question: "Q3"}, -1},
		{Answer{}, -1},
	} {
		var want *Told
		if c.want >= 0 {
			want = &s.Told[c.want]
		}
		if got := s.ToldFor(c.a); got != want {
			t.Errorf("%+v: %+v, want %+v", c.a, got, want)
		}
	}
	if s.ToldWith(Asked{}) != nil {
		t.Error("a question without an identity was sent with something")
	}
}

// A stretch so long that it would take too many steps to go along it runs along nothing, not
// even along itself; one that takes fewer does.
func TestAStretchOfTooManyStepsRunsAlongNothing(t *testing.T) {
	for steps, want := range map[float64]bool{maxSteps - 1: true, maxSteps: false, maxSteps + 1: false} {
		f := Finding{Trace: []geom.Vec{{0, 0, 0}, {steps * stepMM, 0, 0}}}
		if _, ok := f.along(f); ok != want {
			t.Errorf("%g steps: along itself %v, want %v", steps, ok, want)
		}
	}
}
