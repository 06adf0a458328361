package plan

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/diag"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

type shopBay = shop.Bay

var weekdays = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// calendar is the shop's calendar from the first day of the job on.
func (b *builder) calendar() (sched.Calendar, time.Time, bool) {
	c := b.in.Shop.Calendar
	first := b.in.Job.Start
	day0 := midnight(first, b.in.Shop.Location())
	var out sched.Calendar
	if b.in.Job.Start.IsZero() {
		b.block("job", diag.Say("plan.no-start", "the job has no start day, so nothing has a date"), "give "+b.in.Job.Place("start"))
		return out, day0, false
	}
	windows, err := dayWindows(c)
	if err != nil {
		b.block("shop", diag.Say("plan.calendar", "{fault}", err.Error()), "correct the calendar in shop.yaml")
		return out, day0, false
	}
	for d := range out.Week {
		if slices.Contains(c.Days, weekdays[(int(first.Time().Weekday())+d)%7]) {
			out.Week[d] = windows
		}
	}
	for _, h := range c.Holidays {
		if !h.Before(first) {
			out.Off = append(out.Off, daysBetween(first, h))
		}
	}
	out.Shifts = shifts(day0)
	return out, day0, true
}

// midnight is when a day begins; where the clock has no midnight that day, what it shows first.
func midnight(d unit.Date, loc *time.Location) time.Time {
	t := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, loc)
	for unit.DateOf(t).Before(d) {
		t = t.Add(time.Minute)
	}
	return t
}

// daysBetween is how many days a day is after another.
func daysBetween(first, d unit.Date) int {
	return int(d.Time().Sub(first.Time()).Hours() / 24)
}

// shiftDays is how many days ahead is looked for changes of the clock.
const shiftDays = 2000

// shifts are the moments after a midnight at which the clock on the wall is put forward or
// back, to the minute.
func shifts(day0 time.Time) []sched.Shift {
	var out []sched.Shift
	for at, last := day0, day0.AddDate(0, 0, shiftDays); ; {
		_, next := at.ZoneBounds()
		if next.IsZero() || next.After(last) {
			return out
		}
		_, was := at.Zone()
		_, is := next.Zone()
		if by := is/60 - was/60; by != 0 { // a zone may change its name alone
			out = append(out, sched.Shift{At: int(next.Sub(day0) / time.Minute), By: by})
		}
		at = next
	}
}

// dayWindows is the working time of one day, without the break.
func dayWindows(c shop.Calendar) ([]sched.Window, error) {
	start, err := clockMin(c.Start)
	if err != nil {
		return nil, err
	}
	end, err := clockMin(c.End)
	if err != nil {
		return nil, err
	}
	if len(c.Break) == 0 {
		return []sched.Window{{From: start, To: end}}, nil
	}
	if len(c.Break) != 2 {
		return nil, fmt.Errorf("a break has a start and an end, not %d times", len(c.Break))
	}
	from, err := clockMin(c.Break[0])
	if err != nil {
		return nil, err
	}
	to, err := clockMin(c.Break[1])
	if err != nil {
		return nil, err
	}
	if from <= start || to <= from || end <= to {
		return nil, fmt.Errorf("the break %s to %s is not inside the working day %s to %s", c.Break[0], c.Break[1], c.Start, c.End)
	}
	return []sched.Window{{From: start, To: from}, {From: to, To: end}}, nil
}

// clockMin reads "hh:mm" as minutes of the day.
func clockMin(s string) (int, error) {
	if s == "24:00" {
		return 24 * 60, nil
	}
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of day; write hh:mm", s)
	}
	return t.Hour()*60 + t.Minute(), nil
}

// startOfWork is the first working minute, counted from midnight of day 0.
func startOfWork(c sched.Calendar) int {
	for d := range 366 * 10 {
		if ws := c.Week[d%7]; len(ws) > 0 && !slices.Contains(c.Off, d) {
			return c.Since(d*24*60 + ws[0].From)
		}
	}
	return 0
}
