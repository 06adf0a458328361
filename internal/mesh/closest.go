package mesh

import (
	"math"

	"fettle/internal/geom"
)

// faceTree is the tree over the faces, with the faces in order of leaves and
// the points in order of first use there, so that a leaf is read in one go.
type faceTree struct {
	tree
	leaf   []leafFace
	points []geom.Vec

	wide      []wideNode // the same tree eight boxes a node; nil without vector instructions
	blocks    []faceRun  // what the places of the wide tree hold
	planes    *planeStore
	wideStack int      // visits that wait, at most
	reach     geom.Vec // greatest coordinates of the root's box, without sign
}

// leafFace is a face with its corners among the points of the tree.
type leafFace struct {
	corner [3]int32
	face   int32
}

func newFaceTree(m *Mesh, boxes []boxed) faceTree {
	t := faceTree{tree: newTree(boxes)}
	t.leaf = make([]leafFace, len(t.items))
	t.points = make([]geom.Vec, 0, len(m.Points))
	place := make([]int32, len(m.Points)) // plus one
	for i, f := range t.items {
		t.leaf[i].face = f
		for k, v := range m.Faces[f] {
			if place[v] == 0 {
				t.points = append(t.points, m.Points[v])
				place[v] = int32(len(t.points))
			}
			t.leaf[i].corner[k] = place[v] - 1
		}
	}
	t.widen()
	return t
}

// found is the nearest point so far.
type found struct {
	d2   float64
	bary [3]float64
	face int32
	leaf int32 // the face among the leaves
}

// nothing is found yet.
func nothing() found { return found{d2: math.Inf(1), face: -1} }

// look measures one face, by its place among the leaves, and keeps it if it is nearer, or as near with a
// smaller index.
func (t *faceTree) look(p *geom.Vec, leaf int32, b *found) {
	f := &t.leaf[leaf]
	c := &f.corner
	v, w, d2 := nearTriangle(p, &t.points[c[0]], &t.points[c[1]], &t.points[c[2]])
	if d2 < b.d2 || (d2 == b.d2 && f.face < b.face) {
		b.d2, b.face, b.leaf = d2, f.face, leaf
		b.bary[0], b.bary[1], b.bary[2] = 1-v-w, v, w
	}
}

// nearTriangle is the point a + v (b - a) + w (c - a) of triangle abc nearest
// to p, and the square of its distance, by the region of the plane p falls in.
// Written out in numbers, because this is where the time goes. Valid for any
// three corners, also on one line.
//
// Source of the regions: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
func nearTriangle(p, a, b, c *geom.Vec) (v, w, d2 float64) {
	bx, by, bz := b[0]-a[0], b[1]-a[1], b[2]-a[2]
	cx, cy, cz := c[0]-a[0], c[1]-a[1], c[2]-a[2]
	px, py, pz := p[0]-a[0], p[1]-a[1], p[2]-a[2]
	bb := float64(bx*bx) + float64(by*by) + float64(bz*bz)
	bc := float64(bx*cx) + float64(by*cy) + float64(bz*cz)
	cc := float64(cx*cx) + float64(cy*cy) + float64(cz*cz)
	bp := float64(bx*px) + float64(by*py) + float64(bz*pz)
	cp := float64(cx*px) + float64(cy*py) + float64(cz*pz)
	// bp, cp: along ab and ac from a; bp-bb, cp-bc: from b; bp-bc, cp-cc: from c
	switch {
	case bp <= 0 && cp <= 0:
	case bp >= bb && cp-bc <= bp-bb:
		return 1, 0, dist2(b, p) // the same for every face that has the point
	case cp >= cc && bp-bc <= cp-cc:
		return 0, 1, dist2(c, p)
	default:
		det := float64(bb*cc) - float64(bc*bc)
		if !(det > sliver*bb*cc) {
			return nearSliver(p, a, b, c)
		}
		v, w = float64(cc*bp)-float64(bc*cp), float64(bb*cp)-float64(bc*bp)
		switch {
		case w <= 0 && bp >= 0 && bp <= bb && bb > 0:
			v, w = bp/bb, 0
		case v <= 0 && cp >= 0 && cp <= cc && cc > 0:
			v, w = 0, cp/cc
		default:
			e, g := (cp-bc)-(bp-bb), (bp-bc)-(cp-cc)
			if v+w >= det && e >= 0 && g >= 0 && e+g > 0 {
				w = e / (e + g)
				v = 1 - w
			} else {
				v, w = v/det, w/det
			}
		}
	}
	x := float64(v*bx) + float64(w*cx) - px
	y := float64(v*by) + float64(w*cy) - py
	z := float64(v*bz) + float64(w*cz) - pz
	return v, w, float64(x*x) + float64(y*y) + float64(z*z)
}

// sliver is the square of the sine of a corner below which the inside of a
// triangle is lost in rounding; its sides are measured alone.
const sliver = 1e-14

func nearSliver(p, a, b, c *geom.Vec) (v, w, d2 float64) {
	d2 = math.Inf(1)
	for k, e := range [3][2]*geom.Vec{{a, b}, {b, c}, {c, a}} {
		ab, t := e[1].Sub(*e[0]), 0.0
		if l2 := ab.Dot(ab); l2 > 0 {
			t = min(1, max(0, p.Sub(*e[0]).Dot(ab)/l2))
		}
		q := e[0].Lerp(*e[1], t)
		if d := dist2(&q, p); d < d2 {
			d2 = d
			v, w = [3]float64{t, 1 - t, 0}[k], [3]float64{0, t, 1 - t}[k]
		}
	}
	return v, w, d2
}

func dist2(a, b *geom.Vec) float64 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return float64(x*x) + float64(y*y) + float64(z*z)
}

// nearestFace finds the nearest face in the plain tree: a search from nothing waits for memory, and the
// nodes are an eighth of the wide ones.
func (t *faceTree) nearestFace(p *geom.Vec, b *found, stack visitStack) {
	n, at := 0, int32(0)
	for {
		nd := &t.nodes[at]
		if nd.count > 0 {
			for i := nd.first; i < nd.first+nd.count; i++ {
				t.look(p, i, b)
			}
		} else {
			near, far := nd.first, nd.first+1
			dn, df := t.nodes[near].dist2(p), t.nodes[far].dist2(p)
			if df < dn {
				near, far, dn, df = far, near, df, dn
			}
			if dn*treeSlack <= b.d2 {
				stack[n] = treeVisit{far, df} // looked at again when its turn comes
				n++
				at = near
				continue
			}
		}
		for {
			if n == 0 {
				return
			}
			n--
			if stack[n].dist2*treeSlack <= b.d2 {
				break
			}
		}
		at = stack[n].node
	}
}

// visitStack holds what is left to visit: one entry a level.
type visitStack []treeVisit

// usualDepth is enough for most trees.
const usualDepth = 48

// stack is room for the depth of the tree, from the store if that is enough.
func (t *tree) stack(store *[usualDepth]treeVisit) visitStack {
	if t.depth < usualDepth {
		return store[:]
	}
	return make(visitStack, t.depth+1)
}

// siteNear is a place of the surface and how far off the point lies that asked.
type siteNear struct {
	Site
	distMM float64
}

// near is the answer as a site.
func (t *faceTree) near(p *geom.Vec, b *found, out *siteNear) {
	if b.face < 0 {
		*out = siteNear{distMM: math.Inf(1)}
		return
	}
	t.site(b.leaf, max(b.bary[0], 0), b.bary[1], b.bary[2], &out.Site)
	out.distMM = math.Sqrt(dist2(&out.At, p))
}

// site is Site for coordinates that are known to be right, on a face given by
// its place among the leaves.
func (t *faceTree) site(leaf int32, u, v, w float64, out *Site) {
	f := &t.leaf[leaf]
	c := &f.corner
	siteIn(int(f.face), &t.points[c[0]], &t.points[c[1]], &t.points[c[2]], u, v, w, out)
}

// site is Site for coordinates that are known to be right.
func (s *Surface) site(face int32, u, v, w float64) Site {
	t, p := &s.m.Faces[face], s.m.Points
	var out Site
	siteIn(int(face), &p[t[0]], &p[t[1]], &p[t[2]], u, v, w, &out)
	return out
}

func siteIn(face int, i, j, k *geom.Vec, u, v, w float64, out *Site) {
	x := float64(i[0]*u) + float64(j[0]*v) + float64(k[0]*w)
	y := float64(i[1]*u) + float64(j[1]*v) + float64(k[1]*w)
	z := float64(i[2]*u) + float64(j[2]*v) + float64(k[2]*w)
	out.Face = face
	out.Bary[0], out.Bary[1], out.Bary[2] = u, v, w
	out.At[0], out.At[1], out.At[2] = x, y, z
}
