package decide

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// The zone that an earlier repair was entered for lowers no count where its trace
// lies: seed 46. On the plate with bands of 20 mm, a weld needs no more than one
// crack or repair in the zone.
func TestAnEarlierRepairIsCountedWhereItLiesSeed46(t *testing.T) {
	rng := rand.New(rand.NewPCG(46, 46))
	for range 40 {
		p := newPlate(t)
		p.in.Body.Procedures[0].Rows = []body.Row{{ID: "R", Cite: "constructed", Allow: []body.TreatmentKind{body.Weld}, When: map[string]string{"count_in_zone": "<= 1", "crack_length_in_zone": "<= 15 mm"}}}
		y := 2 + 96*rng.Float64()
		p.crack("F1", 0.1, geom.Vec{60, y, 0}, geom.Vec{70, y, 0})
		if d := p.decide(); option(d.out.Findings[0], body.Weld) != Allowed && len(d.in.Findings[0].Zones) == 1 {
			t.Fatalf("one crack alone is not allowed: %+v", d.out.Findings[0].Options)
		}
		at := y + 0.5*rng.Float64()
		p.in.Job.Earlier = []job.Earlier{{Zone: body.ZoneID(zonesOfCheck[rng.IntN(5)]), Length: 8, Std: 0.5, Trace: []geom.Vec{{120, at, 0}, {128, at, 0}}}}
		if d := p.decide(); option(d.out.Findings[0], body.Weld) == Allowed {
			t.Fatalf("crack at y = %.1f, repair at %.1f entered for %s: %+v", y, at, p.in.Job.Earlier[0].Zone, d.out.Findings[0].Facts)
		}
	}
}

// The length of several cracks together is held against a limit with every length
// that each may have, and for every zone: near-equal sums with unequal uncertainty.
// Constructed.
func TestLengthTogetherHasEveryLength(t *testing.T) {
	c, err := rule.ParseCond(body.FactLengthHere, rule.Number, "mm", "<= 40.5 mm")
	if err != nil {
		t.Fatal(err)
	}
	w := newWorld()
	w.crack("F1", 20, 0.05, "OPEN-1", "OPEN-2")
	w.crack("F2", 20, 0.05, "OPEN-1")
	w.crack("F3", 19.8, 0.05, "OPEN-2")
	state := func() rule.CondState { return c.Eval(factIn(w, body.FactLengthHere).value, 0.95).State }
	if s := state(); s != rule.Met {
		t.Fatalf("40 mm well known: %v", s)
	}
	w.in.Inspect.Findings[1].Lengths = []inspect.Length{{MM: 19.7, Std: 3}}
	if s := state(); s != rule.CondUndecided {
		t.Errorf("another length of F2 may be over: %v", s)
	}
	w.in.Inspect.Findings[1].Lengths = nil
	w.in.Inspect.Findings[2].Decision.Std = 3
	if s := state(); s != rule.CondUndecided {
		t.Errorf("the shorter sum, in the other zone, is badly known: %v", s)
	}
}

// With more sums than are held against a limit one by one the stricter one stands for
// all.
func TestManySumsAreTakenTogether(t *testing.T) {
	var each [][]rule.Value
	for range 8 {
		each = append(each, []rule.Value{rule.NumberValue(11, 0.5, "mm"), rule.NumberValue(10, 1, "mm")})
	}
	got := sums(each, 3)
	if len(got) != 1 || got[0].Number != 91 || got[0].Std != 8 {
		t.Errorf("%v, want 91 mm with 8 mm", got)
	}
	if n := len(sums(each[:6], 0)); n != 64 {
		t.Errorf("%d sums of six pairs", n)
	}
}

// What nobody was asked to look at is not looked at: without an area in a zone, or on
// the whole casting, its counts are not known.
func TestCountsNeedAnAreaInEveryZone(t *testing.T) {
	for _, c := range []struct {
		name       string
		without    []body.ZoneID
		zone, cast bool
	}{{"every zone", nil, true, true}, {"another zone", []body.ZoneID{"GUARDED-2"}, true, false}, {"its zone", []body.ZoneID{"OPEN-1"}, false, false},
		{"no area at all", []body.ZoneID{"OPEN-1", "OPEN-2", "GUARDED-1", "GUARDED-2", "CRITICAL-1"}, false, false}} {
		w := newWorld()
		w.crack("F1", 9, 1, "OPEN-1")
		for _, z := range c.without {
			var areas []body.Area
			for _, a := range w.in.Body.Inspect {
				if a.Zone != z {
					areas = append(areas, a)
				}
			}
			w.in.Body.Inspect = areas
		}
		if z, all := factIn(w, body.FactInZone).value.Known, factIn(w, body.FactCount).value.Known; z != c.zone || all != c.cast {
			t.Errorf("area missing in %s: known in the zone %v, on the casting %v", c.name, z, all)
		}
	}
}
