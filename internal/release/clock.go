package release

import (
	"fmt"
	"math"
	"slices"
	"time"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// moment is a time in minutes that can be compared with others. Entries of a job have
// a day, and a time of day where somebody wrote it down. Where a wait lies between two
// entries, and between a repair and what measures it, the time that is not on record is
// taken the cautious way: what comes first ended with the working day, what follows began
// with it.
type moment float64

// at is a time of day on a day, or the one that is taken for it.
func at(on unit.Date, clock string, otherwise unit.Minutes) moment {
	m := otherwise
	if c, ok := job.Clock(clock); ok {
		m = c
	}
	return moment(on.Time().Unix()/60) + moment(m)
}

// day is the day of a moment.
func (m moment) day() unit.Date {
	return unit.Date{Year: 1970, Month: 1, Day: 1}.AddDays(int(unit.Whole(math.Floor(float64(m) / minutesOfDay))))
}

// workday is the first day whose work begins no earlier than the moment.
func (m moment) workday(opens unit.Minutes) unit.Date {
	d := m.day()
	if at(d, "", opens) < m {
		return d.AddDays(1)
	}
	return d
}

// words is the day and the time of day.
func (m moment) words() string {
	d := m.day()
	left := int(unit.Whole(math.Ceil(float64(m - at(d, "", 0)))))
	return fmt.Sprintf("%s %02d:%02d", d, left/60, left%60)
}

// after is when a wait is over: it runs on when the clock is changed meanwhile.
func (r *gate) after(m moment, wait unit.Minutes) moment {
	d := m.day()
	t := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Add(time.Duration(unit.Whole(float64(m-at(d, "", 0)) * float64(time.Minute))))
	t = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), r.in.Shop.Location())
	_, before := t.Zone()
	_, behind := t.Add(time.Duration(unit.Whole(float64(wait)*60)) * time.Second).Zone()
	return m + moment(wait) + moment(behind-before)/60
}

// ended is the latest a step may have ended.
func (r *gate) ended(a job.Actual) moment { return at(a.On, a.Ended, r.closes) }

// began is the earliest a step may have been begun: on the day it was under way, on the
// day of its entry, or so many days before as its minutes take that this day had not.
func (r *gate) began(a job.Actual) moment {
	first := at(a.On, a.Began, r.opens)
	out := first
	for _, o := range r.in.Job.Actuals {
		if o.Going && r.sameStep(o, a) && !a.On.Before(o.On) && !r.doneSince(o, a) {
			out = min(out, at(o.On, o.Began, r.opens))
		}
	}
	day, had := float64(r.closes-r.opens), float64(r.ended(a)-first)
	if _, timed := job.Clock(a.Began); out == first && !timed && float64(a.Minutes) > had {
		return at(a.On.AddDays(-int(unit.Whole(math.Ceil((float64(a.Minutes)-had)/day)))), "", r.opens)
	}
	return out
}

// doneSince says that a step was done between a day on which it was under way and its
// last entry, which is then about another time that it was done.
func (r *gate) doneSince(going, last job.Actual) bool {
	return last.Again != "" && slices.ContainsFunc(r.in.Job.Actuals, func(o job.Actual) bool {
		return !o.Going && o.Again == "" && r.sameStep(o, last) && !o.On.Before(going.On) && o.On.Before(last.On)
	})
}
