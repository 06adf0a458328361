package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/normal"
	"fettle/internal/plan"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// By definition: a drawn number is the normal quantile of the share that is drawn; in the 24 cells of
// 4096 at either end to the last figures, between them along the chord of a cell, which is off by
// less than an eighth of the square of a cell times the bend, 7.5e-5 at the last of them.
func TestNormalsAreQuantiles(t *testing.T) {
	const n = 1 << 15
	from := stream(9, 0)
	got := make([]float64, n)
	normals(from, 0, got)
	var ends [2]int
	for i, x := range got {
		p := (float64(mix64(from+uint64(i+1)*golden)>>11) + 0.5) / (1 << 53)
		most := 7.5e-5
		for k, end := range []bool{p < 24.0/4096, p >= 1-24.0/4096} {
			if end {
				most = 1e-9
				ends[k]++
			}
		}
		if want := normal.Quantile(p); !(math.Abs(x-want) <= most) {
			t.Fatalf("draw %d: %v, want %v, within %v", i, x, want, most)
		}
	}
	if ends[0] < 100 || ends[1] < 100 {
		t.Errorf("%v draws at the ends", ends)
	}
}

// Quantiles by their closed forms: of a rectangle, of triangles, also with the peak at an end and
// with no width, of triangles by their tenths, of which one in ten lies beyond either, and of
// lognormal amounts, whose median is the mean by the root of 1 + cv^2.
func TestQuantilesByClosedForms(t *testing.T) {
	for _, c := range []struct {
		name string
		q    func(p float64) float64
		p    float64
		want float64
	}{
		{"rectangle, low", rectangular(-2, 6), 0, -2},
		{"rectangle, a quarter", rectangular(-2, 6), 0.25, 0},
		{"rectangle, high", rectangular(-2, 6), 1, 6},
		{"rectangle, far from nothing", rectangular(10, 14), 0.75, 13},
		{"triangle, low", triangular(2, 4, 10), 0, 2},
		{"triangle, below the peak", triangular(2, 4, 10), 0.0625, 3}, // (1^2)/(8*2)
		{"triangle, the peak", triangular(2, 4, 10), 0.25, 4},
		{"triangle, above the peak", triangular(2, 4, 10), 1 - 9.0/48, 7}, // 1 - 3^2/(8*6)
		{"triangle, high", triangular(2, 4, 10), 1, 10},
		{"triangle, peak at the low end", triangular(2, 2, 10), 0.75, 6}, // 1 - 4^2/8^2
		{"triangle, peak at the high end", triangular(2, 10, 10), 0.25, 6},
		{"triangle of no width", triangular(5, 7, 5), 0.3, 7},
		{"triangle the wrong way", triangular(6, 7, 5), 0.3, 7},
		{"tenths, low", triangularTenths(10, 30, 90), 0.1, 10},
		{"tenths, high", triangularTenths(10, 30, 90), 0.9, 90},
		{"tenths, likely at the low end", triangularTenths(10, 10, 90), 0, 10},
		{"tenths, likely at the low end, high", triangularTenths(10, 10, 90), 0.9, 90},
		{"tenths, likely at the high end", triangularTenths(10, 90, 90), 1, 90},
		{"tenths, likely at the high end, low", triangularTenths(10, 90, 90), 0.1, 10},
		{"lognormal, median", lognormal(50, 0.75), 0.5, 40}, // 50 / 1.25
		{"lognormal, one standard deviation", lognormal(50, 0.75), normal.CDF(1), 40 * math.Exp(math.Sqrt(math.Log(1.5625)))},
	} {
		if got := c.q(c.p); !(math.Abs(got-c.want) <= 1e-9*max(1, math.Abs(c.want))) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// By hand: each of these comes before the next, whatever the ones after it in the list of reasons
// say; what differs in nothing does not come before itself.
func TestOrderOfRoutesByHand(t *testing.T) {
	r := func(feasible bool, open int, whole bool, total unit.Minor, days int, id string) Route {
		return Route{Feasible: feasible, Open: open, ID: id, Bill: cost.Bill{Complete: whole, Total: total}, Plan: plan.Plan{Calendar: days, Finish: unit.Date{Year: 2026, Month: 3, Day: 2}}}
	}
	list := []Route{r(true, 0, true, 5, 5, "a"), r(true, 0, true, 5, 5, "b"), r(true, 0, true, 5, 6, "a"), r(true, 0, true, 6, 1, "a"),
		r(true, 0, false, 1, 1, "a"), r(true, 1, true, 1, 1, "a"), r(true, 2, true, 1, 1, "a"), r(false, 0, true, 1, 1, "a")}
	for i, a := range list {
		for j, b := range list {
			if before(a, b) != (i < j) {
				t.Errorf("%d before %d: %v", i, j, before(a, b))
			}
		}
	}
	undated := list[0]
	undated.Plan.Finish = unit.Date{}
	if dated(undated) || before(undated, list[3]) || !before(list[3], undated) {
		t.Error("a plan without a finish comes before one that costs more")
	}
}

// By hand, on a bar of 400 mm: what a plane, a curve on the surface, a curve that does not divide the
// bar, and one off its surface take off at 100 mm, of its points and its zones; nothing where
// nobody knows.
func TestWhatALineTakesOff(t *testing.T) {
	loop := []geom.Vec{{100, 0, 25}, {100, 0, 0}, {100, 25, 0}, {100, 50, 0}, {100, 50, 25}, {100, 50, 50}, {100, 25, 50}, {100, 0, 50}}
	m := &mesh.Mesh{Faces: [][3]int32{{0, 3, 1}, {1, 3, 2}, {12, 13, 15}, {13, 14, 15}}, Label: []int32{2, 2, 3, 3}} // the faces at x = 0 are the nose, those at 400 the end
	for _, x := range []float64{0, 80, 120, 400} {
		m.Points = append(m.Points, geom.Vec{x, 0, 0}, geom.Vec{x, 50, 0}, geom.Vec{x, 50, 50}, geom.Vec{x, 0, 50})
	}
	for ring := int32(0); ring < 12; ring += 4 {
		for k := range int32(4) {
			a, b := ring+k, ring+(k+1)%4
			m.Faces = append(m.Faces, [3]int32{a, b, b + 4}, [3]int32{a, b + 4, a + 4})
			m.Label = append(m.Label, 1, 1)
		}
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	plane := body.Line{ID: "P", Casting: "front", Normal: geom.Vec{1, 0, 0}, Offset: 100}
	curve := body.Line{ID: "C", Casting: "front", Curve: loop, TakenOff: geom.Vec{0, 25, 25}}
	eight := body.Line{ID: "E", Casting: "front", Curve: []geom.Vec{{20, 10, 0}, {80, 40, 0}, {80, 10, 0}, {20, 40, 0}}, TakenOff: geom.Vec{0, 25, 25}}
	off := body.Line{ID: "O", Casting: "front", Curve: []geom.Vec{{20, 10, 300}, {80, 40, 0}, {80, 10, 0}}, TakenOff: geom.Vec{0, 25, 25}}
	for _, c := range []struct {
		line   body.Line
		mesh   bool
		nose   bool // is taken off
		points bool
	}{{plane, true, true, true}, {curve, true, true, true}, {eight, true, false, false}, {off, true, false, false}, {plane, false, false, true}, {curve, false, false, false}} {
		in := input()
		in.Body.Lines = []body.Line{c.line}
		in.Body.Castings[0].Zones = []body.Zone{{ID: "NOSE", Label: 2}, {ID: "REST", Label: 1}, {ID: "END", Label: 3}, {ID: "NONE", Label: 7}}
		surfaces := map[body.CastingID]*mesh.Surface{}
		if c.mesh {
			surfaces["front"] = s
		}
		in.Vehicle = vehicle.New(in.Body, surfaces)
		f := newFinder(in)
		name := fmt.Sprintf("%s, mesh %v", c.line.ID, c.mesh)
		for x, want := range map[float64]bool{0: c.points, 99: c.points, 101: false, 400: false} {
			if got := f.takesOff(c.line, geom.Vec{x, 25, 50}); got != want {
				t.Errorf("%s: the point at %v: %v, want %v", name, x, got, want)
			}
		}
		cut := []plan.Item{{Kind: body.Weld, Line: c.line.ID}, {Kind: body.SectionOff, Line: c.line.ID}}
		for zone, want := range map[body.ZoneID]bool{"NOSE": c.nose, "REST": false, "END": false, "NONE": false, "OTHER": false} {
			if got := f.zoneRenewed("front", zone, cut); got != want {
				t.Errorf("%s: zone %s: %v, want %v", name, zone, got, want)
			}
			if f.zoneRenewed("front", zone, cut[:1]) || f.zoneRenewed("rear", zone, cut) {
				t.Errorf("%s: zone %s goes by a weld, or with another casting", name, zone)
			}
			if !f.zoneRenewed("front", zone, []plan.Item{cut[0], {Kind: body.ReplaceCasting, Part: "cast"}}) || f.zoneRenewed("front", zone, []plan.Item{{Kind: body.ReplaceCasting, Part: "horn"}, {Kind: body.Exchange, Part: "cast"}}) {
				t.Errorf("%s: zone %s and a new casting", name, zone)
			}
		}
		in.Body.Castings = append(in.Body.Castings, body.Casting{ID: "rear", Part: "tower", Zones: in.Body.Castings[0].Zones})
		if f.zoneRenewed("rear", "NOSE", cut) {
			t.Errorf("%s: a line of the front casting takes off the rear one", name)
		}
	}
}

// Law: the mixes of one candidate do not change one another, nor what they are made of: made one
// after the other, each is as it was when it was made, and open points are listed in order.
func TestMixesAreApart(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 93))
	in := measured(input(verdicts{"weld": decide.Undecided, "plate": decide.Ask}, verdicts{"weld": decide.Ask, "plate": decide.Undecided}, verdicts{"plate": decide.Undecided}), nil, true)
	f := newFinder(in)
	c := candidate{ask: append(make([]string, 0, 9), "Z"), measure: append(make([]string, 0, 9), "Y"), items: make([]plan.Item, 0, 9)}
	type open struct{ ask, measure []string }
	var made []candidate
	var was []open
	for range 20 {
		var picks []choice
		for k := range f.wards {
			o := f.wards[k].options[rng.IntN(len(f.wards[k].options))]
			for _, it := range f.items(&f.wards[k], o.kind) {
				it.Open, it.Ask = true, rng.IntN(2) == 0
				picks = append(picks, choice{item: it})
			}
		}
		x := f.with(c, picks)
		if !slices.IsSorted(x.ask) || !slices.IsSorted(x.measure) || !slices.Contains(x.ask, "Z") || !slices.Contains(x.measure, "Y") || len(x.ask)+len(x.measure) != 2+len(picks)+len(in.Body.Points) {
			t.Fatalf("ask %v, measure %v", x.ask, x.measure)
		}
		made, was = append(made, x), append(was, open{slices.Clone(x.ask), slices.Clone(x.measure)})
	}
	for k, x := range made {
		if !slices.Equal(x.ask, was[k].ask) || !slices.Equal(x.measure, was[k].measure) {
			t.Errorf("mix %d: %v %v, was %+v", k, x.ask, x.measure, was[k])
		}
	}
	if len(c.ask) != 1 || len(c.items) != 0 {
		t.Errorf("what they are made of: %+v", c)
	}
}

// By trying every mix: before a search the least own weight and the least work of the slots that
// are left are those of some mix, no less and no more, and what is sure is what every mix asks for;
// what is fixed, waits and takes days is that of what every mix holds.
func TestBoundsOfMixesAgainstEnumerationSeeds(t *testing.T) {
	mixes, waiting := 0, 0
	for seed := range uint64(12) {
		in := withJointSteps(randomShared(seed, 4), seed)
		rng := rand.New(rand.NewPCG(seed, 97))
		for i := range in.Decide.Findings {
			for k := range in.Decide.Findings[i].Options {
				if rng.IntN(2) == 0 {
					in.Decide.Findings[i].Options[k].Verdict = decide.Undecided
				}
			}
		}
		f := newFinder(in)
		for _, c := range f.candidates(f.actions()) {
			if c.excluded != "" || c.large() {
				continue
			}
			h := f.begin(c, 3)
			n := len(c.slots)
			fixed, days, waits, held, sure := int64(0), 0, 0, plan.Work{}, plan.Demand{}
			for _, it := range c.items {
				x := f.choice(it)
				fixed, days, held, sure = fixed+x.own, max(days, x.days), held.Plus(x.work), sure.With(x.demand)
				if it.Open {
					waits += len(it.Findings)
				}
			}
			rest, work, common := make([]int64, n+1), make([]plan.Work, n+1), sure
			first := true
			var try func(k int, picks []choice)
			try = func(k int, picks []choice) {
				if k < n {
					for _, o := range c.slots[k].options {
						try(k+1, append(slices.Clip(picks), o))
					}
					return
				}
				mixes++
				all, own, w := sure, int64(0), plan.Work{}
				for k := n - 1; k >= 0; k-- {
					all, own, w = all.With(picks[k].demand), own+picks[k].own, w.Plus(picks[k].work)
					if first || own < rest[k] {
						rest[k] = own
					}
					if first {
						work[k] = w
					}
					work[k] = work[k].Least(w)
				}
				if first {
					common = all
				}
				common, first = common.Common(all), false
			}
			try(0, nil)
			if waits > 0 {
				waiting++
			}
			if h.fixed != fixed || h.days != days || h.waits != waits || h.sure != common || !slices.Equal(h.rest, rest) || h.plans != 3 || !h.proven || !h.quick {
				t.Errorf("seed %d, %s: %d %d %d %v, %v, want %d %d %d %v, %v", seed, c.id, h.fixed, h.days, h.waits, h.sure, h.rest, fixed, days, waits, common, rest)
			}
			for k := range work {
				for s := range work[k] {
					if math.Abs(work[k][s]-h.toCome[k][s]) > 1e-9 || math.Abs(held[s]-h.work[s]) > 1e-9 {
						t.Errorf("seed %d, %s: from slot %d on %v, want %v; held %v, want %v", seed, c.id, k, h.toCome[k], work[k], h.work, held)
					}
				}
			}
		}
	}
	if mixes < 200 || waiting < 3 {
		t.Errorf("%d mixes, %d candidates of which something waits in each", mixes, waiting)
	}
}
