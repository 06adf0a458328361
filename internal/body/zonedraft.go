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

// Limits of the draft. Our choices, no source.
const (
	draftMost   = 0.5                // share of the surface that no region may pass, nor those too small for a zone together
	draftSpread = 35 * math.Pi / 180 // the sides of a wall turn by no more than this
	draftPatch  = 0.1                // least side of a wall, as a share of the least zone
	draftSees   = 0.5                // share of a side that has the other straight behind it
	draftWalls  = endWalls           // walls of at most so many nominal thicknesses have two sides
	draftWhole  = 0.3                // share of the surface that sides are joined up to
)

// RegionZone is the identity that a draft gives to the region at a place.
func RegionZone(place int) ZoneID { return ZoneID(fmt.Sprintf("Z-%d", place+1)) }

// Draft is a recipe to start from. Every region between sharp edges of at least
// the share of the surface is a zone, and the rest is one more. Where that says
// little, since edges are rounded so that most of the surface is one region or in
// small ones, the walls, ribs and flanges are the zones instead: what faces one way,
// together with the other side of the wall, and of the rest what is nearest.
func (f *Features) Draft(meshFile, meshUnit string, sharp unit.Rad, boreTolerance unit.MM, share float64) (*ZoneRecipe, error) {
	r := &ZoneRecipe{Format: ZoneFormat, Mesh: meshFile, MeshUnit: meshUnit, Sharp: sharp, BoreTolerance: boreTolerance}
	bare := 0.0
	for _, g := range f.Regions {
		if g.AreaMM2 < float64(share*f.AreaMM2) {
			bare += g.AreaMM2
		}
	}
	if len(f.Regions) > 0 && (f.Regions[0].AreaMM2 > draftMost*f.AreaMM2 || bare > draftMost*f.AreaMM2) {
		return r, f.draftWalls(r, share)
	}
	for i, g := range f.Regions {
		if g.AreaMM2 >= float64(share*f.AreaMM2) {
			r.draftZone(RegionZone(i), fmt.Sprintf("Region %d, %.0f cm2", i+1, g.AreaMM2/100), ZoneStep{From: []geom.Vec{tidy(g.At, 1e3)}})
		}
	}
	if len(r.Zones) < len(f.Regions) {
		r.Rest = "REST"
		r.Zones = append(r.Zones, Zone{ID: r.Rest, Label: len(r.Zones) + 1, Name: "Everything else"})
	}
	return r, nil
}

// draftZone adds a zone that is grown.
func (r *ZoneRecipe) draftZone(id ZoneID, name string, grow ZoneStep) {
	grow.Do, grow.Zone = ZoneGrow, id
	r.Zones = append(r.Zones, Zone{ID: id, Label: len(r.Zones) + 1, Name: name})
	r.Steps = append(r.Steps, grow)
}

// draftWall is a wall, rib or flange: one or more of its sides.
type draftWall struct {
	sides []mesh.Patch
	area  float64
}

// draftWalls makes the walls zones.
func (f *Features) draftWalls(r *ZoneRecipe, share float64) error {
	sides, err := f.surf.Patches(float64(r.Sharp), draftSpread, draftPatch*share*f.AreaMM2)
	if err != nil {
		return err
	}
	m := f.surf.Mesh()
	for _, w := range f.joinSides(sides) {
		if w.area < float64(share*f.AreaMM2) {
			break // the others are no larger
		}
		grow := ZoneStep{Spread: draftSpread, Only: []ZoneID{NoZone}}
		for _, p := range w.sides {
			grow.From = append(grow.From, tidy(m.FaceMiddle(int(p.Seed)), 1e3))
		}
		what := "one side"
		if len(w.sides) > 1 {
			what = fmt.Sprintf("%d sides", len(w.sides))
		}
		r.draftZone(RegionZone(len(r.Zones)), fmt.Sprintf("Wall %d, %s, %.0f cm2", len(r.Zones)+1, what, w.area/100), grow)
	}
	if len(r.Zones) == 0 {
		r.Rest = "REST"
		r.Zones = append(r.Zones, Zone{ID: r.Rest, Label: 1, Name: "Everything"})
		return nil
	}
	r.Steps = append(r.Steps, ZoneStep{Do: ZoneFill})
	return nil
}

// joinSides joins the sides of walls, the largest first: a side of which at least
// half has another straight behind it, as long as they are not too much of the
// surface together.
func (f *Features) joinSides(sides []mesh.Patch) []draftWall {
	of := make([]int, len(f.Of))
	for i := range of {
		of[i] = -1
	}
	for i, p := range sides {
		for _, k := range p.Faces {
			of[k] = i
		}
	}
	type pair struct{ i, j int }
	sees := map[pair]float64{}
	f.surf.EachWall(func(a, b int32, mm float64) {
		if i, j := of[a], of[b]; i >= 0 && j >= 0 && i != j && mm <= float64(draftWalls*f.WallMM) {
			sees[pair{i, j}] += f.surf.Mesh().FaceAreaMM2(int(a))
		}
	})
	var pairs []pair
	for p, area := range sees {
		if area >= float64(draftSees*sides[p.i].AreaMM2) {
			pairs = append(pairs, p)
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int { return cmp.Or(cmp.Compare(sees[b], sees[a]), a.i-b.i, a.j-b.j) })
	wall := make([]int, len(sides)) // of each side
	walls := make([]draftWall, len(sides))
	for i, p := range sides {
		wall[i], walls[i] = i, draftWall{[]mesh.Patch{p}, p.AreaMM2}
	}
	for _, p := range pairs {
		a, b := min(wall[p.i], wall[p.j]), max(wall[p.i], wall[p.j])
		if a == b || walls[a].area+walls[b].area > float64(draftWhole*f.AreaMM2) {
			continue
		}
		walls[a] = draftWall{append(walls[a].sides, walls[b].sides...), walls[a].area + walls[b].area}
		walls[b] = draftWall{}
		for i := range wall {
			if wall[i] == b {
				wall[i] = a
			}
		}
	}
	walls = slices.DeleteFunc(walls, func(w draftWall) bool { return len(w.sides) == 0 })
	slices.SortStableFunc(walls, func(a, b draftWall) int { return cmp.Compare(b.area, a.area) })
	return walls
}
