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

// PointFrame in place of a pose is the frame of the points themselves.
const PointFrame = -1

// NetObs is one observation with an independent error.
type NetObs struct {
	Kind NetKind
	Pose int
	A, B int
	Axis int
	// Dir, when it is not zero, is the unit direction of a coordinate in the
	// frame of Pose, instead of Axis: three rows along the principal directions
	// of a covariance carry all of it.
	Dir  Vec
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
	share float64 // of a step that is taken, see Adjust
	point []int   // first unknown of each point, -1 when fixed
	pose  []int
	jac   []netRow
}

// NetRow is one observation after the adjustment.
type NetRow struct {
	Residual   float64 // adjusted minus observed
	Redundancy float64 // share of an error that shows in the residual, 0 to 1
	W          float64 // residual over its standard deviation; 0 when uncontrolled
}

const (
	maxNetSteps = 200
	// leastGain is the share of the gain which the linear network promises that a step
	// must bring, and halvings how often it is made half as long for that.
	leastGain, halvings = 0.1, 30
)

// Adjust solves the network by Gauss-Newton steps until nothing moves by more
// than 1e-9 mm. A step that brings less than a tenth of what the linear network
// promises is halved until it does, and the next begins with twice that: lengths from a start far off would otherwise
// throw a point to the other side of what it was measured from, or never settle.
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
		if math.IsNaN(step) || math.IsInf(step, 1) {
			break
		}
		if step <= 1e-9 {
			return nw.finish(s)
		}
	}
	return nil, &diag.Error{Kind: diag.Invalid, Op: "geom.Network", Msg: "the adjustment does not settle", Hint: "look for a gross error in the readings"}
}

func (nw *Network) start() (*NetResult, error) {
	s := &NetResult{share: 1}
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
		if !(o.Std > 0) || math.IsInf(o.Std, 1) || math.IsNaN(o.Value) || math.IsInf(o.Value, 0) {
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
		return none
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
	g := append([]float64(nil), b...)
	s.q.solve(b)
	gain, before := dot(g, b), s.sum()
	points, poses := append([]Vec(nil), s.Points...), append([]Rigid(nil), s.Poses...)
	rounding := 1e-12 * (1 + before)
	if gain > rounding {
		s.share = math.Min(1, 2*s.share)
	}
	for try := 0; ; try++ {
		largest := s.move(b, s.share)
		if gain <= rounding || try == halvings {
			return largest, nil
		}
		nw.normals(s, nil)
		if s.sum() <= before-float64(leastGain*s.share*(2-s.share)*gain) {
			return largest, nil
		}
		s.share /= 2
		copy(s.Points, points)
		copy(s.Poses, poses)
	}
}

// sum is the sum of squares of the rows as they were linearised last.
func (s *NetResult) sum() float64 {
	sum := 0.0
	for i := range s.jac {
		sum += float64(s.jac[i].l * s.jac[i].l)
	}
	return sum
}

// move adds a share of a solution to the unknowns and returns the largest movement
// of the whole.
func (s *NetResult) move(b []float64, share float64) float64 {
	largest := 0.0
	for i, at := range s.point {
		if at < 0 {
			continue
		}
		d := Vec{b[at], b[at+1], b[at+2]}
		s.Points[i] = s.Points[i].Add(d.Scale(share))
		largest = math.Max(largest, d.Norm())
	}
	for k, at := range s.pose {
		if at < 0 {
			continue
		}
		f := CovFit{Fit: Fit{Motion: s.Poses[k], Centroid: s.Centres[k]}}
		f.nudge(Vec6{share * b[at], share * b[at+1], share * b[at+2], share * b[at+3], share * b[at+4], share * b[at+5]})
		s.Poses[k] = f.Motion
		const arm = 1000 // a turn counts as the movement it makes this far out
		largest = math.Max(largest, Vec{b[at], b[at+1], b[at+2]}.Norm()+float64(arm*Vec{b[at+3], b[at+4], b[at+5]}.Norm()))
	}
	return largest
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
				v = e.Cross(s.Points[i].Sub(s.Points[0])) // about any place
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
	u := &Undetermined{Point: none, Pose: none}
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
