package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/normal"
	"fettle/internal/vehicle"
)

// legOver is a leg from the first point of a trace on the plate to the last, over these places between.
func legOver(tr *trace, over ...geom.Vec) leg {
	last := len(tr.sites) - 1
	g := leg{Path: mesh.Path{Points: []geom.Vec{tr.sites[0].At}}, from: 0, to: last}
	for _, p := range append(slices.Clone(over), tr.sites[last].At) {
		g.LengthMM += p.Dist(g.Points[len(g.Points)-1])
		g.Points, g.Faces = append(g.Points, p), append(g.Faces, tr.sites[0].Face)
	}
	return g
}

// A leg keeps to its corridor up to a quarter of the longest gap between two of its points, and beyond
// that as far as noise of a point goes, the corners of the leg included: on the plate the way through
// the points is a straight line, and the one corner lies off it by so much. Exact points to the bit:
// the gaps are whole millimetres.
func TestCornersOfALegInTheCorridor(t *testing.T) {
	for _, c := range []struct {
		std  float64
		x    []float64 // of the points
		gate float64
	}{
		{0, []float64{20, 28, 36}, 2}, {0, []float64{20, 28, 44}, 4}, {0, []float64{20, 36, 44}, 4}, {0, []float64{20, 28}, 2},
		{0.5, []float64{20, 28, 36}, 2 + 0.5*math.Sqrt2*normal.Quantile(1-testShare/2)},
		{0.5, []float64{20, 28, 36, 44, 52}, 2 + 0.5*math.Sqrt2*normal.Quantile(1-testShare/6)},
		{0.5, []float64{20, 28}, 2 + 0.5*math.Sqrt2*normal.Quantile(1-testShare/2)},
	} {
		var points []geom.Vec
		for _, x := range c.x {
			points = append(points, geom.Vec{x, 50, 0})
		}
		tr, _ := traceThrough(t, c.std, points...)
		for off, want := range map[float64]bool{0.9: true, 1 - 1e-9: true, 1 + 1e-9: false, 1.05: false, 3: false} {
			for _, x := range []float64{21, 25, 27.5} {
				g := legOver(tr, geom.Vec{x, 50 + off*c.gate, 0})
				if got := tr.inCorridor(&g); got != want {
					t.Errorf("points at %v, std %g: a corner %g of the gate off at %g mm is within: %v", c.x, c.std, off, x, got)
				}
			}
		}
		g := legOver(tr, geom.Vec{25, 50 + c.gate, 0})
		if got := tr.inCorridor(&g); c.std == 0 && !got {
			t.Errorf("points at %v: a corner at the gate is beyond it", c.x)
		}
	}
}

// A way that is not proven the shortest gives place to the shortest where that keeps to the points: they
// stray from it by no more than noise explains, and it keeps to their corridor. On the plate the
// shortest is straight; the known one goes round by 30 mm.
func TestShorterWayThatKeepsToThePoints(t *testing.T) {
	for _, c := range []struct {
		name   string
		share  float64 // of what noise explains, by which the middle point is off the straight way
		round  bool    // the way through the points goes round too
		proven bool
		want   bool
	}{
		{"along it", 0, false, false, true}, {"off by noise", 0.99, false, false, true}, {"off by more", 1.01, false, false, false},
		{"off by much more", 1.9, false, false, false}, {"past a window", 0, true, false, false}, {"proven", 0, false, true, false},
	} {
		tr, straight := traceThrough(t, 0.3, geom.Vec{20, 50, 0}, geom.Vec{30, 51, 0}, geom.Vec{40, 50, 0})
		one, _ := tr.stray(&straight) // of 1 mm
		tr, straight = traceThrough(t, 0.3, geom.Vec{20, 50, 0}, geom.Vec{30, 50 + c.share/one, 0}, geom.Vec{40, 50, 0})
		if !tr.inCorridor(&straight) {
			t.Fatalf("%s: the straight way is not in the corridor", c.name)
		}
		g := legOver(tr, geom.Vec{30, 80, 0})
		g.Proven = c.proven
		if c.round {
			for k := range tr.raw {
				mid := tr.raw[k].Points[0].Lerp(tr.raw[k].Points[len(tr.raw[k].Points)-1], 0.5).Add(geom.Vec{0, 30, 0})
				tr.raw[k].Points, tr.raw[k].Faces = []geom.Vec{tr.sites[k].At, mid, tr.sites[k+1].At}, []int{tr.sites[k].Face, tr.sites[k].Face}
			}
		}
		tr.add(g)
		if got := tr.legs[0].LengthMM < 21; got != c.want {
			t.Errorf("%s: %g mm, the shortest is taken: %v", c.name, tr.legs[0].LengthMM, got)
		}
	}
}

// A point may be, beside its nearest place, wherever the surface faces one of six ways about it, each
// face once. By every direction asked for one by one, on a wall of 5 mm near its edge.
func TestPlacesThatFaceOtherWaysSeed5(t *testing.T) {
	r := rng(5)
	b := newBench(slab(5))
	rn := &run{in: b.input(t)}
	rn.prepare()
	tr, others := &trace{at: &rn.places[0], said: 1, std: 1}, 0
	for range 40 {
		at := geom.Vec{2 + 6*r.Float64(), 50, -5 * r.Float64()}
		points := []geom.Vec{at, at.Add(geom.Vec{4 * r.NormFloat64(), 4 * r.NormFloat64(), 0}), at.Add(geom.Vec{8, 0, 0})}
		nearest := tr.nearest(points)
		for i := range points {
			want := map[int]float64{nearest[i].site.Face: nearest[i].mm}
			for _, d := range tr.ways(points, nearest, i) {
				if s, mm, ok := tr.at.Surface.ClosestFacing(points[i], d, vehicle.OppositeRad, 6); ok {
					want[s.Face] = mm
				}
			}
			got := tr.elsewhere([]candidate{nearest[i]}, points, nearest, i, 6)
			for k, c := range got {
				if mm, ok := want[c.site.Face]; !ok || math.Abs(mm-c.mm) > 1e-9 || k == 0 && c != nearest[i] {
					t.Errorf("%v: place %d on face %d, %g mm off", points[i], k, c.site.Face, c.mm)
				}
				delete(want, c.site.Face)
			}
			if len(want) > 0 {
				t.Errorf("%v: nothing on faces %v", points[i], want)
			}
			others += len(got) - 1
		}
	}
	if others < 100 {
		t.Errorf("%d other places", others)
	}
}

// Where a way from one place to another crosses an edge is told for the inner places of every edge at
// which the two ways to there together are no longer than at those beside them, nor than the limit; the
// shortest first. Against the ways themselves.
func TestWhereWaysCrossEdges(t *testing.T) {
	at := placeOn(t, bar(40, 16, 4, 16))
	tr := &trace{at: at}
	a, b := at.siteOf(geom.Vec{20, 7, 4})[0], at.siteOf(geom.Vec{22, 7, 0})[0]
	const most = 22.0
	type found struct {
		at geom.Vec
		mm float64
	}
	var want []found
	for _, e := range tr.edgesBetween(a.At, b.At, most) {
		sum := make([]float64, len(e))
		for i, x := range e {
			p, err := at.ShortestWay(a, x)
			q, other := at.ShortestWay(x, b)
			if err != nil || other != nil {
				t.Fatal(err, other)
			}
			sum[i] = p.LengthMM + q.LengthMM
		}
		for i := range sum {
			if i > 0 && i < len(sum)-1 && sum[i] <= most && sum[i] <= sum[i-1]+1e-9 && sum[i] <= sum[i+1]+1e-9 {
				want = append(want, found{e[i].At, sum[i]})
			}
		}
	}
	got := tr.crossings(a, b, most)
	if len(want) < 5 || len(got) != len(want) {
		t.Errorf("%d places, want %d", len(got), len(want))
	}
	for k, c := range got {
		if k > 0 && c.mm < got[k-1].mm {
			t.Errorf("place %d is %g mm behind %g mm", k, c.mm, got[k-1].mm)
		}
		if !slices.ContainsFunc(want, func(w found) bool { return w.at.Dist(c.site.At) < 1e-9 && math.Abs(w.mm-c.mm) < 1e-6 }) {
			t.Errorf("at %v, %g mm", c.site.At, c.mm)
		}
	}
}

// A stretch over some places ends where the crack does when it has the first point, or the last, at a
// place that was not taken there. All stretches of four points with two places each.
func TestEndsOfAStretch(t *testing.T) {
	for taken := range 16 {
		l := lineLattice(taken&1, taken>>1&1, taken>>2&1, taken>>3)
		for from := range 4 {
			for n := 1; from+n <= 4; n++ {
				for way := range 1 << n {
					var places []int
					for k := range n {
						places = append(places, way>>k&1)
					}
					covered := map[[3]int]bool{}
					d := l.stretch(from, places, covered)
					want := [2]bool{from == 0 && places[0] != taken&1, from+n == 4 && places[n-1] != taken>>3}
					if d.ends != want || d.from != from || len(d.sites) != n || len(d.ways) != n-1 || len(covered) != n-1 {
						t.Fatalf("taken %b, from point %d over %v: %+v, ends want %v", taken, from, places, d, want)
					}
					for k := range d.ways {
						if d.ways[k].LengthMM != float64(100*(from+k)+2*places[k]+places[k+1]) || !covered[[3]int{from + k, places[k], places[k+1]}] {
							t.Fatalf("from point %d over %v: way %d is %+v, covered %v", from, places, k, d.ways[k], covered)
						}
					}
				}
			}
		}
	}
}

// Which side of the wall a point lies on is chosen when the wall is given and the points are not exact;
// else every point goes to its nearest place, and a way round is told. Two points through a plate of
// 0.75 mm, on its two faces, with and without their uncertainty.
func TestSidesAreChosenWithAWall(t *testing.T) {
	s, err := mesh.NewSurface(slab(0.75))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		wall, std float64
		side      bool
	}{{0.75, 0.5, true}, {0.75, 0, false}, {0, 0.5, false}, {0, 0, false}} {
		r, notes, err := MeasureTrace(s, TraceInput{Name: "plate", Points: []geom.Vec{{60, 50, 0}, {70, 50, -0.75}, {80, 50, 0}}, StdMM: c.std, WallMM: c.wall})
		if err != nil {
			t.Fatalf("%+v: %v", c, err)
		}
		jumps := 0
		for _, n := range notes {
			if n.Code == "inspect.trace-jumps" && strings.Contains(n.Text, "the surface leads") {
				jumps++
			}
		}
		if c.side != (math.Abs(r.Length.MM-20) < 1) || c.side != (r.Sites[1][2] == 0) || c.side != (jumps == 0) || !c.side && jumps != 2 {
			t.Errorf("%+v: %g mm over %v, %+v", c, r.Length.MM, r.Sites, notes)
		}
		near(t, "off the surface", r.OffMM[1], map[bool]float64{true: 0.75, false: 0}[c.side], 1e-9)
	}
}

// Points are rougher than stated when the mean square of their second differences is beyond the 1 %
// quantile of chi-square, with 18 (n-2)/35 degrees of freedom rounded down. Points to and fro by a have
// second differences of 4 a, of which the variance is 6 times that of a point; by so much that the
// border is met, a little below and a little above it.
func TestWhenPointsAreRougherThanStated(t *testing.T) {
	for n := 5; n <= 40; n++ {
		dof := (n - 2) * 18 / 35
		level := 0.3 * math.Sqrt(geom.ChiSquareQuantile(0.01, dof)/float64(dof))
		for _, over := range []float64{1 - 1e-9, 1 + 1e-9} {
			var d []float64
			for k := range n {
				d = append(d, level*over*math.Sqrt(6)/4*float64(1-2*(k%2)))
			}
			want := 0.0
			if over > 1 {
				want = level * over
			}
			near(t, "roughness", roughness(d, 0.3), want, 1e-9)
		}
	}
}

// The places of rough points are looked for again with the noise that the first places show: twice, where
// the ways between them jump or turn back. Through a wall of 5 mm; of these draws the second look changes
// places in five.
func TestPlacesAreLookedForTwiceSeeds(t *testing.T) {
	b := newBench(slab(5))
	rn := &run{in: b.input(t)}
	rn.prepare()
	again := 0
	for _, seed := range []uint64{57, 197, 210, 267, 286, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12} {
		r := rng(seed)
		n, noise := 5+r.IntN(5), 0.5+2.5*r.Float64()
		var points []geom.Vec
		for k := range n {
			points = append(points, geom.Vec{40 + 8*float64(k), 50, -5*float64(r.IntN(3))/4 + noise*r.NormFloat64()})
		}
		trace := func() *trace { return &trace{at: &rn.places[0], said: 0.3, std: 0.3, in: &job.Finding{}} }
		by := trace()
		nearest := by.nearest(points)
		by.feel(points, nearest)
		looks := [][]candidate{nearest}
		for range 2 {
			last := looks[len(looks)-1]
			if _, jump := by.connect(last); jump == 0 && !by.turnsBack(last) {
				break
			}
			looks = append(looks, by.bestChain(points, nearest))
			by.feel(points, looks[len(looks)-1])
		}
		want := looks[len(looks)-1]
		raw, jump := by.connect(want)
		got, ways, jumps := trace().chain(points, nearest)
		if !slices.Equal(got, want) || len(ways) != len(raw) || jumps != jump {
			t.Errorf("seed %d: after %d looks other places are taken than after so many", seed, len(looks)-1)
		}
		if len(looks) == 3 && !slices.Equal(looks[1], looks[2]) {
			again++
		}
	}
	if again < 5 {
		t.Errorf("the second look changed places in %d", again)
	}
}
