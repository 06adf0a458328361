package mesh

import (
	"math"

	"fettle/internal/geom"
)

// shear is a ray, and the map that turns it into the third axis.
type shear struct {
	x, y, z    int
	sx, sy, sz float64
	origin     geom.Vec
}

func (sh *shear) set(origin, d *geom.Vec) {
	z := 0
	for k := 1; k < 3; k++ {
		if math.Abs(d[k]) > math.Abs(d[z]) {
			z = k
		}
	}
	x, y := (z+1)%3, (z+2)%3
	sh.x, sh.y, sh.z = x, y, z
	sh.sx, sh.sy, sh.sz = d[x]/d[z], d[y]/d[z], 1/d[z]
	sh.origin[0], sh.origin[1], sh.origin[2] = origin[0], origin[1], origin[2]
}

// rayHit is where a ray meets a triangle.
type rayHit struct {
	u, v, w, t float64 // barycentric, and the distance
	front      bool    // the ray comes from the side the normal points to
}

// meet is where the ray meets the triangle. Seen along the ray, the corners of
// a triangle met from its front run against the clock.
func (sh *shear) meet(points []geom.Vec, tri *[3]int32, hit *rayHit) bool {
	a, b, c := &points[tri[0]], &points[tri[1]], &points[tri[2]]
	o := &sh.origin
	az, bz, cz := a[sh.z]-o[sh.z], b[sh.z]-o[sh.z], c[sh.z]-o[sh.z]
	ax, bx, cx := a[sh.x]-o[sh.x]-float64(sh.sx*az), b[sh.x]-o[sh.x]-float64(sh.sx*bz), c[sh.x]-o[sh.x]-float64(sh.sx*cz)
	ay, by, cy := a[sh.y]-o[sh.y]-float64(sh.sy*az), b[sh.y]-o[sh.y]-float64(sh.sy*bz), c[sh.y]-o[sh.y]-float64(sh.sy*cz)
	u := float64(cx*by) - float64(cy*bx)
	v := float64(ax*cy) - float64(ay*cx)
	w := float64(bx*ay) - float64(by*ax)
	if (u < 0 || v < 0 || w < 0) && (u > 0 || v > 0 || w > 0) {
		return false
	}
	det := u + v + w
	if det == 0 {
		return false
	}
	t := sh.sz*(float64(u*az)+float64(v*bz)+float64(w*cz))/det + 0 // never -0
	if !(t >= 0) {
		return false
	}
	hit.u, hit.v, hit.w, hit.t, hit.front = u/det, v/det, w/det, t, (det > 0) == (sh.sz > 0)
	return true
}

// beam is a ray prepared for boxes: origin and one over the direction.
type beam struct{ ox, oy, oz, ix, iy, iz float64 }

func newBeam(o, d geom.Vec) beam {
	return beam{o[0], o[1], o[2], inverse(d[0]), inverse(d[1]), inverse(d[2])}
}

// inverse is 1/x, or for 0 a number so large that anything off the origin is
// farther than any mesh reaches.
func inverse(x float64) float64 {
	if math.Abs(x) < 1e-200 {
		return 1e200
	}
	return 1 / x
}

// neverMM is farther along a ray than any mesh reaches.
const neverMM = 1e150

// missed is the rank of a box that the ray does not enter before the limit.
const missed = math.MaxInt64

// rayStep is 1e-12, in units in the last place.
const rayStep = 1 << 13

// enters ranks two boxes by where the ray enters them, 0 from inside. All is
// compared as bits of float64, without branches: numbers below zero are
// negative whole numbers, and a box behind the origin is missed whatever their
// order. rayStep widens the far side by more than the rounding.
func (r *beam) enters(n *[2]node, limit int64) (a, b int64) {
	p, q := &n[0], &n[1]
	x0, x1 := bitsOf((float64(p.lo[0])-r.ox)*r.ix), bitsOf((float64(p.hi[0])-r.ox)*r.ix)
	y0, y1 := bitsOf((float64(p.lo[1])-r.oy)*r.iy), bitsOf((float64(p.hi[1])-r.oy)*r.iy)
	z0, z1 := bitsOf((float64(p.lo[2])-r.oz)*r.iz), bitsOf((float64(p.hi[2])-r.oz)*r.iz)
	a = max(min(x0, x1), min(y0, y1), min(z0, z1), 0)
	to := min(max(x0, x1), max(y0, y1), max(z0, z1), limit)
	if a > to+rayStep {
		a = missed
	}
	x0, x1 = bitsOf((float64(q.lo[0])-r.ox)*r.ix), bitsOf((float64(q.hi[0])-r.ox)*r.ix)
	y0, y1 = bitsOf((float64(q.lo[1])-r.oy)*r.iy), bitsOf((float64(q.hi[1])-r.oy)*r.iy)
	z0, z1 = bitsOf((float64(q.lo[2])-r.oz)*r.iz), bitsOf((float64(q.hi[2])-r.oz)*r.iz)
	b = max(min(x0, x1), min(y0, y1), min(z0, z1), 0)
	to = min(max(x0, x1), max(y0, y1), max(z0, z1), limit)
	if b > to+rayStep {
		b = missed
	}
	return a, b
}

// bitsOf orders numbers that are not below zero; -0 counts as 0.
func bitsOf(x float64) int64 { return int64(math.Float64bits(float64(x) + 0)) }

// FirstHit is the nearest place where the half line from origin along dir meets
// the surface: the first answer of Ray, without the others. False when it meets
// nothing. Of faces met at the same distance it takes the smaller index.
func (s *Surface) FirstHit(origin, dir geom.Vec) (Hit, bool) {
	var store [usualWide]wideVisit
	c := raySearch{stack: s.faces.wideVisits(&store)}
	var hit Hit
	ok := s.faces.firstHit(&origin, &dir, &c, &hit)
	return hit, ok
}

// raySearch is a ray on its way, and what it has met first so far.
type raySearch struct {
	shear
	dir   geom.Vec
	box   rayQuery
	flat  planeRay
	stack []wideVisit

	rayHit
	face, leaf int32 // face below 0 if nothing is met
	try        rayHit
}

// set begins with a ray. One that has no direction or is not finite meets nothing: of all that
// is reckoned from it nothing is a number.
func (c *raySearch) set(o, dir *geom.Vec) {
	x, y, z := dir[0], dir[1], dir[2]
	if n := math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z)); n != 0 { // as Unit does
		x, y, z = float64(x*(1/n)), float64(y*(1/n)), float64(z*(1/n))
	}
	c.dir[0], c.dir[1], c.dir[2] = x, y, z
	c.shear.set(o, &c.dir)
	c.face, c.t = none, neverMM
}

// meet looks whether the ray meets the face of the leaf before what it has met
// so far, or at the same place with a smaller index.
func (c *raySearch) meet(t *faceTree, leaf int32) bool {
	f, x := &t.leaf[leaf], &c.try
	if !c.shear.meet(t.points, &f.corner, x) || x.t > c.t || x.t == c.t && f.face > c.face {
		return false
	}
	c.face, c.leaf = f.face, leaf
	c.u, c.v, c.w, c.t, c.front = x.u, x.v, x.w, x.t, x.front
	return true
}

func (t *faceTree) firstHit(o, dir *geom.Vec, c *raySearch, out *Hit) bool {
	c.set(o, dir)
	if t.wide != nil && inReach(o) {
		t.firstHitWide(c)
	} else {
		t.firstHitPlain(c)
	}
	if c.face < 0 {
		return false
	}
	t.site(c.leaf, c.u, c.v, c.w, &out.Site)
	out.DistMM, out.Front = c.t, c.front
	return true
}

// hit turns a meeting into an answer.
func (s *Surface) hit(face int32, x *rayHit) Hit {
	return Hit{s.site(face, x.u, x.v, x.w), x.t, x.front}
}

func (t *faceTree) firstHitPlain(c *raySearch) {
	r := newBeam(c.origin, c.dir)
	limit := bitsOf(neverMM)
	var store [usualDepth]rayVisit
	stack := store[:]
	if t.depth >= usualDepth {
		stack = make([]rayVisit, t.depth+1)
	}
	n, at := 0, int32(0)
	for {
		nd := &t.nodes[at]
		if nd.count == 0 {
			near, far := nd.first, nd.first+1
			a, b := r.enters((*[2]node)(t.nodes[near:]), limit)
			if b < a {
				near, far = far, near
			}
			if a, b = min(a, b), max(a, b); a != missed {
				if b != missed {
					stack[n] = rayVisit{b, far}
					n++
				}
				at = near
				continue
			}
		} else {
			for i := nd.first; i < nd.first+nd.count; i++ {
				if c.meet(t, i) {
					limit = bitsOf(c.t)
				}
			}
		}
		for {
			if n == 0 {
				return
			}
			n--
			if stack[n].rank <= limit+rayStep {
				break
			}
		}
		at = stack[n].node
	}
}

// rayVisit is a box that the ray enters, not looked into yet.
type rayVisit struct {
	rank int64
	node int32
}
