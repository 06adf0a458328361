package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/normal"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// solved is r' C⁻¹ r with C = I + a a' + b b', by elimination.
func solved(r []residual) float64 {
	n := len(r)
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n+1)
		for k := range n {
			m[i][k] = (1-r[i].share)*(1-r[k].share) + r[i].share*r[k].share
		}
		m[i][i]++
		m[i][n] = r[i].mm
	}
	for i := range n {
		for k := i + 1; k < n; k++ {
			f := m[k][i] / m[i][i]
			for j := i; j <= n; j++ {
				m[k][j] -= f * m[i][j]
			}
		}
	}
	x := make([]float64, n)
	sum := 0.0
	for i := n - 1; i >= 0; i-- {
		x[i] = m[i][n]
		for k := i + 1; k < n; k++ {
			x[i] -= m[i][k] * x[k]
		}
		x[i] /= m[i][i]
		sum += x[i] * r[i].mm
	}
	return sum
}

// All points together are held against their own noise and that of the two ends: by elimination, of
// up to eleven points, and of none.
func TestPointsTogetherSeed6(t *testing.T) {
	r := rng(6)
	for n := range 12 {
		var points []residual
		for k := range n {
			points = append(points, residual{r.NormFloat64(), float64(k+1) / float64(n+1)})
		}
		near(t, fmt.Sprint(n, " points"), together(points), solved(points), 1e-9)
	}
	for q, want := range map[float64]float64{0: 1, 1: 1, 0.5: 0.5, 0.25: 0.625} {
		near(t, "ends", ends2(q), want, 1e-12)
	}
}

// straight is a trace on the plate whose points lie beside the line from end to end by so much, each
// 10 mm from the next.
func straight(t *testing.T, std float64, beside ...float64) (*trace, leg) {
	t.Helper()
	var points []geom.Vec
	for k, y := range append(append([]float64{0}, beside...), 0) {
		points = append(points, geom.Vec{20 + 10*float64(k), 50 + y, 0})
	}
	return traceThrough(t, std, points...)
}

// traceThrough is a trace through these points of the plate, with the leg from end to end.
func traceThrough(t *testing.T, std float64, points ...geom.Vec) (*trace, leg) {
	t.Helper()
	b := newBench(plate())
	rn := &run{in: b.input(t)}
	rn.prepare()
	tr := &trace{at: &rn.places[0], said: std, std: std}
	for _, p := range points {
		site, _ := tr.at.Surface.Closest(p)
		tr.sites = append(tr.sites, site)
	}
	way := func(a, b mesh.Site) mesh.Path {
		w, err := tr.at.Way(a, b)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	last := len(tr.sites) - 1
	for k := range last {
		tr.raw = append(tr.raw, way(tr.sites[k], tr.sites[k+1]))
	}
	return tr, leg{way(tr.sites[0], tr.sites[last]), 0, last}
}

// Points come along a leg in their order: one that goes back by no more than four of its standard
// uncertainties lies where it is, and one that goes back farther is off by what is left.
func TestPointsThatGoBack(t *testing.T) {
	for _, c := range []struct {
		std, back float64
		want      float64
	}{{2, 5, 0}, {2, 8, 0}, {2, 9, 1}, {1, 5, 1}, {0.5, 5, 3}, {0.5, 1, 0}, {1, 0, 0}} {
		tr, g := traceThrough(t, c.std, geom.Vec{20, 50, 0}, geom.Vec{45, 50, 0}, geom.Vec{45 - c.back, 50, 0}, geom.Vec{80, 50, 0})
		res := tr.residuals(&g)
		near(t, fmt.Sprintf("std %g, back by %g", c.std, c.back), math.Abs(res[1].mm), c.want, 1e-9)
		near(t, "where", 60*res[1].share, 25-c.back+c.want, 1e-9)
	}
}

// How far points stray from a leg: each beside it by what it was moved, at its share of the way; of
// the three tests the largest counts, and the point that shows it most is told. Against the tests
// beside the function, with quantiles of the normal and of the chi-square distribution.
func TestHowFarPointsStraySeed8(t *testing.T) {
	r := rng(8)
	for n := range 9 {
		var beside []float64
		for range n {
			beside = append(beside, 1.5*r.NormFloat64())
		}
		tr, g := straight(t, 0.5, beside...)
		res := tr.residuals(&g)
		if len(res) != n {
			t.Fatalf("%d residuals of %d points", len(res), n)
		}
		for k, x := range res {
			if math.Abs(math.Abs(x.mm)-math.Abs(beside[k])) > 1e-9 || math.Abs(x.share-float64(k+1)/float64(n+1)) > 1e-9 || n > 1 && x.mm*res[0].mm*beside[k]*beside[0] < 0 {
				t.Fatalf("point %d of %v: %+v", k+1, beside, x)
			}
		}
		want, at, single := 0.0, 0, 0.0
		for k, x := range res {
			v := math.Abs(x.mm) / (0.5 * normal.Quantile(1-testShare/float64(2*n)) * math.Sqrt(1+(1-x.share)*(1-x.share)+x.share*x.share))
			if v > single {
				single, at = v, k+1
			}
		}
		want = single
		tr.runsStray(res, func(v float64, k int) {
			if v > want {
				want, at = v, k+1
			}
		})
		if n > 1 {
			if v := math.Sqrt(solved(res)/geom.ChiSquareQuantile(testShare, n)) / 0.5; v > max(1, want) {
				want = v
			}
		}
		share, worst := tr.stray(&g)
		near(t, fmt.Sprint("stray of ", n), share, want, 1e-9)
		if n > 0 && worst != at || n == 0 && worst != g.from {
			t.Errorf("%v: point %d strays most, want %d", beside, worst, at)
		}
	}
}

// Points on one side of a leg are on one side: also where the nearest place of the leg is a segment of
// the length of a rounding, as where it passes a corner of the mesh, which leads anywhere.
func TestSegmentOfARoundingHasNoSide(t *testing.T) {
	tr, g := straight(t, 0.5, -1.44, -1.417, -1.285)
	for _, by := range []geom.Vec{{0, -1e-14, 0}, {0, 1e-14, 0}, {-1e-14, 0, 0}, {}} {
		for _, at := range []float64{20, 50, 60} { // at the first point of the leg, beside the third of the trace, at the last
			x := g
			x.Points, x.Faces = []geom.Vec{{20, 50, 0}, {at, 50, 0}, geom.Vec{at, 50, 0}.Add(by), {60, 50, 0}}, []int{g.Faces[0], g.Faces[0], g.Faces[0]}
			for k, r := range tr.residuals(&x) {
				if !(r.mm < -1) {
					t.Errorf("a segment by %v at x = %g mm: point %d lies %g mm beside", by, at, k+1, r.mm)
				}
			}
		}
	}
	if got := tr.residuals(&g); got[0].mm > 0 || got[1].mm > 0 || got[2].mm > 0 {
		t.Errorf("past a corner: %+v", got)
	}
}

// A straight crack is straight whatever its clicks, within their noise; one that bends is split where
// it does, and of exact points every one counts.
func TestTraceIsSplitWhereItBends(t *testing.T) {
	for _, c := range []struct {
		std    float64
		beside []float64
		kept   []int // points that legs begin at
	}{
		{0.5, []float64{0.3, -0.4, 0.2, -0.3}, []int{0}}, {0, []float64{0.3, -0.4, 0.2}, []int{0, 1, 2, 3}}, {0.5, nil, []int{0}},
		{0.2, []float64{0, 9, 0}, nil}, {0.5, []float64{5, 10, 15, 10, 5}, []int{0, 3}},
	} {
		tr, g := straight(t, c.std, c.beside...)
		tr.simplify(0, g.to)
		var got []int
		for k, l := range tr.legs {
			got = append(got, l.from)
			if k > 0 && tr.legs[k-1].to != l.from {
				t.Errorf("legs do not follow one another: %+v", tr.legs)
			}
		}
		if c.kept != nil && !slices.Equal(got, c.kept) || tr.legs[len(tr.legs)-1].to != g.to {
			t.Errorf("std %g, beside by %v: legs from %v, want %v", c.std, c.beside, got, c.kept)
		}
		if c.kept == nil && !slices.Contains(got, 2) {
			t.Errorf("std %g, beside by %v: not split at the point that is off, legs from %v", c.std, c.beside, got)
		}
	}
}

// Of all chains of places the one is taken that costs least: each place by how far it is off and 1 for
// one that is not the nearest, each way by what it costs, a jump by more than anything. Against every
// chain of a trace through a wall.
func TestCheapestChainSeed17(t *testing.T) {
	r := rng(17)
	b := newBench(slab(5))
	rn := &run{in: b.input(t)}
	rn.prepare()
	moved := 0
	for range 25 {
		tr := &trace{at: &rn.places[0], said: 1, std: 1, in: &job.Finding{}}
		var points []geom.Vec
		for k := range 2 + r.IntN(3) {
			points = append(points, geom.Vec{60 + 8*float64(k), 50, -5 * r.Float64()})
		}
		nearest := tr.nearest(points)
		tr.gateMM = 6
		var layers [][]candidate
		for i := range points {
			layers = append(layers, tr.elsewhere([]candidate{nearest[i]}, points, nearest, i, tr.gateMM))
		}
		s := math.Hypot(1, 0.1) // the mesh is known to 0.1 mm
		best, chains := math.Inf(1), 0
		var want []candidate
		var walk func(chain []candidate, cost float64)
		walk = func(chain []candidate, cost float64) {
			i := len(chain)
			if i == len(points) {
				if chains++; cost < best-1e-12 {
					best, want = cost, chain
				}
				return
			}
			for k, c := range layers[i] {
				more := c.mm * c.mm / s / s
				if k > 0 {
					more++
				}
				if i > 0 {
					w, err := tr.at.Way(chain[i-1].site, c.site)
					switch x := max(0, w.LengthMM-w.ChordMM) / 5; {
					case err != nil, w.LengthMM > 3*w.ChordMM+20:
						more += 1e9
					default:
						more += x * x
					}
				}
				walk(append(slices.Clone(chain), c), cost+more)
			}
		}
		walk(nil, 0)
		got := tr.bestChain(points, nearest)
		for i := range got {
			if got[i].site != want[i].site {
				t.Fatalf("%v: point %d at %v, want %v", points, i+1, got[i].site.At, want[i].site.At)
			}
			if got[i] != nearest[i] {
				moved++
			}
		}
		if chains < 4 {
			t.Fatalf("%d chains", chains)
		}
	}
	if moved < 5 {
		t.Errorf("%d points were put elsewhere than at their nearest place", moved)
	}
}

// A group is as long as its cracks and the gaps between them, of two faces the longer; tips by eye that
// a gap is measured from count in it, once, and the others with the allowance of 4 mm. The variances
// add, those of a gap are of the traces at its ends.
func TestLengthOfAGroup(t *testing.T) {
	type crack struct {
		length, std float64 // 0: no length
		tips        string
		kind        body.FindingKind
	}
	gap := func(i, j int, seen float64, endI, endJ int) apart {
		return apart{i: i, j: j, seen: seen, endI: endI, endJ: endJ}
	}
	for _, c := range []struct {
		name    string
		cracks  []crack
		faces   [][2]int
		gaps    []apart
		mm, std float64
		tips    int
		unknown bool
		text    string
	}{
		{"two", []crack{{20, 3, "penetrant penetrant", "crack"}, {10, 4, "penetrant penetrant", "crack"}}, nil, []apart{gap(0, 1, 5, 1, 0)}, 35, math.Sqrt(25 + 2), 0, false,
			"a and b count as one: no gap is surely longer than the 8.0 mm of the procedure; 2 lengths and the gaps between them (5.0 mm) together 35.0 mm"},
		{"tips in the gap", []crack{{20, 3, "visual visual", "crack"}, {10, 4, "visual visual", "crack"}}, nil, []apart{gap(0, 1, 5, 1, 0)}, 35, math.Sqrt(27), 2, false, ""},
		{"a tip in two gaps", []crack{{20, 3, "visual visual", "crack"}, {10, 4, "penetrant penetrant", "crack"}, {10, 0, "penetrant penetrant", "crack"}}, nil, []apart{gap(0, 1, 5, 1, -1), gap(0, 2, 6, 1, -1)}, 51, math.Sqrt(25 + 4), 1, false, ""},
		{"no tip at the gap", []crack{{20, 3, "visual visual", "crack"}, {10, 4, "visual penetrant", "crack"}}, nil, []apart{gap(0, 1, 5, -1, 1)}, 35, math.Sqrt(27), 3, false, ""},
		{"two faces", []crack{{20, 3, "penetrant penetrant", "crack"}, {22, 4, "penetrant penetrant", "crack"}}, [][2]int{{0, 1}}, nil, 22, 4, 0, false, "a and b count as one: two faces of one crack count once, with the longer; 22.0 mm"},
		{"without a length", []crack{{20, 3, "penetrant penetrant", "crack"}, {0, 0, "penetrant penetrant", "crack"}}, nil, []apart{gap(0, 1, 5, -1, -1)}, 0, 0, 0, true, "a and b count as one, and the length of one of them is unknown"},
		{"a torn mount without a length", []crack{{20, 3, "penetrant penetrant", "crack"}, {0, 0, "", "torn"}}, nil, []apart{gap(0, 1, 5, -1, -1)}, 25, math.Sqrt(9 + 2), 0, false, ""},
	} {
		of := &body.Casting{ID: "C", Part: "P"}
		at := place{Casting: &vehicle.Casting{Of: of}, rule: &body.Procedure{ID: "R", Revision: "3", TipVisual: 4, GroupGap: 8}}
		r := &run{places: []place{at}, crack: newSets(len(c.cracks))}
		var members []int
		for i, x := range c.cracks {
			f := Finding{ID: job.FindingID("abc"[i : i+1]), Kind: x.kind, Part: "P", Casting: "C", Located: true}
			if x.length > 0 {
				f.Length = &Length{x.length, x.std}
			}
			tr := &trace{in: &job.Finding{Kind: x.kind}, at: &r.places[0], std: 1}
			for _, w := range strings.Fields(x.tips) {
				tr.tips = append(tr.tips, body.TipMethod(w))
			}
			if ends, _ := visualTips(tr.tips); isCrack(x.kind) {
				for k, visual := range ends {
					if visual {
						tr.curve.ahead[k] = 4
					}
				}
			}
			r.found, r.traces, members = append(r.found, f), append(r.traces, tr), append(members, i)
		}
		for _, f := range c.faces {
			r.crack.join(f[0], f[1])
		}
		slices.Reverse(members)
		r.group(members, append([]apart{}, c.gaps...))
		g := r.res.Groups[0]
		if g.ID != "G-a" || len(g.Findings) != len(c.cracks) || g.Findings[0] != "a" || g.Unknown != c.unknown || math.Abs(g.LengthMM-c.mm) > 1e-9 || math.Abs(g.StdMM-c.std) > 1e-9 || c.text != "" && g.Because != c.text {
			t.Errorf("%s: %+v", c.name, g)
		}
		for _, f := range r.found {
			switch {
			case f.Group != "G-a":
				t.Errorf("%s: %s is in group %q", c.name, f.ID, f.Group)
			case c.unknown:
				if f.Decision != nil || len(f.Unknown) != 1 || f.Unknown[0] != "decision length: "+g.Because {
					t.Errorf("%s: %+v, %q", c.name, f.Decision, f.Unknown)
				}
			case f.Decision == nil || math.Abs(f.Decision.MM-c.mm-4*float64(c.tips)) > 1e-9 || f.TipAddMM != 4*float64(c.tips) || math.Abs(f.Decision.Std-math.Sqrt(c.std*c.std+float64(c.tips)*16/3)) > 1e-9:
				t.Errorf("%s: %+v, want %d tips", c.name, f.Decision, c.tips)
			case !strings.HasPrefix(f.Because[0], fmt.Sprintf("decision length of group G-a %s: ", mm(c.mm+4*float64(c.tips)))) || strings.Contains(f.Because[0], "without any allowance") != (c.tips == 0):
				t.Errorf("%s: %q", c.name, f.Because)
			}
		}
	}
}

// What parts the wall and has no place may count as one with whatever does on its casting, where the
// procedure groups at all.
func TestLostCracksMayCountAsOne(t *testing.T) {
	for _, c := range []struct {
		gap      float64
		grouping *body.Grouping
		rule     bool
		kinds    []body.FindingKind
		casting  []body.CastingID
		lost     int
		want     []int // roots
	}{
		{5, nil, true, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 0, 0}},
		{0, nil, true, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 1, 2}},
		{0, &body.Grouping{}, true, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 0, 0}},
		{5, nil, false, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 1, 2}},
		{5, nil, true, []body.FindingKind{"crack", "dent", "crack"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 1, 0}},
		{5, nil, true, []body.FindingKind{"crack", "crack", "dent"}, []body.CastingID{"C", "C", "C"}, 2, []int{0, 1, 2}},
		{5, nil, true, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "D", "C"}, 2, []int{0, 1, 0}},
		{5, nil, true, []body.FindingKind{"crack", "crack", "crack"}, []body.CastingID{"C", "C", ""}, 2, []int{0, 1, 2}},
	} {
		at := place{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C"}}}
		if c.rule {
			at.rule = &body.Procedure{GroupGap: unit.MM(c.gap), Grouping: c.grouping}
		}
		r := &run{places: []place{at}}
		for i, k := range c.kinds {
			r.found = append(r.found, Finding{ID: job.FindingID("abc"[i : i+1]), Kind: k, Casting: c.casting[i], Located: i != c.lost})
			tr := &trace{}
			if i == c.lost {
				tr = nil
			}
			r.traces = append(r.traces, tr)
		}
		set := newSets(3)
		r.joinLost(set)
		for i, want := range c.want {
			if set.of(i) != want {
				t.Errorf("%+v: %d is with %d", c, i, set.of(i))
			}
		}
		if got := r.lostOf([]int{0, 1, 2}); len(got) != 1 || got[0] != "c" {
			t.Errorf("lost are %v", got)
		}
	}
}

// The clearance to the border of one that crosses it is none, to the zone that has least of it, of
// equals the first; of one that crosses none it is to the nearest, and of a casting without others none
// is there.
func TestBorderOfWhatCrossesIt(t *testing.T) {
	at := &place{Casting: &vehicle.Casting{Of: &body.Casting{Zones: []body.Zone{{ID: "A", Label: 1}, {ID: "B", Label: 2}, {ID: "C", Label: 3}}}}}
	for _, c := range []struct {
		crossed []mesh.LabelLength
		to      string
	}{
		{[]mesh.LabelLength{{Label: 1, LengthMM: 5}, {Label: 2, LengthMM: 3}}, "B"}, {[]mesh.LabelLength{{Label: 1, LengthMM: 3}, {Label: 2, LengthMM: 5}}, "A"},
		{[]mesh.LabelLength{{Label: 3, LengthMM: 3}, {Label: 2, LengthMM: 3}, {Label: 1, LengthMM: 4}}, "B"},
	} {
		var f Finding
		(&run{}).border(&f, &trace{at: at}, c.crossed, nil, 0.7)
		if f.Border == nil || f.Border.To != c.to || f.Border.MM != 0 || f.Border.Std != 0.7 || f.Border.SeenMM != 0 {
			t.Errorf("%+v: %+v", c.crossed, f.Border)
		}
	}
	for _, c := range []struct {
		f    Finding
		want string
	}{
		{Finding{Zones: []ZoneShare{{Zone: "A", LengthMM: 5}}, Length: &Length{}}, "5.0 mm of it in zone A"}, {Finding{Zones: []ZoneShare{{Zone: "A"}}}, "in zone A"}, {Finding{Zones: []ZoneShare{{Zone: "A", Touches: true}}, Length: &Length{}}, "it may reach zone A, whose rules count too"},
	} {
		if c.f.zonesBecause(); len(c.f.Because) != 1 || c.f.Because[0] != c.want {
			t.Errorf("%q, want %q", c.f.Because, c.want)
		}
	}
}

// From one face of a bar of 4 mm by 23 mm to the place behind it on the other, ways lead round both of
// its long edges. The one round the farther edge counts while it costs no more than 9.21 above the
// nearer, by the square of how much longer than straight a way is in walls; from 12 mm off it does
// (26 and 28 mm, up to 29.1 mm), from 12.6 mm off it does not (24.8 and 29.2 mm, up to 28.1 mm). Along
// one face there is no room for another way.
func TestWaysRoundBothEdges(t *testing.T) {
	b := onBar(4)
	rn := &run{in: b.input(t)}
	rn.prepare()
	tr := &trace{at: &rn.places[0], said: 0.3, std: 0.3}
	for _, c := range []struct {
		from, to geom.Vec
		want     []float64
	}{
		{geom.Vec{60, 12, 4}, geom.Vec{60, 12, 0}, []float64{28}}, {geom.Vec{60, 11, 4}, geom.Vec{60, 11, 0}, []float64{28}}, {geom.Vec{60, 12, 0}, geom.Vec{60, 12, 4}, []float64{28}},
		{geom.Vec{60, 12.6, 4}, geom.Vec{60, 12.6, 0}, nil}, {geom.Vec{60, 12, 4}, geom.Vec{80, 12, 4}, nil},
	} {
		x, _ := tr.at.Surface.Closest(c.from)
		y, _ := tr.at.Surface.Closest(c.to)
		way, err := tr.at.Way(x, y)
		if err != nil {
			t.Fatal(err)
		}
		got := tr.rivals(x, y, way)
		ok := len(got) == len(c.want)
		for i := 0; ok && i < len(got); i++ {
			p := got[i].Points
			ok = math.Abs(got[i].LengthMM-c.want[i]) < 0.05 && p[0].Dist(x.At) < 1e-9 && p[len(p)-1].Dist(y.At) < 1e-9
			side := func(w mesh.Path) bool {
				return slices.ContainsFunc(w.Points, func(p geom.Vec) bool { return p[1] < 1 })
			}
			ok = ok && side(got[i]) != side(tr.shortest(x, y, way))
		}
		if !ok {
			t.Errorf("from %v to %v: %d other ways %+v, want %v", c.from, c.to, len(got), got, c.want)
		}
	}
}

// A point as far from two segments of a leg lies beside the one that comes first: in a corner of 90°, 10 mm
// from both, 30 mm along the way, on the left or right as the way turns.
func TestPointInACornerOfALeg(t *testing.T) {
	for _, side := range []float64{1, -1} {
		tr, g := traceThrough(t, 1, geom.Vec{20, 50 - 20*side, 0}, geom.Vec{50, 50 - 10*side, 0}, geom.Vec{60, 50 + 20*side, 0})
		g.Points, g.Faces = []geom.Vec{tr.sites[0].At, {60, 50 - 20*side, 0}, tr.sites[2].At}, []int{g.Faces[0], g.Faces[0]}
		if mm, pos := tr.beside(1, &g, 0); mm != 10*side || pos != 30 {
			t.Errorf("turning to %v: %v beside, %v along", side, mm, pos)
		}
	}
}
