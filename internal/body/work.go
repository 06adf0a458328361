package body

import (
	"slices"
	"strings"

	"fettle/internal/unit"
)

// TreatmentKind is what a treatment is in the words of the trade.
type TreatmentKind string

// Kinds of treatment. Ask is not a treatment of a body: it is what decide
// answers when nothing is allowed.
const (
	Leave          TreatmentKind = "leave"
	Dress          TreatmentKind = "dress"
	Straighten     TreatmentKind = "straighten"
	Weld           TreatmentKind = "weld"
	WeldBacking    TreatmentKind = "weld with backing plate"
	SectionOff     TreatmentKind = "section"
	Exchange       TreatmentKind = "exchange bolt-on part"
	ReplacePart    TreatmentKind = "replace part" // one that is riveted, bonded or welded in, and no casting
	ReplaceCasting TreatmentKind = "replace casting"
)

// TreatmentKinds is every kind, mildest first.
func TreatmentKinds() []TreatmentKind {
	return []TreatmentKind{Leave, Dress, Straighten, Weld, WeldBacking, SectionOff, Exchange, ReplacePart, ReplaceCasting}
}

// NewPart says that a part other than a casting is taken off and a new one fitted.
func (k TreatmentKind) NewPart() bool { return k == Exchange || k == ReplacePart }

// Change is the kind of treatment that fits a new part in the place of a part, no casting.
func (p Part) Change() TreatmentKind {
	if p.BoltOn {
		return Exchange
	}
	return ReplacePart
}

// Treatment is one way to deal with findings.
type Treatment struct {
	ID       TreatmentID   `doc:"id,required"`
	Name     string        `doc:"name,required"`
	Kind     TreatmentKind `doc:"kind,required" help:"leave, dress, straighten, weld, 'weld with backing plate', section, 'exchange bolt-on part', 'replace part' (one that is not bolted on) or 'replace casting'" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Steps    []Step        `doc:"steps,required"`
	Requires []TaskID      `doc:"requires" help:"tasks the job needs once when this treatment is used, before its steps"`
	After    []TaskID      `doc:"after" help:"tasks the job needs once when this treatment is used, after its steps"`
	Cures    []FindingKind `doc:"cures" help:"kinds of finding it puts right. Without it: a weld cracks, breaks and what is torn in a casting; dressing cracks and dents; straightening bends and dents; to leave a finding puts nothing right; all others what they take off" oneof:"crack|break|bend|dent|torn"`
	Repaint  *Repaint      `doc:"repaint" help:"which surfaces of the part have to be coated again after it; without it the whole outside. A new part is coated all over whatever this says"`
	Cite     string        `doc:"cite"`
}

// Cure says that the treatment puts a finding of a kind right: by its own word, or by what
// the word for its kind means. A weld joins what is parted, and straightens nothing.
func (t Treatment) Cure(kind FindingKind, onCasting bool) bool {
	if len(t.Cures) > 0 {
		return slices.Contains(t.Cures, kind)
	}
	switch t.Kind {
	case Weld, WeldBacking:
		return kind == Crack || kind == Break || kind == Torn && onCasting
	case Dress:
		return kind == Crack || kind == Dent
	case Straighten:
		return kind == Bend || kind == Dent
	case Leave:
		return false
	}
	return true
}

// Heats is how hot the steps of a treatment make the part, and how often they pull it.
func (t Treatment) Heats() (to unit.Celsius, pulls int) {
	for _, s := range t.Steps {
		to, pulls = max(to, s.HeatsTo), pulls+s.Pulls
	}
	return to, pulls
}

// Step is one operation of a treatment. Its time is fixed plus so much per
// metre of crack, weld or cut and so much per fastener.
type Step struct {
	ID        string       `doc:"id,required"`
	Name      string       `doc:"name,required" help:"what is done, as an instruction"`
	Skill     SkillID      `doc:"skill,required"`
	Fixed     unit.Minutes `doc:"fixed" help:"minutes whatever the length"`
	PerMetre  unit.Minutes `doc:"per_metre" help:"minutes for each metre of crack, weld or cut; of a joint, for each metre of it"`
	PerRivet  unit.Minutes `doc:"per_rivet" help:"minutes for each rivet of the layout; of a joint, for each of its fasteners"`
	PerArea   unit.Minutes `doc:"per_m2" help:"minutes for each square metre of the surface worked on"`
	Surface   Surface      `doc:"surface" help:"outer or inner: which surface of the parts is worked on; what goes by square metres goes by its area" oneof:"outer|inner"`
	Bay       BayKind      `doc:"bay"`
	Equipment []string     `doc:"equipment"`
	Uses      []Use        `doc:"uses"`
	Layout    *Layout      `doc:"layout" help:"rivets and adhesive of a section or plate joint"`
	Cautions  []Caution    `doc:"cautions" help:"high-voltage, airbag, aluminium-dust, heat-near-battery, welding, chemical, lifting, eyes" oneof:"high-voltage|airbag|aluminium-dust|heat-near-battery|welding|chemical|lifting|eyes"`
	HoldPoint string       `doc:"hold_point" help:"what has to be inspected before anyone goes on"`
	Second    bool         `doc:"second_person" help:"yes: the hold point is passed by somebody else than who did the step; the words 'second person' in the name or the hold point say the same"`
	Records   []string     `doc:"records" help:"what is written down, in words"`
	Readings  []Reading    `doc:"readings" help:"figures that are written down, with their limits"`
	Heat      *Heat        `doc:"heat" help:"heat input of a weld: set values and limits"`
	HeatsTo   unit.Celsius `doc:"heats_to" help:"of straightening: the highest temperature the part is heated to in this step, which is written down when it is done; without it the step is done cold"`
	Pulls     int          `doc:"pulls" help:"of straightening: how often the part is pulled or pressed in this step at most, which is written down when it is done"`
	Air       *Environment `doc:"environment" help:"temperature and humidity the step may be done at"`
	Wait      *Wait        `doc:"wait" help:"wait after the step"`
	Bake      *Bake        `doc:"bake" help:"drying with heat, where everything that gets warm may take it; else the wait counts, and where there is none the plan blocks"`
	Together  string       `doc:"together" help:"steps with the same word are done in one go within the adhesive's working time"`
	NewPart   YesNo        `doc:"new_part" help:"yes: the step of a treatment uses the new part (the service piece, the new casting, the new part) and waits for its delivery; no: it does not. Where no step of the treatment says so, all of them wait. At a joint, yes: the step is done only where a part of the joint is a new one" oneof:"yes|no"`
	OneDay    bool         `doc:"one_day" help:"yes: is not left over a night, as a measuring device that is set up; a break may lie in it"`
	Rolls     YesNo        `doc:"rolls" help:"no: from the beginning of this step on the vehicle does not roll on its wheels; yes: when this step is done it does again" oneof:"yes|no"`
	Once      Once         `doc:"once" help:"of a treatment: for all findings that it is used on the step is done once, of the whole job, or of those on the same casting, part or zones; its fixed minutes and amounts then count once, what goes by length is added up" oneof:"job|casting|part|zone"`
	While     []TaskID     `doc:"while" help:"tasks in whose state it is done: after each of them, which come with it, and before what undoes them"`
	NotWhile  []TaskID     `doc:"not_while" help:"tasks in whose state it is never done: where the job has one, before it or after what undoes it"`
	Isolates  bool         `doc:"isolates" help:"yes: done as it is written, it keeps apart all that is joined there"`
	Qualified string       `doc:"qualification" help:"what whoever does it has to be qualified for beside the skill, as in 'qualifications' of the shop file, for example 'refrigerant'"`
	Faults    FaultStage   `doc:"reads_faults" help:"before or after: the fault memories of the vehicle are read in it, before the repair or after it; a release asks for that reading" oneof:"before|after"`
	Text      string       `doc:"text" help:"one or two sentences of instruction"`
}

// FaultStage is when the fault memories of the vehicle are read.
type FaultStage string

// When fault memories are read.
const (
	FaultsBefore FaultStage = "before"
	FaultsAfter  FaultStage = "after"
)

// Once is for which findings together a step of their treatment is done once.
type Once string

// What a step of a treatment is done once for.
const (
	OnceJob     Once = "job"
	OnceCasting Once = "casting"
	OncePart    Once = "part"
	OnceZone    Once = "zone" // the same zones, all of them
)

// UsesNewPart says that a step of the treatment uses the new part. Where none of them says
// so, nobody knows which one could be done without it; and somewhere a piece is joined.
func (t Treatment) UsesNewPart(s Step) bool {
	says := func(word YesNo) bool {
		return slices.ContainsFunc(t.Steps, func(x Step) bool { return x.NewPart == word })
	}
	if says(Yes) || says(No) && t.Kind != SectionOff {
		return s.NewPart == Yes
	}
	return true
}

// Bonds is every adhesive that a step uses, by its layout or otherwise, as far as its times
// are known; that of a layout always.
func (b *Body) Bonds(s Step) []MaterialID {
	var out []MaterialID
	if s.Layout != nil && s.Layout.Adhesive != "" {
		out = append(out, s.Layout.Adhesive)
	}
	for _, u := range s.Uses {
		if m, ok := b.Material(u.Material); ok && m.Kind == Adhesive && len(m.Cure) > 0 && !slices.Contains(out, m.ID) {
			out = append(out, m.ID)
		}
	}
	return out
}

// AsksSecond says that the hold point is passed by somebody else than who did
// the step. The words say so too, so that a body that has only them is not read
// more mildly.
func (s Step) AsksSecond() bool { return asksSecond(s.Second, s.Name, s.HoldPoint) }

// AsksSecond is the same of a joint.
func (j Joint) AsksSecond() bool { return asksSecond(j.Second, j.Name, j.Hold) }

func asksSecond(said bool, texts ...string) bool {
	return said || strings.Contains(strings.ToLower(strings.Join(texts, " ")), "second person")
}

// TaskTime is when a task is done.
type TaskTime string

// Times of a task.
const (
	TaskFirst TaskTime = "first" // before anything else, also before the vehicle is made safe
	TaskStart TaskTime = "start" // before parts come off
	TaskOpen  TaskTime = "open"  // after
	TaskClose TaskTime = "close" // before refit
	TaskEnd   TaskTime = "end"   // after refit
	TaskLast  TaskTime = "last"  // after everything else
)

// Task is a step a job needs once, whatever asks for it: isolating the
// high-voltage system, setting up the bench, measuring again.
type Task struct {
	ID       TaskID   `doc:"id,required"`
	Step     Step     `doc:"step,required"`
	Needs    []TaskID `doc:"needs" help:"tasks that must be done before"`
	When     TaskTime `doc:"when,required" help:"first (before anything else, made safe or not), start (before parts come off), open (after), close (before refit), end (after refit), last (after everything else)" oneof:"first|start|open|close|end|last"`
	Follows  []TaskID `doc:"follows" help:"tasks that it comes after where a job has them; it does not bring them with it"`
	Precedes []TaskID `doc:"precedes" help:"tasks that it comes before where a job has them; it does not bring them with it"`
	Refitted []PartID `doc:"follows_parts" help:"parts that are back on before it, where a job takes them off; they do not come off for it"`
	UndoneBy []TaskID `doc:"undone_by" help:"what puts back what it drains, evacuates, disconnects or disarms: these tasks come with it, after all that was done in its state"`
	Safe     bool     `doc:"makes_safe" help:"yes: it makes the vehicle safe to work on; it comes before everything else. A task at the start with the caution high-voltage or airbag does so too"`
	Fixes    bool     `doc:"fixes" help:"yes: it fixes the vehicle and measures it in; no casting is cut or taken out, and no part with control points straightened, before"`
	Measures bool     `doc:"measures" help:"yes: it measures the control points that have to be shown after the repair; it comes once everything that is bonded can be handled, whatever 'when' says"`
	Cite     string   `doc:"cite" help:"where the task and its rules stand"`
}

// MakesSafe says that nothing is done on the vehicle before the task: by its own word, or
// since it begins the work and its dangers are the live system's own.
func (t Task) MakesSafe() bool {
	return t.Safe || t.When == TaskStart && (slices.Contains(t.Step.Cautions, HighVoltage) || slices.Contains(t.Step.Cautions, Airbag))
}

// Wait is time that passes without anyone working: a cure, a cool-down.
type Wait struct {
	Name    string       `doc:"name,required"`
	Elapsed unit.Minutes `doc:"elapsed" help:"fixed elapsed time; or name an adhesive with 'cure'"`
	Cure    MaterialID   `doc:"cure" help:"material whose time at the shop's temperature is waited for: an adhesive's cure, a primer's or sealer's drying"`
	Full    bool         `doc:"full" help:"yes: until full strength; no: until it may be handled"`
}

// Use is a material used by a step or joint: fixed, by length or by area.
type Use struct {
	Material MaterialID      `doc:"material,required"`
	Each     unit.Amount     `doc:"each" help:"fixed amount"`
	PerMetre unit.Amount     `doc:"per_metre" help:"amount for each metre"`
	PerArea  unit.Amount     `doc:"per_m2" help:"amount for each square metre: of a strip of 'width' along the crack, weld, cut or joint; without 'width' of the surface that the step works on"`
	Width    unit.MM         `doc:"width" help:"width of that strip"`
	Film     unit.Micrometre `doc:"film" help:"thickness of the dry coat, for example 45 um, in place of per_m2: the amount follows from the 'solids' of the material"`
}

// Layout is how a riveted and bonded joint is laid out. It is a check and a
// takeoff, never a design: the manufacturer's drawing rules.
type Layout struct {
	Rivet       MaterialID `doc:"rivet,required"`
	Rows        int        `doc:"rows,required"`
	Pitch       unit.MM    `doc:"pitch,required" help:"distance between rivets along a row"`
	EndDistance unit.MM    `doc:"end_distance,required" help:"distance of the first rivet from the end of the row"`
	Adhesive    MaterialID `doc:"adhesive"`
	BeadWidth   unit.MM    `doc:"bead_width" help:"width of the squeezed bead"`
	BondLine    unit.MM    `doc:"bond_line" help:"thickness of the squeezed bead"`
	BeadRound   unit.MM    `doc:"bead_diameter" help:"diameter of the round bead as it is laid; it has to fill the squeezed one"`
	WholePlate  bool       `doc:"adhesive_over_plate" help:"yes: the adhesive covers the whole plate, not a bead"`
	EdgeOff     unit.MM    `doc:"edge_distance" help:"distance of the outer rows from the edge of the flange"`
	RowGap      unit.MM    `doc:"row_gap" help:"distance between rows"`
	Stack       unit.MM    `doc:"stack" help:"thickness the rivet clamps: sheets, plate and bond line"`
	Bounds      string     `doc:"bounds" help:"published least distances the layout is checked with (rivet_bounds)"`
	PlateOver   unit.MM    `doc:"plate_overlap" help:"how far the backing plate reaches past the crack or cut on each side"`
	Plate       MaterialID `doc:"plate"`
}

// Caution is a hazard whose usual warning is shown where the step is.
type Caution string

// Cautions known to the program. The words shown are in package report.
const (
	HighVoltage Caution = "high-voltage"
	Airbag      Caution = "airbag"
	Dust        Caution = "aluminium-dust"
	BatteryHeat Caution = "heat-near-battery"
	Welding     Caution = "welding"
	Chemical    Caution = "chemical"
	Lifting     Caution = "lifting"
	Eyes        Caution = "eyes"
)

// Cautions is every caution known.
func Cautions() []Caution {
	return []Caution{HighVoltage, Airbag, Dust, BatteryHeat, Welding, Chemical, Lifting, Eyes}
}

// MaterialKind is what kind of material a material is.
type MaterialKind string

// Kinds of material that rules name: an adhesive cures and is kept apart by its batch.
const (
	Adhesive MaterialKind = "adhesive"
	Filler   MaterialKind = "filler"
	Plate    MaterialKind = "plate"
	Rivet    MaterialKind = "rivet"
	Bolt     MaterialKind = "bolt"
	NoKind   MaterialKind = "other" // of none of the kinds, as a clip
)

// Material is something a repair uses up.
type Material struct {
	ID       MaterialID   `doc:"id,required"`
	Name     string       `doc:"name,required"`
	Kind     MaterialKind `doc:"kind,required" help:"adhesive, rivet, filler, plate, bolt, sealer, primer, penetrant or other" oneof:"adhesive|rivet|filler|plate|bolt|sealer|primer|penetrant|other"`
	Pack     unit.Amount  `doc:"pack,required" help:"what one pack holds, for example 195 ml"`
	Price    unit.Money   `doc:"price,required" help:"price of one pack"`
	Waste    unit.Frac    `doc:"waste" help:"share lost on the way, for example 15 %"`
	Solids   unit.Frac    `doc:"solids" help:"share of the volume that stays when it is dry, as the data sheet has it, for example 52 %"`
	Diameter unit.MM      `doc:"diameter" help:"shank diameter of a rivet"`
	MinPitch unit.MM      `doc:"min_pitch" help:"least distance between rivets"`
	MinEdge  unit.MM      `doc:"min_edge" help:"least distance of a rivet from an edge"`
	MaxPitch unit.MM      `doc:"max_pitch" help:"greatest distance between rivets, for example to seal"`
	Drill    unit.MM      `doc:"drill" help:"diameter of the hole of a rivet"`
	Length   unit.MM      `doc:"length" help:"length of a rivet before it is set"`
	GripLow  unit.MM      `doc:"grip_low" help:"least thickness a rivet clamps"`
	GripHigh unit.MM      `doc:"grip_high" help:"greatest thickness a rivet clamps"`
	Batch    bool         `doc:"batch" help:"yes: the number of its batch and its last day of use are written down where it is used"`
	Cure     []CureRow    `doc:"cure" help:"working, handling and full-cure time by temperature, coldest first; of a primer or sealer the times of drying"`
	OneTime  bool         `doc:"one_time" help:"yes: a fastener that is never used again"`
	Metal    Metal        `doc:"metal" help:"what a fastener or plate is made of, for what it touches, as the metal of a part; left out: not known" oneof:"aluminium|magnesium|steel|zinc-coated steel|stainless steel|titanium|carbon fibre|other|none"`
	Isolates bool         `doc:"isolates" help:"yes: of a fastener or plate, its own surface keeps it apart from what it touches; of all else, it keeps apart the parts between which it lies"`
	Cite     string       `doc:"cite"`
}

// WorkingAt is how long an adhesive may be open at a temperature: the time of
// the next warmer row, which is never longer. False outside the rows.
func (m Material) WorkingAt(t unit.Celsius) (unit.Minutes, bool) {
	if len(m.Cure) == 0 || t < m.Cure[0].Temp {
		return 0, false
	}
	for _, r := range m.Cure {
		if t <= r.Temp {
			return r.Working, true
		}
	}
	return 0, false
}

// CuringAt is the times of an adhesive at a temperature: those of the next colder
// row, which are never shorter. False below the rows, and without any.
func (m Material) CuringAt(t unit.Celsius) (CureRow, bool) {
	var out CureRow
	for _, r := range m.Cure {
		if r.Temp > t {
			break
		}
		out = r
	}
	return out, len(m.Cure) > 0 && t >= m.Cure[0].Temp
}

// CureRow is an adhesive's times at one temperature.
type CureRow struct {
	Temp     unit.Celsius `doc:"temp,required"`
	Working  unit.Minutes `doc:"working,required" help:"from mixing until the last rivet must be set"`
	Handling unit.Minutes `doc:"handling,required" help:"until the vehicle may be moved on"`
	Full     unit.Minutes `doc:"full,required" help:"until full strength"`
}
