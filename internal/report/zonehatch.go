package report

import (
	"fettle/internal/body"
	"fettle/internal/mesh"
)

// zoneHatches gives every zone of a casting a hatch, 1 to hatches-1, so that
// zones that touch differ in print without colour. A zone takes the hatch of
// its place in the list, or the next one that no neighbour before it has; with
// more neighbours than hatches the names alone keep them apart.
func zoneHatches(m *mesh.Mesh, zones []body.Zone) map[int32]int {
	beside := labelNeighbours(m)
	out := map[int32]int{}
	for i, z := range zones {
		l := int32(z.Label)
		for k := range hatches - 1 {
			h := (i+k)%(hatches-1) + 1
			if k == 0 {
				out[l] = h
			}
			if !hatchTaken(out, beside[l], h) {
				out[l] = h
				break
			}
		}
	}
	return out
}

func hatchTaken(of map[int32]int, near map[int32]bool, h int) bool {
	for l := range near {
		if of[l] == h {
			return true
		}
	}
	return false
}

// labelNeighbours is, for every label, the other labels of faces that share a
// point with one of its own.
func labelNeighbours(m *mesh.Mesh) map[int32]map[int32]bool {
	out := map[int32]map[int32]bool{}
	if m.Label == nil {
		return out
	}
	at := make([][]int32, len(m.Points)) // labels at a point
	for f, t := range m.Faces {
		l := m.Label[f]
		for _, v := range t {
			known := false
			for _, o := range at[v] {
				known = known || o == l
			}
			if !known {
				at[v] = append(at[v], l)
			}
		}
	}
	for _, ls := range at {
		for _, a := range ls {
			for _, b := range ls {
				if a != b {
					if out[a] == nil {
						out[a] = map[int32]bool{}
					}
					out[a][b] = true
				}
			}
		}
	}
	return out
}
