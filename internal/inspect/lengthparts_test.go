package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// What points far apart do not show is uncertain by a share of the way through them: 0.6 % for each
// millimetre of their mean distance above 14 mm, 2 % more for each above 25 mm, half of it at most;
// nothing of two points. The shares are our choices, as beside the constants; the sums by hand.
func TestWhatFarPointsDoNotShow(t *testing.T) {
	for _, c := range []struct {
		raw    float64
		points int
		want   float64
	}{
		{140, 11, 0}, {150, 11, 0.9}, {200, 11, 7.2}, {250, 11, 16.5}, {260, 11, 23.92}, {300, 11, 58.8}, // 300 x (0.096 + 0.1)
		{200, 5, 100}, {20, 3, 0}, {40, 3, 1.44}, {60, 2, 0}, {60, 3, 11.76}, {100, 3, 50},
	} {
		l := traceLength{raw: c.raw, points: c.points}
		near(t, "what does not show", l.unseen(), c.want, 1e-9)
	}
	for _, c := range []struct {
		raw    float64
		points int
		want   float64
	}{{60, 4, 20}, {60, 3, 30}, {60, 2, 60}} {
		near(t, "distance of the points", (&traceLength{raw: c.raw, points: c.points}).apart(), c.want, 1e-12)
	}
	for _, c := range []struct{ mm, raw, longer, want float64 }{{10, 12, 3, 15}, {20, 12, 3, 20}, {15, 12, 3, 15}} {
		near(t, "the longest it may be", (&traceLength{mm: c.mm, raw: c.raw, longer: c.longer}).upper(), c.want, 0)
	}
	for bend, want := range map[float64]string{0.099: "", 0.1: ", of which 0.1 mm for bends between the points", 3: ", of which 3.0 mm for bends between the points"} {
		if got := (&traceLength{bend: bend}).bendText(); got != want {
			t.Errorf("bends of %g mm: %q", bend, got)
		}
	}
	if got := (&traceLength{bend: 3, raw: 300, points: 11}).bendText(); got != ", of which 58.9 mm for bends between the points" { // the root of 3² + 58.8²
		t.Errorf("%q", got)
	}
}

// A path that goes along x, then down by a slope of 1 in 2 and straight down, bends by two angles; a
// segment without length has no direction, and none stands for one. Only what bends by less than
// 50 degrees stands for a round.
func TestBendsOfAPath(t *testing.T) {
	slope := math.Atan2(1, 2)
	pts := []geom.Vec{{0, 0, 0}, {4, 0, 0}, {4, 0, 0}, {10, 0, 0}, {12, 0, -1}, {12, 0, -1}, {12, 0, -5}}
	turn, sagitta := bending(pts)
	near(t, "turn", turn, math.Pi/2, 1e-12)
	near(t, "sagitta", sagitta, math.Sqrt(5)*slope*slope/24, 1e-12) // the shorter of the two; 63 degrees are an edge
	for _, x := range []struct {
		pts         []geom.Vec
		first, last geom.Vec
	}{
		{pts, geom.Vec{1, 0, 0}, geom.Vec{0, 0, -1}},
		{[]geom.Vec{{0, 0, 0}, {0, 0, 0}, {0, 3, 0}, {0, 3, 0}}, geom.Vec{0, 1, 0}, geom.Vec{0, 1, 0}},
		{[]geom.Vec{{0, 0, 0}, {0, tinyMM, 0}, {3, tinyMM, 0}, {3, 0, 0}}, geom.Vec{0, 1, 0}, geom.Vec{0, -1, 0}},
		{[]geom.Vec{{0, 0, 0}, {0, tinyMM / 2, 0}, {3, tinyMM / 2, 0}, {3, 0, 0}}, geom.Vec{1, 0, 0}, geom.Vec{1, 0, 0}},
		{[]geom.Vec{{1, 1, 1}, {1, 1, 1}}, geom.Vec{}, geom.Vec{}}, {[]geom.Vec{{1, 1, 1}}, geom.Vec{}, geom.Vec{}}, {nil, geom.Vec{}, geom.Vec{}},
	} {
		if first, last := firstDir(x.pts), lastDir(x.pts); first != x.first || last != x.last {
			t.Errorf("%v: from %v to %v", x.pts, first, last)
		}
	}
	for n := range 3 { // too short to bend
		if turn, sagitta := bending(pts[:n]); turn != 0 || sagitta != 0 {
			t.Errorf("%d points bend by %g, %g", n, turn, sagitta)
		}
	}
}

// The uncertainty of a length by hand: two ends count 1 each, a corner by the square of how much the
// direction changes (2 for a right angle), and the mesh by the angle that the path turns with the
// surface between kept points.
func TestUncertaintyOfALength(t *testing.T) {
	straight := mesh.Path{Points: []geom.Vec{{0, 0, 0}, {5, 0, 0}}}
	on := mesh.Path{Points: []geom.Vec{{5, 0, 0}, {9, 0, 0}}}
	corner := mesh.Path{Points: []geom.Vec{{5, 0, 0}, {5, 9, 0}}}
	over := mesh.Path{Points: []geom.Vec{{0, 0, 0}, {5, 0, 0}, {5, 0, -5}}}
	for _, c := range []struct {
		legs      []mesh.Path
		std, mesh float64
		want      float64
	}{
		{[]mesh.Path{straight}, 0.5, 0.1, 0.5 * math.Sqrt2}, {[]mesh.Path{straight, on}, 0.5, 0.1, 0.5 * math.Sqrt2}, {[]mesh.Path{straight, corner}, 0.5, 0.1, 1},
		{[]mesh.Path{over}, 0, 0.2, 0.1 * math.Pi}, {[]mesh.Path{over}, 0.5, 0.2, math.Hypot(0.5*math.Sqrt2, 0.1*math.Pi)}, {nil, 1, 1, math.Sqrt2},
	} {
		near(t, "standard uncertainty", lengthStd(c.legs, c.std, c.mesh), c.want, 1e-12)
	}
}

// A line of no way is its place; the ways between places follow one another, each place once.
func TestLineOfWays(t *testing.T) {
	at := func(x float64) geom.Vec { return geom.Vec{x, 0, 0} }
	one := lineOf([]mesh.Site{{Face: 7, At: at(3)}}, nil)
	if !slices.Equal(one.pts, []geom.Vec{at(3)}) || !slices.Equal(one.faces, []int{7}) {
		t.Errorf("%+v", one)
	}
	two := lineOf(nil, []mesh.Path{{Points: []geom.Vec{at(0), at(1), at(2)}, Faces: []int{4, 5}}, {Points: []geom.Vec{at(2), at(3)}, Faces: []int{6}}})
	if !slices.Equal(two.pts, []geom.Vec{at(0), at(1), at(2), at(3)}) || !slices.Equal(two.faces, []int{4, 5, 6}) {
		t.Errorf("%+v", two)
	}
	for k, want := range []segment{newSegment(at(0), at(0), 4), newSegment(at(3), at(3), 6)} {
		if got := two.end(k); got != want {
			t.Errorf("end %d: %+v, want %+v", k, got, want)
		}
	}
}

// A curve of three points whose first end may run on by 2 mm, with another way whose first point may
// be the crack's and is nearer to a wall at x = 0: as seen all ways count, from an end those points
// that may be it, and no less than nothing is left.
func TestDistancesOfACurve(t *testing.T) {
	wall := func(best float64, p, q geom.Vec) float64 { return min(best, p[0], q[0]) }
	for _, c := range []struct {
		ahead [2]float64
		ends  [2]bool
		want  []reach
	}{
		{[2]float64{0, 0}, [2]bool{true, true}, []reach{{4, 4, 0, -1}}},
		{[2]float64{2, 0}, [2]bool{false, false}, []reach{{4, 4, 0, -1}, {4, 8, 2, 0}}},
		{[2]float64{2, 0}, [2]bool{true, false}, []reach{{4, 4, 0, -1}, {4, 2, 2, 0}}},
		{[2]float64{2, 3}, [2]bool{true, false}, []reach{{4, 4, 0, -1}, {4, 2, 2, 0}, {4, 27, 3, 1}}},
		{[2]float64{2, 3}, [2]bool{true, true}, []reach{{4, 4, 0, -1}, {4, 2, 2, 0}, {4, 2, 3, 1}}},
		{[2]float64{5, 0}, [2]bool{true, true}, []reach{{4, 4, 0, -1}, {4, 0, 5, 0}}},
	} {
		c1 := curve{line: line{[]geom.Vec{{10, 0, 0}, {20, 0, 0}, {30, 0, 0}}, []int{1, 2}}, ahead: c.ahead, otherWays: []otherWay{{line{[]geom.Vec{{4, 0, 0}, {5, 0, 0}}, []int{3}}, c.ends}}}
		got := c1.reaches(wall)
		if !slices.Equal(got, c.want) {
			t.Errorf("ahead %v, ends %v: %+v, want %+v", c.ahead, c.ends, got, c.want)
		}
		if n := len(c1.segments(-1)); n != 3 || len(c1.segments(0)) != 1+map[bool]int{true: 1}[c.ends[0]] || len(c1.segments(1)) != 1+map[bool]int{true: 1}[c.ends[1]] {
			t.Errorf("ends %v: %d segments", c.ends, n)
		}
		if c1.runsOn(-1) != 0 || c1.runsOn(0) != c.ahead[0] || c1.runsOn(1) != c.ahead[1] {
			t.Errorf("ahead %v runs on otherwise", c.ahead)
		}
		for k, p := range []geom.Vec{{10, 0, 0}, {15, 0, 0}, {30, 0, 0}} {
			if got := c1.spot(p, 9).end; got != []int{0, -1, 1}[k] {
				t.Errorf("%v is at end %d", p, got)
			}
		}
	}
	ring := curve{line: line{[]geom.Vec{{1, 0, 0}, {2, 0, 0}, {1, 0, 0}}, []int{1, 2}}}
	if got := ring.spot(geom.Vec{1, 0, 0}, 1).end; got != 0 {
		t.Errorf("where both ends meet it is end %d", got)
	}
	// What a distance through space hangs on is all in its numbers.
	base := curve{line: line{[]geom.Vec{{1, 2, 3}}, []int{1}}, otherWays: []otherWay{{line{[]geom.Vec{{4, 5, 6}}, []int{2}}, [2]bool{true, false}}}}
	if got, want := base.numbers(), []float64{0, 0, 1, 1, 2, 3, 1, 4, 5, 6, 1, 0}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	base.ahead, base.otherWays[0].ends = [2]float64{7, 8}, [2]bool{false, true}
	if got, want := base.numbers(), []float64{7, 8, 1, 1, 2, 3, 1, 4, 5, 6, 0, 1}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// The least of several distances, of equals the least certain.
func TestLeastDistance(t *testing.T) {
	for _, c := range []struct {
		all  []reach
		want int
	}{
		{[]reach{{allowed: 3}}, 0}, {[]reach{{allowed: 3}, {allowed: 2}}, 1}, {[]reach{{allowed: 2}, {allowed: 3}}, 0},
		{[]reach{{allowed: 2, ahead: 1}, {allowed: 2, ahead: 4}}, 1}, {[]reach{{allowed: 2, ahead: 4}, {allowed: 2, ahead: 1}}, 0},
		{[]reach{{allowed: 2, ahead: 1, end: 0}, {allowed: 2, ahead: 1, end: 1}}, 0}, {[]reach{{allowed: 2}, {allowed: 3, ahead: 9}}, 0},
	} {
		if got := leastOf(c.all); got != c.all[c.want] {
			t.Errorf("%+v: %+v", c.all, got)
		}
	}
	// Half of what lies ahead, over the root of three (JCGM 100:2008 4.3.7), beside the points' own.
	near(t, "std", reach{ahead: 3}.std(1), 2, 1e-12)
	near(t, "std", reach{}.std(1.5), 1.5, 0)
	c := reach{seen: 5, allowed: 2, ahead: 3}.clearance("x", 1)
	if c.To != "x" || c.MM != 2 || c.SeenMM != 5 || math.Abs(c.Std-2) > 1e-12 {
		t.Errorf("%+v", c)
	}
}

// Tips: each of the two ends, and every further word, is by eye unless it says how it was found;
// only a crack has tips, and each by eye adds the allowance, with its uncertainty.
func TestTipsByEye(t *testing.T) {
	for _, c := range []struct {
		words string
		ends  [2]bool
		n     int
		text  string
	}{
		{"", [2]bool{true, true}, 2, "tip 1 seen by eye only, may lie 4.0 mm farther on; tip 2 seen by eye only, may lie 4.0 mm farther on"},
		{"penetrant", [2]bool{false, true}, 1, "tip 1 found with penetrant; tip 2 seen by eye only, may lie 4.0 mm farther on"},
		{"visual penetrant", [2]bool{true, false}, 1, "tip 1 seen by eye only, may lie 4.0 mm farther on; tip 2 found with penetrant"},
		{"stop-hole fork", [2]bool{false, false}, 0, "tip 1 ends in a stop hole; tip 2 the fork it branches off at"},
		{"penetrant penetrant visual", [2]bool{false, false}, 1, "tip 1 found with penetrant; tip 2 found with penetrant; tip 3 seen by eye only, may lie 4.0 mm farther on"},
		{"smelt penetrant smelt smelt", [2]bool{true, false}, 3, "tip 1 seen by eye only, may lie 4.0 mm farther on; tip 2 found with penetrant; tip 3 seen by eye only, may lie 4.0 mm farther on; tip 4 seen by eye only, may lie 4.0 mm farther on"},
	} {
		var words []body.TipMethod
		for _, w := range strings.Fields(c.words) {
			words = append(words, body.TipMethod(w))
		}
		ends, n := visualTips(words)
		tr := &trace{in: &job.Finding{Kind: body.Crack}, at: &place{rule: &body.Procedure{TipVisual: 4}}, tips: words}
		if ends != c.ends || n != c.n || tr.tipCount() != c.n || tr.tipsText() != c.text {
			t.Errorf("%q: %v, %d by eye, %q", c.words, ends, n, tr.tipsText())
		}
		tr.in.Kind = body.Dent
		if tr.tipCount() != 0 {
			t.Errorf("a dent has %d tips", tr.tipCount())
		}
	}
	for _, rule := range []*body.Procedure{nil, {TipVisual: -1}, {}} {
		p := &place{rule: rule}
		if l, add := p.withTips(Length{MM: 20, Std: 1}, 2); add != 0 || l != (Length{MM: 20, Std: 1}) || (&trace{at: p}).tipsText() != "tip 1 seen by eye only; tip 2 seen by eye only" {
			t.Errorf("%+v: %+v, %g mm, %q", rule, l, add, (&trace{at: p}).tipsText())
		}
	}
	l, add := (&place{rule: &body.Procedure{TipVisual: 3}}).withTips(Length{MM: 20, Std: 1}, 2)
	if add != 6 || l.MM != 26 {
		t.Errorf("%+v, %g mm", l, add)
	}
	near(t, "std with two tips", l.Std, math.Sqrt(1+2*3), 1e-12) // 3²/3 each
}

// A trace that belongs to no job: what it needs is told, and a slip of the unit; what is just within
// the bounds is measured.
func TestTraceOfNoJob(t *testing.T) {
	s, err := mesh.NewSurface(plate())
	if err != nil {
		t.Fatal(err)
	}
	a, b := geom.Vec{20, 50, 0}, geom.Vec{50, 50, 0}
	for name, c := range map[string]struct {
		in   TraceInput
		want string
	}{
		"two points":           {TraceInput{Points: []geom.Vec{a, b}}, ""},
		"none":                 {TraceInput{}, "two different points"},
		"one":                  {TraceInput{Points: []geom.Vec{a}}, "two different points"},
		"one twice":            {TraceInput{Points: []geom.Vec{a, a}}, "two different points"},
		"two, one twice":       {TraceInput{Points: []geom.Vec{a, a, b, b}}, ""},
		"no number":            {TraceInput{Points: []geom.Vec{a, {math.NaN(), 0, 0}}}, "point 2 is not a number"},
		"no uncertainty":       {TraceInput{Points: []geom.Vec{a, b}, StdMM: math.NaN()}, "not usable"},
		"less than none":       {TraceInput{Points: []geom.Vec{a, b}, StdMM: -0.1}, "not usable"},
		"a metre":              {TraceInput{Points: []geom.Vec{a, b}, StdMM: 1000}, "not usable"},
		"a wall of a metre":    {TraceInput{Points: []geom.Vec{a, b}, WallMM: 1000}, "not usable"},
		"a wall below nothing": {TraceInput{Points: []geom.Vec{a, b}, WallMM: -1}, "not usable"},
		"a mesh of a metre":    {TraceInput{Points: []geom.Vec{a, b}, MeshStdMM: 1000}, "not usable"},
		"off the surface":      {TraceInput{Points: []geom.Vec{a, {50, 50, 90}}}, "point 2 by"},
		"off it, with a wall":  {TraceInput{Points: []geom.Vec{a, {50, 50, 90}}, StdMM: 0.5, WallMM: 5}, "point 2 by"},
		"with a wall":          {TraceInput{Points: []geom.Vec{a, b}, StdMM: 0.5, WallMM: 5}, ""},
		"a wall, exact points": {TraceInput{Points: []geom.Vec{a, b}, WallMM: 5}, ""},
	} {
		c.in.Name = "plate"
		r, notes, err := MeasureTrace(s, c.in)
		if c.want != "" {
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "plate") {
				t.Errorf("%s: %v, want %q", name, err, c.want)
			}
			continue
		}
		if err != nil || len(notes) > 0 && c.in.StdMM == 0 && len(notes) > 1 {
			t.Errorf("%s: %v, %v", name, err, notes)
			continue
		}
		near(t, name+": length", r.Length.MM, 30, 1e-9)
		if len(r.Sites) != 2 || len(r.OffMM) != 2 || r.OffMM[0] > 1e-9 || r.Kept != 2 || math.Abs(r.EndsMM-30) > 1e-9 || math.Abs(r.ExactMM-30) > 1e-9 || !r.ExactProven {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

// Places on the surface are taken as they are, one that repeats the one before it once; the way from
// end to end is no longer than that through all of them.
func TestTraceOfPlaces(t *testing.T) {
	s, err := mesh.NewSurface(plate())
	if err != nil {
		t.Fatal(err)
	}
	var sites []mesh.Site
	for _, p := range []geom.Vec{{20, 50, 0}, {20, 50, 0}, {50, 50, 0}, {50, 90, 0}, {50, 90, 0}, {20, 50, 0}, {50, 50, 0}} {
		x, _ := s.Closest(p)
		sites = append(sites, x)
	}
	r, notes, err := MeasureTrace(s, TraceInput{Name: "plate", Sites: sites})
	if err != nil || len(r.Sites) != 5 || len(r.OffMM) != 5 || len(r.Labels) == 0 {
		t.Fatalf("%v, %+v", err, r)
	}
	near(t, "through all", r.ExactMM, 30+40+50+30, 1e-9)
	near(t, "from end to end", r.EndsMM, 30, 1e-9)
	near(t, "straight", r.ChordMM, 30, 1e-9)
	near(t, "lower", r.LowerMM, 30, 1e-9)
	near(t, "upper", r.UpperMM, 150, 1e-9)
	sum := 0.0
	for _, l := range r.Labels {
		sum += l.LengthMM
	}
	near(t, "all labels", sum, r.Length.MM, 1e-9)
	for _, n := range notes {
		if n.Where != "plate" {
			t.Errorf("%+v", n)
		}
	}
	for _, few := range [][]mesh.Site{sites[:1], sites[:2]} { // one place, or one twice, is no trace
		if _, _, err := MeasureTrace(s, TraceInput{Sites: few}); err == nil {
			t.Errorf("%d places make a trace", len(few))
		}
	}
}

// A way between neighbours jumps when it is longer than three times the straight one and four walls.
func TestWaysThatJump(t *testing.T) {
	tr := &trace{at: &place{Casting: &vehicle.Casting{Of: &body.Casting{Wall: 5}}}}
	for length, want := range map[float64]bool{49.9: false, 50: false, 50.1: true} {
		if got := tr.jumps(mesh.Path{LengthMM: length, ChordMM: 10}); got != want { // 3 x 10 + 4 x 5
			t.Errorf("%g mm for 10 mm jumps: %v", length, got)
		}
	}
}
