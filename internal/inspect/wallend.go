package inspect

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// foundEnds is the ends of the walls of a casting, as they are found on its mesh.
type foundEnds struct {
	fixtures
	count int
	on    map[int32]bool // faces of the ends themselves
}

// pieceSites is how many points of a found edge are held against a finding at a
// time: an edge may run round the whole casting.
const pieceSites = 48

// foundEdgesOf is the ends of the walls on the mesh, bores of the body left out.
func (g *grounded) foundEdgesOf() *foundEnds { return g.ends.get(g.findEnds) }

func (g *grounded) findEnds() *foundEnds {
	f := &foundEnds{on: map[int32]bool{}}
	for i, e := range body.WallEnds(g.surf, g.casting.Wall, g.casting.Bores) {
		f.count++
		for _, face := range e.Faces {
			f.on[face] = true
		}
		for _, r := range e.Borders {
			f.targets = append(f.targets, g.pieces(fmt.Sprintf("%d found on the mesh", i+1), body.RimLine(g.surf.Mesh(), r))...)
		}
	}
	return f
}

// edgesFor is the free edges a finding is held away from, and whether some of
// them were only found by computation: that is done where the body names none
// and the procedure asks for a distance.
func (t *trace) edgesFor(limits []float64) (*fixtures, *foundEnds) {
	known := t.at.freeEdgesOf()
	if len(t.at.casting.Edges) > 0 || len(limits) == 0 {
		return known, nil
	}
	found := t.at.foundEdgesOf()
	if found.count == 0 {
		return known, nil
	}
	return &fixtures{targets: append(slices.Clone(known.targets), found.targets...)}, found
}

// edgeClearance is the clearance to the nearest free edge.
func (r *run) edgeClearance(f *Finding, t *trace) {
	edges, found := t.edgesFor(t.at.limitsOf(factEdge))
	r.clearance(f, t, factEdge, "edge", edges, &f.Edge)
	if found == nil || f.Edge == nil {
		return
	}
	f.Edge.Found = true
	if slices.ContainsFunc(t.curve.lines(), func(l *line) bool {
		return slices.ContainsFunc(l.faces, func(face int) bool { return found.on[int32(face)] })
	}) {
		f.Edge.MM, f.Edge.SeenMM, f.Edge.UpperMM, f.Edge.Doubt = 0, 0, 0, ""
		f.because("it lies on the end of a wall: no distance to the edge is left")
	}
	f.because("the body names no edges of this casting: the ends of walls found on its mesh (%d) count as edges", found.count)
	r.note(diag.Note{Code: "inspect.edges-found", Severity: diag.Caution, Where: string(f.ID),
		Text: "the nearest edge of the casting was found by computation on its mesh, not named by the manufacturer",
		Hint: "look whether another edge lies nearer; name the edges in the body ('edges' of the casting; 'fettle zones find' lists them)"})
}

// pieces makes targets of a long line, each of some of its points.
func (g *grounded) pieces(name string, line []geom.Vec) []target {
	var sites []mesh.Site
	for _, q := range line {
		s, _ := g.surf.Closest(q)
		sites = append(sites, s)
	}
	var out []target
	for from := 0; from == 0 || from+1 < len(sites); from += pieceSites - 1 {
		out = append(out, fixed(name, [][]mesh.Site{sites[from:min(from+pieceSites, len(sites))]}, 0))
	}
	return out
}
