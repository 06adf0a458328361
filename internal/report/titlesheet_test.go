package report

import (
	"testing"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// The first sheet says who chose its route, where the last choice on record is this one, and from
// which day work is.
func TestFirstSheetSaysWhoChose(t *testing.T) {
	in, r := startable(t)
	on := unit.Date{Year: 2026, Month: 3, Day: 5}
	this, other := job.Choice{Route: r.ID, By: "W2", On: on}, job.Choice{Route: "another", By: "W9", On: on}
	s := *in.Job
	in.Job = &s
	for _, k := range []struct {
		choices []job.Choice
		want    string
	}{
		{nil, "Nobody has chosen this route yet."},
		{[]job.Choice{other}, "Nobody has chosen this route yet."},
		{[]job.Choice{this, other}, "Nobody has chosen this route yet."},
		{[]job.Choice{other, this}, "Chosen by W2 on " + day(on) + "."},
	} {
		s.Choices = k.choices
		if got := titleSheetOf(in, r, nil); got.Status != k.want {
			t.Errorf("%+v: %q, want %q", k.choices, got.Status, k.want)
		}
	}
	r.Plan.Start = on
	if got := titleSheetOf(in, r, nil).Begins; got != day(on) {
		t.Errorf("begins %q", got)
	}
	r.Plan.Start = unit.Date{}
	if got := titleSheetOf(in, r, nil).Begins; got != "the day work starts" {
		t.Errorf("without a day it begins %q", got)
	}
}
