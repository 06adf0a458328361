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

// TestReachesAreReached: measured as predicted, with random device errors and places
// built with their spread, as many points are undecided as was said beforehand, and no
// point that is shown lies farther off than said. The counts are of a simulation of up to 60
// sound vehicles for each number of set-ups.
func TestReachesAreReached(t *testing.T) {
	in := reachInput()
	like := job.Setup{ID: "A", Stage: "after", Std: 0.35}
	said, ok := Reaches(in, like, 3)
	if !ok || len(said) != 3 {
		t.Fatal("nothing was predicted")
	}
	rng := rand.New(rand.NewPCG(13, 2))
	vehicles := draws(20, 60)
	for _, n := range []int{1, 3} {
		left := 0
		for range vehicles {
			x := imagined(in, like, n)
			built := map[string]geom.Vec{}
			for _, p := range in.Points {
				built[string(p.ID)] = geom.Vec{rng.NormFloat64() * 0.3, rng.NormFloat64() * 0.3, rng.NormFloat64() * 0.3}
			}
			for i := range x.Readings {
				r, b := &x.Readings[i], built[string(x.Readings[i].From)]
				r.X.Value += b[0] + rng.NormFloat64()*0.35
				r.Y.Value += b[1] + rng.NormFloat64()*0.35
				r.Z.Value += b[2] + rng.NormFloat64()*0.35
			}
			res, _ := Run(x)
			h, ok := res.Best()
			if !ok {
				t.Fatal("no hypothesis")
			}
			for i, q := range h.Points {
				far, most := q.FromNominal.Norm(), said[n-1].Points[i].WithinMM
				if q.Tolerance == Met && far > most+0.12 {
					t.Errorf("%s is shown at %.2f mm, said were %.2f mm", q.ID, far, most)
				}
				if q.Tolerance != Met {
					left++
					if far < most-0.02 {
						t.Errorf("%s is not shown at %.2f mm, said were %.2f mm", q.ID, far, most)
					}
				}
			}
		}
		got, want := float64(left)/float64(vehicles), said[n-1].Undecided
		t.Logf("%d set-ups: %.2f points undecided of %d, said %.2f", n, got, len(in.Points), want)
		if math.Abs(got-want) > 0.5+0.35*want {
			t.Errorf("%d set-ups: %.2f points undecided, said %.2f", n, got, want)
		}
	}
	if !(said[0].Undecided > said[1].Undecided && said[1].Undecided > said[2].Undecided) {
		t.Errorf("more set-ups do not show more: %v %v %v", said[0].Undecided, said[1].Undecided, said[2].Undecided)
	}
}

// reachInput is a sound vehicle with 20 points built to 0.3 mm; seed 31.
func reachInput() Input {
	in := newCar(20, 31).measure(0.1)
	in.Readings, in.Confidence, in.Stage = nil, 0.95, "after"
	for i := range in.Points {
		in.Points[i].Std, in.Points[i].Tol = unit.Some(0.3), unit.Some(1.6)
	}
	return in
}

// A device too rough for the limit shows nothing, and that is said.
func TestReachOfARoughDevice(t *testing.T) {
	said, ok := Reaches(reachInput(), job.Setup{ID: "A", Std: 2}, 1)
	if !ok {
		t.Fatal("nothing was predicted")
	}
	for _, p := range said[0].Points {
		if p.WithinMM != 0 || p.Chance != 1 {
			t.Errorf("%s: within %.2f mm, chance %.2f", p.ID, p.WithinMM, p.Chance)
		}
	}
}

// Nothing is predicted of points that have no steady block, nor where one of them gets no position.
func TestReachOfTooLittle(t *testing.T) {
	like := job.Setup{ID: "A", Std: 0.1}
	for _, n := range []int{0, 2, 3} {
		in := reachInput()
		in.Points = in.Points[:n]
		if got, ok := Reaches(in, like, 1); ok || got != nil {
			t.Errorf("of %d points %+v", n, got)
		}
	}
	in := reachInput()
	if got, ok := Reaches(in, like, 1); !ok || len(got) != 1 || len(got[0].Points) != len(in.Points) {
		t.Errorf("%v: %+v", ok, got)
	}
	if got, ok := Reaches(in, like, 0); !ok || len(got) != 0 {
		t.Errorf("no set-up: %v, %+v", ok, got)
	}
	in.Points[3].X = math.NaN()
	if got, ok := Reaches(in, like, 1); ok || got != nil {
		t.Errorf("a point without a place: %+v", got)
	}
}

// The distance up to which a point is shown to be within its limit: nearer it is met along every
// axis, of the coordinates and of the covariance, and a little further along one of them it is not.
func TestWithinByDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 3))
	for k := range 4 {
		p := body.Point{ID: "P", Tol: unit.Some(3.0)}
		if k%3 == 1 {
			p.Tol, p.TolX, p.TolY, p.TolZ = unit.Maybe[float64]{}, unit.Some(3.0), unit.Some(2.0), unit.Some(4.0)
		}
		turn := geom.FromRotationVector(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
		cov := geom.Diag3(geom.Vec{0.1 + 0.3*rng.Float64(), 0.05, 0.01}).Turn(turn)
		_, axes := geom.SymEigen(cov)
		dirs := []geom.Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
		for a := range 3 {
			dirs = append(dirs, geom.Vec{axes[0][a], axes[1][a], axes[2][a]})
		}
		got := within(p, cov, 0.95)
		met := func(d float64) (all bool) {
			all = true
			for _, dir := range dirs {
				all = all && Conform(p, dir.Scale(d), cov, 0.95).Verdict == Met
			}
			return all
		}
		if !(got > 0) || !met(got-1e-3) || met(got+1e-3) {
			t.Errorf("case %d: within %g mm; met there %v, and beyond %v", k, got, met(got-1e-3), met(got+1e-3))
		}
		if got := within(p, geom.Isotropic(9), 0.95); got != 0 {
			t.Errorf("case %d: within %g mm by 9 mm", k, got)
		}
	}
}
