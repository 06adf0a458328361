package measure

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Progress is two stages of one job side by side.
type Progress struct {
	From       job.Stage       `json:"from"`
	To         job.Stage       `json:"to"`
	Comparable bool            `json:"comparable"` // both stand on enough of the same steady points
	Common     []body.PointID  `json:"common"`     // steady in both
	Points     []PointProgress `json:"points"`
	Notes      []diag.Note     `json:"notes"`
}

// PointProgress is one control point at two stages.
type PointProgress struct {
	ID       body.PointID `json:"id"`
	FromMM   geom.Vec     `json:"fromMm"`
	ToMM     geom.Vec     `json:"toMm"`
	ChangeMM geom.Vec     `json:"changeMm"` // against the points that did not change; vehicle axes
	StdMM    geom.Vec     `json:"changeStdMm"`
	T2       float64      `json:"t2"`
	Changed  bool         `json:"changed"`
	// Open: the readings do not say whether the point changed.
	Open       bool        `json:"changeOpen"`
	Detectable float64     `json:"changeDetectableMm"` // a change of this size is called one with the power of the test; 0 when open
	Was        Verdict     `json:"was"`
	Is         Verdict     `json:"is"`
	Certainty  float64     `json:"probability"` // that the limit is met now
	Answer     PointAnswer `json:"answer"`      // the two verdicts in words
}

// Compare puts two stages side by side: did the work bring the points into
// tolerance, and which points has it changed? The first is told by the best
// hypotheses of both stages, the second by the readings of both stages against
// one another, see changes.
//
// What is not firm at the later stage is undecided.
func Compare(points []body.Point, from, to Result) Progress {
	p := Progress{From: from.Stage, To: to.Stage, Common: []body.PointID{}, Points: []PointProgress{}, Notes: []diag.Note{}}
	a, okA := from.Best()
	b, okB := to.Best()
	if !okA || !okB {
		p.block(diag.Say("measure.not-comparable", "one of the two stages has no steady block"), "measure again")
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
		p.block(diag.Say("measure.not-comparable", "the steady blocks of the two stages share only {points} points: the shifts are against different things", len(p.Common)),
			"nominate reference points, or measure the same points at both stages")
	}
	var ch changes
	if p.Comparable {
		ch = changesBetween(from.located, to.located, p.Common)
		if ch.why != "" {
			p.block(diag.Say("measure.not-comparable", "which points changed between the two stages is open: {why}", ch.why), "nominate reference points, or measure more points that nobody worked on at both stages")
		}
	}
	for i := range points {
		x, okX := a.Point(points[i].ID)
		y, okY := b.Point(points[i].ID)
		if !okY {
			continue
		}
		p.Points = append(p.Points, p.progress(x, okX, y, ch.of[points[i].ID]))
	}
	return p
}

func (p *Progress) block(said diag.Said, hint string) {
	p.Notes = append(p.Notes, said.Note(diag.Note{Severity: diag.Blocking, Where: string(p.From) + " and " + string(p.To), Hint: hint}))
}

func (p *Progress) progress(x PointResult, before bool, y PointResult, c change) PointProgress {
	out := PointProgress{ID: y.ID, ToMM: y.ShiftMM, Is: y.Tolerance, Certainty: y.Probability}
	if !p.Comparable || !y.Firm {
		out.Is = Undecided
	}
	if !p.Comparable {
		out.Certainty = 0
	}
	if before {
		out.FromMM, out.Was = x.ShiftMM, x.Tolerance
		out.Open = !c.known
		if c.known {
			out.ChangeMM, out.StdMM = roundVec(c.by, roundMM), roundVec(stds(c.cov), roundMM)
			out.T2, out.Changed = roundP(c.t2), c.t2 > criticalPoint
			out.Detectable = roundMM(math.Sqrt(lambdaChange * largestVariance(c.cov)))
		}
	}
	if out.Answer = answer(before, out.Was, out.Is); out.Answer == broughtIn && p.To == job.StageDuring {
		out.Answer = inForNow // the work goes on: it may move again, and is measured again when all is done
	}
	return out
}

// PointAnswer is what a comparison of two stages says of a point.
type PointAnswer string

// answers are the words of a comparison, the most important first.
var answers = [...]PointAnswer{broughtIn, inForNow, "still out of tolerance", "lost its tolerance", "undecided",
	"in tolerance; undecided before", "out of tolerance; undecided before",
	"in tolerance; not measured before", "out of tolerance; not measured before", "stayed in tolerance"}

// What a point that was out of its tolerance and is in it now is called: after the work, and while
// it goes on.
const (
	broughtIn PointAnswer = "brought into tolerance"
	inForNow  PointAnswer = "in tolerance while the work goes on"
)

// Answers is every answer a comparison of two stages may give for a point, the
// most important first.
func Answers() []PointAnswer { return answers[:] }

func answer(before bool, was, is Verdict) PointAnswer {
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
		return broughtIn
	case was == Met:
		return "lost its tolerance"
	}
	return "still out of tolerance"
}

// sided is on which side of the limit a point lies, for one about which nothing
// was known before.
func sided(is Verdict, before PointAnswer) PointAnswer {
	if is == Met {
		return "in tolerance" + before
	}
	return "out of tolerance" + before
}
