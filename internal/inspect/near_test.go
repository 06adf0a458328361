package inspect

import (
	"fmt"
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
)

// roof is two sheets of 60 x 80 mm that meet at a right angle in the x axis.
func roof() *mesh.Mesh {
	return grid(24, 16, func(u, v float64) geom.Vec {
		d := 120*u - 60
		return geom.Vec{80 * v, max(0, d), max(0, -d)}
	}, func(geom.Vec) int32 { return 1 })
}

// unfolded is a point of the roof laid flat.
func unfolded(p geom.Vec) geom.Vec { return geom.Vec{p[0], p[1] - p[2], 0} }

// Constructed: the roof unfolds into a plane, where the least distance between
// two straight cracks is that of two segments. The nearest points through
// space are others than along the surface, so the bounds often do not decide.
func TestDistanceBetweenCracksOnARoof(t *testing.T) {
	decided := 0
	for seed := range uint64(40) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rng(seed)
			b := newBench(roof())
			up := func() geom.Vec { return geom.Vec{30 + 20*r.Float64(), 0, 3 + 12*r.Float64()} }
			flat := func() geom.Vec { return geom.Vec{30 + 20*r.Float64(), 3 + 12*r.Float64(), 0} }
			p := [4]geom.Vec{up(), up(), flat(), flat()}
			b.crack("a", 0.001, p[0], p[1])
			b.crack("b", 0.001, p[2], p[3])
			want := geom.SegmentsDist(unfolded(p[0]), unfolded(p[1]), unfolded(p[2]), unfolded(p[3]))
			straight := geom.SegmentsDist(p[0], p[1], p[2], p[3])
			rn := &run{in: b.input(t)}
			rn.prepare()
			_, x := rn.locate(&b.job.Findings[0])
			_, y := rn.locate(&b.job.Findings[1])
			for _, tr := range []*trace{x, y} {
				rn.length(&Finding{}, tr)
			}
			rn.traces = []*trace{x, y}
			for _, share := range []float64{0.9, 1.02} {
				limit := straight + share*(want-straight)
				d := rn.distance(0, 1, newPair(0, 1, x, y).touches, limit-2*0.001*math.Sqrt2-justAboveMM)
				near(t, "straight", d.straight, straight, 1e-6)
				if d.least > want+1e-6 || d.seen < want-1e-6 {
					t.Errorf("along the surface %.4f to %.4f, want %.4f (straight %.4f)", d.least, d.seen, want, straight)
				}
				if share < 1 && d.least < limit-1e-6 || share > 1 && d.seen > limit+1e-6 {
					t.Errorf("limit %.4f is not decided: %.4f to %.4f, want %.4f", limit, d.least, d.seen, want)
				}
				if d.least > straight+1e-6 {
					decided++
				}
			}
		})
	}
	if decided == 0 {
		t.Error("the bounds decided every case: the test shows nothing")
	}
}

func BenchmarkRunTwelveCracks(b *testing.B) {
	m := grid(300, 200, func(u, v float64) geom.Vec {
		return geom.Vec{900 * u, 600 * v, 20 * math.Sin(9*u) * math.Cos(7*v)}
	}, halves)
	bench := newBench(m)
	r := rng(1)
	for i := range 12 {
		at := geom.Vec{100 + 600*r.Float64(), 100 + 400*r.Float64(), 0}
		var trace []geom.Vec
		for range 10 {
			at = at.Add(geom.Vec{4, 4 * r.Float64(), 0})
			u, v := at[0]/900, at[1]/600
			at[2] = 20 * math.Sin(9*u) * math.Cos(7*v)
			trace = append(trace, at)
		}
		bench.crack(job.FindingID(fmt.Sprintf("F%02d", i)), 0.5, trace...).Tips = nil
	}
	in := bench.input(b)
	b.ResetTimer()
	for b.Loop() {
		Run(in)
	}
}
