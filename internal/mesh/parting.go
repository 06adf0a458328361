package mesh

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/unit"
)

// parting is a mesh with a line of edges that is to part it in two.
type parting struct {
	work *halt.Work
	m    *Mesh
	line [][2]int32 // its edges, in order of their points
	on   map[[2]int32]bool
	// onLine says that an edge is on the line, which it may thereby become; nil where the
	// line is there already.
	onLine func(u, v int32, halves []int32) bool
	cuts   [][]int32 // the half-edges of each edge of the line that is on the surface
	// side is 1 for the faces that belong to the outer part beside the line,
	// 0 for the others. When whole, that holds away from the line as well.
	side    []int32
	whole   bool
	missing string // the reason when there is no line
	// through says that the cut passes between two places within the metal; nil where
	// only its line is known.
	through func(a, b geom.Vec) bool
}

func (p *parting) cut(u, v int32) {
	if p.on == nil {
		p.on = map[[2]int32]bool{}
	}
	if e := edgeOf(u, v); !p.on[e] {
		p.on[e] = true
		p.line = append(p.line, e)
	}
}

// flood joins the faces that hang together without crossing the line, and
// counts the edges of the line and of the surface that have no two sides.
func (p *parting) flood() (parts pieces, open, seams int) {
	parts, p.cuts = newPieces(len(p.m.Faces)), nil
	if p.onLine == nil {
		p.onLine = func(u, v int32, _ []int32) bool { return p.on[[2]int32{u, v}] }
	}
	p.m.edgeGroups(func(u, v int32, halves []int32) {
		on := p.onLine(u, v, halves)
		if on {
			p.cuts = append(p.cuts, slices.Clone(halves))
		}
		switch {
		case on && len(halves) > 2:
			seams++
		case len(halves) == 1:
			open++
		case !on:
			for _, h := range halves[1:] {
				parts.join(halves[0]/3, h/3)
			}
		}
	})
	return parts, open, seams
}

// prove finds the loops and the pieces, and says whether and why not the line
// divides the surface.
func (p *parting) prove(out *Section) {
	parts, open, seams := p.flood()
	p.work.Step()
	why := func(format string, args ...any) { out.Reasons = append(out.Reasons, fmt.Sprintf(format, args...)) }
	loose := 0
	for _, l := range p.loops() {
		out.Loops = append(out.Loops, l)
		out.LengthMM += l.LengthMM
		if !l.Closed {
			loose++
		}
	}
	if len(p.line) == 0 {
		why("%s", p.missing)
	}
	if loose > 0 {
		verb, they := "do not close", "they end"
		if loose == 1 {
			verb, they = "does not close", "it ends"
		}
		why("%s of the line %s: %s at a border of the surface, or several lines meet in one point", unit.Count(loose, "part"), verb, they)
	}
	if seams > 0 {
		why("the line runs along %s of three or more faces", unit.Count(seams, "edge"))
	}
	if open > 0 {
		why("the surface has %s, so it has no inside", unit.Count(open, "open edge"))
	}
	p.work.Step()
	out.FacesCrossed = p.crossed(out.Split.Parent)
	p.work.Step()
	p.pieces(parts, out, why)
	out.Divides = len(out.Reasons) == 0
}

// crossed counts the faces that were cut and have a part beside the line.
func (p *parting) crossed(parent []int32) int {
	parts, beside := make([]int32, len(parent)), map[int32]bool{}
	for _, f := range parent {
		parts[f]++
	}
	for _, halves := range p.cuts {
		for _, h := range halves {
			if f := parent[h/3]; parts[f] > 1 {
				beside[f] = true
			}
		}
	}
	return len(beside)
}

// pieces sorts the faces into the two parts and counts what hangs together.
func (p *parting) pieces(parts pieces, out *Section, why func(string, ...any)) {
	beside := map[int32][2]bool{} // piece to sides of the line it lies on
	round := false                // a piece lies on both sides of one place of the line
	across := slices.Clone(parts) // what hangs together, over the line too
	for _, halves := range p.cuts {
		for _, h := range halves {
			r := parts.root(h / 3)
			across.join(halves[0]/3, h/3)
			round = round || len(halves) == 2 && h != halves[0] && r == parts.root(halves[0]/3)
			b := beside[r]
			b[p.side[h/3]] = true
			beside[r] = b
		}
	}
	var count [2]int
	apart := 0
	void := map[int32]int32{}
	if !across.one(p.m) {
		void = p.voids(parts, beside)
	}
	for f, t := range p.m.Faces {
		root := parts.root(int32(f))
		b, touches := beside[root]
		k := p.side[f]
		if in, ok := void[root]; ok {
			b, touches = beside[in]
		}
		if touches && b[0] != b[1] {
			k = 0
			if b[1] {
				k = 1
			}
		} else if !touches && !p.whole {
			k = 0
		}
		piece := [2]*Piece{&out.Rest, &out.Outer}[k]
		piece.Faces = append(piece.Faces, int32(f))
		piece.AreaMM2 += p.m.FaceAreaMM2(f)
		if _, ok := void[root]; ok || root != int32(f) || collapsed(t) {
			continue
		}
		switch {
		case !touches && !p.whole:
			apart++
		default:
			count[k]++
		}
	}
	if len(p.line) == 0 {
		return
	}
	if round {
		why("both sides of the line hang together: the surface leads round it")
	}
	if apart > 0 {
		why("the surface has %s that the line does not touch", unit.Count(apart, "piece"))
	}
	for k, name := range [2]string{"the rest", "the outer part"} {
		if count[k] != 1 && !round {
			why("%s is in %s", name, unit.Count(count[k], "piece"))
		}
	}
}

// voids is, for each piece of the surface that bounds a closed void within the
// metal, the piece round it: itself when the line runs over it, then the cut face
// joins it to the metal, or when planes say where it lies; else the one of the
// outside of the metal that is nearest straight along an axis from one of its points,
// the cut not passing between.
func (p *parting) voids(parts pieces, beside map[int32][2]bool) map[int32]int32 {
	out := map[int32]int32{}
	list, of, whole := p.m.shells()
	if !whole {
		return out
	}
	var s *Surface
	for i := range list {
		if !list[i].cavity() {
			continue
		}
		for _, f := range list[i].faces {
			root := parts.root(f)
			if _, done := out[root]; done {
				continue
			}
			out[root] = root
			if _, touches := beside[root]; touches || p.whole {
				continue
			}
			if s == nil {
				var err error
				if s, err = NewSurface(p.m); err != nil {
					return out
				}
			}
			if f, ok := s.round(&list[i], list, of, p.through); ok {
				out[root] = parts.root(f)
			}
		}
	}
	return out
}

// one says that all faces of a mesh are in one piece.
func (p pieces) one(m *Mesh) bool {
	whole := int32(none)
	for f, t := range m.Faces {
		r := p.root(int32(f))
		if collapsed(t) {
			continue
		}
		if whole >= 0 && r != whole {
			return false
		}
		whole = r
	}
	return true
}

// round is the nearest face round a void that is of no void.
func (s *Surface) round(void *shell, list []shell, of []int32, through func(a, b geom.Vec) bool) (face int32, ok bool) {
	skin := 1e-7 * void.lo.Dist(void.hi)
	best := math.Inf(1)
	for _, v := range s.m.pointsOf(void.faces) {
		for k := range 6 {
			var way geom.Vec
			way[k/2] = float64(1 - 2*(k%2))
			h, hit := s.FirstHit(s.m.Points[v].Add(way.Scale(skin)), way)
			if !hit || h.DistMM >= best {
				continue
			}
			if i := of[h.Face]; i != none && list[i].cavity() || through != nil && through(s.m.Points[v], h.At) {
				continue
			}
			best, face, ok = h.DistMM, int32(h.Face), true
		}
	}
	return face, ok
}

// pointsOf is the points of some faces, ascending, each once.
func (m *Mesh) pointsOf(faces []int32) []int32 {
	var all []int32
	for _, f := range faces {
		all = append(all, m.Faces[f][:]...)
	}
	return slices.Compact(slices.Sorted(slices.Values(all)))
}

// chains joins the edges of the line. It goes on through a point with two of
// its edges; at any other number it ends.
func (p *parting) chains() []Rim {
	s := Surface{m: p.m, kept: &kept{}}
	var edges []borderEdge
	for _, e := range p.line {
		edges = append(edges, borderEdge{u: e[0], v: e[1], a: 0, b: 1})
	}
	return s.chain(edges, false)
}

// loops is the line.
func (p *parting) loops() []Loop {
	var out []Loop
	for _, r := range p.chains() {
		l := Loop{Closed: r.Closed, LengthMM: r.LengthMM}
		for _, v := range r.Points {
			l.Points = append(l.Points, p.m.Points[v])
		}
		out = append(out, l)
	}
	return out
}

// stripShape is the least L^2/A of a loop that runs round a wall: a strip some
// nine times as long as wide. Our choice, no source.
const stripShape = 40

// flatShare is how far the points of a loop may lie off one plane for it to be
// flat, as a share of its length: far above rounding, far below any mesh.
const flatShare = 1e-9

// capVolumes closes each piece by a cut face for each loop: of the surfaces
// that triangles between points of the loop make, the smallest. A loop that is
// flat has no other cut face worth the name, so the volume is exact. Of any
// other nobody knows how the cut runs between its points; one that stays between
// them is off by no more than
//
//	A min(2 f, A/L)
//
// A: area of the smallest cut face [mm2]; f: largest distance of the loop's
// points from their mean plane [mm]; L: length of the loop [mm], so that A/L is
// half the mean width of a strip across a wall. An estimate of our own, no
// source. A loop that is no strip runs round solid metal, and then no volume is
// given.
func (p *parting) capVolumes(out *Section) {
	lo, hi := p.m.Bounds()
	o := lo.Lerp(hi, 0.5)
	ahead := map[[2]int32]bool{} // half-edges of the outer part on the line
	for _, f := range out.Outer.Faces {
		t := p.m.Faces[f]
		for k := range 3 {
			if u, v := t[k], t[(k+1)%3]; p.on[edgeOf(u, v)] {
				ahead[[2]int32{u, v}] = true
			}
		}
	}
	caps := 0.0
	out.VolumesExact = true
	solid := 0.0 // what the cut faces of loops that are no strips may add or take
	for _, r := range p.chains() {
		var points []geom.Vec
		for _, v := range r.Points {
			points = append(points, p.m.Points[v].Sub(o))
		}
		if len(points) < 3 || !r.Closed {
			continue
		}
		v, area := capVolume(points)
		if f := offPlane(points); f > flatShare*r.LengthMM {
			within := float64(area * min(2*f, area/r.LengthMM))
			out.VolumesExact, out.VolumesWithinMM3 = false, out.VolumesWithinMM3+within
			if float64(r.LengthMM*r.LengthMM) < stripShape*area {
				solid += within
			}
		}
		if ahead[[2]int32{r.Points[0], r.Points[1]}] {
			v = -v // the cut face runs against the surface it closes
		}
		caps += v
	}
	out.Outer.VolumeMM3 = p.m.coneVolume(out.Outer.Faces, o) + caps
	out.Rest.VolumeMM3 = p.m.coneVolume(out.Rest.Faces, o) - caps
	if solid > 0 {
		out.VolumeDoubt = fmt.Sprintf("the line is not flat and runs round solid metal: how the cut runs inside is not given, and changes the volumes by up to %.1f cm3", solid/1000)
		out.Outer.VolumeMM3, out.Rest.VolumeMM3, out.VolumesWithinMM3 = 0, 0, 0
	}
}

// offPlane is the largest distance of the points of a loop from the plane
// through their middle, square to the loop's area.
func offPlane(points []geom.Vec) float64 {
	var area, mid geom.Vec
	for i, p := range points {
		area = area.Add(p.Cross(points[(i+1)%len(points)]))
		mid = mid.Add(p.Scale(1 / float64(len(points))))
	}
	n, off := area.Unit(), 0.0
	for _, p := range points {
		d := p.Sub(mid)
		if area != (geom.Vec{}) {
			off = max(off, math.Abs(n.Dot(d)))
		} else {
			off = max(off, d.Norm())
		}
	}
	return off
}
