package geom

import "math"

// PointCov is the covariance of points a and b: of one point when a = b; zero
// when either is fixed.
func (s *NetResult) PointCov(a, b int) Mat3 {
	var m Mat3
	i, j := s.point[a], s.point[b]
	if i < 0 || j < 0 {
		return m
	}
	for r := 0; r < 3; r++ {
		for c := 0; c < 3; c++ {
			m[r][c] = s.q.at(i+r, j+c)
		}
	}
	return m
}

// PoseCov is the covariance of a pose as a small motion about its centre, in
// the device frame; zero when the pose is fixed.
func (s *NetResult) PoseCov(k int) Mat6 {
	var m Mat6
	at := s.pose[k]
	if at < 0 {
		return m
	}
	for r := 0; r < 6; r++ {
		for c := 0; c < 6; c++ {
			m[r][c] = s.q.at(at+r, at+c)
		}
	}
	return m
}

// OwnCov is the covariance of point p from the observations in rows alone,
// everything else held where it is; infinite when they do not fix p.
func (s *NetResult) OwnCov(nw *Network, p int, rows []int) Mat3 {
	if _, inv, ok := s.own(nw, p, rows); ok {
		return inv
	}
	return Isotropic(math.Inf(1))
}

// own is the derivative by p of each row, also when p is fixed, and the
// inverse of their normal matrix.
func (s *NetResult) own(nw *Network, p int, rows []int) (jp []Vec, inv Mat3, ok bool) {
	jp = make([]Vec, len(rows))
	var n Mat3
	for i, r := range rows {
		jp[i] = nw.byPoint(s, &nw.Obs[r], p)
		n = n.Add(Outer(jp[i], jp[i]))
	}
	if w, _ := SymEigen(n); !(w[2] > 1e-9*w[0]) {
		return jp, inv, false
	}
	inv, ok = n.Inverse()
	return jp, inv, ok
}

// Replace is the estimate of point p that the observations in rows give when
// everything else stays at the solution, minus the prior position at (its
// "shift"), with its covariance, for an observation set in which prior lists
// the rows that tie p to at. ok is false when the rows do not fix p.
//
// Formula: with A = (J_p' J_p)^-1 J_p' over the rows (whitened), the shift is
// A v + (x_p - at) and its covariance follows from cov(v) = I - J Q J'.
func (s *NetResult) Replace(nw *Network, p int, rows, prior []int, at Vec) (Vec, Mat3, bool) {
	k := len(rows)
	jp, inv, ok := s.own(nw, p, rows)
	if !ok {
		return Vec{}, Mat3{}, false
	}
	shift := s.Points[p].Sub(at)
	all := append(append([]int(nil), rows...), prior...)
	lin := make([]Vec, len(all)) // shift = sum lin_i l_i + constant
	for i, r := range rows {
		lin[i] = inv.MulVec(jp[i])
		shift = shift.Add(lin[i].Scale(s.jac[r].l))
	}
	for i, r := range prior { // l = (at - x_p)/std on one axis: x_p - at = -std l
		o := &nw.Obs[r]
		var e Vec
		e[o.Axis] = -o.Std
		lin[k+i] = e
	}
	var cov Mat3
	for i, a := range all {
		for j, b := range all {
			c := -s.cross(&s.jac[a], &s.jac[b])
			if i == j {
				c++
			}
			cov = cov.Add(Outer(lin[i], lin[j]).Scale(c))
		}
	}
	return shift, cov.Symmetric(), true
}

// cross is J_a Q J_b'.
func (s *NetResult) cross(a, b *netRow) float64 {
	sum := 0.0
	for i := 0; i < a.n; i++ {
		for j := 0; j < b.n; j++ {
			sum += float64(a.val[i] * b.val[j] * s.q.at(a.idx[i], b.idx[j]))
		}
	}
	return sum
}

// byPoint is the whitened derivative of an observation by point p.
func (nw *Network) byPoint(s *NetResult, o *NetObs, p int) Vec {
	a, b := s.gradients(o)
	var v Vec
	if o.A == p {
		v = a
	}
	if o.Kind != NetCoordinate && o.B == p {
		v = v.Add(b)
	}
	return v
}
