package geom

import (
	"math"
	"math/rand/v2"
	"sort"
)

// Search options and limits.
const (
	// ExhaustiveUpTo is the number of points up to which every triple is
	// looked at.
	ExhaustiveUpTo = 60
	// sampledTriples is how many triples are drawn above that.
	sampledTriples = 40000
	// minShape is the least area of a usable triangle over the square of its
	// longest side; minSize its least longest side over the size of the set.
	minShape = 0.06
	minSize  = 0.12
	// sideGate is how many standard deviations a side of a triangle may
	// differ for the triangle to be looked at.
	sideGate = 4.5
)

type triple [3]uint16

type tripleSearch struct {
	x       *Matcher
	triples []triple
	size    float64 // diagonal of the box of the from points
	dist    []float64
	moved   []float64 // change of each distance over its standard deviation
	misfit  []float64
	best    []scored
	perOne  []scored // best triple of each point, from the first pass
}

type scored struct {
	t     triple
	score float64
	pose  Rigid
	mid   Vec
	q     [6]float64 // leverage is 1/3 + d' Q d, by xx, yy, zz, xy, xz, yz
}

func newTripleSearch(x *Matcher) *tripleSearch {
	n := x.Len()
	s := &tripleSearch{x: x, dist: make([]float64, n*n), moved: make([]float64, n*n), misfit: make([]float64, n)}
	lo, hi := Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for i, p := range x.m.From {
		for k := range p {
			lo[k], hi[k] = math.Min(lo[k], p[k]), math.Max(hi[k], p[k])
		}
		for j := 0; j < i; j++ {
			d := p.Dist(x.m.From[j])
			change := (x.m.To[i].Dist(x.m.To[j]) - d) / math.Sqrt(1/x.weight[i]+1/x.weight[j])
			s.dist[i*n+j], s.dist[j*n+i] = d, d
			s.moved[i*n+j], s.moved[j*n+i] = math.Abs(change), math.Abs(change)
		}
	}
	s.size = hi.Dist(lo)
	return s
}

func (s *tripleSearch) all() {
	n := s.x.Len()
	for i := 0; i < n; i++ {
		for j := i + 1; j < n; j++ {
			if s.moved[i*n+j] > sideGate {
				continue
			}
			for k := j + 1; k < n; k++ {
				if s.moved[i*n+k] <= sideGate && s.moved[j*n+k] <= sideGate {
					s.keep(i, j, k)
				}
			}
		}
	}
}

func (s *tripleSearch) draw(count int, seed uint64) {
	n := s.x.Len()
	rng := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	for c := 0; c < count; c++ {
		i, j, k := rng.IntN(n), rng.IntN(n), rng.IntN(n)
		if i == j || j == k || i == k {
			continue
		}
		if s.moved[i*n+j] <= sideGate && s.moved[i*n+k] <= sideGate && s.moved[j*n+k] <= sideGate {
			s.keep(i, j, k)
		}
	}
}

// keep adds a triple whose triangle is large and open enough.
func (s *tripleSearch) keep(i, j, k int) {
	n := s.x.Len()
	a, b, c := s.dist[i*n+j], s.dist[j*n+k], s.dist[i*n+k]
	longest := math.Max(a, math.Max(b, c))
	if longest < minSize*s.size {
		return
	}
	h := (a + b + c) / 2
	area2 := h * (h - a) * (h - b) * (h - c) // Heron
	if area2 < minShape*minShape*longest*longest*longest*longest {
		return
	}
	s.triples = append(s.triples, triple{uint16(i), uint16(j), uint16(k)})
}

// fill grows the best triples of several passes into blocks. Every pass looks
// only at triples with at most one point in the best block of each pass
// before, so that a smaller block cannot hide behind a larger one; the first
// also takes the best triple of every point.
func (s *tripleSearch) fill(pl *pool) {
	var before []Block
	for pass := 0; pass < passes; pass++ {
		s.collect(before, pass == 0)
		list := s.best
		if pass == 0 {
			list = append(append([]scored(nil), s.best...), s.perOne...)
		}
		best, found := Block{}, false
		for c := range list {
			if math.IsInf(list[c].score, 1) {
				continue
			}
			b, ok := pl.grow(s.inliers(&list[c]), nil)
			if ok && (!found || b.Score < best.Score) && distinct(&b.Set, before) {
				best, found = *b, true
			}
		}
		if !found {
			return
		}
		before = append(before, best)
	}
}

// collect scores the triples with at most one point in any block before, and
// keeps the best, and on demand the best of every point.
func (s *tripleSearch) collect(before []Block, each bool) {
	s.best = s.best[:0]
	if each {
		s.perOne = make([]scored, s.x.Len())
		for i := range s.perOne {
			s.perOne[i].score = math.Inf(1)
		}
	}
	worst := math.Inf(1)
	for _, t := range s.triples {
		if shares(t, before) {
			continue
		}
		c := scored{t: t}
		s.pose(&c)
		limit := worst
		if each {
			for _, i := range t {
				limit = math.Max(limit, s.perOne[i].score)
			}
		}
		if !s.score(&c, limit) {
			continue
		}
		if each {
			for _, i := range t {
				if c.score < s.perOne[i].score {
					s.perOne[i] = c
				}
			}
		}
		if !(c.score < worst) {
			continue
		}
		at := sort.Search(len(s.best), func(i int) bool { return s.best[i].score > c.score })
		if len(s.best) < perPass {
			s.best = append(s.best, scored{})
		}
		copy(s.best[at+1:], s.best[at:])
		s.best[at] = c
		if len(s.best) == perPass {
			worst = s.best[perPass-1].score
		}
	}
}

// distinct says that the set shares at most half of the smaller set with every
// block before it.
func distinct(set *Set, before []Block) bool {
	for k := range before {
		if 2*set.Common(&before[k].Set) > min(set.Len(), before[k].Set.Len()) {
			return false
		}
	}
	return true
}

func shares(t triple, before []Block) bool {
	for k := range before {
		n := 0
		for _, i := range t {
			if before[k].Set.Has(int(i)) {
				n++
			}
		}
		if n > 1 {
			return true
		}
	}
	return false
}

// pose is the motion of a triple: centre on centre, plane on plane, and the
// turn in the plane that fits best.
func (s *tripleSearch) pose(c *scored) {
	p, q := &s.x.m.From, &s.x.m.To
	i, j, k := int(c.t[0]), int(c.t[1]), int(c.t[2])
	a, b := frameOf(&(*p)[i], &(*p)[j], &(*p)[k]), frameOf(&(*q)[i], &(*q)[j], &(*q)[k])
	var co, si float64
	for m := 0; m < 3; m++ {
		co += float64(a.u[m]*b.u[m]) + float64(a.v[m]*b.v[m])
		si += float64(a.u[m]*b.v[m]) - float64(a.v[m]*b.u[m])
	}
	n := math.Sqrt(float64(co*co) + float64(si*si))
	co, si = co/n, si/n
	x := b.x.Scale(co).Add(b.y.Scale(si))
	y := b.y.Scale(co).Sub(b.x.Scale(si))
	var r Mat3
	for row := 0; row < 3; row++ {
		r[row] = a.x.Scale(x[row]).Add(a.y.Scale(y[row])).Add(a.z.Scale(b.z[row]))
	}
	c.pose = Rigid{R: r, T: b.mid.Sub(r.MulVec(a.mid))}
	c.mid = a.mid
}

// setLeverage fills the form that leverage evaluates.
func (s *tripleSearch) setLeverage(c *scored) {
	p := s.x.m.From
	f := frameOf(&p[c.t[0]], &p[c.t[1]], &p[c.t[2]])
	inv := f.inertiaInverse()
	tr := inv.Trace()
	c.q = [6]float64{(tr - inv[0][0]) / 3, (tr - inv[1][1]) / 3, (tr - inv[2][2]) / 3, -2 * inv[0][1] / 3, -2 * inv[0][2] / 3, -2 * inv[1][2] / 3}
}

// frame is a triangle in its own plane.
type frame struct {
	mid, x, y, z Vec
	u, v         [3]float64 // coordinates of the corners
}

func frameOf(p, q, r *Vec) frame {
	f := frame{mid: p.Add(*q).Add(*r).Scale(1. / 3)}
	f.z = q.Sub(*p).Cross(r.Sub(*p)).Unit()
	f.x = p.Sub(f.mid).Unit()
	f.y = f.z.Cross(f.x)
	for k, c := range [3]*Vec{p, q, r} {
		d := c.Sub(f.mid)
		f.u[k], f.v[k] = f.x.Dot(d), f.y.Dot(d)
	}
	return f
}

// inertiaInverse is the inverse of sum (|d|^2 I - d d') over the corners: the
// covariance of the turn of the triangle for unit noise.
func (f *frame) inertiaInverse() Mat3 {
	var uu, uv, vv float64
	for k := 0; k < 3; k++ {
		uu += float64(f.u[k] * f.u[k])
		uv += float64(f.u[k] * f.v[k])
		vv += float64(f.v[k] * f.v[k])
	}
	det := float64(uu*vv) - float64(uv*uv) // of [[vv,-uv],[-uv,uu]]
	xx, xy, yy, zz := uu/det, uv/det, vv/det, 1/(uu+vv)
	m := Outer(f.x, f.x).Scale(xx).Add(Outer(f.y, f.y).Scale(yy)).Add(Outer(f.z, f.z).Scale(zz))
	return m.Add(Outer(f.x, f.y).Add(Outer(f.y, f.x)).Scale(xy))
}

// leverage is the mean variance per coordinate that the uncertain pose of the
// triangle gives to a point, for unit noise: 1/3 + (|r|^2 tr C - r' C r)/3.
func (c *scored) leverage(p *Vec) float64 {
	x, y, z := p[0]-c.mid[0], p[1]-c.mid[1], p[2]-c.mid[2]
	q := &c.q
	return 1./3 + float64(x*(float64(q[0]*x)+float64(q[3]*y)+float64(q[4]*z))) + float64(y*(float64(q[1]*y)+float64(q[5]*z))) + float64(z*float64(q[2]*z))
}

const baseCap = 11.345 // chi-square, 3 degrees of freedom, 99 %

// score adds up the bounded misfits; it gives up when they exceed worst. The
// least bound, leverage 1/3, decides most triples without the real one.
func (s *tripleSearch) score(c *scored, worst float64) bool {
	m := &s.x.m
	least := 0.0
	for i := range m.From {
		v := s.x.weight[i] * distance2(&c.pose, &m.From[i], &m.To[i])
		if v > baseCap*4/3 {
			v = baseCap * 4 / 3
		}
		s.misfit[i] = v
		if least += v; !(least < worst) {
			return false
		}
	}
	s.setLeverage(c)
	for i, v := range s.misfit {
		if v == baseCap*4/3 { // the bound matters only then
			v = s.x.weight[i] * distance2(&c.pose, &m.From[i], &m.To[i])
			if bound := baseCap * (1 + c.leverage(&m.From[i])); v > bound {
				v = bound
			}
		}
		if c.score += v; !(c.score < worst) {
			return false
		}
	}
	return true
}

// distance2 is |q - R p - T|^2.
func distance2(m *Rigid, p, q *Vec) float64 {
	x := q[0] - m.T[0] - float64(m.R[0][0]*p[0]) - float64(m.R[0][1]*p[1]) - float64(m.R[0][2]*p[2])
	y := q[1] - m.T[1] - float64(m.R[1][0]*p[0]) - float64(m.R[1][1]*p[1]) - float64(m.R[1][2]*p[2])
	z := q[2] - m.T[2] - float64(m.R[2][0]*p[0]) - float64(m.R[2][1]*p[1]) - float64(m.R[2][2]*p[2])
	return float64(x*x) + float64(y*y) + float64(z*z)
}

func (s *tripleSearch) inliers(c *scored) Set {
	var set Set
	m := &s.x.m
	for i, p := range m.From {
		if s.x.weight[i]*distance2(&c.pose, &p, &m.To[i]) <= baseCap*(1+c.leverage(&p)) {
			set.Put(i)
		}
	}
	for _, i := range c.t {
		set.Put(int(i))
	}
	return set
}
