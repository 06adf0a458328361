package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/rule"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// clearances says how near a finding is to bores, edges, joints and repairs
// done before. A casting without bores in its data has no answer for bores: the
// list may just not have been published.
func (r *run) clearances(f *Finding, t *trace) {
	if f.Bore = r.clearTo(t, body.FactBore, t.at.Bores()); f.Bore != nil {
		f.because("%s", clearanceText(*f.Bore, "the rim of bore "))
	}
	r.edgeClearance(f, t)
	r.clearance(f, t, body.FactJoint, "joint", t.at.Joints(), &f.Joint)
	r.clearance(f, t, body.FactEarlier, "earlier repair", r.earlier(t.at), &f.Earlier)
}

// clearance fills in the clearance to one kind of lines; it stays unknown while
// the place of one of them is.
func (r *run) clearance(f *Finding, t *trace, fact, what string, lines *vehicle.Fixtures, into **Clearance) {
	switch {
	case len(lines.Missing) > 0:
		if len(t.at.limitsOf(fact)) > 0 {
			f.Unknown = append(f.Unknown, missingText(what, lines.Missing))
		}
	case len(lines.Targets) == 0:
		*into = t.at.none()
	default:
		*into = r.clearTo(t, fact, lines.Targets)
		f.because("%s", clearanceText(**into, what+" "))
	}
}

// earlier is the repairs done before this job that may lie on the casting.
func (r *run) earlier(p *place) *vehicle.Fixtures {
	if p.repairs == nil {
		var names []string
		var lines [][][]geom.Vec
		var stds []float64
		for i, e := range r.in.Job.Earlier {
			if slices.Contains(r.res.Earlier[i].Castings, p.Of.ID) {
				names = append(names, fmt.Sprintf("%d in zone %s", i+1, e.Zone))
				stds = append(stds, float64(e.Std))
				if len(e.Trace) == 0 {
					lines = append(lines, nil)
				} else {
					lines = append(lines, [][]geom.Vec{e.Trace})
				}
			}
		}
		p.repairs = p.Lay(names, lines, stds)
		if why := r.in.Job.RepairsUnknown(p.Of.ID, r.in.Shop, r.in.acts()); why != "" {
			p.repairs.Missing = append(p.repairs.Missing, "others: "+why)
		}
	}
	return p.repairs
}

// sides says for every section line of the casting whether the whole finding
// lies on the side that is taken off.
func (r *run) sides(f *Finding, t *trace) {
	for _, l := range r.in.Body.Lines {
		if l.Casting == f.Casting {
			f.Sides = append(f.Sides, r.side(f, t, l))
		}
	}
}

func (r *run) side(f *Finding, t *trace, l body.Line) LineSide {
	by, why := r.lineMargins(t, l)
	out := LineSide{Line: l.ID, NeedMM: float64(l.Margin)}
	std := elem.Hypot(t.std, t.meshStd())
	out.Std = std
	if len(by) > 0 {
		least := leastOf(by)
		out.MarginMM, out.Std = least.allowed, least.std(std)
	}
	margin := out.MarginMM
	out.Inside = t.inside(l)
	for _, way := range t.curve.lines() {
		if slices.ContainsFunc(way.pts, func(p geom.Vec) bool { return !l.Within.Contains(p) }) {
			f.because("section line %s does not reach there", l.ID)
			return out
		}
	}
	if why != "" {
		f.because("section line %s: %s", l.ID, why)
		return out
	}
	out.Reaches = true
	out.Of = elements(string(l.ID), by, std)
	for i := range out.Of {
		out.Of[i].MM = by[i].allowed
	}
	out.Outboard = Outboard(r.confidence, out)
	state := "not surely outboard of"
	if out.Outboard {
		state = "outboard of"
	}
	f.because("%s section line %s: margin %s mm (k = 2), %s needed", state, l.ID, unit.SpreadBeside(margin, 2*out.Std, out.NeedMM), full(out.NeedMM))
	return out
}

// Outboard says that all of the findings with these sides of one line lie outboard
// of it by the margin: the probabilities that any of them does not, for each plane,
// as seen and from each end that may run on, are together no more than the
// confidence allows (no independence is needed).
func Outboard(confidence float64, sides ...LineSide) bool {
	misses := 0.0
	for _, s := range sides {
		if !s.Reaches || len(s.Of) == 0 {
			return false
		}
		misses += missesOf(s.Of, s.NeedMM) + missesOf(s.Inside, 0)
		if confidence >= 1 && slices.ContainsFunc(append(slices.Clone(s.Of), s.Inside...), func(e Element) bool { return e.Std > 0 }) {
			return false // nothing is certain
		}
	}
	return len(sides) > 0 && misses <= 1-confidence
}

// missesOf is at most the probability that one of several distances is below what
// is needed.
func missesOf(all []Element, needMM float64) float64 {
	misses := 0.0
	for _, e := range all {
		switch {
		case e.Std > 0:
			misses += rule.Below(needMM, e.MM, e.Std)
		case !(e.MM >= needMM):
			misses++
		}
	}
	return misses
}

// inside is how far a finding lies inside the box of a line: from each of its six
// faces, of all of it as seen and of each end that may run on. A trace is uncertain,
// and runs on, along the surface: toward a face of the box only as far as the surface
// leads there.
func (t *trace) inside(l body.Line) []Element {
	if l.Within.Unlimited() {
		return nil
	}
	var out []Element
	for k := range 3 {
		for _, sign := range []float64{1, -1} {
			var n geom.Vec
			n[k] = sign
			wall := l.Within.Max[k]
			if sign < 0 {
				wall = -l.Within.Min[k]
			}
			leads := t.leads(n)
			for _, x := range t.curve.margins(n, wall) {
				ahead := float64(leads * x.ahead)
				std := elem.Hypot(elem.Hypot(float64(leads*t.std), t.meshStd()), hiddenStd(ahead))
				out = append(out, Element{To: string(l.ID), MM: x.allowed + x.ahead - ahead, Std: std, end: x.end})
			}
		}
	}
	return out
}

// leads is how steeply the surface along a finding leads in a direction, at most: 0
// square to it, 1 along it.
func (t *trace) leads(n geom.Vec) float64 {
	most := 0.0
	for _, way := range t.curve.lines() {
		for _, f := range way.faces {
			most = max(most, n.Cross(t.normalOf(f)).Norm())
		}
	}
	return most
}

// lineMargins is the distances of a crack on the outboard side of a line, for each
// of its planes as seen and from each end; why says why there are none.
func (r *run) lineMargins(t *trace, l body.Line) (by []reach, why string) {
	if len(l.Curve) > 0 {
		p, err := t.at.Part(l)
		switch {
		case err != nil:
			return nil, err.Error()
		case !p.Section.Divides:
			return nil, "it does not divide the casting: " + strings.Join(p.Section.Reasons, "; ")
		}
		return t.curve.marginsTo(p), ""
	}
	for _, c := range l.Cuts() {
		if c.Normal.Norm() == 0 {
			return nil, "a plane of it has no direction"
		}
		by = append(by, t.curve.margins(c.Normal, float64(c.Offset))...)
	}
	return by, ""
}

// marginsTo is the least distances of a crack from a line that divides the casting, through space: a lower
// bound on the way along the surface. It is positive only when all of the crack
// lies on what is taken off; else it is how far its farthest point lies on the
// other side. A tip that may run on is taken to run straight at the line.
func (c *curve) marginsTo(p *vehicle.Parted) []reach {
	margin, inward := math.Inf(1), 0.0
	for _, l := range c.lines() {
		for i, q := range l.pts {
			if !p.OutboardAt(q, l.faces[min(i, len(l.faces)-1)]) {
				inward = max(inward, p.LineDistance(q, q))
				margin = 0
			}
		}
	}
	if margin == 0 {
		return []reach{{seen: -inward, allowed: -inward, end: noEnd}}
	}
	for _, x := range c.segments(noEnd) {
		margin = min(margin, p.LineDistance(x.p, x.q))
	}
	out := []reach{{seen: margin, allowed: margin, end: noEnd}}
	for k, a := range c.ahead {
		if a > 0 {
			least := c.fromEnd(k, func(best float64, q, _ geom.Vec) float64 { return min(best, p.LineDistance(q, q)) })
			out = append(out, reach{seen: margin, allowed: least - a, ahead: a, end: k})
		}
	}
	return out
}

// margins is the least distances on the outboard side of the plane n.x = offset
// (n of any length, offset scales with it): of the curve as seen, and from each end
// that may run on, taken to run straight at the plane.
func (c *curve) margins(n geom.Vec, offset float64) []reach {
	length := n.Norm()
	of := func(p geom.Vec) float64 { return (offset - n.Dot(p)) / length }
	mm := math.Inf(1)
	for _, l := range c.lines() {
		for _, p := range l.pts {
			mm = min(mm, of(p))
		}
	}
	out := []reach{{seen: mm, allowed: mm, end: noEnd}}
	for k, a := range c.ahead {
		if a > 0 {
			out = append(out, reach{seen: mm, allowed: c.fromEnd(k, func(best float64, p, _ geom.Vec) float64 { return min(best, of(p)) }) - a, ahead: a, end: k})
		}
	}
	return out
}
