package inspect

import (
	"fmt"
	"math"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

func one(t *testing.T, m *mesh.Mesh, std float64, trace ...geom.Vec) Finding {
	t.Helper()
	b := newBench(m)
	b.crack("F", std, trace...)
	r, notes := Run(b.input(t))
	f := find(t, r, "F")
	if !f.Located || f.Length == nil || f.Decision == nil {
		t.Fatalf("not measured: %+v, notes %+v", f, notes)
	}
	return f
}

func TestLengthRoundKinks(t *testing.T) {
	// Constructed: 20 + 15 + sqrt(12^2 + 9^2) = 50; chord sqrt(32^2 + 15^2 + 9^2).
	f := one(t, fold(), 0.001, geom.Vec{0, 0, 0}, geom.Vec{20, 0, 0}, geom.Vec{20, 15, 0}, geom.Vec{32, 15, 9})
	near(t, "length", f.Length.MM, 50, 1e-9)
	near(t, "chord", f.LowerMM, math.Sqrt(32*32+15*15+9*9), 1e-9)
	near(t, "raw", f.UpperMM, 50, 1e-9)
	near(t, "decision", f.Decision.MM, 50, 1e-9)
}

func TestLengthAcrossARound(t *testing.T) {
	// A quarter turn on radius 5 is 5 pi/2 = 7.854 mm, its chord 5 sqrt 2 =
	// 7.071 mm (definition of the radian). 90 flats make it shorter by the share
	// 1.3e-5 (angle of a flat squared over 24).
	for _, z := range []float64{0, 8} {
		f := one(t, quarter(5, 20, 90), 0.05, geom.Vec{5, 0, 2}, geom.Vec{0, 5, 2 + z})
		want := math.Hypot(5*math.Pi/2, z)
		near(t, "length", f.Length.MM, want, 1.4e-5*want)
		near(t, "chord", f.LowerMM, math.Sqrt(50+z*z), 1e-9)
		// JCGM 100:2008 5.1.2: both ends 0.05 mm, and 0.1 mm of mesh uncertainty
		// along the normal over a turn of 90 degrees (89 bends of one degree).
		if z == 0 {
			near(t, "std", f.Length.Std, math.Sqrt(2*.05*.05+math.Pow(.1*89*math.Pi/180, 2)), 1e-4)
		}
	}
}

func TestLengthOnACylinder(t *testing.T) {
	// Constructed: sqrt((r dtheta)^2 + dz^2), the development of the cylinder.
	at := func(deg, z float64) geom.Vec {
		s, c := math.Sincos(deg * math.Pi / 180)
		return geom.Vec{60 * c, 60 * s, z}
	}
	for _, turn := range []float64{10, 35, 70} {
		f := one(t, quarter(60, 50, 90), 0.3, at(5, 10), at(5+turn, 40))
		want := math.Hypot(60*turn*math.Pi/180, 30)
		near(t, fmt.Sprintf("length over %g degrees", turn), f.Length.MM, want, 2e-5*want)
	}
}

func TestLengthOnCoarseFlatsSaysSo(t *testing.T) {
	// Constructed: a quarter turn on radius 60 in 9 flats is 9 x 120 sin 5 deg
	// long, 0.1195 mm less than the arc; 8 of the 9 flats have a bend behind them.
	f := one(t, quarter(60, 50, 9), 0.01, geom.Vec{60, 0, 20}, geom.Vec{0, 60, 20})
	want := 60*math.Pi/2 - 9*120*math.Sin(5*math.Pi/180)
	near(t, "shortness", 60*math.Pi/2-f.Length.MM, want, 1e-9)
	_, flats := bending(f.Path)
	near(t, "estimate of it", flats, want*8/9, 0.01*want)
	rest := 2*.01*.01 + math.Pow(.1*80*math.Pi/180, 2)
	near(t, "std", f.Length.Std, math.Sqrt(rest+flats*flats), 1e-9)
}

func TestLengthStdOfAStraightTrace(t *testing.T) {
	// JCGM 100:2008 5.1.2: with the points between on the line only the ends count.
	f := one(t, plate(), 0.6, geom.Vec{20, 52, 0}, geom.Vec{30, 52, 0}, geom.Vec{41, 52, 0}, geom.Vec{60, 52, 0})
	near(t, "length", f.Length.MM, 40, 1e-9)
	near(t, "std", f.Length.Std, 0.6*math.Sqrt2, 1e-9)
	// One right angle adds |(1,0)-(0,1)|^2 = 2 to the gradient, and three points do
	// not say that the crack is straight between them: the circle through them is
	// 4.4 mm longer than the 40 mm (20 sqrt(2) pi/2 = 44.43).
	f = one(t, plate(), 0.6, geom.Vec{20, 52, 0}, geom.Vec{40, 52, 0}, geom.Vec{40, 72, 0})
	if f.Length.MM+1.645*f.Length.Std < 44.43 || f.Length.Std < 0.6*2 {
		t.Errorf("%.3f with standard uncertainty %.3f mm", f.Length.MM, f.Length.Std)
	}
}

// clicks is a straight crack of 40 mm clicked every step mm with noise sigma in
// the plane.
func clicks(seed uint64, step, sigma float64) []geom.Vec {
	r := rng(seed)
	var out []geom.Vec
	for x := 0.0; x <= 40; x += step {
		out = append(out, geom.Vec{73 + x + sigma*r.NormFloat64(), 51 + sigma*r.NormFloat64(), 0})
	}
	return out
}

// The zigzag of the clicks makes the raw length too long: by Monte Carlo
// (constructed, recomputed in Python with 20,000 trials) it is 40.10, 40.63,
// 42.60, 51.26 mm for clicks every 10, 4, 2, 1 mm. The simplified length has to
// stay within its own uncertainty of 40 mm, and its uncertainty has to be honest.
func TestLengthIsNotBiasedByNoise(t *testing.T) {
	const sigma = 0.5
	draws := campaign(30, 300)
	trials := float64(draws)
	s, err := mesh.NewSurface(plate())
	if err != nil {
		t.Fatal(err)
	}
	in := newBench(plate())
	for _, c := range []struct{ step, raw float64 }{{10, 40.10}, {4, 40.63}, {2, 42.60}, {1, 51.26}} {
		t.Run(fmt.Sprintf("step %g seeds 1-%d", c.step, draws), func(t *testing.T) {
			var sum, sum2, raw, u, inside float64
			for seed := range uint64(draws) {
				input := Input{Body: &in.body, Job: &in.job, Shop: benchShop()}
				in.job.Findings = nil
				in.crack("F", sigma, clicks(seed+1, c.step, sigma)...)
				input.Vehicle = vehicle.New(input.Body, surfaces(s))
				r, _ := Run(input)
				l := r.Findings[0]
				sum += l.Length.MM
				sum2 += l.Length.MM * l.Length.MM
				raw += l.UpperMM
				u += l.Length.Std
				if math.Abs(l.Length.MM-40) <= 2*l.Length.Std {
					inside++
				}
			}
			mean, meanU := sum/trials, u/trials
			sd := math.Sqrt(sum2/trials - mean*mean)
			t.Logf("mean %.3f, sd %.3f, stated %.3f, raw %.2f, inside 2u %.3f", mean, sd, meanU, raw/trials, inside/trials)
			near(t, "mean raw length", raw/trials, c.raw, 4*2.5/math.Sqrt(trials))
			near(t, "mean length", mean, 40, meanU)
			if sd > 1.2*meanU || sd < 0.6*meanU {
				t.Errorf("the lengths spread by %.3f, stated %.3f", sd, meanU)
			}
			if inside/trials < 0.92 {
				t.Errorf("only %.3f are within twice the stated uncertainty", inside/trials)
			}
		})
	}
}

func TestLengthThatGrowsNeverDecidesShorter(t *testing.T) {
	for seed := range uint64(20) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rng(seed)
			b := newBench(plate())
			in := b.input(t)
			p, dir := geom.Vec{20, 50, 0}, 0.0
			trace := []geom.Vec{p}
			before := 0.0
			for range 8 {
				dir += 0.8 * r.NormFloat64()
				dir = min(0.4, max(-0.4, dir)) // stays on the plate
				step := 3 + 10*r.Float64()
				p = p.Add(geom.Vec{step * math.Cos(dir), step * math.Sin(dir), 0})
				trace = append(trace, p)
				b.job.Findings = nil
				b.crack("F", 0.5, trace...).Tips = []body.TipMethod{"visual"}
				res, _ := Run(in)
				f := find(t, res, "F")
				if f.Decision.MM < before {
					t.Fatalf("%d points: %.3f mm after %.3f mm", len(trace), f.Decision.MM, before)
				}
				if f.LowerMM > f.Length.MM+1e-9 || f.UpperMM < f.Length.MM-1e-9 {
					t.Fatalf("%.3f is not within %.3f and %.3f", f.Length.MM, f.LowerMM, f.UpperMM)
				}
				before = f.Decision.MM
			}
		})
	}
}
