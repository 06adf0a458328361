package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The eigenvalues of 1 0; 0 1 beside those of 2 1; 1 2 (1 and 3), and random matrices put
// together again from theirs: A = sum of value v v', the v at right angles and of length one.
func TestSymEigenNRebuilds(t *testing.T) {
	values, _ := SymEigenN([][]float64{{2, 0, 1}, {0, 0, 0}, {1, 0, 2}})
	for i, want := range []float64{0, 1, 3} {
		if math.Abs(values[i]-want) > 1e-14 {
			t.Errorf("values %v", values)
		}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= 24; n++ {
		a, b := make([][]float64, n), make([][]float64, n)
		for i := range a {
			a[i], b[i] = make([]float64, n), make([]float64, n)
		}
		for range n/2 + 1 { // of low rank, as networks are
			g := make([]float64, n)
			for i := range g {
				g[i] = rng.NormFloat64()
			}
			for i := range a {
				for j := range a {
					a[i][j] += float64(g[i] * g[j])
				}
			}
		}
		for i := range a {
			copy(b[i], a[i])
		}
		values, vectors := SymEigenN(b)
		for i := range a {
			if i > 0 && values[i] < values[i-1] {
				t.Fatalf("n %d: not in order: %v", n, values)
			}
			for j := range a {
				sum, dot := 0.0, 0.0
				for k := range a {
					sum += float64(values[k] * vectors[k][i] * vectors[k][j])
					dot += float64(vectors[i][k] * vectors[j][k])
				}
				want := 0.0
				if i == j {
					want = 1
				}
				if math.Abs(sum-a[i][j]) > 1e-11 || math.Abs(dot-want) > 1e-12 {
					t.Fatalf("n %d, %d %d: %v for %v, product %v", n, i, j, sum, a[i][j], dot)
				}
			}
		}
	}
}
