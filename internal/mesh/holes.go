package mesh

import (
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Hole is a round hole found by its wall: faces whose normals point to one axis
// and lean along it all alike, so that a tapered hole is one too.
type Hole struct {
	Circle      // of the wall: the centre at half depth, the radius that of the wider end
	DepthMM     float64
	NarrowMM    float64 // radius of the narrower end
	Faces       int     // of the wall
	PlaceStdMM  float64 // standard uncertainty of the axis across itself, where that is least known
	RadiusStdMM float64 // and of the radius
}

// StdMM is the standard uncertainty of where the rim of a hole lies.
func (h *Hole) StdMM() float64 { return elem.Hypot(h.PlaceStdMM, h.RadiusStdMM) }

// Limits on what counts as the wall of a round hole. Our choices, no source:
// a hole of eight sides passes, a fillet, a wide cone or a groove does not.
const (
	wallLean      = 0.40 // largest |normal·axis| of a face that may be of the wall or of its rounds
	taperLean     = 0.21 // largest |normal·axis| of the wall itself: a taper of 12 degrees
	taperSlope    = 0.22 // the same as the growth of its radius along the axis
	alikeLean     = 0.04 // by which faces of one wall may differ in it
	wallPoint     = 0.80 // least cosine between its normal and the way to the axis
	wallSpread    = 0.12 // share of the radius by which a face may lie off it
	guessPoint    = 0.70 // the same while the axis is a guess
	guessSpread   = 0.30
	pairAngleLo   = 5.0 // degrees between the normals of two faces that guess an axis
	pairAngleHi   = 100.0
	pairRings     = 2    // how many faces apart they may lie
	wallBand      = 2.0  // radii from a face along the axis within which its wall has to go all the way round
	wallBins      = 24   // sectors round the axis; in four quarters
	wallGaps      = 2    // of which so many may be empty
	roundMM       = 3.0  // how far the rounds of the rims reach beyond the wall
	roundLean     = 0.75 // where they have turned away from the wall
	endShare      = 0.60 // for this share of the length of its ends
	wallDepth     = 0.20 // least depth of the wall, as a share of that with its rounds
	leastWallFace = 8
	roundTry      = 4      // tries that a wall counts for that goes all the way round
	mostTries     = 24     // walls that came to nothing and have a face in common
	roughWall     = 0.05   // share of the tolerance by which points may lie off a wall that is taken at once
	otherStarts   = 8      // faces from which it is tried else
	otherGuesses  = 3      // with so many axes each
	alikeNormals  = 0.9986 // cosine between the normals of faces that such walls count for: 3 degrees
)

// pairCosLo and pairCosHi are the cosines of these angles.
var pairCosLo, pairCosHi = elem.Cos(pairAngleLo * math.Pi / 180), elem.Cos(pairAngleHi * math.Pi / 180)

// Holes finds round holes of at most maxRadiusMM by their walls, whatever
// crosses their rims: two faces near one another guess an axis (their normals
// meet on it), the wall grows from them over faces that fit, of these those are
// kept that lean along the axis alike, and a circle and a taper are
// fitted to their points. It is a hole when it goes all the way round, the points
// lie within tolMM of the wall so fitted (root mean square) and the surface turns
// away at its ends, at once or over rounds. The order is that of the smallest face.
func (s *Surface) Holes(maxRadiusMM, tolMM float64) []Hole {
	return s.holeFinder(maxRadiusMM, tolMM).all()
}

func (s *Surface) holeFinder(maxRadiusMM, tolMM float64) *holeFinder {
	h := &holeFinder{s: s, max: maxRadiusMM, tol: tolMM, used: make([]bool, len(s.m.Faces)), tries: make([]uint8, len(s.m.Faces)), stamp: make([]int32, len(s.m.Faces)),
		normal: make([]geom.Vec, len(s.m.Faces)), mid: make([]geom.Vec, len(s.m.Faces)), area: make([]float64, len(s.m.Faces)),
		seen: make([]int32, len(s.m.Points)), sector: make([]int8, len(s.m.Points))}
	for f := range s.m.Faces {
		p, q, o := s.m.corners(f)
		h.normal[f], h.mid[f], h.area[f] = s.m.FaceNormal(f), p.Add(q).Add(o).Scale(1./3), s.m.FaceAreaMM2(f)
	}
	return h
}

func (h *holeFinder) all() []Hole {
	var out []Hole
	for f := range h.s.m.Faces {
		if !h.used[f] && h.tries[f] < mostTries {
			h.s.work.Step()
			if c, ok := h.from(int32(f)); ok {
				out = append(out, c)
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(out), func(c Hole) bool {
		return slices.ContainsFunc(out, func(d Hole) bool { return c.within(&d) })
	})
}

// within says that a hole is a band of the round of a deeper one.
func (c *Hole) within(d *Hole) bool {
	off := c.Centre.Sub(d.Centre)
	along := off.Dot(d.Axis)
	return c.DepthMM < d.DepthMM && math.Abs(c.Axis.Dot(d.Axis)) > 0.98 && radial(off, d.Axis).Norm() < c.RadiusMM/4 &&
		math.Abs(along) < d.DepthMM/2+roundMM && math.Abs(c.RadiusMM-d.RadiusMM) < min(roundMM, 0.2*d.RadiusMM)
}

type holeFinder struct {
	s           *Surface
	max, tol    float64
	normal, mid []geom.Vec
	area        []float64
	used        []bool // faces of holes already found
	tries       []uint8
	stamp       []int32 // by face: the last round that came to it
	seen        []int32 // by point, likewise
	sector      []int8  // by point: where it lies round the axis looked at last
	round       int32
	looked      int          // faces of all walls that were tried: the measure of the work
	wall        []int32      // scratch
	seenAt      [][2]float64 // scratch
}

// axisLine is an axis with what a face of a wall round it has to keep to.
type axisLine struct {
	at, along   geom.Vec
	radius      float64
	least, most float64 // square of its distance from the axis
	point       float64 // cosine between its normal and the way to the axis
	slope       float64 // by which the radius grows along it, from at
	spread      float64 // what else least and most are of that radius
}

// line is an axis whose wall may lie off the radius by a share of it.
func (h *holeFinder) line(at, along geom.Vec, radius, spread, point float64) axisLine {
	off := float64(spread*radius) + h.tol
	least, most := max(0, radius-off), radius+off
	return axisLine{at: at, along: along, radius: radius, least: least * least, most: most * most, point: point, spread: spread}
}

// from looks for a hole whose wall has the face.
func (h *holeFinder) from(f int32) (Hole, bool) {
	for _, g := range h.ring(f) {
		wall, round, ok := h.start(f, g)
		if !ok {
			continue
		}
		var out Hole
		judged, ok, cost := false, false, uint8(1)
		wide := wall
		if round {
			cost = roundTry
			out, wall, judged, ok = h.refine(f, wall)
		}
		if ok && out.RMSMM > roughWall*h.tol {
			out, wall = h.elsewhere(wide, out, wall)
		}
		for _, w := range wall {
			h.used[w] = h.used[w] || ok
			if n := h.normal[w].Dot(h.normal[f]); judged || n > alikeNormals { // from these it would be much the same
				h.tries[w] = min(mostTries, h.tries[w]+cost)
			}
		}
		if ok || h.tries[f] >= mostTries {
			return out, ok
		}
	}
	return Hole{}, false
}

// start is the wall that grows from a face about the axis that it and another guess, and
// whether it goes all the way round.
func (h *holeFinder) start(f, g int32) (wall []int32, round, ok bool) {
	a, ok := h.guess(f, g)
	if !ok {
		return nil, false, false
	}
	wall, whole := h.grow(f, a, wallBand*a.radius)
	if len(wall) < leastWallFace {
		return nil, false, false
	}
	if round = h.allRound(wall, a); round && !whole {
		wall, _ = h.grow(f, a, math.Inf(1))
		round = h.allRound(wall, a)
	}
	return wall, round, true
}

// elsewhere begins anew from other faces of a wall whose points lie off it, and takes
// the wall they lie on best: begun on the round of a rim, an axis can settle askew, with
// the upper round on one side and the lower one on the other.
func (h *holeFinder) elsewhere(wide []int32, best Hole, wall []int32) (Hole, []int32) {
	for k := range otherStarts {
		h.s.work.Step()
		f := wide[k*len(wide)/otherStarts]
		found := 0
		for _, g := range h.ring(f) {
			grown, round, ok := h.start(f, g)
			if !ok || !round {
				continue
			}
			out, core, _, ok := h.refine(f, grown)
			if ok && out.RMSMM < best.RMSMM && 2*len(core) > len(wall) {
				best, wall = out, core
			}
			if found++; found == otherGuesses || best.RMSMM <= roughWall*h.tol {
				break
			}
		}
	}
	return best, wall
}

// refine settles the axis of a grown wall and says whether it is a hole; it gives
// the faces that were last taken for its wall, and whether it came so far that
// they were judged.
func (h *holeFinder) refine(f int32, wall []int32) (out Hole, core []int32, judged, ok bool) {
	for range 5 {
		a, ok := h.settle(wall)
		if !ok {
			return Hole{}, wall, false, false
		}
		if c, ok := h.cone(wall, a); ok && math.Abs(c.slope) <= taperSlope && math.Abs(c.slope)*c.radius > h.tol {
			a = h.line(c.at, c.along, c.radius, wallSpread, wallPoint)
			a.slope = c.slope
		}
		core, _ = h.grow(f, a, math.Inf(1))
		core = h.alike(core, a.along)
		if len(core) < leastWallFace {
			return Hole{}, wall, false, false
		}
		if slices.Equal(core, wall) {
			break
		}
		wall = core
	}
	out, ok = h.judge(wall)
	return out, wall, true, ok
}

// alike is the faces of a wall that lean along the axis within alikeLean of one
// another: those of the lean that has the largest area. The rounds of its rims
// lean in all ways.
func (h *holeFinder) alike(wall []int32, along geom.Vec) []int32 {
	const bins = 21 // over taperLean to both sides, half of alikeLean each
	var area [bins]float64
	lean := func(f int32) float64 { return h.normal[f].Dot(along) }
	place := func(f int32) int { return int(math.Floor((lean(f)+taperLean)/alikeLean*2 + 0.5)) }
	for _, f := range wall {
		if k := place(f); k >= 0 && k < bins {
			area[k] += h.area[f]
		}
	}
	var best int
	most := -1.0 // no sum is less
	for k := range area {
		sum := area[k]
		if k > 0 {
			sum += area[k-1]
		}
		if k+1 < bins {
			sum += area[k+1]
		}
		if sum > most {
			best, most = k, sum
		}
	}
	var out []int32
	for _, f := range wall {
		if k := place(f); k >= best-1 && k <= best+1 && k >= 0 && k < bins {
			out = append(out, f)
		}
	}
	return out
}

// ring is the faces within pairRings of f, nearest first.
func (h *holeFinder) ring(f int32) []int32 {
	h.round++
	h.stamp[f] = h.round
	out := []int32{f}
	for from, n := 0, 0; n < pairRings; n++ {
		end := len(out)
		for ; from < end; from++ {
			h.beside(out[from], func(g int32) {
				if h.stamp[g] != h.round {
					h.stamp[g] = h.round
					out = append(out, g)
				}
			})
		}
	}
	return out[1:]
}

func (h *holeFinder) beside(f int32, visit func(g int32)) {
	for k := range int32(3) {
		if t := h.s.adj.twin[3*f+k]; t >= 0 {
			visit(t / 3)
		}
	}
}

// guess is the axis on which the normals of two faces meet at the same distance.
func (h *holeFinder) guess(f, g int32) (axisLine, bool) {
	n, m := h.normal[f], h.normal[g]
	c := n.Dot(m)
	if c > pairCosLo || c < pairCosHi {
		return axisLine{}, false
	}
	// mid_f + r n and mid_g + s m meet in the plane across n x m
	along := n.Cross(m).Unit()
	d := h.mid[g].Sub(h.mid[f])
	r := d.Cross(m).Dot(along) / n.Cross(m).Dot(along)
	s := d.Cross(n).Dot(along) / n.Cross(m).Dot(along)
	if !(r > 0 && s > 0) || r > 1.1*h.max || math.Abs(r-s) > float64(guessSpread*r)+h.tol {
		return axisLine{}, false
	}
	mid := float64((r + s) / 2)
	return h.line(h.mid[f].Add(n.Scale(mid)), along, mid, guessSpread, guessPoint), true
}

// grow is the faces that hang together with f and fit the axis, no farther from f
// along it than reach; whole says that none was left out for that.
func (h *holeFinder) grow(f int32, a axisLine, reach float64) (out []int32, whole bool) {
	h.round++
	if !h.fits(f, &a) {
		return nil, true
	}
	h.stamp[f] = h.round
	out, whole = append(h.wall[:0], f), true
	from := h.mid[f].Dot(a.along)
	for i := 0; i < len(out); i++ {
		for k := 3 * out[i]; k < 3*out[i]+3; k++ {
			g := h.s.adj.twin[k] / 3
			if h.s.adj.twin[k] < 0 || h.stamp[g] == h.round {
				continue
			}
			h.stamp[g] = h.round
			switch {
			case h.used[g] || !h.fits(g, &a):
			case h.beyond(g, a.along, from, reach):
				whole = false
			default:
				out = append(out, g)
			}
		}
	}
	h.wall = out
	h.looked += len(out)
	return slices.Clone(out), whole
}

// beyond says that a face lies farther than reach from a place along a direction.
func (h *holeFinder) beyond(g int32, along geom.Vec, from, reach float64) bool {
	if math.IsInf(reach, 1) || math.Abs(h.mid[g].Dot(along)-from) <= reach {
		return false
	}
	p, q, o := h.s.m.corners(int(g))
	x, y, z := p.Dot(along)-from, q.Dot(along)-from, o.Dot(along)-from
	return min(x, y, z) > reach || max(x, y, z) < -reach
}

// fits says that a face may be of the wall round the axis: it does not lean too
// much along it, is as far from it as its radius, and faces it.
func (h *holeFinder) fits(f int32, a *axisLine) bool {
	n, d := &h.normal[f], h.mid[f].Sub(a.at)
	lean := n.Dot(a.along)
	if math.Abs(lean) > wallLean {
		return false
	}
	along := d.Dot(a.along)
	square := d.Dot(d) - float64(along*along)
	least, most := a.least, a.most
	if a.slope != 0 {
		r := a.radius + float64(a.slope*along)
		off := float64(a.spread*r) + h.tol
		lo, hi := max(0, r-off), max(0, r+off)
		least, most = lo*lo, hi*hi
	}
	if square < least || square > most {
		return false
	}
	inward := float64(lean*along) - n.Dot(d)
	return inward >= 0 && float64(inward*inward) >= float64(a.point*a.point)*square
}

// radial is the part of v across a direction.
func radial(v, along geom.Vec) geom.Vec { return v.Sub(along.Scale(v.Dot(along))) }

// settle is the axis of a wall: the direction along which its normals differ least,
// and the circle of its points seen along it.
func (h *holeFinder) settle(wall []int32) (axisLine, bool) {
	var c [3]geom.Vec
	var mean geom.Vec
	area := 0.0
	for _, f := range wall {
		w := h.area[f]
		mean, area = mean.Add(h.normal[f].Scale(w)), area+w
	}
	for _, f := range wall {
		n := h.normal[f].Sub(mean.Scale(1 / area))
		for i := range 3 {
			c[i] = c[i].Add(n.Scale(h.area[f] * n[i]))
		}
	}
	along, ok := leastDirection(c)
	if !ok {
		return axisLine{}, false
	}
	x, y := sideways(along)
	h.round++
	h.seenAt = h.seenAt[:0]
	for _, f := range wall {
		for _, v := range h.s.m.Faces[f] {
			if h.seen[v] != h.round {
				h.seen[v] = h.round
				h.seenAt = append(h.seenAt, [2]float64{h.s.m.Points[v].Dot(x), h.s.m.Points[v].Dot(y)})
			}
		}
	}
	at, radius, ok := flatCircle(h.seenAt)
	return h.line(x.Scale(at[0]).Add(y.Scale(at[1])), along, radius, wallSpread, wallPoint), ok && radius <= h.max
}

// judge says whether a wall is a hole.
func (h *holeFinder) judge(wall []int32) (Hole, bool) {
	a, ok := h.settle(wall)
	if !ok || !h.allRound(wall, a) {
		return Hole{}, false
	}
	c, ok := h.cone(wall, a)
	if !ok {
		return Hole{}, false
	}
	lo, hi := h.extent(wall, c.along)
	at := c.at.Dot(c.along)
	rimLo, rimHi, ok := h.ends(wall, axisLine{at: c.at, along: c.along, radius: c.radius}, hi-lo)
	if !ok || c.rms > h.tol {
		return Hole{}, false
	}
	return c.hole(lo-at, hi-at, rimLo-at, rimHi-at, h.sagitta(wall, &c), len(wall)), true
}

// cone is the cone nearest to the points of a wall. What crosses the wall leaves
// points far off it that are not of it: of those farther off than most, once, the fit
// is freed.
func (h *holeFinder) cone(wall []int32, a axisLine) (coneLine, bool) {
	var points []geom.Vec
	h.round++
	for _, f := range wall {
		for _, v := range h.s.m.Faces[f] {
			if h.seen[v] != h.round {
				h.seen[v] = h.round
				points = append(points, h.s.m.Points[v])
			}
		}
	}
	c, ok := fitCone(points, a)
	if !ok {
		return c, false
	}
	most := max(offMost*c.rms, h.tol/10)
	near := slices.DeleteFunc(slices.Clone(points), func(p geom.Vec) bool { return math.Abs(c.off(p)) > most })
	if len(near) == len(points) || len(near) < len(points)*3/4 {
		return c, true
	}
	if d, ok := fitCone(near, a); ok {
		return d, true
	}
	return c, true
}

// Of a quarter round the part that leans by no more than roundLean is about two thirds
// of its height: the rest is this share of it, give or take. Our choice: geometry.
const (
	roundRest    = 0.3
	roundRestStd = 0.2
	faceStdMM    = 0.5 // how well it is known where on the axis a tapered wall meets the face
)

// sagitta is how far the longest flat of a wall lies inside the circle through its
// ends: c^2/(8 r), c its length across the axis.
func (h *holeFinder) sagitta(wall []int32, c *coneLine) float64 {
	most := 0.0
	for _, f := range wall {
		p, q, o := h.s.m.corners(int(f))
		for _, e := range [3]geom.Vec{q.Sub(p), o.Sub(q), p.Sub(o)} {
			most = max(most, radial(e, c.along).Norm())
		}
	}
	return most * most / (8 * c.radius)
}

// offMost is how many times farther off than usual a point is left out. Our choice,
// common practice.
const offMost = 2.5

// hole is a cone as a hole whose wall reaches from lo to hi along it, and its rounds
// from rimLo to rimHi. The radius is that of the wider end, at the end of the rounds:
// where the wall would meet the face without them, nothing is nearer to the hole than
// said. sagitta is how far its flats lie inside the circle through their ends: which of
// the two the part follows is not known.
func (c *coneLine) hole(lo, hi, rimLo, rimHi, sagitta float64, faces int) Hole {
	rimLo, rimHi = min(rimLo, lo), max(rimHi, hi)
	mid := (lo + hi) / 2
	wide, rest := rimLo, rimLo-lo
	if c.slope > 0 {
		wide, rest = rimHi, rimHi-hi
	}
	wide += float64(roundRest * rest)
	flats := sagitta / math.Sqrt(12)
	out := Hole{DepthMM: hi - lo, NarrowMM: c.radius + min(float64(c.slope*lo), float64(c.slope*hi)), Faces: faces,
		PlaceStdMM:  elem.Hypot(max(c.placeStd(rimLo), c.placeStd(rimHi)), flats*math.Sqrt(2/float64(c.n))),
		RadiusStdMM: elem.Hypot(c.radiusStd(wide), elem.Hypot(flats, elem.Hypot(float64(roundRestStd*c.slope*rest), float64(faceStdMM*c.slope))))}
	out.Circle = Circle{Centre: c.at.Add(c.along.Scale(mid)), Axis: c.along, RadiusMM: c.radius + float64(c.slope*wide), RMSMM: c.rms, MaxMM: c.max, N: c.n}
	return out
}

// leastDirection is the eigenvector of the smallest eigenvalue of a symmetric
// matrix without negative eigenvalues, by inverse iteration; false when there
// is none.
func leastDirection(c [3]geom.Vec) (geom.Vec, bool) {
	trace := c[0][0] + c[1][1] + c[2][2]
	for i := range 3 {
		c[i][i] += float64(1e-9 * trace) // never singular; the directions stay
	}
	// the inverse times the determinant, symmetric
	inv := [3]geom.Vec{c[1].Cross(c[2]), c[2].Cross(c[0]), c[0].Cross(c[1])}
	v := inv[0]
	for _, r := range inv {
		if r.Norm() > v.Norm() {
			v = r
		}
	}
	for range 20 {
		if !(v.Norm() > 0) {
			return v, false
		}
		v = v.Unit()
		v = geom.Vec{inv[0].Dot(v), inv[1].Dot(v), inv[2].Dot(v)}
	}
	return v.Unit(), v.Norm() > 0
}
