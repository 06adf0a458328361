package report

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/picture"
	"fettle/internal/plan"
)

// opening is two stages over three areas, and one area that stays open (constructed).
func opening() Exposing {
	keep := []inspect.Condition{{What: "white light at the surface", Bound: "at least 350 lx", Cite: "rule 7"}}
	return Exposing{Exposed: plan.Exposed{
		Plan: plan.Plan{Steps: []plan.Step{
			{ID: "ST-1", Ref: "task lock", Name: "Lock <out>", Phase: plan.PhasePrepare, Hold: "Proven dead", Second: true, Records: []string{"lock number"}, Cautions: []body.Caution{body.HighVoltage}},
			{ID: "ST-2", Ref: "inspect A-1", Phase: plan.PhaseCheck},
			{ID: "ST-3", Ref: "task drain", Name: "Drain", Phase: plan.PhasePrepare},
			{ID: "ST-4", Ref: "off P-1", Part: "P-1", Name: "Take off skin", Phase: plan.PhaseOpen, Minutes: 12},
			{ID: "ST-5", Ref: "inspect A-2", Phase: plan.PhaseCheck}, {ID: "ST-6", Ref: "inspect A-3", Phase: plan.PhaseCheck},
			{ID: "ST-7", Ref: "on P-1", Part: "P-1", Name: "Fit new skin", Phase: plan.PhaseClose},
		}, Removal: []plan.Removal{{Part: "P-1", Name: "skin & flap"}}, Lost: []plan.Lost{{Part: "P-1", Name: "skin & flap", Because: "destroyed by opening joint J"}}},
		Stages: []plan.Stage{
			{Areas: []plan.ToInspect{{Area: "A-1", Name: "Left rail", With: []string{"Left rail, 2 bores"}, Method: "visual", Keep: keep, So: "too dark", Step: "ST-2"}}},
			{Off: []body.PartID{"P-1"}, Lost: []body.PartID{"P-1"}, Cost: 12345, Steps: []string{"ST-3", "ST-4"}, Minutes: 40, Areas: []plan.ToInspect{
				{Area: "A-2", Name: "Wall", Method: "penetrant", Trained: true, Step: "ST-5"}, {Area: "A-3", Name: "Brace", Method: "visual", Keep: keep, Step: "ST-6"}}}},
		Hidden: []plan.ToInspect{{Area: "A-4", Name: "Knee", Method: "visual", Why: "nobody knows the way", Hint: "find it"}},
	}, Bill: cost.Bill{Currency: "EUR", Total: 99900, Complete: true}, Until: 4500, Least: true}
}

func exposeSheet(t *testing.T, in Input, x Exposing) string {
	t.Helper()
	page, err := ExposeSheet(in, x)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// Every area has a row with its blanks, every part its step, once; what stays open and what is
// lost is said; nothing is ticked or fetched, and the page is well formed.
func TestExposeSheetHasEverything(t *testing.T) {
	in := fixture(t)
	in.Notes = nil
	page := exposeSheet(t, in, opening())
	for want, n := range map[string]int{"<tr><td><b>A-1</b>": 1, "<tr><td><b>A-2</b>": 1, "<tr><td><b>A-3</b>": 1, "<tr><td><b>A-4</b>": 1, "Take off skin": 1, "Drain": 1, "Lock &lt;out&gt;": 1,
		"light, lx": 3, "distance, mm": 3, "</span> nothing": 3, "with 2 bores": 1, "Too dark.": 1, "at least 350 lx": 2, "does not say when such an inspection counts": 1, "only from somebody qualified for penetrant": 1,
		"Nobody knows the way; find it.": 1, "skin &amp; flap (P-1): destroyed by opening joint J": 1, "Lost with this step": 1, "not who did the step": 1, "lock number": 1, "Fit new skin": 0, "DO NOT START": 0,
		picture.Escape(in.Job.Vehicle.VIN): 3, "No cheaper way to these areas exists": 1} {
		if got := strings.Count(page, want); got != n {
			t.Errorf("%q: %d times, want %d", want, got, n)
		}
	}
	for _, bad := range []string{"<script", "<input", "checked", "✓", "http"} {
		if strings.Contains(page, bad) {
			t.Errorf("the sheet has %q", bad)
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

// A danger, or a note that blocks, stops the first sheet and every stage; a price that is missing, or a way
// that may be cheaper, is not called the cheapest; areas of which nothing is told are.
func TestExposeSheetFailsClosed(t *testing.T) {
	in := fixture(t)
	in.Notes = nil
	x := opening()
	x.Stop = []string{"plug torn: not made safe yet"}
	if page := exposeSheet(t, in, x); strings.Count(page, "DO NOT START") != 3 || !strings.Contains(page, "plug torn") {
		t.Error("a danger does not stop it")
	}
	in.Notes = []diag.Note{{Code: "plan.no-person", Severity: diag.Blocking, Text: "nobody has the skill"}}
	if page := exposeSheet(t, in, opening()); strings.Count(page, "DO NOT START") != 3 || !strings.Contains(page, "Nobody has the skill.") {
		t.Error("a note that blocks does not stop it")
	}
	in.Notes = []diag.Note{{Code: "inspect.zone-without-area", Severity: diag.Caution, Where: "front", Text: "there is no inspection area in zone Z9"}}
	x = opening()
	x.Bill.Complete = false
	if page := exposeSheet(t, in, x); strings.Contains(page, "No cheaper") || !strings.Contains(page, "Prices are missing") || !strings.Contains(page, "zone Z9") {
		t.Error("a bill that is not complete is called the cheapest, or a zone without an area is not told")
	}
	x = opening()
	x.Least = false
	if page := exposeSheet(t, in, x); strings.Contains(page, "No cheaper") {
		t.Error("called the cheapest")
	}
	if _, err := ExposeSheet(Input{}, x); err == nil {
		t.Error("a sheet without a body")
	}
}
