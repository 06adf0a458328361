package plan

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// A figure beside limits lies, as it is printed, on the side of each of them on which it is, or on
// it where it is the same; drawn ones, and ones a hair beside a limit.
func TestFiguresBesideLimitsSeeds(t *testing.T) {
	hairs := 0
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 96))
		limits := []float64{float64(rng.IntN(40)) / 4, float64(rng.IntN(40))}
		v := limits[0]
		if seed%4 > 0 {
			v += []float64{1e-6, -1e-5, 0.004, -0.0004, 0.3, 0}[rng.IntN(6)]
		}
		got := numBeside(v, limits...)
		read, err := strconv.ParseFloat(got, 64)
		if err != nil || math.Abs(read-v) > 0.0051 {
			t.Fatalf("%v beside %v: %q", v, limits, got)
		}
		for _, l := range limits {
			if cmp.Compare(read, l) != cmp.Compare(v, l) {
				t.Fatalf("%v beside %v: %q", v, limits, got)
			}
		}
		if got != num(v) {
			hairs++
		}
	}
	if hairs < 20 {
		t.Errorf("only %d figures lie a hair beside a limit", hairs)
	}
}

// By hand: the length of a cut is what was measured, else that of the mesh (TestSeamOfAPlate has
// 103 mm), and where there is none the reason why.
func TestLengthOfACut(t *testing.T) {
	in := input()
	in.Seams = map[body.LineID]float64{"S1": 400}
	in.Body.Lines = append(in.Body.Lines, body.Line{ID: "S2", Casting: "front", Normal: [3]float64{1, 0, 0}, Offset: 70},
		body.Line{ID: "S3", Casting: "front", Normal: [3]float64{1, 0, 0}, Offset: 500}, body.Line{ID: "S4", Casting: "front"}, body.Line{ID: "S5", Casting: "rear", Normal: [3]float64{1, 0, 0}})
	in.Body.Castings = append(in.Body.Castings, body.Casting{ID: "rear", Part: "sill"})
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"front": box(t, 200, 100, 3)})
	b := newBuilder(in)
	for _, c := range []struct {
		id   body.LineID
		mm   float64
		told string
	}{
		{"S1", 400, "cut along S1"}, {"S2", 103, "cut along S2"},
		{"S3", 0, "section line S3: the line does not cut the casting"}, {"S4", 0, "section line S4: "},
		{"S5", 0, "the mesh of casting rear was not given, so the cut along S5 has no length"}, {"S9", 0, "section line S9 is not in the body's data"},
	} {
		got := b.cutLength(c.id)
		if math.Abs(got.mm-c.mm) > 1e-9 || got.known != (c.mm > 0) || !strings.HasPrefix(got.from+got.flaw, c.told) {
			t.Errorf("%s: %+v, want %g, %q", c.id, got, c.mm, c.told)
		}
	}
}

// doors is a job whose crack lies under a door, one of which comes off: n of them that cost the same.
func doors(n int) Input {
	in := input(weldF1)
	b := in.Body
	b.Parts, b.Joints, b.Triggers, b.Tasks = nil, nil, nil, nil
	for i := range b.Treatments {
		b.Treatments[i].Requires, b.Treatments[i].After = nil, nil
	}
	access := body.Access{To: "Z1"}
	for k := range n {
		id := body.PartID(fmt.Sprintf("door%02d", k))
		b.Parts = append(b.Parts, body.Part{ID: id, Name: string(id), BoltOn: true, Skill: "body", Off: 10, On: 10})
		access.Needs = append(access.Needs, []body.PartID{id})
	}
	b.Access = []body.Access{access}
	return in
}

// By hand: of n ways that cost the same n - 1 are others; six of them are told, and where there
// are more it is said that not all are. One that is dearer by a twentieth is told, by more not.
func TestOtherOpeningsAreSixAtMost(t *testing.T) {
	for n := 1; n <= 9; n++ {
		got, all := Alternatives(doors(n))
		if len(got) != min(n-1, 6) || all != (n <= 7) {
			t.Errorf("of %d ways: %d others, all %v", n, len(got), all)
		}
	}
	for _, c := range []struct {
		off   float64
		other bool
	}{{10, true}, {11, true}, {12, false}} {
		in := doors(2)
		in.Body.Parts[1].Off = unit.Minutes(c.off)
		got, all := Alternatives(in)
		if !all || (len(got) == 1) != c.other {
			t.Errorf("a way of %g min for 10: %d others, all %v", c.off, len(got), all)
		}
	}
	stuck := doors(2)
	stuck.Body.Access = append(stuck.Body.Access, body.Access{To: "door00", Needs: [][]body.PartID{{"door01"}}}, body.Access{To: "door01", Needs: [][]body.PartID{{"door00"}}})
	if got, _ := Alternatives(stuck); got != nil {
		t.Errorf("where nothing can come off: %v", got)
	}
	if p, notes := Build(stuck); blocking(notes) != "plan.no-opening" || len(p.Removal) != 0 {
		t.Errorf("where nothing can come off: %v", notes)
	}
}

// By hand: 64 parts that could be in the way are taken, and one more is not; where only the parts
// that an assembly brings with it are too many, the opening is chosen without it, and may not be
// the cheapest.
func TestMostPartsOfAnOpening(t *testing.T) {
	for n := 63; n <= 65; n++ {
		in := doors(n)
		p, notes := Build(in)
		if (blocking(notes) == "plan.too-many-parts") != (n > 64) || (len(p.Removal) == 1) != (n <= 64) {
			t.Errorf("of %d parts: %d come off, %v", n, len(p.Removal), blocking(notes))
		}
		if got, _ := Alternatives(in); (len(got) > 0) != (n <= 64) {
			t.Errorf("of %d parts: %d other openings", n, len(got))
		}
		for bring := range 3 { // the second part of the assembly has so many in its way
			in := doors(n)
			in.Body.Parts = append(in.Body.Parts, body.Part{ID: "glass", Name: "glass", BoltOn: true, Skill: "body", Off: 1})
			under := body.Access{To: "glass", Needs: [][]body.PartID{{}}}
			for k := range bring {
				id := body.PartID(fmt.Sprintf("trim%d", k))
				in.Body.Parts = append(in.Body.Parts, body.Part{ID: id, Name: string(id), BoltOn: true, Skill: "body", Off: 1})
				under.Needs[0] = append(under.Needs[0], id)
			}
			if bring > 0 {
				in.Body.Access = append(in.Body.Access, under)
			}
			in.Body.Assemblies = []body.Assembly{{ID: "whole", Name: "door with glass", Parts: []body.PartID{"door00", "glass"}, Off: 1, On: 1, Skill: "body"}}
			p, notes := Build(in)
			unproven := slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "plan.opening-not-proven" })
			if n <= 64 && unproven != (n+bring > 64) {
				t.Errorf("of %d parts, %d more by the assembly: not proven %v, %v", n, bring, unproven, notes)
			}
			if whole := len(p.Removal) > 0 && p.Removal[0].Part == "whole"; n <= 64 && bring == 0 && !whole {
				t.Errorf("of %d parts: %s comes off, and the assembly is the cheapest", n, removed(p))
			}
		}
	}
}

// By hand: a wait of five million minutes has a date, and of one more none; nor has a plan of
// waits that together go beyond a hundred years, 52.6 million of them.
func TestPlansOfACentury(t *testing.T) {
	for _, c := range []struct {
		waits   int
		minutes float64
		told    string
	}{{1, 5_000_000, ""}, {1, 5_000_001, "with a wait of"}, {10, 5_000_000, ""}, {11, 5_000_000, "a hundred years from now"}} {
		in := input(weldF2)
		steps := &in.Body.Treatments[0].Steps
		for k := range c.waits {
			s := body.Step{ID: fmt.Sprint("k", k), Name: fmt.Sprint("Look ", k), Skill: "alu", Fixed: 1, Wait: &body.Wait{Name: "rest", Elapsed: unit.Minutes(c.minutes)}}
			*steps = append(*steps, s)
		}
		p, notes := Build(in)
		dated := slices.ContainsFunc(p.Steps, func(s Step) bool { return !s.From.IsZero() || !s.To.IsZero() || s.Person != "" })
		k := slices.IndexFunc(notes, func(n diag.Note) bool { return n.Code == "plan.endless" && n.Severity == diag.Blocking })
		if (k < 0) != (c.told == "") || k >= 0 && !strings.Contains(notes[k].Text, c.told) || dated != (c.told == "") {
			t.Errorf("%d waits of %g min: %v, dates %v", c.waits, c.minutes, notes, dated)
		}
	}
}

// By hand: where nobody has all the skills of what is done in one go, it is said that the work
// changes hands; where somebody does, not.
func TestWorkInOneGoChangesHands(t *testing.T) {
	for _, skills := range [][]body.SkillID{{"alu", "hv"}, {"alu", "hv", "body"}} {
		in := input(cutS1)
		in.Body.Treatments[2].Steps[1].Skill = "body"
		in.Shop.People[1].Skills = skills
		_, notes := Build(in)
		k := slices.IndexFunc(notes, func(n diag.Note) bool { return n.Code == "plan.hand-over" })
		if (k >= 0) != (len(skills) == 2) {
			t.Errorf("%v: %v", skills, notes)
		}
		if k >= 0 && (!strings.Contains(notes[k].Text, "Apply adhesive") || !strings.Contains(notes[k].Text, "Set rivets") || notes[k].Severity != diag.Caution) {
			t.Errorf("%+v", notes[k])
		}
	}
}

// By hand: steps that follow one another with the same word are one stage; the same word after a
// break is another stage, however often it comes again.
func TestStagesOfOneWord(t *testing.T) {
	b := newBuilder(input())
	var last *node
	var got []string
	for _, word := range []string{"bond", "bond", "", "bond", "", "bond", "bond", "other", "bond"} {
		n := &node{}
		n.step.Name = word
		if word != "" {
			b.join(n, last, word, body.Step{})
		}
		got, last = append(got, n.step.Together), n
	}
	if want := []string{"bond", "bond", "", "bond'", "", "bond''", "bond''", "other", "bond'''"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// By hand: what a plan uses up of each new part and of each material in packs, with waste, by step;
// of what comes in no packs, or of which nothing is used, nothing.
func TestWhatAPlanUsesUp(t *testing.T) {
	p := Plan{Lost: []Lost{{Part: "skin", Quantity: 2}, {Part: "seal", Quantity: 1}},
		Steps: []Step{{ID: "1"}, {ID: "2", Takes: []body.PartID{"skin"}}, {ID: "3", Takes: []body.PartID{"skin"}}},
		Takeoff: []Takeoff{{Material: "glue", Pack: 50, Net: 20, Gross: 25, Lines: []TakeoffLine{{Step: "1", Amount: 4}, {Step: "3", Amount: 12}, {Step: "1", Amount: 4}}},
			{Material: "air", Pack: 0, Net: 20, Gross: 25, Lines: []TakeoffLine{{Step: "1", Amount: 4}}}, {Material: "none", Pack: 5, Net: 0, Lines: []TakeoffLine{{Step: "1", Amount: 4}}},
			{Material: "wire", Pack: 1, Net: 2, Gross: 2, Lines: []TakeoffLine{{Step: "2", Amount: 2}}}}}
	want := "[{skin 1 map[2:2]} {seal 1 map[]} {glue 50 map[1:10 3:15]} {wire 1 map[2:2]}]"
	if got := fmt.Sprint(p.drawn()); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// By hand: of three assemblies that share no part there are eight choices, which are told one by one;
// of four sixteen, of which only the tasks are told, as where one of them has to come off itself.
func TestSharingOfManyAssemblies(t *testing.T) {
	for n := range 5 {
		in := doors(4)
		for k := range n {
			id := body.PartID(fmt.Sprintf("glass%d", k))
			in.Body.Parts = append(in.Body.Parts, body.Part{ID: id, Name: string(id), BoltOn: true, Skill: "body", Off: 1})
			in.Body.Assemblies = append(in.Body.Assemblies, body.Assembly{ID: body.PartID(fmt.Sprintf("whole%d", k)), Name: "door with glass", Parts: []body.PartID{in.Body.Parts[k].ID, id}, Skill: "body"})
		}
		w := NewWeigher(in)
		d := w.Demand(weldF1)
		got, want := w.Sharing(d), 1<<n
		if n > 3 {
			want = 1
		}
		if len(got) != want || n > 3 && !reflect.DeepEqual(got[0], w.onlyTasks(d)) {
			t.Errorf("of %d assemblies %d choices, want %d", n, len(got), want)
		}
	}
}
