package inspect

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/normal"
)

// More points are asked for where bends between them make 3 % of the length or more and are the
// greater part of its variance, where three or more are over 16 mm apart on average, and where
// they are rougher than stated. The bounds are our choices, as beside the constants; all others
// by hand.
func TestWhenMorePointsAreAskedFor(t *testing.T) {
	fine := traceLength{mm: 100, raw: 100, points: 11, said: 0.5, each: 0.5, std: 1}
	const bends, far, rough = "inspect.bends-between-points", "inspect.points-far-apart", "inspect.points-rougher"
	for _, c := range []struct {
		name   string
		change func(*traceLength)
		want   []string
	}{
		{"fine", func(*traceLength) {}, nil},
		{"bends at the share", func(l *traceLength) { l.bend, l.std = 3, 3 }, []string{bends}},
		{"bends below the share", func(l *traceLength) { l.bend, l.std = 2.99, 2.99 }, nil},
		{"bends the half of the variance", func(l *traceLength) { l.bend, l.std = 6, 8.48 }, []string{bends}}, // 6 sqrt 2 = 8.485
		{"bends not the half of it", func(l *traceLength) { l.bend, l.std = 6, 8.49 }, nil},
		{"far apart", func(l *traceLength) { l.points = 7 }, []string{far}}, // 16.7 mm
		{"not far apart", func(l *traceLength) { l.raw, l.points = 96, 7 }, nil},
		{"two ends only", func(l *traceLength) { l.points = 2 }, nil},
		{"rough", func(l *traceLength) { l.each = 0.51 }, []string{rough}},
		{"all", func(l *traceLength) { l.each, l.points, l.bend, l.std = 1, 3, 9, 9 }, []string{rough, bends, far}},
	} {
		l := fine
		c.change(&l)
		var got []string
		for _, n := range l.notes() {
			got = append(got, n.Code)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// Runs of 2, 4, 8 ... points that overlap by half are tested, all points together among them:
// each by its mean over its standard deviation, which the ends of the leg add to. Against every
// run, laid out one by one. A bow of all points is found by the run of all of them.
func TestRunsThatStrayAreTestedSeed12(t *testing.T) {
	r := rng(12)
	for n := range 19 {
		for range 10 {
			tr := &trace{std: 0.3 + r.Float64()}
			points := make([]residual, n)
			for k := range points {
				points[k] = residual{r.NormFloat64() + 1.5, float64(k+1) / float64(n+1)}
			}
			var want []float64
			for m := 2; m <= n; m *= 2 {
				for a := 0; a+m <= n; a += m / 2 {
					mean, q := 0.0, 0.0
					for _, x := range points[a : a+m] {
						mean, q = mean+x.mm/float64(m), q+x.share/float64(m)
					}
					std := tr.std * math.Sqrt(1/float64(m)+(1-q)*(1-q)+q*q)
					want = append(want, math.Abs(mean)/std/normal.Quantile(1-testShare/float64(8*n)))
				}
			}
			var got []float64
			tr.runsStray(points, func(v float64, at int) {
				if at < 0 || at >= n {
					t.Fatalf("point %d of %d is told", at, n)
				}
				got = append(got, v)
			})
			if !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9*(1+b) }) {
				t.Fatalf("%d points: %v, want %v", n, got, want)
			}
		}
	}
}

// Law: the pairs are every two findings that have a place on one casting, of which one at least
// weakens the wall and which are not the two faces of one crack; each pair once, by name.
func TestPairsAreEveryTwoOfOneCastingSeeds(t *testing.T) {
	pairs, left := 0, 0
	for seed := range uint64(20) {
		r := rng(seed + 70)
		b := scatter(seed)
		b.body.Procedures[0].Neighbours = []string{"crack"}
		other := place{}
		for i := range b.job.Findings {
			if r.IntN(2) == 0 {
				b.job.Findings[i].Kind = "dent"
			}
		}
		rn := &run{in: b.input(t)}
		rn.prepare()
		for _, k := range r.Perm(len(b.job.Findings)) {
			f, tr := rn.locate(&b.job.Findings[k])
			switch {
			case tr == nil:
				t.Fatalf("seed %d: %s is not located", seed, f.ID)
			case r.IntN(8) == 0:
				tr = nil
			case r.IntN(8) == 0:
				tr.at = &other
			}
			rn.found, rn.traces = append(rn.found, f), append(rn.traces, tr)
		}
		for _, tr := range rn.traces {
			if tr != nil {
				tr.join()
			}
		}
		n := len(rn.found)
		rn.crack = newSets(n)
		rn.crack.join(r.IntN(n), r.IntN(n))
		want := map[string]bool{}
		for i := range n {
			for j := range n {
				a, c := rn.found[i], rn.found[j]
				if a.ID >= c.ID || rn.traces[i] == nil || rn.traces[j] == nil {
					continue
				}
				if rn.traces[i].at != rn.traces[j].at || a.Kind == "dent" && c.Kind == "dent" || rn.crack.of(i) == rn.crack.of(j) {
					left++
					continue
				}
				want[fmt.Sprint(a.ID, c.ID)] = true
			}
		}
		least := math.Inf(-1)
		for _, p := range rn.pairs() {
			key := fmt.Sprint(rn.found[p.i].ID, rn.found[p.j].ID)
			if !want[key] {
				t.Errorf("seed %d: %s is no pair, or there twice", seed, key)
			}
			delete(want, key)
			if p.least < least {
				t.Errorf("seed %d: %s may be nearer than the pair before", seed, key)
			}
			least = p.least
			pairs++
		}
		if len(want) > 0 {
			t.Errorf("seed %d: missing: %v", seed, want)
		}
	}
	if pairs < 60 || left < 40 {
		t.Errorf("%d pairs, %d left out", pairs, left)
	}
}

// On a thin wall many points may be of either face, and the ways over them that are nearly as
// likely as the one taken are counted: of points in the middle of a wall of 1 mm that are known
// to 1 mm there are others, of points on the face of one of 20 mm there are none.
func TestOtherWaysAreLikely(t *testing.T) {
	for _, c := range []struct {
		thick, z float64
		likely   bool
	}{{1, 0.5, true}, {1, 0.9, true}, {20, 20, false}} {
		b := onBar(c.thick)
		b.crack("F", 1, geom.Vec{40, 11, c.z}, geom.Vec{50, 12, c.z}, geom.Vec{60, 11, c.z}).Kind = "dent"
		rn := &run{in: b.input(t)}
		rn.prepare()
		_, tr := rn.locate(&b.job.Findings[0])
		if tr == nil {
			t.Fatalf("wall %g: not located", c.thick)
		}
		for _, d := range tr.detours {
			if d.likely != c.likely {
				t.Errorf("wall %g, at %g: a detour from point %d over %d is likely: %v", c.thick, c.z, d.from, len(d.sites), d.likely)
			}
		}
		if n := tr.likelyDetours(); n > 0 != c.likely {
			t.Errorf("wall %g, at %g: %d likely detours", c.thick, c.z, n)
		}
	}
}
