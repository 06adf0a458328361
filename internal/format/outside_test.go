//go:build outside

package format

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"fettle/internal/mesh"
)

// buildDir is where the test set-up installs packages of other registries
// (npm install gltf-validator@2.0.0-dev.3.10 bunny@1.0.1), not committed.
func buildDir(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("FETTLE_OUTSIDE")
	if dir == "" {
		dir = filepath.Join("..", "..", "build")
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// The Khronos validator (npm gltf-validator 2.0.0-dev.3.10) finds nothing wrong.
func TestOutsideValidatorAcceptsWrittenGLB(t *testing.T) {
	dir := buildDir(t)
	labelled := grid(30)
	labelled.Label = make([]int32, len(labelled.Faces))
	for f := range labelled.Label {
		labelled.Label[f] = int32(f%5) - 1
	}
	script := "const v=require('gltf-validator'),fs=require('fs');v.validateBytes(new Uint8Array(fs.readFileSync(process.argv[1])))" +
		".then(r=>console.log(JSON.stringify(r.issues)),e=>{console.error(String(e));process.exit(1)})"
	for name, m := range map[string]*mesh.Mesh{"plain": grid(3), "labelled": labelled, "tetra": tetra()} {
		data, err := WriteGLB(m)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), name+".glb")
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("node", "-e", script, file)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v: %s", name, err, out)
		}
		var issues struct {
			NumErrors, NumWarnings, NumInfos, NumHints int
			Messages                                   []any
		}
		if err := json.Unmarshal(out, &issues); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		if issues.NumErrors+issues.NumWarnings+issues.NumInfos+issues.NumHints > 0 {
			t.Errorf("%s: %s", name, out)
		}
	}
}
