package inspect

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// boreWalls is how far a bore's axis reaches to either side of its given
// centre, in walls. Our choice, no source: a boss is higher than the wall, and
// the centre may be given at either end of it.
const boreWalls = 3.0

// bore finds the bore whose rim is nearest to the finding. A casting without
// bores in its data has no answer: the list may just not have been published.
func (t *trace) bore(f *Finding) {
	std := math.Hypot(t.std, t.meshStd())
	for _, b := range t.at.casting.Bores {
		d := t.curve.least(func(p, q geom.Vec) float64 { return rimApart(b, float64(t.at.casting.Wall), p, q) })
		if f.Bore == nil || d.allowed < f.Bore.MM {
			f.Bore = d.clearance(b.ID, std)
		}
	}
	if f.Bore != nil {
		f.because("%s", clearanceText(*f.Bore, "the rim of bore "))
	}
}

// rimApart is the distance of a segment from the rim of a bore [mm], not below
// 0: the distance from the axis less the radius. Without an axis the centre is
// taken to lie up to one wall above or below the surface.
func rimApart(b body.Bore, wall float64, p, q geom.Vec) float64 {
	half := b.Axis.Unit().Scale(boreWalls * wall)
	d := segmentsApart(p, q, b.At.Sub(half), b.At.Add(half))
	if half == (geom.Vec{}) {
		d = math.Sqrt(max(0, float64(d*d)-float64(wall*wall)))
	}
	return max(0, d-float64(b.Radius))
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
	margin, ahead := t.curve.margin(l.Normal, float64(l.Offset))
	out := LineSide{Line: l.ID, MarginMM: margin, NeedMM: float64(l.Margin)}
	out.Std = math.Hypot(math.Hypot(t.std, t.meshStd()), hiddenStd(ahead))
	for _, p := range t.curve.pts {
		if !l.Within.Contains(p) {
			f.because("section line %s does not reach there", l.ID)
			return out
		}
	}
	need := out.NeedMM + float64(quantile(r.confidence)*out.Std)
	out.Outboard = l.Normal.Norm() > 0 && margin >= need
	state := "not surely outboard of"
	if out.Outboard {
		state = "outboard of"
	}
	f.because("%s section line %s: margin %s with standard uncertainty %s, %s needed", state, l.ID, mm(margin), mm(out.Std), mm(out.NeedMM))
	return out
}

// margin is the least distance on the outboard side of the plane n.x = offset
// (n of any length, offset scales with it), and the tip allowance in it. A tip
// that may run on is taken to run straight at the plane.
func (c *curve) margin(n geom.Vec, offset float64) (mm, ahead float64) {
	length := n.Norm()
	if !(length > 0) {
		return 0, 0
	}
	of := func(p geom.Vec) float64 { return (offset - n.Dot(p)) / length }
	mm = of(c.pts[0])
	for _, p := range c.pts {
		mm = min(mm, of(p))
	}
	for k, a := range c.ahead {
		if m := of(c.end(k)) - a; a > 0 && m < mm {
			mm, ahead = m, a
		}
	}
	return mm, ahead
}

// quantile is the value a standard normal variable stays below with the given
// probability.
func quantile(probability float64) float64 {
	return math.Sqrt2 * math.Erfinv(float64(2*probability)-1)
}
