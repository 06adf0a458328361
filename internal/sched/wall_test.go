package sched

import (
	"math/rand/v2"
	"testing"
)

// Against a clock that ticks minute by minute and leaps at its moments: what it shows, and when
// it first shows so much, also where it leaps over that, shows it twice, or leaps at that very
// minute.
func TestClockOnTheWallTicksSeeds(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 91))
		var c Calendar
		for at := 1 + rng.IntN(30); at < 150; at += 1 + rng.IntN(60) {
			c.Shifts = append(c.Shifts, Shift{at, rng.IntN(21) - 10})
		}
		const end = 200
		shows, wall, k := make([]int, end), 0, 0
		for e := range end {
			if k < len(c.Shifts) && c.Shifts[k].At == e {
				wall += c.Shifts[k].By
				k++
			}
			shows[e] = wall
			wall++
		}
		for e, want := range shows {
			if got := c.Wall(e); got != want {
				t.Fatalf("seed %d: at %d the clock shows %d, told %d: %+v", seed, e, want, got, c.Shifts)
			}
		}
		for wall := range end - 50 {
			want := 0
			for want < end && shows[want] < wall {
				want++
			}
			if got := c.Since(wall); want < end && got != want {
				t.Fatalf("seed %d: the clock shows %d first at %d, told %d: %+v", seed, wall, want, got, c.Shifts)
			}
		}
	}
}

// By hand: the windows of a day of 08:00 to 12:00 and 13:00 to 17:00 that the clock leaps in. They
// begin and end where it leaps from and to, touch where it leaps back, and are none on a day off.
func TestWindowsOfADayWithALeap(t *testing.T) {
	const day = 3
	h := func(hours int) int { return day*dayMin + hours*60 }
	var c Calendar
	c.Week[day] = []Window{{8 * 60, 12 * 60}, {13 * 60, 17 * 60}}
	for _, x := range []struct {
		name   string
		shifts []Shift
		want   []Window
	}{
		{"none", nil, []Window{{h(8), h(12)}, {h(13), h(17)}}},
		{"forward at night", []Shift{{h(2), 60}}, []Window{{h(7), h(11)}, {h(12), h(16)}}},
		{"back at night", []Shift{{h(3), -60}}, []Window{{h(9), h(13)}, {h(14), h(18)}}},
		{"forward at work", []Shift{{h(9), 60}}, []Window{{h(8), h(9)}, {h(9), h(11)}, {h(12), h(16)}}},
		{"back at work", []Shift{{h(10), -60}}, []Window{{h(8), h(10)}, {h(10), h(13)}, {h(14), h(18)}}},
		{"forward as work begins", []Shift{{h(8), 60}}, []Window{{h(8), h(11)}, {h(12), h(16)}}},
		{"back as work ends", []Shift{{h(17), -60}}, []Window{{h(8), h(12)}, {h(13), h(17)}, {h(17), h(18)}}},
		{"over the first hours and on", []Shift{{h(8), 240}}, []Window{{h(9), h(13)}}},
	} {
		c.Shifts = x.shifts
		got := c.windows(day)
		if len(got) != len(x.want) {
			t.Errorf("%s: %v, want %v", x.name, got, x.want)
			continue
		}
		for k := range got {
			if got[k] != x.want[k] {
				t.Errorf("%s: %v, want %v", x.name, got, x.want)
			}
		}
	}
	c.Off = []int{day}
	if got := c.windows(day); got != nil {
		t.Errorf("a day off has %v", got)
	}
}
