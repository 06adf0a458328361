package plan

import (
	"testing"

	"fettle/internal/sched"
)

// The tables of working minutes say what the calendar says, minute by minute: over days
// off, a clock that is put back before anything else, and one that is put forward at work.
func TestHoursAreThoseOfTheCalendar(t *testing.T) {
	for name, shifts := range map[string][]sched.Shift{"no change": nil, "back at the start": {{At: 0, By: -60}}, "forward at work": {{At: 600, By: 60}}, "both": {{At: 0, By: -60}, {At: 4000, By: 60}}} {
		cal := sched.Calendar{Off: []int{2}, Shifts: shifts}
		for d := range 5 {
			cal.Week[d] = []sched.Window{{From: 0, To: 90}, {From: 480, To: 720}, {From: 1380, To: 1440}}
		}
		x := newHours(cal)
		for e := range 9 * 1440 {
			if e%13 == 0 && x.at(e) != cal.Worked(e) {
				t.Fatalf("%s: %d minutes before %d, want %d", name, x.at(e), e, cal.Worked(e))
			}
			if w := x.at(e); e%13 == 0 && x.at(x.begin(w)) != w {
				t.Fatalf("%s: working minute %d begins at %d", name, w, x.begin(w))
			}
		}
		// Beyond the tables stand their ends.
		last := len(x.begins)
		if e := slipDays * 1440; x.at(-5) != 0 || x.at(e-1) != cal.Worked(e-1) || x.at(e) != last || x.at(e+99) != last || x.begin(-3) != int(x.begins[0]) || x.begin(last+7) != x.begin(last-1) || x.end(1) != x.begin(0)+1 {
			t.Errorf("%s: at the ends: %d, %d, %d of %d", name, x.at(e-1), x.at(e), x.at(e+99), last)
		}
	}
}
