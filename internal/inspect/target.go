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
	"fettle/internal/vehicle"
)

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
func (r *run) clearTo(t *trace, fact string, targets []vehicle.Target) *Clearance {
	type candidate struct {
		vehicle.Target
		by    []reach
		least reach
		std   float64
	}
	var all []candidate
	near := make([]nearness, len(targets))
	for i, x := range targets {
		near[i] = x.Bound
	}
	to := t.reachesTo(fact, near)
	for i, x := range targets {
		by := to[i]
		all = append(all, candidate{x, by, leastOf(by), elem.Hypot(elem.Hypot(t.std, t.meshStd()), x.Std)})
	}
	slices.SortStableFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.least.allowed, b.least.allowed), cmp.Compare(a.least.seen, b.least.seen))
	})
	var out []*Clearance
	best := math.Inf(1)
	for _, x := range all {
		if !slices.ContainsFunc(elements(x.Name, x.by, x.std), func(e Element) bool { return e.mayMatter(best) }) {
			continue
		}
		c := r.along(t, x.Target, x.by, x.std, t.at.limitsOf(fact))
		out, best = append(out, c), min(best, c.MM)
	}
	if out == nil {
		return nil
	}
	return withElements(out)
}

// reachesTo is reaches of the targets of one fact. Those of the casting itself are always
// the same ones for a fact, of edges with those found on the mesh or without; repairs done
// before are the job's.
func (t *trace) reachesTo(fact string, near []nearness) [][]reach {
	if fact != body.FactEarlier {
		return t.reachesOf(fmt.Sprint(fact, len(near)), near)
	}
	out := make([][]reach, len(near))
	for i, n := range near {
		out[i] = t.curve.reaches(n)
	}
	return out
}

// along bounds the way along the surface from a finding to a target, as
// closely as the limits ask.
func (r *run) along(t *trace, x vehicle.Target, by []reach, std float64, limits []float64) *Clearance {
	c := leastOf(by).clearance(x.Name, std)
	c.Of = elements(x.Name, by, std)
	near := func(e Element) bool { return e.MM < limits[len(limits)-1]+float64(r.sureStds()*e.Std) }
	if len(limits) == 0 || x.Lines == nil || by[0].seen <= 0 || !slices.ContainsFunc(c.Of, near) {
		return c // nothing more is looked for
	}
	lines := x.Lines()
	whole := t.narrow(t.places(), lines, by[0].seen, needs(limits, float64(r.sureStds()*std), 0))
	c.SeenMM, c.UpperMM, c.Doubt = whole.lo, whole.hi, whole.doubt
	c.Of[0].MM = whole.lo
	for i, e := range c.Of[1:] {
		ahead := by[i+1].ahead
		g := t.narrow(t.endPlaces(e.end), lines, t.curve.fromEnd(e.end, x.Bound), needs(limits, float64(r.sureStds()*e.Std), ahead))
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
		c, err := p.Clearance(a, b, need)
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
			line[i] = t.at.Surface.SiteAt(p, l.faces[min(i, len(l.faces)-1)])
		}
		out = append(out, line)
	}
	return out
}

// endPlaces is where its first (0) or last (1) point may lie, each alone.
func (t *trace) endPlaces(k int) [][]mesh.Site {
	var out [][]mesh.Site
	for _, x := range t.curve.ends(k) {
		out = append(out, []mesh.Site{t.at.Surface.SiteAt(x.p, x.face)})
	}
	return out
}

// borderLines is the borders to a label as lines on the surface, those that
// come near a finding.
func (t *trace) borderLines(own func(int32) bool, other int32, reachMM float64) [][]mesh.Site {
	var ways [][]geom.Vec
	for _, l := range t.curve.lines() {
		ways = append(ways, l.pts)
	}
	line := geom.NewLines(ways)
	return t.at.BorderLines(func(a, b int32, p, q geom.Vec) bool {
		return (a == other && own(b) || b == other && own(a)) && line.Nearer(math.Inf(1), p, q) <= reachMM
	})
}

func missingText(what string, missing []string) string {
	return fmt.Sprintf("distance to the nearest %s: not known for %s", what, joinWords(missing))
}
