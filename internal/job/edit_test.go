package job

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

func must(text string) unit.Date {
	var d unit.Date
	if err := d.UnmarshalText([]byte(text)); err != nil {
		panic(err)
	}
	return d
}

// Records are added where they belong and nothing else changes; what cannot be
// read afterwards is refused. Constructed.
func TestAdded(t *testing.T) {
	files := goodFiles(t)
	text, err := Added(files,
		Evidence{ID: "E-9", File: "evidence/a.txt", SHA256: strings.Repeat("0a", 32), Text: "Answer: no weld, \"never\"", On: must("2026-03-05"), By: "W2"},
		Answer{ID: "AN-9", Finding: "F1", VIN: "TEST1111111111111", Question: "QU-1", Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01"), Document: "E-9", RecordedBy: "W2"},
		Review{By: "W1", On: must("2026-03-08")})
	if err != nil {
		t.Fatal(err)
	}
	was := strings.Split(string(files[MainFile]), "\n")
	is := strings.Split(string(text), "\n")
	if len(is) != len(was)+3 {
		t.Errorf("%d lines became %d", len(was), len(is))
	}
	for _, l := range was {
		if !strings.Contains(string(text), l+"\n") {
			t.Errorf("the line %q is gone", l)
		}
	}
	for name, bad := range map[string]Answer{
		"twice":              {ID: "AN-1", Finding: "F1", VIN: "TEST1111111111111", Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
		"another vehicle":    {ID: "AN-9", Finding: "F1", VIN: "TEST1111111111112", Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
		"no such finding":    {ID: "AN-9", Finding: "F99", VIN: "TEST1111111111111", Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
		"neither nor":        {ID: "AN-9", Finding: "F1", VIN: "TEST1111111111111", By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
		"expires before":     {ID: "AN-9", Finding: "F1", VIN: "TEST1111111111111", Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-03-01")},
		"not of this world":  {ID: "AN-9", Finding: "F1", VIN: "TEST1111111111111", Forbid: []body.TreatmentKind{"pray"}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
		"allowed, forbidden": {ID: "AN-9", Finding: "F1", VIN: "TEST1111111111111", Allow: []body.TreatmentKind{body.Weld}, Forbid: []body.TreatmentKind{body.Weld}, By: "desk", On: must("2026-03-05"), Expires: must("2026-06-01")},
	} {
		if _, err := Added(files, bad); err == nil {
			t.Errorf("%s: it is added", name)
		}
	}
	if _, err := Added(files, Hazard{}); err == nil {
		t.Error("a record without a list is added")
	}
}
