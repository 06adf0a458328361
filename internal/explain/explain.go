// Package explain is the reason tree of everything that has a name or a figure in what
// was found of a job: what it is, what it rests on, and where it is written. It computes
// nothing anew, and says it in the words and figures of the report.
package explain

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// Reason is one sentence and what it rests on.
type Reason struct {
	Text   string   `json:"text"`
	Source string   `json:"source,omitempty"` // a citation
	At     string   `json:"at,omitempty"`     // file and line it was read from, from the folder of the job
	Under  []Reason `json:"under,omitempty"`

	Remedy *diag.Remedy `json:"remedy,omitempty"` // what the sentence ends in asking for
}

func because(text string, under ...Reason) Reason { return Reason{Text: text, Under: under} }

func each(texts []string) []Reason {
	var out []Reason
	for _, t := range texts {
		if t != "" {
			out = append(out, Reason{Text: t})
		}
	}
	return out
}

// In is the tree as it is laid out.
func (r Reason) In(c Column) string {
	var b strings.Builder
	r.write(&b, c, "", "")
	return b.String()
}

func (r Reason) write(b *strings.Builder, c Column, first, rest string) {
	b.WriteString(c.Wrap(c.How.Hint(r.Text, r.Remedy)+Source(r.Source)+placed(r.At), first, rest))
	for i, u := range r.Under {
		if i == len(r.Under)-1 {
			u.write(b, c, rest+"└─ ", rest+"   ")
		} else {
			u.write(b, c, rest+"├─ ", rest+"│  ")
		}
	}
}

// Source is a citation after a sentence, nothing when there is none.
func Source(s string) string {
	if s == "" {
		return ""
	}
	return " [" + s + "]"
}

func placed(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

// point is why a control point is said to have moved or not, and to be within its
// tolerance or not, in the words and figures of the report.
func (n *Names) point(p body.Point) Reason {
	r, id := n.In, string(p.ID)
	h, ok := r.Measure.Best()
	if !ok {
		return because("Control point "+id+" ("+p.Name+") cannot be judged: no reading of the structure could be made.", each(r.Measure.Why)...)
	}
	q, ok := h.Point(p.ID)
	if !ok {
		return because("Control point "+id+" ("+p.Name+") has not been measured, so nothing is said about it.", because("Measure it in a set-up that shares at least three control points with the others."))
	}
	said := report.PointSays(n.In, p, h)
	t := because(fmt.Sprintf("%s (%s): %s; shift x / y / z %s mm %s (k = 2) in vehicle axes; %s, probability %s.",
		id, p.Name, said.Moved, said.Shift, said.Expanded, said.Verdict, said.Probability))
	limit := because("Limit: " + q.Limit)
	if said.Place != "" {
		limit.Under = append(limit.Under, because("Judged by its place from nominal as measured against the other steady points, with readings and frame uncertain: x / y / z "+said.Place+" (k = 2)."))
	}
	t2, above := unit.Pair(q.T2, r.Measure.Test.MovedAboveT2, 1)
	t.Under = append(t.Under, limit,
		because(fmt.Sprintf("Moved or not: T² = %s; moved above %s (chi-square with 3 degrees of freedom, %s for any false alarm on the vehicle); a shift of %s would be detected.",
			t2, above, report.Percent(r.Measure.Test.FalseAlarm), said.Shows)),
		because(fmt.Sprintf("Nominal x %.1f, y %.1f, z %.1f mm.", p.X, p.Y, p.Z)), n.readings(q),
		because(fmt.Sprintf("Seen from the steady block %s; fit chi-square %.1f with %d degrees of freedom, as good as stated in %s of cases.", Joined(h.Steady), h.Chi2, h.DOF, report.Percent(h.P)), because(h.Because)))
	if said.Because != "" {
		t.Under = append(t.Under, because(said.Because))
	}
	for _, o := range r.Measure.Holes {
		if o.ID == p.ID {
			t.Under = append(t.Under, because(fmt.Sprintf("In set-up %s its centre comes from %d rim points over %.0f degrees: radius %.2f mm, standard uncertainty of the centre %.2f, %.2f, %.2f mm.",
				o.Setup, o.RimPoints, o.ArcDeg, o.RadiusMM, o.StdMM[0], o.StdMM[1], o.StdMM[2])))
		}
	}
	t.Under = append(t.Under, pointStages(r, p.ID)...)
	if !q.Firm {
		t.Under = append(t.Under, each(r.Measure.Why)...)
	}
	return t
}

// readings are the readings of a point as they stand in their file.
func (n *Names) readings(q measure.PointResult) Reason {
	t := because("Read in set-up " + strings.Join(q.Readings, ", "))
	for _, w := range n.all {
		if w.kind == kindReading && (fieldOf(w.fields, "from") == string(q.ID) || fieldOf(w.fields, "to") == string(q.ID)) {
			t.Under = append(t.Under, Reason{Text: w.line(), At: w.at, Under: n.reading(w)})
		}
	}
	return t
}

// pointStages is what was measured of a point later in the repair.
func pointStages(r report.Input, id body.PointID) []Reason {
	var out []Reason
	for _, p := range r.Progress {
		if p.From != job.StageBefore {
			continue
		}
		for _, q := range p.Points {
			if q.ID != id {
				continue
			}
			changed := "no change can be told from the readings"
			switch {
			case q.Open:
				changed = "whether it has moved since is open"
			case q.Changed:
				changed = "it has moved since"
			case q.Detectable > 0:
				changed = fmt.Sprintf("no change larger than %.1f mm would have been missed", q.Detectable)
			}
			out = append(out, because(fmt.Sprintf("Measured %s the repair: %s. Shift x / y / z %s mm; change %s ± %.1f / %.1f / %.1f mm (k = 2): %s.",
				p.To, q.Answer, signedAxes(q.ToMM), signedAxes(q.ChangeMM), 2*q.StdMM[0], 2*q.StdMM[1], 2*q.StdMM[2], changed)))
		}
	}
	return out
}

// signedAxes is three lengths along the axes, to a tenth with their signs.
func signedAxes(v geom.Vec) string {
	return unit.Signed(v[0]) + " / " + unit.Signed(v[1]) + " / " + unit.Signed(v[2])
}

// Joined is identities in a row.
func Joined[T ~string](ids []T) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return strings.Join(out, ", ")
}

// finding is where a finding lies, how long it is and what may be done about it.
func (n *Names) finding(id job.FindingID) (Reason, bool) {
	in := n.In
	where, ok := in.Inspect.Finding(id)
	if !ok {
		return Reason{}, false
	}
	t := because(fmt.Sprintf("%s: %s on %s.", id, where.Kind, partName(in.Body, where.Part)))
	place := because("Where it lies", each(where.Because)...)
	if odds := in.Inspect.Odds(in.Body, where); odds != "" {
		place.Under = append(place.Under, because(odds))
	}
	place.Under = append(place.Under, each(where.Unknown)...)
	t.Under = append(t.Under, because("Length and place", each(report.FindingSays(n.In, where))...), place)
	for _, f := range in.Decide.Findings {
		if f.ID == where.ID {
			t.Under = append(t.Under, explainDecision(f, report.Confidence(n.In.Body))...)
		}
	}
	for _, route := range in.Compare.Routes {
		if route.ID != n.Picked {
			continue
		}
		if does := report.RouteDoes(n.In, route, where.ID); does != "" {
			t.Under = append(t.Under, because(fmt.Sprintf("On the route shown (%s): %s.", route.Name, does)))
		}
	}
	return t, true
}

func partName(b *body.Body, id body.PartID) string {
	if p, ok := b.Part(id); ok {
		return p.Name + " (" + string(id) + ")"
	}
	return string(id)
}

func explainDecision(f decide.Finding, confidence float64) []Reason {
	verdict := because("Verdict: "+f.Verdict.String()+". "+f.Because, each(f.Change)...)
	options := because("Treatments")
	for _, o := range f.Options {
		options.Under = append(options.Under, optionReason("", o))
	}
	facts := because("Facts")
	for _, x := range f.Facts {
		v := x.Value
		if !x.Known {
			v = "unknown"
		}
		facts.Under = append(facts.Under, because(x.Name+": "+v+" ("+x.From+")"))
	}
	rows := because("Rows of the procedure")
	for _, row := range f.Rows {
		rows.Under = append(rows.Under, rowReason(row, confidence))
	}
	return []Reason{verdict, options, facts, rows}
}

func explainRoute(route compare.Route) Reason {
	b := route.Bill
	t := because(route.Name + ". " + route.Because)
	if route.Excluded != "" {
		t.Under = append(t.Under, because("Excluded: "+route.Excluded))
	}
	if len(route.Ask) > 0 {
		t.Under = append(t.Under, because("Waits for the manufacturer's answer on "+strings.Join(route.Ask, ", ")+"."))
	}
	if len(route.Measure) > 0 {
		t.Under = append(t.Under, because("To be measured or inspected first: "+strings.Join(route.Measure, ", ")+"."))
	}
	sum := "Money: "
	if !b.Complete {
		sum = "Money, at least, for a price is missing: "
	}
	t.Under = append(t.Under, because(sum+fmt.Sprintf("%s %s, of it labour %s, parts %s, materials %s, %sstorage %s, tax %s.", b.Total.Grouped(), b.Currency,
		b.Labour.Grouped(), b.Parts.Grouped(), b.Material.Grouped(), SubletWords(b), b.Storage.Grouped(), b.Tax.Grouped())))
	switch {
	case route.Plan.Unplanned != "":
		t.Under = append(t.Under, because("There are no steps and no days: "+route.Plan.Unplanned+"."))
	case route.Plan.Finish.IsZero() && len(route.Plan.Steps) > 0:
		t.Under = append(t.Under, because("Not every step has a date, so nobody can say how long it takes."))
	case !route.Plan.Start.IsZero():
		t.Under = append(t.Under, because(fmt.Sprintf("Time: %s, %s; %s of work in %s.", unit.Count(route.Plan.WorkDays, "working day"), report.Span(route.Plan), unit.Minutes(math.Round(route.Plan.WorkMin)).Hours(), unit.Count(len(route.Plan.Steps), "step"))))
	}
	for _, l := range b.Loss {
		t.Under = append(t.Under, because(l.Name+": "+l.Because))
	}
	t.Under = append(t.Under, each(route.Changes)...)
	return t
}

func explainInRoute(route compare.Route, name string) (Reason, bool) {
	for _, s := range route.Plan.Steps {
		if s.ID == name {
			return explainStep(route, s.ID), true
		}
	}
	for _, l := range route.Bill.Lines {
		if l.ID == name {
			t := because(fmt.Sprintf("%s: %s %s for %s.", l.Text, l.Sum.Grouped(), route.Bill.Currency, l.Amount), because(l.Because))
			for _, id := range l.Steps {
				t.Under = append(t.Under, explainStep(route, id))
			}
			return t, true
		}
	}
	for _, p := range route.Plan.Removal {
		if string(p.Part) == name || slices.Contains(p.Parts, body.PartID(name)) {
			return withLost(route, name, explainRemoval(route, p)), true
		}
	}
	if t := withLost(route, name, Reason{}); len(t.Under) > 0 {
		return because(name+" is bought.", t.Under...), true
	}
	for _, m := range route.Plan.Takeoff {
		if string(m.Material) == name {
			t := because(fmt.Sprintf("%s: %s net, %s with waste, %s of %s.", m.Name, used(m.Net, m.Unit), used(m.Gross, m.Unit), unit.Count(m.Packs, "pack"), unit.Pieces(fmt.Sprintf("%.0f", m.Pack), m.Pack, m.Unit)))
			t.Under = append(t.Under, layoutsOf(route, m.Material)...)
			for _, l := range m.Lines {
				t.Under = append(t.Under, because(fmt.Sprintf("%s for %s%s", used(l.Amount, m.Unit), l.Step, formula(l, m.Unit))))
			}
			return t, true
		}
	}
	return Reason{}, false
}

func withLost(route compare.Route, part string, t Reason) Reason {
	for _, l := range route.Plan.Lost {
		if string(l.Part) == part {
			t.Under = append(t.Under, because("A new one is bought: "+l.Because))
		}
	}
	return t
}

func explainStep(route compare.Route, id string) Reason {
	for _, s := range route.Plan.Steps {
		if s.ID != id {
			continue
		}
		t := Reason{Text: fmt.Sprintf("%s %s: %s of %s.", s.ID, s.Name, report.Minutes(s.Minutes), s.Skill), Source: s.Cite}
		t.Under = append(t.Under, because("Why: "+s.Because), because("Minutes: "+s.Sum),
			because(fmt.Sprintf("When: %s to %s, %s; it could slip by %s.", report.Moment(s.From), report.Moment(s.To), s.Person, report.Minutes(s.SlackMin))))
		if len(s.After) > 0 {
			t.Under = append(t.Under, because("After "+strings.Join(s.After, ", ")))
		}
		t.Under = append(t.Under, stepDetails(s)...)
		for _, m := range route.Plan.Takeoff {
			for _, l := range m.Lines {
				if l.Step == id {
					t.Under = append(t.Under, because(fmt.Sprintf("Uses %s of %s%s", used(l.Amount, m.Unit), m.Name, formula(l, m.Unit))))
				}
			}
		}
		if s.WaitMin > 0 {
			t.Under = append(t.Under, because(fmt.Sprintf("Then a wait of %.1f hours: %s.", s.WaitMin/60, s.WaitName)))
		}
		return t
	}
	return because(id + " is not a step of this route.")
}

// explainRisk is what a risk of the job is reckoned with and whether to look
// first.
func explainRisk(in report.Input, id string) Reason {
	for _, k := range in.Job.Risks {
		if k.ID != id {
			continue
		}
		t := because(fmt.Sprintf("%s: %s; a chance of %s, given by %s on %s.", k.ID, k.Text, k.Chance, k.By, k.On))
		add := func(text string) { t.Under = append(t.Under, because(text)) }
		switch {
		case k.Open():
			add(fmt.Sprintf("If so: %s, likely %s, at most %s more.", k.Low, k.Likely, k.High))
			if k.Bars {
				add("A route that it concerns cannot then be finished; the job goes on by the cheapest that is possible then.")
			}
		case k.Blocks():
			add(fmt.Sprintf("It turned out badly, by %s: what it concerns is forbidden, and what it costs is in the plan.", k.SettledBy))
		case k.Settled == job.SettledBadly:
			add(fmt.Sprintf("It turned out badly, by %s: what it costs is in the plan, and its amounts no longer count.", k.SettledBy))
		default:
			add(fmt.Sprintf("It turned out well, by %s: it is neither drawn nor looked for again.", k.SettledBy))
		}
		if s := in.Compare.Spread; s != nil {
			for _, l := range s.Looks {
				for _, x := range l.Risks {
					if x == id {
						t.Under = append(t.Under, because(l.Text))
					}
				}
			}
		}
		return t
	}
	return Reason{}
}

// used is an amount of a material in words.
func used(amount float64, of string) string {
	return report.Amount(amount, of)
}

// formula says how an amount came about, when that says more than the amount.
func formula(l plan.TakeoffLine, of string) string {
	if l.Formula == fmt.Sprintf("%.0f %s", l.Amount, of) || l.Formula == used(l.Amount, of) {
		return ""
	}
	return ": " + l.Formula
}

// tookText is what a step took in this job, with the figures that the history prints.
func tookText(h cost.History) string {
	s := fmt.Sprintf("Recorded in this job %s: %.0f min where %.0f min were planned, the middle half %.0f to %.0f min", unit.Count(h.Count, "time"), h.Median, h.Planned, h.Low, h.High)
	if h.Ratio != nil {
		s += "; taken/planned " + cost.MedianWords(h.Ratio, RatioDecimals)
	}
	if h.PerMM != nil {
		s += "; " + cost.MedianWords(h.PerMM, PerMMDecimals) + " min/mm"
	}
	return s + "."
}

// Decimals of the ratio of what was taken to what was planned, and of the minutes for each
// millimetre.
const (
	RatioDecimals = 2
	PerMMDecimals = 3
)

// MovedWords is a step or part that only one of two plans has.
func MovedWords(m cost.Moved) string {
	t := m.ID
	if m.Name != "" {
		t += " " + m.Name
	}
	if m.Skill != "" {
		return fmt.Sprintf("%s, %.0f min, %s", t, m.Minutes, m.Skill)
	}
	return t + ", " + m.Sum.Grouped()
}

// SubletWords is what sublet work costs, nothing when none is.
func SubletWords(b cost.Bill) string {
	if b.Sublet == 0 {
		return ""
	}
	return "sublet work " + b.Sublet.Grouped() + ", "
}
