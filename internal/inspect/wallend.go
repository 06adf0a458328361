package inspect

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/vehicle"
)

// edgesFor is the free edges a finding is held away from, and whether some of
// them were only found by computation: that is done where the body names none
// and the procedure asks for a distance.
func (t *trace) edgesFor(limits []float64) (*vehicle.Fixtures, *vehicle.WallEnds) {
	known := t.at.FreeEdges()
	if len(t.at.Of.Edges) > 0 || len(limits) == 0 {
		return known, nil
	}
	found := t.at.WallEnds()
	if found.Count == 0 {
		return known, nil
	}
	return &vehicle.Fixtures{Targets: append(slices.Clone(known.Targets), found.Targets...)}, found
}

// edgeClearance is the clearance to the nearest free edge.
func (r *run) edgeClearance(f *Finding, t *trace) {
	edges, found := t.edgesFor(t.at.limitsOf(body.FactEdge))
	r.clearance(f, t, body.FactEdge, "edge", edges, &f.Edge)
	if found == nil || f.Edge == nil {
		return
	}
	f.Edge.Found = true
	if slices.ContainsFunc(t.curve.lines(), func(l *line) bool {
		return slices.ContainsFunc(l.faces, func(face int) bool { return found.On[int32(face)] })
	}) {
		f.Edge.MM, f.Edge.SeenMM, f.Edge.UpperMM, f.Edge.Doubt = 0, 0, 0, ""
		f.because("it lies on the end of a wall: no distance to the edge is left")
	}
	f.because("the body names no edges of this casting: the ends of walls found on its mesh (%d) count as edges", found.Count)
	r.note(diag.Say("inspect.edges-found", "the nearest edge of the casting was found by computation on its mesh, not named by the manufacturer").Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "look whether another edge lies nearer; name the edges in the body ('edges' of the casting), which can be listed from its mesh", Remedy: diag.Do(job.ToFindZones)}))
}
