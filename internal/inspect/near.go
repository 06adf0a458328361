package inspect

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// contact is where two curves come near each other, through space.
type contact struct {
	a, b     spot
	straight float64 // through space: a lower bound on the way along the surface [mm]
	ahead    float64 // allowance of the tips it is between [mm]
	aheadVar float64 // variance of that [mm^2]
}

// spot is a point of a curve.
type spot struct {
	at   geom.Vec
	face int
	end  int // 0 or 1 at an end, -1 in between
}

// apart is how far two cracks are from each other.
type apart struct {
	i, j     int     // findings
	straight float64 // through space [mm]
	seen     float64 // along the surface, as far as they were seen [mm]
	allowed  float64 // less what may lie ahead of the tips, never below 0 [mm]
	aheadVar float64 // variance of what is in it [mm^2]
	endI     int     // end of each that the distance is from, -1 in between
	endJ     int
}

// pair is two cracks whose distance may matter.
type pair struct {
	i, j    int // findings, by name
	touches []contact
	least   float64 // lower bound on their distance, tips allowed for [mm]
}

func newPair(i, j int, a, b *trace) pair {
	p := pair{i, j, contacts(&a.curve, &b.curve), math.Inf(1)}
	for _, c := range p.touches {
		p.least = min(p.least, c.straight-c.ahead)
	}
	return p
}

// contacts is the nearest points of two curves, first as seen, then from each
// end that may run on.
func contacts(a, b *curve) []contact {
	out := []contact{touch(a, b, -1, -1)}
	for k := -1; k < 2; k++ {
		for l := -1; l < 2; l++ {
			ahead, variance := a.runsOn(k), 0.0
			if (k < 0 && l < 0) || (k >= 0 && ahead == 0) || (l >= 0 && b.runsOn(l) == 0) {
				continue
			}
			c := touch(a, b, k, l)
			for _, x := range []float64{ahead, b.runsOn(l)} {
				h := hiddenStd(x)
				c.ahead += x
				variance += float64(h * h)
			}
			c.aheadVar = variance
			out = append(out, c)
		}
	}
	return out
}

// runsOn is what may lie ahead of end k; nothing when k is no end.
func (c *curve) runsOn(k int) float64 {
	if k < 0 {
		return 0
	}
	return c.ahead[k]
}

// touch is the nearest points of two curves, or of an end of either.
func touch(a, b *curve, endA, endB int) contact {
	best := contact{straight: math.Inf(1)}
	for _, i := range a.segments(endA) {
		for _, j := range b.segments(endB) {
			p, q := nearestOnSegments(i.p, i.q, j.p, j.q)
			if d := p.Dist(q); d < best.straight {
				best = contact{a: a.spot(p, i.face), b: b.spot(q, j.face), straight: d}
			}
		}
	}
	return best
}

type segment struct {
	p, q geom.Vec
	face int
}

// segments is those of the whole curve, or an end as a segment of no length.
func (c *curve) segments(end int) []segment {
	switch {
	case end == 0 || len(c.pts) == 1:
		return []segment{{c.pts[0], c.pts[0], c.faces[0]}}
	case end == 1:
		p := c.end(1)
		return []segment{{p, p, c.faces[len(c.faces)-1]}}
	}
	out := make([]segment, len(c.faces))
	for i, face := range c.faces {
		out[i] = segment{c.pts[i], c.pts[i+1], face}
	}
	return out
}

func (c *curve) spot(p geom.Vec, face int) spot {
	s := spot{p, face, -1}
	for k := range 2 {
		if s.end < 0 && p.Dist(c.end(k)) < tinyMM {
			s.end = k
		}
	}
	return s
}

// siteOf is the site of a point that lies in a face.
func siteOf(s *mesh.Surface, p geom.Vec, face int) mesh.Site {
	t := s.Mesh().Faces[face]
	a, b, c := s.Mesh().Points[t[0]], s.Mesh().Points[t[1]], s.Mesh().Points[t[2]]
	n := b.Sub(a).Cross(c.Sub(a))
	nn := n.Dot(n)
	if nn == 0 {
		return s.Site(face, [3]float64{1, 1, 1})
	}
	return s.Site(face, [3]float64{
		c.Sub(b).Cross(p.Sub(b)).Dot(n) / nn,
		a.Sub(c).Cross(p.Sub(c)).Dot(n) / nn,
		b.Sub(a).Cross(p.Sub(a)).Dot(n) / nn,
	})
}

// along is the way along the surface between two spots, an upper bound on the
// least. Where the surface does not lead from one to the other the way through
// space is taken: two pieces of one casting are not farther apart for that.
func along(s *mesh.Surface, c contact) float64 {
	p, err := s.Path(siteOf(s, c.a.at, c.a.face), siteOf(s, c.b.at, c.b.face))
	if err != nil {
		return c.straight
	}
	return max(p.LengthMM, c.straight)
}

// distance is how far two traces are from each other. Bounds come first: the
// straight distance is a lower bound, a path between the two nearest points an
// upper bound. Only when limitMM lies between the two is the least distance
// looked for.
func distance(i, j int, a, b *trace, touches []contact, limitMM float64) apart {
	out := apart{i: i, j: j, allowed: math.Inf(1)}
	for n, c := range touches {
		if n > 0 && c.straight-c.ahead >= out.allowed {
			continue
		}
		d := along(a.at.surf, c)
		if c.straight-c.ahead <= limitMM && d-c.ahead > limitMM {
			d = shortest(a, b, c, d, limitMM)
		}
		if n == 0 {
			out.straight, out.seen = c.straight, d
		}
		if d-c.ahead < out.allowed {
			out.allowed, out.aheadVar, out.endI, out.endJ = d-c.ahead, c.aheadVar, c.a.end, c.b.end
		}
	}
	out.allowed = max(0, out.allowed)
	return out
}

// shortestTries is how many pairs of points are looked at when the bounds do
// not decide.
const shortestTries = 24

// farTimes is how much longer than the limit a path may be before the proof of
// the shortest way is not worth its time: on a thin wall the way round to the
// other side is long, and the straight distance short.
const farTimes = 4.0

// finestStepMM ends the search for the nearest points of two curves.
const finestStepMM = 0.01

// shortest looks for a shorter way than knownMM between two curves. It slides
// both ends of the way along their curves as long as that makes it shorter
// (pattern search, R. Hooke, T. A. Jeeves, 1961), starting from the best of the
// nearest points of each curve's points, and has the exact method confirm the
// last one. An end that stands for a tip stays where it is.
func shortest(a, b *trace, c contact, knownMM, limitMM float64) float64 {
	best, at := knownMM, c
	if c.ahead == 0 {
		for n, k := range crossings(&a.curve, &b.curve) {
			if n >= shortestTries || k.straight >= best {
				break
			}
			if d := along(a.at.surf, k); d < best {
				best, at = d, k
			}
		}
		if best <= worthwhile(a, limitMM) {
			best, at = slide(a, b, at, best)
		}
	}
	if best-c.ahead <= limitMM || best > worthwhile(a, limitMM+c.ahead) {
		return best
	}
	s := a.at.surf
	p, err := s.ShortestPath(siteOf(s, at.a.at, at.a.face), siteOf(s, at.b.at, at.b.face))
	if err != nil {
		return best
	}
	return min(best, p.LengthMM)
}

// worthwhile is the length up to which a path is improved [mm].
func worthwhile(t *trace, limitMM float64) float64 {
	return float64(farTimes*limitMM) + float64(jumpWalls*float64(t.at.casting.Wall))
}

// slide moves both ends of a way along their curves.
func slide(a, b *trace, from contact, knownMM float64) (float64, contact) {
	best, at := knownMM, from
	pos := [2]float64{a.curve.arc(from.a.at), b.curve.arc(from.b.at)}
	for step := max(a.curve.lengthMM(), b.curve.lengthMM()) / 4; step > finestStepMM; {
		moved := false
		for k := range 4 {
			next := pos
			next[k/2] += step * float64(1-2*(k%2))
			c := contact{a: a.curve.at(next[0]), b: b.curve.at(next[1])}
			c.straight = c.a.at.Dist(c.b.at)
			if d := along(a.at.surf, c); d < best {
				best, at, pos, moved = d, c, [2]float64{a.curve.arc(c.a.at), b.curve.arc(c.b.at)}, true
			}
		}
		if !moved {
			step /= 2
		}
	}
	return best, at
}

// crossings is from every point of either curve to the nearest point of the
// other, nearest first.
func crossings(a, b *curve) []contact {
	var out []contact
	add := func(c, d *curve, swap bool) {
		for i, p := range c.pts {
			face := c.faces[min(i, len(c.faces)-1)]
			one := curve{pts: []geom.Vec{p}, faces: []int{face}}
			k := touch(&one, d, -1, -1)
			k.a = c.spot(p, face)
			if swap {
				k.a, k.b = k.b, k.a
			}
			out = append(out, k)
		}
	}
	add(a, b, false)
	add(b, a, true)
	slices.SortStableFunc(out, func(x, y contact) int { return cmp.Compare(x.straight, y.straight) })
	return out
}

// oppositeFaces notes two cracks that lie on the two sides of one wall and are
// not said to be one.
func (r *run) oppositeFaces(d apart) {
	t := r.traces[d.i]
	wall := float64(t.at.casting.Wall)
	if d.straight > 1.5*wall || d.seen <= float64(jumpTimes*d.straight)+float64(jumpWalls*wall) {
		return
	}
	a, b := r.found[d.i].ID, r.found[d.j].ID
	r.note(diag.Note{Code: "inspect.opposite-face", Severity: diag.Caution, Where: string(a),
		Text: string(a) + " and " + string(b) + " lie on the two sides of the wall, " + mm(d.straight) + " apart through the metal",
		Hint: "say other_face_of if they are one crack through the wall"})
}
