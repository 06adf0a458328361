package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// Expected: closed forms on the unit cube. x+y+z = 1.5 gives a regular hexagon
// of side 1/sqrt 2.
func TestCutOfCube(t *testing.T) {
	for _, c := range []struct {
		name    string
		n       geom.Vec
		d       float64
		length  float64
		loops   int
		crossed int
		area    [2]float64
		volume  [2]float64
	}{
		{"hexagon", geom.Vec{1, 1, 1}, 1.5, 3 * math.Sqrt2, 1, -1, [2]float64{3, 3}, [2]float64{0.5, 0.5}},
		{"hexagon, normal twice as long", geom.Vec{2, 2, 2}, 3, 3 * math.Sqrt2, 1, -1, [2]float64{3, 3}, [2]float64{0.5, 0.5}},
		{"across", geom.Vec{0, 0, 1}, 0.25, 4, 1, 8, [2]float64{2, 4}, [2]float64{0.25, 0.75}},
		{"a corner off", geom.Vec{1, 1, 1}, 0.5, 1.5 * math.Sqrt2, 1, -1, [2]float64{3.0 / 8, 6 - 3.0/8}, [2]float64{1.0 / 48, 47.0 / 48}},
		{"through four points", geom.Vec{1, -1, 0}, 0, 2 + 2*math.Sqrt2, 1, -1, [2]float64{3, 3}, [2]float64{0.5, 0.5}},
		{"through three points", geom.Vec{1, 1, 1}, 1, 3 * math.Sqrt2, 1, -1, [2]float64{1.5, 4.5}, [2]float64{1.0 / 6, 5.0 / 6}},
		{"in the upper side", geom.Vec{0, 0, 1}, 1, 4, 1, 8, [2]float64{5, 1}, [2]float64{1, 0}},
		{"in the lower side", geom.Vec{0, 0, 1}, 0, 0, 0, 0, [2]float64{0, 6}, [2]float64{0, 1}},
		{"touching a corner from outside", geom.Vec{1, 1, 1}, 3, 0, 0, -1, [2]float64{6, 0}, [2]float64{1, 0}},
		{"missing", geom.Vec{1, 0, 0}, 7, 0, 0, 0, [2]float64{6, 0}, [2]float64{1, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := boxMesh(1, 1, 1).Cut(c.n, c.d)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.LengthMM-c.length) > 1e-12 || len(got.Loops) != c.loops || got.Closed != (c.loops > 0) {
				t.Errorf("length %.12g in %d loops (closed %t), want %.12g in %d", got.LengthMM, len(got.Loops), got.Closed, c.length, c.loops)
			}
			if c.crossed >= 0 && got.FacesCrossed != c.crossed {
				t.Errorf("%d faces crossed, want %d", got.FacesCrossed, c.crossed)
			}
			for i, s := range got.Sides {
				if math.Abs(s.AreaMM2-c.area[i]) > 1e-12 || math.Abs(s.VolumeMM3-c.volume[i]) > 1e-12 {
					t.Errorf("side %d: %+v, want area %g, volume %g", i, s, c.area[i], c.volume[i])
				}
			}
			if math.Abs(got.Normal.Norm()-1) > 1e-15 || math.Abs(got.OffsetMM-c.d/c.n.Norm()) > 1e-15 {
				t.Errorf("plane %v %g", got.Normal, got.OffsetMM)
			}
		})
	}
	for _, n := range []geom.Vec{{}, {math.NaN(), 0, 0}, {math.Inf(1), 0, 0}} {
		if _, err := boxMesh(1, 1, 1).Cut(n, 0); err == nil {
			t.Errorf("normal %v was accepted", n)
		}
	}
}

// The sides sum to the whole, every loop lies in the plane, and the volume on a
// side is that of the mesh closed by the flat loops: for a torus cut anywhere.
func TestCutSumsToWhole(t *testing.T) {
	for seed := range uint64(10) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			m := bumpyTorus(50, 30, seed)
			r := rand.New(rand.NewPCG(seed, 4))
			n := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
			d := n.Dot(m.Points[r.IntN(len(m.Points))]) // exactly through a point
			c, err := m.Cut(n, d)
			if err != nil {
				t.Fatal(err)
			}
			if area := c.Sides[0].AreaMM2 + c.Sides[1].AreaMM2; math.Abs(area-m.AreaMM2()) > 1e-9*area {
				t.Errorf("areas sum to %g of %g", area, m.AreaMM2())
			}
			if v := c.Sides[0].VolumeMM3 + c.Sides[1].VolumeMM3; math.Abs(v-m.VolumeMM3()) > 1e-9*v {
				t.Errorf("volumes sum to %g of %g", v, m.VolumeMM3())
			}
			if !c.Closed || len(c.Loops) == 0 || min(c.Sides[0].VolumeMM3, c.Sides[1].VolumeMM3) < 0 {
				t.Errorf("closed %t, %d loops, sides %+v", c.Closed, len(c.Loops), c.Sides)
			}
			for _, l := range c.Loops {
				for _, p := range l.Points {
					if math.Abs(c.Normal.Dot(p)-c.OffsetMM) > 1e-9 {
						t.Fatalf("loop point %v is off the plane", p)
					}
				}
			}
		})
	}
}

// Expected: a box without its lid, cut upright: an open line of 1 + 1 + 1.
func TestCutOfOpenMeshIsOpen(t *testing.T) {
	m := boxMesh(1, 1, 1)
	m.Faces = append(m.Faces[:2:2], m.Faces[4:]...)
	c, err := m.Cut(geom.Vec{1, 0, 0}, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if c.Closed || len(c.Loops) != 1 || c.Loops[0].Closed || math.Abs(c.LengthMM-3) > 1e-12 {
		t.Errorf("%+v", c)
	}
	// across it stays closed
	if c, _ := m.Cut(geom.Vec{0, 0, 1}, 0.5); !c.Closed || c.LengthMM != 4 {
		t.Errorf("%+v", c)
	}
}

// striped is the unit cube scaled to 10, its upper side labelled 2, the lower 1,
// the others 0.
func striped() *Mesh {
	m := boxMesh(10, 10, 10)
	m.Label = make([]int32, len(m.Faces))
	m.Label[0], m.Label[1], m.Label[2], m.Label[3] = 1, 1, 2, 2
	return m
}

// Expected: by hand.
func TestLabelBordersOfCube(t *testing.T) {
	s := surfaceOf(t, striped())
	lines := s.LabelBorders()
	if len(lines) != 2 {
		t.Fatalf("%d lines", len(lines))
	}
	for i, l := range lines {
		if len(l) != 5 || l[0] != l[4] || geom.PolylineLength(l) != 40 || l[0][2] != float64(10*i) {
			t.Errorf("line %d: %v", i, l)
		}
	}
	for _, c := range []struct {
		at    geom.Vec
		mm    float64
		other int32
	}{
		{geom.Vec{5, 5, 10}, 5, 0}, {geom.Vec{1, 4, 0}, 1, 0}, {geom.Vec{0, 5, 3}, 3, 1}, {geom.Vec{0, 5, 8}, 2, 2}, {geom.Vec{10, 2, 5}, 5, 1},
	} {
		site, _ := s.Closest(c.at)
		if mm, other := s.DistanceToBorder(site); math.Abs(mm-c.mm) > 1e-12 || other != c.other {
			t.Errorf("%v: %g mm to label %d, want %g to %d", c.at, mm, other, c.mm, c.other)
		}
	}
	bare := surfaceOf(t, boxMesh(1, 1, 1))
	if mm, _ := bare.DistanceToBorder(bare.Site(0, [3]float64{1, 1, 1})); !math.IsInf(mm, 1) || bare.LabelBorders() != nil {
		t.Errorf("without labels: %g", mm)
	}
}

// Expected: three labels round one point give three lines that end there.
func TestLabelBordersEndWhereThreeMeet(t *testing.T) {
	m := coneOf(6, 10, 8, 0)
	m.Label = []int32{4, 4, 7, 7, 5, 5}
	lines := surfaceOf(t, m).LabelBorders()
	if len(lines) != 3 {
		t.Fatalf("%d lines: %v", len(lines), lines)
	}
	for _, l := range lines {
		if len(l) != 2 || l[0] != m.Points[0] {
			t.Errorf("line %v", l)
		}
	}
}

// The index against a plain scan.
func TestDistanceToBorderMatchesPlainScan(t *testing.T) {
	for seed := range uint64(3) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			m := bumpyTorus(60, 30, seed)
			m.Label = make([]int32, len(m.Faces))
			for f := range m.Label {
				m.Label[f] = int32(f / 2 % 30 / 8 * 3)
			}
			s := surfaceOf(t, m)
			r := rand.New(rand.NewPCG(seed, 5))
			for range 200 {
				a := s.Site(r.IntN(len(m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
				want := math.Inf(1)
				m.edgeGroups(func(u, v int32, h []int32) {
					k, l := m.Label[h[0]/3], m.Label[h[1]/3]
					if k != l && (k == m.Label[a.Face] || l == m.Label[a.Face]) {
						want = min(want, segmentDist2(a.At, m.Points[u], m.Points[v]))
					}
				})
				if mm, other := s.DistanceToBorder(a); math.Abs(mm-math.Sqrt(want)) > 1e-12 || other == m.Label[a.Face] {
					t.Errorf("%g mm to %d, want %g", mm, other, math.Sqrt(want))
				}
			}
		})
	}
}

// Expected: straight up the outside of the cube from the lower to the upper side.
func TestLabelLengthsSplitAPath(t *testing.T) {
	s := surfaceOf(t, striped())
	a, _ := s.Closest(geom.Vec{3, 2, 0})
	b, _ := s.Closest(geom.Vec{3, 4, 10})
	p := shortestOf(t, s, a, b)
	want := []LabelLength{{0, 10}, {1, 2}, {2, 4}}
	got := s.LabelLengths(p)
	if len(got) != len(want) {
		t.Fatalf("got %v, want %v", got, want)
	}
	for i, w := range want {
		if got[i].Label != w.Label || math.Abs(got[i].LengthMM-w.LengthMM) > 1e-9 {
			t.Errorf("got %v, want %v", got[i], w)
		}
	}
}
