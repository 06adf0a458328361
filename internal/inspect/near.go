package inspect

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// contact is where two curves come near each other, through space.
type contact struct {
	a, b       spot
	endA, endB int     // which ends it is between, noEnd for the whole curve
	straight   float64 // through space: a lower bound on the way along the surface [mm]
	ahead      float64 // allowance of the tips it is between [mm]
	aheadVar   float64 // variance of that [mm^2]
}

// spot is a point of a curve.
type spot struct {
	at   geom.Vec
	face int
	end  int // 0 or 1 at an end, noEnd in between
}

// apart is how far two cracks are from each other.
type apart struct {
	i, j     int      // findings
	straight float64  // through space [mm]
	least    float64  // along the surface, as far as they were seen: not less [mm]
	seen     float64  // and not more, from the ways taken [mm]
	doubt    string   // why the two are farther apart than asked for
	allowed  float64  // the least less what may lie ahead of the tips, never below 0 [mm]
	std      float64  // standard uncertainty of that [mm]
	of       []nearby // every distance that may be the least, all of both as seen first
	sure     float64  // the least that is surely kept by each of them [mm]
	endI     int      // end of each that the distance is from, -1 in between
	endJ     int
}

// nearby is one distance between two cracks that has an uncertainty of its own.
type nearby struct{ mm, std float64 }

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
	whole := touch(a, b, noEnd, noEnd)
	whole.endA, whole.endB = noEnd, noEnd
	out := []contact{whole}
	for k := -1; k < 2; k++ {
		for l := -1; l < 2; l++ {
			ahead, variance := a.runsOn(k), 0.0
			if (k == noEnd && l == noEnd) || (k != noEnd && ahead == 0) || (l != noEnd && b.runsOn(l) == 0) {
				continue
			}
			c := touch(a, b, k, l)
			c.endA, c.endB = k, l
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
	if k == noEnd {
		return 0
	}
	return c.ahead[k]
}

// touch is the nearest points of two curves, or of an end of either.
func touch(a, b *curve, endA, endB int) contact {
	best := contact{straight: math.Inf(1)}
	others := b.segments(endB)
	for _, i := range a.segments(endA) {
		for _, j := range others {
			if i.middle.Dist(j.middle)-i.half-j.half > best.straight {
				continue // no two points of them are that near
			}
			p, q := geom.NearestOnSegments(i.p, i.q, j.p, j.q)
			if d := p.Dist(q); d < best.straight {
				best = contact{a: a.spot(p, i.face), b: b.spot(q, j.face), straight: d}
			}
		}
	}
	return best
}

type segment struct {
	p, q, middle geom.Vec
	half         float64 // of its length
	face         int
}

func newSegment(p, q geom.Vec, face int) segment {
	return segment{p, q, p.Lerp(q, 0.5), p.Dist(q) / 2, face}
}

// segments is those of the whole curve, or an end as a segment of no length: those
// where it may lie.
func (c *curve) segments(end int) []segment {
	if end != noEnd {
		return c.ends(end)
	}
	var out []segment
	for _, l := range c.lines() {
		out = append(out, l.segments()...)
	}
	return out
}

func (l *line) segments() []segment {
	if len(l.pts) == 1 {
		return []segment{newSegment(l.pts[0], l.pts[0], l.faces[0])}
	}
	out := make([]segment, len(l.faces))
	for i, face := range l.faces {
		out[i] = newSegment(l.pts[i], l.pts[i+1], face)
	}
	return out
}

func (c *curve) spot(p geom.Vec, face int) spot {
	s := spot{p, face, noEnd}
	for k := range 2 {
		if s.end == noEnd && p.Dist(c.end(k).p) < tinyMM {
			s.end = k
		}
	}
	return s
}

// along is the way along the surface between two spots, an upper bound on the
// least. Where the surface does not lead from one to the other the way through
// space is taken: two pieces of one casting are not farther apart for that.
func (p *place) along(c contact) float64 {
	w, err := p.Way(p.Surface.SiteAt(c.a.at, c.a.face), p.Surface.SiteAt(c.b.at, c.b.face))
	if err != nil {
		return c.straight
	}
	return max(w.LengthMM, c.straight)
}

// distance is how far two traces are from each other. Bounds come first: the
// straight distance is a lower bound, a path between the two nearest points an
// upper one. Where one of the needs lies between the two, mesh.CurveDistance
// says on which side of it the least way is.
func (r *run) distance(i, j int, touches []contact, joinMM float64) apart {
	a, b := r.traces[i], r.traces[j]
	out := apart{i: i, j: j, allowed: math.Inf(1), sure: math.Inf(1)}
	for n, c := range touches {
		std := math.Sqrt(float64(a.std*a.std) + float64(b.std*b.std) + c.aheadVar)
		if n > 0 && c.straight-c.ahead >= out.allowed+float64(apartStds*std) {
			continue
		}
		needs := needs(a.at.limitsOf(body.FactSpacing), float64(r.sureStds()*std), 0)
		needs = append(needs, joinMM+float64(r.closeStds()*std)+justAboveMM)
		slices.Sort(needs)
		g := span{lo: c.straight, hi: a.at.along(c)}
		if further(needs, c.ahead, g) {
			x := a.narrow(a.part(c.endA), b.part(c.endB), g.lo, ahead(needs, c.ahead))
			g.lo, g.hi, g.doubt = x.lo, max(x.lo, min(g.hi, x.hi)), x.doubt
		}
		if n == 0 {
			out.straight, out.least, out.seen, out.doubt = c.straight, g.lo, max(g.hi, asTaken(a, b)), g.doubt
		}
		d := g.lo - c.ahead
		out.of = append(out.of, nearby{max(0, d), std})
		out.sure = min(out.sure, d-float64(r.closeStds()*std))
		if d < out.allowed {
			out.allowed, out.std, out.endI, out.endJ = d, std, c.a.end, c.b.end
		}
	}
	out.allowed = max(0, out.allowed)
	return out
}

// asTaken is how far two traces are from each other by the ways taken, along the
// surface; 0 where no other way of one may lead nearer to the other.
func asTaken(a, b *trace) float64 {
	if len(a.curve.otherWays)+len(b.curve.otherWays) == 0 {
		return 0
	}
	return a.at.along(touch(&curve{line: a.curve.line}, &curve{line: b.curve.line}, noEnd, noEnd))
}

// further says that a need lies within an interval.
func further(needs []float64, aheadMM float64, g span) bool {
	for _, n := range needs {
		if n += aheadMM; g.lo < n && n <= g.hi {
			return true
		}
	}
	return false
}

// ahead is the needs with an allowance added.
func ahead(needs []float64, aheadMM float64) []float64 {
	out := make([]float64, len(needs))
	for i, n := range needs {
		out[i] = n + aheadMM
	}
	return out
}

// part is a finding on the surface: all of it, or one end.
func (t *trace) part(end int) [][]mesh.Site {
	if end == noEnd {
		return t.places()
	}
	return t.endPlaces(end)
}

// oppositeFaces notes two cracks that lie on the two sides of one wall and are
// not said to be one.
func (r *run) oppositeFaces(d apart) {
	t := r.traces[d.i]
	wall := float64(t.at.Of.Wall)
	if d.straight > 1.5*wall || d.seen <= float64(vehicle.JumpTimes*d.straight)+float64(jumpWalls*wall) {
		return
	}
	a, b := r.found[d.i].ID, r.found[d.j].ID
	r.note(diag.Say("inspect.opposite-face", "{finding} and {other} lie on the two sides of the wall, {apart} apart through the metal", a, b, long(d.straight)).Note(diag.Note{Severity: diag.Caution, Where: string(a), Hint: "say other_face_of if they are one crack through the wall"}))
}
