package report

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// TestHoldRecordsAreTheLast: the box of a hold point holds the last record that is surely
// about its step, a later one in the list before an earlier of the same day.
func TestHoldRecordsAreTheLast(t *testing.T) {
	day := func(d int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: d} }
	p := plan.Plan{Steps: []plan.Step{
		{ID: "S1", Name: "Weld", For: []job.FindingID{"D1"}}, {ID: "S2", Name: "Weld", For: []job.FindingID{"D2"}},
		{ID: "S3", Ref: "3", Name: "Bench"}, {ID: "S4", Name: "Coat"},
	}}
	j := &job.State{Records: []job.Record{
		{ID: "R1", Show: body.ShowHold, Step: "weld", Finding: "D1", On: day(3), Met: true},
		{ID: "R2", Show: body.ShowHold, Step: "Weld", Finding: "D1", On: day(3)},
		{ID: "R3", Show: body.ShowHold, Step: "Weld", Finding: "D1", On: day(2), Met: true},
		{ID: "R4", Show: body.ShowHold, Step: "Weld", On: day(4), Met: true}, // of which?
		{ID: "R5", Show: body.ShowHold, Step: "3", On: day(4), Met: true},
		{ID: "R6", Show: body.ShowVisual, Step: "Coat", On: day(4), Met: true},
		{ID: "R7", Show: body.ShowHold, Step: "Paint", On: day(4), Met: true},
	}}
	got := holdRecords(j, p)
	if len(got) != 2 || got["S1"].ID != "R2" || got["S3"].ID != "R5" {
		t.Errorf("records %+v", got)
	}
}
