package unit

import (
	"go/build"
	"testing"
)

// TestSystemsOf32BitsAreRefused: a build for them stops at a name that says why; one
// for systems of 64 bits does not.
func TestSystemsOf32BitsAreRefused(t *testing.T) {
	for arch, refused := range map[string]bool{"386": true, "arm": true, "mips": true, "mipsle": true, "amd64": false, "arm64": false, "riscv64": false, "ppc64le": false, "s390x": false, "loong64": false} {
		c := build.Default
		c.GOARCH = arch
		if got, err := c.MatchFile(".", "bits.go"); err != nil || got != refused {
			t.Errorf("%s is refused: %v, want %v (%v)", arch, got, refused, err)
		}
	}
}
