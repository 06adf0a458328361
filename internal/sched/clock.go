package sched

import "sort"

// clock converts between elapsed minutes and working minutes. Working minute w
// is the w-th minute of work after the start of the problem. It lays out the
// windows of further days when asked for them.
type clock struct {
	cal   Calendar
	off   map[int]bool
	start int
	day   int   // next day to be laid out
	from  []int // elapsed start of each window
	days  []int // day of each window
	to    []int
	cum   []int // working minutes before each window
	total int
	near  int // window that was asked for last: the next one asked for is often the same
}

const dayMin = 1440

func newClock(cal Calendar, start int) *clock {
	c := &clock{cal: cal, off: map[int]bool{}, start: start, day: max(0, start/dayMin-1)}
	for _, d := range cal.Off {
		c.off[d] = true
	}
	return c
}

func (c *clock) addDay() {
	if !c.off[c.day] {
		windows := c.cal.Week[c.day%7]
		shifted := len(c.cal.Shifts) > 0
		if shifted {
			windows = c.cal.windows(c.day)
		}
		for _, w := range windows {
			if !shifted {
				w.From, w.To = w.From+c.day*dayMin, w.To+c.day*dayMin
			}
			f := w.From
			if n := len(c.to); n > 0 {
				f = max(f, c.to[n-1]) // a night that the clock has twice is no two nights
			}
			if f = max(f, c.start); f >= w.To {
				continue
			}
			c.from, c.to, c.cum, c.days = append(c.from, f), append(c.to, w.To), append(c.cum, c.total), append(c.days, c.day)
			c.total += w.To - f
		}
	}
	c.day++
}

// work is the number of working minutes before the elapsed minute e.
func (c *clock) work(e int) int {
	for c.day*dayMin <= e+dayMin { // a day more, since the clock may be put forward
		c.addDay()
	}
	i := c.last(c.from, e)
	if i < 0 {
		return 0
	}
	return c.cum[i] + min(e, c.to[i]) - c.from[i]
}

// begin is when working minute w begins.
func (c *clock) begin(w int) int {
	w = max(w, 0)
	for c.total <= w {
		c.addDay()
	}
	i := c.window(w)
	return c.from[i] + w - c.cum[i]
}

// end is when w minutes have been worked.
func (c *clock) end(w int) int {
	if w <= 0 {
		return c.begin(0)
	}
	return c.begin(w-1) + 1
}

// window is the window that working minute w lies in.
func (c *clock) window(w int) int { return c.last(c.cum, w) }

// last is the last window whose figure is not above v, -1: all are.
func (c *clock) last(of []int, v int) int {
	if i := c.near; i+1 < len(of) && of[i] <= v && v < of[i+1] {
		return i
	}
	i := sort.SearchInts(of, v+1) - 1
	c.near = max(i, 0)
	return i
}

// leftOfDay is how many minutes are worked from working minute w to the end of its day.
func (c *clock) leftOfDay(w int) int {
	at := c.begin(w)
	i := c.window(max(w, 0))
	sum := c.to[i] - at
	for day := c.days[i]; i+1 < len(c.from) && c.days[i+1] == day; {
		i++
		sum += c.to[i] - c.from[i]
	}
	return sum
}

// nextWindow is the first working minute of the window after the one w is in.
func (c *clock) nextWindow(w int) int {
	c.begin(w)
	i := c.window(w) + 1
	for len(c.cum) <= i {
		c.addDay()
	}
	return c.cum[i]
}
