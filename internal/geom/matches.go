package geom

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/halt"
)

// Matches are points known in two frames, with the covariance of each.
type Matches struct {
	From, To       []Vec
	CovFrom, CovTo []Mat3
}

// Block is a set of points that kept their places against one another: one
// rigid motion carries all of them within their uncertainty.
type Block struct {
	Set Set
	Fit CovFit
	T   []float64 // per point of Matches: misfit against the block, see Matcher.misfits
	// Gain is twice the logarithm of how much better the block explains its
	// points than chance does, if they moved one by one; infinite when nothing is
	// outside. Chance is the expected number of such groups that would pass for
	// blocks. See pool.chance.
	Gain, Chance float64
	Score        float64 // sum of min(r' W r, ScoreCap) over all points: lower explains more
}

// Constants of the tests on blocks.
const (
	// AlphaPoint is the false-alarm rate of the test on one point: 0.1 %
	// (Baarda 1968, customary in deformation analysis).
	AlphaPoint = 0.001
	// AlphaBlock is the false-alarm rate of the congruency test on a block.
	AlphaBlock = 0.001
	// ScoreCap bounds what one point can add to a score: 1.6 times the 99 %
	// point of chi-square with 3 degrees of freedom. The factor is common
	// practice, no source.
	ScoreCap = 1.6 * 11.345
	// MinControl is the share of a point's variance of which more must be left
	// in its residual for the point to be tested in that direction.
	MinControl = 1e-3
)

// Matcher fits blocks of one set of matches. It keeps its memory; it is not
// for several goroutines at once.
type Matcher struct {
	Work *halt.Work // what its searches are part of; nil: they are not stopped

	m         Matches
	together  func(i, j int) Mat3 // see Correlated; nil when errors are independent
	isotropic bool                // every covariance is a multiple of the unit matrix
	weight    []float64           // 1/variance of a coordinate, the largest direction counting
	critPoint float64
	critBlock []float64 // by degrees of freedom, 0 where not needed yet
	ws        Workspace
	path      []Set // sets that the last Settle went through
	members   []int
	from, to  []Vec
	ca, cb    []Mat3
	w         []float64
}

// NewMatcher prepares the fits; every covariance must be positive.
func NewMatcher(m Matches) (*Matcher, error) {
	n := len(m.From)
	if len(m.To) != n || len(m.CovFrom) != n || len(m.CovTo) != n {
		return nil, refuse("the parts of the matches have %d, %d, %d and %d entries", n, len(m.To), len(m.CovFrom), len(m.CovTo))
	}
	if n > MaxMatches {
		return nil, refuse("there are %d points, at most %d can be searched", n, MaxMatches)
	}
	x := &Matcher{m: m, isotropic: true, critPoint: ChiSquareQuantile(AlphaPoint, 3)}
	for i := range m.From {
		sum := m.CovFrom[i].Add(m.CovTo[i])
		if !m.From[i].Finite() || !m.To[i].Finite() || !sum.Finite() {
			return nil, refuse("match %d is not finite", i+1)
		}
		lam, _ := SymEigen(sum)
		if !(lam[2] > 0) {
			return nil, refuse("the covariance of match %d is not positive definite", i+1)
		}
		if !scalar(m.CovFrom[i]) || !scalar(m.CovTo[i]) {
			x.isotropic = false
		}
		x.weight = append(x.weight, 1/lam[0])
	}
	return x, nil
}

func scalar(m Mat3) bool {
	return m[0][0] == m[1][1] && m[1][1] == m[2][2] &&
		m[0][1] == 0 && m[0][2] == 0 && m[1][2] == 0 && m[1][0] == 0 && m[2][0] == 0 && m[2][1] == 0
}

// Len is the number of points.
func (x *Matcher) Len() int { return len(x.m.From) }

// Own is the covariance of the difference to - from of point i, which is isotropic
// in the from frame.
func (x *Matcher) Own(i int) Mat3 { return x.m.CovFrom[i].Add(x.m.CovTo[i]) }

// Fit fits the members of a set.
func (x *Matcher) Fit(set *Set) (CovFit, error) {
	x.members = set.AppendTo(x.members[:0])
	x.from, x.to, x.ca, x.cb, x.w = x.from[:0], x.to[:0], x.ca[:0], x.cb[:0], x.w[:0]
	for _, i := range x.members {
		x.from, x.to = append(x.from, x.m.From[i]), append(x.to, x.m.To[i])
		if x.isotropic {
			x.w = append(x.w, x.weight[i])
		} else {
			x.ca, x.cb = append(x.ca, x.m.CovFrom[i]), append(x.cb, x.m.CovTo[i])
		}
	}
	if !x.isotropic {
		return x.ws.FitRigidCov(x.from, x.to, x.ca, x.cb)
	}
	return fitScalar(x.from, x.to, x.w)
}

// fitScalar is FitRigidCov for covariances that are multiples of the unit
// matrix: the closed form is then the solution, and the normal matrix is that
// of a body with masses w about its centre.
func fitScalar(from, to []Vec, w []float64) (CovFit, error) {
	start, err := FitRigid(from, to, w)
	f := CovFit{Fit: start, DOF: 3*len(from) - 6}
	if err != nil {
		return f, err
	}
	var xx, xy, xz, yy, yz, zz, sum float64
	r := &start.Motion.R
	for i := range from {
		arm := r.MulVec(from[i].Sub(start.Centroid))
		k := w[i]
		sum += k
		x, y, z := k*arm[0], k*arm[1], k*arm[2]
		xx, xy, xz = xx+float64(x*arm[0]), xy+float64(x*arm[1]), xz+float64(x*arm[2])
		yy, yz, zz = yy+float64(y*arm[1]), yz+float64(y*arm[2]), zz+float64(z*arm[2])
		f.Chi2 += float64(k * distance2(&start.Motion, &from[i], &to[i]))
	}
	inertia := Mat3{{yy + zz, -xy, -xz}, {-xy, xx + zz, -yz}, {-xz, -yz, xx + yy}}
	inv, ok := inertia.Inverse()
	if !ok {
		return f, degenerate(start.Ratio)
	}
	for r := 0; r < 3; r++ {
		f.Pose[r][r] = 1 / sum
		for c := 0; c < 3; c++ {
			f.Pose[r+3][c+3] = inv[r][c]
		}
	}
	return f, nil
}

// Shift is the displacement of point i against a fit, with its covariance, in
// the from frame.
func (x *Matcher) Shift(f *CovFit, i int, used bool) (Vec, Mat3) {
	return f.Shift(x.m.From[i], x.m.To[i], x.m.CovFrom[i], x.m.CovTo[i], used)
}

// misfits fills t with the test value of every point against the fit of a set:
// d' S^-1 d with the covariance S of the displacement d, which is chi-square
// with 3 degrees of freedom for a point that did not move. For a member of the
// set this equals the value it would have if the fit were made without it. A
// direction that the fit cannot check is left out.
func (x *Matcher) misfits(f *CovFit, set *Set, t []float64) (score float64) {
	if x.isotropic {
		return x.misfitsScalar(f, set, t)
	}
	for i := range x.m.From {
		r := x.m.To[i].Sub(f.Motion.Apply(x.m.From[i]))
		own := x.m.CovFrom[i].Turn(f.Motion.R).Add(x.m.CovTo[i])
		plain, _ := Mahalanobis(r, own)
		score += math.Min(plain, ScoreCap)
		pose := f.PredictCov(x.m.From[i])
		if set.Has(i) {
			t[i] = Controlled(r, own.Sub(pose), own)
		} else {
			t[i], _ = Mahalanobis(r, own.Add(pose))
		}
	}
	return score
}

// misfitsScalar is misfits when every covariance is a multiple of the unit matrix:
// then translation and turn about the centroid are independent and the pose adds
// 1/sum(w) + [arm]x C [arm]x'. It is written out, with the lower triangles of the
// matrices only: most of the search is spent here.
func (x *Matcher) misfitsScalar(f *CovFit, set *Set, t []float64) (score float64) {
	m, d, mid := &f.Motion.R, &f.Motion.T, &f.Centroid
	for i := range x.m.From {
		p, q := &x.m.From[i], &x.m.To[i]
		r := Vec{
			q[0] - d[0] - (float64(m[0][0]*p[0]) + float64(m[0][1]*p[1]) + float64(m[0][2]*p[2])),
			q[1] - d[1] - (float64(m[1][0]*p[0]) + float64(m[1][1]*p[1]) + float64(m[1][2]*p[2])),
			q[2] - d[2] - (float64(m[2][0]*p[0]) + float64(m[2][1]*p[1]) + float64(m[2][2]*p[2])),
		}
		e0, e1, e2 := p[0]-mid[0], p[1]-mid[1], p[2]-mid[2]
		c := turnCov(&f.Pose,
			float64(m[0][0]*e0)+float64(m[0][1]*e1)+float64(m[0][2]*e2),
			float64(m[1][0]*e0)+float64(m[1][1]*e1)+float64(m[1][2]*e2),
			float64(m[2][0]*e0)+float64(m[2][1]*e1)+float64(m[2][2]*e2))
		v := 1 / x.weight[i]
		if set.Has(i) {
			c = lower{v - c.xx, -c.yx, v - c.yy, -c.zx, -c.zy, v - c.zz}
			t[i] = controlled(&r, &c, v)
		} else {
			c.xx, c.yy, c.zz = c.xx+v, c.yy+v, c.zz+v
			t[i] = 0
			if l, ok := c.chol(); ok {
				t[i] = l.norm2(&r)
			}
		}
		score += min(x.weight[i]*(float64(r[0]*r[0])+float64(r[1]*r[1])+float64(r[2]*r[2])), ScoreCap)
	}
	return score
}

// turnCov is MotionCov at the arm x, y, z when translation and turn are independent, and the
// translation is as sure in one direction as in another.
func turnCov(c *Mat6, x, y, z float64) lower {
	wxx, wxy, wxz, wyy, wyz, wzz := c[3][3], c[3][4], c[3][5], c[4][4], c[4][5], c[5][5]
	// [arm]x W by rows
	ax, ay, az := float64(y*wxz)-float64(z*wxy), float64(y*wyz)-float64(z*wyy), float64(y*wzz)-float64(z*wyz)
	bx, bz := float64(z*wxx)-float64(x*wxz), float64(z*wxz)-float64(x*wzz)
	by := float64(z*wxy) - float64(x*wyz)
	dx, dy := float64(x*wxy)-float64(y*wxx), float64(x*wyy)-float64(y*wxy)
	// times [arm]x'
	return lower{
		xx: c[0][0] + float64(y*az) - float64(z*ay),
		yx: float64(z*ax) - float64(x*az),
		yy: c[1][1] + float64(z*bx) - float64(x*bz),
		zx: float64(x*ay) - float64(y*ax),
		zy: float64(x*by) - float64(y*bx),
		zz: c[2][2] + float64(x*dy) - float64(y*dx),
	}
}

// Controlled is d' m^-1 d over the directions in which m keeps more than
// MinControl of the variance of own.
func Controlled(d Vec, m, own Mat3) float64 {
	low := lowerOf(&m)
	return controlled(&d, &low, max(own[0][0], own[1][1], own[2][2]))
}

// clearly is by how much the square of every pivot exceeds the least variance where all
// directions surely do: then none has to be looked for.
const clearly = 10

func controlled(d *Vec, m *lower, own float64) float64 {
	least := MinControl * own
	if l, ok := m.chol(); ok {
		if pivot := min(l.xx, l.yy, l.zz); float64(pivot*pivot) > clearly*least {
			return l.norm2(d)
		}
	}
	w, v := SymEigen(Mat3{{m.xx, m.yx, m.zx}, {m.yx, m.yy, m.zy}, {m.zx, m.zy, m.zz}})
	e := v.TMulVec(*d)
	t := 0.0
	for k := range e {
		if w[k] > least {
			t += e[k] * e[k] / w[k]
		}
	}
	return t
}

// maxRounds bounds the rounds of Settle; a set that has not settled by then
// alternates between two versions that fit equally well.
const maxRounds = 20

// Settle turns a start set into a block: fit the members, take in every point
// whose misfit is below the critical value and that barred does not hold, put
// out every other, until nothing changes; then put out the worst member until
// the congruency test passes. False when the members do not determine a
// motion. The misfits are written to t, which the block keeps.
func (x *Matcher) Settle(set Set, barred *Set, t []float64) (Block, bool) {
	return x.settle(set, barred, t, nil)
}

// settle is Settle that gives up, with the set it has reached, at a set that
// known has: from there it would only go the same way again.
func (x *Matcher) settle(set Set, barred *Set, t []float64, known map[Set]int) (Block, bool) {
	x.path = x.path[:0]
	b := Block{Set: set, T: t}
	for range maxRounds {
		x.Work.Step()
		if !x.evaluate(&b) {
			return b, false
		}
		x.path = append(x.path, b.Set)
		var next Set
		for i, v := range b.T {
			if v <= x.critPoint && (barred == nil || !barred.Has(i)) {
				next.Put(i)
			}
		}
		if wasSeen(x.path, &next) {
			break
		}
		if next.Len() < 3 {
			return b, false
		}
		b.Set = next
		if _, old := known[next]; old {
			return b, false
		}
	}
	return b, x.congruent(&b)
}

func wasSeen(seen []Set, s *Set) bool {
	for k := range seen {
		if seen[k] == *s {
			return true
		}
	}
	return false
}

// congruent puts out the worst member until the block passes the congruency
// test; false when nothing is left that could be tested.
func (x *Matcher) congruent(b *Block) bool {
	for b.Fit.Chi2 > x.criticalBlock(b.Fit.DOF) {
		members := b.Set.Members()
		b.Set.Drop(slices.MaxFunc(members, func(i, j int) int { return cmp.Compare(b.T[i], b.T[j]) }))
		if !x.evaluate(b) {
			return false
		}
	}
	return true
}

// criticalBlock is the border of the congruency test.
func (x *Matcher) criticalBlock(dof int) float64 {
	if x.critBlock == nil {
		x.critBlock = make([]float64, 3*x.Len()+1)
	}
	if x.critBlock[dof] == 0 {
		x.critBlock[dof] = ChiSquareQuantile(AlphaBlock, dof)
	}
	return x.critBlock[dof]
}

// Evaluate fits exactly this set, without changing it.
func (x *Matcher) Evaluate(set Set) (Block, error) {
	b := Block{Set: set, T: make([]float64, x.Len())}
	f, err := x.Fit(&b.Set)
	if err != nil {
		return b, err
	}
	b.Fit = f
	b.Score = x.misfits(&b.Fit, &b.Set, b.T)
	return b, nil
}

func (x *Matcher) evaluate(b *Block) bool {
	if b.Set.Len() < 3 {
		return false
	}
	f, err := x.Fit(&b.Set)
	if err != nil {
		return false
	}
	b.Fit = f
	b.Score = x.misfits(&b.Fit, &b.Set, b.T)
	return true
}
