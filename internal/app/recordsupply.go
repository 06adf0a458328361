package app

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// suppliesOpen is what is to be bought for the route of the job and has not come, by the
// record: each may come, in parts too, and may be promised for another day.
func suppliesOpen(c *Case, r Assessment) []decide.Wanted {
	route, why := chosenRoute(c, r)
	if why != "" {
		return nil
	}
	var out []decide.Wanted
	for _, o := range cost.Supplied(cost.Order(route.Plan, route.Bill), c.Job) {
		if o.Kind != "part" && !c.Job.Tracks(o.ID) || o.Arrived >= o.Count {
			continue
		}
		must := fmt.Sprintf("%s; %d of %d came", o.Name, o.Arrived, o.Count)
		out = append(out, decide.Wanted{Entry: decide.WantDelivery, About: o.ID, Must: must + "; how many came now; from: hh:mm"},
			decide.Wanted{Entry: decide.WantPromise, About: o.ID, Must: must + "; the day it is promised for, where one was named"})
	}
	return out
}

// areasOpen is the inspection areas that are not covered. An entry that says that nobody
// looked, or that does not cover what is asked for, is changed where it stands.
func areasOpen(c *Case, r Assessment) []decide.Wanted {
	var out []decide.Wanted
	for _, x := range r.Inspect.Coverage {
		if x.Covered {
			continue
		}
		must := x.Name + ": seen, penetrant or not-reachable; inspection: which"
		if x.Own && x.Fails != "" {
			must += fmt.Sprintf("; on record is %q of %s, which does not do: %s", x.State, x.On, x.Fails)
		}
		out = append(out, decide.Wanted{Entry: decide.WantArea, About: x.Area, What: x.Needs, Must: must})
	}
	return out
}

// supply is a row that becomes a delivery, a promise or an area that was inspected.
func (t *taken) supply(w decide.Wanted, e Entry) (any, string, error) {
	value := strings.TrimSpace(e.Value)
	switch w.Entry {
	case decide.WantArea:
		if !slices.Contains([]string{"seen", "penetrant", "not-reachable"}, value) {
			return nil, "value", fmt.Errorf("%q is neither 'seen', 'penetrant' nor 'not-reachable'", e.Value)
		}
		seen := job.AreaSeen{Area: w.About, State: value, By: e.By, On: e.On, Look: e.Inspection, Text: e.Text}
		for k := len(t.c.Job.Areas) - 1; k >= 0; k-- { // the last entry of an area counts
			if was := t.c.Job.Areas[k]; was.Area == w.About {
				if e.On.Before(was.On) {
					return nil, "on", fmt.Errorf("it is of %s, and the entry that it takes the place of is of %s", e.On, was.On)
				}
				return job.Changed{List: "areas", At: k, Item: seen}, "inspection", nil
			}
		}
		return seen, "inspection", nil
	case decide.WantDelivery:
		n, err := strconv.Atoi(value)
		if err != nil || n <= 0 {
			return nil, "value", fmt.Errorf("%q is not how many came; write a whole number", e.Value)
		}
		id := freeID("D-", append(slices.Clone(t.c.Job.Deliveries), recordsOf[job.Arrival](t)...), func(x job.Arrival) string { return x.ID })
		return job.Arrival{ID: id, Item: w.About, Count: n, On: e.On, At: e.From, By: e.By, Text: e.Text, Batch: e.Batch, UseBefore: e.UseBefore}, "value", nil
	}
	var day unit.Date
	if err := day.UnmarshalText([]byte(value)); err != nil {
		return nil, "value", fmt.Errorf("%q is not the day it is promised for; write year-month-day", e.Value)
	}
	id := freeID("PR-", append(slices.Clone(t.c.Job.Promises), recordsOf[job.Promised](t)...), func(x job.Promised) string { return x.ID })
	return job.Promised{ID: id, Item: w.About, Expected: day, On: e.On, By: e.By, Text: e.Text}, "value", nil
}

// recordsOf is the records of one sort that the list has made so far.
func recordsOf[T any](t *taken) []T {
	var out []T
	for _, r := range t.records {
		if x, ok := r.(T); ok {
			out = append(out, x)
		}
	}
	return out
}
