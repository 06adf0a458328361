package plan

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/sched"
	"fettle/internal/shop"
)

type shopBay = shop.Bay

var weekdays = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// calendar is the shop's calendar from the first day of the job on.
func (b *builder) calendar() (sched.Calendar, time.Time, bool) {
	c := b.in.Shop.Calendar
	day0 := b.in.Job.Start.Time()
	var out sched.Calendar
	if b.in.Job.Start.IsZero() {
		b.block("plan.no-start", "job", "the job has no start day, so nothing has a date", "give 'start' in job.yaml")
		return out, day0, false
	}
	windows, err := dayWindows(c)
	if err != nil {
		b.block("plan.calendar", "shop", err.Error(), "correct the calendar in shop.yaml")
		return out, day0, false
	}
	for d := range out.Week {
		if slices.Contains(c.Days, weekdays[(int(day0.Weekday())+d)%7]) {
			out.Week[d] = windows
		}
	}
	for _, h := range c.Holidays {
		if k := int(h.Time().Sub(day0).Hours() / 24); k >= 0 && !h.Before(b.in.Job.Start) {
			out.Off = append(out.Off, k)
		}
	}
	return out, day0, true
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
			return d*24*60 + ws[0].From
		}
	}
	return 0
}
