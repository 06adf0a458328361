package app

import (
	"context"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"fettle/internal/assess"
	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// WeekView is the shop's schedule with what is told of it.
type WeekView struct {
	Week    plan.Week   `json:"week"`
	Notes   []diag.Note `json:"notes,omitempty"`
	Blocked bool        `json:"blocked"` // something blocks one of the jobs, or the schedule
}

// Week schedules what is left of several jobs of one shop together, from the
// morning of the day on. Each job goes by the route that was chosen, else by the
// best one; what blocks a job is told and does not keep the others from a date.
func (a *App) Week(ctx context.Context, dirs []string, made time.Time) (WeekView, error) {
	return while(ctx, func(w *halt.Work) (WeekView, error) {
		out, _, err := a.week(w, dirs, made)
		return out, err
	})
}

// WeekSheet is the day sheets of one job with the times of a shared schedule.
type WeekSheet struct {
	Job  string
	Page []byte
}

// WeekSheets is the schedule with the day sheets of each job by its times, so that what
// hangs in the bay is what the schedule says. A job with nothing left has none.
func (a *App) WeekSheets(ctx context.Context, dirs []string, made time.Time) (WeekView, []WeekSheet, error) {
	var view WeekView
	sheets, err := while(ctx, func(w *halt.Work) (out []WeekSheet, err error) {
		view, out, err = a.weekSheets(w, dirs, made)
		return out, err
	})
	return view, sheets, err
}

func (a *App) weekSheets(w *halt.Work, dirs []string, made time.Time) (WeekView, []WeekSheet, error) {
	view, jobs, err := a.week(w, dirs, made)
	if err != nil {
		return view, nil, err
	}
	var out []WeekSheet
	for _, j := range jobs {
		j.route.Plan = view.Week.PlanOf(j.route.Plan, j.c.Job, j.c.Shop)
		if len(j.route.Plan.Steps) == 0 {
			continue
		}
		page, err := a.sheets(w, j.c, j.r, j.route)
		if err != nil {
			return view, nil, err
		}
		out = append(out, WeekSheet{j.c.Job.ID, page})
	}
	return view, out, nil
}

// assessedJob is a job of a shared schedule.
type assessedJob struct {
	c     *Opened
	r     Assessment
	route compare.Route
}

func (a *App) week(w *halt.Work, dirs []string, made time.Time) (WeekView, []assessedJob, error) {
	var out WeekView
	var all []assessedJob
	var jobs []plan.InShop
	shelf := newShelf()
	var first *Opened
	seen := map[string]string{}
	for _, dir := range dirs {
		c, err := a.open(w, dir, shelf)
		if err != nil {
			return WeekView{}, nil, err
		}
		if first == nil {
			first = c
		}
		if c.ShopHash != first.ShopHash {
			return WeekView{}, nil, &diag.Error{Kind: diag.Invalid, Op: "plan a week", Subject: dir, Msg: fmt.Sprintf("it belongs to another shop than %s", dirs[0]),
				Hint: "name jobs of one shop: the same file in 'shop'"}
		}
		if other, ok := seen[c.Job.ID]; ok {
			return WeekView{}, nil, &diag.Error{Kind: diag.Invalid, Op: "plan a week", Subject: dir, Msg: fmt.Sprintf("job %s is already there, in %s", c.Job.ID, other), Hint: "name each job once"}
		}
		seen[c.Job.ID] = dir
		r := a.assessOpened(w, c, made)
		route, err := a.Picked(c, r, "")
		if err != nil {
			return WeekView{}, nil, err
		}
		if r.Blocked || route.Open > 0 {
			out.Blocked = true
			out.Notes = append(out.Notes, diag.Say("week.not-released", "{job} is not released: its steps have dates, and none of them may begin", c.Job.ID).Note(diag.Note{Severity: diag.Caution, Where: c.Job.ID, Hint: "assess it to see why", Remedy: diag.Do(job.ToAssess, "job", path.Clean(dir))}))
		}
		if route.Plan.Finish.IsZero() {
			out.Notes = append(out.Notes, assess.Stopping(r.Notes)...)
		}
		in := plan.InShop{Job: c.Job, Route: route.ID, Plan: route.Plan}
		if n := len(c.Job.Agreed); n > 0 {
			in.Promise = c.Job.Agreed[n-1].Finish
		}
		jobs, all = append(jobs, in), append(all, assessedJob{c, r, route})
	}
	w.Begin(Scheduling)
	week, notes := plan.WeekWhile(w, first.Shop, jobs, unit.DateOf(made))
	out.Week = week
	for k := range all {
		j := &all[k]
		left := week.PlanOf(j.route.Plan, j.c.Job, j.c.Shop)
		stops := plan.OutlastedNotes(left, &job.State{ID: j.c.Job.ID}, j.c.Shop, assess.RestsOn(j.c.of(j.r), j.r.Result, j.route), week.From)
		notes = append(notes, stops...)
		j.r.Notes = append(slices.Clone(j.r.Notes), stops...)
	}
	out.Notes = append(out.Notes, assess.Once(notes)...)
	out.Blocked = out.Blocked || slices.ContainsFunc(notes, diag.Note.Blocks)
	return out, all, nil
}

// String prints the schedule for a terminal: the jobs, then every person's day.
func (v WeekView) Text(col Column) string {
	var b strings.Builder
	b.WriteString(col.Wrap(fmt.Sprintf("What is left of %s from %s on; %s.", unit.Count(len(v.Week.Jobs), "job"), v.Week.From, v.proof()), "", ""))
	b.WriteString("\n")
	fmt.Fprintf(&b, "%-16s %-24s %5s %5s %10s  %-10s %-10s %-10s %-10s\n", "job", "route", "done", "left", "work", "done on", "by itself", "its plan", "promised")
	for _, j := range v.Week.Jobs {
		fmt.Fprintf(&b, "%-16s %-24s %5d %5d %10s  %-10s %-10s %-10s %-10s\n", j.ID, j.Route, j.Done, j.Left, unit.Minutes(j.Minutes).Hours(), day(j.Finish), day(j.Alone), day(j.Planned), day(j.Promise))
	}
	b.WriteString("\n")
	for _, j := range v.Week.Jobs {
		b.WriteString(col.Wrap(j.ID+": "+j.Because+".", "", "  "))
		for _, y := range j.Bays {
			b.WriteString(col.Wrap(fmt.Sprintf("keeps %s from %s to %s", y.Bay, y.From.Format("Mon 2 Jan 15:04"), y.To.Format("Mon 2 Jan 15:04")), "  - ", "    "))
		}
		for _, h := range j.Waiting {
			b.WriteString(col.Wrap(h, "  - ", "    "))
		}
	}
	v.days(&b, col)
	for _, n := range v.Notes {
		b.WriteString(col.Wrap(n.Severity.String()+": "+n.Text, "", "  "))
	}
	return b.String()
}

// proof says how good the schedule is known to be.
func (v WeekView) proof() string {
	switch w := &v.Week; {
	case len(w.Left) > 0:
		return "nothing is proven of it: " + unit.Count(len(w.Left), "job") + " that cannot be planned, and is not in it"
	case w.Proven:
		return "proven: no schedule is less late against what was promised, nor as late with earlier finishes"
	case w.LateGapMin > 0:
		return fmt.Sprintf("not proven to be the best: a better one could be less late, by %s at most over all jobs, or have their finishes up to %s earlier in all", clockTime(w.LateGapMin), clockTime(w.GapMin))
	case w.GapMin > 0:
		return fmt.Sprintf("not proven to be the best: none is less late, but in a better one the finishes of all jobs could come up to %s earlier in all", clockTime(w.GapMin))
	}
	return "none is less late or has earlier finishes in all; that the last job cannot be done sooner is not proven"
}

// clockTime is a time on the clock, nights included.
func clockTime(min int) string {
	if d := min / (24 * 60); d > 0 {
		return fmt.Sprintf("%d d %d h", d, min%(24*60)/60)
	}
	return fmt.Sprintf("%d h %02d min", min/60, min%60)
}

func day(d unit.Date) string {
	if d.IsZero() {
		return "-"
	}
	return d.String()
}

func (v WeekView) days(b *strings.Builder, col Column) {
	last := ""
	for _, s := range v.Week.Steps {
		if d := s.From.Format("Mon 2 Jan 2006"); d != last {
			last = d
			fmt.Fprintf(b, "\n %s\n", d)
		}
		when := s.From.Format("15:04") + "-" + s.To.Format("15:04")
		if s.From.YearDay() != s.To.YearDay() {
			when = s.From.Format("15:04") + "-" + s.To.Format("Mon 15:04")
		}
		name := s.Name
		if s.Going {
			name += " (under way)"
		}
		fmt.Fprintf(b, "  %-15s %-4s %-6s %-16s %-5s %s\n", when, s.Person, s.Bay, s.Job, s.Step, name)
	}
	b.WriteString("\n")
}
