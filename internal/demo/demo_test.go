package demo

import (
	"testing"

	"fettle/internal/format"
)

// TestCastingFileIsRead reads the casting that is kept. That it is what the
// generator makes is held in package casting, which makes it once.
func TestCastingFileIsRead(t *testing.T) {
	kept := Files()["body/front-casting.ply"]
	m, _, err := format.ReadMesh("front-casting.ply", kept, "mm")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(m.Faces); n < 80_000 || n > 200_000 {
		t.Errorf("%d triangles, want 80,000 to 200,000", n)
	}
}
