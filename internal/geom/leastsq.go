package geom

import (
	"fmt"
	"math"

	"fettle/internal/diag"
)

// Model is a least squares problem: f fills r with m residuals at x and, row
// by row, jac with their derivatives by the n unknowns.
type Model func(x, r, jac []float64)

// Solution is the minimum of a least squares problem.
type Solution struct {
	X     []float64
	SS    float64 // sum of squared residuals
	DOF   int
	Steps int
	inv   *symmetric // (J'J)^-1
}

// Cov is the covariance of unknowns i and j for residuals of variance 1.
func (s *Solution) Cov(i, j int) float64 { return s.inv.at(i, j) }

// Std is the standard deviation of unknown i with the variance taken from the
// residuals: sqrt(SS/DOF Cov(i,i)).
func (s *Solution) Std(i int) float64 {
	return math.Sqrt(s.SS / float64(s.DOF) * s.inv.at(i, i))
}

const maxLMSteps = 500

// LeastSquares minimises the sum of squares of m residuals from x0.
//
// Method: Levenberg-Marquardt with the damping scaled by the diagonal of J'J
// (Marquardt 1963; from memory). It stops when the step is below 1e-12 of the
// unknowns with no damping left, or when four steps in a row gain nothing, and
// refuses when the unknowns are not determined.
func LeastSquares(f Model, x0 []float64, m int) (*Solution, error) {
	n := len(x0)
	if m < n {
		return nil, refuse("%d residuals cannot determine %d unknowns", m, n)
	}
	p := &lm{f: f, n: n, m: m, x: append([]float64(nil), x0...), r: make([]float64, m), jac: make([]float64, m*n), lambda: 1e-3}
	f(p.x, p.r, p.jac)
	p.ss = dotSelf(p.r)
	for step := 1; step <= maxLMSteps; step++ {
		done, err := p.step()
		if err != nil {
			return nil, err
		}
		if done {
			return p.finish(step)
		}
	}
	return nil, &diag.Error{Kind: diag.Invalid, Op: "geom.LeastSquares", Msg: fmt.Sprintf("no minimum found in %d steps", maxLMSteps), Hint: "start nearer to it"}
}

type lm struct {
	f         Model
	n, m      int
	x, r, jac []float64
	ss        float64
	lambda    float64
	flat      int // steps in a row that gained nothing
}

func dotSelf(v []float64) float64 {
	s := 0.0
	for _, a := range v {
		s += float64(a * a)
	}
	return s
}

// normals is J'J and -J'r.
func (p *lm) normals() (*symmetric, []float64) {
	q, g := newSymmetric(p.n), make([]float64, p.n)
	for k := 0; k < p.m; k++ {
		row := p.jac[k*p.n : (k+1)*p.n]
		for i, a := range row {
			g[i] -= float64(a * p.r[k])
			for j := 0; j <= i; j++ {
				q.a[i*p.n+j] += float64(a * row[j])
			}
		}
	}
	return q, g
}

// step tries one step, with more damping until the sum falls.
func (p *lm) step() (done bool, err error) {
	for p.lambda <= 1e12 {
		q, g := p.normals()
		for i := 0; i < p.n; i++ {
			q.a[i*p.n+i] *= 1 + p.lambda
		}
		if q.factor() >= 0 {
			p.lambda *= 10
			continue
		}
		q.solve(g)
		x, small := make([]float64, p.n), true
		for i := range x {
			x[i] = p.x[i] + g[i]
			small = small && math.Abs(g[i]) <= 1e-12*(math.Abs(x[i])+1e-12)
		}
		r, jac := make([]float64, p.m), make([]float64, p.m*p.n)
		p.f(x, r, jac)
		ss := dotSelf(r)
		if ss <= p.ss+float64(1e-14*p.ss) || (small && !math.IsNaN(ss)) { // rounding is no rise
			if p.ss-ss > 1e-14*p.ss {
				p.flat = 0
			} else {
				p.flat++
			}
			settled := (small && p.lambda < 1e-6) || p.flat >= 4
			p.x, p.r, p.jac, p.ss = x, r, jac, math.Min(ss, p.ss)
			p.lambda = math.Max(1e-15, p.lambda/10)
			return settled, nil
		}
		p.lambda *= 10
	}
	return true, nil // no direction goes down any more
}

func (p *lm) finish(steps int) (*Solution, error) {
	q, _ := p.normals()
	if bad := q.factor(); bad >= 0 {
		return nil, refuse("unknown %d is not determined", bad+1)
	}
	q.invert()
	return &Solution{X: p.x, SS: p.ss, DOF: p.m - p.n, Steps: steps, inv: q}, nil
}
