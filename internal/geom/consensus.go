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
	size    float64 // diagonal of the extent of the from points
	dist    []float64
	moved   []float64 // change of each distance over its standard deviation
	beyond  []excess  // scratch of score
	of      frame     // triangle of the triple that pose looked at last, from side
	best    []scored
	perOne  []scored // best triple of each point, from the first pass
}

// excess is by how much the misfit of a point is beyond the least bound.
type excess struct {
	point int
	by    float64
}

type scored struct {
	t     triple
	score float64
	pose  Rigid
}

func newTripleSearch(x *Matcher) *tripleSearch {
	n := x.Len()
	s := &tripleSearch{x: x, dist: make([]float64, n*n), moved: make([]float64, n*n),
		beyond: make([]excess, 0, n), best: make([]scored, 0, perPass), perOne: make([]scored, n)}
	for i, p := range x.m.From {
		for j := 0; j < i; j++ {
			d := p.Dist(x.m.From[j])
			change := (x.m.To[i].Dist(x.m.To[j]) - d) / math.Sqrt(1/x.weight[i]+1/x.weight[j])
			s.dist[i*n+j], s.dist[j*n+i] = d, d
			s.moved[i*n+j], s.moved[j*n+i] = math.Abs(change), math.Abs(change)
		}
	}
	_, size := Extent(x.m.From) // a slip in one point must not make every triangle look small
	s.size = size.Norm()
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
	var b frame
	s.of.set(&(*p)[i], &(*p)[j], &(*p)[k])
	b.set(&(*q)[i], &(*q)[j], &(*q)[k])
	a := &s.of
	var co, si float64
	for m := 0; m < 3; m++ {
		co += float64(a.u[m]*b.u[m]) + float64(a.v[m]*b.v[m])
		si += float64(a.u[m]*b.v[m]) - float64(a.v[m]*b.u[m])
	}
	n := math.Sqrt(float64(co*co) + float64(si*si))
	co, si = co/n, si/n
	x, y := b.x, b.y
	for m := range x {
		x[m], y[m] = float64(b.x[m]*co)+float64(b.y[m]*si), float64(b.y[m]*co)-float64(b.x[m]*si)
	}
	r := &c.pose.R
	for row := range r {
		for col := range r[row] {
			r[row][col] = float64(a.x[col]*x[row]) + float64(a.y[col]*y[row]) + float64(a.z[col]*b.z[row])
		}
	}
	c.pose.T = b.mid.Sub(r.MulVec(a.mid))
}

// frame is a triangle in its own plane.
type frame struct {
	mid, x, y, z Vec
	u, v         [3]float64 // coordinates of the corners
}

func (f *frame) set(p, q, r *Vec) {
	e, g := q.Sub(*p), r.Sub(*p)
	f.mid = Vec{p[0] + (e[0]+g[0])/3, p[1] + (e[1]+g[1])/3, p[2] + (e[2]+g[2])/3}
	f.z = e.Cross(g).Unit()
	f.x = p.Sub(f.mid).Unit()
	f.y = f.z.Cross(f.x)
	for k, c := range [3]*Vec{p, q, r} {
		d := c.Sub(f.mid)
		f.u[k], f.v[k] = f.x.Dot(d), f.y.Dot(d)
	}
}

// leverage is the mean variance per coordinate that the uncertain pose of a
// triangle gives to a point, for unit noise: 1/3 + (|d|^2 tr C - d' C d)/3,
// with d from its middle and C the covariance of its turn, the inverse of
// sum (|r|^2 I - r r') over the corners. In the frame of the triangle C has
// the block [xx, xy; xy, yy] in its plane and zz across.
type leverage struct {
	of             *frame
	xx, yy, zz, xy float64
}

func (f *frame) leverage() leverage {
	var uu, uv, vv float64
	for k := range f.u {
		uu += float64(f.u[k] * f.u[k])
		uv += float64(f.u[k] * f.v[k])
		vv += float64(f.v[k] * f.v[k])
	}
	det := float64(uu*vv) - float64(uv*uv) // of [[vv,-uv],[-uv,uu]]
	return leverage{of: f, xx: uu / det, yy: vv / det, zz: 1 / (uu + vv), xy: uv / det}
}

func (l *leverage) at(p *Vec) float64 {
	d := p.Sub(l.of.mid)
	x, y, z := l.of.x.Dot(d), l.of.y.Dot(d), l.of.z.Dot(d)
	sum := float64(x*x*(l.yy+l.zz)) + float64(y*y*(l.xx+l.zz)) + float64(z*z*(l.xx+l.yy)) - float64(2*x*y*l.xy)
	return 1./3 + sum/3
}

const baseCap = 11.345 // chi-square, 3 degrees of freedom, 99 %

// score adds up the bounded misfits of the triple that pose looked at last; it
// gives up when they exceed worst. The least bound, leverage 1/3, decides most
// triples without the real one.
func (s *tripleSearch) score(c *scored, worst float64) bool {
	const leastCap = baseCap * 4 / 3
	from, to, weight := s.x.m.From, s.x.m.To, s.x.weight
	to, weight = to[:len(from)], weight[:len(from)]
	s.beyond = s.beyond[:0]
	r, shift := c.pose.R, c.pose.T
	sum := 0.0
	for i := range from {
		p, q := &from[i], &to[i] // distance2, without the call
		x := q[0] - shift[0] - float64(r[0][0]*p[0]) - float64(r[0][1]*p[1]) - float64(r[0][2]*p[2])
		y := q[1] - shift[1] - float64(r[1][0]*p[0]) - float64(r[1][1]*p[1]) - float64(r[1][2]*p[2])
		z := q[2] - shift[2] - float64(r[2][0]*p[0]) - float64(r[2][1]*p[1]) - float64(r[2][2]*p[2])
		v := weight[i] * (float64(x*x) + float64(y*y) + float64(z*z))
		if v > leastCap {
			s.beyond = append(s.beyond, excess{i, v - leastCap})
			v = leastCap
		}
		if sum += v; !(sum < worst) {
			return false
		}
	}
	if len(s.beyond) > 0 {
		l := s.of.leverage()
		for _, e := range s.beyond {
			more := baseCap * (l.at(&from[e.point]) - 1./3)
			if e.by < more {
				more = e.by
			}
			if sum += more; !(sum < worst) {
				return false
			}
		}
	}
	c.score = sum
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
	s.of.set(&m.From[c.t[0]], &m.From[c.t[1]], &m.From[c.t[2]])
	l := s.of.leverage()
	for i := range m.From {
		p := &m.From[i]
		if s.x.weight[i]*distance2(&c.pose, p, &m.To[i]) <= baseCap*(1+l.at(p)) {
			set.Put(i)
		}
	}
	for _, i := range c.t {
		set.Put(int(i))
	}
	return set
}
