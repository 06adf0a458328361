package vehicle

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// No way along the surface leads over a seam of the mesh, though on the part there is
// none: what lies beyond is nearer than the ways say. What a mesh with seams is asked
// for is therefore never farther than straight to a seam and straight on from it.

// Seams is the free edges beside seams and T-joints of the casting's mesh.
func (c *Casting) Seams() []mesh.SeamEdge {
	return c.seams.Get(c.work, func() []mesh.SeamEdge { return c.Surface.Gaps().Edges })
}

// OverSeams is a lower bound on the ways between two lines that lead over a seam [mm];
// infinite without seams.
func (c *Casting) OverSeams(a, b []mesh.Site) float64 {
	edges := c.Seams()
	if len(edges) == 0 {
		return math.Inf(1)
	}
	from, to := geom.NewLines([][]geom.Vec{placesOf(a)}), geom.NewLines([][]geom.Vec{placesOf(b)})
	least := math.Inf(1)
	for _, e := range edges {
		if d := from.Nearer(math.Inf(1), e.Ends[0], e.Ends[1]); d < least {
			least = min(least, d+to.Nearer(math.Inf(1), e.Ends[0], e.Ends[1]))
		}
	}
	return least
}

func placesOf(sites []mesh.Site) []geom.Vec {
	out := make([]geom.Vec, len(sites))
	for i, s := range sites {
		out[i] = s.At
	}
	return out
}

// seamBorders is the edges beside seams as borders between the labels of their two
// sides; where it is not known what lies across, it is every label.
func (c *Casting) seamBorders() []borderEdge {
	m := c.Surface.Mesh()
	if m.Label == nil {
		return nil
	}
	var out []borderEdge
	gaps := c.Surface.Gaps()
	for _, e := range c.Seams() {
		labels := map[int32]bool{m.Label[e.Face]: true}
		across := e.Across
		if !gaps.Whole {
			across = c.oneOfEach()
		}
		for _, f := range across {
			if l := m.Label[f]; !labels[l] {
				labels[l] = true
				out = append(out, borderEdge{e.Ends[0], e.Ends[1], m.Label[e.Face], l})
			}
		}
	}
	return out
}

// oneOfEach is the first face of each label.
func (c *Casting) oneOfEach() []int {
	seen := map[int32]bool{}
	var out []int
	for f, l := range c.Surface.Mesh().Label {
		if !seen[l] {
			seen[l], out = true, append(out, f)
		}
	}
	return out
}
