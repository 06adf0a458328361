package report

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// checkRow is an inspection asked for after what the route does to some findings, with what is
// on record of it: as it was entered. Whether it counts, the gate of the hand-back says.
type checkRow struct{ What, For, Result, By, On string }

// asked is an inspection that is asked for after a piece of work. The work is an item of the
// route, below zero of a finding about which it does nothing.
type asked struct {
	What string
	Item int
	For  []job.FindingID
}

// askedAfter is the inspections that the rules ask for after what the route does. What only
// other treatments of a finding ask for is left out; of a finding about which the route does
// nothing, everything is asked for.
func askedAfter(in Input, r compare.Route) []asked {
	var out []asked
	for _, f := range in.Decide.Findings {
		i := slices.IndexFunc(r.Items, func(it plan.Item) bool { return slices.Contains(it.Findings, f.ID) })
		for _, s := range f.After {
			if i >= 0 && onlyElsewhere(f, r.Items[i], s) {
				continue
			}
			k := slices.IndexFunc(out, func(a asked) bool { return a.What == s && a.Item == i })
			if k < 0 {
				k, out = len(out), append(out, asked{What: s, Item: i})
			}
			out[k].For = append(out[k].For, f.ID)
		}
	}
	return out
}

// afterChecks is those inspections, each once.
func afterChecks(in Input, r compare.Route) []string {
	var out []string
	for _, a := range askedAfter(in, r) {
		if !slices.Contains(out, a.What) {
			out = append(out, a.What)
		}
	}
	return out
}

// onlyElsewhere says that an inspection is asked for after other treatments of a finding
// and not after the one that is done.
func onlyElsewhere(f decide.Finding, done plan.Item, check string) bool {
	elsewhere := false
	for _, o := range f.Options {
		if !slices.Contains(o.After, check) {
			continue
		}
		if o.Kind == done.Kind && o.Line == done.Line {
			return false
		}
		elsewhere = true
	}
	return elsewhere
}

// checkRows is a row for each inspection asked for and each finding on record of it, and which
// records they show.
func checkRows(in Input, r compare.Route) (rows []checkRow, shown map[string]bool) {
	all, shown := askedAfter(in, r), map[string]bool{}
	for _, a := range all {
		inspection, known := afterNamed(in.Body, a.What)
		row := checkRow{What: a.What, For: list(findingNames(a.For), len(a.For))}
		if known && inspection.Method == body.ShowDimensions {
			row.Result, row.By, row.On = measuredAgain(in)
		}
		var on []job.Record
		if known {
			on = recordsAfter(in, r, a, inspection, oneMoment(in, all, a, inspection))
		}
		if len(on) == 0 {
			rows = append(rows, row)
		}
		for _, x := range on {
			shown[x.ID] = true
			rows = append(rows, checkRow{a.What, string(x.Finding), resultOf(x) + " (" + x.ID + ")", byWords(in, x), day(x.On)})
		}
	}
	return rows, shown
}

// afterNamed is the inspection that a row of a procedure calls so.
func afterNamed(b *body.Body, what string) (body.After, bool) {
	for _, p := range b.Procedures {
		for _, row := range p.Rows {
			for _, a := range row.After {
				if a.String() == what {
					return a, true
				}
			}
		}
	}
	return body.After{}, false
}

// oneMoment says that an inspection by its method is asked for at one point of a piece of work:
// a record need not say at which.
func oneMoment(in Input, all []asked, of asked, a body.After) bool {
	for _, o := range all {
		other, known := afterNamed(in.Body, o.What)
		if o.Item == of.Item && known && other.Method == a.Method && other.What == "" && other.When != a.When {
			return false
		}
	}
	return true
}

// recordsAfter is the last record about each finding of the piece of work that is of an
// inspection, in the order of the findings.
func recordsAfter(in Input, r compare.Route, of asked, a body.After, oneMoment bool) []job.Record {
	about := of.For
	if of.Item >= 0 {
		about = r.Items[of.Item].Findings
	}
	words := []string{a.What}
	if a.What == "" {
		words = []string{a.When}
		if oneMoment {
			words = append(words, "")
		}
	}
	var out []job.Record
	for _, id := range about {
		last := -1
		for i, x := range in.Job.Records {
			if x.Finding == id && x.Show == a.Method && slices.Contains(words, x.What) && (last < 0 || !x.On.Before(in.Job.Records[last].On)) {
				last = i
			}
		}
		if last >= 0 {
			out = append(out, in.Job.Records[last])
		}
	}
	return out
}

// measuredAgain is what is on record of the control points after the repair.
func measuredAgain(in Input) (result, by, on string) {
	if in.After == nil {
		return "", "", ""
	}
	var who, when []string
	for _, s := range in.Job.Setups {
		if s.Stage == job.StageAfter {
			if !slices.Contains(who, s.By) {
				who = append(who, s.By)
			}
			if d := day(s.On); !slices.Contains(when, d) {
				when = append(when, d)
			}
		}
	}
	return "measured, see above", list(who, len(who)), list(when, len(when))
}

// byWords is who made a record, in which inspection, with what, and what shows it.
func byWords(in Input, x job.Record) string {
	out := []string{x.By}
	if x.Look != "" {
		look := "inspection " + x.Look
		if i := slices.IndexFunc(in.Inspect.Inspections, func(j inspect.Judged) bool { return j.ID == x.Look }); i >= 0 {
			j := in.Inspect.Inspections[i]
			look = strings.TrimSuffix(look+" by "+j.By+", "+j.Qualified, ", ")
		}
		out = append(out, look)
	}
	if x.Device != "" {
		out = append(out, x.Device+calibratedWords(x.Calibrated))
	}
	if len(x.Evidence) > 0 {
		out = append(out, "evidence "+list(x.Evidence, len(x.Evidence)))
	}
	return strings.Join(out, "; ")
}

// calibratedWords is until when a device was in calibration, where that is on record.
func calibratedWords(until unit.Date) string {
	if until.IsZero() {
		return ""
	}
	return ", calibrated until " + day(until)
}

// resultOf is what a record says, with its remark.
func resultOf(x job.Record) string {
	return strings.TrimSuffix(resultWords(x)+"; "+x.Text, "; ")
}

// resultWords is what a record says.
func resultWords(x job.Record) string {
	switch x.Show {
	case body.ShowPenetrant:
		switch n := len(x.Indications); {
		case n > 0:
			return unit.Count(n, "indication")
		case x.None:
			return "no indications"
		}
		return "nothing entered"
	case body.ShowTorque:
		return shownAmount(unit.Amount{Value: float64(x.Torque), Unit: "Nm"})
	case body.ShowAdhesive:
		return adhesiveWords(x)
	}
	if x.Met {
		return "met"
	}
	return "not met"
}

// adhesiveWords is the batch, how long it was open and how warm the parts were.
func adhesiveWords(x job.Record) string {
	var out []string
	add := func(format, v string) {
		if v != "" {
			out = append(out, fmt.Sprintf(format, v))
		}
	}
	add("batch %s", x.Batch)
	if !x.UseBefore.IsZero() {
		add("to be used by %s", day(x.UseBefore))
	}
	add("mixed %s", x.Mixed)
	add("last fastener %s", x.Closed)
	if x.Temp.Known {
		add("parts at %s", shownAmount(unit.Amount{Value: float64(x.Temp.Value), Unit: "C"}))
	}
	return or(strings.Join(out, ", "), "nothing entered")
}
