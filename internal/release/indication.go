package release

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Shape is what an indication looks like. The zero value is the one judged most
// strictly.
type Shape int

// Shapes of an indication.
const (
	ShapeUnsure Shape = iota // the measured length and width do not tell
	Linear
	NonLinear
)

// String is the word shown to people.
func (s Shape) String() string {
	switch s {
	case Linear:
		return "linear"
	case NonLinear:
		return "non-linear"
	}
	return "linear or non-linear"
}

// Outcome is the judgement on an indication. The zero value is the most
// cautious of those that are not final.
type Outcome int

// Outcomes.
const (
	OutcomeOpen     Outcome = iota // look again, or measure better
	OutcomeRefused                 // repair again, or ask
	OutcomeAccepted                // within the level
)

// String is the word shown to people.
func (o Outcome) String() string {
	switch o {
	case OutcomeRefused:
		return "refused"
	case OutcomeAccepted:
		return "accepted"
	}
	return "undecided"
}

// roundingMM is below what anybody measures and above the noise of decimals in
// binary: 0.9 mm is not longer than 3 times 0.3 mm.
const roundingMM = 1e-9

// Classify tells linear from non-linear: an indication is linear when its
// length l is more than k times its width w (k is the level's, 3 in ISO
// 23277); exactly k times is non-linear. With the standard uncertainty u of
// both,
//
//	d = l − k·w,   u(d) = u·√(1 + k²)
//
// and the shape is known when the probability of d > 0, or of d ≤ 0, is at
// least the confidence.
func Classify(l body.Level, i job.Indication, confidence float64) Shape {
	d := float64(i.Length) - float64(l.Ratio*float64(i.Width))
	u := float64(i.Std) * math.Sqrt(1+float64(l.Ratio*l.Ratio))
	if u == 0 {
		if d > roundingMM {
			return Linear
		}
		return NonLinear
	}
	within := rule.Below(0, d, u)
	switch conf := math.Max(confidence, rule.LeastConfidence); {
	case within >= conf:
		return NonLinear
	case 1-within >= conf:
		return Linear
	}
	return ShapeUnsure
}

// JudgeIndication holds an indication against a level. A crack is refused
// whatever its size: a level is about indications, not about cracks. A linear
// indication of which nobody knows whether it is a crack is undecided. When the
// shape is not sure the smaller limit, that for linear ones, has to be met, and
// only what neither limit accepts is refused.
func JudgeIndication(l body.Level, i job.Indication, confidence float64) (Outcome, string) {
	what := i.Length.String() + " by " + i.Width.String()
	if i.Crack == body.Yes {
		return OutcomeRefused, "the indication of " + what + " is a crack: a crack is refused whatever its size"
	}
	shape := Classify(l, i, confidence)
	limit := l.NonLinear
	if shape != NonLinear {
		limit = l.Linear
	}
	text := "the indication of " + what + " is " + shape.String() + "; level " + l.ID + " accepts up to " + limit.String()
	switch o := within(float64(limit), float64(i.Length), float64(i.Std), confidence); {
	case o == OutcomeRefused && shape == ShapeUnsure && within(float64(l.NonLinear), float64(i.Length), float64(i.Std), confidence) != OutcomeRefused:
		return OutcomeOpen, text + ", and more if it is non-linear: measure its width better"
	case o == OutcomeAccepted && shape != NonLinear && i.Crack != body.No:
		return OutcomeOpen, text + ", but nobody has said whether it is a crack: look at it with a lens"
	case o == OutcomeOpen:
		return o, text + ": measure its length better"
	default:
		return o, text
	}
}

// within is whether a length is at most a limit, three-way.
func within(limit, y, u, confidence float64) Outcome {
	conf := math.Max(confidence, rule.LeastConfidence)
	if u == 0 {
		y -= roundingMM
	}
	switch p := rule.Below(limit, y, u); {
	case p >= conf:
		return OutcomeAccepted
	case 1-p >= conf:
		return OutcomeRefused
	}
	return OutcomeOpen
}
