package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// LengthLimit is a length against the shortest and the longest that it can be while
// both of its points keep their tolerance.
//
// With v the vector between the published places, T the sum of the radial
// tolerances of its ends and h that of the tolerances along the axes (a point has
// the one or the other),
//
//	longest  = | |v_k| + h_k | + T          shortest = | max(0, |v_k| - h_k) | - T
//
// taken over the components k: the places that two points may take against one another
// fill a ball, a box or the sum of both, and the distance is largest in a corner.
// A point that has both kinds keeps both, so that the tighter bounds hold.
//
// A length beyond them proves that one of its points is out of its tolerance. One
// within them proves nothing of its points: neither does it see a point that went
// across the line, nor two that went alike.
type LengthLimit struct {
	LowMM       float64 `json:"lowMm"`  // the shortest it may be; both 0 when there is no limit
	HighMM      float64 `json:"highMm"` // the longest it may be
	Verdict     Verdict `json:"verdict"`
	Probability float64 `json:"probability"` // that the length lies between them
	Because     string  `json:"because"`     // why it is not met or nothing can be said
}

// Known says that there are limits.
func (l LengthLimit) Known() bool { return l.HighMM > 0 }

// lengthLimit judges a length or height. The manufacturing spread is no part of its
// uncertainty: the limit is about where the points stand, however they came there.
func (p *problem) lengthLimit(s *span) LengthLimit {
	a, b := p.in.Points[s.from], p.in.Points[s.to]
	if s.kind == job.ReadHeight {
		return LengthLimit{Because: "nothing says how level the device stood to the vehicle"}
	}
	for _, pt := range []body.Point{a, b} {
		if len(leeways(pt)) == 0 {
			return LengthLimit{Because: fmt.Sprintf("the body gives no tolerance of %s", pt.ID)}
		}
	}
	low, high := lengthBounds(a, b)
	c := Between(s.value, s.std, low, high, p.conf)
	l := LengthLimit{LowMM: roundMM(low), HighMM: roundMM(high), Verdict: c.Verdict, Probability: roundP(c.Probability)}
	switch {
	case c.Verdict == NotMet:
		l.Because = fmt.Sprintf("%s or %s is out of its tolerance", a.ID, b.ID)
	case c.Verdict == Undecided && coverage*s.std > (high-low)/2:
		l.Because = "the reading is too rough for so small a tolerance"
	case c.Verdict == Undecided:
		l.Because = "it is too near the end of what is allowed"
	}
	return l
}

// leeway is how far a point may be off by one kind of its tolerance.
type leeway struct {
	radius float64
	axes   geom.Vec
}

// leeways are the kinds of tolerance that a point has, either of which bounds where
// it may stand.
func leeways(p body.Point) []leeway {
	var out []leeway
	if r := known(p.Tol); r > 0 {
		out = append(out, leeway{radius: r})
	}
	if v := (geom.Vec{known(p.TolX), known(p.TolY), known(p.TolZ)}); v[0] > 0 && v[1] > 0 && v[2] > 0 {
		out = append(out, leeway{axes: v})
	}
	return out
}

// lengthBounds is the shortest and the longest distance of two points that keep
// their tolerance.
func lengthBounds(a, b body.Point) (low, high float64) {
	low, high = 0, math.Inf(1)
	for _, ra := range leeways(a) {
		for _, rb := range leeways(b) {
			var near, far geom.Vec
			for k := range near {
				v, h := math.Abs(a.At()[k]-b.At()[k]), ra.axes[k]+rb.axes[k]
				near[k], far[k] = math.Max(0, v-h), v+h
			}
			low = math.Max(low, near.Norm()-ra.radius-rb.radius)
			high = math.Min(high, far.Norm()+ra.radius+rb.radius)
		}
	}
	return low, high
}
