package mesh

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// Two corners of faces have the same edge exactly where they run between the same two
// points, whichever way; also in meshes of chance, with edges of many faces and faces with
// equal corners. Held against a plain map.
func TestEdgesAreNumbered(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 7))
		m := &Mesh{Points: make([]geom.Vec, 1+rng.IntN(12))}
		for range rng.IntN(40) {
			m.Faces = append(m.Faces, [3]int32{int32(rng.IntN(len(m.Points))), int32(rng.IntN(len(m.Points))), int32(rng.IntN(len(m.Points)))})
		}
		of, n := m.EdgeOf()
		number, ends := map[[2]int32]int32{}, map[int32][2]int32{}
		for f, face := range m.Faces {
			for k := range 3 {
				u, v := face[k], face[(k+1)%3]
				key, e := [2]int32{min(u, v), max(u, v)}, of[3*f+k]
				if was, met := number[key]; met && was != e {
					t.Fatalf("seed %d: the edge of %v has the numbers %d and %d", seed, key, was, e)
				}
				if was, met := ends[e]; met && was != key {
					t.Fatalf("seed %d: edge %d is of %v and of %v", seed, e, was, key)
				}
				number[key], ends[e] = e, key
				if e < 0 || int(e) >= n {
					t.Fatalf("seed %d: edge %d of %d", seed, e, n)
				}
			}
		}
		if len(number) != n {
			t.Fatalf("seed %d: %d edges, want %d", seed, n, len(number))
		}
	}
}
