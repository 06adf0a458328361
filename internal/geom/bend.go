package geom

import (
	"math"
	"slices"

	"fettle/internal/elem"
)

// Bend is a cloud of points bent as a whole: a rigid motion and a shift across its
// length that grows with the square of the distance along it.
type Bend struct {
	Misfit
	Parameters int
	// Coefficient is the shift per square of the distance [1/mm], along the two
	// axes across the longest; Test is its square over its variance, chi-square with
	// 2 degrees of freedom when nothing is bent.
	Coefficient [2]float64
	Test        float64
	// Std is the standard uncertainty of the coefficient in the direction in which it
	// is known worst; Along is the longest axis, a unit vector.
	Std   float64
	Along Vec
}

// Sag is the shift that the bend gives to a place against the tangent at another,
// |coefficient| times the square of the distance along the body, and its standard
// uncertainty.
func (b *Bend) Sag(at, tangent Vec) (sag, std float64) {
	d := b.Along.Dot(at.Sub(tangent))
	return float64(elem.Hypot(b.Coefficient[0], b.Coefficient[1]) * d * d), float64(b.Std * d * d)
}

// bendModels are the two ways in which a body can bend: the sections across its
// length stay parallel (they slide, which is a shear beside the rigid motion), or
// they turn with it.
const (
	bendSliding = 10
	bendTurning = 8
)

// Bends fits, to the shifts of the points of a set against their rigid fit,
//
//	d = t + w x r + (0, b, c) x^2 + (f y + g z, 0, 0)        sections slide
//	d = t + w x r + (0, b, c) x^2 - (2 x (b y + c z), 0, 0)  sections turn
//
// with x the coordinate axis along which the cloud is longest, y and z the others
// and r = (x, y, z) from the middle; by least squares with the inverse
// covariances. Valid for small motions. The models that the points determine.
func (x *Matcher) Bends(set *Set) []Bend {
	f, err := x.Fit(set)
	if err != nil {
		return nil
	}
	axes, size := x.lengthways(set, f.Centroid)
	if !(size > 0) {
		return nil
	}
	var out []Bend
	for _, parameters := range []int{bendSliding, bendTurning} {
		if b, ok := x.bend(set, &f, axes, size, parameters, func(r float64) float64 { return r }); ok {
			out = append(out, b)
		}
	}
	return out
}

// lengthways is the axes with the longest first, as columns, and the spread along
// that.
func (x *Matcher) lengthways(set *Set, mid Vec) (Mat3, float64) {
	var spread Vec
	for _, i := range set.Members() {
		for k, v := range x.m.From[i].Sub(mid) {
			spread[k] += float64(v * v)
		}
	}
	along := 0
	for k := range spread {
		if spread[k] > spread[along] {
			along = k
		}
	}
	var axes Mat3
	for k := range axes {
		axes[(along+k)%3][k] = 1
	}
	return axes, math.Sqrt(spread[along] / float64(set.Len()))
}

// hinges is at how many places a bend of a part is tried to begin, for each end.
const hinges = 6

// HalfBend is the least misfit of a bend that begins within the body: with x^2 of
// the sliding model only beyond a hinge, nothing before it. The hinges lie at
// equal numbers of points in the middle part of the set, for either end.
func (x *Matcher) HalfBend(set *Set) (Bend, bool) {
	f, err := x.Fit(set)
	if err != nil {
		return Bend{}, false
	}
	axes, size := x.lengthways(set, f.Centroid)
	if !(size > 0) {
		return Bend{}, false
	}
	var along []float64
	for _, i := range set.Members() {
		along = append(along, axes.TMulVec(x.m.From[i].Sub(f.Centroid))[0]/size)
	}
	slices.Sort(along)
	best, found := Bend{}, false
	for k := range hinges {
		at := along[len(along)*(k+1)/(hinges+1)]
		for _, sign := range []float64{-1, 1} {
			from := func(r float64) float64 { return math.Max(0, sign*(r-at)) }
			if b, ok := x.bend(set, &f, axes, size, bendSliding, from); ok && (!found || b.Chi2 < best.Chi2) {
				best, found = b, true
			}
		}
	}
	best.Parameters++
	return best, found
}

// bendRows are the derivatives of the three components of the shift at r, which is
// q along the bend.
func bendRows(r Vec, q float64, parameters int) (rows [3][bendSliding]float64) {
	rows[0] = [bendSliding]float64{1, 0, 0, 0, r[2], -r[1], 0, 0, r[1], r[2]}
	rows[1] = [bendSliding]float64{0, 1, 0, -r[2], 0, r[0], q * q}
	rows[2] = [bendSliding]float64{0, 0, 1, r[1], -r[0], 0, 0, q * q}
	if parameters == bendTurning {
		rows[0][6], rows[0][7] = -2*r[0]*r[1], -2*r[0]*r[2]
	}
	return rows
}

func (x *Matcher) bend(set *Set, f *CovFit, axes Mat3, size float64, parameters int, from func(float64) float64) (Bend, bool) {
	var l least
	var ok bool
	if x.together != nil {
		l, ok = x.leastBendTogether(set, f, axes, size, parameters, from)
	} else {
		l, ok = x.leastBend(set, f, axes, size, parameters, from)
	}
	if !ok {
		return Bend{}, false
	}
	n, b := l.inv, l.by
	out := Bend{Misfit: Misfit{Chi2: l.chi2, DOF: 3*set.Len() - parameters}, Parameters: parameters}
	yy, yz, zz := n.at(6, 6), n.at(6, 7), n.at(7, 7)
	if det := float64(yy*zz) - float64(yz*yz); det > 0 {
		out.Test = (float64(b[6]*b[6]*zz) - float64(2*b[6]*b[7]*yz) + float64(b[7]*b[7]*yy)) / det
	}
	out.Coefficient = [2]float64{b[6] / (size * size), b[7] / (size * size)}
	mean, half := float64((yy+zz)/2), elem.Hypot((yy-zz)/2, yz)
	out.Std, out.Along = math.Sqrt(math.Max(0, mean+half))/(size*size), Vec{axes[0][0], axes[1][0], axes[2][0]}
	return out, true
}

// leastBendTogether is leastBend for points whose errors depend on one another.
func (x *Matcher) leastBendTogether(set *Set, f *CovFit, axes Mat3, size float64, parameters int, from func(float64) float64) (least, bool) {
	members := set.Members()
	cols := newColumns(parameters, 3*len(members))
	turn := f.Motion.R.Mul(axes) // the to frame from the axes of the bend
	for at, i := range members {
		p := x.m.From[i]
		r := axes.TMulVec(p.Sub(f.Centroid)).Scale(1 / size)
		d := x.m.To[i].Sub(f.Motion.Apply(p))
		rows := bendRows(r, from(r[0]), parameters)
		for a := range 3 {
			cols.last()[3*at+a] = d[a]
		}
		for k := range parameters {
			j := turn.MulVec(Vec{rows[0][k], rows[1][k], rows[2][k]})
			for a := range 3 {
				cols[k][3*at+a] = j[a]
			}
		}
	}
	return x.leastTogether(members, cols)
}

// leastBend solves for the parameters of a bend.
func (x *Matcher) leastBend(set *Set, f *CovFit, axes Mat3, size float64, parameters int, from func(float64) float64) (least, bool) {
	n, b := newSymmetric(parameters), make([]float64, parameters)
	chi2 := 0.0
	for _, i := range set.Members() {
		p := x.m.From[i]
		r := axes.TMulVec(p.Sub(f.Centroid)).Scale(1 / size)
		d := axes.TMulVec(f.Motion.ApplyInverse(x.m.To[i]).Sub(p))
		own := x.m.CovFrom[i].Add(x.m.CovTo[i].Turn(f.Motion.R.Transpose()))
		w, ok := own.Turn(axes.Transpose()).Inverse()
		if !ok {
			return least{}, false
		}
		rows := bendRows(r, from(r[0]), parameters)
		wd := w.MulVec(d)
		chi2 += d.Dot(wd)
		for a := range parameters {
			ja := Vec{rows[0][a], rows[1][a], rows[2][a]}
			b[a] += ja.Dot(wd)
			wj := w.MulVec(ja)
			for c := 0; c <= a; c++ {
				n.add(a, c, wj.Dot(Vec{rows[0][c], rows[1][c], rows[2][c]}))
			}
		}
	}
	rhs := append([]float64(nil), b...)
	if n.factor() >= 0 {
		return least{}, false
	}
	n.solve(b)
	for a := range b {
		chi2 -= float64(b[a] * rhs[a])
	}
	n.invert()
	return least{b, n, math.Max(0, chi2)}, true
}
