package body

import (
	"cmp"
	"fmt"
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

// Features is what a surface offers to make zones from.
type Features struct {
	Regions   []MeshRegion `json:"regions"` // largest first
	Bores     []Bore       `json:"-"`
	FreeEdges []MeshEdge   `json:"freeEdges"`
	AreaMM2   float64      `json:"areaMm2"`
}

// FindFeatures finds the regions between sharp edges, the holes and the free
// edges of a surface.
func FindFeatures(s *mesh.Surface, sharp unit.Rad, boreTolerance unit.MM) Features {
	m := s.Mesh()
	out := Features{Bores: FindBores(s, sharp, boreTolerance), Regions: []MeshRegion{}, FreeEdges: []MeshEdge{}}
	largest := map[int32]float64{} // face of each region
	for f, r := range s.Regions(float64(sharp)) {
		for int(r) >= len(out.Regions) {
			out.Regions = append(out.Regions, MeshRegion{})
		}
		g, a := &out.Regions[r], m.FaceAreaMM2(f)
		g.Faces++
		g.AreaMM2 += a
		out.AreaMM2 += a
		if a > largest[r] || g.Faces == 1 {
			t := m.Faces[f]
			largest[r] = a
			g.At = m.Points[t[0]].Add(m.Points[t[1]]).Add(m.Points[t[2]]).Scale(1. / 3)
		}
	}
	slices.SortStableFunc(out.Regions, func(a, b MeshRegion) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
	for _, r := range s.Rims(math.Pi, 0) {
		if r.Free {
			out.FreeEdges = append(out.FreeEdges, MeshEdge{r.LengthMM, r.Closed, m.Points[r.Points[0]]})
		}
	}
	return out
}

// Draft is a recipe to start from: every region of at least the share of the
// surface is a zone, and the rest is one more.
func (f *Features) Draft(meshFile, meshUnit string, sharp unit.Rad, boreTolerance unit.MM, share float64) *ZoneRecipe {
	r := &ZoneRecipe{Format: ZoneFormat, Mesh: meshFile, MeshUnit: meshUnit, Sharp: sharp, BoreTolerance: boreTolerance}
	for i, g := range f.Regions {
		if g.AreaMM2 < float64(share*f.AreaMM2) {
			continue
		}
		id := ZoneID(fmt.Sprintf("Z-%d", i+1))
		r.Zones = append(r.Zones, Zone{ID: id, Label: len(r.Zones) + 1, Name: fmt.Sprintf("Region %d, %.0f cm2", i+1, g.AreaMM2/100)})
		r.Steps = append(r.Steps, ZoneStep{Do: "grow", Zone: id, From: []geom.Vec{tidy(g.At, 1e3)}})
	}
	if len(r.Zones) < len(f.Regions) {
		r.Rest = "REST"
		r.Zones = append(r.Zones, Zone{ID: r.Rest, Label: len(r.Zones) + 1, Name: "Everything else"})
	}
	return r
}
