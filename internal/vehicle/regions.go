package vehicle

import (
	"fettle/internal/body"
	"fettle/internal/geom"
)

// Region is a point of every face of a label.
type Region struct {
	label  int32
	Points []geom.Vec
	Near   *geom.Segments // the same
}

// Region is a point of every face of a zone; none without a mesh.
func (c *Casting) Region(z body.Zone) Region {
	for _, r := range c.regions.Get(c.work, c.findRegions) {
		if int(r.label) == z.Label {
			return r
		}
	}
	return Region{}
}

func (c *Casting) findRegions() []Region {
	out := []Region{}
	if c.Surface == nil || c.Surface.Mesh().Label == nil {
		return out
	}
	m := c.Surface.Mesh()
	at := map[int32]int{}
	last := make([]int, len(m.Points)) // region a point was last taken for, plus one
	for f, l := range m.Label {
		i, ok := at[l]
		if !ok {
			i = len(out)
			at[l], out = i, append(out, Region{label: l})
		}
		if v := m.Faces[f][0]; last[v] != i+1 {
			last[v] = i + 1
			out[i].Points = append(out[i].Points, m.Points[v])
		}
	}
	for i, r := range out {
		ends := make([][2]geom.Vec, len(r.Points))
		for k, q := range r.Points {
			ends[k] = [2]geom.Vec{q, q}
		}
		out[i].Near = geom.NewSegments(ends)
	}
	return out
}
