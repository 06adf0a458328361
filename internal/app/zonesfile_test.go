package app

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// What rounds to nothing is printed without a sign.
func TestNoFigureIsLessThanNothing(t *testing.T) {
	if got := axesText(geom.Vec{-0.004, 0.996, -0.005001}, 2); got != "0.00, 1.00, -0.01" {
		t.Errorf("printed %q", got)
	}
}

// A draft by walls is told by its zones; the regions, which are none, in one line, and
// all of them only when asked for.
func TestZonesOfTheDraftAreTold(t *testing.T) {
	f := FoundZones{Zones: []DraftZone{{ID: "Z-1", Name: "Wall 1, 2 sides, 8 cm2", At: []geom.Vec{{1, -0.01, 3}}}}}
	f.draft = &body.ZoneRecipe{Steps: []body.ZoneStep{{Do: body.ZoneGrow, Zone: "Z-1"}, {Do: body.ZoneFill}}}
	f.AreaMM2 = 1000
	for range 30 {
		f.Regions = append(f.Regions, body.MeshRegion{Faces: 1, AreaMM2: 900})
	}
	typed := Column{Width: 96, How: func(r diag.Remedy) string { return strings.Join(r.All("what"), "") }}
	short, long := f.Text(typed, 20), f.Text(typed, 100)
	if !strings.Contains(short, "1 zone in the draft") || !strings.Contains(short, "Z-1: Wall 1, 2 sides, 8 cm2, at 1.0, 0.0, 3.0") ||
		!strings.Contains(short, "no zones by themselves: "+job.GiveAll) || strings.Contains(short, "triangles") {
		t.Errorf("told is\n%s", short)
	}
	if strings.Count(long, "triangles") != 30 {
		t.Errorf("told is\n%s", long)
	}
	f.draft.Steps = nil // by regions
	if short = f.Text(typed, 20); strings.Count(short, "triangles") != 20 || !strings.Contains(short, "and 10 more regions") {
		t.Errorf("told is\n%s", short)
	}
}
