package report

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/picture"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

func TestFigures(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{mm(18.349), "18.3" + thin + "mm"},
		{fixed(-0.04, 1), "0.0"}, // never minus zero
		{fixed(-3.26, 1), "−3.3"},
		{signed(0.04), "0.0"},
		{signed(2), "+2.0"},
		{plusMinus(41.3, 1.1), "41.3 ± 2.2" + thin + "mm"}, // k = 2
		{percent(1), "over 99.9" + thin + "%"},
		{percent(0.99951), "over 99.9" + thin + "%"},
		{percent(0.9994), "99.9" + thin + "%"},
		{percent(0), "under 0.1" + thin + "%"},
		{percent(0.5), "50.0" + thin + "%"},
		{minutes(135), "2" + thin + "h 15" + thin + "min"},
		{minutes(60), "1" + thin + "h"},
		{elapsed(4320), "3" + thin + "days"},
		{elapsed(4381), "3" + thin + "days 1" + thin + "h 1" + thin + "min"},
		{money(unit.Minor(123456789), "EUR"), "1,234,567.89" + thin + "EUR"},
		{amount(184.5, "ml"), "184.5" + thin + "ml"},
		{amount(0.333333, "m"), "0.33" + thin + "m"},
		{day(d(4)), "Wed 4 Mar 2026"}, // a Wednesday by the calendar
		{day(unit.Date{}), "not given"},
		{unit.Count(1, "day"), "1 day"},
		{unit.Count(2, "day"), "2 days"},
		{unit.Count(2, "query"), "2 queries"},
		{list([]string{"A", "B", "C"}, 3), "A, B and C"},
		{list([]string{"A", "B", "C"}, 2), "A, B and 1 more"},
		{fixed(math.NaN(), 1), "unknown"},
		{grouped(1234567), "1,234,567"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestDirectionsFollowTheAxes(t *testing.T) {
	w := wordsOf(body.Axes{X: "rearward", Y: "right", Z: "up"})
	if got, want := w.direction(geom.Vec{-3, 6.2, 0.4}), "6.2"+thin+"mm to the right and 3.0"+thin+"mm forward"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	w = wordsOf(body.Axes{X: "forward", Y: "left", Z: "up"})
	if got, want := w.direction(geom.Vec{-3, 0, 0}), "3.0"+thin+"mm rearward"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// From above and from the side the front is to the left; from the front, the
// vehicle's left is on the right, as a person sees it.
func TestViewsAreNotMirrored(t *testing.T) {
	for _, axes := range []body.Axes{{X: "rearward", Y: "right", Z: "up"}, {X: "forward", Y: "left", Z: "up"}} {
		f := frameOf(axes)
		front, left, up := f.rear.Scale(-100), f.right.Scale(-100), f.up.Scale(100)
		v := standardViews(f)
		x := func(c picture.Camera, p geom.Vec) float64 { c.Scale = 1; u, _, _ := c.At(p); return u }
		y := func(c picture.Camera, p geom.Vec) float64 { c.Scale = 1; _, u, _ := c.At(p); return u }
		if x(v[0], front) >= 0 || y(v[0], left) <= 0 {
			t.Errorf("%v: from above, the front must be to the left and the vehicle's left below", axes)
		}
		if x(v[1], front) >= 0 || y(v[1], up) >= 0 {
			t.Errorf("%v: from the left side, the front must be to the left and up above", axes)
		}
		if x(v[2], left) <= 0 {
			t.Errorf("%v: from the front, the vehicle's left must be to the right", axes)
		}
		if x(v[3], front) <= 0 {
			t.Errorf("%v: from the right side, the front must be to the right", axes)
		}
	}
}

// A square of 100 mm drawn at one pixel for each millimetre covers 10,000
// pixels, less or more one row at its edge (constructed).
func TestRasterCoversWhatItShould(t *testing.T) {
	m := boxMesh()
	c := standardViews(frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}})[1].Around(m.Points, 10, 420, 310)
	dm := (*vehicle.Album)(nil).Seen(m, c)
	n := 0
	for y := range c.H {
		for x := range c.W {
			if dm.At(x, y) >= 0 {
				n++
			}
		}
	}
	// from the side: the box 400 x 220 mm and the rib 15 x 70 mm above it
	want := (400*220 + 15*70) * c.Scale * c.Scale
	if math.Abs(float64(n)-want) > 0.02*want {
		t.Errorf("%d pixels, want about %.0f", n, want)
	}
}

func TestHiddenIsHidden(t *testing.T) {
	m := boxMesh()
	above := standardViews(frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}})[0].Around(m.Points, 10, 420, 420)
	dm := (*vehicle.Album)(nil).Seen(m, above)
	if !dm.Seen(geom.Vec{-700, -300, 720}, surfaceSlackMM) {
		t.Error("a point on the top is not seen from above")
	}
	if dm.Seen(geom.Vec{-700, -300, 500}, surfaceSlackMM) {
		t.Error("a point on the bottom is seen from above")
	}
	if dm.Seen(geom.Vec{-612, -300, 720}, surfaceSlackMM) {
		t.Error("a point under the rib is seen from above")
	}
}

// The hull goes once round to the left past every point, of clouds, of circles on which
// all points are corners, and of what is flat.
func TestConvexHullHoldsEveryPointSeed4(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 0))
	for k := range 90 {
		var p [][2]float64
		for i := range 300 {
			x, y := r.NormFloat64(), r.NormFloat64()
			switch k % 3 {
			case 1: // exact places on a circle
				x, y = math.Cos(float64(i)/300*2*math.Pi), math.Sin(float64(i)/300*2*math.Pi)
			case 2:
				y = 1e-9 * y
			}
			p = append(p, [2]float64{500 + 200*x, 300 + 100*y})
		}
		h := convexHull(p)
		if k%3 == 1 && len(h) != 300 {
			t.Fatalf("%d corners of 300 on a circle", len(h))
		}
		for i := range h {
			a, b := h[i], h[(i+1)%len(h)]
			for _, q := range p {
				if turn(a, b, q) < -1e-9 {
					t.Fatalf("set %d: %v lies outside the edge from %v to %v", k, q, a, b)
				}
			}
		}
	}
}

func TestConvexHull(t *testing.T) {
	// a square with points inside and on its sides (constructed)
	h := convexHull([][2]float64{{0, 0}, {4, 0}, {4, 4}, {0, 4}, {2, 2}, {2, 0}, {1, 3}})
	if len(h) != 4 {
		t.Errorf("%v", h)
	}
}

// A wait runs through the night in the chart: its end lies in the next day.
func TestTimesFallWhereTheyShould(t *testing.T) {
	in := fixture(t)
	days := layDays(workdays(in.Shop.Calendar, in.Compare.Routes[0].Plan))
	if len(days) != 7 { // Wed 4 to Thu 12 March 2026 without one weekend
		t.Fatalf("%d working days", len(days))
	}
	noon := days[0].from.Add(days[0].to.Sub(days[0].from) / 2)
	if x := place(days, noon); math.Abs(x-(days[0].x0+days[0].x1)/2) > 0.01 {
		t.Errorf("the middle of the day falls at %.1f", x)
	}
	night := days[0].to.Add(days[1].from.Sub(days[0].to) / 2)
	if x := place(days, night); x <= days[0].x1 || x >= days[1].x0 {
		t.Errorf("the night falls at %.1f, days end at %.1f and begin at %.1f", x, days[0].x1, days[1].x0)
	}
}
