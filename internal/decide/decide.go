// Package decide says what may be done about each finding, under which row of
// which revision, and what would change the answer.
//
// It fails closed: a forbidding row beats an allowing one, an unknown or
// undecided fact never permits, and where no row speaks the manufacturer has to
// be asked. The decision table is the procedure's; no limit is written here.
package decide

import (
	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Input is what Run takes.
type Input struct {
	Body    *body.Body
	Shop    *shop.Shop // nil: nothing is known of it
	Job     *job.State
	Inspect inspect.Result
	Today   unit.Date
	Acts    unit.Date // last day whose acts count; Today when not given

	// Measure is what the readings before the repair say of the control points; nil: nothing is
	// known of them. It is asked once, and only for a table that looks at how far parts have moved.
	Measure func() measure.Result
}

// acts is the last day whose acts count.
func (in Input) acts() unit.Date {
	if in.Acts.IsZero() {
		return in.Today
	}
	return in.Acts
}

// Verdict is the answer for one treatment of one finding.
type Verdict int

// Verdicts. The zero value is the most cautious.
const (
	Ask       Verdict = iota // the manufacturer has to be asked
	Undecided                // a fact is too uncertain or missing; measuring better decides it
	Forbidden
	Allowed
)

// strictness orders verdicts for taking the strictest of several.
func (v Verdict) strictness() int {
	switch v {
	case Allowed:
		return 0
	case Undecided:
		return 1
	case Forbidden:
		return 3
	}
	return 2
}

// String is the word shown to people.
func (v Verdict) String() string {
	switch v {
	case Undecided:
		return "undecided"
	case Forbidden:
		return "forbidden"
	case Allowed:
		return "allowed"
	}
	return "ask"
}

// MarshalText writes the word.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Result is the decision for every finding.
type Result struct {
	Findings   []Finding  `json:"findings"` // in the order of the job
	Procedures []InForce  `json:"procedures"`
	Questions  []Question `json:"questions"`
	Offers     []Question `json:"offers,omitempty"` // that need not be asked: another treatment is allowed, a milder one waits for the answer
	Permits    bool       `json:"permits"`          // a repair can start: every finding has an allowed treatment and no procedure blocks
}

// InForce says which procedure revision was used, and whether it still may be.
type InForce struct {
	Casting   body.CastingID   `json:"casting"`
	Procedure body.ProcedureID `json:"procedure"`
	Title     string           `json:"title"`
	Revision  string           `json:"revision"`
	Effective unit.Date        `json:"effective"`
	Recheck   unit.Date        `json:"recheckBefore"`
	CheckedOn unit.Date        `json:"checkedOn"` // last time somebody looked up the current revision; empty: never
	Expired   bool             `json:"expired"`   // the recheck day has come; blocks release, not sight
	Unchecked bool             `json:"unchecked"` // nobody has found this revision to be the current one since it took effect; blocks release, not sight
	Why       string           `json:"why,omitempty"`
}

// Finding is the decision for one finding.
type Finding struct {
	ID      job.FindingID `json:"id"`
	Verdict Verdict       `json:"verdict"` // best of its options: allowed when at least one treatment is
	Options []Option      `json:"options"` // every treatment kind any row or answer speaks of, mildest first
	Rows    []RowResult   `json:"rows"`    // every row of the table
	Facts   []Fact        `json:"facts"`
	Change  []string      `json:"wouldChange,omitempty"` // nearest facts that would change the verdict
	After   []string      `json:"after,omitempty"`       // inspections the applying rows ask for afterwards
	Answer  string        `json:"answer,omitempty"`      // the manufacturer's answer that was used
	Because string        `json:"because"`               // one sentence for a technician
}

// Option is one treatment kind and whether it may be used.
type Option struct {
	Kind    body.TreatmentKind `json:"kind"`
	Verdict Verdict            `json:"verdict"`
	Line    body.LineID        `json:"line,omitempty"` // for a section: along which line
	Rows    []string           `json:"rows"`           // rows that decided it
	Cite    string             `json:"cite"`
	Because string             `json:"because"`
	Group   string             `json:"group,omitempty"`
	Manner  []string           `json:"manner,omitempty"` // how it has to be done, in words
	After   []string           `json:"after,omitempty"`  // inspections asked for after it
	Answer  string             `json:"answer,omitempty"` // the manufacturer's answer that decided it, over the table
}

// RowResult is how one row of the table ended.
type RowResult struct {
	Row    string       `json:"row"`
	Cite   string       `json:"cite"`
	State  RowState     `json:"state"` // applies, does not apply, undecided, unknown
	Conds  []CondResult `json:"conditions"`
	Effect string       `json:"effect"` // what the row says, in words
}

// CondState is how a condition of a row ended.
type CondState string

// States of a condition that are told apart where it is shown.
const (
	CondMet       CondState = "met"
	CondNotMet    CondState = "not met"
	CondUndecided CondState = "undecided"
)

// RowState is how a row ended.
type RowState string

// RowNotApplying is the state of a row that does not speak of a finding.
const RowNotApplying RowState = "does not apply"

// CondResult is how one condition of a row ended.
type CondResult struct {
	Fact  string    `json:"fact"`
	Text  string    `json:"text"`  // the condition as the procedure has it
	Value string    `json:"value"` // the fact as a person reads it
	State CondState `json:"state"` // met, not met, undecided, unknown
	Prob  float64   `json:"probability,omitempty"`
	Need  string    `json:"need,omitempty"` // what would decide it
}

// Fact is a fact about the finding as the table saw it.
type Fact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	Known bool   `json:"known"`
	From  string `json:"from"` // where it comes from
}

// Question is what has to be asked of the manufacturer.
type Question struct {
	ID      string        `json:"id"`
	Finding job.FindingID `json:"finding"`
	Point   body.PointID  `json:"point,omitempty"` // in place of a finding
	Text    string        `json:"text"`
	Open    bool          `json:"open"` // no answer to it holds today
	State   QuestionState `json:"state"`
	Asked   unit.Date     `json:"asked"`    // the day it was sent; empty: not yet
	Answer  unit.Date     `json:"answered"` // the day of the last answer; empty: none
	Expires unit.Date     `json:"expires"`  // the day that answer ceases to hold
	By      string        `json:"answeredBy,omitempty"`
}

// QuestionState says how far a question has got. The zero value is the most
// cautious.
type QuestionState string

// States of a question.
const (
	ToBeSent      QuestionState = "to be sent"
	Waiting       QuestionState = "sent, no answer yet"
	Answered      QuestionState = "answered"
	AnswerExpired QuestionState = "the answer has expired: ask again"
	Outgrown      QuestionState = "the facts have changed since: ask again"
)

// Option is the treatment of a finding as it was decided.
func (r Result) Option(id job.FindingID, k body.TreatmentKind, l body.LineID) (Option, bool) {
	for _, f := range r.Findings {
		if f.ID != id {
			continue
		}
		for _, o := range f.Options {
			if o.Kind == k && o.Line == l {
				return o, true
			}
		}
	}
	return Option{Because: "no row and no answer speaks of it"}, false
}
