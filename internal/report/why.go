package report

import (
	"fmt"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// What the document says of one thing, for who asks for that thing alone: the
// same words and figures, because the same functions write them.

// Percent is a probability as every page and every command prints it: what is
// not certain never reads as 0 or 100 %.
func Percent(p float64) string { return plainSpaces(percent(p)) }

// Confidence is the probability that a limit of a body has to be met with.
func Confidence(b *body.Body) float64 {
	return max(float64(b.Confidence), measure.DefaultConfidence)
}

// PercentBeside is Percent beside the probability that a verdict asks for.
func PercentBeside(p, confidence float64) string { return plainSpaces(percentBeside(p, confidence)) }

// Often is a chance found by draws, with twice its standard error.
func Often(p, std float64) string { return plainSpaces(oftenText(p, std)) }

// Minutes is a duration as people say it.
func Minutes(v float64) string { return plainSpaces(minutes(v)) }

// CautionTitle is what a kind of danger is called.
func CautionTitle(c body.Caution) string {
	title, _ := cautionText(c)
	return title
}

var plainer = strings.NewReplacer("\u00a0", " ", "\u2009", " ", "\u2212", "-")

// plainSpaces takes out what a page needs to break its lines well.
func plainSpaces(s string) string { return plainer.Replace(s) }

func plainRows(rows []measureRow) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = plainSpaces(r.What + ": " + r.Value)
	}
	return out
}

// PointSaid is what the document says of a control point under the first reading
// of the evidence.
type PointSaid struct {
	Moved, Verdict, Probability string
	Shift, Expanded, Place      string // x / y / z in mm; Place is where its tolerance was judged
	T2, Shows, Limit, Because   string
}

// PointSays is what the document says of a control point.
func PointSays(in Input, p body.Point, h measure.Hypothesis) PointSaid {
	row := pointRowOf(p, h, wordsOf(in.Body.Axes), in.Measure.Confidence)
	said := PointSaid{Moved: row.Moved.Text, Verdict: row.Verdict.Text, Probability: row.Prob, Shift: row.Shift, Expanded: row.U, T2: row.T2, Shows: row.Shows, Limit: row.Limit, Because: row.Because}
	if r, ok := h.Point(p.ID); ok && r.FromNominalStd.Norm() > 0 {
		said.Place = along(p, r.FromNominal) +
			" ± " + fixed(2*r.FromNominalStd[0], 1) + " / " + fixed(2*r.FromNominalStd[1], 1) + " / " + fixed(2*r.FromNominalStd[2], 1) + " mm"
	}
	for _, s := range []*string{&said.Moved, &said.Verdict, &said.Probability, &said.Shift, &said.Expanded, &said.Place, &said.T2, &said.Shows, &said.Limit, &said.Because} {
		*s = plainSpaces(*s)
	}
	return said
}

// Far is a length to a tenth of a millimetre with its expanded uncertainty.
func Far(v, std float64) string { return plainSpaces(plusMinus(v, std)) }

// FindingSays is the length and the distances of a finding, a row each.
func FindingSays(in Input, f inspect.Finding) []string {
	rows := append(sizeRows(in, f, jobFinding(in.Job, f.ID)), clearances(in.Body, f)...)
	for _, s := range f.Sides {
		rows = append(rows, measureRow{"Within what " + string(s.Line) + " takes off by", plusMinusBeside(s.MarginMM, s.Std, s.NeedMM) + ", " + besideMM(s.NeedMM, s.NeedMM) + " needed"})
	}
	return append(plainRows(rows), "Found: "+plainSpaces(foundText(jobFinding(in.Job, f.ID))))
}

// LineSays is what is proven of a section line and how every finding lies to it.
func LineSays(in Input, l body.Line) []string {
	if in.Vehicle.Surface(l.Casting) == nil {
		return []string{"its casting has no mesh: nothing is proven of it"}
	}
	p, err := in.Vehicle.Part(l)
	switch {
	case err != nil:
		return []string{"It cannot be cut: " + err.Error()}
	case !p.Section.Divides:
		return []string{"It does not divide the casting: " + strings.Join(p.Section.Reasons, "; ")}
	}
	return plainRows(append(dividedRows(in.Body, partedLine{l, p, nil}), marginRows(in, l)...))
}

// RouteDoes is what a route does with a finding, as its block and the comparison have it.
func RouteDoes(in Input, r compare.Route, id job.FindingID) string {
	return onRoute(in, pick{Route: r}, id)
}

// Elapsed is a time that passes day and night.
func Elapsed(v float64) string { return plainSpaces(elapsed(v)) }

// Span is from which day to which a plan runs; one day is named once.
func Span(p plan.Plan) string { return spanned(day(p.Start), day(p.Finish)) }

// Amount is a quantity of material.
func Amount(v float64, of string) string { return plainSpaces(amount(v, of)) }

// Moment is a day with the time of day.
func Moment(t time.Time) string { return moment(t) }

// Day is a date nobody can read the wrong way round.
func Day(d unit.Date) string { return day(d) }

// AreaWord is where the inspection of an area stands.
func AreaWord(in Input, c inspect.Coverage) string { return coverRowOf(in, c).Word.Text }

// AreaSays is what the document says of an area to be inspected.
func AreaSays(in Input, c inspect.Coverage) []string {
	row := coverRowOf(in, c)
	out := []string{"Asked for: " + row.Asked, "Relied on to find: " + row.Finds}
	if row.Zone != "" {
		out = append(out, "Zone: "+row.Zone)
	}
	if c.SizeMM > 0 {
		out = append(out, "Size: "+fixed(c.SizeMM/1000, 1)+" m along it")
	}
	for _, s := range []string{row.Text, row.How, row.Who} {
		if s != "" {
			out = append(out, s)
		}
	}
	for i := range out {
		out[i] = plainSpaces(out[i])
	}
	return out
}

// InspectionSays is how an inspection is judged, condition by condition.
func InspectionSays(in Input, j inspect.Judged) []string {
	row := sessionRowOf(in, j)
	out := []string{row.What, row.Who, row.Word.Text + ": " + row.Why}
	for _, c := range row.Conditions {
		met := "met"
		if !c.Met {
			met = "not met"
		}
		out = append(out, c.What+": "+or(c.Value, "not on record")+", "+c.Bound+": "+met+". "+c.Source)
	}
	return plainAll(out)
}

// SetupSays is the row of a set-up.
func SetupSays(in Input, id string) []string {
	for _, r := range setupRows(in) {
		if r.ID == id {
			return plainAll([]string{r.Stage + ", " + r.When, "Device: " + r.Device + ", calibrated: " + r.Calibrated, "One coordinate or length: " + r.Std, "The body: " + r.Temp, r.Readings})
		}
	}
	return nil
}

func plainAll(in []string) []string {
	for i := range in {
		in[i] = plainSpaces(in[i])
	}
	return in
}

// LengthSays is a tram length or height against its nominal.
func LengthSays(r measure.Result, setup, from, to string) []string {
	var out []string
	for _, l := range r.Lengths {
		if l.Setup == setup && string(l.From) == from && string(l.To) == to {
			row := lengthRows(measure.Result{Lengths: []measure.LengthCheck{l}})[0]
			out = append(out, plainSpaces(fmt.Sprintf("%s: measured %s, published %s, difference %s mm: %s", row.What, row.Measured, row.Nominal, row.Diff, row.Word.Text)),
				plainSpaces(sentence("By the tolerance of its points: "+lengthVerdict(l, row.Allowed))))
		}
	}
	return out
}

// lengthVerdict is the answer about a length with what is allowed and its reason.
func lengthVerdict(l measure.LengthCheck, allowed string) string {
	text := lengthWord(l.Limit.Verdict).Text
	if l.Limit.Known() {
		text += " (" + allowed + " mm allowed)"
	}
	if l.Limit.Because != "" {
		text += ", " + l.Limit.Because
	}
	return text
}

// SectionSays is how a section of the structure moved, by every reading of the
// evidence that stands.
func SectionSays(in Input, id body.SectionID) []string {
	m := measuredOf(in)
	var out []string
	for i, h := range in.Measure.Hypotheses {
		if h.Survives {
			out = append(out, m.claim(i))
			for _, g := range h.Sections {
				if g.ID == id {
					out = append(out, m.groupMove(g))
					for _, s := range g.Stations {
						out = append(out, stationText(s))
					}
				}
			}
		}
	}
	return plainAll(out)
}

// MeasurementSays is what holds for the measurement as a whole.
func MeasurementSays(in Input) []string {
	r, m := in.Measure, measuredOf(in)
	out := []string{fitText("Adjustment of all readings", r.Adjustment.VtPV, r.Adjustment.DOF, r.Adjustment.P)}
	for i, h := range r.Hypotheses {
		out = append(out, m.claim(i), fitText("Fit of the points that held", h.Chi2, h.DOF, h.P))
	}
	out = append(out, fmt.Sprintf("%s search over %s of points, seed %d", r.Search.Method, unit.Count(r.Search.Triples, "triple"), r.Search.Seed),
		"A limit is met with a probability of at least "+percent(r.Confidence))
	for _, more := range [][]string{m.disagreeing(), m.certainty().lines(), m.suspects(), m.next(), m.holes(), m.heat(), sentences(r.Why)} {
		out = append(out, more...)
	}
	return plainAll(out)
}

// StepSays is a step as its row and its card have it.
func StepSays(in Input, s plan.Step) []string {
	c := stepCardOf(in, s)
	out := []string{c.Skill + ", " + c.Minutes + ", " + or(c.When, "no date") + ", " + or(c.Person, "nobody")}
	for _, x := range []struct{ what, text string }{{"Where", c.Place}, {"For", c.For}, {"With", c.Equipment}, {"Stand", c.Station}, {"Cautions", c.Titles}, {"Rivets", c.Layout.Text}, {"Wait", c.Wait}} {
		if x.text != "" {
			out = append(out, x.what+": "+x.text)
		}
	}
	if s.Together != "" && s.Window > 0 {
		out = append(out, "In one go: "+s.Together+", within "+minutes(s.Window))
	}
	return plainAll(out)
}

// RouteSays is what the comparison of the routes says of one.
func RouteSays(in Input, r compare.Route) []string {
	row := routeRowOf(in, r, false)
	out := []string{row.Word.Text + "; " + row.Money + ", " + workedWords(r, row) + "; open: " + row.Open, "Total loss: " + row.Loss.Text}
	out = append(out, row.Items...)
	if pl := r.Plan; len(pl.Steps) > 0 {
		out = append(out, buildSteps(in, pick{Route: r}).Proof, unit.Count(pl.Calendar, "calendar day"))
		o := buildOpening(in, pick{Route: r})
		for _, s := range []string{o.Proof, o.Changes, o.Back} {
			if s != "" {
				out = append(out, s)
			}
		}
		for _, n := range o.Near {
			out = append(out, n.Text+" "+n.Cost)
		}
		for _, l := range o.Lost {
			out = append(out, "Bought: "+l.Quantity+" "+l.Name+arrivalWords(l.Delivery)+". "+l.Because)
		}
	}
	return plainAll(out)
}

// workedWords is how long a route is worked on and when it is finished.
func workedWords(r compare.Route, row routeRow) string {
	if len(r.Plan.Steps) == 0 || r.Plan.Finish.IsZero() || r.Plan.Unplanned != "" {
		return daysWords(r.Plan)
	}
	return daysWords(r.Plan) + ", finished " + row.Finish
}

// daysWords is how long a plan is worked on.
func daysWords(p plan.Plan) string {
	switch {
	case p.Unplanned != "":
		return "not planned"
	case len(p.Steps) == 0:
		return "no work"
	case p.Finish.IsZero():
		return "no date"
	}
	return unit.Count(p.WorkDays, "working day")
}

// DoneSays is what was done so far against the plan of a route: the sum, each step, what is
// beyond the plan, what was used and what does not count; empty without a record.
func DoneSays(in Input, r compare.Route) []string {
	d := buildReality(in, pick{Route: r, Found: true}).Done
	if d == nil {
		return nil
	}
	out := []string{d.Head}
	for _, s := range d.Steps {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s: planned %s min, taken %s min, %s, by %s. %s", s.Step, s.Name, s.Planned, s.Taken, s.Left, s.By, s.Again)))
	}
	for _, b := range d.Beyond {
		out = append(out, fmt.Sprintf("Beyond the plan: %s, %s min, by %s. %s", b.Name, b.Taken, b.By, b.Why))
	}
	for _, u := range d.Used {
		out = append(out, fmt.Sprintf("Used: %s, planned %s, used %s, beyond the plan %s: %s", u.ID, u.Planned, u.Used, u.Beyond, u.Sum))
	}
	for _, u := range d.Unfit {
		out = append(out, "Recorded, but does not count: "+u)
	}
	return plainAll(out)
}

// LossSays is what a total-loss rule says of a route.
func LossSays(r compare.Route, id string) []string {
	var out []string
	for _, l := range r.Bill.Loss {
		if l.ID == id {
			row := lossOf(l, r.Bill.Currency)
			out = append(out, row.Text+": "+row.Word.Text, row.Because)
		}
	}
	return plainAll(out)
}

// TakeoffSays is how much of a material is used and ordered.
func TakeoffSays(t plan.Takeoff) []string {
	row := takeoffOf(t)
	return plainAll(append([]string{row.Net + " used, with waste " + row.Gross + ", ordered " + row.Order}, row.Lines...))
}

// JobSays is what the first page says of the vehicle and the shop's figures.
func JobSays(in Input) []string {
	f, err := buildFront(in, picked(in))
	if err != nil {
		return nil
	}
	out := []string{"Value " + f.Value + "; as it stands " + f.Salvage, "Built " + f.Built + "; " + f.Odometer}
	for _, a := range f.Answers {
		out = append(append(out, a.Question+" "+a.Word.Text+". "+a.Text), a.Lines...)
	}
	out = append(append(out, f.Next...), f.Later...)
	return plainAll(out)
}

// SpreadSays is how far the money and the days of a route may turn out off: the
// quantiles, the chances, and what moves them.
func SpreadSays(in Input, route string) []string {
	p := buildSpread(in)
	var out []string
	for _, r := range p.Routes {
		if r.ID == route {
			out = append(out, "Money expected: "+r.Mean, "1 in 10 below: "+r.P10, "Middle: "+r.P50, "1 in 10 above: "+r.P90,
				"Total loss by the rule: "+r.Loss, "Turns out cheapest: "+r.Best)
		}
	}
	for _, d := range p.Days {
		if d.ID == route {
			out = append(out, "Calendar days planned: "+d.Planned+", expected "+d.Mean+", 1 in 10 below "+d.P10+", middle "+d.P50+", 1 in 10 above "+d.P90)
		}
	}
	if len(out) > 0 {
		out = append([]string{p.Head}, out...)
		if p.DaysHead != "" {
			out = append(out, p.DaysHead)
		}
	}
	return plainAll(out)
}

// DriverSays is a thing that moves the money or the days, and how far.
func DriverSays(in Input, name string) []string {
	s := in.Compare.Spread
	if s == nil {
		return nil
	}
	var out []string
	for _, d := range s.Drivers {
		if d.Name == name {
			out = append(out, fmt.Sprintf("It moves the money of the best route: %s expected when it turns out low, %s when it turns out high, or happens", d.Low.Grouped(), d.High.Grouped()))
		}
	}
	for _, d := range s.Days {
		if d.Name == name {
			out = append(out, fmt.Sprintf("It moves the days of the best route: %s calendar days expected when it turns out low, %s when it turns out high", fixed(d.Low, 1), fixed(d.High, 1)))
		}
	}
	return plainAll(out)
}

// DriverName is what a thing that moves the money or the days is called.
func DriverName(in Input, name string) string { return driverName(in, compare.Driver{Name: name}) }
