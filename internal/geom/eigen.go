package geom

import (
	"cmp"
	"slices"
)

// SymEigenN is the eigenvalues of a symmetric matrix of n rows, the smallest first, and its
// eigenvectors as rows in that order: cyclic Jacobi rotations (Golub and Van Loan, from
// memory). a is used up.
func SymEigenN(a [][]float64) (values []float64, vectors [][]float64) {
	n := len(a)
	v := make([][]float64, n)
	for i := range v {
		v[i] = make([]float64, n)
		v[i][i] = 1
	}
	for range 60 {
		off, all := 0.0, 0.0
		for i := range a {
			for j := range i {
				off += float64(a[i][j] * a[i][j])
			}
			all += float64(a[i][i] * a[i][i])
		}
		if !(off > 1e-28*all) {
			break
		}
		for q := 1; q < n; q++ {
			for p := range q {
				rotateAway(a, v, p, q)
			}
		}
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(a[i][i], a[j][j]) })
	for _, i := range order {
		values, vectors = append(values, a[i][i]), append(vectors, v[i])
	}
	return values, vectors
}

// rotateAway turns rows and columns p and q of a so that a[p][q] becomes 0.
func rotateAway(a, v [][]float64, p, q int) {
	if a[p][q] == 0 {
		return
	}
	c, s := jacobiAngle(a[p][p], a[q][q], a[p][q])
	for k := range a {
		x, y := a[k][p], a[k][q]
		a[k][p], a[k][q] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
	for _, m := range [][][]float64{a, v} {
		for k := range m[p] {
			x, y := m[p][k], m[q][k]
			m[p][k], m[q][k] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
		}
	}
}
