package decide

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
)

// TestZonesKnowTheirTreatments: what the map of a zone does not give is asked for, whatever a row
// allows; what it gives is as the rows have it; what a row forbids stays forbidden. A crack over
// several zones has what all of them give.
func TestZonesKnowTheirTreatments(t *testing.T) {
	for _, c := range []struct {
		name  string
		knows map[body.ZoneID][]body.TreatmentKind
		zones []body.ZoneID
		want  string // verdict on leave, dress, weld in turn
	}{
		{"no zone says", nil, []body.ZoneID{"RAIL-L"}, "forbidden allowed allowed"},
		{"it gives both", map[body.ZoneID][]body.TreatmentKind{"RAIL-L": {body.Dress, body.Weld}}, []body.ZoneID{"RAIL-L"}, "forbidden allowed allowed"},
		{"it gives one", map[body.ZoneID][]body.TreatmentKind{"RAIL-L": {body.Weld}}, []body.ZoneID{"RAIL-L"}, "forbidden ask allowed"},
		{"it gives none", map[body.ZoneID][]body.TreatmentKind{"RAIL-L": {}}, []body.ZoneID{"RAIL-L"}, "forbidden ask ask"},
		{"it gives what is forbidden", map[body.ZoneID][]body.TreatmentKind{"RAIL-L": {body.Leave}}, []body.ZoneID{"RAIL-L"}, "forbidden ask ask"},
		{"another zone gives one", map[body.ZoneID][]body.TreatmentKind{"TOWER-L": {body.Weld}}, []body.ZoneID{"RAIL-L"}, "forbidden allowed allowed"},
		{"both zones give something else", map[body.ZoneID][]body.TreatmentKind{"RAIL-L": {body.Weld}, "TOWER-L": {body.Dress}}, []body.ZoneID{"RAIL-L", "TOWER-L"}, "forbidden ask ask"},
	} {
		w := newWorld()
		k := &w.in.Body.Castings[0]
		k.ID, k.Zones = "FRONT", slices.Clone(k.Zones)
		for _, id := range []body.ZoneID{"RAIL-L", "TOWER-L"} {
			i := slices.IndexFunc(k.Zones, func(z body.Zone) bool { return z.ID == id })
			if i < 0 {
				i = len(k.Zones)
				k.Zones = append(k.Zones, body.Zone{ID: id, Name: string(id)})
			}
			k.Zones[i].Treatments = c.knows[id]
		}
		p := body.Procedure{ID: "P", Revision: "1", Casting: "FRONT", Title: "P", Effective: day(2030, 1, 1), Recheck: day(2031, 1, 1), Rows: []body.Row{
			{ID: "R1", Cite: "p. 1", When: map[string]string{"kind": "crack"}, Allow: []body.TreatmentKind{body.Dress, body.Weld}, Forbid: []body.TreatmentKind{body.Leave}}}}
		w.in.Body.Procedures = []body.Procedure{p}
		w.crack("F1", 10, 0.1, c.zones...)
		r, _ := Run(w.in)
		var got []string
		for _, kind := range []body.TreatmentKind{body.Leave, body.Dress, body.Weld} {
			for _, o := range r.Findings[0].Options {
				if o.Kind == kind {
					got = append(got, o.Verdict.String())
					if o.Verdict == Ask && !strings.Contains(o.Because, "its zone map gives") {
						t.Errorf("%s: %s because %s", c.name, kind, o.Because)
					}
				}
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
		for i, v := range NewReady(w.in.Body).Verdicts(w.in)[0].Options {
			if v.Verdict != r.Findings[0].Options[i].Verdict {
				t.Errorf("%s: %s is %s without reasons", c.name, v.Kind, v.Verdict)
			}
		}
		if n := len(w.in.Body.Procedures[0].Rows); n != 1 {
			t.Errorf("%s: the procedure has %d rows now", c.name, n)
		}
	}
}
