package app

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

func at(day, hour, minute int) time.Time {
	return time.Date(2026, 3, day, hour, minute, 0, 0, time.UTC)
}

func date(day int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: day} }

// smallPlan is a plan with one of everything that its text can have. Invented; no schedule has
// made it.
func smallPlan() PlanView {
	return PlanView{
		Route: compare.Route{ID: "R-1", Name: "Weld", Because: "it is allowed", Bill: cost.Bill{Complete: true, Currency: "EUR", Total: 123456, Labour: 100000, Parts: 20000, Material: 456, Storage: 1000, Tax: 2000},
			Plan: plan.Plan{
				Start: date(2), Finish: date(4), WorkDays: 3, WorkMin: 125, SpanMin: 2880, BoundMin: 2400,
				Removal: []plan.Removal{{Part: "P-1", Because: "in the way", Lost: true, Change: "lift up"}, {Part: "A-1", Because: "over it", Parts: []body.PartID{"P-2", "P-3"}}},
				Refit:   []plan.Refitting{{Part: "P-2"}, {Part: "P-1"}}, OpeningCost: 4200, OpeningBound: 4100,
				OffChanges: plan.Changes{Tool: 1, Side: 2, Counted: true, Minutes: 7, Least: 5}, RefitChanges: plan.Changes{Tool: 3, Proven: true},
				Nearly: []plan.Opening{{Text: "P-4 in place of P-1"}}, Saved: []plan.Saved{{Name: "Isolate", Times: 2, Minutes: 17.6}},
				Stands: []plan.Stand{{Place: "bench", To: at(3, 9, 30)}, {Place: "yard"}},
				Steps: []plan.Step{
					{ID: "ST-1", Name: "Look", From: at(2, 8, 0), To: at(2, 9, 15), Person: "W1", BayID: "bench"},
					{ID: "ST-2", Name: "Weld", For: []job.FindingID{"F1"}, From: at(2, 10, 0), To: at(3, 9, 0), Person: "W2", BayID: "bench", Hold: "second person looks", WaitMin: 90, WaitName: "cools"},
					{ID: "ST-3", Name: "Seal", For: []job.FindingID{"F1", "F2", "F3", "F4"}, From: at(3, 10, 0), To: at(3, 11, 0), Person: "W1", Awaits: []plan.Awaited{{Name: "sealer", Unknown: true}, {Name: "skin", Minutes: 60}, {Name: "clip", Spent: 2, Arrived: date(1), Record: "D1"}}},
					{ID: "ST-4", Name: "Sign", For: []job.FindingID{"F1", "F2", "F3", "F4", "F5", "F6"}},
				}}},
		Order: []cost.OrderRow{{ID: "P-1", Name: "Skin", Count: 1, Holds: "1 piece", Sum: 20000, Priced: true, NeededBy: date(3)}, {ID: "M-1", Name: "Glue", Count: 2, Holds: "195 ml"}},
	}
}

// The text of a plan says everything of it, in this order: all of it, for one of everything.
func TestTextOfAPlan(t *testing.T) {
	col := Column{Width: 100}
	const want = `Weld (R-1)
it is allowed.

Comes off, in order (42.00 EUR; not proven: a cheaper opening may exist, none for less than 41.00):
  P-1  in the way; a new one is needed [lift up]
  A-1  over it; as one piece: P-2, P-3
  One person in this order changes the tool once, the side twice and the lift never, 7 min by the
  shop's figures (not billed); not proven, none needs less than 5 min.
  nearly as cheap: P-4 in place of P-1
  there may be more of these

Goes back on, in an order of its own: P-2, P-1
  One person in this order changes the tool 3 times, the side never and the lift never; no order
  needs less.

Steps, 2026-03-02 to 2026-03-04, 3 working days, 2 h 5 min of work; not proven: no plan takes less than 40 h, this one 2 days (gap 20.0 %):
 The vehicle stands in: bench until Tue 3 Mar 09:30, yard.
 Mon 2 Mar 2026
  ST-1  08:00-09:15     W1   bench  Look
  ST-2  10:00-Tue 09:00 W2   bench  Weld (F1)
        HOLD: second person looks
        then wait 1.5 hours: cools
 Tue 3 Mar 2026
  ST-3  10:00-11:00     W1          Seal (F1, F2, F3, F4)
        waits for sealer; nobody says when it arrives
        waits for clip, on record as there on 2026-03-01 (D1); 2 that came may not be used any more
  ST-4  no date                     Sign (F1, F2, F3, F4 and 2 more)

To order:
  P-1                    1 x 1 piece        200.00 EUR by 2026-03-03  Skin
  M-1                    2 x 195 ml           no price  Glue

Money: 1,234.56 EUR, tax included; labour 1,000.00, parts 200.00, materials 4.56, storage 10.00, tax 20.00
  saved by doing it once: Isolate, asked for 2 times, 18 min
`
	if got := smallPlan().Text(col); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	for name, k := range map[string]struct {
		change    func(*PlanView)
		has, lost string
	}{
		"left out":           {func(v *PlanView) { v.Route.Excluded = "x" }, "it is allowed.\n", "Comes off"},
		"open":               {func(v *PlanView) { v.Route.Open = 1 }, "NOT RELEASED: open: ", ""},
		"opening proven":     {func(v *PlanView) { v.Route.Plan.OpeningProven = true }, "(42.00 EUR; no cheaper opening exists)", "cheaper opening may exist"},
		"all that are near":  {func(v *PlanView) { v.Route.Plan.NearlyAll = true }, "nearly as cheap", "there may be more"},
		"none that are near": {func(v *PlanView) { v.Route.Plan.Nearly = nil }, "Goes back on", "there may be more"},
		"nothing off":        {func(v *PlanView) { v.Route.Plan.Removal = nil }, "\nNothing comes off.\n", "Goes back on"},
		"proven":             {func(v *PlanView) { v.Route.Plan.Proven = true }, "; proven: no shorter plan exists:", "gap"},
		"no bound":           {func(v *PlanView) { v.Route.Plan.BoundMin = 0 }, "; not proven:\n", "gap"},
		"stands nowhere":     {func(v *PlanView) { v.Route.Plan.Stands = nil }, "Steps, ", "The vehicle stands"},
		"no steps":           {func(v *PlanView) { v.Route.Plan.Steps = nil }, "To order", "Steps, "},
		"a price missing":    {func(v *PlanView) { v.Route.Bill.Complete = false }, "\nMoney: at least 1,234.56 EUR", "\nMoney: 1"},
		"no finish":          {func(v *PlanView) { v.Route.Plan.Finish = unit.Date{} }, "\nSteps, from 2026-03-02, not all with a date, 2 h 5 min of work:\n", "proven: no plan takes"},
		"no order":           {func(v *PlanView) { v.Order = nil }, "Money: ", "To order"},
		"changes not shown":  {func(v *PlanView) { v.Route.Plan.OffChanges.Counted = false }, "lift never; not proven to\n  be the least.", "figures"},
		"asked":              {func(v *PlanView) { v.Asks = []diag.Note{{Severity: diag.Blocking, Text: "ask first", Hint: "do it"}} }, "\nblocks: ask first; do it.\n", ""},
	} {
		v := smallPlan()
		k.change(&v)
		if got := v.Text(col); !strings.Contains(got, k.has) || k.lost != "" && strings.Contains(got, k.lost) {
			t.Errorf("%s: want %q, and not %q:\n%s", name, k.has, k.lost, got)
		}
		if v.Blocked() != (name == "asked") {
			t.Errorf("%s: blocked %v", name, v.Blocked())
		}
	}
	v := smallPlan()
	v.Asks = []diag.Note{{Severity: diag.Caution}}
	if v.Blocked() {
		t.Error("a caution blocks")
	}
}

// The comparison of routes in words: the best is marked, what has no spread is not told, and days
// are told where they have one.
func TestTextOfRoutes(t *testing.T) {
	r := Assessment{}
	r.Compare = compare.Result{Best: "R-2", Routes: []compare.Route{
		{ID: "R-2", Name: "Weld", Rank: 1, Because: "it is the cheapest", Changes: []string{"less off"}, Bill: cost.Bill{Currency: "EUR", Loss: []cost.Loss{{Name: "Rule A", Applies: true, Because: "no loss"}, {Name: "Rule B", Because: "a loss"}}}},
		{ID: "R-1", Name: "Section", Rank: 2, Because: "it is allowed"}}}
	const routes = `* 1 Weld (R-2)
    it is the cheapest.
    changed: less off
    Rule A (applies): no loss
    Rule B (shown): a loss
  2 Section (R-1)
    it is allowed.
`
	const law = "Law and insurer decide what a total loss is; this only works out what each rule says.\n"
	var a *App
	col := Column{Width: 100}
	if got := a.RoutesText(r, col); got != routes+"No spread of money is told: the shop gives no spreads and the job no risks.\n"+law {
		t.Errorf("%s", got)
	}
	days := &compare.DaySpread{Draws: 4000, Mean: 5.25, P10: 4, P50: 5, P90: 9}
	r.Compare.Spread = &compare.Spread{Draws: 20000, Seed: 255, Left: []string{"R-9, as it is"}, Drivers: []compare.Driver{{Title: "the hours", Low: 90000, High: 110000}},
		Routes: []compare.RouteSpread{{Route: "R-2", Mean: 100000, P10: 90000, P50: 99000, P90: 120000, Days: days}, {Route: "R-1", Mean: 200000, P10: 1, P50: 2, P90: 3}, {Route: "R-3", Days: days}},
		Days:   []compare.DayDriver{{Title: "the delivery", Low: 4, High: 8.04}}, Looks: []compare.LookWorth{{Text: "look first"}}}
	got := a.RoutesText(r, col)
	for _, want := range []string{routes + "\nHow far the money may turn out off (20000 draws, seed ff), EUR, tax included:\n",
		"      1,000.00       900.00       990.00     1,200.00  ", "      2,000.00         0.01         0.02         0.03  ", "  left out: R-9, as it is\nWhat moves R-2 (expected money at its low and its high tenth):\n        900.00     1,100.00  the hours\n- look first\n" + law,
		"Calendar days, when deliveries, answers and hours turn out other than likely and nobody replans (4000 draws):\n",
		"           5.2            4            5            9  R-2\n           5.2            4            5            9  R-3\n  the delivery: 4.0 days at its low tenth, 8.0 at its high one (R-2)\n"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
	if n := strings.Count(got, "Calendar days"); n != 1 {
		t.Errorf("days are told %d times", n)
	}
	r.Compare.Spread.Drivers = nil
	if got := a.RoutesText(r, col); strings.Contains(got, "What moves") {
		t.Errorf("nothing moves it:\n%s", got)
	}
}

// What was done beside a plan, in words: each list is told where there is something in it.
func TestTextOfWhatWasDone(t *testing.T) {
	v := smallPlan()
	v.Reality = &cost.Reality{Steps: []cost.StepReality{{Step: "ST-1", Name: "Look", Planned: 20, Taken: 31.4, By: "W1", Again: []string{"it rained"}}},
		Beyond: []cost.WorkBeyond{{Name: "Clean", Taken: 9, By: "W2", Why: "oil"}}, Used: []cost.PartReality{{ID: "M-1", Used: 3, Planned: 2, Beyond: 1, Sum: 450}},
		Unfit: []cost.NotCounted{{Name: "Weld", Minutes: 5, Why: "nobody signed"}}}
	got := v.Text(Column{Width: 100})
	for _, want := range []string{"\nDone so far: ", "  ST-1     20 planned    31 taken  W1   Look\n        done again: it rained\n", "  beyond the plan 9 taken W2 Clean: oil\n", "  M-1                    3 used, 2 planned, 1 beyond the plan 4.50\n", "  recorded, but does not count: Weld, "} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
	if text := smallPlan().Text(Column{Width: 100}); strings.Contains(text, "Done so far") {
		t.Errorf("nothing was done:\n%s", text)
	}
}
