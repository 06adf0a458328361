package explain

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/unit"
)

// An answer to a single question, with everything that it can say and with nothing: how it is
// done and inspected stands with what is allowed only. The layout is ours.
func TestSingleAnswerForPeople(t *testing.T) {
	r := decide.Ruled{Procedure: "P", Title: "Rails", Revision: "B", Source: "Manual 3", Effective: march(1), Recheck: march(30), On: march(9),
		Facts: []decide.Fact{{Name: body.FactLength, Value: "34 mm", Known: true, From: decide.FromSaying}, {Name: body.FactOnCasting, Value: "yes", Known: true, From: "taken so"}},
		Options: []decide.Option{
			{Kind: body.Weld, Verdict: decide.Allowed, Because: "row a permits it", Manner: []string{"with a plate", "cold"}, After: []string{"penetrant"}},
			{Kind: body.SectionOff, Line: "L-1", Verdict: decide.Ask, Because: "it has to be asked.", Manner: []string{"hot"}, After: []string{"visual"}},
			{Kind: body.Dress, Verdict: decide.Allowed, Because: "row d"},
		},
		Missing:  []decide.Missing{{Name: "depth", Means: "how deep it is", For: []body.TreatmentKind{body.Weld, body.Dress}}},
		Change:   []string{"weld: 3 mm shorter"},
		Cautions: []string{"Nobody looked it up.", "It holds for this one spot."},
	}
	if got, want := Ruled(r, Column{Width: 100}), `P revision B, Rails
Manual 3; in force from 2026-03-01, to be looked up again before 2026-03-30; asked for 2026-03-09

Known
  decision length            34 mm
  on casting                 yes (taken so)

Treatments
  weld                       allowed: row a permits it.
                             How: with a plate; cold.
                             Afterwards: penetrant.
  section along L-1          ask: it has to be asked.
  dress                      allowed: row d.

Not known, and it may decide
  depth                      how deep it is; for weld, dress

What would change it
  weld: 3 mm shorter

Nobody looked it up.
It holds for this one spot.
`; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	bare := decide.Ruled{Procedure: "P", Title: "Rails", Revision: "B", Source: "Manual 3", Effective: march(1), Recheck: march(30), On: unit.Date{}, Barred: "it is not said for which day"}
	if got, want := Ruled(bare, Column{Width: 60}), `P revision B, Rails
Manual 3; in force from 2026-03-01, to be looked up again
before 2026-03-30; asked for
it is not said for which day: it permits nothing.

Known

Treatments

`; got != want {
		t.Errorf("%q\nwant\n%q", got, want)
	}
}

// A table of a zone has what the rows say of it, by treatment: what a row that always applies beats
// is left out. Forbidding beats asking, asking beats allowing; where no row allows it is asked.
func TestTableOfAZoneForPeople(t *testing.T) {
	type when = map[string]string
	weld, dress, section, casting, bolt, backing := []body.TreatmentKind{body.Weld}, []body.TreatmentKind{body.Dress}, []body.TreatmentKind{body.SectionOff}, []body.TreatmentKind{body.ReplaceCasting}, []body.TreatmentKind{body.Exchange}, []body.TreatmentKind{body.WeldBacking}
	q := decide.Single{On: march(9), Said: []decide.Said{{Name: body.FactZones, Value: "A"}}, Procedure: body.Procedure{
		ID: "P", Title: "Rails", Revision: "B", Source: "Manual 3", Effective: march(1), Recheck: march(30), Rows: []body.Row{
			{ID: "w1", Cite: "c1", When: when{"zones": "only A, B", "length": "< 50 mm", "depth": "< 2 mm"}, Allow: weld},
			{ID: "w2", Cite: "c2", When: when{"zones": "only A", "bore_clearance": "< 8 mm"}, Forbid: weld},
			{ID: "w3", Cite: "c3", When: when{"length": "> 20 mm and < 80 mm"}, Ask: "ask the desk"},
			{ID: "d1", Cite: "c4", When: when{"zones": "only A"}, Allow: dress},
			{ID: "s1", Cite: "c5", When: when{"zones": "only A"}, Forbid: section},
			{ID: "s2", Cite: "c6", When: when{"depth": "< 1 mm"}, Allow: section},
			{ID: "n1", Cite: "c7", When: when{"depth": "> 3 mm"}, Forbid: casting},
			{ID: "b1", Cite: "c8", When: when{"zones": "only B"}, Allow: bolt},
			{ID: "p1", Cite: "c9", When: when{"zones": "only B"}, Allow: backing},
		}}}
	table, err := q.Table()
	if err != nil {
		t.Fatal(err)
	}
	if got, want := RuleTable(table, Column{Width: 90}), `P revision B, Rails
Manual 3

Known
  zones                      A
  on casting                 yes (taken so: the procedure speaks of its casting)

The rule changes at decision lengths of 20 mm, 50 mm, 80 mm.

dress
  allowed    always [d1, c4]
  ask        decision length > 20 mm and < 80 mm; ask the desk [w3, c3]

weld
  allowed    decision length < 50 mm; depth < 2 mm [w1, c1]
  ask        decision length > 20 mm and < 80 mm; ask the desk [w3, c3]
  forbidden  bore clearance < 8 mm [w2, c2]

weld with backing plate
  ask        decision length > 20 mm and < 80 mm; ask the desk [w3, c3]
  ask        no row allows it

section
  forbidden  always [s1, c5]

replace casting
  forbidden  depth > 3 mm [n1, c7]
  ask        no row allows it

No row allows here, so that the manufacturer has to be asked: exchange bolt-on part.

Forbidding beats asking, asking beats allowing. What no row allows has to be asked of the
manufacturer.
`; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	q.Procedure.Rows = append(q.Procedure.Rows[3:4:4], body.Row{ID: "desk", Cite: "c", When: when{"zones": "only A"}, Ask: "ask the desk"})
	if table, err = q.Table(); err != nil {
		t.Fatal(err)
	}
	if got, want := RuleTable(table, Column{Width: 90}), `P revision B, Rails
Manual 3

Known
  zones                      A
  on casting                 yes (taken so: the procedure speaks of its casting)

dress
  ask        always; ask the desk [desk, c]

Forbidding beats asking, asking beats allowing. What no row allows has to be asked of the
manufacturer.
`; got != want {
		t.Errorf("asked always:\n%s\nwant\n%s", got, want)
	}
}
