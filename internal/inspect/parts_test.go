package inspect

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
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
		b.body.Procedures[0].Neighbours = []body.FindingKind{"crack"}
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

// A joint lies in a zone when all of its line does, and is looked at within the area of that
// zone; one that crosses a border, or whose line nobody knows, lies in none. The border of the
// zones A and B is at x = 100 mm.
func TestAJointLiesInAZoneWithAllOfIt(t *testing.T) {
	b := newBench(plate())
	line := func(xs ...float64) [][]geom.Vec {
		var out []geom.Vec
		for _, x := range xs {
			out = append(out, geom.Vec{x, 20, 0})
		}
		return [][]geom.Vec{out}
	}
	lines := [][][]geom.Vec{line(10, 60), line(110, 150, 120), line(90, 110), line(10, 150, 20), append(line(10, 20), line(110, 130)...), nil}
	wants := []struct {
		zone body.ZoneID
		size float64
	}{{"A", 50}, {"B", 70}, {"", 20}, {"", 270}, {"", 30}, {"", 0}}
	for _, l := range lines {
		b.body.Joints = append(b.body.Joints, body.Joint{ID: "J", Layers: []body.PartID{"P"}, Along: l})
	}
	rn := &run{in: b.input(t)}
	rn.prepare()
	areas := rn.jointAreas(&rn.places[0])
	if len(areas) != len(wants) {
		t.Fatalf("%d areas", len(areas))
	}
	for k, want := range wants {
		a, within := areas[k], ""
		if want.zone != "" {
			within = body.AreaOfZone(want.zone)
		}
		if a.zone != want.zone || a.within != within || math.Abs(a.sizeMM-want.size) > 1e-9 {
			t.Errorf("joint along %v: zone %q within %q, %g mm; want %+v", lines[k], a.zone, a.within, a.sizeMM, want)
		}
	}
}

// Cracks are counted as one only where they surely are: not where one of them may take another
// way, which may lie elsewhere, and not where the uncertainty of their traces (0.1 mm each,
// twice its root of sum of squares) reaches beyond the gap of 5 mm that the procedure joins.
func TestWhatMayLieElsewhereIsNoPiece(t *testing.T) {
	for _, c := range []struct {
		seen      float64
		otherWays []int
		one       bool
	}{{3, nil, true}, {4.7, nil, true}, {4.8, nil, false}, {3, []int{0}, false}, {3, []int{1}, false}, {3, []int{0, 1}, false}} {
		b := newBench(plate())
		b.crack("a", 0.1, geom.Vec{20, 51, 0}, geom.Vec{40, 51, 0})
		b.crack("b", 0.1, geom.Vec{40 + c.seen, 51, 0}, geom.Vec{70, 51, 0})
		rn := &run{in: b.input(t)}
		rn.prepare()
		for k := range b.job.Findings {
			f, tr := rn.locate(&b.job.Findings[k])
			rn.found, rn.traces = append(rn.found, f), append(rn.traces, tr)
		}
		for _, k := range c.otherWays {
			rn.traces[k].curve.otherWays = []otherWay{{}}
		}
		rn.crack = newSets(2)
		set := rn.pieces([]apart{{i: 0, j: 1, seen: c.seen}})
		if got := set.of(0) == set.of(1); got != c.one {
			t.Errorf("%g mm apart, other ways of %v: one %v", c.seen, c.otherWays, got)
		}
	}
}

// Of two faces the longer counts, with 4 mm for every tip seen by eye only; one without a length
// may be longer than any.
func TestTheLongerFaceCounts(t *testing.T) {
	b := newBench(plate())
	for _, id := range []job.FindingID{"a", "b"} {
		b.crack(id, 0.1, geom.Vec{20, 51, 0}, geom.Vec{40, 51, 0})
	}
	dent := b.crack("c", 0.1, geom.Vec{20, 61, 0}, geom.Vec{40, 61, 0})
	dent.Kind = "dent"
	rn := &run{in: b.input(t)}
	rn.prepare()
	for k := range b.job.Findings {
		f, tr := rn.locate(&b.job.Findings[k])
		rn.found, rn.traces = append(rn.found, f), append(rn.traces, tr)
	}
	rn.crack = newSets(3)
	rn.crack.join(0, 1)
	for _, c := range []struct {
		mm     [2]float64 // 0: not known
		tips   [2]int     // seen by eye
		extent [2]float64
		longer int
	}{
		{[2]float64{20, 21}, [2]int{0, 0}, [2]float64{20, 21}, 1}, {[2]float64{20, 21}, [2]int{1, 0}, [2]float64{24, 21}, 0},
		{[2]float64{20, 23}, [2]int{2, 1}, [2]float64{28, 27}, 0}, {[2]float64{20, 0}, [2]int{2, 0}, [2]float64{28, math.Inf(1)}, 1},
	} {
		for k := range 2 {
			rn.traces[k].tips = []body.TipMethod{"visual", "visual", "penetrant", "penetrant"}[2-c.tips[k] : 4-c.tips[k]]
			rn.found[k].Length = &Length{MM: c.mm[k]}
			if c.mm[k] == 0 {
				rn.found[k].Length = nil
			}
			if got := rn.extent(k); got != c.extent[k] {
				t.Errorf("%v with %v tips: extent %d is %g", c.mm, c.tips, k, got)
			}
		}
		if got := rn.longest([]int{0, 1}); !slices.Equal(got, []int{c.longer}) {
			t.Errorf("%v with %v tips: %v, want %d", c.mm, c.tips, got, c.longer)
		}
	}
	if got := rn.extent(2); got != 0 {
		t.Errorf("a dent without a length: %g", got)
	}
}

// How far points lie beside the straight way between their neighbours: of three, of which the
// middle one is off by h, h over the root of 1 + 1/4 + 1/4; of more the root mean square of that
// for each; nothing of two, or of points on a line.
func TestBesidesIsTheRootMeanSquareSeed9(t *testing.T) {
	for want, x := range map[float64][]flat{
		0: {{0, 0}, {5, 1}}, 3 / math.Sqrt(1.5): {{0, 0}, {5, 3}, {10, 0}},
	} {
		if math.Abs(besides(x)-want) > 1e-12 {
			t.Errorf("%v: %g, want %g", x, besides(x), want)
		}
	}
	r := rng(9)
	for n := 3; n < 12; n++ {
		x := make([]flat, n)
		for k := range x {
			x[k] = flat{10*float64(k) + r.NormFloat64(), r.NormFloat64()}
		}
		sum := 0.0
		for k := 1; k+1 < n; k++ {
			a, p, b := x[k-1], x[k], x[k+1]
			long := a.dist(b)
			off := geom.Vec{b.x - a.x, b.y - a.y, 0}.Cross(geom.Vec{p.x - a.x, p.y - a.y, 0}).Norm() / long
			q := math.Sqrt(a.dist(p)*a.dist(p)-off*off) / long
			sum += off * off / (1 + (1-q)*(1-q) + q*q)
		}
		if want := math.Sqrt(sum / float64(n-2)); math.Abs(besides(x)-want) > 1e-9 {
			t.Errorf("%d points: %g, want %g", n, besides(x), want)
		}
	}
}
