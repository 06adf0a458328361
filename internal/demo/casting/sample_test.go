package casting

import (
	"runtime"
	"slices"
	"testing"
)

// TestSampleIsSharedByGoroutines samples a corner of the half, at the nose, and lays its
// net by one processor and by four: the same distances and the same net. The
// race detector runs this test.
func TestSampleIsSharedByGoroutines(t *testing.T) {
	corner := func(processors int) (*grid, string) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		g := newGrid()
		g.n = [3]int{90, 70, 80}
		g.sample(leftHalf())
		return g, digest(g.surface())
	}
	one, net := corner(1)
	four, netOfFour := corner(4)
	if !slices.Equal(one.value, four.value) || net != netOfFour {
		t.Error("another number of processors gives other distances, or another net")
	}
	inside, outside := 0, 0
	for _, d := range one.value[:90*70*80] {
		if d < 0 {
			inside++
		} else {
			outside++
		}
	}
	if inside < 1000 || outside < 1000 {
		t.Errorf("%d nodes in the metal, %d outside: the corner holds no surface", inside, outside)
	}
}
