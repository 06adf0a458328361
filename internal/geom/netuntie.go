package geom

// Untie is how far point p lies elsewhere in the observations of rows than in all
// the others, with its covariance: what an adjustment gives in which p is another
// point for these rows. ok is false when it cannot be told in every direction.
//
// Formula: with J_p the derivatives of the rows by p (whitened) and l what is left
// of them at the solution, M = J_p' (I - J Q J') J_p, the displacement is
// M^-1 J_p' l and its covariance M^-1 (Baarda 1968, the test for several errors;
// from memory). Its length in units of that covariance is the test "one point or
// two", and the covariance is positive by construction: I - J Q J' is a
// projection.
func (s *NetResult) Untie(nw *Network, p int, rows []int) (d Vec, cov Mat3, ok bool) {
	jp, full, ok := s.own(nw, p, rows)
	if !ok {
		return d, cov, false
	}
	var m Mat3
	var b Vec
	for i, r := range rows {
		b = b.Add(jp[i].Scale(s.jac[r].l))
		for k, q := range rows {
			c := -s.cross(&s.jac[r], &s.jac[q])
			if i == k {
				c++
			}
			m = m.Add(Outer(jp[i], jp[k]).Scale(c))
		}
	}
	cov, ok = m.Symmetric().Inverse()
	if !ok {
		return d, cov, false
	}
	cov = cov.Symmetric()
	least, _ := SymEigen(full)
	most, _ := SymEigen(cov)
	if !(most[2] > 0) || !(most[0]*MinControl < least[0]) {
		return d, cov, false
	}
	return cov.MulVec(b), cov, true
}
