package plan

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A week dates steps anew, and so what came has to keep until other days than in the plan: see
// keeping.go. used is the days on which steps of jobs, by their places, use something that does
// not keep till then.
type used map[string]unit.Date

func (u used) key(k int, step, item string) string { return fmt.Sprint(k, "\x00", step, "\x00", item) }

// laterUse puts in what the dates of a week need beside that; false when nothing.
func (w *week) laterUse(sh *shop.Shop, jobs []InShop, u used) bool {
	more := false
	for k := range jobs {
		in := &jobs[k]
		days, done := w.daysOf(sh, in)
		for _, x := range in.Plan.spoiled(in.Job, func(s Step) span { return days[s.ID] }) {
			key, spent := u.key(k, x.step.ID, x.item), spentOn(in.Job, x.item, x.on)
			if !done[x.step.ID] && spent > spentOn(in.Job, x.item, u[key]) && spent > spentFor(x.step, x.item) {
				u[key], more = x.on, true
			}
		}
	}
	return more
}

// spentFor is how much the plan itself took as spent when a step uses something.
func spentFor(s Step, item string) int {
	for _, r := range s.Awaits {
		if r.Item() == item && item != "" {
			return r.Spent
		}
	}
	return 0
}

// daysOf is the days of the steps of a job: of their records, or in this week; and which are
// done or under way.
func (w *week) daysOf(sh *shop.Shop, in *InShop) (map[string]span, map[string]bool) {
	days, done := map[string]span{}, map[string]bool{}
	seen, _ := progress(in.Plan, in.Job, sh, w.from)
	for id, a := range seen {
		days[id], done[id] = span{a.On, a.On}, true
	}
	for _, s := range w.out.Steps {
		if s.Job == in.Job.ID && !done[s.Step] {
			days[s.Step] = span{unit.DateOf(s.From), unit.DateOf(s.To)}
		}
	}
	return days, done
}

// again is when what a step uses is there again, after what came is spent: as a minute of the
// week; and of what nobody says so.
func (w *week) again(k int, in *InShop, s Step) (due int, nobody string) {
	if len(w.ways.used) == 0 {
		return 0, ""
	}
	for _, d := range in.Plan.drawn() {
		on, ok := w.ways.used[w.ways.used.key(k, s.ID, d.item)]
		if !ok {
			continue
		}
		total := 0.0
		for _, x := range in.Plan.Steps {
			total += d.of[x.ID]
		}
		sup := in.Job.SupplyOn(d.item, packsOf(total, d.pack), on)
		switch {
		case !sup.On.IsZero():
			due = max(due, w.clock(sup.On, sup.At))
		case sup.Promised && sup.Unnamed == 0:
			due = max(due, w.clock(sup.Expected, ""))
			if !w.from.Before(sup.Expected) { // it was to be there by now
				due = max(due, w.endOfDay(w.from))
			}
		default:
			nobody = d.item
		}
	}
	return due, nobody
}

// clock is a time of a day, or the end of work on it, as a minute of the week.
func (w *week) clock(on unit.Date, at string) int {
	_, m := w.sh.Calendar.Hours()
	if c, ok := job.Clock(at); ok {
		m = c
	}
	t := time.Date(on.Year, on.Month, on.Day, 0, int(m), 0, 0, w.day0.Location())
	return int(t.Sub(w.day0) / time.Minute)
}

// without is the steps of a job that have nothing to use on the day they could be done, those
// done in one go with them, and all that comes after.
func (w *week) without(k int, in *InShop, seen map[string]job.Actual) map[string]bool {
	out, chains := map[string]bool{}, map[string]bool{}
	if len(w.ways.used) == 0 {
		return out
	}
	for n := -1; n != len(out); {
		n = len(out)
		for _, s := range in.Plan.Steps {
			_, begun := seen[s.ID]
			_, nobody := w.again(k, in, s)
			if nobody != "" && !begun || chains[s.Together] || slices.ContainsFunc(s.After, func(id string) bool { return out[id] }) {
				out[s.ID] = true
				chains[s.Together] = s.Together != ""
			}
			if nobody != "" && !begun {
				w.tellSpent(k, in, s, nobody)
			}
		}
	}
	return out
}

// tellSpent tells of a step that has nothing to use.
func (w *week) tellSpent(k int, in *InShop, s Step, item string) {
	key := in.Job.ID + " spent " + s.ID + " " + item
	if w.late[key] {
		return
	}
	w.late[key] = true
	last := unit.Date{}
	for _, a := range in.Job.Deliveries {
		if a.Item == item && !a.UseBefore.IsZero() && last.Before(a.UseBefore) {
			last = a.UseBefore
		}
	}
	w.notes = append(w.notes, diag.Say("week.spent", "{job}: what came of {item} may be used until {last}, {step:q} comes later, on {on} at the earliest, and nobody has promised other {item} for a day: it and what follows it have no date", in.Job.ID, item, last, s.Name, w.ways.used[w.ways.used.key(k, s.ID, item)]).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "order it anew, and record the promise (" + in.Job.Place("promises") + ") or what came ('deliveries')"}))
}
