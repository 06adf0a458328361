//go:build outside

package inspect

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fettle/internal/format"
	"fettle/internal/mesh"
)

// publicSize is how long a public mesh is made for these tests [mm].
const publicSize = 300

// publicMeshes are those that scripts/public-meshes.sh brings, each made 300 mm long.
func publicMeshes(t *testing.T) map[string]*mesh.Mesh {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "build", "meshes", "*.ply"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no public meshes in build/meshes: scripts/public-meshes.sh brings them (%v)", err)
	}
	out := map[string]*mesh.Mesh{}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		m, _, err := format.ReadMesh(file, data, "mm")
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := m.Bounds()
		size := hi.Sub(lo)
		for i, p := range m.Points {
			m.Points[i] = p.Sub(lo).Scale(publicSize / max(size[0], size[1], size[2]))
		}
		out[strings.TrimSuffix(filepath.Base(file), ".ply")] = m
	}
	return out
}

// The law of corridors on public meshes, scans and machine parts of 1,300 to 89,000
// triangles made 300 mm long: straight, bent, wavy, folded and forked cracks, walked over
// the triangles by code of its own, clicked every 2 to 20 mm with noise. No way leaves the
// corridor of its points; no zone, border, bore or section line is milder than the points
// show, nor than the shortest ways between them by more than the uncertainty; the one-sided 95 % bound of the length is too
// short in at most 8 %.
func TestOutsideCorridorLawOnPublicMeshes(t *testing.T) {
	each := campaign(1, 50) // of each of five kinds on each mesh
	meshes := publicMeshes(t)
	all := tally{}
	for i, name := range slices.Sorted(func(yield func(string) bool) {
		for name := range meshes {
			if !yield(name) {
				return
			}
		}
	}) {
		t.Run(name, func(t *testing.T) {
			l := lawOn(t, meshes[name], name, uint64(i), each)
			all.drawn, all.short, all.left = all.drawn+l.drawn, all.short+l.short, all.left+l.left
		})
	}
	t.Logf("%d cracks in all, bound too short in %.1f %%, %d leave the corridor", all.drawn, 100*float64(all.short)/float64(all.drawn), all.left)
}
