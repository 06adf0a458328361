package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

func radialPoint(id string, at geom.Vec, tol float64) body.Point {
	return body.Point{ID: body.PointID(id), X: at[0], Y: at[1], Z: at[2], Tol: unit.Some(tol)}
}

func axesPoint(id string, at, tol geom.Vec) body.Point {
	return body.Point{ID: body.PointID(id), X: at[0], Y: at[1], Z: at[2], TolX: unit.Some(tol[0]), TolY: unit.Some(tol[1]), TolZ: unit.Some(tol[2])}
}

// tight gives a point a box of 1 each way beside its ball.
func tight(p body.Point) body.Point {
	p.TolX, p.TolY, p.TolZ = unit.Some(1.0), unit.Some(1.0), unit.Some(1.0)
	return p
}

// There is a limit where there is a longest, however short.
func TestLimitsAreKnownByTheLongest(t *testing.T) {
	if (LengthLimit{}).Known() || !(LengthLimit{HighMM: 0.25}).Known() || !(LengthLimit{LowMM: -2, HighMM: 1}).Known() {
		t.Error("known is what has a longest")
	}
}

// A tolerance along the axes counts where all three are given.
func TestLeewaysByHand(t *testing.T) {
	box := axesPoint("A", geom.Vec{}, geom.Vec{1, 2, 3})
	if got := leeways(box); len(got) != 1 || got[0] != (leeway{axes: geom.Vec{1, 2, 3}}) {
		t.Errorf("%+v", got)
	}
	if got := leeways(tight(radialPoint("A", geom.Vec{}, 0.5))); len(got) != 2 || got[0] != (leeway{radius: 0.5}) || got[1] != (leeway{axes: geom.Vec{1, 1, 1}}) {
		t.Errorf("%+v", got)
	}
	for k := range 3 {
		tol := geom.Vec{0.5, 0.5, 0.5}
		tol[k] = 0
		if got := leeways(axesPoint("A", geom.Vec{}, tol)); len(got) != 0 {
			t.Errorf("without axis %d: %+v", k, got)
		}
	}
}

// Worked by hand: balls of 2 and 1 around a length of 500; boxes of 3, 4, 0.5 in all
// between points 30, 40, 0 apart; a ball of 1 and a box of 3, 4, 12 around one place.
func TestLengthBoundsByHand(t *testing.T) {
	for _, c := range []struct {
		name      string
		a, b      body.Point
		low, high float64
	}{
		{"two balls", radialPoint("A", geom.Vec{}, 2), radialPoint("B", geom.Vec{300, 400, 0}, 1), 497, 503},
		{"two boxes", axesPoint("A", geom.Vec{}, geom.Vec{1, 2, 0.25}), axesPoint("B", geom.Vec{30, -40, 0}, geom.Vec{2, 2, 0.25}), 45, math.Sqrt(33*33 + 44*44 + 0.25)},
		{"a box within a ball, at each end", tight(radialPoint("A", geom.Vec{}, 2)), tight(radialPoint("B", geom.Vec{0, 0, 90}, 3)), 88, math.Sqrt(92*92 + 8)},
		{"ball and box", radialPoint("A", geom.Vec{}, 1), axesPoint("B", geom.Vec{}, geom.Vec{3, 4, 12}), 0, 14},
	} {
		low, high := lengthBounds(c.a, c.b)
		if math.Abs(low-c.low) > 1e-12 || math.Abs(high-c.high) > 1e-12 {
			t.Errorf("%s: %v to %v, want %v to %v", c.name, low, high, c.low, c.high)
		}
	}
}

// No two points that keep their tolerance are nearer or farther apart, and some come as
// near to it as they can: places on the border of the tolerance, drawn and improved.
func TestNoPlaceBeatsTheBounds(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	vec := func(s float64) geom.Vec {
		return geom.Vec{s * (2*rng.Float64() - 1), s * (2*rng.Float64() - 1), s * (2*rng.Float64() - 1)}
	}
	for range 200 {
		var p [2]body.Point
		for k := range p {
			if p[k] = radialPoint("A", vec(40), 0.2+3*rng.Float64()); rng.IntN(2) == 0 {
				p[k] = axesPoint("A", vec(40), geom.Vec{0.2 + 3*rng.Float64(), 0.2 + 3*rng.Float64(), 0.2 + 3*rng.Float64()})
			}
		}
		low, high := lengthBounds(p[0], p[1])
		// the farthest place of one point in a direction is the one a length asks for
		off := func(q body.Point, dir geom.Vec) geom.Vec {
			if q.Tol.Known {
				return dir.Unit().Scale(q.Tol.Value)
			}
			return geom.Vec{math.Copysign(q.TolX.Value, dir[0]), math.Copysign(q.TolY.Value, dir[1]), math.Copysign(q.TolZ.Value, dir[2])}
		}
		far, near := 0.0, math.Inf(1)
		for range 300 {
			dir := p[1].At().Sub(p[0].At()).Add(vec(6))
			for range 4 {
				a, b := p[0].At().Sub(off(p[0], dir)), p[1].At().Add(off(p[1], dir))
				far = math.Max(far, a.Dist(b))
				dir = b.Sub(a)
			}
			share := rng.Float64()
			d := vec(1)
			near = math.Min(near, p[0].At().Add(off(p[0], d).Scale(share)).Dist(p[1].At().Add(off(p[1], vec(1)).Scale(rng.Float64()))))
		}
		if far > high+1e-9 || far < high-1e-6 || near < low-1e-9 {
			t.Fatalf("%+v: found %v to %v within %v to %v", p, near, far, low, high)
		}
	}
}

func limitOfLength(value, std float64, a, b body.Point) LengthLimit {
	r, _ := Run(Input{Points: []body.Point{a, b}, Readings: []job.Reading{spanReading("T", "length", a.ID, b.ID, value, std)}})
	return r.Lengths[0].Limit
}

// Points that stand as far apart as they may: "not within" is said of at most one reading
// of twenty, and so is "within" of points just beyond, whatever the gauge.
func TestLengthVerdictAtItsLimit(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	a, b := radialPoint("A", geom.Vec{}, 2), radialPoint("B", geom.Vec{900, 0, 0}, 1)
	const n = 4000
	for _, std := range []float64{0.2, 0.8, 3, 20} {
		var count [3]int
		for range n {
			count[limitOfLength(903+float64(std*rng.NormFloat64()), std, a, b).Verdict]++
		}
		// five standard deviations of a count of one in twenty
		if most := n/20 + 5*int(math.Sqrt(n*0.05*0.95)); count[Met] > most || count[NotMet] > most {
			t.Errorf("std %v: within %d, not within %d of %d, at most %d", std, count[Met], count[NotMet], n, most)
		}
	}
}

func TestLengthVerdictSaysWhy(t *testing.T) {
	a, b := radialPoint("A", geom.Vec{}, 2), radialPoint("B", geom.Vec{900, 0, 0}, 1)
	bare := radialPoint("B", geom.Vec{900, 0, 0}, 0)
	flat := axesPoint("B", geom.Vec{900, 0, 0}, geom.Vec{1, 0, 1}) // one axis without limit: any length
	for _, c := range []struct {
		value, std float64
		b          body.Point
		want       Verdict
		because    string
	}{
		{900, 0.5, b, Met, ""},
		{905, 0.5, b, NotMet, "A or B is out of its tolerance"},
		{895, 0.5, b, NotMet, "A or B is out of its tolerance"},
		{902.8, 0.5, b, Undecided, "it is too near the end of what is allowed"},
		{902, 1.5, b, Undecided, "it is too near the end of what is allowed"}, // twice 1.5 is the half of 897 to 903
		{902, 1.51, b, Undecided, "the reading is too rough for so small a tolerance"},
		{900, 5, b, Undecided, "the reading is too rough for so small a tolerance"},
		{905, 0.5, bare, Undecided, "the body gives no tolerance of B"},
		{905, 0.5, flat, Undecided, "the body gives no tolerance of B"},
	} {
		if got := limitOfLength(c.value, c.std, a, c.b); got.Verdict != c.want || got.Because != c.because || got.Known() != (c.b.ID == b.ID && c.b == b) {
			t.Errorf("%v ± %v: %+v, want %v, %q", c.value, c.std, got, c.want, c.because)
		}
	}
	r, _ := Run(Input{Points: []body.Point{a, b}, Readings: []job.Reading{spanReading("T", "height", "A", "B", 40, 0.5)}})
	if got := r.Lengths[0].Limit; got != (LengthLimit{Because: "nothing says how level the device stood to the vehicle"}) {
		t.Errorf("a height of a device that may lean: %+v", got)
	}
}
