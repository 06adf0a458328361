package body

import (
	"fmt"
	"slices"

	"fettle/internal/doc"
)

// HasMesh says that there is a mesh of the casting; where there is none, what lies on it is
// measured by hand.
func (c Casting) HasMesh() bool { return c.Mesh != "" }

// castingMesh checks what a casting with a mesh has to have, and one without has not.
func (c *checker) castingMesh(i int, k Casting) {
	path := at("castings", i)
	if !k.HasMesh() {
		for field, given := range map[string]bool{"mesh_unit": k.MeshUnit != "", "mesh_std": k.MeshStd != 0, "bores": len(k.Bores) > 0, "edges": len(k.Edges) > 0} {
			if given {
				c.fault(path+"."+field, "is given for a casting without a mesh", "give 'mesh', or leave it out: without a mesh, distances are measured by hand")
			}
		}
		return
	}
	if _, ok := c.files[k.Mesh]; !ok {
		c.fault(path+".mesh", fmt.Sprintf("the file %q is not in the folder", k.Mesh), "put it there, or write its name as it is in the folder")
	}
	if k.MeshUnit == "" {
		c.fault(path+".mesh_unit", "the length unit of the mesh is not given", "write mm, cm, m or in: it is never guessed")
	}
	positive(c, path+".mesh_std", k.MeshStd)
}

// knows checks the treatments that a zone is said to know.
func (c *checker) knows(i, j int, z Zone) {
	once(c, at("castings", i, "zones", j, "treatments"), z.Treatments)
}

// neighbours checks the zones that the j-th zone of a casting borders on.
func (c *checker) neighbours(i, j int, k Casting) {
	z := k.Zones[j]
	names := make([]string, len(k.Zones))
	for n, o := range k.Zones {
		names[n] = string(o.ID)
	}
	once(c, fmt.Sprintf("castings[%d].zones[%d].neighbours", i, j), z.Neighbours)
	for n, id := range z.Neighbours {
		path := fmt.Sprintf("castings[%d].zones[%d].neighbours[%d]", i, j, n)
		o := slices.IndexFunc(k.Zones, func(o Zone) bool { return o.ID == id })
		switch {
		case o < 0:
			c.fault(path, fmt.Sprintf("zone %q is none of casting %s", id, k.ID), doc.DidYouMean(string(id), names))
		case id == z.ID:
			c.fault(path, "a zone does not border on itself", "take it out")
		case k.Zones[o].Neighbours != nil && !slices.Contains(k.Zones[o].Neighbours, z.ID):
			c.fault(path, fmt.Sprintf("%s borders on %s, but %s does not name %s among its neighbours", z.ID, id, id, z.ID), "name each in the list of the other")
		}
	}
}

// Beside is the zones that a zone borders on; false when the body does not say.
func (c Casting) Beside(id ZoneID) ([]ZoneID, bool) {
	if len(c.Zones) == 1 {
		return nil, true
	}
	for _, z := range c.Zones {
		if z.ID == id {
			return z.Neighbours, z.Neighbours != nil
		}
	}
	return nil, false
}
