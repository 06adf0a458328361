package demo

import (
	"bytes"
	"runtime"
	"testing"

	"fettle/internal/demo/casting"
	"fettle/internal/format"
)

// TestCastingFileIsWhatTheGeneratorMakes makes the casting again and compares
// it with the file that is kept. The bytes are compared on the processor they
// were made on; another may round the last bit of the generator differently,
// which is why the file is kept.
func TestCastingFileIsWhatTheGeneratorMakes(t *testing.T) {
	kept := Files()["body/front-casting.ply"]
	m, _, err := format.ReadMesh("front-casting.ply", kept, "mm")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(m.Faces); n < 80_000 || n > 200_000 {
		t.Errorf("%d triangles, want 80,000 to 200,000", n)
	}
	if testing.Short() {
		return
	}
	made := casting.Build()
	if runtime.GOARCH == "amd64" && !bytes.Equal(format.WritePLY(made), kept) {
		t.Error("the file is not what the generator makes: run 'go generate ./internal/demo' and look at the casting")
	}
	if len(made.Faces) != len(m.Faces) {
		t.Errorf("the generator makes %d triangles, the file has %d", len(made.Faces), len(m.Faces))
	}
}
