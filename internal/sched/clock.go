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
	to    []int
	cum   []int // working minutes before each window
	total int
}

const dayMin = 1440

func newClock(cal Calendar, start int) *clock {
	c := &clock{cal: cal, off: map[int]bool{}, start: start, day: start / dayMin}
	for _, d := range cal.Off {
		c.off[d] = true
	}
	return c
}

func (c *clock) addDay() {
	if !c.off[c.day] {
		for _, w := range c.cal.Week[c.day%7] {
			f, t := max(c.day*dayMin+w.From, c.start), c.day*dayMin+w.To
			if f >= t {
				continue
			}
			c.from, c.to, c.cum = append(c.from, f), append(c.to, t), append(c.cum, c.total)
			c.total += t - f
		}
	}
	c.day++
}

// work is the number of working minutes before the elapsed minute e.
func (c *clock) work(e int) int {
	for c.day*dayMin <= e {
		c.addDay()
	}
	i := sort.SearchInts(c.from, e+1) - 1
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
func (c *clock) window(w int) int { return sort.SearchInts(c.cum, w+1) - 1 }

// leftOfDay is how many minutes are worked from working minute w to the end of its day.
func (c *clock) leftOfDay(w int) int {
	at := c.begin(w)
	i := c.window(max(w, 0))
	sum := c.to[i] - at
	for i++; i < len(c.from) && c.from[i]/dayMin == at/dayMin; i++ {
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
