package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
)

// LabelLength is the part of a path that lies in one label.
type LabelLength struct {
	Label    int32
	LengthMM float64
}

// LabelLengths is the length of a path in every label it touches, in order of
// label. A segment along an edge counts for the face the path names. The path
// must be from this surface.
func (s *Surface) LabelLengths(p Path) []LabelLength {
	var out []LabelLength
	for i, f := range p.Faces {
		l, mm := s.m.label(f), p.Points[i].Dist(p.Points[i+1])
		at, found := slices.BinarySearchFunc(out, l, func(e LabelLength, l int32) int { return cmp.Compare(e.Label, l) })
		if !found {
			out = slices.Insert(out, at, LabelLength{Label: l})
		}
		out[at].LengthMM += mm
	}
	return out
}

// borderEdge lies between a face labelled a and one labelled b, a < b.
type borderEdge struct{ u, v, a, b int32 }

// borderIndex holds the edges between different labels, and for each label a
// tree over those of its edges.
type borderIndex struct {
	edges  []borderEdge
	labels []int32 // ascending
	trees  []tree  // by place in labels
}

// add adds an edge that lies between different labels.
func (ix *borderIndex) add(m *Mesh, u, v int32, halves []int32) {
	if m.Label == nil {
		return
	}
	from := len(ix.edges)
	for i, h := range halves {
		for _, g := range halves[:i] {
			a, b := m.Label[g/3], m.Label[h/3]
			if e := (borderEdge{u, v, min(a, b), max(a, b)}); a != b && !slices.Contains(ix.edges[from:], e) {
				ix.edges = append(ix.edges, e)
			}
		}
	}
}

// plant makes the trees over the edges.
func (ix *borderIndex) plant(m *Mesh) {
	items := map[int32][]boxed{}
	for i, e := range ix.edges {
		b := boxOf(int32(i), m.Points[e.u], m.Points[e.v])
		items[e.a] = append(items[e.a], b)
		items[e.b] = append(items[e.b], b)
	}
	for l := range items {
		ix.labels = append(ix.labels, l)
	}
	slices.Sort(ix.labels)
	for _, l := range ix.labels {
		ix.trees = append(ix.trees, newTree(items[l]))
	}
}

// DistanceToBorder is the distance through space from a site to the nearest
// edge between its own label and another one, and that other label (the
// smaller of two at equal distance). It is a lower bound on the distance along
// the surface. Without such an edge it is +Inf and the own label.
func (s *Surface) DistanceToBorder(a Site) (mm float64, otherLabel int32) {
	own := s.m.label(a.Face)
	place, found := slices.BinarySearch(s.borders.labels, own)
	if !found {
		return math.Inf(1), own
	}
	best, other := math.Inf(1), own
	s.borders.trees[place].nearest(a.At, func(i int32) float64 {
		e := s.borders.edges[i]
		d2 := segmentDist2(a.At, s.m.Points[e.u], s.m.Points[e.v])
		l := e.a
		if l == own {
			l = e.b
		}
		if d2 < best || (d2 == best && l < other) {
			best, other = d2, l
		}
		return d2
	})
	return math.Sqrt(best), other
}

// segmentDist2 is the square of the distance from p to segment ab.
func segmentDist2(p, a, b geom.Vec) float64 {
	d := geom.NearestOnSegment(p, a, b).Sub(p)
	return d.Dot(d)
}

// LabelBorders is the polylines between faces of different labels, each
// between one pair of labels. They end where three labels meet or at a border
// of the surface; a polyline that runs round repeats its first point at its end.
func (s *Surface) LabelBorders() [][]geom.Vec {
	edges := s.borders.edges
	ends := map[int32][]int32{} // edges at each point, ascending
	for i, e := range edges {
		ends[e.u] = append(ends[e.u], int32(i))
		ends[e.v] = append(ends[e.v], int32(i))
	}
	through := func(v int32) bool { // the line just passes here
		at := ends[v]
		if len(at) != 2 {
			return false
		}
		e, f := edges[at[0]], edges[at[1]]
		return e.a == f.a && e.b == f.b
	}
	used := make([]bool, len(edges))
	var out [][]geom.Vec
	walk := func(i, from int32) {
		line := []geom.Vec{s.m.Points[from]}
		for at := from; ; {
			used[i] = true
			at = edges[i].u + edges[i].v - at
			line = append(line, s.m.Points[at])
			if !through(at) {
				break
			}
			if i = ends[at][0] + ends[at][1] - i; used[i] {
				break
			}
		}
		out = append(out, line)
	}
	for i, e := range edges {
		for _, v := range [2]int32{e.u, e.v} {
			if !used[i] && !through(v) {
				walk(int32(i), v)
			}
		}
	}
	for i, e := range edges {
		if !used[i] {
			walk(int32(i), e.u)
		}
	}
	return out
}
