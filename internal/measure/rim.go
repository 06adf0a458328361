package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Hole is the centre of a hole that was found from points of its rim.
type Hole struct {
	Setup     string       `json:"setup"`
	ID        body.PointID `json:"id"`
	RimPoints int          `json:"rimPoints"`
	CentreMM  geom.Vec     `json:"centreMm"` // device axes
	StdMM     geom.Vec     `json:"stdMm"`
	RadiusMM  float64      `json:"radiusMm"`
	RadiusStd float64      `json:"radiusStdMm"`
	ArcDeg    float64      `json:"arcDeg"` // of the rim that the points span
	Chi2      float64      `json:"chi2"`
	DOF       int          `json:"dof"`
	P         float64      `json:"p"`
	Used      bool         `json:"used"`
}

// rim is the rim points of one hole in one set-up.
type rim struct {
	setup, point int
	std          float64 // the largest of them
	at           []geom.Vec
	first        *job.Reading
}

const (
	// minArc is the part of the rim [degrees] below which the centre leans on a
	// short arc and is named (customary, no source).
	minArc = 120
	// maxCentre is the share of the radius that the standard uncertainty of the
	// centre may have: beyond it the linear covariance of the fit is no longer
	// right, and the centre is not used (customary, no source).
	maxCentre = 0.10
)

func (p *problem) takeRim(r *job.Reading, k, point int) {
	at := geom.Vec{r.X.Value, r.Y.Value, r.Z.Value}
	if !r.X.Known || !r.Y.Known || !r.Z.Known || !at.Finite() {
		p.refuseReading(r, "a coordinate is missing or no finite number", "a rim point needs x_mm, y_mm and z_mm")
		return
	}
	std := p.stdOf(r, k)
	if !(std > 0) {
		p.refuseReading(r, "no standard uncertainty is given", "give std_mm, or the uncertainty of the set-up")
		return
	}
	for i := range p.rims {
		if h := &p.rims[i]; h.setup == k && h.point == point {
			h.at, h.std = append(h.at, at), math.Max(h.std, std)
			return
		}
	}
	p.rims = append(p.rims, rim{setup: k, point: point, std: std, at: []geom.Vec{at}, first: r})
}

// fitHoles turns the rim points into coordinate readings of the centres, with
// all of their covariance.
//
// Rim points that do not lie on a circle as well as their uncertainty says make
// the covariance larger by chi-square over its degrees of freedom: the hole is
// oval or torn, or a point is beside the rim.
func (p *problem) fitHoles() {
	for i := range p.rims {
		r := &p.rims[i]
		where := fmt.Sprintf("hole %s in set-up %s", p.id(r.point), p.setups[r.setup].id)
		f, err := geom.FitHole(r.at, r.std)
		if err != nil {
			why := "the rim points give no centre: " + err.Error()
			if len(r.at) < 3 {
				why = fmt.Sprintf("a hole needs at least three rim points, better six all round; there are %d", len(r.at))
			}
			p.refuseReading(r.first, why, "take points all round the rim")
			continue
		}
		h := Hole{Setup: p.setups[r.setup].id, ID: p.id(r.point), RimPoints: len(r.at), CentreMM: roundVec(f.Centre, roundMM), RadiusMM: roundMM(f.Radius),
			ArcDeg: roundMM(f.Arc * degree), Chi2: roundP(f.Chi2), DOF: f.DOF}
		cov, wider := f.Cov, 1.0
		fits := geom.ChiSquareTail(f.Chi2, f.DOF) // 1 of three points
		if h.P = roundP(fits); fits < geom.AlphaBlock {
			wider = f.Chi2 / float64(f.DOF)
			cov = cov.Scale(wider)
		}
		h.StdMM, h.RadiusStd = roundVec(stds(cov), roundMM), roundMM(f.RadiusStd*math.Sqrt(wider))
		h.Used = p.centre(r, f.Centre, cov, f.Radius)
		p.nameHole(where, h, wider)
		p.holes = append(p.holes, h)
	}
}

// centre adds the centre as a coordinate reading, unless nothing can be made of
// its uncertainty.
func (p *problem) centre(r *rim, at geom.Vec, cov geom.Mat3, radius float64) bool {
	if !at.Finite() || !cov.Finite() || !(largestVariance(cov) > 0) {
		p.refuseReading(r.first, "the rim points give no centre with an uncertainty", "take points all round the rim")
		return false
	}
	lam, axes := geom.SymEigen(cov)
	std := geom.Vec{math.Sqrt(math.Max(lam[0], 0)), math.Sqrt(math.Max(lam[1], 0)), math.Sqrt(math.Max(lam[2], 0))}
	if !(std[2] > 0) || std[0] > maxCentre*radius {
		p.refuseReading(r.first, fmt.Sprintf("the rim points leave the centre uncertain by %.2f mm (standard) at a radius of %.2f mm", std[0], radius), "take points all round the rim, and more of them")
		return false
	}
	p.setups[r.setup].coords++
	p.coords = append(p.coords, coord{setup: r.setup, point: r.point, at: at, std: std, turned: true, axes: axes})
	return true
}

// nameHole says what makes the centre doubtful.
func (p *problem) nameHole(where string, h Hole, wider float64) {
	if h.DOF <= 0 {
		p.note(diag.Info, where, diag.Say("measure.rim-unchecked", "three points lie on one circle whatever they are: a wrong one would not show"), "take six points all round the rim")
	}
	if h.ArcDeg < minArc {
		p.note(diag.Caution, where, diag.Say("measure.rim-short-arc", "the rim points span only {arc:.0f degrees} of the circle; the centre is uncertain by {std:.2f mm} (standard)", h.ArcDeg, math.Max(h.StdMM[0], math.Max(h.StdMM[1], h.StdMM[2]))), "take points all round the rim")
	}
	if wider > 1 {
		p.note(diag.Caution, where, diag.Say("measure.rim-misfit", "the rim points lie on no circle as well as their uncertainty says (chi-square {chi2:.1f} with {freedom} degrees of freedom): the hole is oval or torn, or a point is beside the rim; the centre counts as {times:.1f} times less certain", h.Chi2, h.DOF, math.Sqrt(wider)), "look at the hole; take the rim points again")
	}
}
