package vehicle

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// WallEnds is the ends of the walls of a casting, as they are found on its mesh.
type WallEnds struct {
	Fixtures
	Count int
	On    map[int32]bool // faces of the ends themselves
}

// pieceSites is how many points of a found edge are held against a finding at a
// time: an edge may run round the whole casting.
const pieceSites = 48

// WallEnds is the ends of the walls on the mesh, bores of the body left out.
func (c *Casting) WallEnds() *WallEnds { return c.ends.Get(c.work, c.findEnds) }

func (c *Casting) findEnds() *WallEnds {
	f := &WallEnds{On: map[int32]bool{}}
	for i, e := range body.WallEnds(c.Surface, c.Of.Wall, c.Of.Bores) {
		f.Count++
		for _, face := range e.Faces {
			f.On[face] = true
		}
		for _, r := range e.Borders {
			f.Targets = append(f.Targets, c.pieces(fmt.Sprintf("%d found on the mesh", i+1), body.RimLine(c.Surface.Mesh(), r))...)
		}
	}
	return f
}

// pieces makes targets of a long line, each of some of its points.
func (c *Casting) pieces(name string, line []geom.Vec) []Target {
	sites := c.nearest(line)
	var out []Target
	for from := 0; from == 0 || from+1 < len(sites); from += pieceSites - 1 {
		out = append(out, fixed(name, [][]mesh.Site{sites[from:min(from+pieceSites, len(sites))]}, 0))
	}
	return out
}
