package compare

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/normal"
)

// Draws are made by counter: the number drawn for a line in a draw depends on
// the seed, the line and the draw alone, so that the order of work, its division
// and the machine change nothing.

// mix64 is one step of SplitMix64 (Steele, Lea & Flood 2014).
func mix64(z uint64) uint64 {
	z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9
	z = (z ^ (z >> 27)) * 0x94D049BB133111EB
	return z ^ (z >> 31)
}

const golden = 0x9E3779B97F4A7C15

// stream is where a line's numbers begin.
func stream(seed uint64, line int) uint64 {
	return mix64(mix64(seed+golden) + uint64(line+1)*golden)
}

// The standard normal quantile is taken from a table of equal probabilities,
// linear between its nodes; in the outermost cells, where it bends, it is
// computed.
const (
	cellBits = 12
	cells    = 1 << cellBits
	outer    = 24
)

var normalNodes = func() [cells + 1]float64 {
	var out [cells + 1]float64
	for i := 1; i < cells; i++ {
		out[i] = normal.Quantile(float64(i) / cells)
	}
	out[0], out[cells] = -9, 9
	return out
}()

// normals fills out with standard normal numbers, the first for the draw of that
// number.
func normals(from uint64, first int, out []float64) {
	z := from + uint64(first)*golden
	for i := range out {
		z += golden
		x := mix64(z)
		cell := x >> (64 - cellBits)
		share := float64(float64(x<<cellBits>>11) * (1.0 / (1 << 53)))
		if cell-outer < cells-2*outer {
			lo := normalNodes[cell]
			out[i] = lo + float64(share*(normalNodes[cell+1]-lo))
			continue
		}
		out[i] = normal.Quantile(min((float64(cell)+share+0x1p-54)/cells, 1-0x1p-53))
	}
}

// reach is how far the tables of lines go, in standard deviations of the normal
// number behind them; beyond it lies one draw in 5e8.
const (
	reach = 6.0
	knots = 1024
)

// line is one uncertain amount. Its value is its quantile at the share that a
// standard normal number has below it; that number is a weighted sum of common
// factors and of one of its own.
type line struct {
	table [knots + 2]float64 // the quantile over the normal number, at equal steps
	loads []loading
	own   float64 // weight of its own number: sqrt(1 - sum of squares of loads)
}

type loading struct {
	factor int
	weight float64
}

// newLine tables a quantile function.
func newLine(quantile func(p float64) float64, loads ...loading) *line {
	l := &line{loads: loads}
	for i := range l.table {
		z := -reach + 2*reach*float64(i)/knots
		l.table[i] = quantile(normal.CDF(z))
	}
	rest := 1.0
	for _, x := range loads {
		rest -= float64(x.weight * x.weight)
	}
	l.own = math.Sqrt(max(0, rest))
	return l
}

// values fills out with the line's values, the first for the draw of that number.
// factors are the common numbers of the same draws.
func (l *line) values(from uint64, first int, factors [][]float64, out []float64) {
	normals(from, first, out)
	if l.own != 1 {
		for i := range out {
			out[i] *= l.own
		}
	}
	for _, x := range l.loads {
		f := factors[x.factor][:len(out)]
		for i := range out {
			out[i] += float64(x.weight * f[i])
		}
	}
	const perZ = knots / (2 * reach)
	for i, z := range out {
		u := float64((min(max(z, -reach), reach) + reach) * perZ)
		k := int(u)
		a := l.table[k]
		out[i] = a + float64((u-float64(k))*(l.table[k+1]-a))
	}
}

// triangular is the quantile of the triangular distribution.
func triangular(low, likely, high float64) func(p float64) float64 {
	if high <= low {
		return func(float64) float64 { return likely }
	}
	peak := (likely - low) / (high - low)
	return func(p float64) float64 {
		if p < peak {
			return low + math.Sqrt(p*(high-low)*(likely-low))
		}
		return high - math.Sqrt((1-p)*(high-low)*(high-likely))
	}
}

// triangularTenths is the triangular quantile of which one in ten lies below low
// and one in ten above high: its ends are found by fixed point iteration of
// (low - a)^2 = 0.1 (b - a)(m - a) and (b - high)^2 = 0.1 (b - a)(b - m). A likely
// value at an end of the range counts as that end.
func triangularTenths(low, likely, high float64) func(p float64) float64 {
	a, b := low, high
	for range 200 {
		a = low - math.Sqrt(0.1*(b-a)*max(0, likely-a))
		b = high + math.Sqrt(0.1*(b-a)*max(0, b-likely))
	}
	return triangular(a, likely, b)
}

// lognormal is the quantile of the lognormal distribution with this mean and
// coefficient of variation.
func lognormal(mean, cv float64) func(p float64) float64 {
	s2 := elem.Log1p(cv * cv)
	mu, s := elem.Log(mean)-s2/2, math.Sqrt(s2)
	return func(p float64) float64 { return elem.Exp(mu + float64(s*normal.Quantile(p))) }
}

// rectangular is the quantile of the rectangular distribution.
func rectangular(low, high float64) func(p float64) float64 {
	return func(p float64) float64 { return low + float64(p*(high-low)) }
}
