package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/job"
	"fettle/internal/picture"
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

func sheets(t testing.TB, in Input, r compare.Route) string {
	t.Helper()
	page, err := Sheets(in, r)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// Every step is on a day sheet with its number, name, cautions and blanks; nothing on
// it is ticked, nothing is fetched, and it is well formed.
func TestEveryStepIsOnASheet(t *testing.T) {
	in, r := startable(t)
	page := sheets(t, in, r)
	for _, s := range r.Plan.Steps {
		for _, want := range []string{">" + s.ID + "<", picture.Escape(s.Name)} {
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
			t.Errorf("the sheets have %q", bad)
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

// Whatever is in the way, every sheet of the route says not to start: a block, a
// danger, an open question, a route that is excluded or not feasible, and
// decisions that permit nothing (constructed).
func TestSheetsFailClosed(t *testing.T) {
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
			page := sheets(t, in, r)
			days := strings.Count(page, `<section class="day">`)
			if n := strings.Count(page, "<b>DO NOT START</b>"); n != days+1 || days < 3 {
				t.Errorf("%d of %d sheets say not to start", n, days+1)
			}
		})
	}
	in, r := startable(t)
	r.Open, r.Ask = 1, []string{"F1"}
	if page := sheets(t, in, r); !strings.Contains(page, "answer on F1.") {
		t.Error("the step on F1 does not say that it waits for an answer on F1")
	}
	if _, err := Sheets(in, compare.Route{ID: "total-loss"}); err == nil {
		t.Error("sheets of a route without steps")
	}
}

// What was made safe before is proven again on the day the work starts (constructed).
func TestMadeSafeIsAskedAgain(t *testing.T) {
	in, r := startable(t)
	const again = "Proven again on Wed 4 Mar 2026, before work: who, when"
	if strings.Contains(sheets(t, in, r), again) {
		t.Error("a vehicle without dangers is asked about")
	}
	in.Job.Hazards = []job.Hazard{{Kind: body.HighVoltage, Text: "battery is in the vehicle", Cleared: true, By: "HV1", On: d(3)}}
	if !strings.Contains(sheets(t, in, r), again) {
		t.Errorf("no %q", again)
	}
}

// However many records a step has, each stands once (constructed); that none is cut off
// where they go on on another page is seen in a browser.
func TestEveryRecordStandsOnce(t *testing.T) {
	in, r := startable(t)
	var many []string
	for i := range 60 {
		many = append(many, fmt.Sprintf("reading %02d of the joint", i))
	}
	r.Plan.Steps = []plan.Step{{ID: "S-1", Name: "Bond", Records: many, Because: "needed"}}
	page := sheets(t, in, r)
	for _, m := range many {
		if strings.Count(page, m) != 1 {
			t.Errorf("%q stands %d times", m, strings.Count(page, m))
		}
	}
	for _, want := range []string{"Nobody named", "no day yet", "no time yet"} {
		if !strings.Contains(page, want) {
			t.Errorf("a step without person and times: no %q", want)
		}
	}
}

// A step that lasts from Friday to Tuesday stands on the sheets of Friday, Monday and
// Tuesday and on none of the days off between; its hold point, records, wait and box to
// tick stand on the last alone, and its cautions on every one (constructed; the days by
// the calendar of 2026).
func TestAStepGoesOnOverDays(t *testing.T) {
	in, r := startable(t)
	at := func(day, hour int) time.Time { return time.Date(2026, 3, day, hour, 0, 0, 0, time.UTC) }
	r.Plan.Steps = []plan.Step{{ID: "S-1", Name: "Bond", Person: "ST1", From: at(6, 14), To: at(10, 9), Hold: "every rivet flush", Records: []string{"batch of the adhesive"},
		WaitName: "cure", WaitMin: 60, Cautions: []body.Caution{body.Chemical}}}
	page := sheets(t, in, r)
	_, rest, _ := strings.Cut(page, `<section class="day">`)
	days := strings.Split(rest, `<section class="day">`)
	if len(days) != 3 {
		t.Fatalf("%d sheets, want 3", len(days))
	}
	for i, want := range []string{"Fri 6 Mar 2026", "Mon 9 Mar 2026", "Tue 10 Mar 2026"} {
		last := i == 2
		if !strings.Contains(days[i], want) || !strings.Contains(days[i], "<b>Chemicals.</b>") {
			t.Errorf("sheet %d: no %s or no caution", i, want)
		}
		for _, once := range []string{"every rivet flush", "batch of the adhesive", "THEN WAIT", `class="box"`} {
			if strings.Contains(strings.ToLower(days[i]), strings.ToLower(once)) != last {
				t.Errorf("%s: %q stands on it: %v, want %v", want, once, !last, last)
			}
		}
		if goes := "Goes on from Fri 6 Mar 14:00."; strings.Contains(days[i], goes) != (i > 0) {
			t.Errorf("%s: %q is wrong", want, goes)
		}
		if ends := "Ends Tue 10 Mar 09:00."; strings.Contains(days[i], ends) == last {
			t.Errorf("%s: %q is wrong", want, ends)
		}
	}
}

// Each person has a sheet for each day, in order of days, and each step ends on one sheet
// alone, whatever order the plan has its steps in and however long they last (drawn).
func TestEveryStepEndsOnOneSheetSeed71(t *testing.T) {
	in, r := startable(t)
	rng := rand.New(rand.NewPCG(71, 1))
	for range 30 {
		r.Plan.Steps = nil
		for i := range 1 + rng.IntN(12) {
			from := time.Date(2026, 3, 2+rng.IntN(9), 8+rng.IntN(8), rng.IntN(60), 0, 0, time.UTC)
			r.Plan.Steps = append(r.Plan.Steps, plan.Step{ID: fmt.Sprintf("S-%02d", i), Name: "Work", Person: []string{"ST1", "AW1", ""}[rng.IntN(3)],
				From: from, To: from.Add(time.Duration(rng.IntN(4000)) * time.Minute), Hold: fmt.Sprintf("passed %02d", i)})
		}
		page := sheets(t, in, r)
		for i := range r.Plan.Steps {
			if n := strings.Count(page, fmt.Sprintf("<p>Passed %02d.</p>", i)); n != 1 {
				t.Fatalf("the hold point of step %d stands %d times", i, n)
			}
		}
		if done := strings.Count(page, `<span class="box"></span></div>`); done != len(r.Plan.Steps) {
			t.Fatalf("%d boxes for %d steps", done, len(r.Plan.Steps))
		}
	}
}

// A step that takes a part off names the joints with their fasteners; one that closes
// them also how tight (constructed).
func TestSheetsNameJoints(t *testing.T) {
	in, r := startable(t)
	in.Body.Joints = []body.Joint{{ID: "J1", Name: "wing to tower", Methods: []body.JoinMethod{"bolt"}, Count: 7, Torque: 9}, {ID: "J2", Name: "wing to sill", Methods: []body.JoinMethod{"clip", "adhesive"}}}
	r.Plan.Removal = []plan.Removal{{Part: "WING", Name: "Left wing", Joints: []body.JointID{"J1", "J2"}}}
	r.Plan.Steps = []plan.Step{{ID: "S-1", Ref: "off WING", Part: "WING", Name: "Take off"}, {ID: "S-2", Ref: "on WING", Part: "WING", Name: "Refit", Closes: []body.JointID{"J1"}}}
	page := sheets(t, in, r)
	for _, want := range []string{`<p class="joint">wing to tower: 7 × bolt</p>`, `<p class="joint">wing to sill: clip and adhesive</p>`, `<p class="joint">wing to tower: 7 × bolt, 9` + thin + `Nm</p>`} {
		if strings.Count(page, want) != 1 {
			t.Errorf("%q stands %d times", want, strings.Count(page, want))
		}
	}
}

// What people typed comes out as text.
func TestSheetsEscape(t *testing.T) {
	in, r := startable(t)
	in.Job.ID, in.Shop.Name, in.Body.Name = nasty, nasty, nasty
	r.Name, r.Plan.Steps[0].Name, r.Plan.Steps[0].Person = nasty, nasty, nasty
	if page := sheets(t, in, r); strings.Contains(page, "<script") || strings.Contains(page, "<img") || strings.Count(page, "</style>") != 1 {
		t.Error("text came through as markup")
	}
}
