package mesh

import (
	"math"
	"testing"

	"fettle/internal/geom"
)

// turnedRing is a ring of n sides round the z axis with a profile of radius and height, which goes
// round its inside on the left.
func turnedRing(n int, profile [][2]float64) *Mesh {
	m := &Mesh{}
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		for _, p := range profile {
			m.Points = append(m.Points, geom.Vec{p[0] * cos, p[0] * sin, p[1]})
		}
	}
	w := len(profile)
	for k := range n {
		for i := range w {
			a, b := int32(k*w+i), int32(k*w+(i+1)%w)
			c, d := int32((k+1)%n*w+(i+1)%w), int32((k+1)%n*w+i)
			m.Faces = append(m.Faces, [3]int32{a, d, c}, [3]int32{a, c, b})
		}
	}
	return m
}

// Where walls end and where not: each limit in the list of wallend.go met from both sides, on
// rings whose wall runs from radius 60 to 100. Its length is half of the two lines beside the
// band, 2 n r sin(pi/n) each; how thick it is follows from the profile.
func TestLimitsOfWallEnds(t *testing.T) {
	const n = 24
	around := func(r float64) float64 { return 2 * n * r * math.Sin(math.Pi/n) }
	flat := func(thick float64) [][2]float64 {
		return [][2]float64{{60, 0}, {80, 0}, {80, thick}, {60, thick}}
	}
	// sides that come together by an angle towards the outer end, which is 4 thick
	taper := func(angle float64) [][2]float64 {
		in := 4 + 2*20*math.Tan(angle/2*deg)
		return [][2]float64{{60, -in / 2}, {80, -2}, {80, 2}, {60, in / 2}}
	}
	// the outer end leans over by an angle
	lean := func(angle float64) [][2]float64 {
		return [][2]float64{{60, 0}, {80, 0}, {80 + 4*math.Tan(angle*deg), 4}, {60, 4}}
	}
	for name, c := range map[string]struct {
		profile [][2]float64
		ends    [][2]float64 // length and thickness, the longest first
	}{
		"a flat ring":                 {flat(5), [][2]float64{{around(80), 5}, {around(60), 5}}},
		"just thin enough":            {flat(14.9), [][2]float64{{around(80), 14.9}, {around(60), 14.9}}},
		"too thick":                   {flat(15.2), nil},
		"sides at 28 degrees":         {taper(28), [][2]float64{{around(80), 4}, {around(60), -1}}},
		"sides at 33 degrees":         {taper(33), nil},
		"an end that leans by 60":     {lean(60), [][2]float64{{(around(80) + around(80+4*math.Tan(60*deg))) / 2, 4}, {around(60), 4}}},
		"an end that leans by 75":     {lean(75), [][2]float64{{around(60), 4}}}, // it is a side of the wall
		"an end of two faces":         {[][2]float64{{60, 0}, {80, 0}, {82, 2.5}, {80, 5}, {60, 5}}, [][2]float64{{around(80), 5}, {around(60), 5}}},
		"an end with chamfers":        {[][2]float64{{60, 0}, {78, 0}, {80, 2}, {80, 4}, {78, 6}, {60, 6}}, [][2]float64{{around(78), 6}, {around(60), 6}}},
		"an end with faint chamfers":  {[][2]float64{{60, 0}, {72, 0}, {80, 1}, {80, 4}, {72, 5}, {60, 5}}, [][2]float64{{around(80), -1}, {around(60), -1}}},
		"a groove in the outer end":   {[][2]float64{{60, 0}, {80, 0}, {80, 4}, {70, 4}, {70, 10}, {80, 10}, {80, 14}, {60, 14}}, [][2]float64{{around(80), 4}, {around(80), 4}, {around(60), 14}}},
		"a lip that is a wall itself": {[][2]float64{{60, 0}, {80, 0}, {80, 20}, {76, 20}, {76, 4}, {60, 4}}, [][2]float64{{(around(80) + around(76)) / 2, 4}, {around(60), 4}}},
	} {
		for _, m := range []*Mesh{turnedRing(n, c.profile), insideOut(moved(turnedRing(n, c.profile), 3))}[len(name)%2:][:1] {
			if f := m.Faults(); !f.Closed() {
				t.Fatalf("%s: %+v", name, f)
			}
			ends := surfaceOf(t, m).WallEnds(15, nil)
			ok := len(ends) == len(c.ends)
			for i := range ends {
				ok = ok && math.Abs(ends[i].LengthMM-c.ends[i][0]) < 1e-6 && (c.ends[i][1] < 0 || math.Abs(ends[i].ThickMM-c.ends[i][1]) < 0.1)
			}
			if !ok {
				for _, e := range ends {
					t.Logf("%.3f long, %.3f thick, %d faces", e.LengthMM, e.ThickMM, len(e.Faces))
				}
				t.Errorf("%s: %d ends, want %v", name, len(ends), c.ends)
			}
		}
	}
}
