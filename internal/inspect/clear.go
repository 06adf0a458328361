package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// boreWalls is how far a bore's axis reaches to either side of its given
// centre, in walls. Our choice, no source: a boss is higher than the wall, and
// the centre may be given at either end of it.
const boreWalls = 3.0

// clearances says how near a finding is to bores, edges, joints and repairs
// done before. A casting without bores in its data has no answer for bores: the
// list may just not have been published.
func (r *run) clearances(f *Finding, t *trace) {
	if f.Bore = r.clearTo(t, factBore, t.bores()); f.Bore != nil {
		f.because("%s", clearanceText(*f.Bore, "the rim of bore "))
	}
	r.edgeClearance(f, t)
	r.clearance(f, t, factJoint, "joint", t.at.jointsOf(), &f.Joint)
	r.clearance(f, t, factEarlier, "earlier repair", r.earlier(t.at), &f.Earlier)
}

// clearance fills in the clearance to one kind of lines; it stays unknown while
// the place of one of them is.
func (r *run) clearance(f *Finding, t *trace, fact, what string, lines *fixtures, into **Clearance) {
	switch {
	case len(lines.missing) > 0:
		if len(t.at.limitsOf(fact)) > 0 {
			f.Unknown = append(f.Unknown, missingText(what, lines.missing))
		}
	case len(lines.targets) == 0:
		*into = t.at.none()
	default:
		*into = r.clearTo(t, fact, lines.targets)
		f.because("%s", clearanceText(**into, what+" "))
	}
}

// earlier is the repairs done before this job in the casting's zones.
func (r *run) earlier(p *place) *fixtures {
	if p.repairs == nil {
		var names []string
		var lines [][][]geom.Vec
		var stds []float64
		for i, e := range r.in.Job.Earlier {
			if slices.ContainsFunc(p.casting.Zones, func(z body.Zone) bool { return z.ID == e.Zone }) {
				names = append(names, fmt.Sprintf("%d in zone %s", i+1, e.Zone))
				stds = append(stds, float64(e.Std))
				if len(e.Trace) == 0 {
					lines = append(lines, nil)
				} else {
					lines = append(lines, [][]geom.Vec{e.Trace})
				}
			}
		}
		p.repairs = &fixtures{}
		p.repairs.targets, p.repairs.missing = p.lineTargets(names, lines, stds)
		if !r.in.Job.RepairsKnown(p.casting.ID) {
			p.repairs.missing = append(p.repairs.missing, "others: nobody has said that the casting was looked over for them")
		}
	}
	return p.repairs
}

// rimApart is the distance of a segment from the rim of a bore [mm], not below
// 0: the distance from the axis less the radius. Without an axis the centre is
// taken to lie up to one wall above or below the surface.
func rimApart(b body.Bore, wall float64, p, q geom.Vec) float64 {
	half := b.Axis.Unit().Scale(boreWalls * wall)
	d := geom.SegmentsDist(p, q, b.At.Sub(half), b.At.Add(half))
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
	margin, ahead, why := r.lineMargin(t, l)
	out := LineSide{Line: l.ID, MarginMM: margin, NeedMM: float64(l.Margin)}
	out.Std = math.Hypot(math.Hypot(t.std, t.meshStd()), hiddenStd(ahead))
	for _, p := range t.curve.pts {
		if !l.Within.Contains(p) {
			f.because("section line %s does not reach there", l.ID)
			return out
		}
	}
	if why != "" {
		f.because("section line %s: %s", l.ID, why)
		return out
	}
	need := out.NeedMM + float64(quantile(r.confidence)*out.Std)
	out.Outboard = margin >= need
	state := "not surely outboard of"
	if out.Outboard {
		state = "outboard of"
	}
	f.because("%s section line %s: margin %s with standard uncertainty %s, %s needed", state, l.ID, mm(margin), mm(out.Std), mm(out.NeedMM))
	return out
}

// lineMargin is the least distance of a crack on the outboard side of a line,
// of all its planes, and the tip allowance in it; why says why there is none.
func (r *run) lineMargin(t *trace, l body.Line) (margin, ahead float64, why string) {
	if len(l.Curve) > 0 {
		p, err := t.at.parted(l)
		switch {
		case err != nil:
			return 0, 0, err.Error()
		case !p.Section.Divides:
			return 0, 0, "it does not divide the casting: " + strings.Join(p.Section.Reasons, "; ")
		}
		margin, ahead = p.margin(&t.curve)
		return margin, ahead, ""
	}
	margin = math.Inf(1)
	for _, c := range l.Cuts() {
		if c.Normal.Norm() == 0 {
			return 0, 0, "a plane of it has no direction"
		}
		if d, a := t.curve.margin(c.Normal, float64(c.Offset)); d < margin {
			margin, ahead = d, a
		}
	}
	return margin, ahead, ""
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
