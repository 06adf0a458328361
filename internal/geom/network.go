package geom

import (
	"fmt"
	"math"

	"fettle/internal/diag"
)

// Network is a common adjustment of coordinates, lengths, height differences
// and linear conditions, with one unknown pose per placement of a device.
//
// Unknowns are three coordinates for every point that is not fixed and six
// parameters for every pose that is not fixed. When the observations do not
// say where the network lies, Free adds the inner constraints.
type Network struct {
	Points []NetPoint
	Poses  []NetPose
	Obs    []NetObs
	// Free: the observations leave translation and rotation of the whole open;
	// the solution is then the one with the least change of the approximate
	// coordinates (inner constraints over all points). Poses must be fixed or
	// absent.
	Free bool
}

// NetPoint is a point of a network. At is its approximate, or fixed, position.
type NetPoint struct {
	At    Vec
	Fixed bool
}

// NetPose is a placement: device = R point + T.
type NetPose struct {
	Motion Rigid
	Fixed  bool
}

// NetKind says what an observation is of.
type NetKind int

// Kinds of observation.
const (
	NetCoordinate NetKind = iota // component Axis of point A in the frame of Pose
	NetLength                    // distance from A to B
	NetHeight                    // component Axis of A minus that of B in the frame of Pose
	NetMirror                    // component Axis of A plus Sign times that of B
)

// NetObs is one observation with an independent error. Pose -1 is the frame of
// the points themselves.
type NetObs struct {
	Kind NetKind
	Pose int
	A, B int
	Axis int
	Sign float64
	// Value is what was observed, Std its standard uncertainty.
	Value, Std float64
}

// NetResult is an adjusted network.
type NetResult struct {
	Points []Vec
	Poses  []Rigid
	// Centres are the points that the pose parameters turn about.
	Centres []Vec
	Rows    []NetRow
	VtPV    float64
	DOF     int
	Steps   int

	q     *symmetric
	point []int // first unknown of each point, -1 when fixed
	pose  []int
	jac   []netRow
}

// NetRow is one observation after the adjustment.
type NetRow struct {
	Residual   float64 // adjusted minus observed
	Redundancy float64 // share of an error that shows in the residual, 0 to 1
	W          float64 // residual over its standard deviation; 0 when uncontrolled
}

// netRow is one whitened row: up to twelve derivatives.
type netRow struct {
	n   int
	idx [12]int
	val [12]float64
	l   float64 // observed minus computed, over std
}

func (r *netRow) put(first int, v Vec) {
	if first < 0 {
		return
	}
	for k := 0; k < 3; k++ {
		r.idx[r.n], r.val[r.n] = first+k, v[k]
		r.n++
	}
}

const maxNetSteps = 60

// Adjust solves the network by Gauss-Newton steps until nothing moves by more
// than 1e-9 mm.
//
// Formulas: x <- x + (J'PJ)^-1 J'P l; with Q = (J'PJ)^-1 the redundancy number
// of row i is r_i = 1 - p_i J_i Q J_i', and w_i = v_i / (s_i sqrt(r_i)) (Baarda
// 1968). A free network uses Q = (N + GG')^-1 - GG' with G an orthonormal basis
// of the six motions (inner constraints; Ghilani and Wolf, Adjustment
// Computations, from memory).
func (nw *Network) Adjust() (*NetResult, error) {
	s, err := nw.start()
	if err != nil {
		return nil, err
	}
	for s.Steps = 1; s.Steps <= maxNetSteps; s.Steps++ {
		step, err := nw.step(s)
		if err != nil {
			return nil, err
		}
		if math.IsNaN(step) || math.IsInf(step, 0) {
			break
		}
		if step <= 1e-9 {
			return nw.finish(s)
		}
	}
	return nil, &diag.Error{Kind: diag.Invalid, Op: "geom.Network", Msg: "the adjustment does not settle", Hint: "look for a gross error in the readings"}
}

func (nw *Network) start() (*NetResult, error) {
	s := &NetResult{}
	n := 0
	for _, p := range nw.Points {
		s.Points = append(s.Points, p.At)
		s.point = append(s.point, next(&n, 3, p.Fixed))
	}
	for _, p := range nw.Poses {
		s.Poses = append(s.Poses, p.Motion)
		s.pose = append(s.pose, next(&n, 6, p.Fixed))
	}
	s.q = newSymmetric(n)
	s.jac = make([]netRow, len(nw.Obs))
	s.Centres = make([]Vec, len(nw.Poses))
	count := make([]float64, len(nw.Poses))
	for i, o := range nw.Obs {
		if !(o.Std > 0) || math.IsInf(o.Std, 0) || math.IsNaN(o.Value) || math.IsInf(o.Value, 0) {
			return nil, refuse("observation %d has value %v and standard uncertainty %v", i+1, o.Value, o.Std)
		}
		if o.Pose >= 0 && o.Kind == NetCoordinate {
			s.Centres[o.Pose] = s.Centres[o.Pose].Add(nw.Points[o.A].At)
			count[o.Pose]++
		}
	}
	for k := range s.Centres {
		if count[k] > 0 {
			s.Centres[k] = s.Centres[k].Scale(1 / count[k])
		}
	}
	return s, nil
}

func next(n *int, size int, fixed bool) int {
	if fixed {
		return -1
	}
	*n += size
	return *n - size
}

// step builds and solves the normal equations once; it returns the largest
// movement in millimetres.
func (nw *Network) step(s *NetResult) (float64, error) {
	b := make([]float64, s.q.n)
	nw.normals(s, b)
	if nw.Free {
		s.addInner()
	}
	if bad := s.q.factor(); bad >= 0 {
		return 0, nw.undetermined(s, bad)
	}
	s.q.solve(b)
	largest := 0.0
	for i, at := range s.point {
		if at < 0 {
			continue
		}
		d := Vec{b[at], b[at+1], b[at+2]}
		s.Points[i] = s.Points[i].Add(d)
		largest = math.Max(largest, d.Norm())
	}
	for k, at := range s.pose {
		if at < 0 {
			continue
		}
		f := CovFit{Fit: Fit{Motion: s.Poses[k], Centroid: s.Centres[k]}}
		f.nudge(Vec6{b[at], b[at+1], b[at+2], b[at+3], b[at+4], b[at+5]})
		s.Poses[k] = f.Motion
		const arm = 1000 // a turn counts as the movement it makes this far out
		largest = math.Max(largest, Vec{b[at], b[at+1], b[at+2]}.Norm()+arm*Vec{b[at+3], b[at+4], b[at+5]}.Norm())
	}
	return largest, nil
}

func (nw *Network) normals(s *NetResult, b []float64) {
	for i := range s.q.a {
		s.q.a[i] = 0
	}
	for i := range nw.Obs {
		r := nw.row(s, &nw.Obs[i])
		s.jac[i] = r
		for a := 0; a < r.n; a++ {
			if b != nil {
				b[r.idx[a]] += float64(r.val[a] * r.l)
			}
			for c := 0; c <= a; c++ {
				s.q.add(r.idx[a], r.idx[c], float64(r.val[a]*r.val[c]))
			}
		}
	}
}

// row linearises one observation.
func (nw *Network) row(s *NetResult, o *NetObs) netRow {
	var r netRow
	ga, gb := s.gradients(o)
	r.put(s.point[o.A], ga)
	if o.Kind != NetCoordinate {
		r.put(s.point[o.B], gb)
	}
	m, at := s.frame(o.Pose)
	var axis Vec
	axis[o.Axis] = 1 / o.Std
	var computed float64
	switch o.Kind {
	case NetCoordinate:
		computed = m.Apply(s.Points[o.A])[o.Axis]
		s.putPose(&r, at, axis, m.R.MulVec(s.Points[o.A].Sub(s.centre(o.Pose))), true)
	case NetLength:
		computed = s.Points[o.A].Dist(s.Points[o.B])
	case NetHeight:
		d := m.R.MulVec(s.Points[o.A].Sub(s.Points[o.B]))
		computed = d[o.Axis]
		s.putPose(&r, at, axis, d, false)
	case NetMirror:
		computed = s.Points[o.A][o.Axis] + float64(o.Sign*s.Points[o.B][o.Axis])
	}
	r.l = (o.Value - computed) / o.Std
	return r
}

// gradients are the whitened derivatives of an observation by its points.
func (s *NetResult) gradients(o *NetObs) (a, b Vec) {
	var axis Vec
	axis[o.Axis] = 1 / o.Std
	switch o.Kind {
	case NetLength:
		u := s.Points[o.A].Sub(s.Points[o.B]).Unit().Scale(1 / o.Std)
		return u, u.Scale(-1)
	case NetMirror:
		return axis, axis.Scale(o.Sign)
	}
	m, _ := s.frame(o.Pose)
	g := m.R.TMulVec(axis)
	return g, g.Scale(-1)
}

func (s *NetResult) frame(pose int) (Rigid, int) {
	if pose < 0 {
		return Still(), -1
	}
	return s.Poses[pose], s.pose[pose]
}

func (s *NetResult) centre(pose int) Vec {
	if pose < 0 {
		return Vec{}
	}
	return s.Centres[pose]
}

// putPose adds the derivatives by a pose: d(dw x arm).axis = dw . (arm x axis).
func (s *NetResult) putPose(r *netRow, first int, axis, arm Vec, shifts bool) {
	if first < 0 {
		return
	}
	if shifts {
		r.put(first, axis)
	}
	r.put(first+3, arm.Cross(axis))
}

// addInner adds GG' over the points, G an orthonormal basis of the motions.
func (s *NetResult) addInner() {
	for _, g := range s.inner() {
		for i, v := range g {
			if v == 0 {
				continue
			}
			for j := 0; j <= i; j++ {
				s.q.a[i*s.q.n+j] += float64(v * g[j])
			}
		}
	}
}

func (s *NetResult) inner() [][]float64 {
	var mid Vec
	n := 0.0
	for i, at := range s.point {
		if at >= 0 {
			mid, n = mid.Add(s.Points[i]), n+1
		}
	}
	mid = mid.Scale(1 / math.Max(1, n))
	basis := make([][]float64, 0, 6)
	for k := 0; k < 6; k++ {
		g := make([]float64, s.q.n)
		for i, at := range s.point {
			if at < 0 {
				continue
			}
			var v Vec
			if k < 3 {
				v[k] = 1
			} else {
				var e Vec
				e[k-3] = 1
				v = e.Cross(s.Points[i].Sub(mid))
			}
			copy(g[at:at+3], v[:])
		}
		if orthonormalise(g, basis) {
			basis = append(basis, g)
		}
	}
	return basis
}

func orthonormalise(g []float64, basis [][]float64) bool {
	before := norm(g)
	for range 2 {
		for _, b := range basis {
			d := 0.0
			for i := range g {
				d += float64(g[i] * b[i])
			}
			for i := range g {
				g[i] -= float64(d * b[i])
			}
		}
	}
	after := norm(g)
	if !(after > 1e-9*before) {
		return false
	}
	for i := range g {
		g[i] /= after
	}
	return true
}

func norm(g []float64) float64 {
	s := 0.0
	for _, v := range g {
		s += float64(v * v)
	}
	return math.Sqrt(s)
}

// Undetermined is the error of a network that does not fix one of its
// unknowns. Point or Pose is its number, the other -1.
type Undetermined struct{ Point, Pose int }

func (u *Undetermined) Error() string {
	if u.Pose >= 0 {
		return fmt.Sprintf("the pose of placement %d is not determined by the readings", u.Pose+1)
	}
	return fmt.Sprintf("the position of point %d is not determined by the readings", u.Point+1)
}

func (nw *Network) undetermined(s *NetResult, unknown int) error {
	u := &Undetermined{Point: -1, Pose: -1}
	for i, at := range s.point {
		if at >= 0 && unknown >= at && unknown < at+3 {
			u.Point = i
		}
	}
	for k, at := range s.pose {
		if at >= 0 && unknown >= at && unknown < at+6 {
			u.Pose = k
		}
	}
	return &diag.Error{Kind: diag.Invalid, Op: "geom.Network", Msg: u.Error(), Hint: "add a reading", Err: u}
}

// finish computes residuals, covariance and redundancy at the solution.
func (nw *Network) finish(s *NetResult) (*NetResult, error) {
	nw.normals(s, nil)
	defect := 0
	if nw.Free {
		basis := s.inner()
		defect = len(basis)
		s.addInner()
		if bad := s.q.factor(); bad >= 0 {
			return nil, nw.undetermined(s, bad)
		}
		s.q.invert()
		for _, g := range basis {
			for i, v := range g {
				for j := 0; j <= i; j++ {
					s.q.a[i*s.q.n+j] -= float64(v * g[j])
				}
			}
		}
	} else {
		if bad := s.q.factor(); bad >= 0 {
			return nil, nw.undetermined(s, bad)
		}
		s.q.invert()
	}
	s.DOF = len(nw.Obs) - s.q.n + defect
	s.Rows = make([]NetRow, len(nw.Obs))
	for i := range s.jac {
		r := &s.jac[i]
		red := math.Max(0, 1-s.quad(r))
		s.VtPV += float64(r.l * r.l)
		row := NetRow{Residual: -r.l * nw.Obs[i].Std, Redundancy: red}
		if red > MinControl {
			row.W = -r.l / math.Sqrt(red)
		}
		s.Rows[i] = row
	}
	return s, nil
}

// quad is J Q J' of one row.
func (s *NetResult) quad(r *netRow) float64 {
	sum := 0.0
	for a := 0; a < r.n; a++ {
		for b := 0; b < r.n; b++ {
			sum += float64(r.val[a] * r.val[b] * s.q.at(r.idx[a], r.idx[b]))
		}
	}
	return sum
}

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

// Replace is the estimate of point p that the observations in rows give when
// everything else stays at the solution, minus the prior position at (its
// "shift"), with its covariance, for an observation set in which prior lists
// the rows that tie p to at. ok is false when the rows do not fix p.
//
// Formula: with A = (J_p' J_p)^-1 J_p' over the rows (whitened), the shift is
// A v + (x_p - at) and its covariance follows from cov(v) = I - J Q J'.
func (s *NetResult) Replace(nw *Network, p int, rows, prior []int, at Vec) (Vec, Mat3, bool) {
	k := len(rows)
	jp := make([]Vec, k) // derivative by p of each row, also when p is fixed
	var n Mat3
	for i, r := range rows {
		jp[i] = nw.byPoint(s, &nw.Obs[r], p)
		n = n.Add(Outer(jp[i], jp[i]))
	}
	w, _ := SymEigen(n)
	if !(w[2] > 1e-9*w[0]) {
		return Vec{}, Mat3{}, false
	}
	inv, ok := n.Inverse()
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
