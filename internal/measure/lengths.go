package measure

import (
	"fmt"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/job"
)

// Lengths alone have several solutions: a point may lie on either side of what it
// was measured from, and a few points that moved far leave other forms that fit as
// well. The adjustment finds the one nearest to where it started.

// maxForms is how many points the other forms of a network are looked for in.
const maxForms = 60

// otherSolutions says why a result from lengths alone is not the only one, when it
// has anything moved: a small set of points explains the lengths by itself, or
// another form fits them.
func (p *problem) otherSolutions(e *epoch, c *candidate) []string {
	moved := 0
	for _, m := range c.moved {
		if m {
			moved++
		}
	}
	if e.base != none || moved == 0 || len(e.points) > maxForms {
		return nil
	}
	if set, ok := p.smallSet(e, c, moved); ok {
		if len(set) == 0 {
			return []string{"every length agrees with nothing having moved"}
		}
		return []string{"the lengths fit as well if only " + joinIDs(p.ids(set)) + " moved"}
	}
	if i, by := p.otherForm(e); i != none {
		return []string{fmt.Sprintf("the lengths fit as well with %s elsewhere by %.0f mm: lengths alone do not say on which side it lies", p.id(e.points[i]), by)}
	}
	return nil
}

// smallSet is a set of none, one or two points, other than those called moved and
// no more of them, without whose lengths all others agree with the nominal places.
func (p *problem) smallSet(e *epoch, c *candidate, moved int) ([]int, bool) {
	sets := [][]int{nil}
	for a := range e.points {
		sets = append(sets, []int{a})
	}
	for a := range e.points {
		for b := a + 1; b < len(e.points); b++ {
			sets = append(sets, []int{a, b})
		}
	}
	for _, set := range sets {
		if len(set) <= moved && p.lengthsAgree(e, set) && !sameAsMoved(c, set, moved) {
			var points []int
			for _, i := range set {
				points = append(points, e.points[i])
			}
			return points, true
		}
	}
	return nil, false
}

func sameAsMoved(c *candidate, set []int, moved int) bool {
	for _, i := range set {
		if !c.moved[i] {
			return false
		}
	}
	return len(set) == moved
}

// lengthsAgree says that the lengths between points outside a set are those
// between the nominal places, at AlphaBlock.
func (p *problem) lengthsAgree(e *epoch, set []int) bool {
	chi2, dof := 0.0, 0
	for k := range p.spans {
		s := &p.spans[k]
		if s.kind != job.ReadLength || !p.spanUsable(e, s) || slices.Contains(set, e.slot[s.from]) || slices.Contains(set, e.slot[s.to]) {
			continue
		}
		d := s.value - p.in.Points[s.from].At().Dist(p.in.Points[s.to].At())
		chi2 += d * d / (float64(s.std*s.std) + float64(p.std0[s.from]*p.std0[s.from]) + float64(p.std0[s.to]*p.std0[s.to]))
		dof++
	}
	return dof > 0 && geom.ChiSquareTail(chi2, dof) >= geom.AlphaBlock
}

// otherForm is a point that may lie elsewhere with all lengths as they are, and by
// how much: the network is adjusted again from every point mirrored in the plane
// of the points that it was measured from. -1 when there is none.
func (p *problem) otherForm(e *epoch) (int, float64) {
	nw := p.network(e, allSpans)
	nw.Free = true
	first, err := nw.Adjust()
	if err != nil {
		return none, 0
	}
	for i := range e.points {
		if by := p.foldOf(e, first, i); by > 0 {
			return i, by
		}
	}
	return none, 0
}

// mirroredIn is point i mirrored in the plane nearest to the points that it was
// measured from; false when they lie on one line.
func mirroredIn(nw *network, at []geom.Vec, i int) (geom.Vec, bool) {
	var from []geom.Vec
	for k := range nw.Obs {
		switch i {
		case nw.Obs[k].A:
			from = append(from, at[nw.Obs[k].B])
		case nw.Obs[k].B:
			from = append(from, at[nw.Obs[k].A])
		}
	}
	if len(from) < 3 {
		return geom.Vec{}, false
	}
	var mid geom.Vec
	for _, q := range from {
		mid = mid.Add(q.Scale(1 / float64(len(from))))
	}
	var spread geom.Mat3
	for _, q := range from {
		spread = spread.Add(geom.Outer(q.Sub(mid), q.Sub(mid)))
	}
	lam, axes := geom.SymEigen(spread)
	if !(lam[1] > 0) {
		return geom.Vec{}, false
	}
	normal := geom.Vec{axes[0][2], axes[1][2], axes[2][2]}
	return at[i].Sub(normal.Scale(2 * normal.Dot(at[i].Sub(mid)))), true
}
