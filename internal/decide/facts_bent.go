package decide

import (
	"math"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/normal"
	"fettle/internal/rule"
)

// What a maker's limits on straightening look at: which part it is, how it is bent, how far it
// has moved, and how often it was straightened before.

// bent says that a finding is one that a part is out of shape by.
func bent(sub *subject) bool { return isBent(sub.f.Kind) }

func isBent(k body.FindingKind) bool { return k == body.Bend || k == body.Dent }

func partName(sub *subject) known {
	if sub.part == nil {
		return known{from: "the body has no part " + strconv.Quote(string(sub.f.Part))}
	}
	return known{rule.TextValue(string(sub.part.ID)), fromTheFinding}
}

// kinked: of several that count as one a kink in one is enough. What is no bend and no dent is
// not asked, but for the finding itself.
func (s *scene) kinked(sub *subject) known {
	missing := ""
	for _, o := range s.asOne(sub) {
		switch {
		case o.f.Kinked == body.Yes:
			return known{rule.BoolValue(true), fromTheFinding + about(o, sub)}
		case o.f.Kinked != body.No && (o == sub || bent(o)) && missing == "":
			missing = saysNothing + about(o, sub)
		}
	}
	if missing != "" {
		return known{from: missing}
	}
	return known{rule.BoolValue(false), fromTheFinding}
}

// outOfShape is the most of all that was read of the bends and dents that count as one. A reading
// or a depth of which nobody says how well it was measured is none.
func (s *scene) outOfShape(sub *subject) known {
	var all []rule.Value
	for _, o := range s.asOne(sub) {
		if o != sub && !bent(o) {
			continue
		}
		of := s.shapeOf(o.f)
		if len(of) == 0 {
			return known{from: saysNothing + about(o, sub)}
		}
		all = append(all, of...)
	}
	return known{rule.MostOf(all...), fromTheFinding}
}

// shapeOf is what was read of one finding: how far the part stands off its shape, and of a dent
// its depth, which is the same.
func (s *scene) shapeOf(f job.Finding) []rule.Value {
	var out []rule.Value
	for _, h := range f.Measured {
		if h.What != job.HandShape {
			continue
		}
		std, ok := h.Uncertainty(s.in.Shop)
		if !ok || !h.Value.Known {
			return nil // what was read is not known, and may be more than all else
		}
		out = append(out, positive(float64(h.Value.Value), std))
	}
	if f.Kind == body.Dent && f.Depth.Known && f.DepthStd > 0 {
		out = append(out, positive(float64(f.Depth.Value), float64(f.DepthStd)))
	}
	return out
}

// straightenedBefore is the most that any finding on the part says, whoever signed for that one;
// the finding itself has to say it.
func (s *scene) straightenedBefore(sub *subject) known {
	if !sub.f.Straight.Known {
		return known{from: saysNothing}
	}
	most, from := sub.f.Straight.Value, fromTheFinding
	for _, o := range s.in.Job.Findings {
		if o.Part == sub.f.Part && o.Straight.Known && o.Straight.Value > most {
			most, from = o.Straight.Value, "entered with "+string(o.ID)+" on the same part"
		}
	}
	if most < 0 {
		return known{from: saysNothing}
	}
	return known{rule.NumberValue(float64(most), 0, ""), from}
}

// shift is the largest shift of a control point of the part. All of them have to be measured,
// and what is said of each has to be firm.
func (s *scene) shift(sub *subject) known {
	if sub.part == nil {
		return known{from: "the body has no part " + strconv.Quote(string(sub.f.Part))}
	}
	if s.measured == nil {
		s.measured = &measure.Result{}
		if s.in.Measure != nil {
			*s.measured = s.in.Measure()
		}
	}
	var all []rule.Value
	farthest := known{}
	for _, p := range s.in.Body.Points {
		if p.Part != sub.part.ID {
			continue
		}
		v, why := s.shiftOf(p.ID)
		if why != "" {
			return known{from: why}
		}
		if len(all) == 0 || v.Number > farthest.value.Number {
			farthest = known{v, "control point " + string(p.ID)}
		}
		all = append(all, v)
	}
	if len(all) == 0 {
		return known{from: "the body has no control point of the part"}
	}
	farthest.value = rule.MostOf(all...)
	return farthest
}

// shiftOf is the size of the shift of one point: under every explanation that survives.
func (s *scene) shiftOf(id body.PointID) (rule.Value, string) {
	if s.measured.Ambiguous {
		return rule.Value{}, "the readings do not say which points stood still"
	}
	var all []rule.Value
	for _, h := range s.measured.Hypotheses {
		if !h.Survives {
			continue
		}
		p, ok := h.Point(id)
		if !ok {
			break
		}
		if !p.Firm {
			return rule.Value{}, "the shift of control point " + string(id) + " is not firm: " + p.Doubt()
		}
		v, ok := sizeOf(p.ShiftMM, p.CovMM2, s.confidence())
		if !ok {
			return rule.Value{}, "the uncertainty of control point " + string(id) + " is not known"
		}
		all = append(all, v)
	}
	if len(all) == 0 {
		return rule.Value{}, "control point " + string(id) + " was not measured"
	}
	return rule.Span(all, s.confidence()), ""
}

// sizeOf is the size of a shift d with covariance C as a number with a standard uncertainty: u is
// the largest standard deviation along any direction, and with the quantile z of the confidence c
//
//	y = q - z u,   P(|d + g| <= q) = c for a normal vector g with covariance C.
//
// An upper limit is so met at the confidence c exactly when the probability says so. At every
// higher probability, and for a lower limit, (y, u) claims no more than is true: the size is a
// function that changes by no more than its argument does, and the quantiles of such a function
// of a normal vector lie no farther apart than those of a normal number with the spread u
// (isoperimetry: C. Borell 1975, V. N. Sudakov and B. S. Tsirelson 1974; from memory).
// False where nothing is known of the uncertainty.
func sizeOf(d geom.Vec, cov geom.Mat3, conf float64) (rule.Value, bool) {
	variances, _ := geom.SymEigen(cov)
	largest := math.Max(variances[0], math.Max(variances[1], variances[2]))
	if !(largest > 0) || !d.Finite() || !cov.Finite() {
		return rule.Value{}, false
	}
	u := math.Sqrt(largest)
	low, high := 0.0, d.Norm()+float64(farStds*u)
	for range halvings {
		if mid := (low + high) / 2; geom.BallProbability(d, cov, mid) >= conf {
			high = mid
		} else {
			low = mid
		}
	}
	return rule.NumberValue(high-float64(normal.Quantile(conf)*u), u, "mm"), true
}

// farStds is beyond every quantile that is asked for, and halvings take that to less than
// any length that is written down.
const (
	farStds  = 12
	halvings = 40
)
