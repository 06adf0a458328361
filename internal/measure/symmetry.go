package measure

import (
	"math"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// symmetry adds a row per axis for every pair of twins: x and z of both sides
// alike, y opposite, apart from what the nominal places already differ by. The
// rows are a check beside the adjustment: they change no position and no
// verdict, because damage that is the same on both sides satisfies them.
//
// With m the misclosure of a pair, u its standard uncertainty from the
// readings and s that of the symmetry, the row has the residual
// s^2/(u^2+s^2) m, the redundancy number s^2/(u^2+s^2) and w = m/sqrt(u^2+s^2):
// those it would have if it were the only one added.
func (p *problem) symmetry(e *epoch, c *candidate, a *Adjustment) {
	s := p.in.Symmetry
	if !(s > 0) || math.IsInf(s, 1) {
		return
	}
	for i := range p.in.Points {
		j, ok := p.index[p.in.Points[i].Mirror]
		if !ok || !e.has(i) || !e.has(j) || j <= i {
			continue
		}
		left, right := e.slot[i], e.slot[j]
		if !c.cov[left].Finite() || !c.cov[right].Finite() {
			continue
		}
		cross := c.fit.ShiftCross(p.in.Points[i].At(), p.in.Points[j].At(), c.steady.Has(left), c.steady.Has(right))
		worst := 0.0
		for axis, sign := range (geom.Vec{-1, 1, -1}) {
			m := c.shift[right][axis] + float64(sign*c.shift[left][axis])
			u2 := math.Max(0, c.cov[left][axis][axis]+c.cov[right][axis][axis]+float64(2*sign*cross[axis][axis]))
			share := s * s / (u2 + float64(s*s))
			o := p.observation(rowSource{none, i, j, "symmetry " + axisName[axis], s}, share*m, share)
			worst = math.Max(worst, math.Abs(o.W))
			a.Observations = append(a.Observations, o)
		}
		if worst > criticalNormal {
			where := joinIDs(p.ids([]int{i, j}))
			p.note(diag.Info, where, diag.Say("measure.not-symmetric", "the two sides have moved differently (w = {worst:.1f})", worst), "one side has moved, or one nominal place is wrong")
		}
	}
}
