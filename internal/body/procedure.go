package body

import "fettle/internal/unit"

// ProcedureFormat is the version of the procedure file.
const ProcedureFormat = "fettle-procedure 1"

// Procedure is the manufacturer's repair rules for a casting, one revision at
// a time: a file in the folder "procedures".
type Procedure struct {
	Format     string      `doc:"format,required" help:"the line 'fettle-procedure 1'" oneof:"fettle-procedure 1"`
	ID         ProcedureID `doc:"id,required"`
	Title      string      `doc:"title,required"`
	Revision   string      `doc:"revision,required"`
	Casting    CastingID   `doc:"casting,required"`
	Source     string      `doc:"source,required" help:"document the rows were taken from"`
	Issued     unit.Date   `doc:"issued,required"`
	Effective  unit.Date   `doc:"effective,required"`
	Recheck    unit.Date   `doc:"recheck_before,required" help:"the manufacturer's current revision has to be looked up again before this day"`
	Supersedes string      `doc:"supersedes" help:"revision this one takes the place of"`
	TipVisual  unit.MM     `doc:"tip_allowance_visual,required" help:"added to a crack for each tip seen by eye only"`
	GroupGap   unit.MM     `doc:"group_gap,required" help:"cracks closer than this along the surface count as one"`
	Grouping   *Grouping   `doc:"grouping" help:"cracks farther apart than group_gap also count as one by this rule"`
	Neighbours []string    `doc:"neighbours" help:"kinds of finding that a crack has to keep its distance from ('spacing'), and of which a crack, a break and a torn mount count as one with what is near; every kind when left out" oneof:"crack|break|bend|dent|torn"`
	Rows       []Row       `doc:"rows,required"`
	Tests      []RowTest   `doc:"tests,required" help:"facts and the decision they must give; every row is hit by at least one"`

	Levels     []Level      `doc:"levels" help:"how large an indication may be and still be accepted"`
	Acceptance []Acceptance `doc:"acceptance" help:"what has to be shown after a treatment before the vehicle is released"`

	Methods []Method   `doc:"methods" help:"when an inspection counts and what it finds; without the method here none of it counts"`
	Areas   []AreaRule `doc:"areas" help:"which method is asked for where; the areas themselves are found from the zones, ribs, bores and joints of the casting"`
}

// Row is one line of the decision table. Every row is evaluated; forbidding
// beats allowing; no row means ask.
type Row struct {
	ID     string            `doc:"id,required"`
	Cite   string            `doc:"cite,required" help:"document, revision, page"`
	When   map[string]string `doc:"when,required" help:"fact name to condition, for example 'length: <= 24 mm'"`
	Allow  []TreatmentKind   `doc:"allow" help:"treatments the row permits" oneof:"leave|dress|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Forbid []TreatmentKind   `doc:"forbid" help:"treatments the row forbids" oneof:"leave|dress|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Ask    string            `doc:"ask" help:"why the manufacturer has to be asked; nothing is permitted until the answer"`
	With   Manner            `doc:"with" help:"how what the row allows has to be done, and how much of it there may be"`
	After  []After           `doc:"after" help:"inspections the row asks for afterwards"`
	Note   string            `doc:"note"`
}

// RowTest is a test that lies in the procedure itself.
type RowTest struct {
	Name   string            `doc:"name,required"`
	Facts  map[string]string `doc:"facts,required" help:"fact name to value, for example 'length: 20 mm', or 'length: 20 +- 4 mm' (± is the expanded uncertainty, k = 2)"`
	Expect RowExpect         `doc:"expect,required"`
}

// RowExpect is what a test expects.
type RowExpect struct {
	Allow  []TreatmentKind `doc:"allow" oneof:"leave|dress|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Forbid []TreatmentKind `doc:"forbid" oneof:"leave|dress|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Ask    bool            `doc:"ask"`
	Rows   []string        `doc:"rows" help:"rows that must apply"`
	With   Manner          `doc:"with" help:"how it has to be done: each field given here is the same in every row that applies and gives it, and one does"`
}

// FactKind is the type of a fact.
type FactKind int

// Kinds of fact.
const (
	FactText   FactKind = iota // one word
	FactSet                    // several words, such as the zones a crack crosses
	FactNumber                 // a number with a unit and a standard uncertainty
	FactBool                   // yes or no
)

// FactDef defines a fact that a condition may name.
type FactDef struct {
	Name string
	Kind FactKind
	Unit string // "mm", "C", "months", "date"; "" for a count
	Help string // what it means
	Get  string // how a person gets it when it is unknown
}

// FactDefs is the vocabulary of conditions, in alphabetical order.
func FactDefs() []FactDef {
	return []FactDef{
		{"bolt_on", FactBool, "", "the damaged part can be changed without welding, cutting or bonding", "say in parts.csv whether the part is bolted on"},
		{"border_clearance", FactNumber, "mm", "least distance from the finding to the border of its zone", "enter the trace of the crack"},
		{"bore_clearance", FactNumber, "mm", "least distance from the finding to a bore", "enter the trace of the crack"},
		{"casting_date", FactNumber, "date", "day the casting was cast", "read the date mark on the casting and enter it under 'castings'"},
		{"count_in_zone", FactNumber, "", "cracks in the zone, this one included, those that surely are one counted once", "inspect the whole zone, and say under 'castings' in the job that repairs were looked for"},
		{"count_on_casting", FactNumber, "", "cracks on the casting, this one included, those that surely are one counted once", "inspect the whole casting, and say under 'castings' in the job that repairs were looked for"},
		{"crack_length_in_zone", FactNumber, "mm", "length of the cracks in the zone together, this one and repairs done before included", "inspect the whole zone and enter the trace of every crack, and say under 'castings' in the job that repairs were looked for"},
		{"crack_length_on_casting", FactNumber, "mm", "length of the cracks on the casting together, this one and repairs done before included", "inspect the whole casting and enter the trace of every crack, and say under 'castings' in the job that repairs were looked for"},
		{"depth", FactNumber, "mm", "depth of the defect from the surface", "measure the depth"},
		{"earlier_clearance", FactNumber, "mm", "least distance along the surface from the finding to a repair done before this job", "enter where each earlier repair lies, and say under 'castings' in the job that repairs were looked for"},
		{"edge_clearance", FactNumber, "mm", "least distance along the surface from the finding to a free edge of the casting", "enter the edges of the casting in the body"},
		{"equipment", FactSet, "", "what the shop has and whose test has not run out, with hyphens for spaces", "enter it under 'equipment' in the shop file"},
		{"joint_clearance", FactNumber, "mm", "least distance along the surface from the finding to a joint of the casting", "enter where each joint of the casting lies"},
		{"kind", FactText, "", "crack, break, bend, dent, torn", "say what the defect is"},
		{"length", FactNumber, "mm", "decision length along the surface: the crack, or its group, with the allowance for tips seen by eye only", "penetrant inspection at both tips"},
		{"on_casting", FactBool, "", "the defect is on a casting", "say which part it is on"},
		{"outboard_of", FactSet, "", "section lines the whole finding lies outboard of, by the margin", "enter the trace of the crack"},
		{"part_age", FactNumber, "months", "age of the part: of the vehicle, unless the part was changed", "enter the day the vehicle was built"},
		{"qualifications", FactSet, "", "qualifications that somebody of the shop holds on the day, with hyphens for spaces", "enter them with their last day under 'qualifications' of a person in the shop file"},
		{"section_margin", FactNumber, "mm", "how far all of the finding lies outboard of the section line; below zero when it does not", "enter the trace of the crack"},
		{"spacing", FactNumber, "mm", "least distance to the next finding that weakens the wall, as far as was looked", "inspect all of the casting that lies nearer than the limit, and enter the trace of every finding"},
		{"temperature", FactNumber, "C", "temperature where the work is done", "measure it on the day and enter it under 'workplace'"},
		{"through", FactBool, "", "the crack goes through the wall", "look at the other face, with penetrant"},
		{"tips", FactText, "", "how the tips were found: visual, penetrant, stop-hole; the weaker of the two", "penetrant inspection at both tips"},
		{"zones", FactSet, "", "every zone the finding lies in or comes within its uncertainty of", "enter the trace of the crack"},
	}
}
