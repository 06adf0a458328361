// Package job owns one damaged vehicle: readings, findings, evidence, answers
// and decisions.
//
// A stored job is a chain of events that is only ever added to; what it adds up to is
// Stored, and its State. A person may write a state by hand as job.yaml: it has no history, and
// FromState makes the events that would add up to it. Both forms of one job have the same
// State.Hash. Nothing here is computed: results are made again from body, shop and state.
package job

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/geom"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Format is the version of the job file.
const Format = "fettle-job 1"

// FindingID names a finding within its job.
type FindingID string

// State is a job as it stands: what its events add up to, or the file job.yaml with
// readings.csv beside it.
type State struct {
	Format   string       `doc:"format,required" help:"the line 'fettle-job 1'" oneof:"fettle-job 1"`
	ID       string       `doc:"id,required" help:"the shop's number of the job"`
	Invented bool         `doc:"invented" help:"yes when this is no real vehicle"`
	Body     string       `doc:"body,required" help:"folder of the body, relative to this file"`
	Shop     string       `doc:"shop,required" help:"shop file, relative to this file"`
	Seed     int          `doc:"search_seed" help:"starts the sampling that replaces the search through all triples above 60 control points; 0 unless given"`
	Opened   unit.Date    `doc:"opened,required" help:"day the job was opened"`
	Start    unit.Date    `doc:"start,required" help:"first day work could start"`
	Author   string       `doc:"author,required" help:"who enters it: a role or initials"`
	Vehicle  Vehicle      `doc:"vehicle,required"`
	Impact   Impact       `doc:"impact,required"`
	Hazards  []Hazard     `doc:"hazards"`
	Setups   []Setup      `doc:"setups"`
	Findings []Finding    `doc:"findings"`
	Looks    []Inspection `doc:"inspections" help:"how and under which conditions was inspected"`
	Areas    []AreaSeen   `doc:"areas" help:"what has been inspected"`
	Access   []Accessible `doc:"access" help:"what somebody found can be reached at this vehicle, where the body does not say"`
	Earlier  []Earlier    `doc:"earlier_repairs" help:"repairs of the casting done before this job"`
	Castings []Cast       `doc:"castings" help:"what is known of the vehicle's castings themselves"`
	Evidence []Evidence   `doc:"evidence"`
	Answers  []Answer     `doc:"answers"`
	Choices  []Choice     `doc:"choices" help:"what a person has decided"`
	Checks   []Check      `doc:"procedure_checks" help:"when somebody looked up the manufacturer's current revision"`

	Risks []Risk `doc:"risks" help:"what may turn out other than planned, with somebody's chance for it"`

	Agreed     []Agreed       `doc:"agreed" help:"bills as they were agreed with whoever pays, the first and every supplement"`
	Actuals    []Actual       `doc:"actuals" help:"what steps really took and used"`
	Deliveries []Arrival      `doc:"deliveries" help:"what was delivered of what was ordered"`
	Promises   []Promised     `doc:"promises" help:"days named for what was ordered"`
	Questions  []Asked        `doc:"questions" help:"what was sent to the manufacturer, and when"`
	Told       []Told         `doc:"told" help:"the facts that questions were sent with and answers were given for"`
	Faulty     []FaultReading `doc:"fault_readings" help:"what stood in the fault memories of the vehicle, before and after the repair"`
	Workplace  []Climate      `doc:"workplace" help:"what the work area was like on a day"`
	Accepted   []Accepted     `doc:"accepted" help:"which treatment a person accepted for each finding"`
	Reviews    []Review       `doc:"reviews" help:"a second person's look at the decisions"`
	Figures    []Figure       `doc:"figures" help:"figures that the day sheets ask for, as they were read"`
	Records    []Record       `doc:"records" help:"proof of what was inspected and closed after the repair"`

	HandBacks []HandBack `doc:"hand_backs" help:"that the vehicle was handed back, and that the job was opened again"`

	Proposals      []Proposal      `doc:"proposals" help:"records that somebody proposes who may not enter them; none counts before somebody has taken it over"`
	Sendings       []Sending       `doc:"sendings" help:"that the job, or what was measured, was sent to review, and sent back"`
	ErasuresAgreed []ErasureAgreed `doc:"erasure_agreements" help:"that somebody agrees to names and remarks being erased"`

	Readings []Reading `doc:"-"` // readings.csv

	at     doc.Positions      // where each field stands in its file, for messages
	places map[string][]place // of a stored job: the events that its records come from, by list
	later  []RecordName       // of a stored job: what was written after the last hand-back
}

// Vehicle identifies the vehicle and what it is worth.
type Vehicle struct {
	VIN       string     `doc:"vin,required" help:"17 characters, ISO 3779"`
	Built     unit.Date  `doc:"built"`
	Odometer  float64    `doc:"odometer_km"`
	Value     unit.Money `doc:"value,required" help:"value before the damage"`
	Salvage   unit.Money `doc:"salvage,required" help:"value of the damaged vehicle"`
	LoadState string     `doc:"load_state,required" help:"'loaded' or 'unloaded' when measured" oneof:"loaded|unloaded"`
	Battery   Battery    `doc:"battery" help:"where the high-voltage battery is: 'in', 'out' or 'none'; left out, it is taken for in" oneof:"in|out|none"`
}

// Battery is where the high-voltage battery is.
type Battery string

// Where the high-voltage battery is. What is not said is taken for in.
const (
	BatteryIn   Battery = "in"
	BatteryOut  Battery = "out"
	BatteryNone Battery = "none"
)

// ImpactSide is where an impact came from.
type ImpactSide string

// Where an impact came from.
const (
	FromFront      ImpactSide = "front"
	FromRear       ImpactSide = "rear"
	FromLeft       ImpactSide = "left"
	FromRight      ImpactSide = "right"
	FromFrontLeft  ImpactSide = "front-left"
	FromFrontRight ImpactSide = "front-right"
	FromRearLeft   ImpactSide = "rear-left"
	FromRearRight  ImpactSide = "rear-right"
)

// Impact is where and how the vehicle was hit.
type Impact struct {
	On   unit.Date  `doc:"on" help:"day of the impact; what was seen or done before it says nothing of the vehicle as it is. Without it the day the job was opened is the first day that counts"`
	From ImpactSide `doc:"from,required" help:"front, rear, left, right, front-left, front-right, rear-left, rear-right or unknown" oneof:"front|rear|left|right|front-left|front-right|rear-left|rear-right|unknown"`
	At   []geom.Vec `doc:"at_mm" help:"where the vehicle was hit: points in vehicle axes [[x, y, z], ...]; without them the whole side counts"`
	Text string     `doc:"text" personal:"yes"`
}

// Hazard is something dangerous about this vehicle and whether it is settled.
type Hazard struct {
	Kind    body.Caution `doc:"kind,required" oneof:"high-voltage|airbag|aluminium-dust|heat-near-battery|welding|chemical|lifting|eyes"`
	Text    string       `doc:"text,required"`
	Cleared bool         `doc:"cleared" help:"yes when a qualified person has made it safe"`
	By      string       `doc:"by" personal:"yes" help:"who cleared it"`
	On      unit.Date    `doc:"on"`
}

// Stage says when, in the course of a repair, a set-up measures.
type Stage string

// Stages of a set-up.
const (
	StageBefore Stage = "before"
	StageDuring Stage = "during"
	StageAfter  Stage = "after"
)

// Setup is one placement of a measuring device: its readings share one
// unknown pose.
type Setup struct {
	ID         string                   `doc:"id,required"`
	Stage      Stage                    `doc:"stage" help:"before, during or after the repair; before unless given" oneof:"before|during|after"`
	Device     string                   `doc:"device,required"`
	Calibrated unit.Date                `doc:"calibrated_until" help:"last day of the device's calibration"`
	Std        unit.MM                  `doc:"std,required" help:"standard uncertainty of one coordinate or length, unless a reading gives its own"`
	Temp       unit.Maybe[unit.Celsius] `doc:"temperature" help:"of the body while measuring"`
	TempStd    unit.Kelvin              `doc:"temperature_std" help:"standard uncertainty of the body's temperature"`
	Growth     *DeviceGrowth            `doc:"device_growth" help:"how the device's own scale grows with its temperature; leave it out for a device that corrects itself or does not grow"`
	On         unit.Date                `doc:"on,required"`
	At         string                   `doc:"at" help:"hh:mm when measuring began; the beginning of the working day unless given"`
	By         string                   `doc:"by,required" personal:"yes"`
}

// DeviceGrowth is how the scale of a measuring device grows with temperature,
// from its papers, and how warm it was.
type DeviceGrowth struct {
	Expansion unit.PerKelvin           `doc:"expansion,required" help:"of the device's scale, for example 11.5 ppm/K"`
	Std       unit.PerKelvin           `doc:"std,required" help:"standard uncertainty of that expansion"`
	Reference unit.Celsius             `doc:"reference,required" help:"temperature at which its scale is right"`
	Temp      unit.Maybe[unit.Celsius] `doc:"temperature" help:"of the device while measuring"`
	TempStd   unit.Kelvin              `doc:"temperature_std" help:"standard uncertainty of the device's temperature"`
	Low       unit.Celsius             `doc:"low,required" help:"lowest temperature the device is used at"`
	High      unit.Celsius             `doc:"high,required" help:"highest; without a temperature it lies somewhere from low to high"`
}

// ReadingKind is what a reading is of.
type ReadingKind string

// Kinds of reading.
const (
	ReadXYZ    ReadingKind = "xyz"
	ReadRim    ReadingKind = "rim"
	ReadLength ReadingKind = "length"
	ReadHeight ReadingKind = "height"
)

// Reading is one measured value: a row of readings.csv.
type Reading struct {
	Setup string              `doc:"setup,required"`
	Kind  ReadingKind         `doc:"kind,required" help:"xyz, rim (one point of the rim of a hole), length or height" oneof:"xyz|rim|length|height"`
	From  body.PointID        `doc:"from,required" help:"the point; the first point of a length or height"`
	To    body.PointID        `doc:"to" help:"the second point of a length or height"`
	X     unit.Maybe[float64] `doc:"x_mm"`
	Y     unit.Maybe[float64] `doc:"y_mm"`
	Z     unit.Maybe[float64] `doc:"z_mm"`
	Value unit.Maybe[float64] `doc:"value_mm" help:"the length, or z of the first point minus z of the second"`
	Std   unit.Maybe[float64] `doc:"std_mm"`
	StdX  unit.Maybe[float64] `doc:"std_x_mm"`
	StdY  unit.Maybe[float64] `doc:"std_y_mm"`
	StdZ  unit.Maybe[float64] `doc:"std_z_mm"`
	Line  int                 `doc:"-"` // row in the file, for messages
}

// Finding is one defect on one part; a crack has a trace.
type Finding struct {
	ID       FindingID             `doc:"id,required"`
	Kind     body.FindingKind      `doc:"kind,required" help:"crack, break, bend, dent or torn" oneof:"crack|break|bend|dent|torn"`
	Part     body.PartID           `doc:"part,required"`
	Trace    []geom.Vec            `doc:"trace_mm" help:"points along the crack in vehicle axes [[x, y, z], ...]; one point for a defect without length"`
	Setup    string                `doc:"setup" help:"the set-up in whose axes the trace is given, of the stage before; vehicle axes when left out"`
	Axes     string                `doc:"axes" help:"of a finding as it was told to the manufacturer: hash of the readings that put its set-up in place"`
	Std      unit.MM               `doc:"trace_std" help:"standard uncertainty of each point of the trace along the surface"`
	Zones    []body.ZoneID         `doc:"zones" help:"every zone it was seen to lie in, by the drawing or zone map; where the casting has no mesh it is what counts"`
	Pins     []Pin                 `doc:"pins" help:"where it was seen on zone maps; where 'zones' is left out, the zones are those that the pins may lie in"`
	Measured []HandReading         `doc:"measured" help:"what was measured of it by hand; beside a trace it is held against it"`
	Tips     []body.TipMethod      `doc:"tips" help:"how each end was found: visual, penetrant or stop-hole" oneof:"visual|penetrant|stop-hole"`
	Through  body.YesNo            `doc:"through" help:"yes, no or unknown; unknown unless given" oneof:"yes|no|unknown"`
	Depth    unit.Maybe[unit.MM]   `doc:"depth"`
	DepthStd unit.MM               `doc:"depth_std" help:"standard uncertainty of the depth; taken as exact when left out"`
	Kinked   body.YesNo            `doc:"kinked" help:"of a bend or a dent: yes, no or unknown: a sharp fold that stays; unknown unless given" oneof:"yes|no|unknown"`
	Straight unit.Maybe[int]       `doc:"straightened_before" help:"how often the part was straightened before this job, as far as was looked for and asked; 0 for never, not known when left out"`
	SameAs   FindingID             `doc:"other_face_of" help:"the finding on the other face of the wall that is the same crack"`
	BranchOf FindingID             `doc:"branch_of" help:"the crack that this one forks off; its first point is at the fork, and it has one tip, its last point"`
	Look     string                `doc:"inspection" help:"the inspection that found its tips; a tip found with penetrant counts as such only when that inspection counts"`
	Seen     body.InspectionMethod `doc:"seen,required" help:"how it was found: visual or penetrant" oneof:"visual|penetrant"`
	By       string                `doc:"by,required" personal:"yes"`
	On       unit.Date             `doc:"on,required"`
	Text     string                `doc:"text" personal:"yes"`
	Photos   []string              `doc:"evidence" help:"identities of evidence"`
}

// AreaState is how far an inspection area has been looked at.
type AreaState string

// States of an inspection area.
const (
	StateSeen         AreaState = "seen"
	StatePenetrant    AreaState = "penetrant"
	StateNotReachable AreaState = "not-reachable"
	StateNotYet       AreaState = "not-yet"
)

// AreaSeen is the state of one inspection area.
type AreaSeen struct {
	Area  string    `doc:"area,required"`
	State AreaState `doc:"state,required" help:"seen, penetrant, not-reachable or not-yet" oneof:"seen|penetrant|not-reachable|not-yet"`
	By    string    `doc:"by" personal:"yes"`
	On    unit.Date `doc:"on"`
	Look  string    `doc:"inspection" help:"the inspection in which it was; one that was not under the conditions asked for does not count"`
	Text  string    `doc:"text" personal:"yes"`
}

// Accessible is places that somebody found can be reached at this vehicle.
type Accessible struct {
	To   []string      `doc:"to,required" help:"zones and section lines"`
	Off  []body.PartID `doc:"off" help:"parts that have to be off before; none when left out"`
	By   string        `doc:"by,required" personal:"yes" help:"who found it"`
	On   unit.Date     `doc:"on,required"`
	Text string        `doc:"text" personal:"yes"`
}

// Inspection is one session of looking or of penetrant inspection, with its
// conditions. What is not on record was not kept.
type Inspection struct {
	ID          string                `doc:"id,required"`
	Method      body.InspectionMethod `doc:"method,required" help:"visual or penetrant" oneof:"visual|penetrant"`
	Medium      string                `doc:"medium" help:"for penetrant: colour contrast or fluorescent" oneof:"colour contrast|fluorescent"`
	Light       unit.Maybe[float64]   `doc:"light_lx" help:"white light at the surface"`
	UV          unit.Maybe[float64]   `doc:"uv_w_m2" help:"UV-A at the surface"`
	Ambient     unit.Maybe[float64]   `doc:"ambient_lx" help:"visible light while looking under UV-A"`
	Distance    unit.Maybe[float64]   `doc:"distance_mm" help:"of the eye from the surface"`
	Angle       unit.Maybe[float64]   `doc:"angle_deg" help:"between the line of sight and the surface, at least"`
	Temp        unit.Maybe[float64]   `doc:"temperature_c" help:"of the part"`
	Dwell       unit.Maybe[float64]   `doc:"dwell_min" help:"minutes the penetrant was on"`
	Development unit.Maybe[float64]   `doc:"development_min" help:"minutes the developer was on before looking"`
	Device      string                `doc:"device" help:"what light and temperature were read with; a release asks for it"`
	Calibrated  unit.Date             `doc:"calibrated_until" help:"last day of that device's calibration"`
	Product     string                `doc:"product" help:"for penetrant: family and batch numbers of penetrant, remover and developer"`
	By          string                `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On          unit.Date             `doc:"on,required"`
	Photos      []string              `doc:"evidence" help:"identities of evidence"`
	Text        string                `doc:"text" personal:"yes"`
}

// Condition is the value of a condition by the name a procedure's bounds have
// for it; unknown when it is not on record or the name is none.
func (i Inspection) Condition(what string) unit.Maybe[float64] {
	if v := i.Measured(what); v != nil {
		return *v
	}
	return unit.Maybe[float64]{}
}

// Conditions is the names of all that is measured of an inspection.
func Conditions() []string {
	return []string{"light_lx", "uv_w_m2", "ambient_lx", "distance_mm", "angle_deg", "temperature_c", "dwell_min", "development_min"}
}

// Measured is where the condition of a name is kept; nil when the name is none.
func (i *Inspection) Measured(what string) *unit.Maybe[float64] {
	all := []*unit.Maybe[float64]{&i.Light, &i.UV, &i.Ambient, &i.Distance, &i.Angle, &i.Temp, &i.Dwell, &i.Development}
	if k := slices.Index(Conditions(), what); k >= 0 {
		return all[k]
	}
	return nil
}

// Earlier is a repair of the casting done before this job.
type Earlier struct {
	Zone   body.ZoneID `doc:"zone,required"`
	Length unit.MM     `doc:"length,required"`
	Trace  []geom.Vec  `doc:"trace_mm" help:"points along it in vehicle axes [[x, y, z], ...]; without it the distance to it is not known"`
	Std    unit.MM     `doc:"trace_std" help:"standard uncertainty of each point of the trace along the surface"`
	Text   string      `doc:"text" personal:"yes"`
}

// RepairsUnknown says why earlier_repairs is not known to list all repairs done
// to a casting before this job; empty when somebody of the shop has looked for
// them, after the impact.
func (s *State) RepairsUnknown(c body.CastingID, sh *shop.Shop, today unit.Date) string {
	for _, k := range s.Castings {
		if k.Casting != c || !k.Looked {
			continue
		}
		if why := s.Falls(k.act(), sh, today); why != "" {
			return "that the casting was looked over for earlier repairs does not count: " + why
		}
		return ""
	}
	return "nobody has said that the casting was looked over for earlier repairs"
}

// act is who read what is on record of the casting, and when.
func (k Cast) act() Act { return Act{By: k.By, On: k.On} }

// Unread says why what is on record of a casting does not count; empty when it
// does.
func (s *State) Unread(k Cast, sh *shop.Shop, today unit.Date) string {
	return s.Falls(k.act(), sh, today)
}

// Cast is what is known of one casting of the vehicle.
type Cast struct {
	Casting  body.CastingID `doc:"casting,required"`
	CastOn   unit.Date      `doc:"cast_on" help:"day it was cast, by its date mark"`
	FittedOn unit.Date      `doc:"fitted_on" help:"day it was fitted, when it is not the first one"`
	Looked   bool           `doc:"repairs_looked_for" help:"yes: it was looked over for repairs done before this job, and earlier_repairs lists them all"`
	By       string         `doc:"by,required" personal:"yes"`
	On       unit.Date      `doc:"on,required"`
}

// Climate is what the work area was like on a day.
type Climate struct {
	Temp unit.Celsius `doc:"temperature,required"`
	Std  unit.Celsius `doc:"std,required" help:"standard uncertainty of the temperature"`
	By   string       `doc:"by,required" personal:"yes"`
	On   unit.Date    `doc:"on,required"`
}

// Evidence is a photo or document kept with the job.
type Evidence struct {
	ID     string    `doc:"id,required"`
	File   string    `doc:"file,required" help:"path relative to this file"`
	SHA256 string    `doc:"sha256" help:"of the original bytes"`
	Text   string    `doc:"text,required" personal:"yes"`
	On     unit.Date `doc:"on"`
	By     string    `doc:"by" personal:"yes"`
}

// Answer is what came back from the manufacturer for this vehicle only.
type Answer struct {
	ID         string               `doc:"id,required"`
	Finding    FindingID            `doc:"finding" help:"the finding it is about; or 'point'"`
	Point      body.PointID         `doc:"point" help:"the control point it is about, in place of a finding: allow or forbid 'leave'"`
	VIN        string               `doc:"vin,required" help:"the vehicle it is for, as the answer has it; it never spreads to another"`
	Question   string               `doc:"question" help:"identity of the question it answers"`
	Allow      []body.TreatmentKind `doc:"allow" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Forbid     []body.TreatmentKind `doc:"forbid" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	When       map[string]string    `doc:"when" help:"conditions that the finding has to meet for the answer to hold, as in a row of a procedure: fact name to condition, for example 'length: <= 24 mm' or 'outboard_of: includes S-1'"`
	Conditions string               `doc:"conditions" help:"conditions of how it has to be done, in words"`
	By         string               `doc:"by,required" personal:"yes" help:"who answered: a role, not a name"`
	On         unit.Date            `doc:"on,required"`
	Expires    unit.Date            `doc:"expires,required"`
	Document   string               `doc:"document" help:"identity of the evidence that holds the answer; the hash is there"`
	RecordedBy string               `doc:"recorded_by" personal:"yes" help:"the person of the shop file who recorded it"`
}

// Choice is what a person has decided.
type Choice struct {
	Route  string    `doc:"route,required" help:"identity of the chosen route"`
	By     string    `doc:"by,required" personal:"yes"`
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required" personal:"yes"`
}

// Outcome is how a risk turned out.
type Outcome string

// How a risk turned out.
const (
	SettledWell  Outcome = "well"
	SettledBadly Outcome = "badly"
)

// Risk is something that may turn out bad, with the chance somebody gives it, and
// how it could be found out before deciding.
type Risk struct {
	ID     string               `doc:"id,required"`
	Text   string               `doc:"text,required" help:"what may turn out bad, for example 'the crack is longer than it looks'"`
	About  string               `doc:"about" help:"the finding, control point or inspection area it settles, when that is an open point of a route"`
	Chance unit.Frac            `doc:"chance,required" help:"that it turns out bad"`
	Low    unit.Money           `doc:"low,required" help:"least that it then costs more, tax included"`
	Likely unit.Money           `doc:"likely,required"`
	High   unit.Money           `doc:"high,required"`
	Bars   bool                 `doc:"bars" help:"yes: a route that it concerns cannot then be finished, and the job goes on by another one; the cost is what is lost"`
	Spared []body.TreatmentKind `doc:"spared_by" help:"treatments with which it does not matter; a new part spares nothing unless it is named here" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Look   *Look                `doc:"look" help:"how it could be found out before deciding"`

	Factor   string    `doc:"factor" help:"risks, and figures of the shop's spreads, of the same factor go together"`
	Together unit.Frac `doc:"together" help:"correlation of two of the factor, for example 40 %"`

	Settled   Outcome `doc:"settled" help:"how it turned out, once that is known: well or badly; left out while it is open" oneof:"well|badly"`
	SettledBy string  `doc:"settled_by" help:"identity of the inspection, finding or answer that settled it; what turned out badly is on record as a finding or an answer"`

	By string    `doc:"by,required" personal:"yes" help:"who gives the chance"`
	On unit.Date `doc:"on,required"`
}

// Open says that nothing has settled the risk yet.
func (r Risk) Open() bool { return r.Settled == "" }

// Blocks says that the risk turned out badly and bars what it concerns.
func (r Risk) Blocks() bool { return r.Settled == SettledBadly && r.Bars }

// Look is an inspection or measurement that finds a risk out before deciding.
type Look struct {
	Name    string       `doc:"name,required" help:"what is done, for example 'penetrant'"`
	Minutes unit.Minutes `doc:"minutes,required"`
	Skill   body.SkillID `doc:"skill,required"`
	Price   unit.Money   `doc:"price" help:"of what it uses, beside the work"`
	Finds   unit.Frac    `doc:"finds,required" help:"chance that it shows what is bad"`
	False   unit.Frac    `doc:"false_calls" help:"chance that it shows something where nothing is"`
}

// Actual is what a step really took. Those of a step that is not done yet have what it
// took so far, so that the last of them says it all.
type Actual struct {
	ID      string       `doc:"id" help:"identity of the record: recording another one under it takes its place"`
	Step    string       `doc:"step,required" help:"name of the step, as the plan has it"`
	Finding FindingID    `doc:"finding" help:"for a step that several findings have"`
	Planned unit.Minutes `doc:"planned,required" help:"minutes the plan gave it when it was done"`
	Minutes unit.Minutes `doc:"minutes,required"`
	Parts   []PartUsed   `doc:"parts" help:"parts and materials it used, planned or not; what goes beyond the plan is worked out"`
	By      string       `doc:"by,required" personal:"yes"`
	On      unit.Date    `doc:"on,required"`
	Began   string       `doc:"began" help:"hh:mm when it was begun, on that day; a step is taken as begun with the working day unless given"`
	Ended   string       `doc:"ended" help:"hh:mm when it was done; a step is taken as done with the end of the working day unless given"`
	Text    string       `doc:"text" personal:"yes"`

	Going bool         `doc:"under_way" help:"yes: begun and not done yet; the minutes are those so far"`
	Left  unit.Minutes `doc:"left" help:"minutes a step under way still takes, by whoever does it"`

	Again     string       `doc:"again" help:"why the step was done once more: the minutes and parts are those of this time alone"`
	Unplanned string       `doc:"unplanned" help:"why it was done though no step of the plan has it"`
	Skill     body.SkillID `doc:"skill" help:"for unplanned work: the skill whose rate it is priced at"`
}

// PartUsed is a part or material that a step used.
type PartUsed struct {
	ID    string     `doc:"id,required" help:"part or material of the body, or a name"`
	Count int        `doc:"count,required" help:"pieces of a part, packs of a material"`
	Price unit.Money `doc:"price,required" help:"of one; what was planned is priced by the plan"`
}

// Check says that somebody looked up the manufacturer's current revision.
type Check struct {
	Procedure body.ProcedureID `doc:"procedure,required"`
	Revision  string           `doc:"revision,required" help:"revision found to be the current one"`
	On        unit.Date        `doc:"on,required"`
	By        string           `doc:"by,required" personal:"yes"`
}
