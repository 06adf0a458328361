package report

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// camera is an orthographic view: no perspective, so that lengths across the
// view are to scale.
type camera struct {
	name              string
	right, up, toward geom.Vec // unit vectors of the picture in body coordinates; toward points at the viewer
	scale             float64  // pixels for each millimetre
	left, top         float64  // camera coordinates of the picture's corner [mm]
	w, h              int      // pixels
	clip              float64  // nothing nearer to the viewer than this is drawn [mm]
}

// at is where a point falls in the picture, in pixels, and its depth: the
// larger, the nearer to the viewer [mm].
func (c camera) at(p geom.Vec) (x, y, depth float64) {
	return (p.Dot(c.right) - c.left) * c.scale, (c.top - p.Dot(c.up)) * c.scale, p.Dot(c.toward)
}

// times is the same view with k times as many pixels each way.
func (c camera) times(k int) camera {
	c.scale *= float64(k)
	c.w *= k
	c.h *= k
	return c
}

// depthMap is what is seen in every pixel: a face, or -1, and its depth.
type depthMap struct {
	w, h  int
	face  []int32
	depth []float64
}

// subPixel is the grid points are snapped to: with whole numbers the same
// pixels are covered on every machine.
const (
	subPixel     = 1 << subPixelBits
	subPixelBits = 4
)

// rasterise finds the nearest face in every pixel. Where two faces are equally
// near, the one with the smaller index is seen.
func rasterise(m *mesh.Mesh, c camera) *depthMap {
	dm := &depthMap{w: c.w, h: c.h, face: make([]int32, c.w*c.h), depth: make([]float64, c.w*c.h)}
	for i := range dm.face {
		dm.face[i], dm.depth[i] = -1, math.Inf(-1)
	}
	px := make([][2]int64, len(m.Points))
	pz := make([]float64, len(m.Points))
	for i, p := range m.Points {
		x, y, z := c.at(p)
		px[i] = [2]int64{int64(math.Floor(x * subPixel)), int64(math.Floor(y * subPixel))}
		pz[i] = z
	}
	for f, t := range m.Faces {
		p := [3][2]int64{px[t[0]], px[t[1]], px[t[2]]}
		x0, x1 := pixelRange(p[0][0], p[1][0], p[2][0], dm.w)
		y0, y1 := pixelRange(p[0][1], p[1][1], p[2][1], dm.h)
		if x0 <= x1 && y0 <= y1 {
			dm.draw(int32(f), p, [3]float64{pz[t[0]], pz[t[1]], pz[t[2]]}, [4]int{x0, x1, y0, y1}, c.clip)
		}
	}
	return dm
}

// draw draws one face inside a box of pixels (first and last column, first and
// last row). The edge functions of its sides are whole numbers that change by a
// fixed step from pixel to pixel; depth follows from two of them.
func (dm *depthMap) draw(f int32, p [3][2]int64, z [3]float64, box [4]int, clip float64) {
	area := edge(p[0], p[1], p[2])
	if area == 0 {
		return
	}
	if area < 0 {
		p[1], p[2], z[1], z[2] = p[2], p[1], z[2], z[1]
		area = -area
	}
	g1, g2 := (z[1]-z[0])/float64(area), (z[2]-z[0])/float64(area)
	corner := [2]int64{int64(box[0])*subPixel + subPixel/2, int64(box[2])*subPixel + subPixel/2}
	a0, b0, c0 := edge(p[1], p[2], corner), edge(p[2], p[0], corner), edge(p[0], p[1], corner)
	right := [3]int64{(p[1][1] - p[2][1]) * subPixel, (p[2][1] - p[0][1]) * subPixel, (p[0][1] - p[1][1]) * subPixel}
	down := [3]int64{(p[2][0] - p[1][0]) * subPixel, (p[0][0] - p[2][0]) * subPixel, (p[1][0] - p[0][0]) * subPixel}
	wide := box[1] - box[0] + 1
	for y := box[2]; y <= box[3]; y++ {
		first, past := 0, wide
		if wide > narrow {
			first, past = inside(a0, right[0], first, past)
			first, past = inside(b0, right[1], first, past)
			first, past = inside(c0, right[2], first, past)
		}
		row := y*dm.w + box[0]
		a, b, c := a0+int64(first)*right[0], b0+int64(first)*right[1], c0+int64(first)*right[2]
		depth, face := dm.depth[row:row+past], dm.face[row:row+past]
		for i := first; i < past; i++ {
			if a|b|c >= 0 { // none is negative
				d := z[0] + float64(float64(b)*g1) + float64(float64(c)*g2)
				if d > depth[i] && d <= clip {
					depth[i], face[i] = d, f
				}
			}
			a, b, c = a+right[0], b+right[1], c+right[2]
		}
		a0, b0, c0 = a0+down[0], b0+down[1], c0+down[2]
	}
}

// narrow is up to how many columns a row is gone through pixel by pixel: no
// more than it takes to work out where it begins and ends.
const narrow = 6

// inside narrows the columns from first to before past to those in which an edge
// function, e in column 0 and changing by step, is not negative.
func inside(e, step int64, first, past int) (int, int) {
	switch {
	case step > 0 && e < 0:
		return min(max(first, int((-e+step-1)/step)), past), past
	case step < 0 && e >= 0:
		return first, max(min(past, int(e/-step)+1), first)
	case e < 0:
		return first, first
	}
	return first, past
}

// edge is twice the signed area of the triangle a, b, q.
func edge(a, b, q [2]int64) int64 {
	return (b[0]-a[0])*(q[1]-a[1]) - (b[1]-a[1])*(q[0]-a[0])
}

// pixelRange is the pixels whose centre lies between the smallest and the largest
// of three coordinates; most faces of a fine mesh have none.
func pixelRange(a, b, c int64, n int) (int, int) {
	lo, hi := (min(a, b, c)+subPixel/2-1)>>subPixelBits, (max(a, b, c)-subPixel/2)>>subPixelBits
	return int(max(lo, 0)), int(min(hi, int64(n-1)))
}

// seen says that a point on the surface is not hidden behind another face.
func (dm *depthMap) seen(c camera, p geom.Vec, slackMM float64) bool {
	x, y, d := c.at(p)
	xi, yi := int(math.Floor(x)), int(math.Floor(y))
	// the pixel or one of its neighbours: a crack on an edge is still seen
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			u, v := xi+dx, yi+dy
			if u < 0 || v < 0 || u >= dm.w || v >= dm.h {
				continue
			}
			i := v*dm.w + u
			if dm.face[i] >= 0 && dm.depth[i] <= d+slackMM {
				return true
			}
		}
	}
	return false
}

// around is a camera that shows the box of points with a margin, in a picture
// of the given width at most as high as maxH pixels.
func (c camera) around(pts []geom.Vec, marginMM float64, w, maxH int) camera {
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, p := range pts {
		for k, v := range [2]float64{p.Dot(c.right), p.Dot(c.up)} {
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	width, height := hi[0]-lo[0]+2*marginMM, hi[1]-lo[1]+2*marginMM
	c.scale = min(float64(w)/width, float64(maxH)/height)
	c.w = w
	c.h = int(math.Ceil(height * c.scale))
	spare := float64(w)/c.scale - width
	c.left, c.top = lo[0]-marginMM-spare/2, hi[1]+marginMM
	c.clip = math.Inf(1)
	return c
}
