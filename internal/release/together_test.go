package release

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// An indication is a rectangle as wide as it says across the line between its ends.
// The distance that two are held apart by is never more than that of the rectangles,
// searched for on a fine grid, and is it in line and side by side: seed 47.
func TestDistanceOfIndicationsSeed47(t *testing.T) {
	rng := rand.New(rand.NewPCG(47, 47))
	mark := func(x, y, angle, length, width float64) job.Indication {
		s, c := math.Sincos(angle)
		return job.Indication{Length: unit.MM(length), Width: unit.MM(width), Ends: []geom.Vec{{x, y, 0}, {x + length*c, y + length*s, 0}}}
	}
	edge := func(i job.Indication) (out []geom.Vec) {
		along := i.Ends[1].Sub(i.Ends[0])
		side := geom.Vec{-along[1], along[0], 0}.Unit().Scale(float64(i.Width) / 2)
		for k := range 201 {
			p := i.Ends[0].Lerp(i.Ends[1], float64(k)/200)
			out = append(out, p.Add(side), p.Sub(side))
		}
		for k := range 21 {
			s := side.Scale(float64(k)/10 - 1)
			out = append(out, i.Ends[0].Add(s), i.Ends[1].Add(s))
		}
		return out
	}
	for range draws(8, 200) {
		a := mark(0, 0, 0, 1+4*rng.Float64(), 0.2+0.8*rng.Float64())
		b := mark(6+6*rng.Float64(), 6*rng.Float64(), rng.Float64()*math.Pi, 1+4*rng.Float64(), 0.2+0.8*rng.Float64())
		truth := math.Inf(1)
		for _, p := range edge(a) {
			for _, q := range edge(b) {
				truth = min(truth, p.Dist(q))
			}
		}
		if got := between(a, b); got > truth+1e-9 {
			t.Fatalf("%v and %v: %g mm, truly %g mm", a, b, got, truth)
		}
	}
	for _, c := range []struct {
		b    job.Indication
		want float64
	}{{mark(8, 0, 0, 3, 1), 3}, {mark(0, 4, 0, 5, 1), 3}, {mark(2, -1, math.Pi/2, 3, 1), 0}} {
		if got := between(mark(0, 0, 0, 5, 1), c.b); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("to %v: %g mm, want %g", c.b.Ends, got, c.want)
		}
	}
}

// Indications that are surely smaller than the level counts, and no cracks, are left
// out before any are united; the others stay. The least size of 1.5 mm is a figure of
// this test.
func TestLeastSizeThatCounts(t *testing.T) {
	for _, c := range []struct {
		length, std float64
		crack       body.YesNo
		counted     bool
	}{{1.4, 0, "no", false}, {1.5, 0, "no", true}, {1.4, 0.1, "no", true}, {1.2, 0.1, "no", false}, {1.0, 0, "yes", true}, {1.0, 0, "unknown", true}, {1.0, 0, "", true}} {
		l := level2()
		l.CountsFrom = 1.5
		i := job.Indication{Length: unit.MM(c.length), Width: 0.3, Std: unit.MM(c.std), Crack: c.crack, Ends: []geom.Vec{{0, 0, 0}, {1, 0, 0}}}
		if ones, _ := together(l, job.Record{Indications: []job.Indication{i}}); (len(ones) == 1) != c.counted {
			t.Errorf("%g mm, std %g mm, crack %q: counted %v", c.length, c.std, c.crack, len(ones) == 1)
		}
	}
}
