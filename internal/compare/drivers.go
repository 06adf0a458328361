package compare

import (
	"sort"

	"fettle/internal/normal"
	"fettle/internal/unit"
)

// drivers sums the money of the best route where one thing is low or high.
type drivers struct {
	d         *drawing
	low, high []float64 // limits of the tenths of each line
	sum       [][2]float64
	count     [][2]int
}

func newDrivers(d *drawing) *drivers {
	n := len(d.lines) + len(d.risks) + len(d.waits)
	x := &drivers{d: d, sum: make([][2]float64, n), count: make([][2]int, n)}
	for _, l := range d.lines {
		x.low = append(x.low, l.at(normal.Quantile(0.1)))
		x.high = append(x.high, l.at(normal.Quantile(0.9)))
	}
	for _, w := range d.waits {
		x.low = append(x.low, w.line.at(normal.Quantile(0.1)))
		x.high = append(x.high, w.line.at(normal.Quantile(0.9)))
	}
	return x
}

// at is the line's value at a normal number.
func (l *line) at(z float64) float64 {
	u := (z + reach) * knots / (2 * reach)
	k := int(u)
	return l.table[k] + float64((u-float64(k))*(l.table[k+1]-l.table[k]))
}

func (x *drivers) add(i, side int, v float64) {
	x.sum[i][side] += v
	x.count[i][side]++
}

func (x *drivers) take(k *chunk, size int) {
	for n := range size {
		total := k.total[0][n]
		for i := range x.d.lines {
			switch v := k.values[i][n]; {
			case v <= x.low[i]:
				x.add(i, 0, total)
			case v >= x.high[i]:
				x.add(i, 1, total)
			}
		}
		for w := range x.d.waits {
			l := len(x.d.lines) + w
			switch v := k.waits[w][n]; {
			case v <= x.low[l]:
				x.add(l+len(x.d.risks), 0, total)
			case v >= x.high[l]:
				x.add(l+len(x.d.risks), 1, total)
			}
		}
		for i := range x.d.risks {
			side := 0
			if k.bad[i][n] {
				side = 1
			}
			x.add(len(x.d.lines)+i, side, total)
		}
	}
}

// list is what moves the money by more than the draws' own error, at most eight.
func (x *drivers) list() []Driver {
	var out []Driver
	names := append([]string(nil), x.d.ids...)
	for _, r := range x.d.risks {
		names = append(names, r.ID)
	}
	for _, w := range x.d.waits {
		names = append(names, w.kind.Name)
	}
	c := x.d.routes[0]
	for i, name := range names {
		if x.count[i][0] == 0 || x.count[i][1] == 0 || i < len(x.d.lines) && c.gross[name] == 0 && !x.inDays(i) {
			continue
		}
		if w := i - len(x.d.lines) - len(x.d.risks); w >= 0 && (c.perDay == 0 || !contains(x.d.days[0].waits, w)) {
			continue
		}
		out = append(out, Driver{name, x.d.title(name), rounded(x.sum[i][0] / float64(x.count[i][0])), rounded(x.sum[i][1] / float64(x.count[i][1]))})
	}
	for i := len(x.d.lines); i < len(x.d.lines)+len(x.d.risks); i++ { // a risk that does not concern the route moves nothing
		if !contains(c.risks, i-len(x.d.lines)) {
			name := names[i]
			for k := range out {
				if out[k].Name == name {
					out = append(out[:k], out[k+1:]...)
					break
				}
			}
		}
	}
	swing := func(d Driver) unit.Minor { return max(d.High-d.Low, d.Low-d.High) }
	sort.SliceStable(out, func(i, j int) bool { return swing(out[i]) > swing(out[j]) })
	return out[:min(len(out), 8)]
}

// title is what a line, a risk or a wait is, in words.
func (d *drawing) title(name string) string {
	for _, r := range d.risks {
		if r.ID == name {
			return r.ID + ": " + r.Text
		}
	}
	for _, c := range d.routes {
		for _, l := range c.route.Bill.Lines {
			if l.ID == name {
				return l.Text
			}
		}
	}
	return name
}

// inDays says that a line moves the days of the best route, which storage follows.
func (x *drivers) inDays(line int) bool {
	return x.d.routes[0].perDay > 0 && contains(x.d.days[0].labour, line)
}

func contains(list []int, x int) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}
