package measure

import (
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// twoSetups reads a car of 16 points from two set-ups that share some, and returns their true
// motions, device of vehicle.
func twoSetups(seed uint64, std float64, shift func(c *car)) (Input, [2]geom.Rigid) {
	c := newCar(16, seed)
	if shift != nil {
		shift(c)
	}
	in := Input{Points: c.measure(std).Points, Impact: "rear"}
	r := rand.New(rand.NewPCG(seed, 5))
	var m [2]geom.Rigid
	for k := range m {
		m[k] = geom.Rigid{R: geom.FromRotationVector(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}), T: geom.Vec{900 * r.NormFloat64(), 900 * r.NormFloat64(), 300 * r.NormFloat64()}}
	}
	for rank, i := range c.alongX() {
		for k, read := range [2]bool{rank < 11, rank >= 5} {
			if read {
				in.Readings = append(in.Readings, xyz([2]string{"S1", "S2"}[k], in.Points[i].ID, m[k].Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(std)), std))
			}
		}
	}
	return in, m
}

// TestPlacesAreCarriedFromSetups: a place that both set-ups see is carried back to where it is.
// With exact readings it is there; with noise the squared errors, weighed by the covariance told, are those of a
// chi-square value with three degrees of freedom: their mean is 3, here within 4 of its standard deviations.
func TestPlacesAreCarriedFromSetups(t *testing.T) {
	probes := []geom.Vec{{300, -600, 250}, {4400, 620, 500}}
	for _, at := range probes {
		in, m := twoSetups(1, 1e-4, nil)
		r, _ := Run(in)
		for k, id := range []string{"S1", "S2"} {
			a, why := r.AxesOf(id)
			if why != "" {
				t.Fatalf("%s: %s", id, why)
			}
			if got, _ := a.Carry(m[k].Apply(at)); got.Dist(at) > 1e-3 {
				t.Errorf("%s: %v is carried to %v", id, at, got)
			}
		}
	}
	n, sum := 0, 0.0
	for seed := range uint64(60) {
		in, m := twoSetups(seed, 0.5, nil)
		r, _ := Run(in)
		for k, id := range []string{"S1", "S2"} {
			a, why := r.AxesOf(id)
			if why != "" {
				continue
			}
			at := probes[(int(seed)+k)%2]
			got, cov := a.Carry(m[k].Apply(at))
			w, ok := cov.Inverse()
			if !ok {
				t.Fatalf("seed %d: %v", seed, cov)
			}
			d := got.Sub(at)
			n, sum = n+1, sum+d.Dot(w.MulVec(d))
		}
	}
	if n < 100 {
		t.Errorf("only %d of 120 could be carried", n)
	}
	// 120 values, two of a seed hang together: at least 60 of them count, sd of their mean sqrt(6/60)
	if mean := sum / float64(n); mean < 3-4*0.32 || mean > 3+4*0.32 {
		t.Errorf("the mean of squared errors is %.2f, want 3", mean)
	}
}

// TestWarmPlacesAreCarriedColder: a body of 20 millionths per kelvin, 10 K above its reference, read
// with a device that does not grow: a place a metre from the middle of the points comes back by 0.2 mm.
func TestWarmPlacesAreCarriedColder(t *testing.T) {
	in, m := twoSetups(2, 1e-4, nil)
	grown := 1 + 10*20e-6
	for i := range in.Readings {
		k := 0
		if in.Readings[i].Setup == "S2" {
			k = 1
		}
		p := geom.Vec{in.Readings[i].X.Value, in.Readings[i].Y.Value, in.Readings[i].Z.Value}
		p = m[k].Inverse().Apply(p).Scale(grown)
		p = m[k].Apply(p)
		in.Readings[i].X.Value, in.Readings[i].Y.Value, in.Readings[i].Z.Value = p[0], p[1], p[2]
	}
	in.Setups = []job.Setup{{ID: "S1", Std: 1e-4, Temp: unit.Some(unit.Celsius(30))}, {ID: "S2", Std: 1e-4, Temp: unit.Some(unit.Celsius(30))}}
	in.Thermal = Thermal{BodyPerK: 20e-6, ReferenceC: 20, LowC: 5, HighC: 35}
	r, _ := Run(in)
	at := geom.Vec{4400, 620, 500}
	for k, id := range []string{"S1", "S2"} {
		a, why := r.AxesOf(id)
		if why != "" {
			t.Fatalf("%s: %s", id, why)
		}
		if got, _ := a.Carry(m[k].Apply(at.Scale(grown))); got.Dist(at) > 0.01 {
			t.Errorf("%s: carried to %v, %.3f mm off", id, got, got.Dist(at))
		}
	}
}

// TestWhatIsNotTiedIsNotCarried: without a steady block, with more than one explanation, without
// readings, or in a set-up that shares nothing with the points that stood still, nothing is carried.
func TestWhatIsNotTiedIsNotCarried(t *testing.T) {
	in, _ := twoSetups(3, 0.5, nil)
	whole, _ := Run(in)
	if whole.Ambiguous {
		t.Fatalf("%v", whole.Why)
	}
	var empty Result
	doubtful := whole
	doubtful.Ambiguous, doubtful.Why = true, []string{"two halves moved against one another"}
	lone := in
	lone.Readings = append(append([]job.Reading(nil), in.Readings...), xyz("S3", in.Points[0].ID, geom.Vec{1, 2, 3}, 0.5))
	apart, _ := Run(lone)
	for _, c := range []struct {
		name, id, want string
		r              *Result
	}{
		{"no block", "S1", "no block of control points", &empty},
		{"doubt", "S1", "is not certain (two halves moved against one another)", &doubtful},
		{"no such set-up", "S9", "no control point was measured in it", &whole},
		{"a single reading", "S3", "do not tie it", &apart},
	} {
		if _, why := c.r.AxesOf(c.id); !strings.Contains(why, c.want) {
			t.Errorf("%s: %q", c.name, why)
		}
	}
	// One set-up alone has the pose of its fit.
	one, m := twoSetups(4, 1e-4, nil)
	only := one
	only.Readings = nil
	for _, r := range one.Readings {
		if r.Setup == "S1" {
			only.Readings = append(only.Readings, r)
		}
	}
	r, _ := Run(only)
	a, why := r.AxesOf("S1")
	if why != "" {
		t.Fatal(why)
	}
	if got, _ := a.Carry(m[0].Apply(geom.Vec{900, 0, 300})); got.Dist(geom.Vec{900, 0, 300}) > 1e-3 {
		t.Errorf("by one set-up alone: %v", got)
	}
}
