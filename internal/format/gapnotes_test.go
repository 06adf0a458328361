package format

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// What a mesh file is told of: each fault by one note, with its place.
func TestReadMeshTellsOfSeams(t *testing.T) {
	const lower, upper = "v 0 0 0\nv 10 0 0\nv 10 -5 0\nv 0 -5 0\nf 1 4 3\nf 1 3 2\n", "f 5 6 7\nf 5 7 8\n"
	for name, c := range map[string]struct {
		file string
		want map[string]string
	}{
		"one sheet": {lower + "v 10 5 0\nv 0 5 0\nf 1 2 5\nf 1 5 6\n", map[string]string{"mesh.open-edges": "6 open edges"}},
		"a seam": {lower + "v 0 0.25 0\nv 10 0.25 0\nv 10 5 0\nv 0 5 0\n" + upper,
			map[string]string{"mesh.open-edges": "8 open edges", "mesh.pieces": "2 pieces", "mesh.seams": "along 1 seam, together 10 mm long and up to 0.25 mm wide (the longest at 0.00, 0.00, 0.00)"}},
		"a T-joint": {lower + "v 0 0 0\nv 10 0 0\nv 10 5 0\nv 0 5 0\nv 4 0 0\nf 5 9 8\nf 9 7 8\nf 9 6 7\n",
			map[string]string{"mesh.open-edges": "9 open edges", "mesh.points-merged": "2 points", "mesh.pieces": "2 pieces", "mesh.seams": "up to 0 mm wide", "mesh.t-joints": "1 T-joint: a corner of one side lies within an edge of the other, which do not hang together there (the first at 4.00, 0.00, 0.00)"}},
		"turned": {lower + "v 10 5 0\nv 0 5 0\nf 2 1 5\nf 1 5 6\n", map[string]string{"mesh.open-edges": "6 open edges", "mesh.flipped": "disagree about the outside: there is no volume"}},
	} {
		_, notes, err := ReadMesh("part.obj", []byte(c.file), "mm")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(notes) != len(c.want) {
			t.Errorf("%s: %v", name, notes)
		}
		for code, text := range c.want {
			if !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == code && strings.Contains(n.Text, text) }) {
				t.Errorf("%s: no %s with %q in %v", name, code, text, notes)
			}
		}
	}
}
