package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// Of two faces of one crack the longer is known well, the shorter badly: a limit that
// the longer keeps and the shorter may break stays open, alone and in a group.
// Constructed; near-equal lengths with unequal uncertainty, seed 45. That the other
// face permits nothing that is not permitted without it holds for every limit.
func TestEitherFaceMayBeTheLongerSeed45(t *testing.T) {
	rng := rand.New(rand.NewPCG(45, 45))
	open := 0
	for range 25 {
		b := newBench(slab(4))
		b.body.Castings[0].Wall = 4
		b.body.Procedures[0].GroupGap = 6
		long, short := 30.0, 30-0.5*rng.Float64()
		b.crack("F1", 0.05, geom.Vec{20, 50, 0}, geom.Vec{20 + long, 50, 0})
		f := b.crack("F2", 1+rng.Float64(), geom.Vec{20, 50, -4}, geom.Vec{20 + short, 50, -4})
		f.SameAs = "F1"
		if rng.IntN(2) == 0 {
			b.crack("F3", 0.05, geom.Vec{24 + long, 50, 0}, geom.Vec{30 + long, 50, 0})
		}
		r, _ := Run(b.input(t))
		got := find(t, r, "F1")
		if got.NoFace || got.Decision == nil {
			continue // too uncertain to be the other face
		}
		worst := *got.Decision
		all := []rule.Value{rule.NumberValue(worst.MM, worst.Std, "mm")}
		for _, l := range got.Lengths {
			all = append(all, rule.NumberValue(l.MM, l.Std, "mm"))
			worst.Std = max(worst.Std, l.Std)
		}
		if worst.Std < 1 {
			t.Fatalf("the badly known face is not among %+v and %v", got.Decision, got.Lengths)
		}
		limit := got.Decision.MM + 0.3
		c, err := rule.ParseCond("length", rule.Number, "mm", fmt.Sprintf("<= %.3f mm", limit))
		if err != nil {
			t.Fatal(err)
		}
		if state := c.Eval(rule.MostOf(all...), 0.95).State; state == rule.Met {
			t.Fatalf("%v keep %s", all, c.Text)
		}
		open++
	}
	if open < 10 {
		t.Errorf("hardly tried: %d", open)
	}
}

// More faces than can be held against a limit one by one are taken together, with
// the longest, the least certain and the most tips of each.
func TestManyFacesAreTakenTogether(t *testing.T) {
	r := &run{}
	var members []int
	for i := range 2 * 8 {
		l := Length{MM: 10 + float64(i%2), Std: 1 - 0.5*float64(i%2)}
		r.found = append(r.found, Finding{Kind: "crack", Length: &l})
		r.traces = append(r.traces, &trace{in: &job.Finding{Kind: "crack"}, tips: []body.TipMethod{"penetrant", "penetrant"}})
		members = append(members, i)
	}
	r.crack = newSets(len(members))
	for i := 0; i < len(members); i += 2 {
		r.crack.join(i, i+1)
	}
	all := r.choices(members, map[int]int{})
	if len(all) != 1 || all[0].mm != 8*11 || all[0].variance != 8 {
		t.Errorf("%+v, want one of 88 mm with the variance 8 mm²", all)
	}
	if all = r.choices(members[:8], map[int]int{}); len(all) != 16 {
		t.Errorf("%d choices of four cracks with two faces", len(all))
	}
}

// An earlier repair counts where its trace lies, whatever zone it was entered for:
// beyond the border, at the border within its uncertainty, and anywhere when the
// trace lies nowhere. The border of the zones A and B is at x = 100 mm. Constructed.
func TestEarlierRepairCountsWhereItLies(t *testing.T) {
	for _, c := range []struct {
		name  string
		zone  body.ZoneID
		trace []geom.Vec
		std   float64
		want  string
	}{
		{"as entered", "A", []geom.Vec{{20, 50, 0}, {30, 50, 0}}, 1, "[A]"},
		{"without a trace", "B", nil, 0, "[B]"},
		{"in the other zone", "A", []geom.Vec{{150, 50, 0}, {160, 50, 0}}, 1, "[A B]"},
		{"across the border", "B", []geom.Vec{{95, 50, 0}, {105, 50, 0}}, 1, "[A B]"},
		{"near the border", "A", []geom.Vec{{80, 50, 0}, {97, 50, 0}}, 2, "[A B]"},
		{"not so near", "A", []geom.Vec{{80, 50, 0}, {97, 50, 0}}, 1, "[A]"},
		{"one point", "A", []geom.Vec{{150, 50, 0}}, 1, "[A B]"},
		{"off the casting", "A", []geom.Vec{{20, 50, 90}, {30, 50, 90}}, 1, "[A B]"},
	} {
		b := newBench(plate())
		b.job.Earlier = []job.Earlier{{Zone: c.zone, Length: 10, Trace: c.trace, Std: unit.MM(c.std)}}
		r, _ := Run(b.input(t))
		got := r.Earlier[0].Zones
		slices.Sort(got)
		if fmt.Sprint(got) != c.want || len(r.Earlier[0].Castings) != 1 {
			t.Errorf("%s: counts in %v of %v, want %s", c.name, got, r.Earlier[0].Castings, c.want)
		}
	}
}

// A section line is one only inside its box, and all of the finding has to lie there,
// with its uncertainty and with what its tips may run on: near a face of the box that
// lies across the surface, not near one that lies along it. Constructed: the box ends
// at y = 60 mm and z = ±1 mm; the surface is z = 0.
func TestSectionLineInItsBox(t *testing.T) {
	for _, c := range []struct {
		y, std float64
		tips   body.TipMethod
		want   bool
	}{{50, 0.5, "penetrant", true}, {59.5, 0.5, "penetrant", false}, {59.5, 0.1, "penetrant", true}, {59.99, 0.5, "penetrant", false},
		{55, 0.5, "penetrant", true}, {55, 0.5, "visual", false}, {40, 0.5, "visual", true}, {61, 0.1, "penetrant", false}} {
		b := newBench(plate())
		b.body.Castings[0].MeshStd = 0
		b.body.Lines = []body.Line{{ID: "L", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 150, Margin: 10, Within: body.Box{Min: geom.Vec{0, 0, -1}, Max: geom.Vec{200, 60, 1}}}}
		b.crack("F", c.std, geom.Vec{30, 30, 0}, geom.Vec{30, c.y, 0}).Tips = []body.TipMethod{"penetrant", c.tips}
		if s := firstOf(t, b).Sides[0]; s.Outboard != c.want {
			t.Errorf("up to y = %g mm, std %g mm, tip %s: outboard %v, inside %+v", c.y, c.std, c.tips, s.Outboard, s.Inside)
		}
	}
}

// Where there is no inspection area nobody was asked to look: a spacing is not known
// from the finding itself on.
func TestNothingIsLookedAtWithoutAnArea(t *testing.T) {
	b := newBench(plate())
	b.crack("F", 0.1, geom.Vec{30, 30, 0}, geom.Vec{40, 30, 0})
	c := firstOf(t, b).Spacing
	least := math.Inf(1)
	for _, e := range c.Of {
		if e.Maybe {
			least = min(least, e.MM)
		}
	}
	if least != 0 {
		t.Errorf("without any area the spacing is %+v", c)
	}
}
