package unit

import (
	"encoding/json"
	"testing"
	"time"
)

// Expected: the calendar of package time, counted day by day.
func TestDaysFollowTheCalendar(t *testing.T) {
	first := time.Date(1999, 12, 30, 0, 0, 0, 0, time.UTC)
	d := DateOf(first)
	for n := range 3000 { // over 2000, a leap year, and 2004
		want := first.AddDate(0, 0, n)
		if got := d.AddDays(n); got != DateOf(want) || got.String() != want.Format(time.DateOnly) || !got.Time().Equal(want) {
			t.Fatalf("%d days later: %v, want %v", n, got, want)
		}
		if got := DateOf(want).AddDays(-n); got != d {
			t.Fatalf("%d days earlier: %v, want %v", n, got, d)
		}
		if before := d.Before(DateOf(want)); before != (n > 0) || DateOf(want).Before(d) {
			t.Fatalf("%v before %v: %v", d, want, before)
		}
	}
}

func TestDayIsThatOfItsOwnZone(t *testing.T) {
	at := time.Date(2026, 3, 1, 0, 30, 0, 0, time.FixedZone("east", 2*3600))
	if got := DateOf(at); got != (Date{2026, 3, 1}) {
		t.Errorf("in its own zone: %v", got)
	}
	if got := DateOf(at.UTC()); got != (Date{2026, 2, 28}) {
		t.Errorf("in UTC: %v", got)
	}
}

func TestDateReadsBack(t *testing.T) {
	for _, text := range []string{"2026-11-25", "2000-02-29", "0001-01-02"} {
		var d Date
		if err := d.UnmarshalText([]byte(text)); err != nil || d.String() != text || d.IsZero() {
			t.Errorf("%s: %v, %v", text, d, err)
		}
		out, err := json.Marshal(d)
		if err != nil || string(out) != `"`+text+`"` {
			t.Errorf("%s: %s, %v", text, out, err)
		}
	}
	for _, text := range []string{"", "2026-02-29", "2026-13-01", "25.11.2026", "2026-11-25T00:00", "26-11-25"} {
		d := Date{2020, 1, 1}
		if err := d.UnmarshalText([]byte(text)); err == nil || d != (Date{2020, 1, 1}) {
			t.Errorf("%q is taken as %v", text, d)
		}
	}
	if out, err := (Date{}).MarshalText(); err != nil || string(out) != "" || !(Date{}).IsZero() {
		t.Errorf("no date is written as %q, %v", out, err)
	}
}
