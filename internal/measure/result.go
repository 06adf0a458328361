// Package measure owns the answer to "has the structure moved?": which control
// points have moved, by how much, in which direction, and how surely.
//
// It takes the control points of a body and the readings of a job and gives
// every reading of the evidence that survives: the hypotheses. The readings
// decide which points belong together and how the groups moved against one
// another; they never decide which group stood still. That choice is made by
// named evidence, and where the evidence does not carry it the result says so.
//
// The package refuses to guess: a point without enough readings is listed as
// missing and has no verdict, a limit that the uncertainty does not resolve is
// Undecided, and a suspected gross error is reported, never corrected.
//
// Methods: docs/methods/rigid-fit.md and docs/methods/measure.md.
package measure

import (
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/job"
)

// DefaultConfidence is the probability a limit has to be met with when the
// body asks for nothing stricter (ISO 14253-1:2017 default, from memory).
const DefaultConfidence = 0.95

// Input is everything an analysis depends on.
type Input struct {
	Points   []body.Point
	Sections []body.Section
	Setups   []job.Setup
	Readings []job.Reading
	// Impact is where the vehicle was hit, in the words of job.Impact.
	Impact job.ImpactSide
	// Axes are the directions of the vehicle axes; rearward, right and up when
	// they are empty.
	Axes body.Axes
	// Confidence is the probability a limit has to be met with; 0 means
	// DefaultConfidence, and less than that is raised to it.
	Confidence float64
	// Stage selects the set-ups of one stage; "" means before the repair.
	Stage job.Stage
	// Symmetry, when not 0, is the standard deviation [mm] of the left/right
	// equality of twin points. Twins are then compared in the adjustment; they
	// change no position and support no verdict, since damage that is the same
	// on both sides satisfies them.
	Symmetry float64
	// Thermal describes how body and device grow with temperature.
	Thermal Thermal
	// Seed starts the sampling that replaces the exhaustive search above 60
	// points. The result says which seed was used.
	Seed uint64
	// Work is what this is part of; nil: it is not stopped.
	Work *halt.Work
}

// Thermal is how body and device grow with temperature. The zero value means
// that nothing is known: then nothing is corrected. What a set-up says of its
// own device comes on top.
type Thermal struct {
	BodyPerK   float64 // linear expansion of the body per kelvin
	DevicePerK float64 // linear expansion per kelvin of a device as warm as the body
	PerKStd    float64 // standard uncertainty of their difference
	ReferenceC float64 // temperature the nominal coordinates are for
	// Where a set-up gives no temperature, the body's lies somewhere from LowC
	// to HighC. Both 0: nobody knows.
	LowC, HighC float64
}

// Result is the answer. Its JSON names are a contract.
type Result struct {
	Stage      job.Stage      `json:"stage"`
	Confidence float64        `json:"confidence"`
	Ambiguous  bool           `json:"ambiguous"`
	Why        []string       `json:"why"` // why it is ambiguous
	Hypotheses []Hypothesis   `json:"hypotheses"`
	Missing    []body.PointID `json:"missing"`        // control points without a usable position
	Lengths    []LengthCheck  `json:"lengths"`        // tram lengths and heights against nominal
	Form       *Form          `json:"form,omitempty"` // of lengths alone: how well they hold it
	Disagree   []Disagreement `json:"disagreements"`  // lengths that cannot all be true together
	Suspects   []Suspect      `json:"suspects"`
	Adjustment Adjustment     `json:"adjustment"`
	Thermal    []Temperature  `json:"thermal"` // what temperature did to the readings, by set-up
	Holes      []Hole         `json:"holes"`   // centres found from rim points
	Search     Search         `json:"search"`
	Test       PointTest      `json:"test"` // "moved or not"
	Notes      []diag.Note    `json:"notes"`

	// located is where the readings put the points, for Compare; nil when there
	// is no hypothesis, or when the result was not worked out here.
	located *located
}

// Hypothesis is one way to read the evidence: these points stood still, the
// others moved.
type Hypothesis struct {
	Survives bool            `json:"survives"` // nothing speaks against it; "firm" is what all of these say alike
	Steady   []body.PointID  `json:"steady"`
	Moved    []body.PointID  `json:"moved"`
	Datum    Datum           `json:"datum"`   // what chose the steady block: reference, impact, majority or none
	Because  string          `json:"because"` // the same in a sentence
	Setups   map[string]Pose `json:"setups"`
	Chi2     float64         `json:"chi2"`
	DOF      int             `json:"dof"`
	P        float64         `json:"p"`
	Score    float64         `json:"score"` // sum of bounded misfits of all points: lower explains more
	BIC      float64         `json:"bic"`
	Points   []PointResult   `json:"points"`
	Sections []Section       `json:"sections"`
}

// Pose is the motion that takes body coordinates to device coordinates.
type Pose struct {
	RotationDeg    geom.Vec `json:"rotationDeg"` // rotation vector
	TranslationMM  geom.Vec `json:"translationMm"`
	RotationStd    geom.Vec `json:"rotationStdDeg"`
	TranslationStd geom.Vec `json:"translationStdMm"` // of the image of the steady block's centroid
	Scale          float64  `json:"scale"`            // estimated beside the fit, not applied
	ScaleStd       float64  `json:"scaleStd"`
}

// PointResult is one control point under one hypothesis.
type PointResult struct {
	ID         body.PointID `json:"id"`
	ShiftMM    geom.Vec     `json:"shiftMm"` // vehicle axes
	StdMM      geom.Vec     `json:"stdMm"`
	CovMM2     geom.Mat3    `json:"covMm2"`
	ExpandedMM geom.Vec     `json:"expandedMm"` // 2 std per axis
	T2         float64      `json:"t2"`         // shift' cov^-1 shift
	Moved      bool         `json:"moved"`
	Steady     bool         `json:"steady"` // in the steady block of this hypothesis
	// Where the point stands against its nominal place, in the frame of the
	// other steady points. The tolerance is judged by this; the manufacturing
	// spread of the point itself is no uncertainty of it. Zero, with a limit
	// undecided, when the other points do not say.
	FromNominal    geom.Vec  `json:"fromNominalMm"`
	FromNominalStd geom.Vec  `json:"fromNominalStdMm"`
	FromNominalCov geom.Mat3 `json:"fromNominalCovMm2"`
	Tolerance      Verdict   `json:"tolerance"`
	Probability    float64   `json:"probability"` // that the point stands within the limit
	Limit          string    `json:"limit"`
	Needs          string    `json:"needs"` // what would decide it; empty when decided
	need           Need      // the same, not in words
	Detectable     float64   `json:"detectableMm"` // a shift of this size is called moved with the power of the test
	Firm           bool      `json:"firm"`         // same verdicts under every surviving hypothesis; never where the result is ambiguous
	Readings       []string  `json:"readings"`
}

// Section is a group of points that moved as one against the steady block.
type Section struct {
	ID             body.SectionID `json:"id"`
	Points         []body.PointID `json:"points"`
	AboutMM        geom.Vec       `json:"aboutMm"`
	TranslationMM  geom.Vec       `json:"translationMm"`
	TranslationStd geom.Vec       `json:"translationStdMm"`
	RotationDeg    geom.Vec       `json:"rotationDeg"`
	RotationStd    geom.Vec       `json:"rotationStdDeg"`
	// The same from the section's own readings, as if the steady block were
	// known without error.
	OwnTranslation geom.Vec   `json:"ownTranslationStdMm"`
	OwnRotation    geom.Vec   `json:"ownRotationStdDeg"`
	HingeMM        [2]float64 `json:"hingeMm"` // x between which the bend lies: last steady and first moved point
	Chi2           float64    `json:"chi2"`
	DOF            int        `json:"dof"`
	P              float64    `json:"p"`
	Stations       []Station  `json:"stations"`
}

// Rigid says that the points of the section kept their places against one
// another; the motion of a section that is not is only the best rigid one.
func (s Section) Rigid() bool { return s.DOF <= 0 || s.P >= geom.AlphaBlock }

// Value is a number with its standard deviation.
type Value struct {
	Value float64 `json:"value"`
	Std   float64 `json:"std"`
}

// Station is the motion of a section at one cross-section of the vehicle.
type Station struct {
	XMM       float64 `json:"xMm"`
	Of        string  `json:"of"`         // near end, far end or about
	Mash      Value   `json:"mashMm"`     // along x
	MashMeans string  `json:"mashMeans"`  // lengthened or shortened; empty within two standard deviations, and beside the steady block
	Sidesway  Value   `json:"swayMm"`     // along y
	Sag       Value   `json:"sagMm"`      // along z
	Twist     Value   `json:"twistDeg"`   // about x
	Diamond   *Value  `json:"diamondDeg"` // shear in the xy plane; null when the points cannot tell
	DiamondMM *Value  `json:"diamondMm"`  // the same as set-back of one rail, over the width of the section's points
}

// LengthCheck is one tram length or height difference against its nominal.
type LengthCheck struct {
	Setup      string          `json:"setup"`
	Kind       job.ReadingKind `json:"kind"` // length or height
	From       body.PointID    `json:"from"`
	To         body.PointID    `json:"to"`
	MeasuredMM float64         `json:"measuredMm"`
	NominalMM  float64         `json:"nominalMm"`
	DiffMM     float64         `json:"diffMm"`
	StdMM      float64         `json:"stdMm"` // of the difference, manufacturing spread included
	W          float64         `json:"w"`     // difference / std
	Differs    bool            `json:"differs"`
	Limit      LengthLimit     `json:"limit"` // by the tolerance of its points
}

// Adjustment is the common adjustment of all readings, and how well they
// control one another.
type Adjustment struct {
	VtPV         float64       `json:"vtpv"`
	DOF          int           `json:"dof"`
	P            float64       `json:"p"`
	Observations []Observation `json:"observations"`
}

// Observation is one row of the adjustment.
type Observation struct {
	Setup      string       `json:"setup"`
	Kind       string       `json:"kind"` // x, y, z, length, height, centre 1 to 3 (of a hole, along the principal directions of its uncertainty) or symmetry x, y, z
	From       body.PointID `json:"from"`
	To         body.PointID `json:"to"`
	ResidualMM float64      `json:"residualMm"` // adjusted minus observed
	StdMM      float64      `json:"stdMm"`
	Redundancy float64      `json:"redundancy"`
	W          float64      `json:"w"`
	Detectable float64      `json:"detectableMm"` // smallest gross error that would show; 0 when none would
	Controlled bool         `json:"controlled"`
}

// SuspectKind is a kind of suspicion.
type SuspectKind string

// Kinds of suspicion that speak of all readings of a set-up.
const (
	SuspectUnit   SuspectKind = "unit"
	SuspectScale  SuspectKind = "scale"
	SuspectMirror SuspectKind = "mirror"
)

// Suspect is a gross error that would explain what is seen. It is a
// suggestion: nothing is corrected.
type Suspect struct {
	Kind   SuspectKind    `json:"kind"` // unit, scale, mirror, swap, label, value, nominal or reading
	Points []body.PointID `json:"points"`
	Setup  string         `json:"setup"`
	diag.Said
	Chi2Now float64 `json:"chi2Now"`
	Chi2If  float64 `json:"chi2If"`
	every   string  // of a slip that a wrong frame or unit makes in many readings: what is wrong
}

// Search says how the hypotheses were found.
type Search struct {
	Method  string `json:"method"` // exhaustive or sampled
	Triples int    `json:"triples"`
	Seed    uint64 `json:"seed,string"`
}

// Best is the first hypothesis, and whether there is one.
func (r Result) Best() (Hypothesis, bool) {
	if len(r.Hypotheses) == 0 {
		return Hypothesis{}, false
	}
	return r.Hypotheses[0], true
}

// Point is the result of one point; false when it has none, which means
// nothing is known about it.
func (h Hypothesis) Point(id body.PointID) (PointResult, bool) {
	for _, p := range h.Points {
		if p.ID == id {
			return p, true
		}
	}
	return PointResult{}, false
}

// Doubt is why the verdicts of a point are not firm, as half a sentence; empty
// where they are.
func (p PointResult) Doubt() string {
	switch {
	case p.Firm:
		return ""
	case !p.Moved && p.T2 > criticalPoint:
		return "it is further off than one still point in a thousand, but not far enough to be called moved"
	case p.Misread():
		return "it moved by itself and was read once: moved, or misread"
	case p.Moved && p.T2 <= firmMoved:
		return "it is called moved, but chance is not ruled out; measure it again"
	}
	return "the result as a whole is in doubt, or another reading of the evidence gives another verdict"
}
