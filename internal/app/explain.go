package app

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Reason is one sentence and what it rests on.
type Reason struct {
	Text   string   `json:"text"`
	Source string   `json:"source,omitempty"`
	Under  []Reason `json:"under,omitempty"`
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

// String prints the tree for a terminal.
func (r Reason) String() string {
	var b strings.Builder
	r.write(&b, "", "")
	return b.String()
}

func (r Reason) write(b *strings.Builder, first, rest string) {
	b.WriteString(wrap(r.Text+source(r.Source), first, rest, 96))
	for i, u := range r.Under {
		if i == len(r.Under)-1 {
			u.write(b, rest+"└─ ", rest+"   ")
		} else {
			u.write(b, rest+"├─ ", rest+"│  ")
		}
	}
}

func source(s string) string {
	if s == "" {
		return ""
	}
	return " [" + s + "]"
}

// wrap breaks a text into lines of at most width characters.
func wrap(text, first, rest string, width int) string {
	var b strings.Builder
	line := first
	used := len([]rune(first))
	fresh := true
	for _, w := range strings.Fields(text) {
		n := len([]rune(w))
		if !fresh && used+1+n > width {
			b.WriteString(line + "\n")
			line, used, fresh = rest, len([]rune(rest)), true
		}
		if !fresh {
			line += " "
			used++
		}
		line += w
		used += n
		fresh = false
	}
	b.WriteString(line + "\n")
	return b.String()
}

// Explain is the reason tree of a control point, a finding, a route, a step, a
// part, a material or a price line. Steps, parts, materials and price lines
// are those of the best route unless the name is written ROUTE/NAME.
func (a *App) Explain(c *Case, r Assessment, what string) (Reason, error) {
	if t, ok := explainPoint(c, r, what); ok {
		return t, nil
	}
	if t, ok := explainFinding(c, r, what); ok {
		return t, nil
	}
	if t, ok := explainRisk(c, r, what); ok {
		return t, nil
	}
	for _, route := range r.Compare.Routes {
		if route.ID == what {
			return explainRoute(route), nil
		}
	}
	routeID, name, given := strings.Cut(what, "/")
	if !given {
		routeID, name = r.Compare.Best, what
	}
	for _, route := range r.Compare.Routes {
		if route.ID != routeID {
			continue
		}
		if t, ok := explainInRoute(route, name); ok {
			return t, nil
		}
	}
	known := explainable(c, r, routeID)
	hint := doc.DidYouMean(name, known)
	if hint == "" {
		hint = "give a control point, a finding, a risk, a route, or a step, part, material or price line of a route (ROUTE/NAME), for example " + strings.Join(examples(c, r), ", ")
	}
	return Reason{}, &diag.Error{Kind: diag.NotFound, Op: "explain", Subject: what, Msg: "there is nothing of this name in the assessment", Hint: hint}
}

// examples is one name of each sort.
func examples(c *Case, r Assessment) []string {
	var out []string
	if h, ok := r.Measure.Best(); ok && len(h.Points) > 0 {
		out = append(out, string(h.Points[0].ID))
	}
	if len(c.Job.Findings) > 0 {
		out = append(out, string(c.Job.Findings[0].ID))
	}
	for _, route := range r.Compare.Routes {
		if route.ID == r.Compare.Best {
			out = append(out, route.ID)
			if len(route.Plan.Steps) > 0 {
				out = append(out, route.Plan.Steps[0].ID)
			}
			if len(route.Bill.Lines) > 0 {
				out = append(out, route.Bill.Lines[0].ID)
			}
		}
	}
	return out
}

func explainable(c *Case, r Assessment, routeID string) []string {
	var out []string
	for _, p := range c.Body.Points {
		out = append(out, string(p.ID))
	}
	for _, f := range c.Job.Findings {
		out = append(out, string(f.ID))
	}
	for _, k := range c.Job.Risks {
		out = append(out, k.ID)
	}
	for _, route := range r.Compare.Routes {
		out = append(out, route.ID)
		if route.ID != routeID {
			continue
		}
		for _, s := range route.Plan.Steps {
			out = append(out, s.ID)
		}
		for _, l := range route.Bill.Lines {
			out = append(out, l.ID)
		}
		for _, p := range route.Plan.Removal {
			out = append(out, string(p.Part))
		}
		for _, m := range route.Plan.Takeoff {
			out = append(out, string(m.Material))
		}
	}
	sort.Strings(out)
	return out
}

func explainPoint(c *Case, r Assessment, id string) (Reason, bool) {
	p, ok := c.Body.Point(body.PointID(id))
	if !ok {
		return Reason{}, false
	}
	h, ok := r.Measure.Best()
	if !ok {
		return because("Control point "+id+" ("+p.Name+") cannot be judged: no reading of the structure could be made.", each(r.Measure.Why)...), true
	}
	for _, m := range r.Measure.Missing {
		if m == p.ID {
			return because("Control point "+id+" ("+p.Name+") has not been measured, so nothing is said about it.", because("Measure it in a set-up that shares at least three control points with the others.")), true
		}
	}
	for _, q := range h.Points {
		if q.ID != p.ID {
			continue
		}
		moved := "shows no move, but one of any size could have been missed"
		switch {
		case q.Moved:
			moved = "has moved"
		case q.Detectable > 0:
			moved = fmt.Sprintf("shows no move; no move larger than %.2f mm would have been missed", q.Detectable)
		}
		t := because(fmt.Sprintf("%s (%s) %s: shift x %+.2f, y %+.2f, z %+.2f mm in vehicle axes; tolerance %s (probability %.1f %%).",
			id, p.Name, moved, q.ShiftMM[0], q.ShiftMM[1], q.ShiftMM[2], q.Tolerance, 100*q.Probability),
			because("Limit: "+q.Limit, placeOf(q)...),
			because(fmt.Sprintf("Standard uncertainty %.2f, %.2f, %.2f mm; expanded (k = 2) %.2f, %.2f, %.2f mm; a shift of %.2f mm would be detected.",
				q.StdMM[0], q.StdMM[1], q.StdMM[2], q.ExpandedMM[0], q.ExpandedMM[1], q.ExpandedMM[2], q.Detectable)),
			because(fmt.Sprintf("Moved or not: T² = %.1f; moved above %.1f (chi-square with 3 degrees of freedom, %.1f %% for any false alarm on the vehicle).",
				q.T2, r.Measure.Test.MovedAboveT2, 100*r.Measure.Test.FalseAlarm)),
			because(fmt.Sprintf("Nominal x %.1f, y %.1f, z %.1f mm.", p.X, p.Y, p.Z), each(q.Readings)...),
			because(fmt.Sprintf("Seen from the steady block %s; fit chi-square %.1f with %d degrees of freedom (p = %.2f).", joined(h.Steady), h.Chi2, h.DOF, h.P), because(h.Because)))
		if q.Needs != "" {
			t.Under = append(t.Under, because("What would decide it: "+q.Needs))
		}
		for _, o := range r.Measure.Holes {
			if o.ID == p.ID {
				t.Under = append(t.Under, because(fmt.Sprintf("In set-up %s its centre comes from %d rim points over %.0f degrees: radius %.2f mm, standard uncertainty of the centre %.2f, %.2f, %.2f mm.",
					o.Setup, o.RimPoints, o.ArcDeg, o.RadiusMM, o.StdMM[0], o.StdMM[1], o.StdMM[2])))
			}
		}
		t.Under = append(t.Under, pointStages(r, p.ID)...)
		if !q.Firm {
			t.Under = append(t.Under, because("Not certain: "+q.Doubt()+".", each(r.Measure.Why)...))
		}
		return t, true
	}
	return Reason{}, false
}

// pointStages is what was measured of a point later in the repair.
func pointStages(r Assessment, id body.PointID) []Reason {
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
				changed = fmt.Sprintf("no change larger than %.2f mm would have been missed", q.Detectable)
			}
			out = append(out, because(fmt.Sprintf("Measured %s the repair: %s. Shift x %+.2f, y %+.2f, z %+.2f mm; change x %+.2f, y %+.2f, z %+.2f mm (standard uncertainty %.2f, %.2f, %.2f): %s.",
				p.To, q.Answer, q.ToMM[0], q.ToMM[1], q.ToMM[2], q.ChangeMM[0], q.ChangeMM[1], q.ChangeMM[2], q.StdMM[0], q.StdMM[1], q.StdMM[2], changed)))
		}
	}
	return out
}

// placeOf says what the tolerance of a point was judged by.
func placeOf(q measure.PointResult) []Reason {
	if q.FromNominalStd.Norm() == 0 {
		return nil
	}
	return []Reason{because(fmt.Sprintf("Judged by its place from nominal as measured against the other steady points: x %+.2f, y %+.2f, z %+.2f mm, standard uncertainty %.2f, %.2f, %.2f mm (readings and frame).",
		q.FromNominal[0], q.FromNominal[1], q.FromNominal[2], q.FromNominalStd[0], q.FromNominalStd[1], q.FromNominalStd[2]))}
}

func joined[T ~string](ids []T) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return strings.Join(out, ", ")
}

func explainFinding(c *Case, r Assessment, id string) (Reason, bool) {
	var where *inspect.Finding
	for i := range r.Inspect.Findings {
		if r.Inspect.Findings[i].ID == job.FindingID(id) {
			where = &r.Inspect.Findings[i]
		}
	}
	if where == nil {
		return Reason{}, false
	}
	t := because(fmt.Sprintf("%s: %s on %s.", id, where.Kind, partName(c.Body, where.Part)))
	place := because("Where it lies", each(where.Because)...)
	if odds := r.Inspect.Odds(c.Body, *where); odds != "" {
		place.Under = append(place.Under, because(odds))
	}
	place.Under = append(place.Under, each(where.Unknown)...)
	t.Under = append(t.Under, place)
	for _, f := range r.Decide.Findings {
		if f.ID == where.ID {
			t.Under = append(t.Under, explainDecision(f)...)
		}
	}
	for _, route := range r.Compare.Routes {
		if route.ID != r.Compare.Best {
			continue
		}
		for _, item := range route.Items {
			for _, x := range item.Findings {
				if x == where.ID {
					t.Under = append(t.Under, because(fmt.Sprintf("On the best route (%s) it is dealt with by: %s.", route.Name, itemWords(string(item.Kind), string(item.Line), string(item.Part)))))
				}
			}
		}
	}
	return t, true
}

func itemWords(kind, line, part string) string {
	switch {
	case line != "":
		return kind + " at " + line
	case part != "":
		return kind + " " + part
	}
	return kind
}

func partName(b *body.Body, id body.PartID) string {
	if p, ok := b.Part(id); ok {
		return p.Name + " (" + string(id) + ")"
	}
	return string(id)
}

func explainDecision(f decide.Finding) []Reason {
	verdict := because("Verdict: "+f.Verdict.String()+". "+f.Because, each(f.Change)...)
	options := because("Treatments")
	for _, o := range f.Options {
		name := string(o.Kind)
		if o.Line != "" {
			name += " at " + string(o.Line)
		}
		under := each(o.Manner)
		for _, a := range o.After {
			under = append(under, because("Afterwards: "+a))
		}
		options.Under = append(options.Under, Reason{Text: name + ": " + o.Verdict.String() + ". " + o.Because, Source: o.Cite, Under: under})
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
		rr := Reason{Text: row.Row + " " + row.State + ": " + row.Effect, Source: row.Cite}
		for _, cond := range row.Conds {
			text := fmt.Sprintf("%s %s: %s, is %s", cond.Fact, cond.Text, cond.State, cond.Value)
			if cond.State == "undecided" {
				text += fmt.Sprintf(" (probability %.1f %%)", 100*cond.Prob)
			}
			if cond.Need != "" {
				text += "; " + cond.Need
			}
			rr.Under = append(rr.Under, because(text))
		}
		rows.Under = append(rows.Under, rr)
	}
	return []Reason{verdict, options, facts, rows}
}

func explainRoute(route compare.Route) Reason {
	b := route.Bill
	t := because(route.Name + ". " + route.Because)
	if route.Excluded != "" {
		t.Under = append(t.Under, because("Excluded: "+route.Excluded))
	}
	for _, i := range route.Items {
		text := itemWords(string(i.Kind), string(i.Line), string(i.Part)) + " for " + joined(i.Findings)
		if i.Open {
			text += " (assumed; not permitted yet)"
		}
		t.Under = append(t.Under, because(text))
	}
	if len(route.Ask) > 0 {
		t.Under = append(t.Under, because("Waits for the manufacturer's answer on "+strings.Join(route.Ask, ", ")+"."))
	}
	if len(route.Measure) > 0 {
		t.Under = append(t.Under, because("To be measured or inspected first: "+strings.Join(route.Measure, ", ")+"."))
	}
	t.Under = append(t.Under, because(fmt.Sprintf("Money: %s %s, of it labour %s, parts %s, materials %s, %sstorage %s, tax %s.", b.Total.Grouped(), b.Currency,
		b.Labour.Grouped(), b.Parts.Grouped(), b.Material.Grouped(), subletWords(b), b.Storage.Grouped(), b.Tax.Grouped())))
	if !route.Plan.Start.IsZero() {
		t.Under = append(t.Under, because(fmt.Sprintf("Time: %d working days, %s to %s; %s of work in %d steps.", route.Plan.WorkDays, route.Plan.Start, route.Plan.Finish, unit.Minutes(math.Round(route.Plan.WorkMin)).Hours(), len(route.Plan.Steps))))
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
		t := Reason{Text: fmt.Sprintf("%s %s: %.0f minutes of %s.", s.ID, s.Name, s.Minutes, s.Skill), Source: s.Cite}
		t.Under = append(t.Under, because("Why: "+s.Because), because("Minutes: "+s.Sum),
			because(fmt.Sprintf("When: %s to %s, %s; it could slip by %.0f minutes.", s.From.Format("Mon 2006-01-02 15:04"), s.To.Format("Mon 15:04"), s.Person, s.SlackMin)))
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
func explainRisk(c *Case, r Assessment, id string) (Reason, bool) {
	for _, k := range c.Job.Risks {
		if k.ID != id {
			continue
		}
		t := because(fmt.Sprintf("%s: %s; a chance of %s, given by %s on %s.", k.ID, k.Text, k.Chance, k.By, k.On),
			because(fmt.Sprintf("If so: %s, likely %s, at most %s more.", k.Low, k.Likely, k.High)))
		if k.Bars {
			t.Under = append(t.Under, because("A route that it concerns cannot then be finished; the job goes on by the cheapest that is possible then."))
		}
		if !k.Open() {
			t.Under = append(t.Under, because(fmt.Sprintf("It turned out %s, by %s: it is neither drawn nor looked for again.", k.Settled, k.SettledBy)))
		}
		if s := r.Compare.Spread; s != nil {
			for _, l := range s.Looks {
				for _, x := range l.Risks {
					if x == id {
						t.Under = append(t.Under, because(l.Text))
					}
				}
			}
		}
		return t, true
	}
	return Reason{}, false
}

// used is an amount of a material in words.
func used(amount float64, of string) string {
	return unit.Pieces(fmt.Sprintf("%.1f", amount), amount, of)
}

// formula says how an amount came about, when that says more than the amount.
func formula(l plan.TakeoffLine, of string) string {
	if l.Formula == fmt.Sprintf("%.0f %s", l.Amount, of) || l.Formula == used(l.Amount, of) {
		return ""
	}
	return ": " + l.Formula
}
