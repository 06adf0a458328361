package mesh

import (
	"math"
	"testing"

	"fettle/internal/geom"
)

// Expected: distances on the sphere's polyhedra as for ShortestPath: CGAL 5.5's
// exact solver on an icosahedron split k times and projected to the unit
// sphere, antipodal points of the icosahedron (limit pi) and neighbouring ones'
// opposite at 116.565 degrees (limit 2.0344439).
func TestExactDistancesOnSphere(t *testing.T) {
	for k, want := range map[int][2]float64{1: {3.0261980, 1.9661416}, 2: {3.1106935, 2.0162955}, 3: {3.1336716, 2.0298001}, 4: {3.1395844, 2.0332733}} {
		s := surfaceOf(t, icosphere(k))
		d := exact(t, s, []Site{siteAtPoint(t, s, 0)}, nil, math.Inf(1))
		if math.Abs(d.Points[3]-want[0]) > 1e-7 {
			t.Errorf("k=%d: antipodal %.7f, want %.7f", k, d.Points[3], want[0])
		}
		for v := int32(1); v < 12; v++ {
			p, q := s.m.Points[0], s.m.Points[v]
			if math.Abs(p.Dot(q)+1/math.Sqrt(5)) < 1e-9 && math.Abs(d.Points[v]-want[1]) > 1e-7 {
				t.Errorf("k=%d: point %d at %.7f, want %.7f", k, v, d.Points[v], want[1])
			}
		}
	}
}

// Expected: unfolding. A prism of n sides of width w is a cylinder whose
// polyline length replaces the arc: sqrt((k w)^2 + z^2) over k sides; it
// approaches sqrt((r phi)^2 + z^2) as n grows.
func TestExactDistancesOnCylinderUnfold(t *testing.T) {
	const r, z = 10., 15.
	last := math.Inf(1)
	for _, n := range []int{12, 24, 48, 96} {
		m := &Mesh{}
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			m.Points = append(m.Points, geom.Vec{r * math.Cos(a), r * math.Sin(a), 0}, geom.Vec{r * math.Cos(a), r * math.Sin(a), z})
		}
		for i := range int32(n) {
			j := (i + 1) % int32(n)
			m.Faces = append(m.Faces, [3]int32{2 * i, 2 * j, 2*j + 1}, [3]int32{2 * i, 2*j + 1, 2*i + 1})
		}
		s := surfaceOf(t, m)
		d := exact(t, s, []Site{siteAtPoint(t, s, 0)}, nil, math.Inf(1))
		k := n / 3 // 120 degrees
		want := math.Hypot(float64(k)*2*r*math.Sin(math.Pi/float64(n)), z)
		if got := d.Points[2*k+1]; math.Abs(got-want) > 1e-11 {
			t.Errorf("n=%d: %.12g, want %.12g", n, got, want)
		}
		smooth := math.Hypot(r*2*math.Pi/3, z)
		if e := smooth - d.Points[2*k+1]; e < 0 || e > last/3.5 {
			t.Errorf("n=%d: %g short of the cylinder, %g before", n, e, last)
		} else {
			last = e
		}
	}
}

// profile is a strip along the x-z polyline, wide enough that no way gains by
// leaving the middle.
func profile(line [][2]float64) *Mesh {
	m := &Mesh{}
	for i, p := range line {
		for j := range 3 {
			m.Points = append(m.Points, geom.Vec{p[0], 50 * float64(j), p[1]})
		}
		if i == 0 {
			continue
		}
		for j := range int32(2) {
			a, b := int32(3*(i-1))+j, int32(3*i)+j
			m.Faces = append(m.Faces, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
		}
	}
	return m
}

// Expected: closed forms. A crack over kinks of 20, 15 and 15 mm is 50 mm and
// not its chord; round a fillet R5 of 90 degrees it is 5 pi/2 = 7.854 and not
// 7.071; R30 over 60 degrees: 10 pi = 31.416 and not 30.
func TestLengthFollowsTheSurface(t *testing.T) {
	arc := func(r, turn float64) [][2]float64 {
		var line [][2]float64
		for i := range 401 {
			a := turn * float64(i) / 400
			line = append(line, [2]float64{r * math.Sin(a), r * (1 - math.Cos(a))})
		}
		return line
	}
	for _, c := range []struct {
		name          string
		line          [][2]float64
		length, chord float64
	}{
		{"kinks", [][2]float64{{0, 0}, {20, 0}, {20, 15}, {32, 24}}, 50, math.Hypot(32, 24)},
		{"fillet R5", arc(5, math.Pi/2), 7.853982, 7.071068},
		{"fillet R30", arc(30, math.Pi/3), 31.415927, 30},
	} {
		s := surfaceOf(t, profile(c.line))
		p, err := s.ShortestPath(siteAtPoint(t, s, 1), siteAtPoint(t, s, int32(3*len(c.line)-2)))
		if err != nil || !p.Proven || math.Abs(p.LengthMM-c.length) > 1e-4 || math.Abs(p.ChordMM-c.chord) > 1e-5 {
			t.Errorf("%s: %.6f over a chord of %.6f, want %g and %g (%v)", c.name, p.LengthMM, p.ChordMM, c.length, c.chord, err)
		}
	}
	kinks := []geom.Vec{{0, 0, 0}, {20, 0, 0}, {20, 15, 0}, {32, 15, 9}} // the same lengths, turning in space
	if got, chord := geom.PolylineLength(kinks), kinks[0].Dist(kinks[3]); got != 50 || math.Abs(chord-36.469165) > 1e-6 {
		t.Errorf("kinks in space: %g over %g", got, chord)
	}
}
