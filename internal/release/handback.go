package release

import (
	"fmt"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// HandBack is every reason why a hand-back does not stand, or may not be recorded: what the gate has missing, judged on its day, who
// signed it, and what was changed since. Nothing is the only answer with which a vehicle was handed back. Only a gate that was run for
// that day can say so.
func (g Gate) HandBack(h job.HandBack, today unit.Date) []Missing {
	out := append([]Missing{}, g.Missing...)
	add := func(text, hint string, to *diag.Remedy) {
		out = append(out, Missing{Group: GroupHanded, Text: text, Hint: hint, Remedy: to})
	}
	if g.in.Job == nil || g.in.Today != h.On {
		add(fmt.Sprintf("what is missing was not judged on the day of the hand-back, %s", h.On), "judge it on that day", nil)
		return out
	}
	for _, why := range g.in.Job.HandBackFaults(h, g.in.Shop, today) {
		add("the hand-back does not count: "+why, "have it signed by somebody who may review ('may' in the shop file), on the day of the hand-back", nil)
	}
	for _, what := range g.in.Job.ChangedSince(h) {
		add("changed since the vehicle was handed back: "+what, "open the job again, with the reason, judge it anew and hand the vehicle back anew", diag.Do(job.ToReopen))
	}
	return out
}

// Handed is what a job waits for whose vehicle was handed back, by what speaks against it.
func Handed(not []Missing) Act {
	if len(not) == 0 {
		return Act{ActHandedBack, "", OnNobody}
	}
	return Act{ActChanged, not[0].Where, OnShop}
}
