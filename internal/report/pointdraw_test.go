package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// corners of a drawn polygon.
func (e *drawn) corners(t *testing.T) [][2]float64 {
	t.Helper()
	var out [][2]float64
	for _, pair := range strings.Fields(e.attr["points"]) {
		x, y, _ := strings.Cut(pair, ",")
		a, err := strconv.ParseFloat(x, 64)
		if err != nil {
			t.Fatal(err)
		}
		b, err := strconv.ParseFloat(y, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, [2]float64{a, b})
	}
	return out
}

// ruler is the scale that the grid of a drawing tells: where a coordinate lies.
type ruler struct{ at, per float64 }

func (r ruler) place(v float64) float64 { return r.at + v*r.per }

// readRuler reads two labels of a grid and holds all others against them; they are a round step apart.
func readRuler(t *testing.T, labels []*drawn, axis string, off float64) ruler {
	t.Helper()
	var at, value []float64
	for _, l := range labels {
		v, err := strconv.ParseFloat(strings.Replace(l.text, "−", "-", 1), 64)
		if err != nil {
			t.Fatalf("a label says %q", l.text)
		}
		at, value = append(at, l.number(t, axis)+off), append(value, v)
	}
	if len(at) < 2 {
		t.Fatalf("%d labels along %s", len(at), axis)
	}
	n := len(at) - 1
	r := ruler{per: (at[n] - at[0]) / (value[n] - value[0])}
	r.at = at[0] - value[0]*r.per
	step := math.Abs(value[1] - value[0])
	for i := range at {
		if math.Abs(at[i]-r.place(value[i])) > 0.2 || i > 0 && math.Abs(math.Abs(value[i]-value[i-1])-step) > 1e-6 {
			t.Fatalf("%v lies at %.1f, want %.1f; the step is %v", value[i], at[i], r.place(value[i]), step)
		}
	}
	if digits := strings.TrimRight(strconv.FormatFloat(step, 'f', -1, 64), "0."); !slices.Contains([]string{"1", "2", "5"}, strings.TrimLeft(digits, "0.")) {
		t.Errorf("the grid steps by %v", step)
	}
	return r
}

// TestPointsLieWhereTheGridSaysSeed12: in the plan and the side view every point lies, by its marker, where the
// labelled grid has its coordinates; its shift ends as many times its size away as is told, with the head
// of the arrow there; its tolerance is as large by the same measure; and every name is there, inside.
func TestPointsLieWhereTheGridSaysSeed12(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 0))
	f := frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}}
	for range 25 {
		var pts []drawnPoint
		for k := range 4 + rng.IntN(5) {
			p := drawnPoint{id: fmt.Sprintf("P%d", k), at: geom.Vec{4000*rng.Float64() - 900, 1600*rng.Float64() - 800, 900 * rng.Float64()}, state: moveState(rng.IntN(4)), reference: rng.IntN(4) == 0}
			p.shift = geom.Vec{rng.NormFloat64() * 6, rng.NormFloat64() * 6, rng.NormFloat64() * 6}
			if rng.IntN(3) == 0 {
				p.tol = geom.Vec{2, 3, 4}
			} else {
				p.tolMM = 2.5
			}
			pts = append(pts, p)
		}
		factor := exaggeration(pts)
		for view, axes := range [2][2]int{{0, 1}, {0, 2}} {
			page := readPage(t, pointsView(standardViews(f)[view], pts, nil, factor))
			var across, along []*drawn
			for _, l := range page.all("text", "axis") {
				switch l.attr["text-anchor"] {
				case "middle":
					across = append(across, l)
				case "end":
					along = append(along, l)
				}
			}
			x, y := readRuler(t, across, "x", 0), readRuler(t, along, "y", -6)
			if math.Abs(math.Abs(x.per)-math.Abs(y.per)) > 0.01*math.Abs(x.per) {
				t.Fatalf("the scales are %v and %v", x.per, y.per)
			}
			at := func(p geom.Vec) [2]float64 { return [2]float64{x.place(p[axes[0]]), y.place(p[axes[1]])} }
			is := func(got, want [2]float64) bool { return math.Hypot(got[0]-want[0], got[1]-want[1]) < 0.6 }
			found := map[moveState][][2]float64{}
			for _, e := range page.all("circle", "stands") {
				found[stands] = append(found[stands], [2]float64{e.number(t, "cx"), e.number(t, "cy")})
			}
			for _, e := range page.all("polygon", "moved") {
				c := e.corners(t)
				found[hasMoved] = append(found[hasMoved], [2]float64{(c[1][0] + c[3][0]) / 2, (c[0][1] + c[2][1]) / 2})
			}
			for _, e := range page.all("rect", "maybe") {
				found[mayHaveMoved] = append(found[mayHaveMoved], [2]float64{e.number(t, "x") + 9, e.number(t, "y") + 9})
			}
			for i, e := range page.all("line", "missing") {
				if i%2 == 0 {
					found[unmeasured] = append(found[unmeasured], [2]float64{e.number(t, "x1") + 7, e.number(t, "y1") + 7})
				}
			}
			var heads, circles, boxes, ticks [][2]float64
			for _, e := range page.all("polygon", "head") {
				heads = append(heads, e.corners(t)[0])
			}
			for _, e := range page.all("circle", "tol") {
				circles = append(circles, [2]float64{e.number(t, "cx"), e.number(t, "cy")})
				if want := 2.5 * factor * math.Abs(x.per); math.Abs(e.number(t, "r")-want) > 0.01*want+0.2 {
					t.Fatalf("a tolerance is drawn as %v, want %.1f", e.attr["r"], want)
				}
			}
			for _, e := range page.all("rect", "tol") {
				w, h := e.number(t, "width"), e.number(t, "height")
				boxes = append(boxes, [2]float64{e.number(t, "x") + w/2, e.number(t, "y") + h/2})
				if k := 2 * factor * math.Abs(x.per); math.Abs(w-2*k) > 0.01*w+0.2 || math.Abs(h-float64([3]int{2, 3, 4}[axes[1]])*k) > 0.01*h+0.2 {
					t.Fatalf("a tolerance is drawn as %v by %v", w, h)
				}
			}
			for i, e := range page.all("line", "ref") {
				if i%4 == 0 {
					ticks = append(ticks, [2]float64{e.number(t, "x1") - 9, e.number(t, "y1")})
				}
			}
			take := func(what string, from *[][2]float64, want [2]float64) {
				k := slices.IndexFunc(*from, func(q [2]float64) bool { return is(q, want) })
				if k < 0 {
					t.Fatalf("no %s at %.1f among %.1f", what, want, *from)
				}
				*from = slices.Delete(*from, k, k+1)
			}
			for _, p := range pts {
				list := found[p.state]
				take("marker of "+p.id, &list, at(p.at))
				found[p.state] = list
				if p.tolMM > 0 {
					take("circle of "+p.id, &circles, at(p.at))
				} else {
					take("box of "+p.id, &boxes, at(p.at))
				}
				if p.reference {
					take("ticks of "+p.id, &ticks, at(p.at))
				}
				end := at(p.at.Add(p.shift.Scale(factor)))
				if from := at(p.at); p.state != unmeasured && math.Hypot(end[0]-from[0], end[1]-from[1]) > 4.5 {
					take("arrow of "+p.id, &heads, end)
				} else if k := slices.IndexFunc(heads, func(q [2]float64) bool { return is(q, end) }); k >= 0 && p.state != unmeasured {
					heads = slices.Delete(heads, k, k+1) // as short as that it may be drawn or not
				}
			}
			if n := len(circles) + len(boxes) + len(ticks) + len(heads); n > 0 {
				t.Fatalf("%d tolerances, ticks or arrows too many: %v %v %v %v", n, circles, boxes, ticks, heads)
			}
			names := strings.Join(textOf(page.all("text", "name")), ", ")
			for _, p := range pts {
				if !slices.Contains(strings.Split(names, ", "), p.id) {
					t.Errorf("%s is not named: %s", p.id, names)
				}
			}
		}
	}
}

// The factor of shifts is 1, 2 or 5 times a power of ten and makes the largest shift or tolerance about a tenth of
// the vehicle, and never less than its size; without a shift, or of one point alone, it is 1.
func TestExaggeration(t *testing.T) {
	two := func(shift, tol float64) []drawnPoint {
		return []drawnPoint{{at: geom.Vec{0, 0, 0}, shift: geom.Vec{shift, 0, 0}}, {at: geom.Vec{3000, 0, 0}, tolMM: tol}}
	}
	for i, c := range []struct {
		pts []drawnPoint
		lo  float64
		hi  float64
	}{{two(0, 0), 1, 1}, {two(5, 0)[:1], 1, 1}, {nil, 1, 1}, {two(400, 0), 1, 1}, {two(300, 0), 1, 1}, {two(3, 0), 50, 100}, {two(3, 30), 5, 10}, {two(0.03, 0), 5000, 10000}} {
		got := exaggeration(c.pts)
		if head := fmt.Sprint(got)[0]; got < c.lo || got > c.hi || !strings.ContainsRune("125", rune(head)) {
			t.Errorf("row %d: %v, want %v to %v", i+1, got, c.lo, c.hi)
		}
	}
}

// TestViewOfALineByDefinitionSeed13: the view that shows most of a line, as a share of the most that any does, and
// of the marks; one that shows none of it only where none does; the earlier of equals.
func TestViewOfALineByDefinitionSeed13(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 0))
	for range 2000 {
		line, marks := make([]float64, 6), make([]float64, 6)
		for i := range line {
			line[i], marks[i] = []float64{0, 0, 0.25, 0.5, 1, 2}[rng.IntN(6)], []float64{0, 0.25, 0.5, 1}[rng.IntN(4)]
		}
		want := 0
		longest := slices.Max(line)
		better := func(i, j int) bool { // i than j
			score := func(k int) float64 {
				if line[k] == 0 {
					return marks[k]
				}
				return 1 + line[k]/longest + marks[k]
			}
			return score(i) > score(j)
		}
		for i := range line {
			if better(i, want) {
				want = i
			}
		}
		if got := mostOfBoth(line, marks); got != want {
			t.Fatalf("of %v and %v: %d, want %d", line, marks, got, want)
		}
	}
	// a line round the sides of a box is seen from them, best from the long one
	m := &mesh.Mesh{}
	addBox(m, geom.Vec{0, 0, 0}, geom.Vec{400, 200, 100}, 50)
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	f := frame{rear: geom.Vec{1, 0, 0}, right: geom.Vec{0, 1, 0}, up: geom.Vec{0, 0, 1}}
	loop := []geom.Vec{{0, 0, 50}, {400, 0, 50}, {400, 200, 50}, {0, 200, 50}, {0, 0, 50}}
	p := castingPicture{surface: s, frame: f, lines: []lineMark{{"S-9", [][]geom.Vec{loop}}}, album: &vehicle.Album{}}
	if v := p.lineView(); !strings.Contains(v.Name, "from the left side") && !strings.Contains(v.Name, "from the right side") {
		t.Errorf("a line round the sides is shown %s", v.Name)
	}
}
