package measure

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

func plannerOf(most int, at ...geom.Vec) *planner {
	in := Input{}
	for i, v := range at {
		in.Points = append(in.Points, radialPoint(string(rune('A'+i)), v, float64(i)))
	}
	return &planner{p: prepare(in), in: in, std: 1, most: most, had: map[[2]int]int{}, cov: map[int]geom.Mat3{}, decided: map[int]bool{}}
}

// Off a point, a line and a plane; 50 mm is enough.
func TestFarOffALineOrPlaneByHand(t *testing.T) {
	g := plannerOf(9, geom.Vec{0, 0, 0}, geom.Vec{100, 0, 0}, geom.Vec{0, 80, 0}, geom.Vec{30, 30, 50}, geom.Vec{30, 30, 49}, geom.Vec{0, 0, -60}, geom.Vec{48, 0, 0}, geom.Vec{7, -50, 0})
	for _, c := range []struct {
		set  []int
		i    int
		want float64
	}{{[]int{0}, 1, 100}, {[]int{1}, 0, 100}, {[]int{0}, 6, 0}, {[]int{0, 1}, 2, 80}, {[]int{0, 1}, 7, 50}, {[]int{0, 1}, 6, 0}, {[]int{0, 1, 2}, 3, 50}, {[]int{0, 1, 2}, 4, 0}, {[]int{0, 1, 2}, 5, 60}, {[]int{2, 0, 7}, 5, 60}} {
		if got := g.outside(c.set, c.i); got != c.want {
			t.Errorf("%d off %v: %v, want %v", c.i, c.set, got, c.want)
		}
	}
}

// What can be read: not what was, nor a point to itself, nor beyond the gauge.
func TestLengthsThatCanBeRead(t *testing.T) {
	g := plannerOf(9, geom.Vec{0, 0, 0}, geom.Vec{300, 400, 0}, geom.Vec{0, 0, 600})
	if !g.free(0, 1) || !g.free(2, 0) || g.free(1, 1) {
		t.Error("any length can be read, and no point has one to itself")
	}
	for longest, want := range map[float64]bool{500: true, 499: false} {
		if g.longest = longest; g.free(1, 0) != want {
			t.Errorf("500 mm with a gauge of %v: %v", longest, !want)
		}
	}
	g.longest = 500
	if g.inReach([]int{0, 1}, 2) || !g.inReach([]int{0}, 1) {
		t.Error("600 mm are beyond the gauge")
	}
	g.had[[2]int{0, 1}] = 1
	g.had[[2]int{0, 2}], g.had[[2]int{1, 2}] = 1, 1
	if g.free(1, 0) || !g.inReach([]int{0, 1}, 2) {
		t.Error("what was read is had")
	}
	value := func(j int) float64 { return []float64{2, 5, 5, 1}[j] }
	if got := bestIn([]int{0, 2, 1, 3}, value); got != 1 {
		t.Errorf("the first of the largest: %d", got)
	}
}

// A length along 0.6, 0.8 to a point known by 3, with a gauge of 1: variance 1 + 9; of a point known
// by 5 along the first axis alone it would tell 0.36 times 25 over that.
func TestWhatALengthTells(t *testing.T) {
	g := plannerOf(9, geom.Vec{0, 0, 0}, geom.Vec{300, 400, 0})
	g.cov[1] = geom.Mat3{{25, 0, 0}, {0, 0, 0}, {0, 0, 7}} // 9 along the length
	near(t, "gain", g.gain(0, 1, geom.Mat3{{25, 0, 0}, {0, 0, 0}, {0, 0, 9}}), 0.9, 1e-12)
	got := g.informs(0, 1)
	for i, row := range [3][3]float64{{0.036, 0.048, 0}, {0.048, 0.064, 0}, {0, 0, 0}} {
		for j, want := range row {
			near(t, "information", got[i][j], want, 1e-12)
		}
	}
}

// A page is full when it is; a limit stands where both ends have a tolerance; what is planned is had.
// What contradicts itself or others is planned once for each length that was read.
func TestRowsOfAPlan(t *testing.T) {
	g := plannerOf(3, geom.Vec{0, 0, 0}, geom.Vec{300, 400, 0}, geom.Vec{300, 0, 0}, geom.Vec{0, 0, 900}) // tolerances 0, 1, 2, 3
	g.add(2, 1, "C", NextPlace)
	g.add(0, 1, "", NextCheck)
	want := []NextLength{{From: "C", To: "B", NominalMM: 400, Limit: LengthLimit{LowMM: 397, HighMM: 403}, For: "C", Why: NextPlace}, {From: "A", To: "B", NominalMM: 500, Why: NextCheck}}
	if !slices.Equal(g.rows, want) || g.had[[2]int{1, 2}] != 1 || g.had[[2]int{0, 1}] != 1 {
		t.Errorf("%+v %v", g.rows, g.had)
	}
	g.add(0, 2, "", NextCheck)
	g.add(0, 3, "", NextCheck)
	if len(g.rows) != 3 || g.had[[2]int{0, 3}] != 0 {
		t.Errorf("%d rows on a page of 3", len(g.rows))
	}
	g = plannerOf(9, geom.Vec{0, 0, 0}, geom.Vec{300, 400, 0}, geom.Vec{300, 0, 0}, geom.Vec{0, 0, 900})
	g.had[[2]int{0, 1}], g.had[[2]int{1, 2}], g.had[[2]int{2, 3}] = 2, 1, 1
	g.again(Result{Disagree: []Disagreement{{Kind: DisagreePublished, Points: []body.PointID{"C", "D"}}, {Kind: DisagreeTriangle, Points: []body.PointID{"C", "A", "B"}}, {Kind: DisagreeRepeat, Points: []body.PointID{"A", "B"}}}})
	var got []string
	for _, n := range g.rows {
		got = append(got, string(n.From+n.To)+" "+string(n.Why))
	}
	if !slices.Equal(got, []string{"CB again", "AB again"}) {
		t.Errorf("%v", got)
	}
}
