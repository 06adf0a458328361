package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// drilled is a round plate with a hole through its middle along z: profile is the wall of the
// hole from below upwards as radius and height, at(k) a factor on the radius at side k of n.
// Its outer radius is 60. Closed, normals outward.
func drilled(n int, profile [][2]float64, at func(k int) float64) *Mesh {
	m := &Mesh{}
	lo, hi := profile[0][1], profile[len(profile)-1][1]
	ring := append(append([][2]float64{}, profile...), [2]float64{60, hi}, [2]float64{60, lo})
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		for i, p := range ring {
			rho := p[0]
			if i < len(profile) {
				rho *= at(k)
			}
			m.Points = append(m.Points, geom.Vec{rho * cos, rho * sin, p[1]})
		}
	}
	w := len(ring)
	for k := range n {
		for i := range w {
			a, b := int32(k*w+i), int32(k*w+(i+1)%w)
			c, d := int32((k+1)%n*w+(i+1)%w), int32((k+1)%n*w+i)
			m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

func evenly(int) float64 { return 1 }

// wallOf is a wall of so many steps from radius a at height lo to radius b at hi, with rounds of
// a radius at both ends over which it opens outward.
func wallOf(steps int, a, b, lo, hi, round float64) (out [][2]float64) {
	arc := func(from, to float64, cx, cz float64) {
		for i := range 7 {
			sin, cos := math.Sincos(from + (to-from)*float64(i)/6)
			out = append(out, [2]float64{cx + round*cos, cz + round*sin})
		}
	}
	if round > 0 {
		arc(1.5*math.Pi, math.Pi, a+round, lo)
		out = out[:len(out)-1]
	}
	for i := range steps + 1 {
		s := float64(i) / float64(steps)
		out = append(out, [2]float64{a + (b-a)*s, lo + (hi-lo)*s})
	}
	if round > 0 {
		out = out[:len(out)-1]
		arc(math.Pi, 0.5*math.Pi, b+round, hi)
	}
	return out
}

// placed turns a mesh and moves it.
func placed(m *Mesh, axis geom.Vec, by geom.Vec) *Mesh {
	x, y := sideways(axis)
	out := &Mesh{Faces: m.Faces}
	for _, p := range m.Points {
		out.Points = append(out.Points, x.Scale(p[0]).Add(y.Scale(p[1])).Add(axis.Scale(p[2])).Add(by))
	}
	return out
}

// A straight or tapered hole is found once, with its axis, depth and both radii, however it lies;
// with rounds at its ends it is as deep as the wall without them, and its radius is that of the
// wider end as far out as they reach: constructed, to the depth of a step. Its uncertainties are
// those of the text at roundRest and sagitta: no other source.
func TestHolesOfKnownShapesAreFound(t *testing.T) {
	r := rand.New(rand.NewPCG(51, 0))
	for k := range 12 {
		n, steps := 16+4*r.IntN(5), 2+r.IntN(3)
		radius, depth := 3+9*r.Float64(), 8+8*r.Float64()
		slope := []float64{0, 0.05, -0.1, 0.18}[k%4]
		low, high := radius, radius+slope*depth
		round := 0.0
		if k%3 == 2 {
			round = 2
		}
		m := drilled(n, wallOf(steps, low, high, 1, 1+depth, round), evenly)
		if f := m.Faults(); !f.Closed() || m.VolumeMM3() < 0 {
			t.Fatalf("%+v", f)
		}
		axis, by := direction(r), direction(r).Scale(500)
		m = placed(m, axis, by)
		holes := surfaceOf(t, m).Holes(40, 0.3)
		if len(holes) != 1 {
			t.Errorf("hole %d, %d sides, slope %g, round %g: found %d", k, n, slope, round, len(holes))
			continue
		}
		h := holes[0]
		// with rounds a step of them may count as wall: the first leans by half a step from it
		slack, wide, narrow := 1e-6, max(low, high), min(low, high)
		if round > 0 {
			slack = 0.6
		}
		if math.Abs(math.Abs(h.Axis.Dot(axis))-1) > 1e-3*slack+1e-9 || h.Centre.Dist(by.Add(axis.Scale(1+depth/2))) > slack || math.Abs(h.DepthMM-depth) > 2*slack ||
			math.Abs(h.RadiusMM-wide) > slack || math.Abs(h.NarrowMM-narrow) > slack || h.MaxMM > slack {
			t.Errorf("hole %d, %d sides, slope %g, round %g: %+v, want radius %g to %g, depth %g", k, n, slope, round, h, narrow, wide, depth)
		}
		if round == 0 {
			chord := 2 * wide * math.Sin(math.Pi/float64(n))
			long := math.Hypot(chord, 0) // the longest side across the axis: at the wider end, or a diagonal
			for i := range steps {
				a, b := low+(high-low)*float64(i)/float64(steps), low+(high-low)*float64(i+1)/float64(steps)
				cos := math.Cos(2 * math.Pi / float64(n))
				long = max(long, math.Sqrt(a*a+b*b-2*a*b*cos))
			}
			mid := (low + high) / 2
			flats := long * long / (8 * mid) / math.Sqrt(12)
			if h.Faces != 2*n*steps || h.N != n*(steps+1) || math.Abs(h.PlaceStdMM-flats*math.Sqrt(2/float64(h.N))) > 1e-4*flats || math.Abs(h.RadiusStdMM-math.Hypot(flats, 0.5*slope)) > 1e-4*(flats+math.Abs(slope)) {
				t.Errorf("hole %d, %d sides, slope %g: %d faces, %d points, uncertainties %g and %g; want %g and %g", k, n, slope, h.Faces, h.N, h.PlaceStdMM, h.RadiusStdMM, flats*math.Sqrt(2/float64(h.N)), math.Hypot(flats, 0.5*slope))
			}
			if math.Abs(h.StdMM()-math.Hypot(h.PlaceStdMM, h.RadiusStdMM)) > 1e-12 {
				t.Errorf("hole %d: %g", k, h.StdMM())
			}
		}
	}
}

// What is a hole and what is none: each limit in the list of holes.go met from both sides.
func TestLimitsOfHoles(t *testing.T) {
	slot := func(from, to int, by float64) func(k int) float64 { // the wall stands back over some sides
		return func(k int) float64 {
			if k >= from && k < to {
				return by
			}
			return 1
		}
	}
	straight := wallOf(3, 6, 6, 0, 10, 0)
	ball := func(r, half float64) (out [][2]float64) { // a band of the inside of a ball
		for i := range 9 {
			z := half * (float64(i)/4 - 1)
			out = append(out, [2]float64{math.Sqrt(r*r - z*z), z})
		}
		return out
	}
	two := append(wallOf(3, 6, 6, 0, 8, 0), wallOf(3, 12, 12, 8, 16, 0)...)
	for name, c := range map[string]struct {
		m    *Mesh
		max  float64
		want []float64 // radii
	}{
		"as large as asked for":      {drilled(24, straight, evenly), 6.001, []float64{6}},
		"larger than asked for":      {drilled(24, straight, evenly), 5.99, nil},
		"a taper of 11 degrees":      {drilled(24, wallOf(3, 6, 6+10*math.Tan(11*deg), 0, 10, 0), evenly), 40, []float64{6 + 10*math.Tan(11*deg)}},
		"a taper of 16 degrees":      {drilled(24, wallOf(3, 6, 6+10*math.Tan(16*deg), 0, 10, 0), evenly), 40, nil},
		"eight sides":                {drilled(8, straight, evenly), 40, []float64{6}},
		"four sides":                 {drilled(4, straight, evenly), 40, nil},
		"a key way of one side":      {drilled(24, straight, slot(5, 7, 1.6)), 40, []float64{6}},
		"a key way of a third":       {drilled(24, straight, slot(4, 12, 1.6)), 40, nil},
		"an oval":                    {drilled(24, straight, func(k int) float64 { return 1 + 0.15*math.Cos(4*math.Pi*float64(k)/24) }), 40, nil},
		"a ball":                     {drilled(32, ball(10, 7), evenly), 40, nil},
		"a stepped bore has two":     {drilled(24, two, evenly), 40, []float64{6, 12}},
		"inside out it is a boss":    {insideOut(drilled(24, straight, evenly)), 40, nil},
		"the plate itself is no one": {drilled(24, wallOf(1, 45, 45, 0, 10, 0), evenly), 40, nil},
	} {
		holes := surfaceOf(t, c.m).Holes(c.max, 0.1)
		ok := len(holes) == len(c.want)
		for i := range holes {
			ok = ok && math.Abs(holes[i].RadiusMM-c.want[i]) < 0.05
		}
		if !ok {
			t.Errorf("%s: %+v, want radii %v", name, holes, c.want)
		}
	}
}

// Points beside the wall spread the figures of a hole as they say: over some drawn holes the axis
// and the radius lie off what was meant by about their standard uncertainty, flats left out.
func TestUncertaintyOfHoles(t *testing.T) {
	r := rand.New(rand.NewPCG(52, 0))
	const rounds, sigma = 10, 0.02
	place, radius, std := 0.0, 0.0, [2]float64{}
	for range rounds {
		m := drilled(24, wallOf(3, 8, 8, 0, 12, 0), evenly)
		for i, p := range m.Points {
			if math.Hypot(p[0], p[1]) < 9 {
				m.Points[i] = p.Add(geom.Vec{p[0], p[1], 0}.Unit().Scale(sigma * r.NormFloat64()))
			}
		}
		holes := surfaceOf(t, m).Holes(40, 0.3)
		if len(holes) != 1 {
			t.Fatalf("%d holes", len(holes))
		}
		h := holes[0]
		if math.Abs(h.RMSMM/sigma-1) > 0.3 || h.MaxMM < h.RMSMM {
			t.Errorf("points lie %g off, at most %g; drawn %g", h.RMSMM, h.MaxMM, sigma)
		}
		off := math.Hypot(h.Centre[0], h.Centre[1])
		place, radius = place+off*off/rounds, radius+(h.RadiusMM-8)*(h.RadiusMM-8)/rounds
		std[0], std[1] = std[0]+h.PlaceStdMM/rounds, std[1]+h.RadiusStdMM/rounds
	}
	if got := math.Sqrt(place); got > 1.5*std[0] || got < std[0]/4 || math.Sqrt(radius) > std[1] {
		t.Errorf("the axis lies %g off, said %g; the radius %g, said %g", got, std[0], math.Sqrt(radius), std[1])
	}
}

// A hole is a band of the round of a deeper one where the list of conditions says so: each of them
// is met from both sides, by a band about the upper end of a hole of radius 10 that is 20 deep.
func TestBandsOfARoundAreNoHoles(t *testing.T) {
	deep := Hole{Circle: Circle{Centre: geom.Vec{1, 2, 3}, Axis: geom.Vec{0, 0, 1}, RadiusMM: 10}, DepthMM: 20}
	band := func(change func(h *Hole)) Hole {
		h := Hole{Circle: Circle{Centre: geom.Vec{1, 2, 14}, Axis: geom.Vec{0, 0, -1}, RadiusMM: 11}, DepthMM: 2}
		change(&h)
		return h
	}
	lean := func(cos float64) func(h *Hole) {
		return func(h *Hole) { h.Axis = geom.Vec{math.Sqrt(1 - cos*cos), 0, cos} }
	}
	for name, c := range map[string]struct {
		change func(h *Hole)
		want   bool
	}{
		"a band":                   {func(h *Hole) {}, true},
		"less deep":                {func(h *Hole) { h.DepthMM = 19 }, true},
		"as deep":                  {func(h *Hole) { h.DepthMM = 20 }, false},
		"deeper":                   {func(h *Hole) { h.DepthMM = 21 }, false},
		"leaning by 11 degrees":    {lean(0.9816), true},
		"leaning by 12 degrees":    {lean(0.9781), false},
		"below":                    {func(h *Hole) { h.Centre[2] = -8 }, true},
		"just at the end":          {func(h *Hole) { h.Centre[2] = 3 + 12.9 }, true},
		"above the round":          {func(h *Hole) { h.Centre[2] = 3 + 13 }, false},
		"below the round":          {func(h *Hole) { h.Centre[2] = 3 - 13.5 }, false},
		"a little beside the axis": {func(h *Hole) { h.Centre[0] += 2.7 }, true},
		"beside the axis":          {func(h *Hole) { h.Centre[0] -= 2.75 }, false},
		"hardly wider":             {func(h *Hole) { h.RadiusMM = 11.9 }, true},
		"wider by a fifth":         {func(h *Hole) { h.RadiusMM = 12 }, false},
		"narrower by a fifth":      {func(h *Hole) { h.RadiusMM = 8 }, false},
	} {
		h := band(c.change)
		if h.within(&deep) != c.want {
			t.Errorf("%s: a band of the round is %v", name, !c.want)
		}
	}
	large := deep
	large.RadiusMM = 40 // a fifth of it would be more than a round reaches
	for wider, want := range map[float64]bool{2.9: true, 3: false, 5: false} {
		h := band(func(h *Hole) { h.RadiusMM = 40 + wider })
		if h.within(&large) != want {
			t.Errorf("wider by %g: %v", wider, !want)
		}
	}
}

// Sectors of the turn are numbered round, each as wide as the others; on a border the next begins.
func TestSectorsGoRound(t *testing.T) {
	for k := range 360 {
		a := (float64(k) + 0.5) * deg
		if got, want := sectorOf(7*math.Cos(a), 7*math.Sin(a)), int8(float64(k)*wallBins/360); got != want {
			t.Errorf("%g degrees: sector %d, want %d", float64(k)+0.5, got, want)
		}
	}
	for q, c := range [8][2]float64{{2, 0}, {2, 2}, {0, 2}, {-2, 2}, {-2, 0}, {-2, -2}, {0, -2}, {2, -2}} {
		if got := sectorOf(c[0], c[1]); got != int8(q*wallBins/8) {
			t.Errorf("%v: sector %d", c, got)
		}
	}
}
