package plan

import (
	"math"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// By hand: a step can be done wherever another one was that needs no less of anybody or
// anything.
func TestStepsThatCoverOthers(t *testing.T) {
	plain := Step{Skill: "alu", Bay: "bench", Minutes: 10, WaitMin: 30, Takes: []body.PartID{"x"}, Equipment: []string{"welder", "lamp"}}
	for name, c := range map[string]struct {
		change func(s *Step)
		want   bool
	}{
		"the same": {func(s *Step) {}, true}, "shorter": {func(s *Step) { s.Minutes = 9 }, true}, "longer": {func(s *Step) { s.Minutes = 10.5 }, false},
		"a shorter wait": {func(s *Step) { s.WaitMin = 29 }, true}, "a longer wait": {func(s *Step) { s.WaitMin = 31 }, false}, "another skill": {func(s *Step) { s.Skill = "hv" }, false},
		"no bay": {func(s *Step) { s.Bay = "" }, true}, "another bay": {func(s *Step) { s.Bay = "booth" }, false}, "less equipment": {func(s *Step) { s.Equipment = s.Equipment[:1] }, true},
		"more equipment": {func(s *Step) { s.Equipment = []string{"hoist"} }, false}, "no part": {func(s *Step) { s.Takes = nil }, true}, "another part": {func(s *Step) { s.Takes = []body.PartID{"y"} }, false},
	} {
		s := plain
		c.change(&s)
		if got := covers(&node{step: plain}, &node{step: s}); got != c.want {
			t.Errorf("%s: %t", name, got)
		}
	}
}

// By hand: an item is no worse than another where it asks for nothing more in any respect; each
// change of one of them by the least that makes it worse is seen.
func TestItemsThatAreNoWorse(t *testing.T) {
	lean := func() (Input, Item, Item) { // b is the weld with one more step
		in := input()
		t := in.Body.Treatments[0]
		t.ID = "lean"
		t.Steps = append([]body.Step{}, t.Steps[:2]...)
		more := in.Body.Treatments[0]
		more.ID = "more"
		more.Steps = append([]body.Step{{ID: "w0", Name: "Clean", Skill: "alu", Fixed: 3}}, t.Steps...)
		in.Body.Treatments = append(in.Body.Treatments, t, more)
		a, b := weldF2, weldF2
		a.Treatment, b.Treatment = "lean", "more"
		return in, a, b
	}
	at := func(in *Input, id body.TreatmentID) *body.Treatment {
		for k := range in.Body.Treatments {
			if in.Body.Treatments[k].ID == id {
				return &in.Body.Treatments[k]
			}
		}
		return nil
	}
	for name, c := range map[string]struct {
		change func(in *Input, a, b *Item)
		want   bool
	}{
		"fewer steps":         {func(in *Input, a, b *Item) {}, true},
		"more steps":          {func(in *Input, a, b *Item) { *a, *b = *b, *a }, false},
		"waits for an answer": {func(in *Input, a, b *Item) { a.Ask, a.Open = true, true }, false},
		"both wait":           {func(in *Input, a, b *Item) { a.Ask, a.Open, b.Ask, b.Open = true, true, true, true }, true},
		"is assumed":          {func(in *Input, a, b *Item) { a.Open = true }, false},
		"one more task":       {func(in *Input, a, b *Item) { at(in, "lean").Requires = []body.TaskID{"bench", "isolate"} }, false},
		"one task less":       {func(in *Input, a, b *Item) { at(in, "lean").Requires = nil }, true},
		"more to open":        {func(in *Input, a, b *Item) { *a = weldF1; a.Treatment = "lean" }, false},
		"more material": {func(in *Input, a, b *Item) {
			at(in, "lean").Steps[1].Uses = []body.Use{{Material: "wire", PerMetre: amount(0.21, "kg")}}
		}, false},
		"less material": {func(in *Input, a, b *Item) {
			at(in, "lean").Steps[1].Uses = []body.Use{{Material: "wire", PerMetre: amount(0.19, "kg")}}
		}, true},
		"another material": {func(in *Input, a, b *Item) {
			at(in, "lean").Steps[1].Uses = []body.Use{{Material: "rivet", Each: amount(1, "piece")}}
		}, false},
		"a longer step": {func(in *Input, a, b *Item) { at(in, "lean").Steps[0].Fixed += 0.5 }, false},
		"in one go":     {func(in *Input, a, b *Item) { at(in, "lean").Steps[0].Together = "x" }, false},
		"a bond": {func(in *Input, a, b *Item) {
			for _, id := range []body.TreatmentID{"lean", "more"} {
				s := at(in, id).Steps
				s[len(s)-1].Uses = []body.Use{{Material: "glue", Each: amount(1, "ml")}}
			}
		}, false},
		"another order": {func(in *Input, a, b *Item) {
			s := at(in, "lean").Steps
			s[0], s[1] = s[1], s[0]
		}, false},
		"longer, with a task by the length": {func(in *Input, a, b *Item) {
			in.Body.Tasks[1].Step.PerMetre = 1
			in.Inspect.Findings[1].Zones = in.Inspect.Findings[0].Zones // F2 is longer than F1
			b.Findings = weldF1.Findings
			at(in, "lean").Steps, at(in, "more").Steps = []body.Step{{ID: "x", Skill: "alu", Fixed: 3}}, []body.Step{{ID: "x", Skill: "alu", Fixed: 3}}
		}, false},
		"longer, with no task by the length": {func(in *Input, a, b *Item) {
			in.Inspect.Findings[1].Zones = in.Inspect.Findings[0].Zones
			b.Findings = weldF1.Findings
			at(in, "lean").Steps, at(in, "more").Steps = []body.Step{{ID: "x", Skill: "alu", Fixed: 3}}, []body.Step{{ID: "x", Skill: "alu", Fixed: 3}}
		}, true},
		"as long, with a task by the length": {func(in *Input, a, b *Item) { in.Body.Tasks[1].Step.PerMetre = 1 }, true},
		"buys a part": {func(in *Input, a, b *Item) {
			*a, *b = swapF3, swapF3
			b.Part = "bumper"
		}, false},
	} {
		in, a, b := lean()
		c.change(&in, &a, &b)
		if got := NewWeigher(in).NoWorse(a, b); got != c.want {
			t.Errorf("%s: no worse %t", name, got)
		}
	}
	for name, c := range map[string]struct {
		change func(st *body.Step)
		want   bool
	}{
		"fixed": {func(st *body.Step) {}, false}, "minutes": {func(st *body.Step) { st.PerMetre = 1 }, true},
		"material": {func(st *body.Step) { st.Uses = []body.Use{{Material: "wire", PerMetre: amount(1, "kg")}} }, true},
		"area":     {func(st *body.Step) { st.Uses = []body.Use{{Material: "wire", PerArea: amount(1, "kg"), Width: 1}} }, true},
		"each":     {func(st *body.Step) { st.Uses = []body.Use{{Material: "wire", Each: amount(1, "kg")}} }, false},
	} {
		for _, task := range []int{1, 2} { // before and after
			in := input()
			c.change(&in.Body.Tasks[task].Step)
			if got := NewWeigher(in).tasksByLength(weldF2); got != c.want {
				t.Errorf("%s of task %d: by the length %t", name, task, got)
			}
		}
	}
}

// By hand: what an item costs by itself. F2 is 50 mm: grinding 5 + 5 min and welding 10 + 20 min
// at 90.00 an hour, 60.00; 0.01 kg of wire at 25.00, 0.25. The section: 20 + 20, 10 and 7 min,
// 85.50; 14 rivets of 25 at 12.00, 6.72; 2.4 ml of glue with 10 % waste of 50 at 39.00, 2.0592;
// the piece 600.00. Packed are wire, sheet and rivets, since joints use glue.
func TestWhatAnItemCostsByItself(t *testing.T) {
	w := NewWeigher(input())
	packed := w.Packed()
	var names []body.MaterialID
	for _, p := range packed {
		names = append(names, p.Material)
	}
	if len(names) != 3 || names[0] != "rivet" || names[1] != "wire" || names[2] != "sheet" || packed[0].Price != 1200*WeightScale {
		t.Fatalf("packed are %+v", packed)
	}
	for _, c := range []struct {
		it    Item
		own   float64 // in minor units
		packs [3]float64
		days  int
	}{
		{weldF2, 6000 + 25, [3]float64{0, 0.01, 0}, 1},
		{cutS1, 8550 + 672 + 205.92 + 60000, [3]float64{0.56, 0, 0}, 3},
		{swapF3, 5*120 + 4500, [3]float64{}, 2},
		{Item{Kind: body.Leave, Findings: weldF1.Findings}, 0, [3]float64{}, 0},
	} {
		own := float64(w.Own(c.it)) / WeightScale
		bare, used := w.Bare(c.it, packed)
		rest := c.own
		for k, p := range packed {
			if math.Abs(used[k]-c.packs[k]) > 1e-9 {
				t.Errorf("%s: %v packs, want %v", c.it.Treatment, used, c.packs)
			}
			rest -= c.packs[k] * float64(p.Price) / WeightScale
		}
		if math.Abs(own-c.own) > 0.001 || math.Abs(float64(bare)/WeightScale-rest) > 0.001 {
			t.Errorf("%s: %g, without packed %g; want %g and %g", c.it.Treatment, own, float64(bare)/WeightScale, c.own, rest)
		}
		if got := w.LeastDays(c.it); got != c.days {
			t.Errorf("%s: %d days at least, want %d", c.it.Treatment, got, c.days)
		}
	}
	in := input()
	in.Body.Tasks[1].Step.Layout = &body.Layout{Rivet: "rivet", Plate: "sheet"}
	in.Body.Materials[2].Price = unit.Money{}
	if got := NewWeigher(in).Packed(); len(got) != 0 {
		t.Errorf("what tasks use, or costs nothing, is packed: %+v", got)
	}
}

// A set of at most 256 things; what does not fit is left out (constructed).
func TestWideSets(t *testing.T) {
	var a, b wide
	for _, i := range []int{0, 63, 64, 200, 255, 256, 300} {
		a.add(i)
	}
	for _, i := range []int{63, 65, 255} {
		b.add(i)
	}
	for i := range 400 {
		in := i == 0 || i == 63 || i == 64 || i == 200 || i == 255
		other := i == 63 || i == 65 || i == 255
		if a.has(i) != in || a.or(b).has(i) != (in || other) || a.and(b).has(i) != (in && other) {
			t.Errorf("%d: %t, with %t, common %t", i, a.has(i), a.or(b).has(i), a.and(b).has(i))
		}
	}
	d, e := Demand{opens: a}, Demand{opens: b}
	if d.in(e) || !d.Common(e).in(e) || !d.in(d.With(e)) {
		t.Error("what is in what")
	}
}
