package casting

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// crossings are the places at which a line along an axis passes through faces of a mesh, in
// order: each where the point across the axis lies in the face seen along it (by the signs of
// three areas).
func crossings(m *mesh.Mesh, p geom.Vec, axis int) []float64 {
	u, v := (axis+1)%3, (axis+2)%3
	area := func(a, b, c geom.Vec) float64 { return (b[u]-a[u])*(c[v]-a[v]) - (b[v]-a[v])*(c[u]-a[u]) }
	var out []float64
	for _, f := range m.Faces {
		c := corners(m, f)
		if min(c[0][u], c[1][u], c[2][u]) > p[u] || max(c[0][u], c[1][u], c[2][u]) < p[u] || min(c[0][v], c[1][v], c[2][v]) > p[v] || max(c[0][v], c[1][v], c[2][v]) < p[v] {
			continue
		}
		a, b, d := area(c[1], c[2], p), area(c[2], c[0], p), area(c[0], c[1], p)
		if sum := a + b + d; sum != 0 && (a >= 0 && b >= 0 && d >= 0 || a <= 0 && b <= 0 && d <= 0) {
			out = append(out, (a*c[0][axis]+b*c[1][axis]+d*c[2][axis])/sum)
		}
	}
	slices.Sort(out)
	return out
}

// The walls, ribs, plates, bores and openings of the casting have the thickness and the place
// that the description gives them, measured on the mesh along lines that cross them clear of
// fillets, on both sides: from where to where there is metal, in mm. Every figure is one of the
// description (a wall of 6 mm behind x = 1034, ribs of 5.5 mm about their middle, and so on)
// and none is taken from the mesh. 0.2 mm for walls and 0.6 mm for holes, whose rims are
// rounded and made of chords, are house targets, no source.
func TestWallsAndRibsHaveTheirSizes(t *testing.T) {
	m := built()
	// The tower's wall runs from (113, 732) to (129, 650), in radius and height; the brace from
	// (110, -380) to (990, -200), seen from above. Both are crossed aslant.
	tower, leaning := 113+16*(732-700)/82.0, math.Hypot(82, 16)/82
	web, aslant := -380+180*(300-110)/880.0, math.Hypot(880, 180)/880
	for _, c := range []struct {
		what     string
		p        geom.Vec // of the left half
		axis     int
		from, to float64 // along the line, the stretch that is looked at
		off      float64
		want     []float64
	}{
		{"rear wall, 6 mm", geom.Vec{0, -150, 560}, 0, 1010, 1100, 0.2, []float64{1034, 1040}},
		{"upright ribs of the rear wall, 5.5 mm", geom.Vec{1015, 0, 440}, 1, -480, -320, 0.2, []float64{-467.75, -462.25, -347.75, -342.25}},
		{"the outer one", geom.Vec{1015, 0, 440}, 1, -610, -595, 0.2, []float64{-604.75, -599.25}},
		{"lying ribs of the rear wall, 5.5 mm", geom.Vec{1015, -410, 0}, 2, 470, 490, 0.2, []float64{479.25, 484.75}},
		{"the upper one", geom.Vec{1015, -410, 0}, 2, 590, 610, 0.2, []float64{595.25, 600.75}},
		{"ribs of the nose beam, 5 mm, one of them across the middle", geom.Vec{50, 0, 330}, 1, -300, 0, 0.2, []float64{-278.5, -273.5, -186.5, -181.5, -94.5, -89.5, -2.5}},
		{"front of the nose beam, 5 mm", geom.Vec{0, -115, 405}, 0, -20, 60, 0.2, []float64{0, 5}},
		{"floor and top of the nose beam, 5.5 mm", geom.Vec{60, -115, 0}, 2, 300, 440, 0.2, []float64{310, 315.5, 424.5, 430}},
		{"plate of the crush can, 10 mm", geom.Vec{0, -395, 462}, 0, -20, 60, 0.2, []float64{-5, 5}},
		{"outer side of the longitudinal, 5 mm", geom.Vec{235, 0, 350}, 1, -560, -420, 0.2, []float64{-515, -510}},
		{"floor of the longitudinal, 5 mm", geom.Vec{235, -480, 0}, 2, 310, 400, 0.2, []float64{320, 325}},
		{"wall of the tower, 5 mm, at the height of 700 mm", geom.Vec{560, 0, 700}, 1, -640, -580, 0.2, []float64{-500 - tower - 2.5*leaning, -500 - tower + 2.5*leaning}},
		{"web of the brace, 6 mm", geom.Vec{300, 0, 376.5}, 1, -380, -300, 0.2, []float64{web - 3*aslant, web + 3*aslant}},
		{"bore of the plate, 12 mm wide", geom.Vec{-2, -505, 0}, 2, 312, 345, 0.6, []float64{324, 336}},
		{"the same across", geom.Vec{-2, 0, 330}, 1, -520, -490, 0.6, []float64{-511, -499}},
		{"centre of the tower, 84 mm wide", geom.Vec{560, 0, 790}, 1, -560, -440, 0.6, []float64{-542, -458}},
		{"bolt of the tower, 11 mm wide", geom.Vec{560, 0, 792}, 1, -589, -571, 0.6, []float64{-585.5, -574.5}},
		{"bore of the subframe, 10 mm wide", geom.Vec{180, 0, 318}, 1, -440, -420, 0.6, []float64{-435, -425}},
		{"bore of the lamp, 10 mm wide", geom.Vec{40, 0, 430}, 1, -557, -537, 0.6, []float64{-552, -542}},
		{"lightening hole, 54 mm wide", geom.Vec{2.5, -138, 0}, 2, 325, 415, 0.6, []float64{343, 397}},
		{"drain, 16 mm wide", geom.Vec{400, 0, 322.5}, 1, -475, -445, 0.6, []float64{-468, -452}},
		{"hole of the knee, 36 mm wide", geom.Vec{972, -425.5, 0}, 2, 500, 552, 0.6, []float64{508, 544}},
		{"round opening of the rear wall, 90 mm wide", geom.Vec{1037, -280, 0}, 2, 480, 600, 0.6, []float64{495, 585}},
		{"window of the rear wall, 160 mm wide", geom.Vec{1037, 0, 540}, 1, -130, 0, 0.6, []float64{-80}},
		{"the same, 90 mm high", geom.Vec{1037, -30, 0}, 2, 480, 600, 0.6, []float64{495, 585}},
	} {
		for _, side := range []float64{1, -1} {
			p := c.p
			p[1] *= side
			var got []float64
			for _, x := range crossings(m, p, c.axis) {
				if c.axis == 1 {
					x *= side
				}
				if x > c.from && x < c.to {
					got = append(got, x)
				}
			}
			slices.Sort(got)
			if !slices.EqualFunc(got, c.want, func(a, b float64) bool { return math.Abs(a-b) < c.off }) {
				t.Errorf("%s, side %+.0f: metal begins and ends at %.2f, want %.2f", c.what, side, got, c.want)
			}
		}
	}
}
