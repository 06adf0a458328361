package plan

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones are there on every machine

	"fettle/internal/body"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Clocks that were, or will be, changed, by the zone database: Central European time ends its
// summer on 25 October 2026 at 01:00 UTC and begins it on 28 March 2027 at 01:00 UTC
// (Directive 2000/84/EC); Lord Howe goes by half an hour.
func TestChangesOfTheClock(t *testing.T) {
	for _, c := range []struct {
		zone string
		day  unit.Date
		utc  string
		by   int
	}{
		{"Europe/Berlin", unit.Date{Year: 2026, Month: time.October, Day: 20}, "2026-10-25T01:00:00Z", -60},
		{"Europe/Berlin", unit.Date{Year: 2027, Month: time.March, Day: 1}, "2027-03-28T01:00:00Z", 60},
		{"America/New_York", unit.Date{Year: 2026, Month: time.March, Day: 2}, "2026-03-08T07:00:00Z", 60},
		{"Australia/Lord_Howe", unit.Date{Year: 2026, Month: time.March, Day: 30}, "2026-04-04T15:00:00Z", -30},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		day0 := midnight(c.day, loc)
		got := shifts(day0)[0]
		if at := day0.Add(time.Duration(got.At) * time.Minute).UTC().Format(time.RFC3339); at != c.utc || got.By != c.by {
			t.Errorf("%s: %s by %d, want %s by %d", c.zone, at, got.By, c.utc, c.by)
		}
	}
	if got := shifts(midnight(unit.Date{Year: 2026, Month: time.March, Day: 2}, shop.WallClock)); len(got) > 0 {
		t.Errorf("a shop without a zone: %v", got)
	}
}

// A day begins when the clock first shows it, by the zone database: at midnight, or where the
// clock is put forward over midnight at what it shows then, or, where it shows midnight twice,
// the first time. Samoa left 30 December 2011 out.
func TestWhenADayBegins(t *testing.T) {
	for _, c := range []struct{ zone, day, utc string }{
		{"UTC", "2026-03-08", "2026-03-08T00:00:00Z"},
		{"Asia/Kolkata", "2026-03-08", "2026-03-07T18:30:00Z"},
		{"America/Havana", "2026-03-07", "2026-03-07T05:00:00Z"},
		{"America/Havana", "2026-03-08", "2026-03-08T05:00:00Z"}, // shows 01:00
		{"America/Havana", "2026-03-09", "2026-03-09T04:00:00Z"},
		{"America/Havana", "2026-11-01", "2026-11-01T04:00:00Z"}, // shows midnight twice
		{"Atlantic/Azores", "2026-03-29", "2026-03-29T01:00:00Z"},
		{"America/Sao_Paulo", "2018-11-04", "2018-11-04T03:00:00Z"},
		{"Africa/Cairo", "2026-04-24", "2026-04-23T22:00:00Z"},
		{"Pacific/Apia", "2011-12-30", "2011-12-30T10:00:00Z"},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		day, err := time.Parse(time.DateOnly, c.day)
		if err != nil {
			t.Fatal(err)
		}
		if got := midnight(unit.DateOf(day), loc).UTC().Format(time.RFC3339); got != c.utc {
			t.Errorf("%s: %s begins at %s, want %s", c.zone, c.day, got, c.utc)
		}
	}
}

// The changes of the clock, taken together, are what package time shows at each noon of as many days as are
// looked ahead, and end there: zones with two changes a year, half an hour, four a year
// (Casablanca, around Ramadan), none, and none any more.
func TestAllChangesOfTheClock(t *testing.T) {
	for _, zone := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca", "Asia/Kolkata", "UTC", "America/Sao_Paulo"} {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		for _, first := range []unit.Date{{Year: 2018, Month: time.January, Day: 9}, {Year: 2026, Month: time.October, Day: 25}} {
			day0 := midnight(first, loc)
			_, at0 := day0.Zone()
			all := shifts(day0)
			next, by := 0, 0
			for d := range shiftDays {
				noon := day0.Add(time.Duration(d*24*60+12*60) * time.Minute)
				for next < len(all) && all[next].At <= d*24*60+12*60 {
					if all[next].By == 0 {
						t.Errorf("%s: a change by nothing on day %d", zone, d)
					}
					by, next = by+all[next].By, next+1
				}
				if _, s := noon.Zone(); s-at0 != by*60 {
					t.Fatalf("%s: on day %d the clock is %d s off, by the changes %d min", zone, d, s-at0, by)
				}
			}
			if len(all)-next > 1 || next < len(all) && all[next].At > (shiftDays+1)*24*60 {
				t.Errorf("%s: changes beyond what is looked at: %v", zone, all[next:])
			}
		}
	}
}

// The working minutes of a calendar are those in which the clock on the wall, as package time
// tells it, shows working hours: over every change, whatever the hours are.
func TestWorkingHoursAreWallClockSeeds(t *testing.T) {
	over := 0
	for seed := range uint64(draws(5, 300)) {
		rng := rand.New(rand.NewPCG(seed, 2613))
		spring, autumn := unit.Date{Year: 2026, Month: time.March, Day: 27}, unit.Date{Year: 2026, Month: time.October, Day: 23}
		where := []struct {
			zone  string
			start unit.Date
		}{{"Europe/Berlin", spring}, {"Europe/Berlin", autumn}, {"Atlantic/Azores", spring}, {"Atlantic/Azores", autumn},
			{"America/New_York", spring.AddDays(-21)}, {"America/Havana", spring.AddDays(-21)}, {"America/Havana", autumn.AddDays(7)},
			{"Australia/Lord_Howe", spring.AddDays(7)}, {"Pacific/Auckland", spring.AddDays(7)}, {"Pacific/Auckland", autumn.AddDays(-28)},
			{"Asia/Kolkata", spring}, {"UTC", autumn}}[rng.IntN(12)]
		zone := where.zone
		in := input()
		in.Shop.Zone, in.Job.Start = zone, where.start
		open := rng.IntN(300)
		shut := open + 60 + rng.IntN(1000)
		in.Shop.Calendar = shop.Calendar{Days: []string{"mon", "tue", "fri", "sat", "sun"}, Start: fmt.Sprintf("%02d:%02d", open/60, open%60), End: fmt.Sprintf("%02d:%02d", shut/60, shut%60),
			Holidays: []unit.Date{in.Job.Start.AddDays(rng.IntN(6))}}
		b := newBuilder(in)
		cal, day0, ok := b.calendar()
		if !ok {
			t.Fatal(b.notes)
		}
		if len(cal.Shifts) > 0 && cal.Shifts[0].At < 4*24*60+60 {
			over++
		}
		count := 0
		for e := range 4 * 24 * 60 {
			if got := cal.Worked(e); got != count && e%7 == 0 {
				t.Fatalf("seed %d, %s: %d minutes before %v, want %d", seed, zone, got, day0.Add(time.Duration(e)*time.Minute), count)
			}
			at := day0.Add(time.Duration(e) * time.Minute)
			m := at.Hour()*60 + at.Minute()
			day := strings.ToLower(at.Weekday().String()[:3])
			if open <= m && m < shut && slices.Contains(in.Shop.Calendar.Days, day) && !slices.Contains(in.Shop.Calendar.Holidays, unit.DateOf(at)) {
				count++
			}
			if w := cal.Wall(e); w != daysBetween(in.Job.Start, unit.DateOf(at))*24*60+m {
				t.Fatalf("seed %d, %s: the clock shows %d at %v", seed, zone, w, at)
			}
			if e == 0 { // the tables of days that slip count alike
				x := newHours(cal)
				for k := range 4 * 24 * 60 {
					if x.at(k) != cal.Worked(k) && k%97 == 0 {
						t.Fatalf("seed %d, %s: tables say %d before minute %d", seed, zone, x.at(k), k)
					}
				}
			}
		}
		s, err := sched.Solve(sched.Problem{Calendar: cal, Activities: []sched.Activity{{ID: "a", Minutes: 50}, {ID: "b", Minutes: 40, After: []sched.Lag{{Pred: 0, Minutes: 17 * 60, Clock: sched.Elapsed}}}}})
		if err != nil {
			t.Fatal(err)
		}
		if gap := s.Slots[1].From - s.Slots[0].To; gap < 17*60 || cal.Worked(s.Slots[1].From) > cal.Worked(s.Slots[0].To+17*60) {
			t.Errorf("seed %d, %s: the wait takes %d minutes", seed, zone, gap)
		}
	}
	if over < draws(2, 150) {
		t.Errorf("%d cases over a change of the clock", over)
	}
}

// By hand: bonded on Saturday until 16:00, to cure for 17 hours. In Berlin that is Sunday 09:00
// by a clock that nobody changes, 08:00 in autumn, 10:00 in spring. Times are printed with
// their offset, as RFC 3339 writes them, and without one where the shop names no zone.
func TestWaitsOverAChangeOfTheClock(t *testing.T) {
	for _, c := range []struct {
		zone         string
		start        unit.Date
		bonded, then string
	}{
		{"Europe/Berlin", unit.Date{Year: 2026, Month: time.October, Day: 24}, "2026-10-24T16:00:00+02:00", "2026-10-25T08:00:00+01:00"},
		{"Europe/Berlin", unit.Date{Year: 2027, Month: time.March, Day: 27}, "2027-03-27T16:00:00+01:00", "2027-03-28T10:00:00+02:00"},
		{"Europe/Berlin", unit.Date{Year: 2026, Month: time.October, Day: 17}, "2026-10-17T16:00:00+02:00", "2026-10-18T09:00:00+02:00"},
		{"", unit.Date{Year: 2026, Month: time.October, Day: 24}, "2026-10-24T16:00:00", "2026-10-25T09:00:00"},
	} {
		in := input(Item{Treatment: "weld", Kind: body.Weld, Findings: weldF1.Findings})
		in.Body.Access, in.Body.Tasks = nil, nil
		in.Body.Treatments = []body.Treatment{{ID: "weld", Name: "weld", Kind: body.Weld, Steps: []body.Step{
			{ID: "a", Name: "Bond", Skill: "alu", Fixed: 480, Wait: &body.Wait{Name: "cure", Elapsed: 17 * 60}}, {ID: "b", Name: "Test", Skill: "alu", Fixed: 5}}}}
		in.Shop.Zone, in.Job.Start = c.zone, c.start
		in.Shop.Calendar = shop.Calendar{Days: []string{"sat", "sun"}, Start: "08:00", End: "16:00"}
		p, notes := Build(in)
		text, err := json.Marshal(p)
		if err != nil || blocking(notes) != "" {
			t.Fatal(err, notes)
		}
		var got struct {
			Steps []struct{ Name, From, To string }
		}
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatal(err)
		}
		if got.Steps[0].To != c.bonded || got.Steps[1].From != c.then {
			t.Errorf("%q: bonded at %s, tested at %s, want %s and %s", c.zone, got.Steps[0].To, got.Steps[1].From, c.bonded, c.then)
		}
	}
}

// A delivery takes days of the calendar: it is there in the morning also when a night has had
// an hour more or less.
func TestDeliveriesAreDays(t *testing.T) {
	for _, start := range []unit.Date{{Year: 2026, Month: time.October, Day: 23}, {Year: 2027, Month: time.March, Day: 26}} {
		in := input(swapF3)
		in.Shop.Zone, in.Job.Start = "Europe/Berlin", start
		for k := range in.Body.Parts {
			if p := &in.Body.Parts[k]; p.ID == "bracket" {
				p.Delivery = unit.Some(unit.Minutes(3 * 1440))
			}
		}
		p, _ := Build(in)
		for _, s := range p.Steps {
			if slices.Contains(s.Takes, "bracket") {
				if got := s.From.Format("2006-01-02 15:04"); got != start.AddDays(3).String()+" 08:00" {
					t.Errorf("%s: begins %s", start, got)
				}
				break
			}
		}
	}
}
