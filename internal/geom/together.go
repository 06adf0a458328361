package geom

import "math"

// Correlated says that the errors of the points depend on one another: cov(i, j) is
// the covariance of the differences to - from of points i and j, in the to frame.
// Splits and bends are then weighed by it. Points that were located over a set-up
// which shares few points with the others share the error of its pose, and taken for
// independent they look like a section that moved, or a bend.
func (x *Matcher) Correlated(cov func(i, j int) Mat3) { x.together = cov }

// misfitOf is the misfit of blocks: of each by itself, or of all together where
// errors depend on one another.
func (x *Matcher) misfitOf(blocks []Block) float64 {
	sum := 0.0
	var members []int
	for k := range blocks {
		sum += blocks[k].Fit.Chi2
		members = append(members, blocks[k].Set.Members()...)
	}
	if x.together == nil {
		return sum
	}
	cols := newColumns(6*len(blocks), 3*len(members))
	at := 0
	for k := range blocks {
		f := &blocks[k].Fit
		for _, i := range blocks[k].Set.Members() {
			v := x.m.To[i].Sub(f.Motion.Apply(x.m.From[i]))
			turn := Skew(f.Motion.R.MulVec(x.m.From[i].Sub(f.Centroid))).Scale(-1)
			for a := range 3 {
				cols.last()[at+a], cols[6*k+a][at+a] = v[a], 1
				for b := range 3 {
					cols[6*k+3+b][at+a] = turn[a][b]
				}
			}
			at += 3
		}
	}
	if l, ok := x.leastTogether(members, cols); ok {
		return l.chi2
	}
	return sum
}

// Misfit is what a set costs as one rigid block, without its parameters.
func (x *Matcher) Misfit(set Set) (float64, bool) {
	b, err := x.Evaluate(set)
	if err != nil {
		return 0, false
	}
	return x.misfitOf([]Block{b}), true
}

// columns are the derivatives by each parameter, and the differences as the last.
type columns [][]float64

func newColumns(parameters, rows int) columns {
	c := make(columns, parameters+1)
	for k := range c {
		c[k] = make([]float64, rows)
	}
	return c
}

func (c columns) last() []float64 { return c[len(c)-1] }

// least is a least squares solution: parameters, inverse of the normal matrix and
// misfit.
type least struct {
	by   []float64
	inv  *symmetric
	chi2 float64
}

// leastTogether solves min (v - J b)' S^-1 (v - J b) with S the whole covariance of
// the listed points (generalised least squares, Aitken 1936, from memory). cols are
// changed.
func (x *Matcher) leastTogether(members []int, cols columns) (least, bool) {
	s := newSymmetric(3 * len(members))
	for i, p := range members {
		for j := range i + 1 {
			m := x.together(p, members[j])
			for a := range m {
				for b := range m[a] {
					if 3*i+a >= 3*j+b {
						s.a[(3*i+a)*s.n+3*j+b] = m[a][b]
					}
				}
			}
		}
	}
	if s.factor() >= 0 {
		return least{}, false
	}
	for k := range cols {
		s.forward(cols[k])
	}
	p := len(cols) - 1
	n, b := newSymmetric(p), make([]float64, p)
	for i := range p {
		b[i] = dot(cols[i], cols[p])
		for j := range i + 1 {
			n.a[i*p+j] = dot(cols[i], cols[j])
		}
	}
	rhs := append([]float64(nil), b...)
	if n.factor() >= 0 {
		return least{}, false
	}
	n.solve(b)
	out := least{by: b, inv: n, chi2: math.Max(0, dot(cols[p], cols[p])-dot(b, rhs))}
	n.invert()
	return out, true
}
