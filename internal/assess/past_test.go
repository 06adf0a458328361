package assess

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// A start that is past with nothing on record is told, with how long ago it was; not on the day
// itself, not once something is recorded, and not for a job that has no start.
func TestStartLongPastIsTold(t *testing.T) {
	day := func(d int) unit.Date { return unit.Date{Year: 2026, Month: time.March, Day: d} }
	for _, c := range []struct {
		start unit.Date
		done  bool
		want  string
	}{
		{day(2), false, "2026-03-02, 18 days ago"}, {day(19), false, "2026-03-19, 1 day ago"},
		{day(20), false, ""}, {day(21), false, ""}, {day(2), true, ""}, {unit.Date{}, false, ""},
	} {
		notes := pastStart(&job.State{Start: c.start}, day(20), c.done)
		switch {
		case c.want == "" && len(notes) > 0:
			t.Errorf("start %s: %v", c.start, notes)
		case c.want != "" && (len(notes) != 1 || notes[0].Code != "plan.start-past" || !strings.Contains(notes[0].Text, c.want)):
			t.Errorf("start %s: %v, want %q", c.start, notes, c.want)
		}
	}
}
