package body

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// tidy rounds to a share of a unit, so that documents stay readable; -0 is 0.
func tidy(p geom.Vec, perUnit float64) geom.Vec {
	for k := range p {
		p[k] = math.Round(p[k]*perUnit)/perUnit + 0
	}
	return p
}

// MeshRegion is a part of a surface between sharp edges.
type MeshRegion struct {
	Faces   int      `json:"faces"`
	AreaMM2 float64  `json:"areaMm2"`
	At      geom.Vec `json:"atMm"` // a point of it, to grow from
}

// MeshEdge is a line of free edges: a hole in the mesh or its border.
type MeshEdge struct {
	LengthMM float64  `json:"lengthMm"`
	Closed   bool     `json:"closed"`
	At       geom.Vec `json:"atMm"` // a point of it
}

// MeshWallEnd is where a thin wall of a closed mesh ends: a free edge of the
// casting, found by computation.
type MeshWallEnd struct {
	LengthMM float64      `json:"lengthMm"`
	ThickMM  float64      `json:"thickMm"` // the wall there, at most
	At       geom.Vec     `json:"atMm"`    // a point of it
	LinesMM  [][]geom.Vec `json:"linesMm"` // both its borders; a line that runs round repeats its first point
}

// Features is what a surface offers to make zones from.
type Features struct {
	Regions   []MeshRegion  `json:"regions"` // largest first
	Bores     []Bore        `json:"-"`
	FreeEdges []MeshEdge    `json:"freeEdges"`
	WallMM    float64       `json:"wallMm"`   // thickness the ends of walls were looked for with; 0: none
	WallEnds  []MeshWallEnd `json:"wallEnds"` // longest first, without the walls of Bores
	AreaMM2   float64       `json:"areaMm2"`
	Of        []int32       `json:"-"` // for each face the place of its region among Regions
	surf      *mesh.Surface
}

// FindFeatures finds the regions between sharp edges, the holes, the free edges
// and the ends of the walls of a surface. wall is their nominal thickness; 0: as
// thick as most of them are.
func FindFeatures(s *mesh.Surface, sharp unit.Rad, boreTolerance, wall unit.MM) Features {
	m := s.Mesh()
	out := Features{surf: s, Bores: FindBores(s, sharp, boreTolerance), Regions: []MeshRegion{}, FreeEdges: []MeshEdge{}, WallEnds: []MeshWallEnd{}}
	if out.WallMM = float64(wall); wall == 0 {
		out.WallMM, _ = s.WallMM()
	}
	for _, e := range WallEnds(s, unit.MM(out.WallMM), out.Bores) {
		w := MeshWallEnd{LengthMM: e.LengthMM, ThickMM: e.ThickMM, At: m.Points[e.Borders[0].Points[0]]}
		for _, r := range e.Borders {
			w.LinesMM = append(w.LinesMM, RimLine(m, r))
		}
		out.WallEnds = append(out.WallEnds, w)
	}
	out.findRegions(sharp)
	for _, r := range s.Rims(math.Pi, 0) {
		if r.Free {
			out.FreeEdges = append(out.FreeEdges, MeshEdge{r.LengthMM, r.Closed, m.Points[r.Points[0]]})
		}
	}
	return out
}

// findRegions finds the regions between sharp edges, the largest first.
func (f *Features) findRegions(sharp unit.Rad) {
	m := f.surf.Mesh()
	largest := map[int32]float64{} // face of each region
	f.Of = f.surf.Regions(float64(sharp))
	for k, r := range f.Of {
		for int(r) >= len(f.Regions) {
			f.Regions = append(f.Regions, MeshRegion{})
		}
		g, a := &f.Regions[r], m.FaceAreaMM2(k)
		g.Faces++
		g.AreaMM2 += a
		f.AreaMM2 += a
		if a > largest[r] || g.Faces == 1 {
			largest[r], g.At = a, m.FaceMiddle(k)
		}
	}
	f.sort()
}

// A wall ends where it is at most endWalls times as thick as the nominal wall; a
// bead along an edge is thicker than the wall. Our choice, no source.
const endWalls = 2.0

// boreLean is the least cosine between the way to the axis of a bore and the
// normal of a face of its wall or of its rounded rim. Our choice, no source.
const boreLean = 0.3

// WallEnds finds where the walls of a closed mesh end, the walls of the given
// bores left out: those are no edges of the casting but bores.
func WallEnds(s *mesh.Surface, wall unit.MM, bores []Bore) []mesh.WallEnd {
	if !(wall > 0) {
		return nil
	}
	m := s.Mesh()
	skip := make([]bool, len(m.Faces))
	for f := range m.Faces {
		n, mid := m.FaceNormal(f), m.FaceMiddle(f)
		for _, b := range bores {
			axis := b.Axis.Unit()
			off := mid.Sub(b.At)
			along := off.Dot(axis)
			out := off.Sub(axis.Scale(along))
			if b.Axis != (geom.Vec{}) && math.Abs(along) <= float64(endWalls*wall) && out.Norm() <= float64(b.Radius+wall) && n.Dot(out) <= -boreLean*out.Norm() {
				skip[f] = true
			}
		}
	}
	return s.WallEnds(float64(endWalls*wall), skip)
}

// RimLine is the points of a line; one that runs round repeats its first.
func RimLine(m *mesh.Mesh, r mesh.Rim) []geom.Vec {
	var out []geom.Vec
	for _, v := range r.Points {
		out = append(out, m.Points[v])
	}
	if r.Closed {
		out = append(out, out[0])
	}
	return out
}

// sort puts the largest region first.
func (f *Features) sort() {
	order := make([]int, len(f.Regions))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(f.Regions[b].AreaMM2, f.Regions[a].AreaMM2) })
	sorted, place := make([]MeshRegion, len(order)), make([]int32, len(order))
	for i, r := range order {
		sorted[i], place[r] = f.Regions[r], int32(i)
	}
	f.Regions = sorted
	for k, r := range f.Of {
		f.Of[k] = place[r]
	}
}
