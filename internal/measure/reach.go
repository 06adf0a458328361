package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Reach is what a measurement shows before it is made: with so many set-ups of one
// device, how far off its published place a point may be measured and still be shown
// within its limit.
type Reach struct {
	Setups    int          `json:"setups"`
	Points    []ReachPoint `json:"points"`
	Undecided float64      `json:"undecided"` // points to be expected undecided on a sound vehicle
}

// ReachPoint is the same for one point.
type ReachPoint struct {
	ID       body.PointID `json:"id"`
	Limit    string       `json:"limit"`
	WithinMM float64      `json:"withinMm"` // zero: not even a point measured in its place is shown
	Chance   float64      `json:"chance"`   // that a point with the manufacturing spread is not shown
}

// Reaches predicts a measurement with 1 to most set-ups like one that was made: every
// point is read once in each, exactly in its published place. The covariances do not
// depend on where the points are, so that those of such readings are those of any.
// WithinMM is the largest distance at which the limit is still met, in whichever
// direction that is soonest over. A point built with the standard deviation s in each
// coordinate and measured with covariance C is found farther off with
//
//	1 - P(|N(0, C + s^2 I)| <= WithinMM),
//
// which is summed over the points (a bound from above where limits are given by axes).
// False when nothing can be predicted: no point has a place, or no frame is found.
func Reaches(in Input, like job.Setup, most int) ([]Reach, bool) {
	var out []Reach
	for n := 1; n <= most; n++ {
		res, _ := Run(imagined(in, like, n))
		h, ok := res.Best()
		if !ok {
			return nil, false
		}
		r := Reach{Setups: n}
		for _, p := range in.Points {
			q, ok := h.Point(p.ID)
			if !ok {
				return nil, false
			}
			x := ReachPoint{ID: p.ID, Limit: Conform(p, geom.Vec{}, q.FromNominalCov, in.Confidence).Limit, Chance: 1}
			if x.WithinMM = within(p, q.FromNominalCov, in.Confidence); x.WithinMM > 0 {
				x.Chance = 1 - geom.BallProbability(geom.Vec{}, q.FromNominalCov.Add(geom.Isotropic(known(p.Std))), x.WithinMM)
			}
			r.Points = append(r.Points, x)
			r.Undecided += x.Chance
		}
		out = append(out, r)
	}
	return out, true
}

// imagined is a measurement of every point in its published place. Each set-up has a
// frame of its own: the same figures twice would count as a copy.
func imagined(in Input, like job.Setup, n int) Input {
	in.Setups, in.Readings, in.Impact = nil, nil, ""
	for k := 1; k <= n; k++ {
		x := like
		x.ID, x.Stage = fmt.Sprintf("imagined-%d", k), in.Stage
		in.Setups = append(in.Setups, x)
		for _, p := range in.Points {
			r := job.Reading{Setup: x.ID, Kind: job.ReadXYZ, From: p.ID}
			r.X.Known, r.Y.Known, r.Z.Known = true, true, true
			r.X.Value, r.Y.Value, r.Z.Value = p.X+float64(k), p.Y, p.Z
			in.Readings = append(in.Readings, r)
		}
	}
	return in
}

// farthest bounds the search for a distance, in mm: no tolerance is a metre.
const farthest = 1000.0

// within is the largest distance from its place at which a point is still shown to be
// within its limit, along the principal axes of its covariance and along the
// coordinates, whichever is soonest over.
func within(p body.Point, cov geom.Mat3, conf float64) float64 {
	_, axes := geom.SymEigen(cov)
	best := farthest
	for k := range 3 {
		unit := geom.Vec{}
		unit[k] = 1
		for _, dir := range []geom.Vec{unit, {axes[0][k], axes[1][k], axes[2][k]}} {
			met := func(d float64) bool { return Conform(p, dir.Scale(d), cov, conf).Verdict == Met }
			if !met(0) {
				return 0
			}
			low, high := 0.0, best
			if met(high) {
				continue
			}
			for high-low > 1e-4 {
				if mid := (low + high) / 2; met(mid) {
					low = mid
				} else {
					high = mid
				}
			}
			best = math.Min(best, low)
		}
	}
	return best
}
