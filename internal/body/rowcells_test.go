package body

import (
	"reflect"
	"testing"

	"fettle/internal/golden/broken"
)

// everyRow is a table of rows with something in every column.
var everyRow = []Row{
	{ID: "R1", Cite: "Invented manual, p. 1", Allow: []TreatmentKind{Weld}, Forbid: []TreatmentKind{Dress}, Note: "As drawn", When: map[string]string{
		"kind": "crack", "zones": "only Z-TIP", "length": "<= 20 mm", "spacing": "> 40 mm", "bore_clearance": "> 8 mm", "border_clearance": "> 2 mm", "edge_clearance": "> 3 mm", "joint_clearance": "> 4 mm",
		"earlier_clearance": "> 50 mm", "through": "no", "depth": "<= 1 mm", "tips": "penetrant", "count_in_zone": "<= 2", "count_on_casting": "<= 3", "crack_length_in_zone": "<= 40 mm", "crack_length_on_casting": "<= 60 mm",
		"outboard_of": "includes S-1", "section_margin": "> 5 mm", "on_casting": "yes", "part": "P-BLOCK", "bolt_on": "no", "part_age": "<= 10 years", "casting_date": ">= 2025-01-01", "temperature": ">= 10 C", "equipment": "includes bench", "qualifications": "includes weld"},
		With:  Manner{Plate: "M-PLATE", Thickness: 3, Overlap: 20, Filler: "M-WIRE", HeatedTo: 110, Text: "In two passes", InZone: 2, OnCasting: 3, LengthInZone: 40, LengthOnCasting: 60},
		After: []After{{Method: ShowPenetrant, When: "after welding"}, {Method: ShowVisual, What: "smooth"}, {Method: ShowDimensions}}},
	{ID: "R2", Cite: "Invented manual, p. 2", Ask: "Ask the desk", When: map[string]string{"kinked": "no", "out_of_shape": "<= 3 mm", "shift": "<= 2 mm", "straightened_before": "<= 0"}, With: Manner{Cold: Yes, Pulls: 2}},
}

// TestEveryCellOfRowsBroken: every column of a table of rows has at least five broken cells, and each is refused in its row and
// column, with what would be right.
func TestEveryCellOfRowsBroken(t *testing.T) {
	table, err := RowTable(Procedure{Rows: everyRow})
	if err != nil {
		t.Fatal(err)
	}
	more := map[string][]string{"allow": {"wled", "weld, wled", "weld; 7"}, "forbid": {"drees", "weld; drees", "7"}}
	for _, d := range FactDefs() {
		if d.Kind == FactNumber {
			more[d.Name] = []string{"short", "<= 16 kg", "<=", "<= 1,5 mm", "3 mm <="}
		}
	}
	broken.Table{Of: rowLine{}, More: more,
		Kinds: map[reflect.Type]broken.Kind{reflect.TypeFor[string](): broken.Words, reflect.TypeFor[MaterialID](): broken.Words},
		Sound: []broken.Sound{{File: "rows.csv", Files: map[string][]byte{"rows.csv": table}}},
		Decode: func(files map[string][]byte) (bool, error) {
			rows, problems := ReadRowTable("rows.csv", files["rows.csv"])
			return len(problems) == 0 && rows != nil, problems.OrNil()
		},
	}.Run(t)
}
