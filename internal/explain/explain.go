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
	diag.Said
	Source string   `json:"source,omitempty"` // a citation
	At     string   `json:"at,omitempty"`     // file and line it was read from, from the folder of the job
	Under  []Reason `json:"under,omitempty"`

	Remedy *diag.Remedy `json:"remedy,omitempty"` // what the sentence ends in asking for
}

func because(said diag.Said, under ...Reason) Reason { return Reason{Said: said, Under: under} }

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
		return because(diag.Say("explain.point-not-judged", "Control point {point} ({name}) cannot be judged: no reading of the structure could be made.", id, p.Name), each("explain.measurement-open", "{sentence}", r.Measure.Why)...)
	}
	q, ok := h.Point(p.ID)
	if !ok {
		return because(diag.Say("explain.point-not-measured", "Control point {point} ({name}) has not been measured, so nothing is said about it.", id, p.Name), because(diag.Say("explain.point-measure-it", "Measure it in a set-up that shares at least three control points with the others.")))
	}
	said := report.PointSays(n.In, p, h)
	t := because(diag.Say("explain.point", "{point} ({name}): {moved}; shift x / y / z {shift} mm {expanded} (k = 2) in vehicle axes; {verdict}, probability {probability}.", id, p.Name, said.Moved, said.Shift, said.Expanded, said.Verdict, said.Probability))
	limit := because(diag.Say("explain.point-limit", "Limit: {limit}", q.Limit))
	if said.Place != "" {
		limit.Under = append(limit.Under, because(diag.Say("explain.point-judged-by-place", "Judged by its place from nominal as measured against the other steady points, with readings and frame uncertain: x / y / z {place} (k = 2).", said.Place)))
	}
	t2, above := unit.Pair(q.T2, r.Measure.Test.MovedAboveT2, 1)
	t.Under = append(t.Under, limit,
		because(diag.Say("explain.point-moved-or-not", "Moved or not: T² = {t2}; moved above {above} (chi-square with 3 degrees of freedom, {alarm} for any false alarm on the vehicle); a shift of {shows} would be detected.", t2, above, share(r.Measure.Test.FalseAlarm), said.Shows)),
		because(diag.Say("explain.point-nominal", "Nominal x {x:.1f}, y {y:.1f}, z {z:.1f mm}.", p.X, p.Y, p.Z)), n.readings(q),
		because(diag.Say("explain.point-seen-from", "Seen from the steady block {points}; fit chi-square {chi2:.1f} with {freedom} degrees of freedom, as good as stated in {cases} of cases.", Joined(h.Steady), h.Chi2, h.DOF, share(h.P)), because(diag.Say("explain.point-steady-because", "{sentence}", h.Because))))
	if said.Because != "" {
		t.Under = append(t.Under, because(diag.Say("explain.point-because", "{sentence}", said.Because)))
	}
	for _, o := range r.Measure.Holes {
		if o.ID == p.ID {
			t.Under = append(t.Under, because(diag.Say("explain.point-rim", "In set-up {setup} its centre comes from {points} rim points over {arc:.0f degrees}: radius {radius:.2f mm}, standard uncertainty of the centre {x:.2f}, {y:.2f}, {z:.2f mm}.", o.Setup, o.RimPoints, o.ArcDeg, o.RadiusMM, o.StdMM[0], o.StdMM[1], o.StdMM[2])))
		}
	}
	t.Under = append(t.Under, pointStages(r, p.ID)...)
	if !q.Firm {
		t.Under = append(t.Under, each("explain.measurement-open", "{sentence}", r.Measure.Why)...)
	}
	return t
}

// readings are the readings of a point as they stand in their file.
func (n *Names) readings(q measure.PointResult) Reason {
	t := because(diag.Say("explain.point-read-in", "Read in set-up {setups}", strings.Join(q.Readings, ", ")))
	for _, w := range n.all {
		if w.kind == kindReading && (fieldOf(w.fields, "from") == string(q.ID) || fieldOf(w.fields, "to") == string(q.ID)) {
			t.Under = append(t.Under, Reason{Said: diag.Say("explain.entry-line", "{entry}", w.line()), At: w.at, Under: n.reading(w)})
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
			changed := diag.Say("explain.point-no-change", "no change can be told from the readings")
			switch {
			case q.Open:
				changed = diag.Say("explain.point-change-open", "whether it has moved since is open")
			case q.Changed:
				changed = diag.Say("explain.point-changed", "it has moved since")
			case q.Detectable > 0:
				changed = diag.Say("explain.point-no-larger-change", "no change larger than {detectable:.1f mm} would have been missed", q.Detectable)
			}
			out = append(out, because(diag.Say("explain.point-stage", "Measured {when} the repair: {answer}. Shift x / y / z {shift} mm; change {change} ± {x:.1f} / {y:.1f} / {z:.1f mm} (k = 2): {changed}.", p.To, q.Answer, signedAxes(q.ToMM), signedAxes(q.ChangeMM), 2*q.StdMM[0], 2*q.StdMM[1], 2*q.StdMM[2], changed)))
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
	t := because(diag.Say("explain.finding", "{finding}: {kind} on {part}.", id, where.Kind, partName(in.Body, where.Part)))
	place := because(diag.Say("explain.finding-where", "Where it lies"), each("explain.finding-because", "{sentence}", where.Because)...)
	if odds := in.Inspect.Odds(in.Body, where); odds != "" {
		place.Under = append(place.Under, because(diag.Say("explain.finding-odds", "{sentence}", odds)))
	}
	place.Under = append(place.Under, each("explain.finding-unknown", "{sentence}", where.Unknown)...)
	t.Under = append(t.Under, because(diag.Say("explain.finding-length-and-place", "Length and place"), each("explain.finding-says", "{sentence}", report.FindingSays(n.In, where))...), place)
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
			t.Under = append(t.Under, because(diag.Say("explain.finding-on-route", "On the route shown ({route}): {does}.", route.Name, does)))
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
	verdict := because(diag.Say("explain.verdict", "Verdict: {verdict}. {because}", f.Verdict.String(), f.Because), each("explain.would-change", "{sentence}", f.Change)...)
	options := because(diag.Say("explain.treatments", "Treatments"))
	for _, o := range f.Options {
		options.Under = append(options.Under, optionReason("", o))
	}
	facts := because(diag.Say("explain.facts", "Facts"))
	for _, x := range f.Facts {
		v := x.Value
		if !x.Known {
			v = "unknown"
		}
		facts.Under = append(facts.Under, because(diag.Say("explain.fact-of-finding", "{fact}: {value} ({from})", x.Name, v, x.From)))
	}
	rows := because(diag.Say("explain.rows", "Rows of the procedure"))
	for _, row := range f.Rows {
		rows.Under = append(rows.Under, rowReason(row, confidence))
	}
	return []Reason{verdict, options, facts, rows}
}

func explainRoute(route compare.Route) Reason {
	b := route.Bill
	t := because(diag.Say("explain.route", "{route}. {because}", route.Name, route.Because))
	if route.Excluded != "" {
		t.Under = append(t.Under, because(diag.Say("explain.route-excluded", "Excluded: {excluded}", route.Excluded)))
	}
	if len(route.Ask) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.route-waits", "Waits for the manufacturer's answer on {ask}.", strings.Join(route.Ask, ", "))))
	}
	if len(route.Measure) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.route-measure-first", "To be measured or inspected first: {measure}.", strings.Join(route.Measure, ", "))))
	}
	t.Under = append(t.Under, because(moneyOf(b)))
	switch {
	case route.Plan.Unplanned != "":
		t.Under = append(t.Under, because(diag.Say("explain.route-unplanned", "There are no steps and no days: {unplanned}.", route.Plan.Unplanned)))
	case route.Plan.Finish.IsZero() && len(route.Plan.Steps) > 0:
		t.Under = append(t.Under, because(diag.Say("explain.route-undated", "Not every step has a date, so nobody can say how long it takes.")))
	case !route.Plan.Start.IsZero():
		t.Under = append(t.Under, because(diag.Say("explain.route-time", "Time: {days}, {span}; {work} of work in {steps}.", diag.Counted(route.Plan.WorkDays, "working day"), report.Span(route.Plan), unit.Minutes(math.Round(route.Plan.WorkMin)).Hours(), diag.Counted(len(route.Plan.Steps), "step"))))
	}
	for _, l := range b.Loss {
		t.Under = append(t.Under, because(diag.Say("explain.loss-rule-says", "{name}: {because}", l.Name, l.Because)))
	}
	t.Under = append(t.Under, each("explain.route-change", "{sentence}", route.Changes)...)
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
			t := because(diag.Say("explain.price-line", "{line}: {sum} {currency} for {amount}.", l.Text, diag.Paid(l.Sum, route.Bill.Currency), route.Bill.Currency, l.Amount), because(diag.Say("explain.price-line-because", "{sentence}", l.Because)))
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
		return because(diag.Say("explain.part-bought", "{part} is bought.", name), t.Under...), true
	}
	for _, m := range route.Plan.Takeoff {
		if string(m.Material) == name {
			t := because(diag.Say("explain.takeoff", "{material}: {net} net, {gross} with waste, {packs} of {pack}.", m.Name, amount(m.Net, m.Unit), amount(m.Gross, m.Unit), diag.Counted(m.Packs, "pack"), unit.Pieces(fmt.Sprintf("%.0f", m.Pack), m.Pack, m.Unit)))
			t.Under = append(t.Under, layoutsOf(route, m.Material)...)
			for _, l := range m.Lines {
				t.Under = append(t.Under, because(usedFor(l, m.Unit)))
			}
			return t, true
		}
	}
	return Reason{}, false
}

func withLost(route compare.Route, part string, t Reason) Reason {
	for _, l := range route.Plan.Lost {
		if string(l.Part) == part {
			t.Under = append(t.Under, because(diag.Say("explain.part-lost", "A new one is bought: {because}", l.Because)))
		}
	}
	return t
}

func explainStep(route compare.Route, id string) Reason {
	for _, s := range route.Plan.Steps {
		if s.ID != id {
			continue
		}
		t := Reason{Said: diag.Say("explain.step", "{step} {name}: {minutes} of {skill}.", s.ID, s.Name, minutes(s.Minutes), s.Skill), Source: s.Cite}
		t.Under = append(t.Under, because(diag.Say("explain.step-why", "Why: {because}", s.Because)), because(diag.Say("explain.step-minutes", "Minutes: {sum}", s.Sum)),
			because(diag.Say("explain.step-when", "When: {from} to {to}, {person}; it could slip by {slip}.", report.Moment(s.From), report.Moment(s.To), s.Person, minutes(s.SlackMin))))
		if len(s.After) > 0 {
			t.Under = append(t.Under, because(diag.Say("explain.step-after", "After {after}", strings.Join(s.After, ", "))))
		}
		t.Under = append(t.Under, stepDetails(s)...)
		for _, m := range route.Plan.Takeoff {
			for _, l := range m.Lines {
				if l.Step == id {
					t.Under = append(t.Under, because(uses(l, m)))
				}
			}
		}
		if s.WaitMin > 0 {
			t.Under = append(t.Under, because(diag.Say("explain.step-wait", "Then a wait of {wait:.1f hours}: {for}.", s.WaitMin/60, s.WaitName)))
		}
		return t
	}
	return because(diag.Say("explain.step-unknown", "{step} is not a step of this route.", id))
}

// explainRisk is what a risk of the job is reckoned with and whether to look
// first.
func explainRisk(in report.Input, id string) Reason {
	for _, k := range in.Job.Risks {
		if k.ID != id {
			continue
		}
		t := because(diag.Say("explain.risk", "{risk}: {name}; a chance of {chance}, given by {by} on {on}.", k.ID, k.Text, k.Chance, k.By, k.On))
		add := func(said diag.Said) { t.Under = append(t.Under, because(said)) }
		switch {
		case k.Open():
			add(diag.Say("explain.risk-if-so", "If so: {low}, likely {likely}, at most {high} more.", k.Low, k.Likely, k.High))
			if k.Bars {
				add(diag.Say("explain.risk-bars", "A route that it concerns cannot then be finished; the job goes on by the cheapest that is possible then."))
			}
		case k.Blocks():
			add(diag.Say("explain.risk-badly-forbids", "It turned out badly, by {by}: what it concerns is forbidden, and what it costs is in the plan.", k.SettledBy))
		case k.Settled == job.SettledBadly:
			add(diag.Say("explain.risk-badly", "It turned out badly, by {by}: what it costs is in the plan, and its amounts no longer count.", k.SettledBy))
		default:
			add(diag.Say("explain.risk-well", "It turned out well, by {by}: it is neither drawn nor looked for again.", k.SettledBy))
		}
		if s := in.Compare.Spread; s != nil {
			for _, l := range s.Looks {
				for _, x := range l.Risks {
					if x == id {
						t.Under = append(t.Under, because(diag.Say("explain.risk-look", "{sentence}", l.Text)))
					}
				}
			}
		}
		return t
	}
	return Reason{}
}

// usedFor is how much of a material a step uses.
func usedFor(l plan.TakeoffLine, of string) diag.Said {
	if f := formula(l, of); f != "" {
		return diag.Say("explain.used-for-by", "{amount} for {step}: {formula}", amount(l.Amount, of), l.Step, f)
	}
	return diag.Say("explain.used-for", "{amount} for {step}", amount(l.Amount, of), l.Step)
}

// uses is the same, of a step.
func uses(l plan.TakeoffLine, m plan.Takeoff) diag.Said {
	if f := formula(l, m.Unit); f != "" {
		return diag.Say("explain.step-uses-by", "Uses {amount} of {material}: {formula}", amount(l.Amount, m.Unit), m.Name, f)
	}
	return diag.Say("explain.step-uses", "Uses {amount} of {material}", amount(l.Amount, m.Unit), m.Name)
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
	return l.Formula
}

// moneyOf is what a route costs, and what of it for what.
func moneyOf(b cost.Bill) diag.Said {
	paid := func(m unit.Minor) diag.Sum { return diag.Paid(m, b.Currency) }
	of := diag.Say("explain.money-of", "{total} {currency}, of it labour {labour}, parts {parts}, materials {materials}, storage {storage}, tax {tax}.",
		paid(b.Total), b.Currency, paid(b.Labour), paid(b.Parts), paid(b.Material), paid(b.Storage), paid(b.Tax))
	if b.Sublet != 0 {
		of = diag.Say("explain.money-of-sublet", "{total} {currency}, of it labour {labour}, parts {parts}, materials {materials}, sublet work {sublet}, storage {storage}, tax {tax}.",
			paid(b.Total), b.Currency, paid(b.Labour), paid(b.Parts), paid(b.Material), paid(b.Sublet), paid(b.Storage), paid(b.Tax))
	}
	if !b.Complete {
		return diag.Say("explain.money-at-least", "Money, at least, for a price is missing: {money}", of)
	}
	return diag.Say("explain.money", "Money: {money}", of)
}

// took is what a step took in this job, with the figures that the history prints.
func took(h cost.History) diag.Said {
	s := diag.Say("explain.took", "Recorded in this job {times}: {median:.0f min} where {planned:.0f min} were planned, the middle half {low:.0f} to {high:.0f min}", diag.Counted(h.Count, "time"), h.Median, h.Planned, h.Low, h.High)
	if h.Ratio != nil {
		s = diag.Say("explain.took-ratio", "{took}; taken/planned {ratio}", s, cost.MedianWords(h.Ratio, RatioDecimals))
	}
	if h.PerMM != nil {
		s = diag.Say("explain.took-per-mm", "{took}; {minutes} min/mm", s, cost.MedianWords(h.PerMM, PerMMDecimals))
	}
	return diag.Say("explain.took-whole", "{took}.", s)
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
