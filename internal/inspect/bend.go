package inspect

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// flat is a place in the plane.
type flat struct{ x, y float64 }

func (a flat) dist(b flat) float64 { return elem.Hypot(a.x-b.x, a.y-b.y) }

// develop lays the way through all points out in the plane: the ways between
// them straight, with their lengths, and the angles between them as on the
// surface. What the clicks show of bends is then seen without the bends of the
// surface itself.
func (t *trace) develop() []flat {
	out := []flat{{}}
	heading := 0.0
	for k, p := range t.raw {
		if k > 0 {
			heading += t.turnAt(k)
		}
		sin, cos := elem.Sincos(heading)
		last := out[len(out)-1]
		out = append(out, flat{last.x + float64(p.LengthMM*cos), last.y + float64(p.LengthMM*sin)})
	}
	return out
}

// turnAt is the angle within the surface by which the way through all points
// turns at point k, positive to the left [rad]. Where the two ways lie in two
// faces, the direction is carried over by the turn that takes the one normal to
// the other, which for faces with a common edge is exact.
func (t *trace) turnAt(k int) float64 {
	before, after := &t.raw[k-1], &t.raw[k]
	if len(before.Faces) == 0 || len(after.Faces) == 0 {
		return 0
	}
	m := t.at.Surface.Mesh()
	n1, n2 := m.FaceNormal(before.Faces[len(before.Faces)-1]), m.FaceNormal(after.Faces[0])
	if n1.Dot(n2) < -1+tinyMM { // a face turned inside out
		n2 = n2.Scale(-1)
	}
	in, out := lastDir(before.Points), firstDir(after.Points)
	axis := n1.Cross(n2)
	if s := axis.Norm(); s > 0 {
		in = turned(in, axis.Scale(1/s), elem.Atan2(s, n1.Dot(n2)))
	}
	return elem.Atan2(n2.Dot(in.Cross(out)), in.Dot(out))
}

// turned is v turned by an angle about a unit axis (O. Rodrigues, Des lois
// geometriques qui regissent les deplacements d'un systeme solide, 1840).
func turned(v, axis geom.Vec, rad float64) geom.Vec {
	sin, cos := elem.Sincos(rad)
	return v.Scale(cos).Add(axis.Cross(v).Scale(sin)).Add(axis.Scale(axis.Dot(v) * (1 - cos)))
}

const (
	// bendStds is the standard uncertainty for a missing path, as a multiple of
	// what the points show of it: so that, beside any noise of the points, the
	// one-sided 95 % bound covers what is missing. Found by trial over the families
	// of TestBentCracksAreCovered, as are the three below; no source.
	bendStds = 1.5
	// roughWave is how much more than an even arc a crack may hide whose turns have
	// nothing to do with one another: it bends between the points as it does from
	// point to point.
	roughWave = 5.0
	// fewTurns is by how many standard deviations of their mean square, sqrt(2/n)
	// of it for n turns, it is taken larger.
	fewTurns = 1.0
	// mostHidden is the part of the way through the points that bends between them
	// are taken for at most.
	mostHidden = 0.1
)

// missing is how much longer a crack through the points is than a length found
// for it, as far as the points show [mm]; 0 or more. s is the standard
// uncertainty of a point, std that of the length.
//
// Two things are missing. Between points the crack bends and the way does not: an
// arc of the length c over which the direction turns by w is longer than its
// chord by c w^2/24, and at every point the way shows how fast the direction
// turns. And waves that noise could explain were cut by simplifying: the way
// through all points, freed of the length that noise adds to it (s^2/c for every
// way of length c), shows them. Because noise hides them in points close together,
// they are looked for in the way through every point or, where what noise adds to
// it varies by more than half of the uncertainty of the length, through every
// second, every fourth, and so on.
//
// Source: the series of 2 sin(w/2); propagation of uncertainty, JCGM 100:2008
// 5.1.2 (what noise adds to lengths and turns); the rest our choice, no source.
func missing(x []flat, length, s, std float64) float64 {
	n := len(x) - 1
	total := 0.0
	for i := range n {
		total += x[i].dist(x[i+1])
	}
	for m := 1; 2*m <= n; m *= 2 {
		ways := float64(n) / float64(m)
		noise := 2 * math.Sqrt(ways) * s * s / (total / ways)
		if noise > std/2 && 4*m <= n {
			continue
		}
		sum := 0.0
		for o := range m {
			sum += shown(every(x, m, o), s)
		}
		return max(0, sum/float64(m)-length)
	}
	return 0
}

// every is the ends and every m-th point between, none of them within m/2 of an
// end.
func every(x []flat, m, offset int) []flat {
	out := []flat{x[0]}
	last := len(x) - 1
	for i := offset; i <= last; i += m {
		if i >= (m+1)/2 && i > 0 && last-i >= (m+1)/2 && i < last {
			out = append(out, x[i])
		}
	}
	return append(out, x[last])
}

// shown is the length that points show: of the ways between them without what
// noise adds, and of the arcs over these ways.
func shown(x []flat, s float64) float64 {
	n := len(x) - 1
	curve := make([]float64, n+1) // square of the curvature at every point
	turns := make([]float64, 0, n)
	for k := 1; k < n; k++ {
		a, b := x[k-1].dist(x[k]), x[k].dist(x[k+1])
		if a == 0 || b == 0 {
			continue
		}
		in, out := flat{x[k].x - x[k-1].x, x[k].y - x[k-1].y}, flat{x[k+1].x - x[k].x, x[k+1].y - x[k].y}
		turn := elem.Atan2(float64(in.x*out.y)-float64(in.y*out.x), float64(in.x*out.x)+float64(in.y*out.y))
		both := 1/a + 1/b
		noise := float64(s * s * (1/(a*a) + 1/(b*b) + float64(both*both)))
		turns = append(turns, turn)
		curve[k] = (float64(turn*turn) - noise) * 4 / ((a + b) * (a + b))
	}
	if n > 1 {
		curve[0], curve[n] = curve[1], curve[n-1]
	}
	sum, arcs := 0.0, 0.0
	for i := range n {
		c := x[i].dist(x[i+1])
		if c > 0 {
			sum += max(0, c-float64(s*s)/c)
		}
		arcs += c * c * c * (curve[i] + curve[i+1]) / 48
	}
	return sum + min(max(0, float64(waveFactor(turns)*arcs)), float64(mostHidden*sum))
}

// waveFactor is how many times more a crack that turns so from point to point
// may hide between the points than arcs through the turns are longer than their
// chords: once for turns that are all alike, and roughWave times for turns that
// have nothing to do with one another. With p a quarter of the mean square of the
// differences of neighbouring turns over that of the turns, it grows with 4 p up to
// p = 1/4. A sine of small height whose phase goes on by 2 q from point to point
// turns so that p = sin^2 q, and hides
//
//	3 (q^2 - sin^2 q) / sin^4 q
//
// times as much, 1 for many points a wave and 4.4 for two: never more than that. A
// sine clicked fewer than twice a wave does not show.
//
// Source: the series of the length of a sine of small height and of its chords;
// our derivation. How far it goes between: our choice, no source.
func waveFactor(turns []float64) float64 {
	turn2, diff2 := 0.0, 0.0
	for i, w := range turns {
		turn2 += w * w / float64(len(turns))
		if i > 0 {
			d := w - turns[i-1]
			diff2 += d * d / float64(len(turns)-1)
		}
	}
	few := 1 + fewTurns*math.Sqrt(2/float64(max(1, len(turns))))
	if turn2 == 0 || diff2 == 0 {
		return few
	}
	return float64(few * (1 + float64((roughWave-1)*min(1, diff2/turn2))))
}
