package plan

import (
	"slices"
	"testing"

	"fettle/internal/unit"
)

// A step that the body wants on one day is not left over a night; a break may lie in it. One
// that is longer than the day of the shop is, and that is told.
func TestSetUpIsNotLeftOverNight(t *testing.T) {
	torn := 0
	for _, least := range []unit.Minutes{40, 250, 450} {
		for k := range 12 {
			shift := unit.Minutes(k)
			in := input(weldF1)
			in.Body.Tasks[0].Step.Fixed = 20 + 40*shift // what comes before it ends at another time each
			in.Body.Tasks[1].Step.Fixed = least
			p, _ := Build(in)
			free := step(t, p, "Set up on bench")
			in.Body.Tasks[1].Step.OneDay = true
			p, notes := Build(in)
			s := step(t, p, "Set up on bench")
			if free.From.YearDay() != free.To.YearDay() {
				torn++
			}
			if s.From.YearDay() != s.To.YearDay() || blocking(notes) != "" || s.From.Before(free.From) {
				t.Errorf("%v min after %v: from %v to %v, %s", least, 20+40*shift, s.From, s.To, blocking(notes))
			}
		}
	}
	if torn == 0 {
		t.Error("no set-up would be left over a night")
	}
	in := input(weldF1)
	in.Body.Tasks[1].Step.Fixed, in.Body.Tasks[1].Step.OneDay = 500, true
	if _, notes := Build(in); !slices.ContainsFunc(notes, func(n note) bool { return n.Code == "plan.over-night" }) {
		t.Errorf("500 min on a day of 480: %v", notes)
	}
}
