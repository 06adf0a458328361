package plan

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Constructed: a choice that the body, the vehicle or the job cannot carry blocks, with and
// without dates, and says what is wrong with it; each is one slip away from a choice that
// does not block.
func TestImpossibleChoicesBlock(t *testing.T) {
	for name, c := range map[string]struct {
		item       Item
		change     func(it *Item, in *Input)
		code, text string
	}{
		"a line that is not there, its length at hand": {cutS1, func(it *Item, in *Input) { it.Line, in.Seams["S9"] = "S9", 400 }, "plan.unknown-line", `section line "S9"`},
		"a section along no line":                      {cutS1, func(it *Item, in *Input) { it.Line = "" }, "plan.unknown-line", `section line ""`},
		"a weld along a line":                          {weldF1, func(it *Item, in *Input) { it.Line = "S1" }, "plan.line-unused", `"weld" is chosen along S1`},
		"another treatment than that of the line": {cutS1, func(it *Item, in *Input) {
			t := in.Body.Treatments[2]
			t.ID = "saw"
			in.Body.Treatments, it.Treatment = append(in.Body.Treatments, t), "saw"
		}, "plan.line-treatment", "S1 is done by treatment section, not saw"},
		"another piece than that of the line": {cutS1, func(it *Item, in *Input) { it.Part = "skin" }, "plan.line-piece", "the piece of S1 is horn, not skin"},
		"a piece that is not there":           {cutS1, func(it *Item, in *Input) { it.Part, in.Body.Lines[0].Piece = "horn2", "horn2" }, "plan.unknown-part", "part horn2 is not"},
		"a piece that nobody prices":          {cutS1, func(it *Item, in *Input) { in.Body.Parts[6].Price = unit.Money{} }, "plan.no-price", "nobody says what a new horn piece costs"},
		"a part that is not there":            {swapF3, func(it *Item, in *Input) { it.Part = "brackets" }, "plan.unknown-part", "part brackets is not"},
		"no part":                             {swapF3, func(it *Item, in *Input) { it.Part, it.Findings = "", nil }, "plan.no-part", "no part is named"},
		"a part that nobody prices":           {swapF3, func(it *Item, in *Input) { in.Body.Parts[2].Price = unit.Money{} }, "plan.no-price", "new bracket costs"},
		"a casting, as if it were bolted on":  {swapF3, func(it *Item, in *Input) { it.Part = "cast" }, "plan.part-kind", `for part "cast", which is not of that kind`},
		"a bracket, as if it were a casting":  {newCast, func(it *Item, in *Input) { it.Part = "bracket" }, "plan.part-kind", `for part "bracket"`},
		"no casting":                          {newCast, func(it *Item, in *Input) { it.Part = "" }, "plan.part-kind", `for part ""`},
		"a finding that is not there":         {weldF1, func(it *Item, in *Input) { it.Findings = []job.FindingID{"F1", "F9"} }, "plan.unknown-finding", "no finding F9"},
		"no finding":                          {weldF1, func(it *Item, in *Input) { it.Findings = nil }, "plan.no-finding", `"weld" was chosen for no finding`},
		"leaving what is not there":           {Item{Kind: body.Leave, Findings: weldF1.Findings}, func(it *Item, in *Input) { it.Findings = []job.FindingID{"F9"} }, "plan.unknown-finding", "F9"},
		"a treatment that is not there":       {weldF1, func(it *Item, in *Input) { it.Treatment = "melt" }, "plan.unknown-treatment", `"melt"`},
		"no treatment":                        {weldF1, func(it *Item, in *Input) { it.Treatment = "" }, "plan.unknown-treatment", `""`},
		"a treatment of another kind":         {weldF1, func(it *Item, in *Input) { it.Kind = body.WeldBacking }, "plan.treatment-kind", `weld is of the kind "weld", and was chosen as "weld with backing plate"`},
		"leaving it by a weld":                {weldF1, func(it *Item, in *Input) { it.Kind = body.Leave }, "plan.treatment-kind", `chosen as "leave"`},
		"a kind that there is not":            {weldF1, func(it *Item, in *Input) { it.Kind = "glue" }, "plan.unknown-kind", `"glue" is no kind`},
		"no kind":                             {weldF1, func(it *Item, in *Input) { it.Kind = "" }, "plan.unknown-kind", `"" is no kind`},
	} {
		in := input(c.item)
		if _, notes := Build(in); blocking(notes) != "" {
			t.Errorf("%s: blocked as it is by %s", name, blocking(notes))
		}
		it := c.item
		c.change(&it, &in)
		in.Choice.Items = []Item{it}
		for dated, build := range map[bool]func(Input) (Plan, []note){true: Build, false: Outline} {
			_, notes := build(in)
			told := false
			for _, n := range notes {
				told = told || n.Code == c.code && strings.Contains(n.Text, c.text) && n.Hint != "" && strings.Contains(blocking(notes), c.code)
			}
			if !told {
				t.Errorf("%s: dates %t: %+v, want %s: %s", name, dated, notes, c.code, c.text)
			}
		}
	}
}

// Constructed: what looks odd and is possible does not block: a section whose item names no
// piece, since the line does, an exchange of the part its finding is on, a part that is given
// away for nothing, and a part replaced for which the body has no treatment.
func TestPossibleChoicesDoNotBlock(t *testing.T) {
	for name, change := range map[string]func(in *Input){
		"no piece in the item": func(in *Input) { in.Choice.Items[0].Part = "" },
		"part of the finding":  func(in *Input) { in.Choice.Items[1].Part = "" },
		"for nothing":          func(in *Input) { in.Body.Parts[6].Price = eur(0) },
		"without a treatment":  func(in *Input) { in.Choice.Items[1].Treatment, in.Choice.Items[1].Kind = "", body.ReplacePart },
	} {
		in := input(cutS1, swapF3)
		change(&in)
		p, notes := Build(in)
		if got := lostParts(p); blocking(notes) != "" || !strings.Contains(got, "horn: replaces what is cut off") || !strings.Contains(got, "bracket: ") {
			t.Errorf("%s: blocked by %q, lost %s", name, blocking(notes), got)
		}
	}
}

// Constructed: a piece of which nobody says when it comes is bought, has no date and blocks
// nothing else: the steps before it have dates, the plan has no finish.
func TestPieceWithoutDeliveryHasNoDate(t *testing.T) {
	in := input(cutS1)
	in.Body.Parts[6].Delivery = unit.Maybe[unit.Minutes]{}
	p, notes := Build(in)
	if !p.Finish.IsZero() || !step(t, p, "Cut").From.IsZero() || step(t, p, "Take off bumper").From.IsZero() || lostParts(p) != "horn: replaces what is cut off" {
		t.Errorf("finish %v, lost %s", p.Finish, lostParts(p))
	}
	if len(notes) != 1 || notes[0].Code != "plan.delivery-unknown" || notes[0].Where != "horn" {
		t.Errorf("notes %+v", notes)
	}
}
