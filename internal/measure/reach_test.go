package measure

import (
	"math"
	"math/rand/v2"
	"testing"

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
