package picture

import "fettle/internal/mesh"

// HatchLabels gives every label of a mesh a hatch, never the plain one, so that
// labels that touch differ in print without colour. A label takes the hatch of
// its place in the list, or the next one that no neighbour before it has; with
// more neighbours than hatches the names alone keep them apart.
func HatchLabels(m *mesh.Mesh, labels []int32) map[int32]int {
	beside := labelNeighbours(m)
	out := map[int32]int{}
	for i, l := range labels {
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
