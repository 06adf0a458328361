package cost

import (
	"fmt"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// Supplied puts what the job has on record about deliveries and promises into an order list.
func Supplied(rows []OrderRow, j *job.State) []OrderRow {
	for i := range rows {
		s := j.SupplyOf(rows[i].ID, rows[i].Count)
		rows[i].Arrived, rows[i].ArrivedOn, rows[i].Expected, rows[i].Record = s.Arrived, s.On, s.Expected, s.By
		rows[i].Unpromised, rows[i].UseBefore = s.Unnamed, s.Until
	}
	return rows
}

// Supply is what is on record of a row in words; empty: nothing.
func (r OrderRow) Supply() string {
	words := ""
	if r.Arrived > 0 {
		words = fmt.Sprintf("%d of %d came", r.Arrived, r.Count)
	}
	if !r.UseBefore.IsZero() {
		words += fmt.Sprintf(", to be used until %s", r.UseBefore)
		if r.UseBefore.Before(r.NeededBy) {
			words += ", BEFORE IT IS NEEDED"
		}
	}
	add := func(s string) {
		if words != "" {
			words += "; "
		}
		words += s
	}
	switch {
	case !r.ArrivedOn.IsZero():
		return fmt.Sprintf("%s by %s (%s)", words, r.ArrivedOn, r.Record)
	case r.Unpromised > 0:
		add(unit.Count(r.Unpromised, "piece") + " of what is missing promised for no day")
	case !r.Expected.IsZero() && !r.NeededBy.IsZero() && r.NeededBy.Before(r.Expected):
		add(fmt.Sprintf("promised for %s (%s), LATER THAN NEEDED", r.Expected, r.Record))
	case !r.Expected.IsZero():
		add(fmt.Sprintf("promised for %s (%s)", r.Expected, r.Record))
	}
	return words
}
