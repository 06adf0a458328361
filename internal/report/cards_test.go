package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// startable is the fixture with nothing in the way of its first route.
func startable(t testing.TB) (Input, compare.Route) {
	in := fixture(t)
	in.Notes, in.Job.Hazards, in.Decide.Permits = nil, nil, true
	r := in.Compare.Routes[0]
	r.Open, r.Ask, r.Measure, r.Feasible, r.Excluded = 0, nil, nil, true, ""
	return in, r
}

func cards(t testing.TB, in Input, r compare.Route) string {
	t.Helper()
	page, err := Cards(in, r)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// Every step has a card with its number, name, cautions and blanks; nothing on
// it is ticked, nothing is fetched, and it is well formed.
func TestEveryStepHasACard(t *testing.T) {
	in, r := startable(t)
	page := cards(t, in, r)
	for _, s := range r.Plan.Steps {
		for _, want := range []string{">" + s.ID + "<", esc(s.Name)} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: no %q", s.ID, want)
			}
		}
	}
	for _, want := range []string{"HOLD POINT", "Penetrant test before dressing", "filler batch", "Contact can kill", "Only a welder qualified", "THEN WAIT",
		"Passed: who, when", "Released for work by", in.Job.Vehicle.VIN, "No usual warning is known", "Stop, and ask a qualified person", "Adhesive"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(page, "DO NOT START") {
		t.Error("a route that may be worked on is stopped")
	}
	for _, bad := range []string{"<script", "<input", "checked", "✓", "☑", "☒", "http"} {
		if strings.Contains(page, bad) {
			t.Errorf("the cards have %q", bad)
		}
	}
	d := xml.NewDecoder(strings.NewReader(page))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// Whatever is in the way, every card of the route says not to start: a block, a
// danger, an open question, a route that is excluded or not feasible, and
// decisions that permit nothing (constructed).
func TestCardsFailClosed(t *testing.T) {
	for name, spoil := range map[string]func(*Input, *compare.Route){
		"a note that blocks":      func(in *Input, _ *compare.Route) { in.Notes = fixture(t).Notes },
		"a danger not made safe":  func(in *Input, _ *compare.Route) { in.Job.Hazards = []job.Hazard{{Kind: "airbag", Text: "torn"}} },
		"decisions that forbid":   func(in *Input, _ *compare.Route) { in.Decide.Permits = false },
		"an open question":        func(_ *Input, r *compare.Route) { r.Open, r.Ask = 1, []string{"F1"} },
		"a measurement to be had": func(_ *Input, r *compare.Route) { r.Open, r.Measure = 1, []string{"P3"} },
		"an infeasible route":     func(_ *Input, r *compare.Route) { r.Feasible = false },
		"an excluded route":       func(_ *Input, r *compare.Route) { r.Excluded = "the line does not divide the casting" },
	} {
		t.Run(name, func(t *testing.T) {
			in, r := startable(t)
			spoil(&in, &r)
			page := cards(t, in, r)
			if n := strings.Count(page, "<b>DO NOT START</b>"); n != len(r.Plan.Steps)+1 {
				t.Errorf("%d of %d cards say not to start", n, len(r.Plan.Steps)+1)
			}
		})
	}
	in, r := startable(t)
	r.Open, r.Ask = 1, []string{"F1"}
	if page := cards(t, in, r); !strings.Contains(page, "answer on F1.") {
		t.Error("the step on F1 does not say that it waits for an answer on F1")
	}
	if _, err := Cards(in, compare.Route{ID: "total-loss"}); err == nil {
		t.Error("cards of a route without steps")
	}
}

// A step with more records than a sheet holds goes on on another; none is lost
// (constructed).
func TestRecordsGoOnOnAnotherSheet(t *testing.T) {
	in, r := startable(t)
	var many []string
	for i := range 60 {
		many = append(many, fmt.Sprintf("reading %02d of the joint", i))
	}
	r.Plan.Steps = []plan.Step{{ID: "S-1", Name: "Bond", Records: many, Because: "needed"}}
	page := cards(t, in, r)
	for _, m := range many {
		if strings.Count(page, m) != 1 {
			t.Errorf("%q stands %d times", m, strings.Count(page, m))
		}
	}
	if !strings.Contains(page, "sheet 1 of ") || strings.Count(page, `<div class="no">S-1</div>`) < 3 {
		t.Error("60 records stand on fewer than three sheets")
	}
}

// What people typed comes out as text.
func TestCardsEscape(t *testing.T) {
	in, r := startable(t)
	in.Job.ID, in.Shop.Name, in.Body.Name = nasty, nasty, nasty
	r.Name, r.Plan.Steps[0].Name, r.Plan.Steps[0].Person = nasty, nasty, nasty
	if page := cards(t, in, r); strings.Contains(page, "<script") || strings.Contains(page, "<img") || strings.Count(page, "</style>") != 1 {
		t.Error("text came through as markup")
	}
}
