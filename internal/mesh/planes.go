package mesh

import (
	"math"
	"sync"
	"sync/atomic"

	"fettle/internal/geom"
)

// facePlanes is four planes of each of up to eight faces, coordinate by
// coordinate: that of the face, and three at a right angle to it along its
// edges, each with a unit normal (outward for the edges) and the distance from
// the middle of the mesh.
//
// A ray that meets the face's plane beyond one of the others misses the face. So
// a dozen products pass over most faces without measuring them; see raySlack for
// the rounding.
type facePlanes [16][8]float32

// planeStore holds the planes of all blocks of a tree. They are made when the
// first ray asks: whoever never asks has no need of the memory.
type planeStore struct {
	once   sync.Once
	made   atomic.Bool
	mid    geom.Vec // of the box of the mesh
	radius float64  // half its diagonal
	block  []facePlanes
}

func (t *faceTree) planesOf() *planeStore {
	s := t.planes
	s.once.Do(func() {
		t.fillPlanes(s)
		s.made.Store(true)
	})
	return s
}

func (t *faceTree) fillPlanes(s *planeStore) {
	root := &t.nodes[0]
	for k := range 3 {
		s.mid[k] = (float64(root.lo[k]) + float64(root.hi[k])) / 2
	}
	s.radius = math.Sqrt(t.size2()) / 2
	s.block = make([]facePlanes, len(t.blocks))
	for i, of := range t.blocks {
		b := &s.block[i]
		for k := range of.count {
			c := &t.leaf[of.first+k].corner
			b.put(int(k), &s.mid, &t.points[c[0]], &t.points[c[1]], &t.points[c[2]])
		}
		for k := of.count; k < 8; k++ {
			b.never(int(k))
		}
	}
}

// never marks a place without a face: beyond every limit.
func (b *facePlanes) never(at int) {
	for i := 7; i < 16; i += 4 {
		b[i][at] = float32(math.Inf(-1))
	}
}

// flatSin2 is the square of the sine of a corner below which rounding may turn
// the plane of a face; such a face is always measured.
const flatSin2 = 1e-7

// put fills place at with the planes of face abc; of a sliver all are 0. Written
// out in numbers: vectors would go through memory.
func (b *facePlanes) put(at int, mid, a, c, d *geom.Vec) {
	ax, ay, az := a[0]-mid[0], a[1]-mid[1], a[2]-mid[2]
	bx, by, bz := c[0]-mid[0], c[1]-mid[1], c[2]-mid[2]
	cx, cy, cz := d[0]-mid[0], d[1]-mid[1], d[2]-mid[2]
	ex, ey, ez := bx-ax, by-ay, bz-az
	fx, fy, fz := cx-bx, cy-by, cz-bz
	gx, gy, gz := ax-cx, ay-cy, az-cz
	nx, ny, nz := across(ex, ey, ez, fx, fy, fz)
	ee, ff, gg := onto(ex, ey, ez, ex, ey, ez), onto(fx, fy, fz, fx, fy, fz), onto(gx, gy, gz, gx, gy, gz)
	n2 := onto(nx, ny, nz, nx, ny, nz)
	if !(n2 > flatSin2*ee*max(ff, gg)) || !(n2 > flatSin2*ff*gg) {
		for i := range b {
			b[i][at] = 0
		}
		return
	}
	s := 1 / math.Sqrt(n2)
	nx, ny, nz = nx*s, ny*s, nz*s
	b[0][at], b[1][at], b[2][at] = float32(nx), float32(ny), float32(nz)
	b[3][at] = float32(onto(float64(float32(nx)), float64(float32(ny)), float64(float32(nz)), ax, ay, az))
	edge := func(i int, ex, ey, ez, e2 float64) {
		s := 1 / math.Sqrt(e2)
		mx, my, mz := across(ex, ey, ez, nx, ny, nz)
		f, g, h := float32(mx*s), float32(my*s), float32(mz*s)
		b[i][at], b[i+1][at], b[i+2][at] = f, g, h
		mx, my, mz = float64(f), float64(g), float64(h)
		b[i+3][at] = roundUp(max(onto(mx, my, mz, ax, ay, az), onto(mx, my, mz, bx, by, bz), onto(mx, my, mz, cx, cy, cz)))
	}
	edge(4, ex, ey, ez, ee)
	edge(8, fx, fy, fz, ff)
	edge(12, gx, gy, gz, gg)
}

// across is the vector product of two directions, in numbers.
func across(ex, ey, ez, fx, fy, fz float64) (x, y, z float64) {
	return float64(ey*fz) - float64(ez*fy), float64(ez*fx) - float64(ex*fz), float64(ex*fy) - float64(ey*fx)
}

// onto is how far a point lies along a direction: the scalar product, in numbers.
func onto(dx, dy, dz, x, y, z float64) float64 { return float64(dx*x) + float64(dy*y) + float64(dz*z) }

// planeSlack is more than the rounding of a distance from a plane, relative to
// the distance of the point from the middle plus the radius of the mesh. Steps
// of 2^-24 each: rounding the point (1), three products and three sums (4 of
// both), the place of the plane (1 of the radius), its turn by the rounding of
// its normal (2 of the radius); all that at most 8 for each of the two distances
// of a right angle, so 12.
const planeSlack = 1e-6
