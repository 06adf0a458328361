package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/normal"
	"fettle/internal/rule"
)

// Names of the facts whose limits say how closely a clearance has to be known.
const (
	factBore    = "bore_clearance"
	factBorder  = "border_clearance"
	factEdge    = "edge_clearance"
	factJoint   = "joint_clearance"
	factEarlier = "earlier_clearance"
	factSpacing = "spacing"
)

// target is something a finding is held away from.
type target struct {
	name  string
	bound nearness             // lower bound on the distance of a segment from it [mm]
	lines func() [][]mesh.Site // it on the surface; asked for only when the bounds do not decide
	std   float64              // standard uncertainty of where it lies, beside the mesh [mm]
}

// limitsOf is the limits a procedure holds a fact against, ascending.
func (p *place) limitsOf(fact string) []float64 {
	if p.rule == nil {
		return nil
	}
	return limitsIn(p.rule, fact, func(body.Row) bool { return true })
}

// limitsIn is the limits in millimetres that the rows of a procedure that count
// hold a fact against, ascending, each once.
func limitsIn(p *body.Procedure, fact string, counts func(body.Row) bool) []float64 {
	var out []float64
	for _, row := range p.Rows {
		text, ok := row.When[fact]
		if !ok || !counts(row) {
			continue
		}
		c, err := rule.ParseCond(fact, rule.Number, "mm", text)
		if err != nil {
			continue // the body's validation refuses it; the row can never permit
		}
		for _, b := range []rule.Bound{c.Low, c.High} {
			if b.Set {
				out = append(out, b.At)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// sureStds is how many standard uncertainties a distance has to be above a
// limit before nothing more is asked of it: so many that a hundred of them
// together do not miss it.
func (r *run) sureStds() float64 { return max(2*nearStds, normal.Quantile(1-(1-r.confidence)/100)) }

// clearTo is the clearance of a finding to the nearest of several targets.
//
// Bounds come first: the straight distance is a lower bound. Where a limit of
// the procedure on that fact lies above it, the way along the surface is
// bounded by mesh.CurveDistance, which is exact where the bounds leave the
// limit open. What is held against the limit is always the lower bound. A
// target enters with all of the finding and with each end that may run on: one that
// is a little farther and far less certain than the nearest stays among the
// elements.
func (r *run) clearTo(t *trace, fact string, targets []target) *Clearance {
	type candidate struct {
		target
		by    []reach
		least reach
		std   float64
	}
	var all []candidate
	for _, x := range targets {
		by := t.curve.reaches(x.bound)
		all = append(all, candidate{x, by, leastOf(by), elem.Hypot(elem.Hypot(t.std, t.meshStd()), x.std)})
	}
	slices.SortStableFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.least.allowed, b.least.allowed), cmp.Compare(a.least.seen, b.least.seen))
	})
	var out []*Clearance
	best := math.Inf(1)
	for _, x := range all {
		if !slices.ContainsFunc(elements(x.name, x.by, x.std), func(e Element) bool { return e.mayMatter(best) }) {
			continue
		}
		c := r.along(t, x.target, x.by, x.std, t.at.limitsOf(fact))
		out, best = append(out, c), min(best, c.MM)
	}
	if out == nil {
		return nil
	}
	return withElements(out)
}

// along bounds the way along the surface from a finding to a target, as
// closely as the limits ask.
func (r *run) along(t *trace, x target, by []reach, std float64, limits []float64) *Clearance {
	c := leastOf(by).clearance(x.name, std)
	c.Of = elements(x.name, by, std)
	near := func(e Element) bool { return e.MM < limits[len(limits)-1]+float64(r.sureStds()*e.Std) }
	if len(limits) == 0 || x.lines == nil || by[0].seen <= 0 || !slices.ContainsFunc(c.Of, near) {
		return c // nothing more is looked for
	}
	lines := x.lines()
	whole := t.narrow(t.places(), lines, by[0].seen, needs(limits, float64(r.sureStds()*std), 0))
	c.SeenMM, c.UpperMM, c.Doubt = whole.lo, whole.hi, whole.doubt
	c.Of[0].MM = whole.lo
	for i, e := range c.Of[1:] {
		ahead := by[i+1].ahead
		g := t.narrow(t.endPlaces(e.end), lines, t.curve.fromEnd(e.end, x.bound), needs(limits, float64(r.sureStds()*e.Std), ahead))
		c.Of[i+1].MM = max(0, g.lo-ahead)
	}
	least := leastElement(c.Of)
	c.MM, c.Std = least.MM, least.Std
	if math.IsInf(c.UpperMM, 1) {
		c.UpperMM = 0
	}
	return c
}

// needs is the distances at which a way along the surface has to be decided:
// the limits, each with the guard and what may lie ahead of a tip.
func needs(limits []float64, guard, ahead float64) []float64 {
	out := make([]float64, len(limits))
	for i, l := range limits {
		out[i] = l + guard + ahead
	}
	return out
}

// span is an interval for a distance along the surface [mm].
type span struct {
	lo, hi float64
	doubt  string
}

// closeMM is how narrow the interval of a distance is made that is below a
// limit: a tenth of a millimetre is less than anybody traces.
const closeMM = 0.1

// narrow bounds the distance along the surface from the nearest of several curves to
// the nearest of several lines. lo is a lower bound that is known already. It is
// decided at every need, ascending; below the largest of them the interval is narrowed
// to closeMM.
func (t *trace) narrow(from, lines [][]mesh.Site, lo float64, needs []float64) span {
	best := span{lo: math.Inf(1), hi: math.Inf(1)}
	for _, curve := range from {
		for _, line := range lines {
			g := t.at.cautious(t.at.interval(curve, line, lo, needs), lo, curve, line)
			best.lo, best.hi = min(best.lo, g.lo), min(best.hi, g.hi)
			if g.doubt != "" {
				best.doubt = g.doubt
			}
		}
	}
	if len(lines) == 0 {
		best.lo = lo
	}
	return best
}

func (p *place) interval(a, b []mesh.Site, lo float64, needs []float64) span {
	g := span{lo: lo, hi: math.Inf(1)}
	ask := func(need float64) bool {
		c, err := p.clearanceOf(a, b, need)
		if err != nil {
			g.doubt = "the way along the surface was not found (" + err.Error() + "); the straight distance counts"
			return false
		}
		g.lo, g.hi = max(g.lo, c.LowerMM), min(g.hi, c.UpperMM)
		if c.Doubt != "" && !c.AtLeast && !c.Below {
			g.doubt = c.Doubt
		}
		return c.AtLeast || c.Below
	}
	for _, need := range needs {
		if g.lo < need && need <= g.hi && !ask(need) {
			return g
		}
	}
	for n := 0; n < 8 && len(needs) > 0 && g.hi < needs[len(needs)-1] && g.hi-g.lo > closeMM; n++ {
		if !ask((g.lo + g.hi) / 2) {
			break
		}
	}
	return g
}

// places is the finding on the surface, place by place along every way it may take
// through its points, so that nothing else is found between two of them.
func (t *trace) places() [][]mesh.Site {
	var out [][]mesh.Site
	for _, l := range t.curve.lines() {
		line := make([]mesh.Site, len(l.pts))
		for i, p := range l.pts {
			line[i] = t.at.surf.SiteAt(p, l.faces[min(i, len(l.faces)-1)])
		}
		out = append(out, line)
	}
	return out
}

// endPlaces is where its first (0) or last (1) point may lie, each alone.
func (t *trace) endPlaces(k int) [][]mesh.Site {
	var out [][]mesh.Site
	for _, x := range t.curve.ends(k) {
		out = append(out, []mesh.Site{t.at.surf.SiteAt(x.p, x.face)})
	}
	return out
}

// lineStepMM is how densely a line given in vehicle axes is put on the surface.
const lineStepMM = 4.0

// onSurface puts a line on the surface, on both sides of the wall: nobody says
// on which face a joint or an earlier weld was drawn. Where the surface does
// not lead on from point to point the line is broken. Points that are not near
// the surface are left out; all is false when there are any.
func (g *grounded) onSurface(line []geom.Vec, gateMM float64) (out [][]mesh.Site, all bool) {
	dense := denser(line, lineStepMM)
	all = true
	var front, back []mesh.Site
	for _, q := range dense {
		site, d := g.surf.Closest(q)
		if d > gateMM {
			all = false
			continue
		}
		front = append(front, site)
		n := g.surf.Mesh().FaceNormal(site.Face)
		if o, _, ok := g.surf.ClosestFacing(q, n.Scale(-1), oppositeAngle, gateMM+float64(1.5*float64(g.casting.Wall))); ok {
			back = append(back, o)
		}
	}
	return append(g.broken(front), g.broken(back)...), all
}

// broken cuts a chain of sites where the next is not near along the surface.
func (g *grounded) broken(chain []mesh.Site) [][]mesh.Site {
	var out [][]mesh.Site
	for i, s := range chain {
		if i > 0 && chain[i-1].At.Dist(s.At) <= 2*lineStepMM {
			if w, err := g.way(chain[i-1], s); err == nil && w.LengthMM <= float64(jumpTimes*w.ChordMM)+1 {
				out[len(out)-1] = append(out[len(out)-1], s)
				continue
			}
		}
		out = append(out, []mesh.Site{s})
	}
	return out
}

// denser adds points so that none is farther from the next than stepMM.
func denser(line []geom.Vec, stepMM float64) []geom.Vec {
	var out []geom.Vec
	for i, p := range line {
		if i > 0 {
			n := int(math.Ceil(line[i-1].Dist(p) / stepMM))
			for k := 1; k < n; k++ {
				out = append(out, line[i-1].Lerp(p, float64(k)/float64(n)))
			}
		}
		out = append(out, p)
	}
	return out
}

// fixed makes a target of lines that lie on the surface.
func fixed(name string, lines [][]mesh.Site, std float64) target {
	at := make([][]geom.Vec, len(lines))
	for i, l := range lines {
		for _, site := range l {
			at[i] = append(at[i], site.At)
		}
	}
	return target{name: name, std: std, lines: func() [][]mesh.Site { return lines }, bound: geom.NewLines(at).Nearer}
}

// LineGateMM is how far a point of a joint or an edge may be off the surface of
// its casting.
func LineGateMM(c body.Casting) float64 { return max(leastGateMM, float64(c.Wall)) }

// lineTargets makes targets of lines of the body or the job, and names those
// whose place is not known.
func (g *grounded) lineTargets(names []string, lines [][][]geom.Vec, stds []float64) (out []target, missing []string) {
	for i, name := range names {
		if len(lines[i]) == 0 {
			missing = append(missing, name+" (its place is not in the data)")
			continue
		}
		var on [][]mesh.Site
		all := true
		for _, l := range lines[i] {
			sites, whole := g.onSurface(l, LineGateMM(*g.casting))
			on, all = append(on, sites...), all && whole
		}
		if !all || len(on) == 0 {
			missing = append(missing, name+" (its line does not lie on the casting)")
			continue
		}
		out = append(out, fixed(name, on, stds[i]))
	}
	return out, missing
}

func (t *trace) bores() []target {
	var out []target
	wall := float64(t.at.casting.Wall)
	for _, b := range t.at.casting.Bores {
		out = append(out, target{name: b.ID, std: max(0, float64(b.Std)),
			bound: func(best float64, p, q geom.Vec) float64 { return min(best, rimApart(b, wall, p, q)) },
			lines: func() [][]mesh.Site { return t.at.rim(b) }})
	}
	return out
}

// borderLines is the borders to a label as lines on the surface, those that
// come near a finding.
func (t *trace) borderLines(own func(int32) bool, other int32, reachMM float64) [][]mesh.Site {
	var near [][2]geom.Vec
	var ways [][]geom.Vec
	for _, l := range t.curve.lines() {
		ways = append(ways, l.pts)
	}
	line := geom.NewLines(ways)
	for _, e := range t.at.outlook().borders {
		if (e.a == other && own(e.b) || e.b == other && own(e.a)) && line.Nearer(math.Inf(1), e.p, e.q) <= reachMM {
			near = append(near, [2]geom.Vec{e.p, e.q})
		}
	}
	var out [][]mesh.Site
	for _, c := range chains(near) {
		var line []mesh.Site
		for _, q := range c {
			s, _ := t.at.surf.Closest(q)
			line = append(line, s)
		}
		out = append(out, line)
	}
	return out
}

// chains joins segments that share ends to polylines.
func chains(segments [][2]geom.Vec) [][]geom.Vec {
	used := make([]bool, len(segments))
	ends := map[geom.Vec][]int{}
	for i, s := range segments {
		ends[s[0]] = append(ends[s[0]], i)
		ends[s[1]] = append(ends[s[1]], i)
	}
	next := func(at geom.Vec) (geom.Vec, bool) {
		for _, i := range ends[at] {
			if used[i] {
				continue
			}
			used[i] = true
			if segments[i][0] == at {
				return segments[i][1], true
			}
			return segments[i][0], true
		}
		return at, false
	}
	var out [][]geom.Vec
	for i, s := range segments {
		if used[i] {
			continue
		}
		used[i] = true
		line := []geom.Vec{s[0], s[1]}
		for range 2 { // on from one end, then from the other
			for {
				p, ok := next(line[len(line)-1])
				if !ok {
					break
				}
				line = append(line, p)
			}
			slices.Reverse(line)
		}
		out = append(out, line)
	}
	return out
}

// freeEdges is the edges of a mesh that one face has.
func freeEdges(m *mesh.Mesh) [][2]geom.Vec {
	of, n := m.EdgeOf()
	count := make([]int32, n)
	for _, e := range of {
		count[e]++
	}
	var out [][2]geom.Vec
	for f, t := range m.Faces {
		for k := range 3 {
			if count[of[3*f+k]] == 1 {
				out = append(out, [2]geom.Vec{m.Points[t[k]], m.Points[t[(k+1)%3]]})
			}
		}
	}
	return out
}

func missingText(what string, missing []string) string {
	return fmt.Sprintf("distance to the nearest %s: not known for %s", what, joinWords(missing))
}
