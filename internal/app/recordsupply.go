package app

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// supply is a row that becomes a delivery, a promise or an area that was inspected.
func (t *taken) supply(w release.Wanted, e Entry) (any, string, error) {
	value := strings.TrimSpace(e.Value)
	switch w.Entry {
	case release.WantArea:
		state := job.AreaState(value)
		if !slices.Contains([]job.AreaState{job.StateSeen, job.StatePenetrant, job.StateNotReachable}, state) {
			return nil, "value", fmt.Errorf("%q is neither 'seen', 'penetrant' nor 'not-reachable'", e.Value)
		}
		seen := job.AreaSeen{Area: w.About, State: state, By: e.By, On: e.On, Look: e.Inspection, Text: e.Text}
		for k := len(t.c.Job.Areas) - 1; k >= 0; k-- { // the last entry of an area counts
			if was := t.c.Job.Areas[k]; was.Area == w.About {
				if e.On.Before(was.On) {
					return nil, "on", fmt.Errorf("it is of %s, and the entry that it takes the place of is of %s", e.On, was.On)
				}
				return job.Changed{List: "areas", At: k, Item: seen}, "inspection", nil
			}
		}
		return seen, "inspection", nil
	case release.WantDelivery:
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
