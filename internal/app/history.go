package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/assess"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// History sums up what steps took over several jobs, by shop and by the name of
// the step, as of a day.
func (a *App) History(ctx context.Context, jobs []string, made time.Time) ([]cost.History, error) {
	return while(ctx, func(w *halt.Work) ([]cost.History, error) {
		out, _, err := a.history(w, jobs, made)
		return out, err
	})
}

// history is what steps took over several jobs, and the jobs.
func (a *App) history(w *halt.Work, jobs []string, made time.Time) ([]cost.History, []*Opened, error) {
	samples, left := map[string][]cost.Sample{}, map[string][]cost.LeftOut{}
	var shops []string
	var opened []*Opened
	shelf := newShelf()
	seen := map[string]string{}
	for _, dir := range jobs {
		c, err := a.open(w, dir, shelf)
		if err != nil {
			return nil, nil, err
		}
		if other, twice := seen[c.Job.ID]; twice {
			return nil, nil, &diag.Error{Kind: diag.Invalid, Op: "sum up what steps took", Subject: dir, Msg: fmt.Sprintf("job %s is already there, in %s: its records would count twice", c.Job.ID, other), Hint: "name each job once"}
		}
		seen[c.Job.ID] = dir
		opened = append(opened, c)
		name := c.Shop.Name
		if !slices.Contains(shops, name) {
			shops = append(shops, name)
		}
		took, out := a.took(w, c, made)
		samples[name], left[name] = append(samples[name], took...), append(left[name], out...)
	}
	var out []cost.History
	for _, s := range shops {
		out = append(out, cost.HistoryOf(s, samples[s], left[s])...)
	}
	return out, opened, nil
}

// took is what each step of a job took that was done, whichever route it was done for, and
// the records that do not count. How long a step takes that is under way is not known yet.
func (a *App) took(w *halt.Work, c *Opened, made time.Time) ([]cost.Sample, []cost.LeftOut) {
	if len(c.Job.Actuals) == 0 {
		return nil, nil
	}
	return a.tookBy(c, a.assessOpened(w, c, made))
}

// tookBy is the same of a job that is assessed.
func (a *App) tookBy(c *Opened, r Assessment) ([]cost.Sample, []cost.LeftOut) {
	taken, err := a.Picked(c, r, "")
	if err != nil {
		taken = compare.Route{} // work was done for another one, or fits none
	}
	plans := []plan.Plan{taken.Plan}
	for _, w := range compare.Ways(r.Compare, c.Job, taken.ID) {
		plans = append(plans, w.Plan)
	}
	var out []cost.Sample
	counted := map[int]bool{}
	for n, p := range plans {
		work := c.Job.Work(p.WorkSteps(), c.Shop, unit.DateOf(r.Made))
		for k, d := range work.Steps {
			if sample(d, counted) {
				out = append(out, cost.Sample{Step: p.Steps[k].Name, Planned: plannedOf(d), Taken: float64(d.Minutes()), LengthMM: lengthOf(c, p.Steps[k])})
			}
		}
		for _, b := range work.Beyond {
			if n == 0 && sample(b.Doings, counted) {
				out = append(out, cost.Sample{Step: b.Step, Planned: plannedOf(b.Doings), Taken: float64(b.Doings.Minutes())})
			}
		}
	}
	return out, a.leftOut(c, r)
}

// sample says that a step was done and none of its records counts already, and counts them.
func sample(d job.Doings, counted map[int]bool) bool {
	for _, x := range d {
		if slices.ContainsFunc(x.Records, func(i int) bool { return counted[i] }) {
			return false
		}
	}
	for _, x := range d {
		for _, i := range x.Records {
			counted[i] = true
		}
	}
	return d.Done()
}

// plannedOf is the minutes that were planned by the record of the first time: what is done
// again was not planned.
func plannedOf(d job.Doings) float64 { return float64(d[0].Last.Planned) }

// lengthOf is the length of the work of a step: of its weld, cut or plate, or of the bonds
// that it closes.
func lengthOf(c *Opened, s plan.Step) float64 {
	sum := s.LengthMM
	for _, id := range s.Closes {
		if j, ok := c.Body.Joint(id); ok && j.Cures != "" {
			sum += float64(j.Length)
		}
	}
	return sum
}

// leftOut is the records of a job that do not count, each once.
func (a *App) leftOut(c *Opened, r Assessment) []cost.LeftOut {
	var out []cost.LeftOut
	last := -1
	for _, f := range assess.WorkFaults(c.of(r), r.Result) {
		x := c.Job.Actuals[f.At]
		if f.At == last {
			out[len(out)-1].Why += "; " + f.Text
			continue
		}
		last = f.At
		out = append(out, cost.LeftOut{Job: c.Job.ID, Name: x.Step, On: x.On.String(), Minutes: float64(x.Minutes), Why: f.Text})
	}
	return out
}

// HistoryText prints it.
func HistoryText(h []cost.History, col Column) string {
	if len(h) == 0 {
		return "Nothing was recorded in these jobs.\n"
	}
	var b strings.Builder
	shop := ""
	for _, x := range h {
		if x.Shop != shop {
			shop = x.Shop
			fmt.Fprintf(&b, "%s\n%5s %8s %8s %16s %14s %9s  %s\n", shop, "times", "planned", "median", "middle half", "taken/planned", "min/mm", "step")
		}
		if x.Count > 0 {
			fmt.Fprintf(&b, "%5d %8.0f %8.0f %7.0f to %5.0f %14s %9s  %s\n", x.Count, x.Planned, x.Median, x.Low, x.High, cost.MedianWords(x.Ratio, explain.RatioDecimals), cost.MedianWords(x.PerMM, explain.PerMMDecimals), x.Step)
		}
	}
	b.WriteString("Minutes. They are shown and never applied: change the data if you trust them.\n")
	for _, x := range h {
		for _, l := range x.LeftOut {
			b.WriteString(col.Wrap(fmt.Sprintf("Left out, it does not count: %q of %s in job %s, %.0f min: %s.", l.Name, l.On, l.Job, l.Minutes, l.Why), "", "  "))
		}
	}
	return b.String()
}
