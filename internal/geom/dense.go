package geom

import "math"

// symmetric is a dense symmetric matrix of which the lower triangle is used,
// row by row.
type symmetric struct {
	n int
	a []float64
}

func newSymmetric(n int) *symmetric { return &symmetric{n, make([]float64, n*n)} }

func (m *symmetric) at(i, j int) float64 {
	if j > i {
		i, j = j, i
	}
	return m.a[i*m.n+j]
}

func (m *symmetric) add(i, j int, v float64) {
	if j > i {
		i, j = j, i
	}
	m.a[i*m.n+j] += v
}

// rankTolerance is the share of its first value below which a pivot counts as
// zero: the unknown is then not determined by the observations.
const rankTolerance = 1e-11

// factor turns m into its Cholesky factor L in place. The second result is
// the first unknown that is not determined, or -1.
func (m *symmetric) factor() int {
	n := m.n
	for j := 0; j < n; j++ {
		rowj := m.a[j*n : j*n+j+1]
		first := rowj[j]
		s := first
		for _, v := range rowj[:j] {
			s -= float64(v * v)
		}
		if !(s > rankTolerance*first) || math.IsInf(s, 0) {
			return j
		}
		d := math.Sqrt(s)
		rowj[j] = d
		for i := j + 1; i < n; i++ {
			rowi := m.a[i*n : i*n+j+1]
			t := rowi[j]
			for k, v := range rowj[:j] {
				t -= float64(rowi[k] * v)
			}
			rowi[j] = t / d
		}
	}
	return -1
}

// solve is the x with L L' x = b, in place.
func (m *symmetric) solve(b []float64) {
	n := m.n
	m.forward(b)
	for i := n - 1; i >= 0; i-- {
		b[i] /= m.a[i*n+i]
		row := m.a[i*n : i*n+i]
		for k, v := range row {
			b[k] -= float64(v * b[i])
		}
	}
}

// forward is the x with L x = b, in place.
func (m *symmetric) forward(b []float64) {
	n := m.n
	for i := 0; i < n; i++ {
		row := m.a[i*n : i*n+i+1]
		t := b[i]
		for k, v := range row[:i] {
			t -= float64(v * b[k])
		}
		b[i] = t / row[i]
	}
}

// invert turns a factor L into (L L')^-1, in place.
func (m *symmetric) invert() {
	n := m.n
	for j := 0; j < n; j++ { // L -> L^-1
		m.a[j*n+j] = 1 / m.a[j*n+j]
		for i := j + 1; i < n; i++ {
			t := 0.0
			for k := j; k < i; k++ {
				t -= float64(m.a[i*n+k] * m.a[k*n+j])
			}
			m.a[i*n+j] = t / m.a[i*n+i]
		}
	}
	out := make([]float64, n*n)
	for k := 0; k < n; k++ { // sum over rows k of L^-1
		row := m.a[k*n : k*n+k+1]
		for i, v := range row {
			if v == 0 {
				continue
			}
			dst := out[i*n : i*n+i+1]
			for j := range dst {
				dst[j] += float64(v * row[j])
			}
		}
	}
	m.a = out
}
