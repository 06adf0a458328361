package app

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/release"
)

// madeSafe is a hazard that was made safe, in the place of its entry. No two are written alike.
func (t *taken) madeSafe(w release.Wanted, e Entry) (any, string, error) {
	if _, err := yes(e.Value, "made safe", "made safe"); err != nil {
		return nil, "value", fmt.Errorf("%q is not 'made safe'", e.Value)
	}
	same := func(h job.Hazard) bool { return h.Kind == body.Caution(w.About) && h.Text == w.What }
	k := slices.IndexFunc(t.c.Job.Hazards, same)
	if k < 0 {
		return nil, "what", fmt.Errorf("the job has no such hazard")
	}
	h := t.c.Job.Hazards[k]
	h.Cleared, h.By, h.On = true, e.By, e.On
	if why := t.c.Job.Unsafe(h, t.c.Body, t.c.Shop, e.On); why != "" {
		return nil, "by", fmt.Errorf("%s", why)
	}
	return job.Changed{List: "hazards", At: k, Item: h}, "by", nil
}
