package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
)

// Progress is two stages of one job side by side.
type Progress struct {
	From       string          `json:"from"`
	To         string          `json:"to"`
	Comparable bool            `json:"comparable"` // both stand on enough of the same steady points
	Common     []body.PointID  `json:"common"`     // steady in both
	Points     []PointProgress `json:"points"`
	Notes      []diag.Note     `json:"notes"`
}

// PointProgress is one control point at two stages.
type PointProgress struct {
	ID        body.PointID `json:"id"`
	FromMM    geom.Vec     `json:"fromMm"`
	ToMM      geom.Vec     `json:"toMm"`
	ChangeMM  geom.Vec     `json:"changeMm"`
	StdMM     geom.Vec     `json:"changeStdMm"`
	T2        float64      `json:"t2"`
	Changed   bool         `json:"changed"`
	Was       Verdict      `json:"was"`
	Is        Verdict      `json:"is"`
	Certainty float64      `json:"probability"` // that the limit is met now
	Answer    string       `json:"answer"`      // the two verdicts in words
}

// Compare puts the best hypotheses of two stages side by side: did the work
// bring the points into tolerance?
//
// The change of a point is the difference of its two shifts. Its covariance is
// the sum of both less twice the manufacturing spread s0 of the point, which
// is the same at both stages; what the two steady blocks share is left in,
// which makes the uncertainty rather too large. A point whose part was renewed
// in between has another spread at each stage: for it the uncertainty of the
// change is too small by that, its verdicts are not touched.
//
// What is not firm at the later stage is undecided.
func Compare(points []body.Point, from, to Result) Progress {
	p := Progress{From: from.Stage, To: to.Stage, Common: []body.PointID{}, Points: []PointProgress{}, Notes: []diag.Note{}}
	a, okA := from.Best()
	b, okB := to.Best()
	if !okA || !okB {
		p.Notes = append(p.Notes, diag.Note{Code: "measure.not-comparable", Severity: diag.Blocking, Where: from.Stage + " and " + to.Stage,
			Text: "one of the two stages has no steady block", Hint: "measure again"})
		return p
	}
	for _, id := range a.Steady {
		for _, other := range b.Steady {
			if id == other {
				p.Common = append(p.Common, id)
			}
		}
	}
	p.Comparable = len(p.Common) >= minReferences && 2*len(p.Common) > min(len(a.Steady), len(b.Steady))
	if !p.Comparable {
		p.Notes = append(p.Notes, diag.Note{Code: "measure.not-comparable", Severity: diag.Blocking, Where: from.Stage + " and " + to.Stage,
			Text: fmt.Sprintf("the steady blocks of the two stages share only %d points: the shifts are against different things", len(p.Common)),
			Hint: "nominate reference points, or measure the same points at both stages"})
	}
	for i := range points {
		x, okX := a.Point(points[i].ID)
		y, okY := b.Point(points[i].ID)
		if !okY {
			continue
		}
		p.Points = append(p.Points, p.progress(&points[i], x, okX, y))
	}
	return p
}

func (p *Progress) progress(pt *body.Point, x PointResult, before bool, y PointResult) PointProgress {
	out := PointProgress{ID: pt.ID, ToMM: y.ShiftMM, Is: y.Tolerance, Certainty: y.Probability}
	if !p.Comparable || !y.Firm {
		out.Is = Undecided
	}
	if !p.Comparable {
		out.Certainty = 0
	}
	if before {
		out.FromMM, out.Was = x.ShiftMM, x.Tolerance
		out.ChangeMM = roundVec(y.ShiftMM.Sub(x.ShiftMM), roundMM)
		s0 := math.Max(0, known(pt.Std))
		cov := x.CovMM2.Add(y.CovMM2).Sub(geom.Isotropic(s0).Scale(2))
		if t, ok := geom.Mahalanobis(out.ChangeMM, cov); ok && p.Comparable {
			out.T2, out.Changed = roundP(t), t > criticalPoint
		}
		out.StdMM = roundVec(stds(cov), roundMM)
	}
	out.Answer = answer(before, out.Was, out.Is)
	return out
}

// answers are the words of a comparison, the most important first.
var answers = [...]string{"brought into tolerance", "still out of tolerance", "lost its tolerance", "undecided",
	"in tolerance; undecided before", "out of tolerance; undecided before",
	"in tolerance; not measured before", "out of tolerance; not measured before", "stayed in tolerance"}

// Answers is every answer a comparison of two stages may give for a point, the
// most important first.
func Answers() []string { return answers[:] }

func answer(before bool, was, is Verdict) string {
	switch {
	case is == Undecided:
		return "undecided"
	case !before:
		return sided(is, "; not measured before")
	case was == Undecided:
		return sided(is, "; undecided before")
	case is == Met && was == Met:
		return "stayed in tolerance"
	case is == Met:
		return "brought into tolerance"
	case was == Met:
		return "lost its tolerance"
	}
	return "still out of tolerance"
}

// sided is on which side of the limit a point lies, for one about which nothing
// was known before.
func sided(is Verdict, before string) string {
	if is == Met {
		return "in tolerance" + before
	}
	return "out of tolerance" + before
}
