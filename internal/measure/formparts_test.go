package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// What a motion changes the lengths by, squared and summed: reckoned from each length alone.
func TestDirectionsSumTheChangesOfLengths(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	vec := func() geom.Vec { return geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
	at := []geom.Vec{vec(), vec(), vec(), vec()}
	lengths := [][2]int{{0, 1}, {1, 2}, {3, 0}, {2, 3}}
	d := directions(at, lengths)
	for range 20 {
		move := []geom.Vec{vec(), vec(), vec(), vec()}
		want, got := 0.0, 0.0
		for _, l := range lengths {
			u := at[l[1]].Sub(at[l[0]])
			c := u.Dot(move[l[1]].Sub(move[l[0]])) / u.Norm()
			want += c * c
		}
		for i := range d {
			for j := range d {
				got += d[i][j] * move[i/3][i%3] * move[j/3][j%3]
			}
		}
		if math.Abs(got-want) > 1e-12*want {
			t.Fatalf("%v, want %v", got, want)
		}
	}
}

func TestTrianglesAndSubsetsByHand(t *testing.T) {
	got := triangles(6, [][2]int{{0, 1}, {0, 2}, {1, 2}, {1, 3}, {2, 3}, {3, 4}, {0, 4}, {3, 5}, {4, 5}})
	if !slices.Equal(got, [][3]int{{0, 1, 2}, {1, 2, 3}, {3, 4, 5}}) {
		t.Errorf("%v", got)
	}
	if !subset([]int{2, 5}, []int{5, 1, 2}) || subset([]int{2, 6}, []int{5, 1, 2}) || !subset(nil, nil) || subset([]int{0}, nil) {
		t.Error("what is in a set and what is not")
	}
}

// Points that go with a triangle: those that the rigid motion of it carries along to within a
// millionth. A triangle that is bent itself carries none, nor one that is a line.
func TestPointsHeldByATriangle(t *testing.T) {
	at := []geom.Vec{{0, 0, 0}, {2, 0, 0}, {0, 2, 0}, {3, 1, 5}, {-1, 4, 2}, {4, 0, 0}}
	rigid := func(turn, shift geom.Vec) []float64 {
		var m []float64
		for _, x := range at {
			v := turn.Cross(x).Add(shift)
			m = append(m, v[:]...)
		}
		return m
	}
	whole := rigid(geom.Vec{0.3, -0.2, 0.5}, geom.Vec{0.1, 0.7, -0.4})
	off := func(i int, by float64) []float64 {
		m := rigid(geom.Vec{0.1, 0.4, -0.3}, geom.Vec{-0.2, 0, 0.6})
		m[3*i+2] += by
		return m
	}
	for _, c := range []struct {
		name    string
		motions [][]float64
		t       [3]int
		want    []int
	}{
		{"no motion", nil, [3]int{0, 1, 2}, []int{0, 1, 2, 3, 4, 5}},
		{"as one", [][]float64{whole}, [3]int{0, 1, 2}, []int{0, 1, 2, 3, 4, 5}},
		{"as one, by another triangle", [][]float64{whole}, [3]int{1, 3, 4}, []int{0, 1, 2, 3, 4, 5}},
		{"one goes alone", [][]float64{whole, off(4, 0.1)}, [3]int{0, 1, 2}, []int{0, 1, 2, 3, 5}},
		{"two go, each in its motion", [][]float64{off(3, 0.1), off(4, -0.1)}, [3]int{0, 1, 2}, []int{0, 1, 2, 5}},
		{"by two millionths", [][]float64{off(4, 2e-6)}, [3]int{0, 1, 2}, []int{0, 1, 2, 3, 5}},
		{"by half a millionth", [][]float64{off(4, 0.5e-6)}, [3]int{0, 1, 2}, []int{0, 1, 2, 3, 4, 5}},
		{"a line", [][]float64{whole}, [3]int{0, 1, 5}, nil},
	} {
		if got := held(at, c.motions, c.t); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	bent := whole
	bent[3] += 0.5 // the second corner goes along the side
	if got := held(at, [][]float64{bent}, [3]int{0, 1, 2}); got != nil {
		t.Errorf("a triangle that is bent holds %v", got)
	}
}

// (3 u)^2 over twice the length and the uncertainty of it; at 1 it is held. By hand: with u = 1,
// a length of 9 and 0.5 it is 1, with 0.25 it is 2, and with u = 2 and 0.5 it is 4.
func TestLoosestPointByHand(t *testing.T) {
	one, two := geom.Isotropic(1), geom.Mat3{{1, 0, 0}, {0, 0.5, 0}, {0, 0, 4}}
	length := func(a, b int, std float64) geom.NetObs { return geom.NetObs{A: a, B: b, Std: std} }
	for _, c := range []struct {
		name string
		cov  []geom.Mat3
		obs  []geom.NetObs
		want int
		u    float64
	}{
		{"all held, at the limit", []geom.Mat3{one, one, one}, []geom.NetObs{length(0, 1, 0.5), length(1, 2, 0.5)}, none, 0},
		{"its first end", []geom.Mat3{two, {}, {}}, []geom.NetObs{length(0, 1, 0.5), length(1, 2, 0.5)}, 0, 2},
		{"its second end", []geom.Mat3{{}, {}, one}, []geom.NetObs{length(0, 1, 0.5), length(1, 2, 0.25)}, 2, 1},
		{"no length of its own", []geom.Mat3{{}, {}, two}, []geom.NetObs{length(0, 1, 0.25)}, none, 0},
		{"the worse of two", []geom.Mat3{one, {}, two}, []geom.NetObs{length(0, 1, 0.25), length(1, 2, 0.5)}, 2, 2},
		{"the worse of two, turned", []geom.Mat3{two, {}, one}, []geom.NetObs{length(0, 1, 0.5), length(1, 2, 0.25)}, 0, 2},
		{"the first of equals", []geom.Mat3{one, one, {}}, []geom.NetObs{length(0, 1, 0.25)}, 0, 1},
	} {
		e := &epoch{points: []int{4, 5, 6}, at: []geom.Vec{{0, 0, 0}, {9, 0, 0}, {9, 9, 0}}, cov: c.cov}
		if got, u := loosest(e, c.obs); got != c.want || u != c.u {
			t.Errorf("%s: %d by %v, want %d by %v", c.name, got, u, c.want, c.u)
		}
	}
}

// Parts that hang together only by the points 1, 3 and 5: all but the largest, the first of equals.
func TestSmallerPartsByHand(t *testing.T) {
	cut := [3]int{1, 3, 5}
	through := [][2]int{{0, 1}, {1, 4}, {3, 7}, {3, 8}, {5, 6}, {5, 9}}
	for _, c := range []struct {
		name  string
		pairs [][2]int
		want  []int
	}{
		{"five and two", [][2]int{{0, 2}, {2, 4}, {4, 6}, {0, 7}, {8, 9}}, []int{8, 9}},
		{"two and five", [][2]int{{0, 2}, {4, 6}, {6, 7}, {7, 8}, {4, 9}}, []int{0, 2}},
		{"all together", [][2]int{{0, 2}, {2, 4}, {4, 6}, {6, 7}, {7, 8}, {0, 9}}, nil},
		{"three, two, two", [][2]int{{0, 2}, {4, 6}, {6, 7}, {8, 9}}, []int{0, 2, 8, 9}},
		{"one alone", [][2]int{{0, 2}, {2, 4}, {4, 6}, {6, 8}, {8, 9}}, []int{7}},
	} {
		if got := smallerPart(10, append(through, c.pairs...), cut); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if got := smallerPart(7, [][2]int{{0, 2}, {4, 6}}, cut); !slices.Equal(got, []int{4, 6}) {
		t.Errorf("of equals: %v", got)
	}
}

// Every second corner of a box a by a by c: at a corner the edges meet at angles with cosines w, w
// and 1 - 2 w^2, and w = a / sqrt(2 (a^2 + c^2)). The products of the directions of the six lengths
// then have the eigenvalues 4 w^2, 2 - 4 w^2, 2, 2, 2 and 4 (worked by hand, by the symmetry of the box):
// with c^2 = 7 a^2 the smallest is 1/4. What is told of heights, and the order of what is left, beside it.
func TestFormOfATetrahedron(t *testing.T) {
	c := 1000 * math.Sqrt(7)
	at := []geom.Vec{{0, 0, 0}, {1000, 1000, 0}, {1000, 0, c}, {0, 1000, c}}
	in := tapedBetween(at, at, 0.3, func(i, j int) bool { return true })
	in.Readings = append(in.Readings, spanReading("T", "height", "A", "B", 1, 0.3), spanReading("T", "height", "C", "A", 2, 0.3), in.Readings[0])
	p := prepare(in)
	p.form = &Form{Left: []Unheld{{"D", "x"}, {"B", "y"}, {"C", "z"}}}
	e := &epoch{points: []int{0, 1, 2, 3}, slot: []int{0, 1, 2, 3}, at: at}
	p.notes = nil
	p.describeForm(e)
	if f := p.form; f.Points != 4 || f.Lengths != 6 || f.Unknowns != 6 || f.Rank != 6 || f.Least != 0.5 || f.Left[0].ID != "B" || f.Left[2].ID != "D" {
		t.Errorf("%+v", f)
	}
	if len(p.notes) != 1 || p.notes[0].Text != "2 heights take no part in the form: without coordinates nothing tells how level the device stood" {
		t.Errorf("%+v", p.notes)
	}
	// a length less, and one unknown is not determined: no least is told
	in.Readings = in.Readings[1:6]
	p = prepare(in)
	p.form, p.notes = &Form{}, nil
	p.describeForm(e)
	if f := p.form; f.Lengths != 5 || f.Unknowns != 6 || f.Rank != 5 || f.Least != 0 || len(p.notes) > 0 {
		t.Errorf("%+v %+v", f, p.notes)
	}
	p.form = &Form{}
	p.describeForm(&epoch{slot: []int{none, none, none, none}})
	if f := p.form; f.Points+f.Lengths+f.Unknowns+f.Rank != 0 || f.Least != 0 {
		t.Errorf("of nothing: %+v", f)
	}
}

// Two bodies of five points each, no length between them: the one with the first point is kept.
// In one plane no four points are held.
func TestWhatIsLeftOfEqualGroups(t *testing.T) {
	five := []geom.Vec{{0, -600, 0}, {0, 600, 50}, {1500, -600, 100}, {1400, 640, 0}, {700, 0, 900}}
	at := slices.Clone(five)
	for _, v := range five {
		at = append(at, v.Add(geom.Vec{3000, 10, 20}))
	}
	r, _ := Run(tapedBetween(at, at, 0.3, func(i, j int) bool { return i/5 == j/5 }))
	want := []Unheld{}
	for _, id := range []body.PointID{"F", "G", "H", "I", "J"} {
		want = append(want, Unheld{id, "the lengths leave it free to move against the others"})
	}
	if !slices.Equal(r.Form.Left, want) || r.Form.Points != 5 {
		t.Errorf("%+v", r.Form)
	}
	for i := range five {
		five[i][2] = 0
	}
	r, _ = Run(tapedBetween(five, five, 0.3, func(i, j int) bool { return true }))
	if len(r.Form.Left) != 5 {
		t.Errorf("%+v", r.Form)
	}
	for _, l := range r.Form.Left {
		if l.Because != "the lengths hold no four points against one another" {
			t.Errorf("%+v", l)
		}
	}
}

// A group of two behind the points A, B and C, mirrored in their plane: it alone where the rest is
// more than twice as large, and all others too where it is not. The distance is that of the farthest.
func TestFoldsOfGroupsByHand(t *testing.T) {
	at := []geom.Vec{{0, -600, 0}, {100, 600, 0}, {1500, -500, 0}, {800, -100, -350}, {300, 200, -250},
		{1500, 640, 200}, {700, 0, 900}, {200, -400, 500}, {1200, 300, 700}, {400, 500, 600}}
	for n, want := range map[int]string{9: "DEFGHI", 10: "DE"} {
		group := func(i int) bool { return i == 3 || i == 4 }
		r, _ := Run(tapedBetween(at[:n], at[:n], 0.3, func(i, j int) bool { return i < 3 || j < 3 || group(i) == group(j) }))
		var got []string
		for _, f := range r.Form.Folds {
			var ids []string
			for _, id := range f.Points {
				ids = append(ids, string(id))
			}
			if len(ids) == 1 { // its partner goes with it
				continue
			}
			got = append(got, strings.Join(ids, ""))
			if math.Abs(f.ByMM-700) > 0.01 {
				t.Errorf("%d points: %+v, want by 700", n, f)
			}
		}
		if !slices.Equal(got, []string{want}) {
			t.Errorf("%d points: %v, want %s", n, got, want)
		}
	}
}
