package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/explain"
	"fettle/internal/halt"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// Exposed is how a vehicle is opened up so that what is not inspected yet can be, with what
// it costs.
type Exposed struct {
	Job string `json:"job"`
	assess.Exposed
	Earlier int         `json:"earlierJobs,omitempty"` // jobs whose findings were looked at
	Other   int         `json:"otherBodies,omitempty"` // of them: of another body, so that they say nothing
	Notes   []diag.Note `json:"notes"`
}

// Expose plans how the vehicle of a job is opened up to inspect it, where some parts are off
// already, and says what earlier jobs found where it is to be inspected.
func (a *App) Expose(ctx context.Context, c *Opened, off, earlier []string, made time.Time) (Exposed, error) {
	return while(ctx, func(w *halt.Work) (Exposed, error) {
		away, err := partsOff(c.Body, off)
		if err != nil {
			return Exposed{}, err
		}
		in := c.on(unit.DateOf(made))
		in.Work = w
		x, notes := assess.Expose(in, away, a.bodies.schedules())
		out := Exposed{Job: c.Job.ID, Exposed: x, Earlier: len(earlier), Notes: assess.Once(append(slices.Clone(c.Notes), notes...))}
		var others []assess.Input
		shelf, seen := newShelf(), []string{c.Job.ID}
		for _, dir := range earlier {
			o, err := a.open(w, dir, shelf)
			if err != nil {
				return Exposed{}, err
			}
			if slices.Contains(seen, o.Job.ID) {
				return Exposed{}, &diag.Error{Kind: diag.Invalid, Op: "look at what earlier jobs found", Subject: dir, Msg: fmt.Sprintf("job %s is already there: its findings would count twice", o.Job.ID), Hint: "name each earlier job once, and not the job itself"}
			}
			seen, others = append(seen, o.Job.ID), append(others, o.on(in.Today))
		}
		if len(others) > 0 {
			out.Other = out.Exposed.Earlier(in, others)
		}
		return out, nil
	})
}

// partsOff is the parts of a body by their identities, those of an assembly for it.
func partsOff(b *body.Body, ids []string) ([]body.PartID, error) {
	var out []body.PartID
	for _, id := range ids {
		i := slices.IndexFunc(b.Assemblies, func(x body.Assembly) bool { return string(x.ID) == id })
		_, ok := b.Part(body.PartID(id))
		switch {
		case i >= 0:
			out = append(out, b.Assemblies[i].Parts...)
		case ok:
			out = append(out, body.PartID(id))
		default:
			var known []string
			for _, p := range b.Parts {
				known = append(known, string(p.ID))
			}
			return nil, &diag.Error{Kind: diag.NotFound, Op: "take a part as off", Subject: id, Msg: "the body has no such part", Hint: doc.DidYouMean(id, known)}
		}
	}
	return out, nil
}

// ExposedSheet is the sheet to open the vehicle up by and to fill in at it, as one self-contained
// HTML file.
func (a *App) ExposedSheet(ctx context.Context, c *Opened, x Exposed, made time.Time) ([]byte, error) {
	return while(ctx, func(w *halt.Work) ([]byte, error) {
		w.Begin(Drawing)
		in := report.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Notes: x.Notes, Work: w, Meta: report.Meta{Made: made, Version: a.version}}
		return report.ExposeSheet(in, report.Exposing{Exposed: x.Exposed.Exposed, Bill: x.Bill, Until: x.First, Least: x.Least, Stop: x.Stop})
	})
}

// Blocked says that something keeps the vehicle from being opened up as planned, or that an
// area stays open all the same.
func (x Exposed) Blocked() bool {
	return len(x.Stop)+len(x.Hidden) > 0 || slices.ContainsFunc(x.Notes, diag.Note.Blocks)
}

// ExposedText is the plan for a terminal.
func (a *App) ExposedText(c *Opened, x Exposed, col Column) string {
	var b strings.Builder
	todo := 0
	for _, a := range x.Open() {
		todo += 1 + len(a.With)
	}
	fmt.Fprintf(&b, "Job %s: %s still to be inspected, %d inspected.\n", x.Job, unit.Count(todo, "area"), x.Seen)
	for _, s := range x.Stop {
		b.WriteString(col.Wrap(s, "DO NOT START: ", "  "))
	}
	if len(x.Away) > 0 {
		b.WriteString(col.Wrap(explain.Joined(x.Away)+". Putting them back, and what was lost with them, is in no sum.", "Taken as off already: ", "  "))
	}
	x.safe(&b, col)
	for k, s := range x.Stages {
		stageText(&b, c, x.Plan, k, s, x.Bill.Currency, col)
	}
	if len(x.Hidden) > 0 {
		b.WriteString("\nStays open:\n")
		for _, why := range x.Reasons() {
			text := ": " + why.Text + "; " + why.Hint
			for k, h := range why.Areas {
				more := "," // the reason stands once, behind the last
				if k == len(why.Areas)-1 {
					more = text
				}
				b.WriteString(col.Wrap(fmt.Sprintf("%s, %s%s%s", h.Name, h.Method, withText(h), more), "  "+h.Area+"  ", "      "))
			}
		}
	}
	if len(x.Stages) > 0 {
		x.money(&b, col)
	}
	x.first(&b, col)
	for _, n := range x.Notes {
		b.WriteString(col.Wrap(strings.TrimPrefix(n.Where+": ", ": ")+n.Text+"; "+col.How.Hint(n.Hint, n.Remedy), n.Severity.String()+": ", "  "))
	}
	return b.String()
}

// safe prints what is done before anything else.
func (x Exposed) safe(b *strings.Builder, col Column) {
	for _, s := range x.Plan.Steps {
		if s.Phase == plan.PhasePrepare && !slices.ContainsFunc(x.Stages, func(g plan.Stage) bool { return slices.Contains(g.Steps, s.ID) }) {
			b.WriteString(col.Wrap(fmt.Sprintf("%s (%s)", s.Name, unit.Minutes(s.Minutes).Hours()), "First, "+s.ID+": ", "  "))
		}
	}
}

// stageText prints a stage: what comes off, what that costs, and what is inspected.
func stageText(b *strings.Builder, c *Opened, p plan.Plan, k int, s plan.Stage, currency string, col Column) {
	if len(s.Off) == 0 {
		fmt.Fprintf(b, "\n%d. Nothing has to come off, by the body's data:\n", k+1)
	} else {
		var names []string
		for _, id := range s.Off {
			names = append(names, nameOff(c, p, id, slices.Contains(s.Lost, id)))
		}
		b.WriteString("\n" + col.Wrap(fmt.Sprintf("%s %s with closing again, %s until it is off: %s", s.Cost.Grouped(), currency, unit.Minutes(s.Minutes).Hours(), strings.Join(names, ", ")), fmt.Sprintf("%d. For ", k+1), "   "))
	}
	for _, a := range s.Areas {
		text := fmt.Sprintf("%s, %s%s: %s", a.Name, a.Method, withText(a), cmp.Or(a.So, "not inspected yet"))
		if len(s.Off) > 0 {
			text += fmt.Sprintf("; alone %s %s", a.Alone.Grouped(), currency)
			if !a.Proven {
				text += " or less"
			}
		}
		i := slices.IndexFunc(p.Steps, func(s plan.Step) bool { return s.ID == a.Step && s.Minutes > 0 })
		if i >= 0 {
			text += fmt.Sprintf("; %s to inspect", unit.Minutes(p.Steps[i].Minutes).Hours())
		}
		b.WriteString(col.Wrap(text, "   "+a.Step+" "+a.Area+"  ", "      "))
	}
}

// nameOff is a part that comes off, by its identity, and that it is lost.
func nameOff(c *Opened, p plan.Plan, id body.PartID, lost bool) string {
	name := string(id)
	for _, r := range p.Removal {
		if r.Part == id && len(r.Parts) > 0 {
			name += " (as one piece: " + explain.Joined(r.Parts) + ")"
		}
	}
	if lost {
		name += " (a new one is needed)"
	}
	return name
}

func withText(a plan.ToInspect) string {
	if len(a.With) == 0 {
		return ""
	}
	return ", with " + unit.Count(len(a.With), "area") + " in it"
}

// money prints what the opening costs and what is known of that.
func (x Exposed) money(b *strings.Builder, col Column) {
	p, bill := x.Plan, x.Bill
	proof := "no cheaper way to these areas exists"
	switch {
	case len(p.Removal) == 0:
		proof = "nothing comes off"
	case !p.OpeningProven:
		proof = fmt.Sprintf("not proven: a cheaper way may exist, none for less than %s", p.OpeningBound.Grouped())
	case !x.Least:
		proof = "what is cheapest is not shown: see what blocks"
	}
	b.WriteString("\n" + col.Wrap(fmt.Sprintf("%s %s without tax for opening and closing again, what is lost included; %s.", p.OpeningCost.Grouped(), bill.Currency, proof), "Opening: ", "  "))
	for _, l := range p.Lost {
		b.WriteString(col.Wrap(fmt.Sprintf("%s (%s): %s", l.Name, l.Part, l.Because), "Lost for looking: ", "  "))
	}
	b.WriteString(col.Wrap(fmt.Sprintf("%s %s, tax included; labour %s, parts %s, materials %s, %sstorage %s, tax %s. Work until the last area is seen: %s, without tax.", bill.Total.Grouped(), bill.Currency,
		bill.Labour.Grouped(), bill.Parts.Grouped(), bill.Material.Grouped(), explain.SubletWords(bill), bill.Storage.Grouped(), bill.Tax.Grouped(), x.First.Grouped()), "Money: ", "  "))
	if !bill.Complete {
		b.WriteString("  The sum is too low: prices are missing.\n")
	}
	if slices.ContainsFunc(p.Steps, func(s plan.Step) bool { return s.Minutes == 0 && strings.HasPrefix(s.Ref, "inspect ") }) {
		b.WriteString("  Inspecting itself is not in it: nobody gives a time for it ('inspecting' in the shop file).\n")
	}
	if !p.Finish.IsZero() {
		fmt.Fprintf(b, "Days: %s to %s, closed again.\n", p.Start, p.Finish)
	}
}

// first prints the first estimate.
func (x Exposed) first(b *strings.Builder, col Column) {
	f, currency := x.Sums, x.Bill.Currency
	if len(x.Open()) == 0 {
		return
	}
	b.WriteString("\nFirst estimate, tax included; what is known to be damaged is not in it:\n")
	fmt.Fprintf(b, "  %12s  opened, inspected and closed again\n", f.Opening.Grouped())
	for _, m := range f.May {
		text := fmt.Sprintf("%s, %s by %s, %s: %s; then %s to %s, likely %s", m.Risk, m.Chance, m.By, m.On, strings.TrimRight(m.Text, ". "), m.Low.Grouped(), m.High.Grouped(), m.Likely.Grouped())
		if m.Bars {
			text += ", and another way of repair, which is not in the sum"
		}
		if m.Looked {
			text += "; this opening shows it"
		}
		b.WriteString(col.Wrap(text, fmt.Sprintf("  %12s  ", m.Mean.Grouped()), "                  "))
	}
	if len(f.May) > 0 {
		text := fmt.Sprintf("%s on average; %s when all of it turns out bad and as dear as was entered. That none does: %s.", currency, (f.Opening + f.Most).Grouped(), between(f.NoneLeast, f.NoneMost))
		b.WriteString(col.Wrap(text, fmt.Sprintf("  %12s  ", (f.Opening+f.Mean).Grouped()), "                "))
	} else if len(f.Foreign) == 0 {
		b.WriteString("  The job has no risk that is open: what may be found is in no sum.\n")
	}
	if !f.Complete {
		b.WriteString("  The sums are too low: prices of the opening are missing.\n")
	}
	if len(f.Foreign) > 0 {
		b.WriteString(col.Wrap(explain.Joined(f.Foreign)+" are in another currency, and in no sum.", "  ", "  "))
	}
	if len(f.Silent) > 0 {
		b.WriteString(col.Wrap(explain.Joined(f.Silent)+". What may be found there is in no sum.", "  Nobody gave a chance for ", "    "))
	}
	for _, a := range f.Before {
		b.WriteString(col.Wrap(fmt.Sprintf("%s: a crack or break in %d of %s in which it was inspected", a.Area, a.Found, unit.Count(a.Of, "earlier job")), "  ", "    "))
	}
	if x.Other > 0 {
		fmt.Fprintf(b, "  %s named as earlier %s of another body, and not counted.\n", unit.Count(x.Other, "job"), map[bool]string{true: "is", false: "are"}[x.Other == 1])
	}
}

// between is a chance that lies between two, rounded outwards.
func between(low, high float64) string {
	if low == high {
		return fmt.Sprintf("%.0f %%", 100*low)
	}
	return fmt.Sprintf("%.0f to %.0f %%, however they hang together", math.Floor(float64(100*low)+1e-9), math.Ceil(float64(100*high)-1e-9))
}
