package plan

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// Constructed: F1 lies in Z1 under the skin, which needs bumper and seal off;
// opening the skin's bond destroys it, the seal is used once.
func TestOpeningFollowsDestroyedParts(t *testing.T) {
	p, notes := Build(input(weldF1))
	if got := removed(p); got != "bumper seal skin" {
		t.Errorf("removed %q", got)
	}
	if got := lostParts(p); got != "seal: one-time part; skin: destroyed by opening joint J2" {
		t.Errorf("lost %q", got)
	}
	if b := blocking(notes); b != "" {
		t.Errorf("blocked by %s", b)
	}
	if p.Removal[2].Because != "skin is in the way of zone Z1 and is destroyed when joint J2 is opened" {
		t.Errorf("because %q", p.Removal[2].Because)
	}
	if p.Removal[0].Joints[0] != "J1" {
		t.Errorf("joints %v", p.Removal[0].Joints)
	}
	// Handling 60/h: (25 + 50 + 5) min, joint J1 14 min at 60/h, J2 75 min at
	// 90/h, skin and seal, and the tasks isolate 20 min at 96/h, aim 25 at 72/h:
	// 80 + 14 + 112.50 + 310 + 9 + 32 + 30 = 587.50; and glue for 800 mm, 4.8 ml with 10 %
	// waste of a pack of 50 ml at 39.00, 4.12.
	if p.OpeningCost != 59162 || !p.OpeningProven {
		t.Errorf("opening costs %s, proven %v", p.OpeningCost.Decimal(), p.OpeningProven)
	}
}

// A choice of nothing is a plan that is done, proven in all, with or without dates; where nothing can be
// opened, nothing is proven.
func TestProvenOnlyWhereThereIsAPlan(t *testing.T) {
	stuck := input(weldF1)
	stuck.Body.Access = append(stuck.Body.Access, body.Access{To: "skin", Needs: [][]body.PartID{{"bumper"}}}, body.Access{To: "bumper", Needs: [][]body.PartID{{"skin"}}})
	for name, c := range map[string]struct {
		in     Input
		proven bool
		block  string
	}{"nothing chosen": {input(), true, ""}, "stuck": {stuck, false, "plan.no-opening"}} {
		for dates, build := range map[string]func(Input) (Plan, []diag.Note){"dated": Build, "undated": Outline} {
			p, notes := build(c.in)
			done := p.Finish == c.in.Job.Start && p.Proven
			if p.OpeningProven != c.proven || done != c.proven || blocking(notes) != c.block || p.Start != c.in.Job.Start || len(p.Steps) > 0 {
				t.Errorf("%s, %s: opening proven %t, done %t, blocked by %q", name, dates, p.OpeningProven, done, blocking(notes))
			}
		}
	}
}

// Constructed: the zone is reached through the skin for 591.62, or through the bracket, whose joint is
// quickly opened; closed with 900 ml of glue (900 x 1.1 / 50 x 39.00 = 772.20) that is the dearer way.
func TestOpeningWeighsWhatClosesIt(t *testing.T) {
	for glue, want := range map[float64]string{0: "bracket", 600: "bracket", 900: "bumper seal skin"} {
		in := input(weldF1)
		in.Body.Access[0].Needs = [][]body.PartID{{"skin"}, {"bracket"}}
		if glue > 0 {
			in.Body.Joints[2].Uses = []body.Use{{Material: "glue", Each: amount(glue, "ml")}}
		}
		if p, _ := Build(in); removed(p) != want || !p.OpeningProven {
			t.Errorf("with %g ml: %s comes off, proven %t", glue, removed(p), p.OpeningProven)
		}
	}
}

// Constructed: isolating comes before the bumper comes off, the skin's bond is
// opened by another skill in a step of its own, refit runs the other way, and
// the bond's cure at 20 C is the middle of 600 and 300 min.
func TestStepsAndWaits(t *testing.T) {
	p, _ := Build(input(weldF1))
	want := []string{"Isolate", "Take off bumper", "Take off seal", "Open skin bond", "Take off skin", "Set up on bench", "Grind", "Weld", "Measure",
		"Fit new skin", "Close skin bond", "Fit new seal", "Refit bumper", "Aim"}
	if got := stepNames(p); !slices.Equal(sorted(got), sorted(want)) {
		t.Errorf("steps %v", got)
	}
	order := func(a, b string) {
		if x, y := step(t, p, a), step(t, p, b); x.To.After(y.From) {
			t.Errorf("%s ends at %v, after %s begins at %v", a, x.To, b, y.From)
		}
	}
	order("Isolate", "Take off bumper")
	order("Take off bumper", "Take off skin")
	order("Open skin bond", "Take off skin")
	order("Take off skin", "Set up on bench")
	order("Weld", "Measure")
	order("Fit new skin", "Close skin bond")
	order("Close skin bond", "Fit new seal")
	order("Refit bumper", "Aim")
	c := step(t, p, "Close skin bond")
	if c.WaitMin != 450 || c.WaitName != "cure of glue" {
		t.Errorf("wait %q %g", c.WaitName, c.WaitMin)
	}
	if gap := step(t, p, "Fit new seal").From.Sub(c.To).Minutes(); gap < 450 {
		t.Errorf("only %g min of cure", gap)
	}
	// Fixed 10 min and 400 min for each metre of 30 mm.
	if w := step(t, p, "Weld"); w.Minutes != 22 || !strings.Contains(w.Sum, "= 22 min") {
		t.Errorf("weld %g min: %s", w.Minutes, w.Sum)
	}
	// The new skin comes two days after the start, 08:00 on Monday.
	if f := step(t, p, "Fit new skin"); unit.DateOf(f.From).Before(unit.Date{Year: 2026, Month: 3, Day: 4}) {
		t.Errorf("the skin goes on at %v, before it is delivered", f.From)
	}
}

func sorted(s []string) []string { return slices.Sorted(slices.Values(s)) }

// Constructed: two welds share the bench and the measuring: 40 and 30 minutes
// saved.
func TestSharedTasksOnce(t *testing.T) {
	p, _ := Build(input(weldF1, weldF2))
	n := 0
	for _, s := range p.Steps {
		if s.Name == "Set up on bench" || s.Name == "Measure" {
			n++
		}
	}
	if n != 2 || len(p.Saved) != 2 || p.Saved[0].Minutes != 40 || p.Saved[1].Minutes != 30 {
		t.Errorf("%d shared steps, saved %+v", n, p.Saved)
	}
	if s := step(t, p, "Measure"); !strings.Contains(s.Because, "30 min saved") {
		t.Errorf("because %q", s.Because)
	}
}

// Constructed: a cut of 400 mm with pitch 30 and end distance 12:
// ceil(376/30) + 1 = 14 rivets, 28.923 mm apart; 400 x 20 x 0.3 mm = 2.4 ml.
func TestSectionLayoutAndTakeoff(t *testing.T) {
	p, notes := Build(input(cutS1))
	if b := blocking(notes); b != "" {
		t.Errorf("blocked by %s", b)
	}
	r := step(t, p, "Set rivets")
	if r.Minutes != 7 || r.WaitMin != 450 {
		t.Errorf("%g min, wait %g", r.Minutes, r.WaitMin)
	}
	get := func(id body.MaterialID) Takeoff {
		for _, m := range p.Takeoff {
			if m.Material == id {
				return m
			}
		}
		t.Fatalf("no %s in the takeoff", id)
		return Takeoff{}
	}
	if m := get("rivet"); m.Net != 14 || m.Packs != 1 || !strings.Contains(m.Lines[0].Formula, "28.923 mm apart") {
		t.Errorf("rivets %+v", m)
	}
	if m := get("glue"); m.Net != 2.4 || num(m.Gross) != "2.64" || m.Lines[0].Step != r.ID {
		t.Errorf("glue %+v", m)
	}
	if got := removed(p); got != "bumper" {
		t.Errorf("removed %q: the bumper is the cheaper way to the line", got)
	}
	if got := lostParts(p); got != "horn: replaces what is cut off" {
		t.Errorf("lost %q", got)
	}
	if c := step(t, p, "Cut"); unit.DateOf(c.From) != (unit.Date{Year: 2026, Month: 3, Day: 4}) || c.Minutes != 40 {
		t.Errorf("cut at %v, %g min: the piece comes after two days", c.From, c.Minutes)
	}
	if a := step(t, p, "Apply adhesive"); a.Together == "" || a.Together != r.Together || !a.To.Equal(r.From) || a.Person != r.Person {
		t.Errorf("the bond is torn apart: %+v then %+v", a, r)
	}
}

// Constructed: a crack of 50 mm with 25 mm of overlap: 100 mm, so
// ceil(80/20) + 1 = 5 rivets in each of 2 rows; blank 100 x 50 mm = 50 cm2.
func TestPlateBlank(t *testing.T) {
	p, _ := Build(input(plateF2))
	if s := step(t, p, "Weld and plate"); s.Minutes != 45 {
		t.Errorf("%g min, want 30 + 1.5 x 10", s.Minutes)
	}
	for _, m := range p.Takeoff {
		if m.Material == "sheet" && (m.Net != 50 || m.Packs != 1) {
			t.Errorf("sheet %+v", m)
		}
	}
}

// Constructed: nothing lies over Z2, and the step says so; a crack that lies in
// no zone blocks, since nobody knows what is in its way.
func TestReachedWithoutRemoval(t *testing.T) {
	p, _ := Build(input(weldF2))
	if s := step(t, p, "Grind"); len(p.Removal) != 0 || s.Because != "weld of F2; zone Z2: reached without taking anything off" {
		t.Errorf("removed %v, because %q", p.Removal, s.Because)
	}
	in := input(weldF2)
	in.Inspect.Findings[1].Zones = nil
	if _, notes := Build(in); blocking(notes) != "plan.no-zone" {
		t.Errorf("notes %v", notes)
	}
}

// Constructed: what the layout cannot keep blocks and names both figures.
func TestLayoutChecks(t *testing.T) {
	for _, c := range []struct {
		change     func(l *body.Layout, in *Input)
		code, text string
	}{
		{func(l *body.Layout, in *Input) { l.Pitch = 14 }, "plan.pitch", "distance between rivets 13.926 mm; rivet needs at least 15 mm"},
		{func(l *body.Layout, in *Input) { l.EndDistance = 8 }, "plan.edge", "first rivet from the end 8 mm; rivet needs at least 9 mm"},
		{func(l *body.Layout, in *Input) { l.Rows = 3 }, "plan.flange", "flange of 48 mm; that of S1 is 40 mm"},
		{func(l *body.Layout, in *Input) { in.Seams["S1"] = 20 }, "plan.layout-short", "20 mm has no place for rivets 12 mm from each end"},
	} {
		in := input(cutS1)
		c.change(in.Body.Treatments[2].Steps[2].Layout, &in)
		_, notes := Build(in)
		if i := slices.IndexFunc(notes, func(n note) bool { return n.Code == c.code }); i < 0 || !strings.Contains(notes[i].Text, c.text) {
			t.Errorf("%s: %+v", c.code, notes)
		}
	}
}

// Constructed: at 30 C the table ends; no date is told for the bond, since nobody knows how
// long it may be open, nor for what follows.
func TestCureOutsideTable(t *testing.T) {
	in := input(weldF1)
	in.Shop.Temp = 30
	p, notes := Build(in)
	if blocking(notes) != "plan.cure-outside-table" {
		t.Errorf("notes %v", notes)
	}
	if !p.Finish.IsZero() || !step(t, p, "Fit new seal").From.IsZero() || !step(t, p, "Close skin bond").From.IsZero() || step(t, p, "Fit new skin").From.IsZero() {
		t.Errorf("finish %v", p.Finish)
	}
}

// Constructed: closing the skin's bond takes 45 min; at 24 C the adhesive can be
// worked for 44, at 20 C for 60.
func TestJointTakesLongerThanItsAdhesive(t *testing.T) {
	for temp, want := range map[celsius]bool{24: true, 20: false} {
		in := input(weldF1)
		in.Shop.Temp = temp
		_, notes := Build(in)
		if got := slices.ContainsFunc(notes, func(n note) bool { return n.Code == "plan.joint-working-time" }); got != want {
			t.Errorf("at %s: %v", temp, notes)
		}
	}
}

// Constructed: of the 45 min of closing the skin's bond the adhesive is open for
// 40. At 20 C it can be worked for 60: the step is not torn apart by the break of
// half an hour; at 25 C for 40, which is just enough; 41 min are not.
func TestGlueOpenIsAHardWindow(t *testing.T) {
	for _, c := range []struct {
		temp  celsius
		open  unit.Minutes
		block string
	}{{20, 40, ""}, {25, 40, ""}, {25, 41, "plan.working-time"}} {
		in := input(weldF1)
		in.Shop.Temp = c.temp
		in.Body.Joints[1].GlueOpen = c.open
		p, notes := Build(in)
		if got := blocking(notes); got != c.block {
			t.Errorf("%v: blocked by %q: %v", c, got, notes)
		}
		g := step(t, p, "Apply adhesive and set the last fastener: skin bond")
		if n := step(t, p, "Close skin bond"); n.Minutes != 45-float64(c.open) || g.Minutes != float64(c.open) || g.From.Before(n.To) {
			t.Errorf("%v: %+v then %+v", c, n, g)
		}
		if c.block == "" && g.To.Sub(g.From).Minutes() != float64(c.open) {
			t.Errorf("%v: the adhesive is open from %v to %v", c, g.From, g.To)
		}
		if g.WaitMin == 0 || step(t, p, "Close skin bond").WaitMin != 0 {
			t.Errorf("%v: the cure is not after the adhesive", c)
		}
		if c.block != "" && !strings.Contains(notes[0].Text, "41 min; glue can be worked for 40 min at 25 C: two people or two stages are needed") {
			t.Errorf("%v", notes)
		}
	}
}

// Constructed: 10 and 70 minutes against a working time of 60 at 20 C.
func TestWorkingTimeTooShort(t *testing.T) {
	in := input(cutS1)
	in.Body.Treatments[2].Steps[2].PerRivet = 5
	_, notes := Build(in)
	i := slices.IndexFunc(notes, func(n note) bool { return n.Code == "plan.working-time" })
	if i < 0 || !strings.Contains(notes[i].Text, ": 80 min; glue can be worked for 60 min at 20 C: two people or two stages") {
		t.Errorf("notes %+v", notes)
	}
}

// Constructed: a new casting takes off what lies over it and what is bolted to
// it; the sill inside it stays. It is fitted before the measuring.
func TestNewCasting(t *testing.T) {
	p, notes := Build(input(newCast))
	if got := removed(p); got != "bracket bumper seal skin cast" {
		t.Errorf("removed %q, notes %v", got, notes)
	}
	if got := lostParts(p); got != "cast: replaced; seal: one-time part; skin: destroyed by opening joint J2" {
		t.Errorf("lost %q", got)
	}
	if a, b := step(t, p, "Fit new front casting"), step(t, p, "Measure"); a.To.After(b.From) {
		t.Errorf("measured before the casting is in: %v %v", a.To, b.From)
	}
	if s := step(t, p, "Fit new front casting"); s.Minutes != 90+140 || s.Bay != "bench" {
		t.Errorf("casting with the sill joint %+v", s)
	}
}

// Constructed: an open item begins four days after the start of the job; an
// exchanged bracket is lost.
func TestAnswersAndExchange(t *testing.T) {
	open := weldF2
	open.Open = true
	p, notes := Build(input(open, swapF3))
	if s := step(t, p, "Grind"); unit.DateOf(s.From) != (unit.Date{Year: 2026, Month: 3, Day: 2}) {
		t.Errorf("measured first: grinding begins at %v", s.From)
	}
	if !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "plan.measure-first" }) {
		t.Errorf("nobody is told to measure first: %v", notes)
	}
	open.Ask = true
	p, _ = Build(input(open, swapF3))
	if s := step(t, p, "Grind"); unit.DateOf(s.From) != (unit.Date{Year: 2026, Month: 3, Day: 6}) {
		t.Errorf("asked first: grinding begins at %v", s.From)
	}
	if got := lostParts(p); got != "bracket: exchanged" {
		t.Errorf("lost %q", got)
	}
}

// Constructed: missing people, bays and equipment block but the plan stands.
func TestShopLacks(t *testing.T) {
	in := input(weldF2)
	in.Shop.People = in.Shop.People[:1]
	in.Shop.Bays, in.Shop.Equipment = nil, nil
	p, notes := Build(in)
	for _, c := range []string{"plan.no-person", "plan.no-bay", "plan.no-equipment"} {
		if !strings.Contains(blocking(notes), c) {
			t.Errorf("no note %s in %v", c, notes)
		}
	}
	if len(p.Steps) == 0 || p.Finish.IsZero() {
		t.Error("nothing was said")
	}
}

// Laws: the order of the input changes nothing; an empty choice needs nothing;
// leaving a finding opens nothing.
func TestOrderOfInputChangesNothing(t *testing.T) {
	a, _ := Build(input(weldF1, plateF2, swapF3))
	in := input(swapF3, plateF2, weldF1)
	slices.Reverse(in.Body.Parts)
	slices.Reverse(in.Body.Joints)
	slices.Reverse(in.Body.Access)
	slices.Reverse(in.Body.Materials)
	slices.Reverse(in.Body.Tasks)
	slices.Reverse(in.Body.Treatments)
	slices.Reverse(in.Job.Findings)
	slices.Reverse(in.Inspect.Findings)
	b, _ := Build(in)
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if string(x) != string(y) {
		t.Errorf("another order of input gives another plan:\n%s\n%s", x, y)
	}
	none, notes := Build(input())
	if len(none.Steps) != 0 || len(notes) != 0 || none.Finish != none.Start {
		t.Errorf("nothing chosen gives %+v %v", none, notes)
	}
	leave, notes := Build(input(Item{Kind: body.Leave, Findings: weldF1.Findings}))
	if len(leave.Removal) != 0 || blocking(notes) != "" {
		t.Errorf("leaving opens %v %v", leave.Removal, notes)
	}
}

// Law: one more item never takes less work, money of the opening or time.
func TestMoreIsNeverLess(t *testing.T) {
	all := []Item{weldF1, plateF2, swapF3}
	for mask := range 8 {
		var items []Item
		for k, it := range all {
			if mask>>k&1 == 1 {
				items = append(items, it)
			}
		}
		less, _ := Build(input(items...))
		for k, it := range all {
			if mask>>k&1 == 1 {
				continue
			}
			more, _ := Build(input(append(slices.Clone(items), it)...))
			if more.WorkMin < less.WorkMin || more.OpeningCost < less.OpeningCost || len(more.Steps) < len(less.Steps) || more.SpanMin < less.SpanMin {
				t.Errorf("%v and %v: work %g then %g, opening %d then %d, span %g then %g", items, it, less.WorkMin, more.WorkMin, less.OpeningCost, more.OpeningCost, less.SpanMin, more.SpanMin)
			}
		}
	}
}

func BenchmarkBuild(b *testing.B) {
	in := input(weldF1, plateF2, swapF3)
	for b.Loop() {
		Build(in)
	}
}

// Constructed: what a step waits for is on it with its spread; the last of them
// holds it back, the others stay on record.
func TestReleasesCarryTheirSpread(t *testing.T) {
	in := input(cutS1)
	in.Choice.Items[0].Open, in.Choice.Items[0].Ask = true, true
	in.Shop.AnswerLow, in.Shop.AnswerHigh = 2*1440, 9*1440
	for i := range in.Body.Parts {
		if in.Body.Parts[i].ID == "horn" {
			in.Body.Parts[i].DeliveryLow, in.Body.Parts[i].DeliveryHigh = 1440, 6*1440
		}
	}
	p, _ := Build(in)
	s := step(t, p, "Cut")
	want := []Awaited{{Kind: Delivery, Name: "delivery of horn piece", Part: "horn", Minutes: 2 * 1440, Low: 1440, High: 6 * 1440}, {Kind: Answer, Name: "the manufacturer's answer", Minutes: 4 * 1440, Low: 2 * 1440, High: 9 * 1440}}
	if !slices.Equal(s.Awaits, want) {
		t.Errorf("releases %+v", s.Awaits)
	}
	if !strings.HasSuffix(s.Because, "; waits for the manufacturer's answer, 4 d from the start of the job (2 d to 9 d)") {
		t.Errorf("because %q", s.Because)
	}
	if unit.DateOf(s.From) != (unit.Date{Year: 2026, Month: 3, Day: 6}) {
		t.Errorf("begins at %v", s.From)
	}
}
