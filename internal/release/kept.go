package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// kept wants nothing to have been used after its last day by the deliveries on record: the
// batch that a record names, and what a step uses of which nobody wrote down the batch.
func (r *gate) kept() {
	for _, x := range r.in.Job.Records {
		if x.Show == body.ShowAdhesive {
			r.batchKept(string(x.Finding)+string(x.Joint), "record "+x.ID, string(x.Material), x.Batch, x.On)
		}
	}
	for _, f := range r.in.Job.Figures {
		if m, ok := strings.CutPrefix(f.Reading, body.BatchReading("")); ok {
			r.batchKept(string(f.Finding), fmt.Sprintf("the figure %q of %q", f.Reading, f.Step), m, f.Text, f.On)
		}
	}
	for _, s := range r.in.Steps {
		a, ok := r.done[s.ID]
		if !ok || a.Going {
			continue
		}
		for _, item := range s.Uses {
			if !r.batchTold(s, item) {
				r.usedKept(s, a, item)
			}
		}
	}
}

// batchKept wants a batch that came not to be used after its last day, whatever day the record
// of its use has.
func (r *gate) batchKept(where, what, item, batch string, on unit.Date) {
	for _, d := range r.in.Job.Deliveries {
		if d.Item == item && d.Batch != "" && strings.EqualFold(strings.TrimSpace(d.Batch), strings.TrimSpace(batch)) && !d.Keeps(on) {
			r.missing(where, fmt.Sprintf("batch %s of %s was used on %s (%s), after its last day of use by delivery %s, %s", d.Batch, item, on, what, d.ID, d.UseBefore), "ask the manufacturer, or correct what is wrong of the two", "")
		}
	}
}

// batchTold says that the batch of something is written down at a step, and judged there.
func (r *gate) batchTold(s PlannedStep, item string) bool {
	return slices.Contains(s.Bonds, body.MaterialID(item)) ||
		slices.ContainsFunc(s.Readings, func(x body.Reading) bool { return x.ID == body.BatchReading(body.MaterialID(item)) })
}

// usedKept wants something to have been there at a step that might be used on its day, where
// what came of it is on record.
func (r *gate) usedKept(s PlannedStep, a job.Actual, item string) {
	var last job.Arrival
	for _, d := range r.in.Job.Deliveries {
		switch {
		case d.Item != item:
		case d.Keeps(a.On) && !a.On.Before(d.On):
			return
		case !d.Keeps(a.On) && (last.ID == "" || last.UseBefore.Before(d.UseBefore)):
			last = d
		}
	}
	if last.ID != "" {
		r.missing(first(s.For), fmt.Sprintf("\"%s\" was done on %s with %s, of which nothing that came might be used any more: delivery %s until %s", s.Name, a.On, item, last.ID, last.UseBefore),
			"ask the manufacturer, or enter what came that was used ('deliveries' in the job)", "")
	}
}
