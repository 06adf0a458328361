package measure

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// heldAgainst is lengths between points P01 … with how far each is off, one of 3 or more differing.
func heldAgainst(n int, off map[[2]int]float64) *against {
	p := prepare(Input{Points: newCar(n, 1).measure(1).Points})
	a := &against{p: p, most: 3}
	for i := range n {
		for j := i + 1; j < n; j++ {
			if w, read := off[[2]int{i, j}]; read {
				a.spans, a.w = append(a.spans, &span{kind: job.ReadLength, from: j, to: i}), append(a.w, w)
			}
		}
	}
	return a
}

// The size that one sound length of n passes once in a thousand stages: of the standard normal
// distribution 3.2905 beyond 0.05 % each side (table), 3.8906 beyond 0.005 %.
func TestLengthsAgainstPublishedByHand(t *testing.T) {
	c := newCar(6, 1)
	in := Input{Points: c.measure(1).Points}
	for i := range in.Points {
		in.Points[i].Std.Known, in.Points[i].Std.Value = true, 0.3*float64(i)
	}
	in.Readings = append(in.Readings, spanReading("T", "length", "P02", "P04", c.at[1].Dist(c.at[3])+2, 0.5), spanReading("T", "height", "P02", "P04", 900, 0.5))
	p := prepare(in)
	a := p.against()
	// u^2 = 0.25 + 0.09 + 0.81
	if len(a.w) != 1 || math.Abs(a.w[0]-2/math.Sqrt(1.15)) > 1e-9 || math.Abs(a.most-3.2905) > 1e-4 {
		t.Errorf("%+v", a)
	}
	for i := range 9 {
		in.Readings = append(in.Readings, spanReading("T", "length", "P01", in.Points[1+i%5].ID, 900+float64(i), 0.5))
	}
	p = prepare(in)
	if a := p.against(); math.Abs(a.most-3.8906) > 1e-4 || len(a.w) != 10 {
		t.Errorf("of ten: %v", a.most)
	}
	empty := prepare(Input{})
	if a := empty.against(); a.most != 0 {
		t.Errorf("of none: %v", a.most)
	}
}

// A length differs beyond the limit, not at it; many that do not differ may be too far off together:
// chi-square beyond 0.001 for 3 values is 16.27 (table).
func TestLengthsAgreeUpToTheirLimits(t *testing.T) {
	a := heldAgainst(4, map[[2]int]float64{{0, 1}: 3, {1, 2}: -3, {2, 3}: 0})
	a.most = 3
	if a.differs(0) || a.differs(1) {
		t.Error("at the limit it does not differ")
	}
	if a.agree(nil, none) { // 18 of three
		t.Error("together too far off")
	}
	for _, x := range []struct {
		apart []int
		but   int
		want  bool
	}{{[]int{0}, none, true}, {[]int{2}, none, true}, {[]int{3}, none, false}, {nil, 0, true}, {nil, 1, true}, {nil, 2, false}, {[]int{0, 1, 2}, none, true}} {
		if got := a.agree(x.apart, x.but); got != x.want {
			t.Errorf("without %v and reading %d: %v", x.apart, x.but, got)
		}
	}
	a.w[0] = -3.01
	if !a.differs(0) || a.agree([]int{2}, none) || !a.agree([]int{0}, none) {
		t.Error("one that differs by itself")
	}
}

// What is said where no few points explain it, by hand: two groups with lengths that differ only
// between them; else the points in the order of the share of their lengths that differ.
func TestUnexplainedByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		off    map[[2]int]float64
		tried  int
		points []body.PointID
		text   string
	}{
		{"groups", map[[2]int]float64{{0, 1}: 0, {0, 2}: 5, {1, 2}: -5, {0, 3}: 4, {2, 3}: 1, {3, 4}: 2}, 3, []body.PointID{"P01", "P02", "P03", "P04"},
			"3 of 6 lengths differ, and no set of up to 3 points explains that: only lengths between two groups of points do (P01, P02; P03, P04), which do not say which of them went"},
		{"odd round", map[[2]int]float64{{0, 1}: 4, {0, 2}: 5, {1, 2}: -5, {0, 3}: 1, {1, 3}: 1, {1, 4}: 1, {3, 4}: 1}, 2, []body.PointID{"P03", "P01", "P02"},
			"3 of 7 lengths differ, and no set of up to 2 points explains that; most differ at P03 (2 of 2), P01 (2 of 3), P02 (2 of 4)"},
		{"two apart, not tried", map[[2]int]float64{{0, 1}: 4, {2, 3}: 5, {0, 2}: 1}, 0, []body.PointID{"P02", "P04", "P01", "P03"},
			"2 of 3 lengths differ; most differ at P02 (1 of 1), P04 (1 of 1), P01 (1 of 2), P03 (1 of 2)"},
		{"none by itself", map[[2]int]float64{{0, 1}: 2.9, {2, 3}: 2.9}, 3, []body.PointID{},
			"no length differs by itself, but together they are further off the published places than chance allows"},
	} {
		a := heldAgainst(5, c.off)
		a.tried = c.tried
		if points, text := a.unexplained(); !slices.Equal(points, c.points) || text != c.text {
			t.Errorf("%s: %v %q", c.name, points, text)
		}
	}
	all := map[[2]int]float64{}
	for i := range 7 {
		for j := range i {
			all[[2]int{j, i}] = 9
		}
	}
	if points, text := heldAgainst(7, all).unexplained(); len(points) != 7 || text != "21 of 21 lengths differ; most differ at P01 (6 of 6), P02 (6 of 6), P03 (6 of 6), P04 (6 of 6), P05 (6 of 6), P06 (6 of 6)" {
		t.Errorf("%v %q", points, text)
	}
}

// The smallest sets by hand: all of one, else all of two, else all of three points.
func TestSmallestSetsByHand(t *testing.T) {
	for _, c := range []struct {
		name  string
		off   map[[2]int]float64
		want  [][]int
		tried int
	}{
		{"one", map[[2]int]float64{{0, 2}: 9, {1, 2}: 9, {0, 1}: 0}, [][]int{{2}}, 1},
		{"either end", map[[2]int]float64{{1, 3}: 9, {0, 1}: 0}, [][]int{{1}, {3}}, 1},
		{"two", map[[2]int]float64{{0, 1}: 9, {2, 3}: 9, {0, 2}: 0, {0, 3}: 9}, [][]int{{0, 2}, {0, 3}, {1, 3}}, 2},
		{"three", map[[2]int]float64{{0, 1}: 9, {0, 2}: 9, {1, 2}: 9, {3, 4}: 9}, [][]int{{0, 1, 3}, {0, 1, 4}, {0, 2, 3}, {0, 2, 4}, {1, 2, 3}, {1, 2, 4}}, 3},
	} {
		a := heldAgainst(5, c.off)
		if got := a.smallest(); !slices.EqualFunc(got, c.want, slices.Equal) || a.tried != c.tried {
			t.Errorf("%s: %v after %d, want %v", c.name, got, a.tried, c.want)
		}
	}
	all := map[[2]int]float64{}
	for i := range 6 {
		for j := range i {
			all[[2]int{j, i}] = 9
		}
	}
	if a := heldAgainst(6, all); len(a.smallest()) > 0 || a.tried != 3 {
		t.Errorf("four of six that must go are more than are tried: %d", a.tried)
	}
}

func TestCountsOfLengthsAtOnePoint(t *testing.T) {
	a := heldAgainst(4, map[[2]int]float64{{0, 1}: 9, {0, 2}: 1, {0, 3}: -9, {1, 2}: 0})
	for want, sets := range map[string][][]int{
		"2 of 3 lengths to it differ, all others agree with the published places":                                     {{0}},
		"the 2 lengths to it together are further off than chance allows, all others agree with the published places": {{2}},
		"all lengths that go to none of them agree with the published places; the lengths do not say which":           {{0}, {2}},
	} {
		if got := a.count(sets); got != want {
			t.Errorf("%v: %q", sets, got)
		}
	}
	for want, ways := range map[string][]string{
		"a":                         {"a"},
		"either a or b":             {"a", "b"},
		"either a, b or c":          {"a", "b", "c"},
		"either a, b, c, d, e or f": {"a", "b", "c", "d", "e", "f"},
		"either a, b, c, d, e or f (or one of 2 more ways)": {"a", "b", "c", "d", "e", "f", "g", "h"},
	} {
		if got := anyOf(ways); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := together(2, 3, 6); got != 7 {
		t.Errorf("2, 3 and 6 together: %v", got)
	}
}
