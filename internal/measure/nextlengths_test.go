package measure

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// readAsBuilt is the planned lengths as a still vehicle has them, read with noise.
func readAsBuilt(c *car, in Input, next NextLengths) Input {
	in.Readings = slices.Clone(in.Readings)
	for _, n := range next.Rows {
		in.Readings = append(in.Readings, spanReading("T2", "length", n.From, n.To, n.NominalMM+float64(next.StdMM*c.rng.NormFloat64()), next.StdMM))
	}
	return in
}

func checkRowsOf(t *testing.T, in Input, next NextLengths, most int) {
	t.Helper()
	p := prepare(in)
	seen := map[[2]int]bool{}
	for k := range p.spans {
		seen[pairOf(p.spans[k].from, p.spans[k].to)] = true
	}
	if len(next.Rows) > most {
		t.Errorf("%d lengths on a page of %d", len(next.Rows), most)
	}
	for _, n := range next.Rows {
		a, b := p.index[n.From], p.index[n.To]
		d := in.Points[a].At().Dist(in.Points[b].At())
		if n.Why != NextAgain && seen[pairOf(a, b)] || a == b || math.Abs(n.NominalMM-d) > 1e-6 {
			t.Errorf("%+v was read, planned twice, or is not %v long", n, d)
		}
		seen[pairOf(a, b)] = true
	}
}

// From nothing, and from some lengths: whatever is said to get a place gets one on a still
// vehicle, and most of what is said to be decided is decided then.
func TestNextLengthsDoWhatTheySay(t *testing.T) {
	decided, of, placed := 0, 0, 0
	for seed := uint64(1); seed <= uint64(draws(12, 120)); seed++ {
		c := newCar(8+int(seed%8), seed)
		in := taped(c, int(seed%3)*9)
		for i := range in.Points {
			in.Points[i].Tol = unit.Some(3.0)
		}
		next := Next(in, Gauge{StdMM: 0.3}, 24)
		checkRowsOf(t, in, next, 24)
		r, _ := Run(readAsBuilt(c, in, next))
		h, _ := r.Best()
		for _, id := range next.Placed {
			placed++
			if _, ok := h.Point(id); !ok {
				t.Errorf("seed %d: %s has no place", seed, id)
			}
		}
		for _, id := range next.Decided {
			of++
			if p, _ := h.Point(id); p.settled() {
				decided++
			}
		}
	}
	t.Logf("%d of %d decided, %d placed", decided, of, placed)
	if placed < 50 || of < 15 || 10*decided < 8*of {
		t.Errorf("%d placed; %d of %d decided", placed, decided, of)
	}
}

// One point that lacks two lengths to a frame that is known: those two come first, in the
// directions in which it is least known, and nothing that was read is asked for again.
func TestNextLengthsOfOnePoint(t *testing.T) {
	at := []geom.Vec{{0, -600, 0}, {0, 600, 0}, {1500, -600, 100}, {1500, 600, 0}, {700, 0, 900}, {750, -500, 400}}
	in := Input{Impact: "unknown"}
	for i, v := range at {
		p := radialPoint(string(rune('A'+i)), v, 3)
		p.Std = unit.Some(0.2)
		in.Points = append(in.Points, p)
	}
	length := func(i, j int) {
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, at[i].Dist(at[j]), 0.3))
	}
	for i := range 5 {
		for j := range i {
			length(i, j)
		}
	}
	length(5, 0)
	length(5, 2)
	next := Next(in, Gauge{StdMM: 0.3}, 2)
	checkRowsOf(t, in, next, 2)
	if len(next.Rows) != 2 || next.Rows[0].For != "F" || next.Rows[1].For != "F" || !slices.Equal(next.Placed, []body.PointID{"F"}) {
		t.Errorf("%+v", next)
	}
}

// What contradicts itself or other lengths is read again before anything else.
func TestNextLengthsBeginWithContradictions(t *testing.T) {
	c := newCar(9, 5)
	in := taped(c, 20)
	first := in.Readings[3]
	again := first
	again.Value.Value += 9
	in.Readings = append(in.Readings, again)
	next := Next(in, Gauge{StdMM: 0.5}, 24)
	checkRowsOf(t, in, next, 24)
	if n := next.Rows[0]; n.Why != NextAgain || pairOf(int(n.From[2]), int(n.To[2])) != pairOf(int(first.From[2]), int(first.To[2])) {
		t.Errorf("first comes %+v, not %s–%s", n, first.From, first.To)
	}
}

// Points of which no four span a space, or whose places are no numbers, give no plan and
// no promise.
func TestNextLengthsPromiseNothingOfFlatPoints(t *testing.T) {
	for _, z := range []float64{0, 4, math.NaN()} {
		in := Input{}
		for i := range 8 {
			in.Points = append(in.Points, radialPoint(string(rune('A'+i)), geom.Vec{float64(300 * i), float64(500 * (i % 2)), z * float64(i%3%2)}, 2))
		}
		next := Next(in, Gauge{StdMM: 0.5}, 24)
		if len(next.Placed)+len(next.Decided) > 0 || len(next.Rows) > 0 {
			t.Errorf("height %v: %+v", z, next)
		}
	}
}

// A gauge that reads no more than two metres is asked for no longer length.
func TestNextLengthsAreInReachOfTheGauge(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		c := newCar(14, seed)
		next := Next(taped(c, 0), Gauge{StdMM: 0.3, LongestMM: 2000}, 24)
		if len(next.Placed) < minBlock {
			t.Errorf("seed %d: %+v", seed, next.Placed)
		}
		for _, n := range next.Rows {
			if n.NominalMM > 2000 {
				t.Errorf("seed %d: %s–%s is %v long", seed, n.From, n.To, n.NominalMM)
			}
		}
	}
}
