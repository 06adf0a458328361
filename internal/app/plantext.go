package app

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// PlanView is one route with what is told of it.
type PlanView struct {
	Route      compare.Route    `json:"route"`
	Order      []cost.OrderRow  `json:"order"`
	Supplement *cost.Supplement `json:"supplement,omitempty"`   // nil: no bill was agreed, or nothing differs from it
	Reality    *cost.Reality    `json:"reality,omitempty"`      // nil: nothing was recorded yet
	Asks       []diag.Note      `json:"asks,omitempty"`         // steps that are not on record though later ones are, or come after their answer expires
	After      *Afterwards      `json:"measureAfter,omitempty"` // what measuring after the repair has to reach; nil: nobody asks for it, or nothing can be said
}

// Afterwards is what measuring the control points after the repair has to reach.
type Afterwards struct {
	Like  string          `json:"like"` // the set-up that was made, which those to come are taken to be like
	Share float64         `json:"confidence"`
	Reach []measure.Reach `json:"reach"` // with 1 set-up, 2, and so on
}

// mostSetups is how many set-ups after the repair are looked at beforehand.
const mostSetups = 4

// afterwards is what measuring has to reach, where a procedure asks for dimensions
// after a treatment of the route: with set-ups like the last one that was made.
func afterwards(c *Opened, route compare.Route) *Afterwards {
	asked := func(k body.TreatmentKind) bool {
		return slices.ContainsFunc(c.Body.Procedures, func(p body.Procedure) bool {
			return slices.ContainsFunc(p.Acceptance, func(a body.Acceptance) bool {
				return a.Show == body.ShowDimensions && slices.Contains(a.For, k)
			})
		})
	}
	if len(c.Job.Setups) == 0 || !slices.ContainsFunc(route.Items, func(i plan.Item) bool { return asked(i.Kind) }) {
		return nil
	}
	like := c.Job.Setups[len(c.Job.Setups)-1]
	for _, x := range c.Job.Setups {
		reads := func(r job.Reading) bool { return r.Setup == x.ID && (r.Kind == job.ReadXYZ || r.Kind == job.ReadRim) }
		if slices.ContainsFunc(c.Job.Readings, reads) {
			like = x
		}
	}
	reach, ok := measure.Reaches(c.on(unit.Date{}).Measure(job.StageAfter), like, mostSetups)
	if !ok {
		return nil
	}
	return &Afterwards{like.ID + " (" + like.Device + ", " + like.Std.String() + ")", max(float64(c.Body.Confidence), measure.DefaultConfidence), reach}
}

// after prints what measuring after the repair has to reach.
func (v PlanView) after(b *strings.Builder, col Column) {
	x := v.After
	if x == nil {
		return
	}
	b.WriteString(col.Wrap(fmt.Sprintf("with set-ups like %s, each of every point, a point is shown within its limit (%g %%) when it is measured no farther off its published place than this [mm]; dated when all treatments are done and every adhesive may be handled:",
		x.Like, 100*x.Share), "\nMeasured after the repair: ", "  "))
	fmt.Fprintf(b, "  %-8s", "set-ups")
	for _, r := range x.Reach {
		fmt.Fprintf(b, " %6d", r.Setups)
	}
	b.WriteString("  limit\n")
	for i, p := range x.Reach[0].Points {
		fmt.Fprintf(b, "  %-8s", p.ID)
		for _, r := range x.Reach {
			fmt.Fprintf(b, " %6.2f", r.Points[i].WithinMM)
		}
		fmt.Fprintf(b, "  %s\n", p.Limit)
	}
	fmt.Fprintf(b, "  %-8s", "open")
	for _, r := range x.Reach {
		fmt.Fprintf(b, " %6.1f", r.Undecided)
	}
	b.WriteString("  points to be expected not shown, were all built to their usual spread\n")
}

// PlanView is a route with its order list.
func (a *App) PlanView(c *Opened, r Assessment, route compare.Route) PlanView {
	v := PlanView{Route: route, Order: cost.Supplied(cost.Order(route.Plan, route.Bill), c.Job)}
	if x, ok := compare.SupplementOf(r.Compare, route, c.Shop, c.Job); ok {
		v.Supplement = &x
	}
	if x, ok := cost.RealityOf(compare.WayOf(route), compare.Ways(r.Compare, c.Job, route.ID), c.Shop, c.Job, unit.DateOf(r.Made)); ok {
		v.Reality = &x
	}
	v.Asks = assess.RouteNotes(c.of(r), r.Result, route)
	v.After = afterwards(c, route)
	return v
}

// Blocked says that this route may not be gone on with as it is planned.
func (v PlanView) Blocked() bool { return slices.ContainsFunc(v.Asks, diag.Note.Blocks) }

// Text is the plan in words: what comes off, the steps by day, what
// is ordered and what it costs.
func (v PlanView) Text(col Column) string {
	var b strings.Builder
	r := v.Route
	fmt.Fprintf(&b, "%s (%s)\n", r.Name, r.ID)
	b.WriteString(col.Wrap(r.Because+".", "", "  "))
	if r.Excluded != "" {
		return b.String()
	}
	if r.Open > 0 {
		b.WriteString(col.Wrap("NOT RELEASED: open: "+strings.Join(r.OpenFor(), ", ")+".", "", "  "))
	}
	v.opening(&b, col)
	v.steps(&b, col)
	v.order(&b, col)
	v.after(&b, col)
	sum := ""
	if !r.Bill.Complete {
		sum = "at least "
	}
	fmt.Fprintf(&b, "\nMoney: "+sum+"%s %s, tax included; labour %s, parts %s, materials %s, %sstorage %s, tax %s\n", r.Bill.Total.Grouped(), r.Bill.Currency,
		r.Bill.Labour.Grouped(), r.Bill.Parts.Grouped(), r.Bill.Material.Grouped(), explain.SubletWords(r.Bill), r.Bill.Storage.Grouped(), r.Bill.Tax.Grouped())
	for _, s := range r.Plan.Saved {
		fmt.Fprintf(&b, "  saved by doing it once: %s, asked for %d times, %s\n", s.Name, s.Times, unit.Minutes(math.Round(s.Minutes)).Hours())
	}
	v.reality(&b, col)
	return b.String()
}

// reality prints what was agreed and what was done.
func (v PlanView) reality(b *strings.Builder, col Column) {
	if s := v.Supplement; s != nil {
		supplementText(b, col, s)
		if len(s.Findings) > 0 {
			fmt.Fprintf(b, "  findings recorded since: %s\n", explain.Joined(s.Findings))
		}
	}
	for _, n := range v.Asks {
		b.WriteString("\n" + col.Wrap(n.Text+"; "+col.How.Hint(n.Hint, n.Remedy)+".", n.Severity.String()+": ", "  "))
	}
	r := v.Reality
	if r == nil {
		return
	}
	b.WriteString(col.Wrap(cost.RealityWords(*r, v.Route.Bill.Currency), "\nDone so far: ", "  "))
	for _, s := range r.Steps {
		fmt.Fprintf(b, "  %-5s %5.0f planned %5.0f taken  %-4s %s\n", s.Step, s.Planned, s.Taken, s.By, s.Name)
		for _, why := range s.Again {
			b.WriteString(col.Wrap(why, "        done again: ", "          "))
		}
	}
	for _, w := range r.Beyond {
		b.WriteString(col.Wrap(fmt.Sprintf("%5.0f taken  %-4s %s: %s", w.Taken, w.By, w.Name, w.Why), "  beyond the plan ", "      "))
	}
	for _, u := range r.Used {
		fmt.Fprintf(b, "  %-20s %3d used, %d planned, %d beyond the plan %s\n", u.ID, u.Used, u.Planned, u.Beyond, u.Sum.Grouped())
	}
	for _, u := range r.Unfit {
		b.WriteString(col.Wrap(fmt.Sprintf("%s, %s, %.0f min: %s", u.Name, u.On, u.Minutes, u.Why), "  recorded, but does not count: ", "      "))
	}
}

func (v PlanView) opening(b *strings.Builder, col Column) {
	p := v.Route.Plan
	for _, g := range p.Gaps {
		if len(g.To) > 0 {
			b.WriteString("\n" + col.Wrap(g.Text()+".", "NOT KNOWN: ", "  "))
		}
	}
	if len(p.Removal) == 0 {
		b.WriteString(map[bool]string{true: "\nNothing comes off.\n", false: "\nNothing comes off, as far as is known.\n"}[len(p.Gaps) == 0])
		return
	}
	proof := "no cheaper opening exists"
	if !p.OpeningProven {
		proof = fmt.Sprintf("not proven: a cheaper opening may exist, none for less than %s", p.OpeningBound.Grouped())
	}
	fmt.Fprintf(b, "\nComes off, in order (%s %s; %s):\n", p.OpeningCost.Grouped(), v.Route.Bill.Currency, proof)
	for _, x := range p.Removal {
		text := x.Because
		if len(x.Parts) > 0 {
			text += "; as one piece: " + explain.Joined(x.Parts)
		}
		if x.Lost {
			text += "; a new one is needed"
		}
		if x.Change != "" {
			text += " [" + x.Change + "]"
		}
		b.WriteString(col.Wrap(text, "  "+string(x.Part)+"  ", "      "))
	}
	b.WriteString(col.Wrap(changesText(p.OffChanges), "  ", "  "))
	for _, o := range p.Nearly {
		b.WriteString(col.Wrap(o.Text, "  nearly as cheap: ", "      "))
	}
	if len(p.Nearly) > 0 && !p.NearlyAll {
		b.WriteString("  there may be more of these\n")
	}
	var on []string
	for _, x := range p.Refit {
		on = append(on, string(x.Part))
	}
	b.WriteString(col.Wrap(strings.Join(on, ", "), "\nGoes back on, in an order of its own: ", "  "))
	b.WriteString(col.Wrap(changesText(p.RefitChanges), "  ", "  "))
}

// changesText says what is changed in an order and that less is not possible.
func changesText(c plan.Changes) string {
	text := fmt.Sprintf("One person in this order changes the tool %s, the side %s and the lift %s", times(c.Tool), times(c.Side), times(c.Lift))
	if c.Counted {
		text += fmt.Sprintf(", %.0f min by the shop's figures (not billed)", c.Minutes)
	}
	switch {
	case c.Proven:
		return text + "; no order needs less."
	case c.Counted:
		return text + fmt.Sprintf("; not proven, none needs less than %.0f min.", c.Least)
	}
	return text + "; not proven to be the least."
}

func times(n int) string {
	switch n {
	case 0:
		return "never"
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func (v PlanView) steps(b *strings.Builder, col Column) {
	p := v.Route.Plan
	if len(p.Steps) == 0 {
		return
	}
	if p.Finish.IsZero() {
		fmt.Fprintf(b, "\nSteps, from %s, not all with a date, %s of work:\n", p.Start, unit.Minutes(math.Round(p.WorkMin)).Hours())
	} else {
		fmt.Fprintf(b, "\nSteps, %s to %s, %s, %s of work; %s:\n", p.Start, p.Finish, unit.Count(p.WorkDays, "working day"), unit.Minutes(math.Round(p.WorkMin)).Hours(), gapWords(p.SpanMin, p.BoundMin, p.Proven))
	}
	if text := standsText(p.Stands); text != "" {
		b.WriteString(col.Wrap(text, " ", "   "))
	}
	day := ""
	for _, s := range p.Steps {
		when := "no date"
		if !s.From.IsZero() {
			if d := s.From.Format("Mon 2 Jan 2006"); d != day {
				day = d
				b.WriteString(" " + d + "\n")
			}
			when = s.From.Format("15:04") + "-" + s.To.Format("15:04")
			if s.From.YearDay() != s.To.YearDay() {
				when = s.From.Format("15:04") + "-" + s.To.Format("Mon 15:04")
			}
		}
		fmt.Fprintf(b, "  %-5s %-15s %-4s %-6s %s\n", s.ID, when, s.Person, s.BayID, stepName(s))
		for _, r := range s.Awaits {
			if r.Unknown || r.Spent > 0 {
				b.WriteString(col.Wrap(r.Words(), "        ", "        "))
			}
		}
		if s.Hold != "" {
			b.WriteString(col.Wrap("HOLD: "+s.Hold, "        ", "        "))
		}
		if s.WaitMin > 0 {
			fmt.Fprintf(b, "        then wait %.1f hours: %s\n", s.WaitMin/60, s.WaitName)
		}
	}
}

// standsText says where the vehicle stands; empty where no plan says it.
func standsText(stands []plan.Stand) string {
	var out []string
	for _, s := range stands {
		text := s.Place
		if !s.To.IsZero() {
			text += " until " + s.To.Format("Mon 2 Jan 15:04")
		}
		out = append(out, text)
	}
	if len(out) == 0 {
		return ""
	}
	return "The vehicle stands in: " + strings.Join(out, ", ") + "."
}

// namedFindings is how many findings a line of the plan names.
const namedFindings = 4

// stepName is a step with the findings it is for, so that steps of one name can be told apart.
func stepName(s plan.Step) string {
	var of []string
	for _, f := range s.For {
		of = append(of, string(f))
	}
	switch more := len(of) - namedFindings; {
	case len(of) == 0:
		return s.Name
	case more > 0:
		return fmt.Sprintf("%s (%s and %d more)", s.Name, strings.Join(of[:namedFindings], ", "), more)
	}
	return s.Name + " (" + strings.Join(of, ", ") + ")"
}

// gapWords says how far a schedule is from what no schedule can beat.
func gapWords(span, bound float64, proven bool) string {
	switch {
	case proven:
		return "proven: no shorter plan exists"
	case bound <= 0:
		return "not proven"
	}
	return fmt.Sprintf("not proven: no plan takes less than %s, this one %s (gap %.1f %%)", report.Elapsed(bound), report.Elapsed(span), 100*(span-bound)/bound)
}

func (v PlanView) order(b *strings.Builder, col Column) {
	if len(v.Order) == 0 {
		return
	}
	b.WriteString("\nTo order:\n")
	for _, o := range v.Order {
		when, sum := "", "no price"
		if !o.NeededBy.IsZero() {
			when = " by " + o.NeededBy.String()
		}
		if o.Priced {
			sum = o.Sum.Grouped() + " " + v.Route.Bill.Currency
		}
		fmt.Fprintf(b, "  %-20s %3d x %-10s %14s%s  %s\n", o.ID, o.Count, o.Holds, sum, when, o.Name)
		if s := o.Supply(); s != "" {
			b.WriteString(col.Wrap(s, "        ", "        "))
		}
	}
}

// RoutesText prints the comparison for a terminal.
func (a *App) RoutesText(r Assessment, col Column) string {
	var b strings.Builder
	for _, x := range r.Compare.Routes {
		mark := " "
		if x.ID == r.Compare.Best {
			mark = "*"
		}
		fmt.Fprintf(&b, "%s %d %s (%s)\n", mark, x.Rank, x.Name, x.ID)
		b.WriteString(col.Wrap(x.Because+".", "    ", "    "))
		for _, c := range x.Changes {
			b.WriteString(col.Wrap(c, "    changed: ", "      "))
		}
		for _, l := range x.Bill.Loss {
			word := "shown"
			if l.Applies {
				word = "applies"
			}
			b.WriteString(col.Wrap(fmt.Sprintf("%s (%s): %s", l.Name, word, l.Because), "    ", "      "))
		}
	}
	writeSpread(&b, col, r.Compare)
	b.WriteString("Law and insurer decide what a total loss is; this only works out what each rule says.\n")
	return b.String()
}

// writeSpread prints how far the money may turn out off, and what to look at
// first.
func writeSpread(b *strings.Builder, col Column, res compare.Result) {
	s := res.Spread
	if s == nil {
		b.WriteString("No spread of money is told: the shop gives no spreads and the job no risks.\n")
		return
	}
	cur := res.Routes[0].Bill.Currency
	fmt.Fprintf(b, "\nHow far the money may turn out off (%d draws, seed %x), %s, tax included:\n", s.Draws, s.Seed, cur)
	fmt.Fprintf(b, "  %12s %12s %12s %12s  %-14s %-14s\n", "expected", "1 in 10 less", "middle", "1 in 10 more", "total loss", "turns out best")
	for _, r := range s.Routes {
		fmt.Fprintf(b, "  %12s %12s %12s %12s  %-14s %-14s %s\n", r.Mean.Grouped(), r.P10.Grouped(), r.P50.Grouped(), r.P90.Grouped(),
			report.Often(r.Loss, r.LossStd), report.Often(r.Best, r.BestStd), r.Route)
	}
	writeDays(b, col, s)
	for _, l := range s.Left {
		b.WriteString(col.Wrap("left out: "+l, "  ", "    "))
	}
	if len(s.Drivers) > 0 && len(s.Routes) > 0 {
		fmt.Fprintf(b, "What moves %s (expected money at its low and its high tenth):\n", s.Routes[0].Route)
		for _, d := range s.Drivers {
			fmt.Fprintf(b, "  %12s %12s  %s\n", d.Low.Grouped(), d.High.Grouped(), d.Title)
		}
	}
	for _, l := range s.Looks {
		b.WriteString(col.Wrap(l.Text, "- ", "  "))
	}
}

// writeDays prints how far the days may turn out off.
func writeDays(b *strings.Builder, col Column, s *compare.Spread) {
	told := false
	for _, r := range s.Routes {
		if r.Days == nil {
			continue
		}
		if !told {
			fmt.Fprintf(b, "Calendar days, when deliveries, answers and hours turn out other than likely and nobody replans (%d draws):\n", r.Days.Draws)
			fmt.Fprintf(b, "  %12s %12s %12s %12s\n", "expected", "1 in 10 less", "middle", "1 in 10 more")
			told = true
		}
		fmt.Fprintf(b, "  %12.1f %12d %12d %12d  %s\n", r.Days.Mean, r.Days.P10, r.Days.P50, r.Days.P90, r.Route)
	}
	for _, d := range s.Days {
		fmt.Fprintf(b, "  %s: %.1f days at its low tenth, %.1f at its high one (%s)\n", d.Title, d.Low, d.High, s.Routes[0].Route)
	}
}
