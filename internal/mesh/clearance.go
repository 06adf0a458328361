package mesh

import (
	"math"

	"fettle/internal/geom"
)

// Clearance is the distance along the surface between two curves, as an
// interval, and what it says about the distance asked for.
type Clearance struct {
	LowerMM, UpperMM float64
	// AtLeast says that it is proven to be no less than the distance asked for,
	// Below that it is proven to be less. Neither: Doubt says why.
	AtLeast, Below bool
	Searched       bool // the bounds did not decide; windows were carried over the surface
	Doubt          string
}

// clearanceRel is how closely the interval is closed where the answer hangs on
// it, relative to the distance asked for.
const clearanceRel = 1e-6

// CurveDistance is the clearance between the curves through the sites of a and
// of b: consecutive sites are joined by Path, a single site is a point. need is
// the distance that decides.
//
// Bounds come first: the distance through space is never more, the way along
// mesh edges never less. Where need lies between, points at equal steps of one
// curve are the sources of an exact search and points of the other its targets;
// a point of a curve is at most half a step from one of them, so the distance
// lies in [D - steps, D]. The parts that can hold the shortest way are halved
// until need is outside, or the interval is closed.
func (s *Surface) CurveDistance(a, b []Site, need float64) (Clearance, error) {
	p, err := s.curve(a)
	if err != nil {
		return Clearance{}, err
	}
	q, err := s.curve(b)
	if err != nil {
		return Clearance{}, err
	}
	if !(need >= 0) || math.IsInf(need, 1) {
		return Clearance{}, invalid("the distance asked for is not usable", "give a finite distance, 0 or more")
	}
	out := Clearance{LowerMM: chordBetween(p, q)}
	if out.UpperMM, err = s.graphDistance(p.sites(s), q.sites(s)); err != nil {
		return Clearance{}, err
	}
	if out.decide(need) {
		return out, nil
	}
	return out, s.searchClearance(p, q, need, &out)
}

// decide sets the verdict from the bounds; true when there is one.
func (c *Clearance) decide(need float64) bool {
	c.AtLeast, c.Below = c.LowerMM >= need, c.UpperMM < need
	return c.AtLeast || c.Below
}

// curve is a way along the surface, cut into parts that can be dropped.
type curve struct {
	segments []segment
}

// segment is a straight part of a curve in one face.
type segment struct {
	face int
	p, q geom.Vec
}

func (g *segment) length() float64 { return g.p.Dist(g.q) }

func (s *Surface) curve(sites []Site) (curve, error) {
	var c curve
	if len(sites) == 0 {
		return c, invalid("a curve has no points", "give at least one site")
	}
	for i, site := range sites {
		if _, err := s.anchor(site); err != nil {
			return c, err
		}
		if i == 0 {
			continue
		}
		p, err := s.Path(sites[i-1], site)
		if err != nil {
			return c, err
		}
		for k, f := range p.Faces {
			c.segments = append(c.segments, segment{f, p.Points[k], p.Points[k+1]})
		}
	}
	if len(c.segments) == 0 {
		c.segments = []segment{{sites[0].Face, sites[0].At, sites[0].At}}
	}
	return c, nil
}

// sites are the ends of the parts.
func (c *curve) sites(s *Surface) []Site {
	var out []Site
	for i := range c.segments {
		g := &c.segments[i]
		out = append(out, s.siteIn(g.face, g.p), s.siteIn(g.face, g.q))
	}
	return out
}

func (c *curve) middles(s *Surface) []Site {
	out := make([]Site, len(c.segments))
	for i := range c.segments {
		g := &c.segments[i]
		out[i] = s.siteIn(g.face, g.p.Lerp(g.q, 0.5))
	}
	return out
}

// siteIn is the site of a point known to lie in the face.
func (s *Surface) siteIn(face int, p geom.Vec) Site {
	a, b, c := s.m.corners(face)
	return s.Site(face, closestInTriangle(p, a, b, c))
}

// shorten cuts parts longer than step.
func (c *curve) shorten(step float64) {
	var out []segment
	for _, g := range c.segments {
		n := max(1, math.Ceil(g.length()/step))
		for k := 0.0; k < n; k++ {
			out = append(out, segment{g.face, g.p.Lerp(g.q, k/n), g.p.Lerp(g.q, (k+1)/n)})
		}
	}
	c.segments = out
}

func (c *curve) longest() float64 {
	l := 0.0
	for i := range c.segments {
		l = max(l, c.segments[i].length())
	}
	return l
}

// keep drops the parts whose middle is farther than limit.
func (c *curve) keep(dist []float64, limit float64) {
	var out []segment
	for i, g := range c.segments {
		if dist[i] <= limit {
			out = append(out, g)
		}
	}
	c.segments = out
}

// chordBetween is the least distance through space between two curves.
func chordBetween(p, q curve) float64 {
	boxes := make([]boxed, len(q.segments))
	for i, g := range q.segments {
		boxes[i] = boxOf(int32(i), g.p, g.q)
	}
	t, best := newTree(boxes), math.Inf(1)
	for i := range p.segments {
		g := &p.segments[i]
		mid, half := g.p.Lerp(g.q, 0.5), g.length()/2
		t.nearest(mid, func(k int32) float64 {
			h := &q.segments[k]
			d := geom.SegmentsDist(g.p, g.q, h.p, h.q)
			best = min(best, d)
			return float64((d + half) * (d + half)) // no farther from the middle than that
		})
	}
	return best
}

// maxRefine bounds the halvings of a step.
const maxRefine = 60

func (s *Surface) searchClearance(p, q curve, need float64, out *Clearance) error {
	out.Searched = true
	step := max(min(need/4, max(p.longest(), q.longest())), clearanceRel*need)
	for range maxRefine {
		p.shorten(step)
		q.shorten(step)
		reach := float64((p.longest() + q.longest()) / 2)
		sp, sq := p.middles(s), q.middles(s)
		// farther than this decides nothing: need is met then
		limit := min(out.UpperMM, need) + reach
		there, err := s.TargetDistances(sp, sq, limit)
		if err != nil {
			return err
		}
		back, err := s.TargetDistances(sq, sp, limit)
		if err != nil {
			return err
		}
		if !there.Proven || !back.Proven {
			out.Doubt = there.Doubt + back.Doubt
			return nil
		}
		best := math.Inf(1)
		for _, d := range there.Targets {
			best = min(best, d)
		}
		if math.IsInf(best, 1) { // nothing within the limit
			out.LowerMM = max(out.LowerMM, min(need, out.UpperMM))
			out.decide(need)
			return nil
		}
		out.UpperMM = min(out.UpperMM, best)
		out.LowerMM = max(out.LowerMM, min(best-reach, out.UpperMM))
		if out.decide(need) {
			return nil
		}
		if out.UpperMM-out.LowerMM <= clearanceRel*need {
			out.Doubt = "the distance asked for is met to a millionth: too close to tell"
			return nil
		}
		q.keep(there.Targets, best+reach)
		p.keep(back.Targets, best+reach)
		step /= 2
	}
	out.Doubt = "the search was stopped"
	return nil
}
