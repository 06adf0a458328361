package geom

import (
	"math"
	"math/rand/v2"
	"slices"
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
	inRow   []matched // the points in the order in which score adds them up
	of      frame     // triangle of the triple that pose looked at last, from side
	best    []scored
	perOne  []scored // best triple of each point, from the first pass
}

// matched is a point of the matches.
type matched struct {
	from, to Vec
	weight   float64
}

type scored struct {
	t     triple
	score float64
	pose  Rigid
}

func newTripleSearch(x *Matcher) *tripleSearch {
	n := x.Len()
	s := &tripleSearch{x: x, dist: make([]float64, n*n), moved: make([]float64, n*n),
		inRow: make([]matched, n), best: make([]scored, 0, perPass), perOne: make([]scored, n)}
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
	s.putInRow()
	return s
}

// putInRow orders the points by how many of the others they kept their distance to,
// the fewest first.
func (s *tripleSearch) putInRow() {
	n := s.x.Len()
	kept, order := make([]int, n), make([]int, n)
	for i := range order {
		order[i] = i
		for _, m := range s.moved[i*n : (i+1)*n] {
			if m <= sideGate {
				kept[i]++
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return kept[a] - kept[b] })
	for k, i := range order {
		s.inRow[k] = matched{s.x.m.From[i], s.x.m.To[i], s.x.weight[i]}
	}
}

func (s *tripleSearch) all() {
	n := s.x.Len()
	for i := 0; i < n; i++ {
		for j := i + 1; j < n; j++ {
			s.x.Work.Step()
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
		s.x.Work.Step()
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
	h := float64((a + b + c) / 2)
	area2 := h * (h - a) * (h - b) * (h - c) // Heron
	if area2 < minShape*minShape*longest*longest*longest*longest {
		return
	}
	s.triples = append(s.triples, triple{uint16(i), uint16(j), uint16(k)})
}

// fill grows the best triples of several passes into blocks. Every pass looks
// only at triples with at most one point in the best block of each pass
// before, so that a smaller block cannot hide behind a larger one; the first
// also takes the best triple of every point. What lies beside the blocks found is
// also grown without their points: a triple of a small block predicts the others so
// badly that they would be taken in. Blocks that chance explains as well are not
// looked for so: points that moved one by one make many.
func (s *tripleSearch) fill(pl *pool) {
	var before []Block
	var held Set
	for pass := 0; pass < passes; pass++ {
		s.collect(before, pass == 0)
		list := s.best
		if pass == 0 {
			list = append(append([]scored(nil), s.best...), s.perOne...)
		}
		best, found := Block{}, false
		add := func(set Set, barred *Set) {
			b, ok := pl.grow(set, barred)
			if ok && (!found || b.Score < best.Score) && distinct(&b.Set, before) {
				best, found = *b, true
			}
		}
		if rest := s.without(&held); pass > 0 && pl.standsBeside(rest, &held, &before[0]) {
			add(rest, &held)
		}
		for c := range list {
			if math.IsInf(list[c].score, 1) {
				continue
			}
			set := s.inliers(&list[c])
			add(set, nil)
			if set.Leave(&held); pass > 0 && c < beside && pl.standsBeside(set, &held, &before[0]) {
				add(set, &held)
			}
		}
		if !found {
			return
		}
		before = append(before, best)
		held.Join(&best.Set)
	}
}

// beside is how many of the best triples of a pass are grown without the points of the
// blocks before.
const beside = 6

// without is the points that a set does not hold.
func (s *tripleSearch) without(held *Set) Set {
	var out Set
	for i := range s.x.Len() {
		if !held.Has(i) {
			out.Put(i)
		}
	}
	return out
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
		s.x.Work.Step()
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
		s.best = slices.Insert(s.best[:min(len(s.best), perPass-1)], at, c)
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

// set puts the first corner on the x axis; the coordinates of the three add up to
// nothing. It is written out because every triple of the search passes here twice.
func (f *frame) set(p, q, r *Vec) {
	e0, e1, e2 := q[0]-p[0], q[1]-p[1], q[2]-p[2]
	g0, g1, g2 := r[0]-p[0], r[1]-p[1], r[2]-p[2]
	x0, x1, x2 := -(e0+g0)/3, -(e1+g1)/3, -(e2+g2)/3 // of the first corner, from the middle
	f.mid = Vec{p[0] - x0, p[1] - x1, p[2] - x2}
	z0, z1, z2 := float64(e1*g2)-float64(e2*g1), float64(e2*g0)-float64(e0*g2), float64(e0*g1)-float64(e1*g0)
	far := math.Sqrt(float64(x0*x0) + float64(x1*x1) + float64(x2*x2))
	c := 1 / math.Sqrt(float64(z0*z0)+float64(z1*z1)+float64(z2*z2))
	z0, z1, z2 = z0*c, z1*c, z2*c
	d0, d1, d2 := e0+x0, e1+x1, e2+x2 // of the second corner
	c = 1 / far
	x0, x1, x2 = float64(x0*c), float64(x1*c), float64(x2*c)
	y0, y1, y2 := float64(z1*x2)-float64(z2*x1), float64(z2*x0)-float64(z0*x2), float64(z0*x1)-float64(z1*x0)
	f.x, f.y, f.z = Vec{x0, x1, x2}, Vec{y0, y1, y2}, Vec{z0, z1, z2}
	u := float64(x0*d0) + float64(x1*d1) + float64(x2*d2)
	v := float64(y0*d0) + float64(y1*d1) + float64(y2*d2)
	f.u, f.v = [3]float64{far, u, -far - u}, [3]float64{0, v, -v}
}

// leverage is the mean variance per coordinate that the uncertain pose of a
// triangle gives to a point, for unit noise: 1/3 + d' (I tr C - C) d / 3, with d
// from its middle and C the covariance of its turn, the inverse of
// sum (|r|^2 I - r r') over the corners.
type leverage struct {
	mid                    Vec
	xx, yy, zz, xy, xz, yz float64 // of (I tr C - C) / 3, the mixed ones twice
}

// leverage turns I tr C - C from the frame of the triangle, where C has the block
// [vv, -uv; -uv, uu] / (uu vv - uv^2) in its plane, inverted, and 1/(uu + vv) across.
func (f *frame) leverage() leverage {
	var uu, uv, vv float64
	for k := range f.u {
		uu += float64(f.u[k] * f.u[k])
		uv += float64(f.u[k] * f.v[k])
		vv += float64(f.v[k] * f.v[k])
	}
	det := float64(uu*vv) - float64(uv*uv)
	cx, cy, cz, cxy := uu/det, vv/det, 1/(uu+vv), uv/det
	a, b, c := (cy+cz)/3, (cx+cz)/3, (cx+cy)/3
	x, y, z := &f.x, &f.y, &f.z
	at := func(i, j int) float64 {
		return float64(a*x[i]*x[j]) + float64(b*y[i]*y[j]) + float64(c*z[i]*z[j]) - float64(cxy/3*(float64(x[i]*y[j])+float64(y[i]*x[j])))
	}
	return leverage{f.mid, at(0, 0), at(1, 1), at(2, 2), 2 * at(0, 1), 2 * at(0, 2), 2 * at(1, 2)}
}

func (l *leverage) at(p *Vec) float64 {
	x, y, z := p[0]-l.mid[0], p[1]-l.mid[1], p[2]-l.mid[2]
	return 1./3 + float64(x*(float64(l.xx*x)+float64(l.xy*y)+float64(l.xz*z))) + float64(y*(float64(l.yy*y)+float64(l.yz*z))) + float64(l.zz*z*z)
}

const baseCap = 11.345 // chi-square, 3 degrees of freedom, 99 %

// score adds up the bounded misfits of the triple that pose looked at last; it
// gives up when they exceed worst. The least bound, leverage 1/3, spares most points
// the real one. Those that kept few of their distances come first, so that the sum
// is soon near its end.
func (s *tripleSearch) score(c *scored, worst float64) bool {
	const leastCap = baseCap * 4 / 3
	var l leverage
	r, t := &c.pose.R, &c.pose.T
	xx, xy, xz := r[0][0], r[0][1], r[0][2]
	yx, yy, yz := r[1][0], r[1][1], r[1][2]
	zx, zy, zz := r[2][0], r[2][1], r[2][2]
	sum := 0.0
	for k := range s.inRow {
		m := &s.inRow[k]
		p, q := &m.from, &m.to // distance2, without the call
		x := q[0] - t[0] - float64(xx*p[0]) - float64(xy*p[1]) - float64(xz*p[2])
		y := q[1] - t[1] - float64(yx*p[0]) - float64(yy*p[1]) - float64(yz*p[2])
		z := q[2] - t[2] - float64(zx*p[0]) - float64(zy*p[1]) - float64(zz*p[2])
		v := float64(m.weight * (float64(x*x) + float64(y*y) + float64(z*z)))
		if v > leastCap {
			if l.xx == 0 {
				l = s.of.leverage()
			}
			v = min(v, baseCap*(1+l.at(p)))
		}
		if sum += v; !(sum < worst) {
			return false
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
