package report

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// sheetsPage is what the template of the day sheets is filled with.
type sheetsPage struct {
	CSS      template.CSS
	Defs     template.HTML
	Head     head
	Job      titleSheet
	Ready    []readyRow
	Days     []daySheet
	Drawings []sheetDrawing
}

// titleSheet comes first: what vehicle, which route, may it start, and the cautions of
// the whole job in full.
type titleSheet struct {
	Job, Shop, VIN, Body, Route, Status, Dates, Procedures string
	Stop                                                   []string
	Hazards                                                []hazardRow
	Begins                                                 string // the day on which what was made safe is proven again
	Cautions                                               []cautionBox
	Holds                                                  string
	Stops                                                  []stopRow // the same with their names
	More                                                   int       // reasons not to start beyond those listed
}

// readyRow is what has to be there before the work begins.
type readyRow struct{ Name, Amount, For string }

// daySheet is what one person does on one day.
type daySheet struct {
	Person, Skills, Day string
	Stop                []string // why nothing of it may be started; empty: it may
	Steps               []sheetStep
	Keyed               bool // some figures go into the job by name
}

// Sheets makes the day sheets of a route as one self-contained page for the bay: what
// each person does on each day, step by step, in black and white, with blanks to fill in
// by hand. Nothing on them is ticked. While the route may not be started every sheet says
// so.
func Sheets(in Input, route compare.Route) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	in.Vehicle = in.Vehicle.While(in.Work)
	if len(route.Plan.Steps) == 0 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "day sheets", Subject: "route " + route.ID, Msg: "it has no steps", Hint: "name a route with work"}
	}
	css, err := styleOf("sheets.css")
	if err != nil {
		return nil, err
	}
	doc := sheetsPage{CSS: css, Defs: template.HTML(hatchDefs + mapDefs(in)), Head: buildHead(in)}
	doc.Head.Title = "Day sheets " + in.Job.ID
	stop := stopReasons(in, route)
	doc.Job, doc.Ready = titleSheetOf(in, route, stop), readyRows(route.Plan)
	draw := sheetDrawings{in: in}
	doc.Days, err = daySheets(in, route, stop, &draw)
	doc.Drawings = draw.all
	if err != nil {
		return nil, err
	}
	return made("sheets.html", doc)
}

// stopReasons is why no step of a route may be started; empty only when the
// route may be worked on.
func stopReasons(in Input, r compare.Route) []string {
	if permitted(in) && r.Feasible && r.Open == 0 && r.Excluded == "" {
		return nil
	}
	var out []string
	for _, b := range blocks(in) {
		out = append(out, strings.TrimPrefix(b.Where+": "+b.Text, ": "))
	}
	if r.Excluded != "" {
		out = append(out, "This route is excluded: "+sentence(r.Excluded))
	}
	if r.Open > 0 {
		out = append(out, sentence("this route waits: "+openText(in, r)))
	}
	if len(out) == 0 {
		out = append(out, "Not every finding has a treatment that is allowed on this route.")
	}
	return out
}

// daySheets is the steps of a route by day and person. A step that goes on over a night
// stands on the sheet of every day that it is worked on; what is written down at it stands
// on the last.
func daySheets(in Input, r compare.Route, stop []string, draw *sheetDrawings) ([]daySheet, error) {
	type key struct {
		day    unit.Date
		person string
	}
	steps := map[key][]sheetStep{}
	days := workdays(in.Shop.Calendar, r.Plan)
	for i, s := range r.Plan.Steps {
		c := sheetStepOf(in, r, i)
		if err := draw.add(&c, s); err != nil {
			return nil, err
		}
		on := workedOn(days, s)
		for n, d := range on {
			k := key{d, s.Person}
			steps[k] = append(steps[k], c.part(s, n, len(on)))
		}
	}
	keys := slices.SortedFunc(maps.Keys(steps), func(a, b key) int {
		return cmp.Or(a.day.Time().Compare(b.day.Time()), strings.Compare(a.person, b.person))
	})
	var out []daySheet
	for _, k := range keys {
		d := daySheet{Person: or(k.person, "Nobody named"), Day: "no day yet", Stop: briefStop(stop), Steps: steps[k], Skills: skillsOf(steps[k]),
			Keyed: slices.ContainsFunc(steps[k], func(s sheetStep) bool { return s.Keyed })}
		if !k.day.IsZero() {
			d.Day = day(k.day)
		}
		out = append(out, d)
	}
	return out, nil
}

// workedOn is the days on which a step is worked on; without times it is none's.
func workedOn(days []workday, s plan.Step) []unit.Date {
	if s.From.IsZero() {
		return []unit.Date{{}}
	}
	var out []unit.Date
	for _, d := range days {
		date := unit.DateOf(d.from)
		if s.From.Before(d.to) && s.To.After(d.from) || date == unit.DateOf(s.From) || date == unit.DateOf(s.To) {
			out = append(out, date)
		}
	}
	return out
}

// skillsOf is what a person works as on a sheet.
func skillsOf(steps []sheetStep) string {
	var out []string
	for _, s := range steps {
		if s.Skill != "" && !slices.Contains(out, s.Skill) {
			out = append(out, s.Skill)
		}
	}
	return list(out, 4)
}

// briefStop is the first reason not to start, and how many more there are.
func briefStop(stop []string) []string {
	if len(stop) > 1 {
		return []string{stop[0], "And " + unit.Count(len(stop)-1, "other reason") + ": see the first sheet."}
	}
	return stop
}

// stopMost is how many reasons not to start the first sheet lists; all are in the report.
const stopMost = 10

func titleSheetOf(in Input, r compare.Route, stop []string) titleSheet {
	c := titleSheet{Job: in.Job.ID, Shop: in.Shop.Name, VIN: in.Job.Vehicle.VIN, Body: in.Body.Name, Route: r.Name, Cautions: allCautions(r.Plan),
		Dates:      fmt.Sprintf("%s, %s, %s of work", unit.Count(len(r.Plan.Steps), "step"), Span(r.Plan), minutes(r.Plan.WorkMin)),
		Procedures: buildHead(in).Procedures, Status: "Nobody has chosen this route yet.", Hazards: hazardRows(in), Begins: "the day work starts"}
	if n := len(in.Job.Choices); n > 0 && in.Job.Choices[n-1].Route == r.ID {
		c.Status = fmt.Sprintf("Chosen by %s on %s.", in.Job.Choices[n-1].By, day(in.Job.Choices[n-1].On))
	}
	if !r.Plan.Start.IsZero() {
		c.Begins = day(r.Plan.Start)
	}
	var holds []string
	for _, s := range holdPoints(r.Plan) {
		holds = append(holds, s.ID)
		c.Stops = append(c.Stops, stopRow{s.ID, s.Name, sentence(s.Hold)})
	}
	c.Holds = list(holds, len(holds))
	c.More = max(len(stop)-stopMost, 0)
	c.Stop = stop[:min(len(stop), stopMost)]
	return c
}

// stopRow is a hold point: at which step, and what is inspected.
type stopRow struct{ ID, Step, What string }

// readyRows is the parts and materials that have to be there.
func readyRows(p plan.Plan) []readyRow {
	var rows []readyRow
	for _, l := range p.Lost {
		rows = append(rows, readyRow{l.Name, unit.Count(l.Quantity, "part"), list(fittedAt(p, l.Part), 6)})
	}
	for _, t := range p.Takeoff {
		var at []string
		for _, l := range t.Lines {
			if !slices.Contains(at, l.Step) {
				at = append(at, l.Step)
			}
		}
		rows = append(rows, readyRow{t.Name, amount(whole(t.Gross, t.Unit), t.Unit), list(at, 6)})
	}
	return rows
}

// fittedAt is the steps that wait for a part to arrive.
func fittedAt(p plan.Plan, part body.PartID) []string {
	var at []string
	for _, s := range p.Steps {
		if slices.ContainsFunc(s.Awaits, func(x plan.Awaited) bool { return x.Kind == plan.Delivery && x.Part == part }) {
			at = append(at, s.ID)
		}
	}
	return at
}

// whole rounds an amount up where it is counted in pieces.
func whole(v float64, u string) float64 {
	if u == "piece" {
		return math.Ceil(v - 1e-9)
	}
	return v
}
