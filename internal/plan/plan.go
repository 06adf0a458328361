// Package plan turns chosen treatments into a plan: what has to come off and
// what is lost on the way, steps in a valid order with their waits, the takeoff
// of materials, and dates.
//
// It permits nothing: what is allowed was decided before. Prices are used only
// to choose between ways of opening; package cost makes the bill.
package plan

import (
	"time"

	"fettle/internal/body"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// Input is what Build takes.
type Input struct {
	Body    *body.Body
	Shop    *shop.Shop
	Job     *job.State
	Inspect inspect.Result
	Vehicle *vehicle.Vehicle // of Body; nil: no meshes
	Choice  Choice
	// Seams are cut lengths of section lines in millimetres that the caller
	// has at hand from Seam; a line that is not here is cut anew.
	Seams map[body.LineID]float64
	Known *sched.Known // schedules that were made before; nil: each is made anew
	Work  *halt.Work   // what this is part of; nil: it is not stopped

	safe   []body.TaskID // make the vehicle safe for what is off already: shown again before anything
	expose *exposing     // what is to be brought into sight beside; nil: nothing
}

// Choice is one treatment for every finding.
type Choice struct {
	Items []Item
}

// Item is the treatment of one or more findings: a weld treats one, a section
// or a new casting may treat many at once.
type Item struct {
	Treatment body.TreatmentID
	Kind      body.TreatmentKind
	Findings  []job.FindingID
	Line      body.LineID // for a section
	Part      body.PartID // part exchanged or casting replaced
	Open      bool        // assumed, not permitted yet: waits for an answer or a better measurement
	Ask       bool        // what it waits for is an answer of the manufacturer
}

// Plan is one complete way through.
type Plan struct {
	Removal  []Removal `json:"removal"` // parts that come off, in order
	Lost     []Lost    `json:"lost"`    // parts that must be bought
	Steps    []Step    `json:"steps"`   // in order of work
	Takeoff  []Takeoff `json:"takeoff"`
	Start    unit.Date `json:"start"`
	Finish   unit.Date `json:"finish"`
	WorkDays int       `json:"workDays"`         // working days from the first to the last step, both included
	Calendar int       `json:"calendarDays"`     // calendar days, both included
	WorkMin  float64   `json:"workMinutes"`      // minutes somebody works
	BoundMin float64   `json:"boundMinutes"`     // no schedule can finish before this many minutes after the start
	SpanMin  float64   `json:"spanMinutes"`      // minutes from start to finish of this schedule
	Proven   bool      `json:"proven"`           // no shorter schedule exists
	Critical []string  `json:"critical"`         // steps that decide the finish
	Stands   []Stand   `json:"stands,omitempty"` // where the vehicle stands, one after the other
	Stills   []Still   `json:"-"`                // when it does not roll

	OpeningCost   unit.Minor  `json:"openingCostMinor"`        // handling, lost parts and tasks of the opening, what is bought anyway left out
	OpeningBound  unit.Minor  `json:"openingBoundMinor"`       // no opening costs less
	OpeningProven bool        `json:"openingProven"`           // no cheaper opening exists
	Reached       []Reached   `json:"reached"`                 // what had to be reached, and through what
	Refit         []Refitting `json:"refit"`                   // parts that go back on, in order
	OffChanges    Changes     `json:"offChanges"`              // of tool, side and lift in the order of removal
	RefitChanges  Changes     `json:"refitChanges"`            // and of refit
	Nearly        []Opening   `json:"nearlyAsCheap,omitempty"` // other openings, at most 5 % dearer; see Alternatives
	NearlyAll     bool        `json:"nearlyAll"`               // there are no others
	Saved         []Saved     `json:"savedBySharing,omitempty"`
	Gaps          []Gap       `json:"openingUnknown,omitempty"` // what nobody knows of parts that come off
	Unplanned     string      `json:"unplanned,omitempty"`      // why it has no steps; empty: they are all here
}

// Saved is a task that several treatments ask for, or a step that several findings need, and
// that is done once.
type Saved struct {
	Task    body.TaskID `json:"task,omitempty"`
	Step    string      `json:"step,omitempty"` // of a treatment, as its Ref
	Name    string      `json:"name"`
	Times   int         `json:"askedFor"` // how often it was asked for
	Minutes float64     `json:"savedMinutes"`
}

// Removal is a part that comes off and why.
type Removal struct {
	Part    body.PartID    `json:"part"`
	Name    string         `json:"name"`
	For     []string       `json:"for"`    // what it gives access to
	Joints  []body.JointID `json:"joints"` // joints opened with it
	Because string         `json:"because"`
	Lost    bool           `json:"lost"`             // cannot be put back
	Parts   []body.PartID  `json:"parts,omitempty"`  // of an assembly: what comes off as one piece
	Needs   []body.PartID  `json:"needs"`            // had to be off before
	Change  string         `json:"change,omitempty"` // of tool, side or lift before it
}

// Reached is something that had to be reached, and what had to be off for it.
type Reached struct {
	To    string        `json:"to"`
	Name  string        `json:"name"`
	For   string        `json:"for"`
	Needs []body.PartID `json:"needs"`

	Unknown bool `json:"unknown,omitempty"` // nobody knows what has to be off
}

// Lost is a part that must be bought.
type Lost struct {
	Part     body.PartID `json:"part"`
	Name     string      `json:"name"`
	Because  string      `json:"because"` // destroyed by opening a joint, one-time use, damaged, replaced
	Quantity int         `json:"quantity"`
}

// Step is one operation with its dates.
type Step struct {
	ID        string            `json:"id"`  // within the plan: "ST-12"
	Ref       string            `json:"ref"` // what it is, in every plan: "T-WELD/weld F1", "task K-HV-OFF", "off P-BUMPER", "on P-BUMPER", "close J-LAMP"
	Name      string            `json:"name"`
	Text      string            `json:"text,omitempty"`
	Tool      string            `json:"tool,omitempty"`
	Side      string            `json:"side,omitempty"`
	Lift      string            `json:"lift,omitempty"`
	Change    string            `json:"change,omitempty"` // what is changed before it, when one person keeps the order of removal or refit
	Phase     Phase             `json:"phase"`            // prepare, open, repair, check, close, finish
	For       []job.FindingID   `json:"for,omitempty"`
	Part      body.PartID       `json:"part,omitempty"`
	Line      body.LineID       `json:"line,omitempty"` // section line the step belongs to
	Skill     body.SkillID      `json:"skill"`
	Minutes   float64           `json:"minutes"`
	Sum       string            `json:"sum"`                // how the minutes came about
	LengthMM  float64           `json:"-"`                  // of the weld, bond or cut that it is reckoned by; 0: by none
	Surface   body.Surface      `json:"surface,omitempty"`  // of the parts, that it works on
	Areas     []Area            `json:"areas,omitempty"`    // of which parts, and how much
	AreaM2    float64           `json:"areaM2,omitempty"`   // all of them, as far as they are known
	Unpriced  bool              `json:"unpriced,omitempty"` // an area it is reckoned by is unknown: neither its minutes nor its materials are all
	Bake      *body.Bake        `json:"bake,omitempty"`     // it dries with heat, which everything that gets warm may take
	Bay       body.BayKind      `json:"bay,omitempty"`
	Equipment []string          `json:"equipment,omitempty"`
	Cautions  []body.Caution    `json:"cautions,omitempty"`
	Hold      string            `json:"holdPoint,omitempty"`
	Second    bool              `json:"secondPerson,omitempty"`  // the hold point is passed by somebody else than who does the step
	Closes    []body.JointID    `json:"closes,omitempty"`        // joints closed with it
	Bonds     []body.MaterialID `json:"bonds,omitempty"`         // adhesives that cure after it
	Records   []string          `json:"records,omitempty"`       // what is written down, in words
	Readings  []body.Reading    `json:"readings,omitempty"`      // figures that are written down, with their limits
	Qualified string            `json:"qualification,omitempty"` // what whoever does it is qualified for beside the skill
	Faults    body.FaultStage   `json:"readsFaults,omitempty"`   // the fault memories are read in it
	Laid      *Laid             `json:"layout,omitempty"`
	Notes     []string          `json:"notes,omitempty"`    // what was checked, in words
	Awaits    []Awaited         `json:"releases,omitempty"` // what has to arrive before it begins
	Takes     []body.PartID     `json:"takes,omitempty"`    // new parts it uses
	WaitName  string            `json:"waitName,omitempty"`
	WaitMin   float64           `json:"waitMinutes,omitempty"` // elapsed minutes after the step
	Together  string            `json:"together,omitempty"`
	Window    float64           `json:"togetherMinutes,omitempty"` // elapsed minutes for all steps of that word; 0: no limit
	After     []string          `json:"after,omitempty"`           // steps that must be done before
	Needs     []string          `json:"-"`                         // of those, what the work asks for, whatever the order of bays
	Person    string            `json:"person"`
	BayID     string            `json:"bayId,omitempty"`
	At        string            `json:"standsIn,omitempty"` // where the vehicle stands meanwhile: a bay, or the yard
	Move      *Move             `json:"move,omitempty"`     // it is moved there
	From      time.Time         `json:"from"`
	To        time.Time         `json:"to"`
	SlackMin  float64           `json:"slackMinutes"`
	Cite      string            `json:"cite,omitempty"`
	Because   string            `json:"because"` // why the step is there
}

// Laid is a layout of rivets as it was checked and counted. It is never a
// design: the manufacturer's drawing rules.
type Laid struct {
	Rivet    body.MaterialID `json:"rivet"`
	Name     string          `json:"name"`
	Rows     int             `json:"rows"`
	PerRow   int             `json:"perRow"`
	Count    int             `json:"count"`
	LengthMM float64         `json:"lengthMM"` // of a row
	PitchMM  float64         `json:"pitchMM"`  // as laid out
	EndMM    float64         `json:"endMM"`
	DrillMM  float64         `json:"drillMM,omitempty"`
	RivetMM  float64         `json:"rivetLengthMM,omitempty"`
	StackMM  float64         `json:"stackMM,omitempty"`
	Checks   []string        `json:"checks,omitempty"`
}

// AwaitedKind is what is awaited.
type AwaitedKind string

// Kinds of what is awaited.
const (
	Delivery AwaitedKind = "delivery"
	Answer   AwaitedKind = "answer"
)

// Awaited is something that has to arrive before a step may begin, counted from
// the start of the job. Dates are reckoned with Minutes; Low and High are the
// ends of its spread, both zero when none is given.
type Awaited struct {
	Kind     AwaitedKind     `json:"kind"` // delivery or answer
	Name     string          `json:"name"`
	Part     body.PartID     `json:"part,omitempty"`     // for a delivery
	Material body.MaterialID `json:"material,omitempty"` // for a delivery of one, where the job has something on record about it
	Minutes  float64         `json:"minutes"`            // elapsed; 0 where Unknown
	Unknown  bool            `json:"unknown,omitempty"`  // nobody says when it arrives: nothing that waits for it has a date
	Low      float64         `json:"lowMinutes,omitempty"`
	High     float64         `json:"highMinutes,omitempty"`

	Arrived  unit.Date `json:"arrived,omitzero"`     // the day all of it came, by the record
	Promised unit.Date `json:"promisedFor,omitzero"` // the day it is promised for, by the record
	Record   string    `json:"record,omitempty"`     // identity of that record
	Came     int       `json:"came,omitempty"`       // pieces or packs that came
	Pieces   int       `json:"pieces,omitempty"`     // of so many, where something is on record
	Spent    int       `json:"spent,omitempty"`      // so many came that may not be used any more when the step is done
	Ready    time.Time `json:"-"`                    // when it is there by the record
}

// Item is the part or material of a delivery, as the order list has it; empty: of none.
func (r Awaited) Item() string { return string(r.Part) + string(r.Material) }

// Same says that both are one thing that arrives.
func (r Awaited) Same(o Awaited) bool { return r.Kind == o.Kind && r.Item() == o.Item() }

// Takeoff is one material and how much of it is used and ordered.
type Takeoff struct {
	Material body.MaterialID   `json:"material"`
	Name     string            `json:"name"`
	Kind     body.MaterialKind `json:"kind"`
	Unit     string            `json:"unit"`
	Net      float64           `json:"net"`
	Gross    float64           `json:"gross"` // with waste
	Pack     float64           `json:"pack"`
	Packs    int               `json:"packs"`
	Lines    []TakeoffLine     `json:"lines"`
}

// TakeoffLine is one use of the material.
type TakeoffLine struct {
	Step    string  `json:"step"`
	Amount  float64 `json:"amount"`
	Formula string  `json:"formula"` // how the amount came about
}
