package body

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// castHole is a hole as it is cast, with n sides, through a round plate of 40 mm
// radius whose top lies at 0.
type castHole struct {
	radius, wall float64 // at the wider end, without rounds
	slant, taper float64 // degrees
	round        float64 // of both rims
	counter      float64 // radius of a counterbore of a third of the wall, 0 without
	blind        float64 // depth below which there is a floor, 0 for through
	steps, n     int     // of a round; round the hole
}

// profile is the outline (r, z) of the plate in a plane through the axis, from the
// outside of the top inward, down the hole, and out again at the bottom.
func (c castHole) profile() [][2]float64 {
	out := [][2]float64{{40, 0}}
	t := c.taper * math.Pi / 180
	bottom := -c.wall
	if c.blind > 0 {
		bottom = -c.blind
	}
	arc := func(r, z, from, to float64) { // about (r, z)
		for i := range c.steps + 1 {
			a := from + (to-from)*float64(i)/float64(c.steps)
			out = append(out, [2]float64{r + c.round*math.Cos(a), z + c.round*math.Sin(a)})
		}
	}
	// the wall leans by t: r at depth d is radius - d tan t
	wall := func(z float64) float64 { return c.radius + z*math.Tan(t) }
	switch {
	case c.counter > 0:
		z := -c.wall / 3
		out = append(out, [2]float64{c.counter, 0}, [2]float64{c.counter, z}, [2]float64{c.radius, z})
	case c.round > 0:
		// a circle that touches the top and the wall: its centre lies round below
		// the top and round/cos t outside the wall
		zc := -c.round
		arc(wall(zc)+c.round/math.Cos(t), zc, math.Pi/2, math.Pi-t)
	default:
		out = append(out, [2]float64{wall(0), 0})
	}
	if c.blind > 0 {
		return append(out, [2]float64{wall(bottom), bottom}, [2]float64{0, bottom - 1})
	}
	if c.round > 0 {
		zc := bottom + c.round
		arc(wall(zc)+c.round/math.Cos(t), zc, math.Pi-t, 3*math.Pi/2)
	} else {
		out = append(out, [2]float64{wall(bottom), bottom})
	}
	return append(out, [2]float64{40, bottom})
}

// mesh is the surface: the outline turned about the axis, or for a slanted hole its
// wall between the two planes.
func (c castHole) mesh() *mesh.Mesh {
	m := &mesh.Mesh{}
	ring := func(at func(cos, sin float64) geom.Vec) []int32 {
		ids := make([]int32, c.n)
		for k := range ids {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(c.n))
			ids[k] = int32(len(m.Points))
			m.Points = append(m.Points, at(cos, sin))
		}
		return ids
	}
	var rings [][]int32
	if c.slant > 0 {
		tan := math.Tan(c.slant * math.Pi / 180)
		flat := func(r, z float64) []int32 {
			return ring(func(cos, sin float64) geom.Vec { return geom.Vec{r * cos, r * sin, z} })
		}
		cut := func(z float64) []int32 { // the cylinder about (tan, 0, 1) cut by a plane
			long := c.radius / math.Cos(c.slant*math.Pi/180)
			return ring(func(cos, sin float64) geom.Vec {
				return geom.Vec{(z+c.wall/2)*tan + long*cos, c.radius * sin, z}
			})
		}
		rings = [][]int32{flat(40, 0), cut(0), cut(-c.wall), flat(40, -c.wall)}
	} else {
		for _, p := range c.profile() {
			rings = append(rings, ring(func(cos, sin float64) geom.Vec { return geom.Vec{p[0] * cos, p[0] * sin, p[1]} }))
		}
	}
	if c.blind == 0 {
		rings = append(rings, rings[0])
	}
	for i := 1; i < len(rings); i++ {
		for k := range c.n {
			a, b, d, e := rings[i-1][k], rings[i-1][(k+1)%c.n], rings[i][k], rings[i][(k+1)%c.n]
			m.Faces = append(m.Faces, [3]int32{a, b, d}, [3]int32{b, e, d})
		}
	}
	m, _ = mesh.Weld(m) // the floor's points
	return m
}

// axis is the hole's true axis: a point and a direction.
func (c castHole) axis() (at, along geom.Vec) {
	if c.slant > 0 {
		return geom.Vec{0, 0, -c.wall / 2}, geom.Vec{math.Tan(c.slant * math.Pi / 180), 0, 1}.Unit()
	}
	return geom.Vec{}, geom.Vec{0, 0, 1}
}

// Holes as they are cast are found where and as wide as they are, each once, and
// never narrower: a clearance is never longer than it truly is. Expected:
// constructed (castHole), turned anyhow.
func TestHolesAsCast(t *testing.T) {
	var r *rand.Rand
	holes := campaign(8, 300)
	for i, family := range []struct {
		name string
		draw func(c *castHole)
	}{
		{"plain", func(*castHole) {}},
		{"slanted", func(c *castHole) { c.slant = 3 + 32*r.Float64() }},
		{"tapered", func(c *castHole) { c.taper = 9 * r.Float64() }},
		{"rounded", func(c *castHole) { c.round = 0.5 + 1.5*r.Float64() }},
		{"tapered rounded", func(c *castHole) { c.taper, c.round = 8*r.Float64(), 0.5+1.5*r.Float64() }},
		{"counterbored", func(c *castHole) { c.counter = c.radius * (1.3 + r.Float64()) }},
		{"blind", func(c *castHole) { c.blind, c.taper = c.wall/2+1, 4*r.Float64() }},
	} {
		t.Run(family.name, func(t *testing.T) {
			r = rand.New(rand.NewPCG(14, uint64(i)))
			wrong := 0
			for k := range holes {
				c := castHole{radius: 3 + 9*r.Float64(), wall: 4 + 6*r.Float64(), steps: 1 + r.IntN(8), n: 12 + 4*r.IntN(12)}
				family.draw(&c)
				c.round = min(c.round, 0.25*c.wall)
				s, err := mesh.NewSurface(c.mesh())
				if err != nil {
					t.Fatal(err)
				}
				want := []float64{c.radius}
				if c.counter > 0 {
					want = append(want, c.counter)
				}
				at, along := c.axis()
				bores := FindBores(s, 30*math.Pi/180, 0.1)
				fault := ""
				if len(bores) != len(want) {
					fault = fmt.Sprintf("%d bores", len(bores))
				}
				for i, b := range bores {
					off := b.At.Sub(at)
					side := off.Sub(along.Scale(off.Dot(along))).Norm()
					turn := math.Acos(min(1, math.Abs(b.Axis.Unit().Dot(along)))) * 180 / math.Pi
					least := math.Inf(1)
					for _, w := range want {
						if d := float64(b.Radius) - w; math.Abs(d) < math.Abs(least) {
							least = d
						}
					}
					if side > 0.1 || turn > 1 || least < -2*float64(b.Std) || least > 0.15 {
						fault += fmt.Sprintf(" bore %d is %.2f mm beside the axis, turned by %.2f degrees, its radius off by %.3f", i, side, turn, least)
					}
				}
				if fault != "" {
					if wrong++; wrong <= 4 {
						t.Logf("%d %+v: %s", k, c, fault)
					}
				}
			}
			if wrong > 0 {
				t.Errorf("%d of %d", wrong, holes)
			}
		})
	}
}
