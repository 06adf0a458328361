// Package inspect says where every finding lies: the length of a crack along
// the surface, the zones it crosses, how near it is to bores, borders, edges of
// section lines and other cracks, and what has not been looked at yet.
//
// It decides nothing: it turns traces into facts with uncertainty. Everything
// here is pure: the same body, meshes and job give the same result.
//
// Every figure that a limit is held against is for the crack as allowed for,
// not only as seen: a tip found by eye only may lie farther on by the
// procedure's tip allowance, and lengths, clearances, zones and sides all take
// it in. The methods are in docs/methods/crack-length.md and
// docs/methods/inspection.md.
package inspect

import (
	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// Input is what Run takes.
type Input struct {
	Body    *body.Body
	Job     *job.State
	Vehicle *vehicle.Vehicle // of Body, shared between jobs; nil: no meshes
	Shop    *shop.Shop       // who is qualified; nil: nobody
	Today   unit.Date        // day the procedures are judged by; the day the job was opened when not given
	Acts    unit.Date        // last day whose acts count; Today when not given
	Axes    map[string]Axes  // of the set-ups that findings are given in
	Work    *halt.Work       // what this is part of; nil: it is not stopped
}

// Length is a length with its standard uncertainty, in millimetres.
type Length struct {
	MM  float64 `json:"mm"`
	Std float64 `json:"stdMm"`
}

// Result is what was found out about the findings and the coverage.
type Result struct {
	Findings []Finding  `json:"findings"` // in the order of the job
	Groups   []Group    `json:"groups"`   // cracks that count as one
	Coverage []Coverage `json:"coverage"` // every inspection area, written in the body or found
	// Inspections is every inspection of the job, held against the procedure of
	// every casting.
	Inspections []Judged `json:"inspections"`
	// Access is what somebody found can be reached, in the order of the job.
	Access []Access `json:"access,omitempty"`
	// Earlier is where each repair done before lies, in the order of the job.
	Earlier []EarlierPlace `json:"earlier,omitempty"`
	// ProcedureID and Revision name the procedure whose grouping and tip
	// allowance were used, per casting.
	Rules []RuleUsed `json:"rules"`
}

// RuleUsed says which procedure's grouping distance and tip allowance were used.
type RuleUsed struct {
	Casting   body.CastingID   `json:"casting"`
	Procedure body.ProcedureID `json:"procedure"`
	Revision  string           `json:"revision"`
}

// Finding is a finding with its geometry. Lengths of a finding that has no
// trace, or is not on a casting, are absent.
type Finding struct {
	ID      job.FindingID    `json:"id"`
	Kind    body.FindingKind `json:"kind"`
	Part    body.PartID      `json:"part"`
	Casting body.CastingID   `json:"casting,omitempty"` // empty: not on a casting
	Located bool             `json:"located"`           // the trace was found on the casting's surface

	Path     []geom.Vec `json:"path,omitempty"`     // along the surface, vehicle axes [mm]
	Length   *Length    `json:"length,omitempty"`   // along the surface, of this crack alone
	LowerMM  float64    `json:"lowerMm"`            // chord: no crack along this trace is shorter
	UpperMM  float64    `json:"upperMm"`            // unsimplified trace
	Decision *Length    `json:"decision,omitempty"` // what a length limit is held against: the group's length with the tip allowance
	// Lengths is every decision length that may be the largest, where Decision is one
	// of several: of two faces of one crack either may be the longer.
	Lengths  []Length `json:"lengths,omitempty"`
	TipAddMM float64  `json:"tipAddMm"` // allowance included in Decision
	Group    string   `json:"group,omitempty"`
	Piece    string   `json:"piece,omitempty"` // in a group: the crack it surely is, with every finding of the same name

	Zones   []ZoneShare `json:"zones,omitempty"` // every zone crossed or within its uncertainty
	Border  *Clearance  `json:"border,omitempty"`
	Bore    *Clearance  `json:"bore,omitempty"`
	Edge    *Clearance  `json:"edge,omitempty"`    // to a free edge
	Joint   *Clearance  `json:"joint,omitempty"`   // to a joint of the casting
	Earlier *Clearance  `json:"earlier,omitempty"` // to a repair done before this job
	Spacing *Clearance  `json:"spacing,omitempty"` // to the next crack
	Sides   []LineSide  `json:"sides,omitempty"`   // against every section line of the casting
	// Tips is how each tip was found, as far as that counts: one that was found
	// with penetrant in an inspection that does not count is one seen by eye.
	Tips   []body.TipMethod `json:"tips,omitempty"`
	Fork   bool             `json:"fork,omitempty"` // a branch whose first end is surely at the crack it forks off, and no tip
	SnapMM float64          `json:"snapMm"`         // farthest trace point from the surface
	// NoFace says that the finding is not, or not surely, the other face of the one
	// it is said to be: both are cracks of their own.
	NoFace bool `json:"noOtherFace,omitempty"`
	// Through is the job's word for a crack through the wall, and "yes" for a
	// crack that is linked to its other face.
	Through body.YesNo `json:"through"`
	// MayLieIn is every zone of the casting when the finding could not be
	// located: it may lie in any of them.
	MayLieIn []body.ZoneID `json:"mayLieIn,omitempty"`
	Because  []string      `json:"because"`           // how the figures came about, one sentence each
	Unknown  []string      `json:"unknown,omitempty"` // what could not be said, and how to get it
}

// ZoneShare is the length of a crack inside one zone.
type ZoneShare struct {
	Zone     body.ZoneID `json:"zone"`
	LengthMM float64     `json:"lengthMm"`
	Touches  bool        `json:"touches"` // not crossed, but nearer than the uncertainty
}

// Clearance is the least distance to something: nothing of the kind is known
// to be nearer. When the casting has nothing of the kind, To is None and MM is
// the diagonal of the casting.
type Clearance struct {
	To  string  `json:"to"` // which bore, zone, finding or line
	MM  float64 `json:"mm"` // less the allowance of a tip seen by eye only, never below 0
	Std float64 `json:"stdMm"`
	// SeenMM is the distance from the crack as it was seen: a lower bound.
	SeenMM float64 `json:"seenMm"`
	// UpperMM is an upper bound on that along the surface; 0 when the lower bound
	// decides and none was looked for.
	UpperMM float64 `json:"upperMm,omitempty"`
	// Of is every distance that may be the least, when there are several: to other
	// things of the kind, or from an end that may run on. All of them have to keep a
	// limit.
	Of    []Element `json:"of,omitempty"`
	Found bool      `json:"found,omitempty"` // what it is to was found by computation: one that was missed may be nearer
	Doubt string    `json:"doubt,omitempty"` // why the interval is wider than asked for
}

// None is what a clearance is to when the casting has nothing of the kind.
const None = "none on this casting"

// LineSide says where a finding lies against a section line. Outboard is the
// side that would be taken off.
type LineSide struct {
	Line     body.LineID `json:"line"`
	MarginMM float64     `json:"marginMm"` // least signed distance: positive when all of it is outboard
	Std      float64     `json:"stdMm"`
	NeedMM   float64     `json:"needMm"`
	Outboard bool        `json:"outboard"` // all of it is outboard by the margin, with the uncertainty
	// Of is every margin that has to be kept: of each plane, for all of it as seen
	// and for each end that may run on. Reaches says that the line is one there.
	Of      []Element `json:"of,omitempty"`
	Reaches bool      `json:"reaches"`
	// Inside is how far inside the box of the line all of it lies, by face: the line
	// is one there when all of them are surely no less than nothing.
	Inside []Element `json:"inside,omitempty"`
}

// Group is a set of cracks that the procedure's rule counts as one.
type Group struct {
	ID       string          `json:"id"`
	Findings []job.FindingID `json:"findings"`
	LengthMM float64         `json:"lengthMm"` // without tip allowances; 0 when Unknown
	StdMM    float64         `json:"stdMm"`
	Because  string          `json:"because"`
	Unknown  bool            `json:"unknown,omitempty"` // the length of a member is unknown, so this one is
}

// EarlierPlace is where a repair done before this job counts: in the zone it is
// entered for, and in every zone that its trace crosses or may reach.
type EarlierPlace struct {
	Castings []body.CastingID `json:"castings"`
	Zones    []body.ZoneID    `json:"zones"`
}

// Coverage is the state of one inspection area.
type Coverage struct {
	Area    string                `json:"area"`
	Name    string                `json:"name"`
	Casting body.CastingID        `json:"casting"`
	Zone    body.ZoneID           `json:"zone"`              // empty: not known
	Of      body.AreaKind         `json:"of"`                // zone, ribs, bores, joints; written for an area of the body's own list
	SizeMM  float64               `json:"sizeMm,omitempty"`  // length of the ribs' feet or of the joint
	Needs   body.InspectionMethod `json:"needs"`             // method the manufacturer asks for
	Because string                `json:"because,omitempty"` // which rule asks for it
	State   job.AreaState         `json:"state"`             // seen, penetrant, not-reachable, not-yet: as entered
	By      string                `json:"by,omitempty"`
	On      unit.Date             `json:"on"`
	Look    string                `json:"inspection,omitempty"` // in which inspection
	Part    string                `json:"partOf,omitempty"`     // the area it lies in, whose entry stands for this one too
	Own     bool                  `json:"own"`                  // it has an entry of its own
	Fails   string                `json:"fails,omitempty"`      // why what was entered does not count
	Covered bool                  `json:"covered"`
	FindsMM float64               `json:"findsMm"` // shortest crack the method is relied on to find
	Text    string                `json:"text"`

	Zones    []body.ZoneID `json:"-"` // all it lies in; an empty one, or none: not known
	Keep     []Condition   `json:"-"` // when an inspection by the method counts; none: the procedure does not say
	Trained  bool          `json:"-"` // it counts only from somebody qualified for the method
	ImpactMM float64       `json:"-"` // how near it comes to the place of the impact; 0 where nobody says where that was
}

// acts is the last day whose acts count.
func (in Input) acts() unit.Date {
	if in.Acts.IsZero() {
		return in.today()
	}
	return in.Acts
}

// today is the day the procedures are judged by.
func (in Input) today() unit.Date {
	if in.Today.IsZero() {
		return in.Job.Opened
	}
	return in.Today
}
