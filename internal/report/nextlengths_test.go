package report

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/golden"
	"fettle/internal/job"
	"fettle/internal/measure"
)

func lengthsFixture() LengthsInput {
	limit := func(low, high float64) measure.LengthLimit { return measure.LengthLimit{LowMM: low, HighMM: high} }
	return LengthsInput{
		Body: &body.Body{Invented: true, Points: []body.Point{{ID: "A1", Name: "Tower, left"}, {ID: "A2", Name: "Tower <right> & its \"rim\""}, {ID: "B1", Name: "A name that is much too long for the cell that it is printed in, whatever the paper"}, {ID: "B2"}}},
		Job:  &job.State{ID: "J<7>", Vehicle: job.Vehicle{VIN: "ZZZ0001"}}, Stage: job.StageAfter, Meta: Meta{Made: time.Date(2026, 3, 4, 8, 5, 0, 0, time.UTC), Version: "1.2.3"},
		Next: measure.NextLengths{StdMM: 0.5, Placed: []body.PointID{"B1", "B2"}, Decided: []body.PointID{"B1"}, Open: []body.PointID{"B2"},
			Rows: []measure.NextLength{
				{From: "A1", To: "A2", NominalMM: 1000, Limit: limit(996, 1004), Why: measure.NextAgain},
				{From: "A1", To: "B1", NominalMM: 1403.45, Limit: limit(1399.45, 1407.95), Why: measure.NextFrame},
				{From: "A2", To: "B1", NominalMM: 1720.1, For: "B1", Why: measure.NextPlace},
				{From: "A2", To: "B2", NominalMM: 98.76, Limit: limit(96.76, 100.76), Why: measure.NextCheck},
			}},
	}
}

// The page and the lines for a terminal, as they are: a person looked at the page when they changed.
func TestLengthsPageStaysAsItIs(t *testing.T) {
	in := lengthsFixture()
	page, err := LengthsHTML(in)
	if err != nil {
		t.Fatal(err)
	}
	golden.Same(t, "testdata/lengths.html", string(page))
	golden.Same(t, "testdata/lengths.txt", LengthsText(in.Body.Points, in.Next, 80))
	if s := string(page); strings.Contains(s, "<right>") || strings.Contains(s, "J<7>") {
		t.Error("a name is taken for markup")
	}
	// a blank for each reading and for who read it, in every row
	if n := strings.Count(string(page), "<td></td><td></td><td></td>"); n != len(in.Next.Rows) {
		t.Errorf("%d rows with blanks for two readings and who took them, want %d", n, len(in.Next.Rows))
	}
}

// A page without rows says so, and one whose rows settle nothing promises nothing.
func TestLengthsPageOfNothing(t *testing.T) {
	in := lengthsFixture()
	in.Next.Placed, in.Next.Decided = nil, nil
	if text := LengthsText(in.Body.Points, in.Next, 200); !strings.Contains(text, "no point more would be settled, but a wrong reading would show") {
		t.Error(text)
	}
	in.Next.Rows = nil
	if text := LengthsText(in.Body.Points, in.Next, 200); text != "No further length of this gauge would give a point a place or decide its tolerance. Open: B2.\n" {
		t.Error(text)
	}
	page, err := LengthsHTML(in)
	if err != nil || strings.Contains(string(page), "<table") {
		t.Errorf("%v: a table without rows", err)
	}
}
