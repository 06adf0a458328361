// Package shop owns what a repair shop knows of itself: rates, people and
// skills, bays and equipment, calendar, taxes, currency and the rule by which
// a total loss is judged.
package shop

import (
	"time"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

// Format is the version of the shop file.
const Format = "fettle-shop 1"

// Shop is one repair shop: the file shop.yaml.
type Shop struct {
	Format     string        `doc:"format,required" help:"the line 'fettle-shop 1'" oneof:"fettle-shop 1"`
	Name       string        `doc:"name,required"`
	Invented   bool          `doc:"invented" help:"yes when this is no real shop"`
	Currency   string        `doc:"currency,required" help:"three-letter code"`
	Temp       unit.Celsius  `doc:"temperature,required" help:"usual temperature of the bays; cure times depend on it"`
	TempStd    unit.Celsius  `doc:"temperature_std" help:"how far the bays may be off it, as a standard deviation; without it a procedure that asks for a temperature wants one measured"`
	Humidity   unit.Frac     `doc:"humidity" help:"usual relative humidity of the bays, for example 55 %; a step with a limit of it is a caution without"`
	LiftLimit  unit.Kilogram `doc:"lift_limit" help:"heaviest part one person lifts without gear; heavier ones get the caution of lifting"`
	Rates      []Rate        `doc:"rates,required"`
	People     []Person      `doc:"people,required"`
	Bays       []Bay         `doc:"bays,required"`
	Equipment  []string      `doc:"equipment" help:"what the shop has; a step that needs something else blocks"`
	Calendar   Calendar      `doc:"calendar,required"`
	Absences   []Absence     `doc:"absences" help:"when a person or a bay is not there; somebody who has left stays under 'people', with an absence that has no end"`
	Zone       string        `doc:"zone" help:"time zone of the shop by its name in the zone database, for example Europe/Berlin: waits are then right when the clock is changed, and times are told with their offset; without it they are told without one"`
	Taxes      []Tax         `doc:"taxes"`
	Storage    unit.Money    `doc:"storage_per_day" help:"charged for each calendar day"`
	TotalLoss  []LossRule    `doc:"total_loss,required" help:"rules by which a total loss is judged; all are shown"`
	AnswerTime unit.Minutes  `doc:"answer_time,required" help:"usual wait for an answer of the manufacturer's engineering desk, for example 4 d: the likely one, which dates are reckoned with"`

	AnswerLow  unit.Minutes `doc:"answer_low" help:"the shortest wait for an answer; with answer_high"`
	AnswerHigh unit.Minutes `doc:"answer_high" help:"the longest wait for an answer; with answer_low"`

	Changes *Changes `doc:"changes" help:"minutes to change tool, side and height of the lift; the order of removal and refit needs least of them"`
	Tested  []Tested `doc:"equipment_tests" help:"equipment that has to be tested or calibrated, and until when it is"`
	Spreads []Spread `doc:"spreads" help:"how far figures of a plan may be off, by somebody's experience; without them no spread is told"`

	Moving *Moving `doc:"moving" help:"who moves vehicles between bays; the minutes are 'in' and 'out' of each bay. Without it the plan counts no minutes for moving, and says so"`

	Sublets []Sublet `doc:"sublets" help:"work that others do for the shop, by skill: a skill that nobody here has"`

	Gauges []Gauge `doc:"gauges" help:"what is measured by hand with, and how well; a reading with a gauge that is not here, and that does not say so itself, counts for nothing"`

	Inspecting []Inspecting `doc:"inspecting" help:"how long inspecting one area takes; without it an opening to inspect has no minutes for that, and says so"`

	at   doc.Positions // where each field stands in its file, for messages
	zone *time.Location
}

// WallClock is the place of times of a shop that names no zone: what its clock shows, with
// no offset.
var WallClock = time.FixedZone("wall clock", 0)

// Location is where the shop's clock hangs.
func (s *Shop) Location() *time.Location {
	switch {
	case s.Zone == "":
		return WallClock
	case s.zone != nil && s.zone.String() == s.Zone:
		return s.zone
	}
	if loc, err := time.LoadLocation(s.Zone); err == nil {
		return loc
	}
	return WallClock // a name that is none was refused when the file was read
}

// Changes are the minutes between two parts that are handled one after the
// other. They are not billed: the times of the body hold usual ones. They only
// choose the order.
type Changes struct {
	Tool unit.Minutes `doc:"tool" help:"to take up another tool"`
	Side unit.Minutes `doc:"side" help:"to walk to another side of the vehicle"`
	Lift unit.Minutes `doc:"lift" help:"to raise or lower the lift"`
}

// Rate is the price of an hour of one skill.
type Rate struct {
	Skill body.SkillID `doc:"skill,required"`
	Name  string       `doc:"name,required"`
	Hour  unit.Money   `doc:"per_hour,required"`
}

// Sublet is work that another firm does for the shop: every step of one skill. It
// comes when the step is due, and is priced by the visit and by the hour.
type Sublet struct {
	ID    string       `doc:"id,required"`
	Skill body.SkillID `doc:"skill,required"`
	Name  string       `doc:"name,required" help:"what is sublet, for example 'Radar calibration'; no name of a firm is needed"`
	Visit unit.Money   `doc:"visit" help:"for each vehicle, whatever it takes"`
	Hour  unit.Money   `doc:"per_hour" help:"beside it, for each hour of the steps"`
}

// Sublet is who does the work of a skill that nobody in the shop has.
func (s *Shop) Sublet(skill body.SkillID) (Sublet, bool) {
	for _, x := range s.Sublets {
		if x.Skill == skill {
			return x, true
		}
	}
	return Sublet{}, false
}

// Person is somebody who works; ID is a role or initials, not a name.
type Person struct {
	ID      string               `doc:"id,required"`
	Skills  []body.SkillID       `doc:"skills" help:"what the person works as; none for somebody who only signs"`
	Accepts []body.TreatmentKind `doc:"accepts" help:"treatments whose decision the person may accept" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	May     []Authority          `doc:"may" help:"answers (record the manufacturer's answers), review (the decisions of somebody else), inspect (sign for repairs)" oneof:"answers|review|inspect"`
	// Qualified is what the person has been tested for.
	Qualified []Qualification `doc:"qualifications" help:"what the person has been tested for, and until when"`
}

// Authority is what a person may sign for.
type Authority string

// Authorities there are.
const (
	MayAnswers Authority = "answers"
	MayReview  Authority = "review"
	MayInspect Authority = "inspect"
)

// Person is the person of that identity.
func (s *Shop) Person(id string) (Person, bool) {
	for _, p := range s.People {
		if p.ID == id {
			return p, true
		}
	}
	return Person{}, false
}

// Bay is a place where work is done.
type Bay struct {
	ID   string       `doc:"id,required"`
	Kind body.BayKind `doc:"kind,required"`
	Name string       `doc:"name,required"`
	// RollOut frees the bay while its vehicle waits.
	RollOut unit.Minutes `doc:"roll_out" help:"minutes to roll a vehicle out and, later, in again, also one that does not stand on its wheels: then the bay is free for others while a job waits for a delivery or an answer, and nothing cures; without it a job keeps the bay from its first step there to its last. Where the shop says who moves vehicles ('moving'), out and in are steps with the bay's own minutes, and a vehicle that does not roll is taken out as 'moving' says"`
	In      unit.Minutes `doc:"in" help:"minutes to bring a vehicle into the bay and make it stand there; with 'moving'"`
	Out     unit.Minutes `doc:"out" help:"minutes to take a vehicle out of the bay; with 'moving'"`
}

// Moving is how vehicles are moved between bays: by whom, and what is done with one that
// does not roll on its wheels.
type Moving struct {
	Skill body.SkillID `doc:"skill,required" help:"skill of who moves vehicles"`
	Carry *Carry       `doc:"carry" help:"how a vehicle that does not roll is moved all the same; without it, it is not"`
}

// Carry is a way to move a vehicle that does not roll.
type Carry struct {
	More      unit.Minutes `doc:"more,required" help:"minutes more than for one that rolls"`
	Equipment []string     `doc:"equipment,required" help:"what it takes, for example [vehicle dollies]"`
}

// Calendar is when people work.
type Calendar struct {
	Days     []string    `doc:"days,required" help:"mon, tue, wed, thu, fri, sat, sun" oneof:"mon|tue|wed|thu|fri|sat|sun"`
	Start    string      `doc:"start,required" help:"hh:mm"`
	End      string      `doc:"end,required" help:"hh:mm"`
	Break    []string    `doc:"break" help:"start and end of the break, for example [\"12:00\", \"12:30\"]"`
	Holidays []unit.Date `doc:"holidays"`
	// LastStart keeps a step from being begun for the last minutes of a day.
	LastStart unit.Minutes `doc:"last_start" help:"a step is not begun with less than this left of the day's work, unless it is done by then, for example 15 min"`
}

// Tax is a tax on some kinds of line.
type Tax struct {
	ID   string       `doc:"id,required"`
	Name string       `doc:"name,required"`
	Rate unit.Frac    `doc:"rate,required"`
	On   []AmountKind `doc:"on,required" help:"labour, parts, materials, sublet, storage" oneof:"labour|parts|materials|sublet|storage"`
}

// LossKind is what a rule for a total loss compares.
type LossKind string

// Kinds of a rule for a total loss.
const (
	LossPercentage LossKind = "percentage" // repair against value
	LossFormula    LossKind = "formula"    // repair plus salvage against value
)

// LossOperator says which side of equality is a total loss.
type LossOperator string

// Operators of a rule for a total loss.
const (
	AtLeast LossOperator = ">="
	Above   LossOperator = ">"
)

// LossRule is one rule by which a total loss is judged. Law and insurer
// decide; the program only computes what the rule says.
type LossRule struct {
	ID       string       `doc:"id,required"`
	Name     string       `doc:"name,required" help:"with the jurisdiction or insurer as the shop enters it"`
	Kind     LossKind     `doc:"kind,required" help:"percentage (repair against value) or formula (repair plus salvage against value)" oneof:"percentage|formula"`
	Operator LossOperator `doc:"operator,required" help:">= or >: which side of equality is a total loss" oneof:">=|>"`
	Percent  unit.Frac    `doc:"percent" help:"threshold of a percentage rule"`
	Applies  bool         `doc:"applies" help:"yes for the rule that binds in this shop; the others are shown for comparison"`
	WithTax  bool         `doc:"with_tax" help:"yes: repair cost including tax"`
}

// AmountKind is a kind of amount of money: what a tax or a spread is on.
type AmountKind string

// Kinds of amount; a tax is on none of the vehicle's own.
const (
	OnLabour    AmountKind = "labour"
	OnParts     AmountKind = "parts"
	OnMaterials AmountKind = "materials"
	OnSublet    AmountKind = "sublet"
	OnStorage   AmountKind = "storage"
	OnValue     AmountKind = "value"   // of the vehicle before the impact
	OnSalvage   AmountKind = "salvage" // of the damaged vehicle
)

// SpreadMeaning says what the ends of a spread are.
type SpreadMeaning string

// SpreadTenths says that one in ten is below the low end of a spread and one in ten above the high one.
const SpreadTenths SpreadMeaning = "tenths"

// Spread says how far figures of one kind may turn out off from the plan's.
type Spread struct {
	ID       string        `doc:"id,required"`
	On       AmountKind    `doc:"on,required" help:"labour, parts, materials, sublet, storage, value or salvage" oneof:"labour|parts|materials|sublet|storage|value|salvage"`
	Skill    body.SkillID  `doc:"skill" help:"labour of this skill only"`
	Low      unit.Frac     `doc:"low,required" help:"as a share of the plan's figure, for example 90 %"`
	High     unit.Frac     `doc:"high,required" help:"as a share of the plan's figure, for example 140 %"`
	Means    SpreadMeaning `doc:"means,required" help:"ends: never outside; tenths: one in ten is below low, one in ten above high" oneof:"ends|tenths"`
	Factor   string        `doc:"factor" help:"figures of the same factor go up and down together"`
	Together unit.Frac     `doc:"together" help:"correlation of two figures of the factor, for example 40 %"`
	Source   string        `doc:"source,required" help:"whose experience it is"`
}
