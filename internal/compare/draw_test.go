package compare

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/normal"
)

// sum draws the sum of lines; factor k has the stream after the lines'.
func sum(n int, seed uint64, factors int, lines ...*line) []float64 {
	const chunk = 1024
	out, work := make([]float64, n), make([]float64, chunk)
	common := make([][]float64, factors)
	for k := range common {
		common[k] = make([]float64, chunk)
	}
	for first := 0; first < n; first += chunk {
		size := min(chunk, n-first)
		for k := range common {
			normals(stream(seed, len(lines)+k), first, common[k][:size])
		}
		for l, x := range lines {
			x.values(stream(seed, l), first, common, work[:size])
			for i, v := range work[:size] {
				out[first+i] += v
			}
		}
	}
	return out
}

func moments(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

func above(x []float64, limit float64) float64 {
	n := 0
	for _, v := range x {
		if v > limit {
			n++
		}
	}
	return float64(n) / float64(len(x))
}

func quantile(x []float64, p float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[int(p*float64(len(s)))]
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, want %.6g within %.2g", what, got, want, tol)
	}
}

const tries = 400_000

// The triangular distribution (1000, 1500, 3000): mean 1833.333, variance
// 180555.556, quantiles 1316.2278, 1775.2551, 2225.4033, 2452.2774, and one
// third above 2000, by its closed forms.
func TestTriangularDraws(t *testing.T) {
	x := sum(tries, 1, 0, newLine(triangular(1000, 1500, 3000)))
	mean, sd := moments(x)
	near(t, "mean", mean, 1833.3333, 3)
	near(t, "sd", sd, 424.9183, 2)
	for p, want := range map[float64]float64{0.1: 1316.2278, 0.5: 1775.2551, 0.8: 2225.4033, 0.9: 2452.2774} {
		near(t, "quantile", quantile(x, p), want, 4)
	}
	near(t, "above 2000", above(x, 2000), 1.0/3, 0.003)
	q := triangularTenths(1316.2278, 1500, 2452.2774)
	near(t, "low end from tenths", q(0), 1000, 0.01)
	near(t, "high end from tenths", q(1), 3000, 0.01)
}

// Two lognormal amounts, means 4000 and 2500, coefficients of variation 0.20
// and 0.35, the logarithms correlated by rho: standard deviation of the sum and
// chances above 7500 and 8000 recomputed by quadrature with SciPy (constructed).
// Independence understates the spread.
func TestLognormalSumDraws(t *testing.T) {
	for _, c := range []struct{ rho, sd, p75, p80, q80 float64 }{
		{0, 1185.590, 0.186553, 0.106913, 7433.283},
		{0.3, 1346.724, 0.209230, 0.131168, 7550.508},
		{0.8, 1585.028, 0.234468, 0.160959, 7716.147},
	} {
		w := loading{0, math.Sqrt(c.rho)}
		x := sum(tries, 2, 1, newLine(lognormal(4000, 0.20), w), newLine(lognormal(2500, 0.35), w))
		mean, sd := moments(x)
		near(t, "mean", mean, 6500, 10)
		near(t, "sd", sd, c.sd, 8)
		near(t, "above 7500", above(x, 7500), c.p75, 0.0025)
		near(t, "above 8000", above(x, 8000), c.p80, 0.002)
		near(t, "80 % quantile", quantile(x, 0.8), c.q80, 12)
	}
}

// GUM (JCGM 100:2008) annex H.2, resistance and reactance from voltage, current
// and phase measured together: R = 127.732, u 0.071; X = 219.847, u 0.295; Z =
// 254.260, u 0.236; r(R,X) = -0.588, r(R,Z) = -0.485, r(X,Z) = 0.993. The
// correlations of the means, -0.355, 0.858 and -0.645, are made by three factors.
func TestCorrelatedDrawsGUMH2(t *testing.T) {
	normal := func(mean, u float64) func(float64) float64 {
		return func(p float64) float64 { return mean + u*normal.Quantile(min(max(p, 1e-12), 1-1e-12)) }
	}
	l21, l31 := -0.355, 0.858
	l22 := math.Sqrt(1 - l21*l21)
	l32 := (-0.645 - l21*l31) / l22
	l33 := math.Sqrt(1 - l31*l31 - l32*l32)
	lines := []*line{
		newLine(normal(4.9990, 0.0032), loading{0, 1}),
		newLine(normal(0.0196610, 0.0000095), loading{0, l21}, loading{1, l22}),
		newLine(normal(1.04446, 0.00075), loading{0, l31}, loading{1, l32}, loading{2, l33})}
	n := tries
	common := make([][]float64, 3)
	for k := range common {
		common[k] = make([]float64, n)
		normals(stream(3, 10+k), 0, common[k])
	}
	v := make([][]float64, 3)
	for i, l := range lines {
		v[i] = make([]float64, n)
		l.values(stream(3, i), 0, common, v[i])
	}
	r, x, z := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		z[i] = v[0][i] / v[1][i]
		r[i], x[i] = z[i]*math.Cos(v[2][i]), z[i]*math.Sin(v[2][i])
	}
	for _, c := range []struct {
		name        string
		x           []float64
		mean, u, um float64
	}{{"R", r, 127.732, 0.071, 0.001}, {"X", x, 219.847, 0.295, 0.002}, {"Z", z, 254.260, 0.236, 0.002}} {
		mean, sd := moments(c.x)
		near(t, c.name, mean, c.mean, 0.003)
		near(t, "u of "+c.name, sd, c.u, c.um)
	}
	near(t, "r(R,X)", correlation(r, x), -0.588, 0.02)
	near(t, "r(R,Z)", correlation(r, z), -0.485, 0.02)
	near(t, "r(X,Z)", correlation(x, z), 0.993, 0.002)
}

func correlation(x, y []float64) float64 {
	mx, sx := moments(x)
	my, sy := moments(y)
	c := 0.0
	for i := range x {
		c += (x[i] - mx) * (y[i] - my) / float64(len(x)-1)
	}
	return c / sx / sy
}

// JCGM 101:2008, 9.2.3: four equal rectangular inputs of standard uncertainty 1:
// u = 2.0, 95 % interval ±3.88; and the fourth with 10: u = 10.1, ±17.0 (9.2.4).
// From memory of the published tables, recomputed with SciPy.
func TestRectangularDrawsJCGM101(t *testing.T) {
	w := math.Sqrt(3)
	one := func() *line { return newLine(rectangular(-w, w)) }
	for _, c := range []struct {
		last       *line
		u, half, e float64
	}{{one(), 2, 3.88, 0.02}, {newLine(rectangular(-10*w, 10*w)), 10.15, 17.0, 0.1}} {
		x := sum(tries, 4, 0, one(), one(), one(), c.last)
		_, sd := moments(x)
		near(t, "u", sd, c.u, c.e)
		near(t, "half of the 95 % interval", (quantile(x, 0.975)-quantile(x, 0.025))/2, c.half, c.e)
	}
}

// Lognormal, mean 6000, coefficient of variation 0.25: 80 % quantile 7161.158, 95 %
// 8727.196 by its closed form.
func TestLognormalDraws(t *testing.T) {
	x := sum(tries, 5, 0, newLine(lognormal(6000, 0.25)))
	near(t, "80 %", quantile(x, 0.8), 7161.158, 12)
	near(t, "95 %", quantile(x, 0.95), 8727.196, 25)
}

// Law: how the draws are divided changes no number, and the numbers are normal:
// mean 0, standard deviation 1, kurtosis 3, shares of the tails as tabled.
func TestNormalsByCounter(t *testing.T) {
	n := 1 << 20
	all := make([]float64, n)
	normals(stream(6, 0), 0, all)
	part := make([]float64, 1000)
	normals(stream(6, 0), 777, part)
	if !slices.Equal(part, all[777:1777]) {
		t.Error("another division gives other numbers")
	}
	mean, sd := moments(all)
	near(t, "mean", mean, 0, 0.004)
	near(t, "sd", sd, 1, 0.003)
	four := 0.0
	for _, v := range all {
		four += v * v * v * v / float64(n)
	}
	near(t, "fourth moment", four, 3, 0.05)
	near(t, "above 2", above(all, 2), 0.022750, 0.0006)
	near(t, "above 3", above(all, 3), 0.0013499, 0.00015)
	near(t, "above 4", above(all, 4), 0.00003167, 0.00002)
}

// BenchmarkMillionDraws200Lines is 100 triangular and 100 lognormal lines with one
// common factor, rho 0.3, drawn a million times.
func BenchmarkMillionDraws200Lines(b *testing.B) {
	w := loading{0, math.Sqrt(0.3)}
	var lines []*line
	for i := range 200 {
		base := 20 + float64(i)
		if i < 100 {
			lines = append(lines, newLine(triangular(0.7*base, base, 1.8*base), w))
		} else {
			lines = append(lines, newLine(lognormal(base, 0.3), w))
		}
	}
	for b.Loop() {
		sum(1_000_000, 7, 1, lines...)
	}
}
