package geom

import (
	"math"
	"slices"
)

// symmetric is a dense symmetric matrix of which the lower triangle is used,
// row by row.
type symmetric struct {
	n int
	a []float64
}

func newSymmetric(n int) *symmetric { return &symmetric{n, make([]float64, n*n)} }

func (m *symmetric) at(i, j int) float64 {
	return m.a[max(i, j)*m.n+min(i, j)]
}

func (m *symmetric) add(i, j int, v float64) {
	m.a[max(i, j)*m.n+min(i, j)] += float64(v)
}

// rankTolerance is the share of its first value below which a pivot counts as
// zero: the unknown is then not determined by the observations.
const rankTolerance = 1e-11

// starts is the first column of every row that holds anything; what lies before it
// stays empty in the Cholesky factor. A point has entries of its own and of what
// was observed together with it only, so that in a network most of the matrix is
// before the starts, and is passed over.
func (m *symmetric) starts() []int {
	out := make([]int, m.n)
	for i := range out {
		row := m.a[i*m.n : i*m.n+i]
		k := 0
		for k < i && row[k] == 0 {
			k++
		}
		out[i] = k
	}
	return out
}

// factor turns m into its Cholesky factor L in place. The second result is
// the first unknown that is not determined, or -1.
func (m *symmetric) factor() int {
	n, from := m.n, m.starts()
	for j := 0; j < n; j++ {
		rowj := m.a[j*n : j*n+j+1]
		first := rowj[j]
		s := first
		for _, v := range rowj[from[j]:j] {
			s -= float64(v * v)
		}
		if !(s > rankTolerance*first) || math.IsInf(s, 1) {
			return j
		}
		d := math.Sqrt(s)
		rowj[j] = d
		for i := j + 1; i < n; i++ {
			if from[i] > j {
				continue
			}
			rowi := m.a[i*n : i*n+j+1]
			t := rowi[j]
			begin := max(from[i], from[j])
			for k, v := range rowj[begin:j] {
				t -= float64(rowi[begin+k] * v)
			}
			rowi[j] = t / d
		}
	}
	return none
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
	n, from := m.n, m.starts()
	row := make([]float64, n)
	for i := 0; i < n; i++ { // L -> L^-1, row by row
		l := m.a[i*n : i*n+i+1]
		begin := slices.Min(from[from[i] : i+1])
		t := row[begin:i]
		clear(t)
		for k := from[i]; k < i; k++ {
			if l[k] == 0 {
				continue
			}
			for j, v := range m.a[k*n+from[k] : k*n+k+1] {
				row[from[k]+j] -= float64(l[k] * v)
			}
		}
		d := l[i]
		from[i] = begin
		for j, v := range t {
			l[begin+j] = v / d
		}
		l[i] = 1 / d
	}
	out := make([]float64, n*n)
	for k := 0; k < n; k++ { // sum over rows k of L^-1
		row := m.a[k*n : k*n+k+1]
		for i := from[k]; i <= k; i++ {
			v := row[i]
			if v == 0 {
				continue
			}
			dst := out[i*n+from[k] : i*n+i+1]
			for j := range dst {
				dst[j] += float64(v * row[from[k]+j])
			}
		}
	}
	m.a = out
}
