package sched

import "slices"

// A calendar speaks of days and hours as a clock on the wall shows them; lags run in
// elapsed minutes. The two differ from the moment on at which the clock is put forward or
// back: a day with such a moment has fewer or more minutes than others.

// Shift is a moment at which the clock on the wall is put forward, or back.
type Shift struct {
	At int // elapsed minute from midnight of day 0
	By int // minutes it is put forward; negative: back
}

// Wall is what the clock shows at an elapsed minute, in minutes from midnight of day 0.
func (c *Calendar) Wall(e int) int {
	w := e
	for _, s := range c.Shifts {
		if s.At <= e {
			w += s.By
		}
	}
	return w
}

// Since is the first elapsed minute at which the clock shows so much, or more.
func (c *Calendar) Since(wall int) int {
	e := wall
	for _, s := range c.Shifts {
		if e < s.At {
			break
		}
		e = max(e-s.By, s.At) // what the clock leaps over it is past at the leap
	}
	return e
}

// windows are the working windows of a day in elapsed minutes, in order of time: each as
// long as the clock shows hours of it.
func (c *Calendar) windows(day int) []Window {
	if slices.Contains(c.Off, day) {
		return nil
	}
	var out []Window
	from, past := 0, 0
	part := func(to int) {
		for _, w := range c.Week[day%7] {
			f, t := max(day*dayMin+w.From-past, from), min(day*dayMin+w.To-past, to)
			if f < t {
				out = append(out, Window{f, t})
			}
		}
	}
	for _, s := range c.Shifts {
		part(s.At)
		from, past = s.At, past+s.By
	}
	part(never)
	return out
}

// Worked is the working minutes before an elapsed one.
func (c *Calendar) Worked(e int) int {
	sum := 0
	for d := 0; d*dayMin <= c.Wall(e)+dayMin; d++ {
		for _, w := range c.windows(d) {
			sum += max(0, min(e, w.To)-w.From)
		}
	}
	return sum
}
