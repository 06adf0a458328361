package cost

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Constructed: a piece cut in at step S-2 on Tuesday, adhesive used at S-2 and
// S-3; the sums are those of the bill, and what has no price has none.
func TestOrder(t *testing.T) {
	tue := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	p := plan.Plan{
		Steps: []plan.Step{{ID: "S-1", Part: "skin", Phase: "open", From: tue.AddDate(0, 0, -1)}, {ID: "S-2", Line: "L1", Phase: "repair", Takes: []body.PartID{"horn"}, From: tue},
			{ID: "S-3", Part: "skin", Phase: "close", Takes: []body.PartID{"skin"}, From: tue.AddDate(0, 0, 1)}},
		Lost:    []plan.Lost{{Part: "skin", Name: "skin", Quantity: 1}, {Part: "horn", Name: "horn", Quantity: 2}},
		Takeoff: []plan.Takeoff{{Material: "glue", Name: "glue", Kind: "adhesive", Unit: "ml", Net: 40, Gross: 44, Pack: 50, Packs: 1, Lines: []plan.TakeoffLine{{Step: "S-3", Formula: "b"}, {Step: "S-2", Formula: "a"}}}},
	}
	bill := Bill{Lines: []Line{{ID: "P-horn", Price: 700, Sum: 1400}, {ID: "M-glue", Price: 3520, Sum: 3520}}}
	rows := Order(p, bill)
	var got []string
	for _, r := range rows {
		got = append(got, strings.Join(append([]string{r.ID, r.Sum.Decimal(), r.NeededBy.String()}, r.Steps...), " "))
	}
	want := []string{"horn 14.00 2026-03-03 S-2", "skin 0.00 2026-03-04 S-3", "glue 35.20 2026-03-03 S-3 S-2"}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if rows[1].Priced || !rows[2].Priced || rows[2].Because != "S-3: b; S-2: a" || rows[0].NeededBy != (unit.Date{Year: 2026, Month: 3, Day: 3}) {
		t.Errorf("%+v", rows)
	}
}
