package picture

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
)

// Camera is an orthographic view: no perspective, so that lengths across the
// view are to scale.
type Camera struct {
	Name              string
	Right, Up, Toward geom.Vec // unit vectors of the picture in body coordinates; toward points at the viewer
	Scale             float64  // pixels for each millimetre
	Left, Top         float64  // camera coordinates of the picture's corner [mm]
	W, H              int      // pixels
	Clip              float64  // nothing nearer to the viewer than this is drawn [mm]
	// Solid: the mesh is closed and its faces look outward, so that of a face that looks away
	// nothing is seen unless what is in front of it is cut away.
	Solid bool
}

// At is where a point falls in the picture, in pixels, and its depth: the
// larger, the nearer to the viewer [mm].
func (c Camera) At(p geom.Vec) (x, y, depth float64) {
	return float64((p.Dot(c.Right) - c.Left) * c.Scale), float64((c.Top - p.Dot(c.Up)) * c.Scale), p.Dot(c.Toward)
}

// Times is the same view with k times as many pixels each way.
func (c Camera) Times(k int) Camera {
	c.Scale *= float64(k)
	c.W *= k
	c.H *= k
	return c
}

// DepthMap is what is seen of a mesh in every pixel of a view, as runs of pixels
// in a row that show the same face. How deep a face lies in a pixel follows from
// its corners.
type DepthMap struct {
	m     *mesh.Mesh
	c     Camera
	first []int32 // the run each row begins with, and after the last row
	runs  []run
}

// run is the pixels from one column on that show a face; none: -1.
type run struct{ from, face int32 }

// Bytes is the memory it takes.
func (dm *DepthMap) Bytes() int { return 8*len(dm.runs) + 4*len(dm.first) }

// At is the face in a pixel, or -1.
func (dm *DepthMap) At(x, y int) int32 {
	row := dm.runs[dm.first[y]:dm.first[y+1]]
	i, found := slices.BinarySearchFunc(row, int32(x), func(r run, x int32) int { return int(r.from - x) })
	if !found {
		i--
	}
	return row[i].face
}

// depth is how deep a face lies in the middle of a pixel.
func (dm *DepthMap) depth(f int32, x, y int) float64 {
	var g facet
	for k, v := range dm.m.Faces[f] {
		p := dm.c.snapped(&dm.m.Points[v])
		g.p[k], g.z[k] = p.at(), p.z
	}
	e, ok := g.edges(x, y)
	if !ok {
		return math.Inf(-1)
	}
	return e.depth(e.b, e.c)
}

// Pixels is the room that views are drawn in, used again for the next one. A view is
// drawn band by band, each of some rows: what is worked on stays near the processor.
type Pixels struct {
	Work *halt.Work // what drawing is part of; nil: it is not stopped

	band  int        // rows of a band; bandRows when 0
	at    []spot     // of the mesh's points, as far as faces in view have them
	faces []int32    // that may be in view, ascending
	bands [][2]int16 // of each of them, the first and the last it is in
	first []int32    // of each band, where its faces begin
	order []int32    // faces, by band

	// The rows of a band, below those before it that are not done with.
	face  []int32
	depth []float64
	ink   []uint32

	runs  []run
	looks []look
	round uint32 // of looks: those of other pictures are out of date
	small canvas
	shelf pngShelf
}

// bandRows is how many rows of a view of 2,400 pixels fit into a processor's cache.
const bandRows = 32

// subPixel is the grid points are snapped to: with whole numbers the same
// pixels are covered on every machine.
const (
	subPixel     = 1 << subPixelBits
	subPixelBits = 4
)

// spot is where a point falls, in parts of pixels, and its depth.
type spot struct {
	x, y int32
	z    float64
}

// snapped is where a point falls. Written out in numbers: vectors would go through memory.
func (c *Camera) snapped(p *geom.Vec) spot {
	x := float64((onto(&c.Right, p) - c.Left) * c.Scale)
	y := float64((c.Top - onto(&c.Up, p)) * c.Scale)
	return spot{below(x * subPixel), below(y * subPixel), onto(&c.Toward, p)}
}

func (s *spot) at() [2]int64 { return [2]int64{int64(s.x), int64(s.y)} }

func onto(d, p *geom.Vec) float64 {
	return float64(d[0]*p[0]) + float64(d[1]*p[1]) + float64(d[2]*p[2])
}

// below is the greatest whole number not above x, of what lies beyond farSubPixel that.
func below(x float64) int32 { return int32(math.Floor(min(max(x, -farSubPixel), farSubPixel))) }

// farSubPixel is 33 million pixels: no part of 100 m comes so far out of a picture that
// shows some of it.
const farSubPixel = 1 << 29

// Seen finds the nearest face in every pixel. Where two faces are equally near, the one
// with the smaller index is seen.
func (px *Pixels) Seen(m *mesh.Mesh, c Camera) *DepthMap {
	dm := px.newMap(m, c)
	px.sweep(m, nil, c, 0, func(_, from, to int) { dm.add(px.face, to-from) })
	return px.tight(dm)
}

// sweep draws a view band by band: below is told the row of the picture that the first
// row of the buffers is, the rows that are new, and that they are drawn. The last kept
// rows before them are still there.
func (px *Pixels) sweep(m *mesh.Mesh, tree *mesh.Surface, c Camera, keep int, done func(top, from, to int)) {
	rows := cmp.Or(px.band, bandRows)
	px.place(m, tree, &c)
	px.sort(m, &c, rows)
	size := (min(rows, c.H) + keep) * c.W
	px.face, px.depth = roomFor(px.face, size), roomFor(px.depth, size)
	px.ink = roomFor(px.ink, size)
	held := 0 // rows in the buffers
	for from := 0; from < c.H; from += rows {
		px.Work.Step()
		to, kept := min(from+rows, c.H), min(keep, held)
		gone := (held - kept) * c.W
		copy(px.face, px.face[gone:held*c.W])
		copy(px.depth, px.depth[gone:held*c.W])
		copy(px.ink, px.ink[gone:held*c.W])
		held = kept + to - from
		fill(px.face[kept*c.W:held*c.W], -1)
		fill(px.depth[kept*c.W:held*c.W], math.Inf(-1))
		b := from / rows
		for _, f := range px.order[px.first[b]:px.first[b+1]] {
			px.drawIn(m, &c, f, from-kept, from, to)
		}
		done(from-kept, from, to)
	}
}

// place finds which faces may be in view, and where their points fall. Without a tree all
// faces may.
func (px *Pixels) place(m *mesh.Mesh, tree *mesh.Surface, c *Camera) {
	px.at = roomFor(px.at, len(m.Points))
	if tree != nil {
		if some := tree.Within(c.frame()); some != nil && 3*len(some) < len(m.Points) {
			px.faces = some
			for _, f := range some {
				for _, v := range m.Faces[f] {
					px.at[v] = c.snapped(&m.Points[v])
				}
			}
			return
		}
	}
	px.faces = roomFor(px.faces, len(m.Faces))
	for f := range px.faces {
		px.faces[f] = int32(f)
	}
	for i := range m.Points {
		px.at[i] = c.snapped(&m.Points[i])
	}
}

// frame is planes round what is drawn, with more room than rounding takes.
func (c *Camera) frame() []mesh.Plane {
	room := 2 / c.Scale // two pixels
	left, right := c.Left-room, c.Left+float64(c.W)/c.Scale+room
	top, bottom := c.Top+room, c.Top-float64(c.H)/c.Scale-room
	back := func(v geom.Vec, d float64) mesh.Plane { return mesh.Plane{Normal: v.Scale(-1), OffsetMM: -d} }
	return []mesh.Plane{
		{Normal: c.Right, OffsetMM: left}, back(c.Right, right),
		{Normal: c.Up, OffsetMM: bottom}, back(c.Up, top),
		back(c.Toward, c.Clip+room),
	}
}

// sort finds which faces are in which band.
func (px *Pixels) sort(m *mesh.Mesh, c *Camera, rows int) {
	px.bands = roomFor(px.bands, len(px.faces))
	px.first = roomFor(px.first, (c.H+rows-1)/rows+1)
	clear(px.first)
	hidden, sign := c.away()
	for i, f := range px.faces {
		t := &m.Faces[f]
		p, q, r := &px.at[t[0]], &px.at[t[1]], &px.at[t[2]]
		px.bands[i] = [2]int16{1, 0}
		x0, x1 := pixelRange(p.x, q.x, r.x, c.W)
		y0, y1 := pixelRange(p.y, q.y, r.y, c.H)
		if x0 <= x1 && y0 <= y1 && (!hidden || edge(p.at(), q.at(), r.at()) > 0 != sign) {
			px.bands[i] = [2]int16{int16(y0 / rows), int16(y1 / rows)}
			for b := y0 / rows; b <= y1/rows; b++ {
				px.first[b+1]++
			}
		}
	}
	for b := range len(px.first) - 1 {
		px.first[b+1] += px.first[b]
	}
	px.order = roomFor(px.order, int(px.first[len(px.first)-1]))
	next := slices.Clone(px.first)
	for i, b := range px.bands {
		for k := b[0]; k <= b[1]; k++ {
			px.order[next[k]] = px.faces[i]
			next[k]++
		}
	}
}

// away says whether faces that look away are hidden, and whether the area of such a face in the
// picture is above 0: rows are counted downward.
func (c *Camera) away() (hidden, positive bool) {
	return c.Solid && math.IsInf(c.Clip, 1), c.Right.Cross(c.Up).Dot(c.Toward) > 0
}

// drawIn draws what of a face is in the rows of a band.
func (px *Pixels) drawIn(m *mesh.Mesh, c *Camera, f int32, top, from, to int) {
	t := &m.Faces[f]
	p, q, r := &px.at[t[0]], &px.at[t[1]], &px.at[t[2]]
	x0, x1 := pixelRange(p.x, q.x, r.x, c.W)
	y0, y1 := pixelRange(p.y, q.y, r.y, c.H)
	g := facet{p: [3][2]int64{p.at(), q.at(), r.at()}, z: [3]float64{p.z, q.z, r.z}}
	px.draw(f, g, [4]int{x0, x1, max(y0, from), min(y1, to-1)}, c, top)
}

// roomFor is n elements in the room of s where that is enough; what they are is not
// said.
func roomFor[T any](s []T, n int) []T {
	if cap(s) >= n {
		return s[:n]
	}
	return make([]T, n)
}

// fill sets all of a slice.
func fill[T any](s []T, v T) {
	for done := copy(s, []T{v}); done < len(s); {
		done += copy(s[done:], s[:done])
	}
}

// newMap is an empty map, for the time being in room that is used again.
func (px *Pixels) newMap(m *mesh.Mesh, c Camera) *DepthMap {
	return &DepthMap{m: m, c: c, first: make([]int32, 0, c.H+1), runs: px.runs[:0]}
}

// add adds the rows below those that are there.
func (dm *DepthMap) add(face []int32, rows int) {
	for y := range rows {
		dm.first = append(dm.first, int32(len(dm.runs)))
		last := int32(-2)
		for x, f := range face[y*dm.c.W : (y+1)*dm.c.W] {
			if f != last {
				dm.runs, last = append(dm.runs, run{int32(x), f}), f
			}
		}
	}
}

// tight is the map in room of its own, and no more of it than it takes.
func (px *Pixels) tight(dm *DepthMap) *DepthMap {
	dm.first = append(dm.first, int32(len(dm.runs)))
	px.runs, dm.runs = dm.runs, slices.Clone(dm.runs)
	return dm
}

// row is the runs of a row.
func (dm *DepthMap) row(y int) []run {
	if y+1 < len(dm.first) {
		return dm.runs[dm.first[y]:dm.first[y+1]]
	}
	return dm.runs[dm.first[y]:]
}

// facet is a face as it falls in a picture: its corners in parts of pixels, and
// their depths.
type facet struct {
	p [3][2]int64
	z [3]float64
}

// edges are the edge functions of a face in a pixel: whole numbers that change
// by a fixed step from pixel to pixel and are none of them negative inside; depth
// follows from two of them.
type edges struct {
	a, b, c     int64
	right, down [3]int64
	z, g1, g2   float64
}

// edges is false for a face that is seen end on.
func (g facet) edges(x, y int) (edges, bool) {
	p, z := g.p, g.z
	area := edge(p[0], p[1], p[2])
	if area == 0 {
		return edges{}, false
	}
	if area < 0 {
		p[1], p[2], z[1], z[2] = p[2], p[1], z[2], z[1]
		area = -area
	}
	at := [2]int64{int64(x)*subPixel + subPixel/2, int64(y)*subPixel + subPixel/2}
	return edges{
		a: edge(p[1], p[2], at), b: edge(p[2], p[0], at), c: edge(p[0], p[1], at),
		right: [3]int64{(p[1][1] - p[2][1]) * subPixel, (p[2][1] - p[0][1]) * subPixel, (p[0][1] - p[1][1]) * subPixel},
		down:  [3]int64{(p[2][0] - p[1][0]) * subPixel, (p[0][0] - p[2][0]) * subPixel, (p[1][0] - p[0][0]) * subPixel},
		z:     z[0], g1: (z[1] - z[0]) / float64(area), g2: (z[2] - z[0]) / float64(area),
	}, true
}

// depth is the depth where two of the edge functions are b and c.
func (e *edges) depth(b, c int64) float64 {
	return e.z + float64(float64(b)*e.g1) + float64(float64(c)*e.g2)
}

// draw draws one face inside a box of pixels (first and last column, first and
// last row) into the buffers, whose first row is row top of the picture.
func (px *Pixels) draw(f int32, g facet, box [4]int, c *Camera, top int) {
	e, ok := g.edges(box[0], box[2])
	if !ok {
		return
	}
	wide, clip := box[1]-box[0]+1, c.Clip
	z, g1, g2, dv, dw := e.z, e.g1, e.g2, float64(e.right[1]), float64(e.right[2])
	for y := box[2]; y <= box[3]; y++ {
		first, past := e.covers(wide)
		row := (y-top)*c.W + box[0]
		depth := px.depth[row+first : row+past]
		face := px.face[row+first : row+past][:len(depth)]
		// as e.depth has them: whole numbers so small that adding them is exact
		v, w := float64(e.b+int64(first)*e.right[1]), float64(e.c+int64(first)*e.right[2])
		for i := range depth {
			if d := z + float64(v*g1) + float64(w*g2); d > depth[i] && d <= clip {
				depth[i], face[i] = d, f
			}
			v, w = v+dv, w+dw
		}
		e.a, e.b, e.c = e.a+e.down[0], e.b+e.down[1], e.c+e.down[2]
	}
}

// covers is the columns of a row, the first and the one past the last, in which no edge
// function is negative.
func (e *edges) covers(wide int) (first, past int) {
	if wide > narrow {
		first, past = inside(e.a, e.right[0], 0, wide)
		first, past = inside(e.b, e.right[1], first, past)
		return inside(e.c, e.right[2], first, past)
	}
	u, v, w, du, dv, dw := e.a, e.b, e.c, e.right[0], e.right[1], e.right[2]
	for first < wide && u|v|w < 0 {
		first, u, v, w = first+1, u+du, v+dv, w+dw
	}
	for past = first; past < wide && u|v|w >= 0; past++ {
		u, v, w = u+du, v+dv, w+dw
	}
	return first, past
}

// narrow is up to how many columns a row is gone through pixel by pixel: no
// more than it takes to work out where it begins and ends.
const narrow = 16

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
func pixelRange(a, b, c int32, n int) (int, int) {
	lo, hi := (min(a, b, c)+subPixel/2-1)>>subPixelBits, (max(a, b, c)-subPixel/2)>>subPixelBits
	return int(max(lo, 0)), int(min(hi, int32(n-1)))
}

// Seen says that a point on the surface is not hidden behind another face.
func (dm *DepthMap) Seen(p geom.Vec, slackMM float64) bool {
	x, y, d := dm.c.At(p)
	xi, yi := int(math.Floor(x)), int(math.Floor(y))
	// the pixel or one of its neighbours: what lies on an edge is still seen
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			u, v := xi+dx, yi+dy
			if u < 0 || v < 0 || u >= dm.c.W || v >= dm.c.H {
				continue
			}
			if f := dm.At(u, v); f >= 0 && dm.depth(f, u, v) <= d+slackMM {
				return true
			}
		}
	}
	return false
}

// Around is a camera that shows the box of points with a margin, in a picture
// of the given width at most as high as maxH pixels.
func (c Camera) Around(pts []geom.Vec, marginMM float64, w, maxH int) Camera {
	lo, hi := [...]float64{math.Inf(1), math.Inf(1)}, [...]float64{math.Inf(-1), math.Inf(-1)}
	for i := range pts {
		p := &pts[i]
		u, v := onto(&c.Right, p), onto(&c.Up, p)
		lo[0], hi[0] = min(lo[0], u), max(hi[0], u)
		lo[1], hi[1] = min(lo[1], v), max(hi[1], v)
	}
	width, height := hi[0]-lo[0]+2*marginMM, hi[1]-lo[1]+2*marginMM
	c.Scale = min(float64(w)/width, float64(maxH)/height)
	c.W = w
	c.H = min(int(math.Ceil(height*c.Scale)), maxH)
	spare := float64(w)/c.Scale - width
	c.Left, c.Top = lo[0]-marginMM-spare/2, hi[1]+marginMM
	c.Clip = math.Inf(1)
	return c
}
