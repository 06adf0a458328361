package release

import (
	"testing"
	"time"

	"fettle/internal/decide"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// TestWaitsOverAChangeOfTheClockInARelease: 17 hours from four in the afternoon are over an
// hour later, or sooner, by the clock when it was changed in the night; a shop without a
// zone has no such nights.
//
// Source: Directive 2000/84/EC, articles 2 and 3: summer time begins and ends at 01:00 UTC
// on the last Sundays of March and October (28 March 2027, 25 October 2026).
func TestWaitsOverAChangeOfTheClockInARelease(t *testing.T) {
	day := func(y int, m time.Month, d int) unit.Date { return unit.Date{Year: y, Month: m, Day: d} }
	for _, c := range []struct {
		zone string
		on   unit.Date
		want string
	}{
		{"Europe/Berlin", day(2027, 3, 27), "2027-03-28 10:00"},
		{"Europe/Berlin", day(2026, 10, 24), "2026-10-25 08:00"},
		{"Europe/Berlin", day(2027, 3, 20), "2027-03-21 09:00"},
		{"America/Phoenix", day(2027, 3, 27), "2027-03-28 09:00"}, // keeps one time all year (from memory)
		{"", day(2027, 3, 27), "2027-03-28 09:00"},
	} {
		r := &gate{in: Input{Input: decide.Input{Shop: &shop.Shop{Zone: c.zone}}}}
		if got := r.after(at(c.on, "16:00", 0), 17*60).words(); got != c.want {
			t.Errorf("%q, from %s 16:00: over %s, want %s", c.zone, c.on, got, c.want)
		}
	}
}
