package body

import "fettle/internal/unit"

// ProcedureFormat is the version of the procedure file.
const ProcedureFormat = "fettle-procedure 1"

// Procedure is the manufacturer's repair rules for a casting, one revision at
// a time: a file in the folder "procedures".
type Procedure struct {
	Format     string        `doc:"format,required" help:"the line 'fettle-procedure 1'" oneof:"fettle-procedure 1"`
	ID         ProcedureID   `doc:"id,required"`
	Title      string        `doc:"title,required"`
	Revision   string        `doc:"revision,required"`
	Casting    CastingID     `doc:"casting,required"`
	Source     string        `doc:"source,required" help:"document the rows were taken from"`
	Issued     unit.Date     `doc:"issued,required"`
	Effective  unit.Date     `doc:"effective,required"`
	Recheck    unit.Date     `doc:"recheck_before,required" help:"the manufacturer's current revision has to be looked up again before this day"`
	Supersedes string        `doc:"supersedes" help:"revision this one takes the place of"`
	TipVisual  unit.MM       `doc:"tip_allowance_visual,required" help:"added to a crack for each tip seen by eye only"`
	GroupGap   unit.MM       `doc:"group_gap,required" help:"cracks closer than this along the surface count as one"`
	Grouping   *Grouping     `doc:"grouping" help:"cracks farther apart than group_gap also count as one by this rule"`
	Neighbours []FindingKind `doc:"neighbours" help:"kinds of finding that a crack has to keep its distance from ('spacing'), and of which a crack, a break and a torn mount count as one with what is near; every kind when left out" oneof:"crack|break|bend|dent|torn"`
	Rows       []Row         `doc:"rows,required"`
	Tests      []RowTest     `doc:"tests,required" help:"facts and the decision they must give; every row is hit by at least one"`

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
	Allow  []TreatmentKind   `doc:"allow" help:"treatments the row permits" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Forbid []TreatmentKind   `doc:"forbid" help:"treatments the row forbids" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Ask    string            `doc:"ask" help:"why the manufacturer has to be asked; nothing is permitted until the answer"`
	AskFor []TreatmentKind   `doc:"-"` // of a row made of a zone: what is asked for; all else it says nothing of
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
	Allow  []TreatmentKind `doc:"allow" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Forbid []TreatmentKind `doc:"forbid" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	Ask    bool            `doc:"ask"`
	Rows   []string        `doc:"rows" help:"rows that must apply"`
	With   Manner          `doc:"with" help:"how it has to be done: each field given here is the same in every row that applies and gives it, and one does"`
}
