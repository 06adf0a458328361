package compare

import (
	"math"
	"slices"
	"sort"

	"fettle/internal/plan"
	"fettle/internal/shop"
)

// DaySpread is the spread of a route's calendar days: hours as the spreads of
// labour have them, deliveries and answers as their own. A risk that bars the route
// or adds work is in the money only.
type DaySpread struct {
	Draws int     `json:"draws"`
	Mean  float64 `json:"mean"`
	P10   int     `json:"p10"`
	P50   int     `json:"p50"`
	P90   int     `json:"p90"`
}

// DayDriver is what moves the days of the best route.
type DayDriver struct {
	Name  string  `json:"name"`
	Title string  `json:"title"`
	Low   float64 `json:"lowDays"`  // expected days where it is in its lowest tenth
	High  float64 `json:"highDays"` // where it is in its highest tenth
}

// dayDraws is how many of the draws days are worked out for: whole chunks.
const dayDraws = 2 * chunkDraws

// wait is a delivery or an answer that is drawn; all routes wait for the same one.
type wait struct {
	kind plan.Awaited
	line *line
}

// duration draws the days of one route.
type duration struct {
	slip   *plan.Slip
	labour []int // line of each step's skill, -1: as planned
	waits  []int // of the drawing, for each wait of the plan
	days   []int // by draw
	sum, n float64

	factor, arrives [][]float64 // of a chunk of draws, by step and wait
}

// durations prepares the days of the routes. None are told where nothing that
// counts in days has a spread.
func (d *drawing) durations(f *finder) {
	slips, ok := plan.NewSlips(f.planInput(nil))
	if !ok {
		return
	}
	some := slices.ContainsFunc(d.in.Shop.Spreads, func(s shop.Spread) bool { return s.On == shop.OnLabour })
	all := make([]*duration, len(d.routes))
	for r := range d.routes {
		s, ok := slips.Of(d.routes[r].route.Plan)
		if !ok {
			continue
		}
		x := &duration{slip: s}
		for _, skill := range s.Skills() {
			x.labour = append(x.labour, slices.Index(d.ids, "L-"+string(skill)))
		}
		for _, w := range s.Waits() {
			some = some || w.High > 0
			x.waits = append(x.waits, d.waitFor(w))
		}
		x.factor, x.arrives = make([][]float64, len(x.labour)), make([][]float64, len(x.waits))
		all[r] = x
	}
	if some {
		d.days = all
	}
}

func (d *drawing) waitFor(r plan.Awaited) int {
	k := slices.IndexFunc(d.waits, func(w wait) bool { return w.kind.Kind == r.Kind && w.kind.Part == r.Part })
	if k < 0 {
		k = len(d.waits)
		low, high := r.Low, r.High
		if high == 0 {
			low, high = r.Minutes, r.Minutes
		}
		d.waits = append(d.waits, wait{r, newLine(triangular(low, r.Minutes, high))})
	}
	return k
}

// takeDays works out the days of every route in a chunk of draws: in the first ones to
// tell of them, in all where they are paid for.
func (d *drawing) takeDays(k *chunk, first int) {
	for r, x := range d.days {
		if x == nil || first >= dayDraws && d.routes[r].perDay == 0 {
			k.days[r] = nil
			continue
		}
		for i, l := range x.labour {
			if l >= 0 {
				x.factor[i] = k.values[l]
			}
		}
		for i, w := range x.waits {
			x.arrives[i] = k.waits[w]
		}
		k.days[r] = slices.Grow(k.days[r][:0], chunkDraws)[:chunkDraws]
		x.slip.Days(x.factor, x.arrives, k.days[r])
		if first < dayDraws {
			x.days = append(x.days, k.days[r]...)
		}
		for _, days := range k.days[r] {
			x.sum, x.n = x.sum+float64(days), x.n+1
		}
	}
}

// mean is the mean of the drawn days.
func (x *duration) mean() float64 { return x.sum / x.n }

func (x *duration) summary() *DaySpread {
	n := len(x.days)
	sorted := slices.Clone(x.days)
	sort.Ints(sorted)
	sum := 0
	for _, v := range sorted {
		sum += v
	}
	at := func(p float64) int { return sorted[int(p*float64(n))] }
	return &DaySpread{Draws: n, Mean: float64(sum) / float64(n), P10: at(0.1), P50: at(0.5), P90: at(0.9)}
}

// dayDrivers are the waits and skills that move the days of the best route by more
// than three standard errors of the draws, the strongest first.
func (d *drawing) dayDrivers() []DayDriver {
	if d.days == nil || d.days[0] == nil {
		return nil
	}
	x := d.days[0]
	var out []DayDriver
	weigh := func(name string, values []float64) {
		sorted := slices.Clone(values)
		sort.Float64s(sorted)
		n := len(sorted)
		low, high := sorted[n/10], sorted[n-1-n/10]
		if low == high {
			return
		}
		var at [2]tally
		for i, v := range values {
			switch {
			case v <= low:
				at[0].add(float64(x.days[i]))
			case v >= high:
				at[1].add(float64(x.days[i]))
			}
		}
		if a, b := at[0].mean(), at[1].mean(); math.Abs(b-a) > 3*math.Sqrt(at[0].error2()+at[1].error2()) {
			out = append(out, DayDriver{name, d.title(name), a, b})
		}
	}
	for _, w := range x.waits {
		weigh(d.waits[w].kind.Name, d.drawn(d.waits[w].line, d.waitStream(w)))
	}
	for l, id := range d.ids {
		if slices.Contains(x.labour, l) {
			weigh(id, d.drawn(d.lines[l], l))
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].High-out[i].Low > out[j].High-out[j].Low })
	return out[:min(len(out), 8)]
}

// tally is a sum of numbers and of their squares.
type tally struct{ n, sum, squares float64 }

func (t *tally) add(v float64) { t.n, t.sum, t.squares = t.n+1, t.sum+v, t.squares+float64(v*v) }

func (t *tally) mean() float64 { return t.sum / t.n }

// error2 is the squared standard error of the mean.
func (t *tally) error2() float64 {
	m := t.mean()
	return (t.squares/t.n - float64(m*m)) / t.n
}

// drawn are a line's values in the draws that days are worked out for.
func (d *drawing) drawn(l *line, number int) []float64 {
	factors := make([][]float64, len(d.factors))
	for i := range factors {
		factors[i] = make([]float64, dayDraws)
		normals(stream(d.seed, len(d.lines)+i), 0, factors[i])
	}
	out := make([]float64, dayDraws)
	l.values(stream(d.seed, number), 0, factors, out)
	return out
}

// waitStream is the stream of a wait: after those of lines, factors and risks.
func (d *drawing) waitStream(w int) int { return len(d.lines) + len(d.factors) + 2*len(d.risks) + w }
