package mesh

import "testing"

// Two nodes count as one where they are no farther apart than the rounding of a length of the size
// of the strip, 1e-12 of it, there included; on strips of all sizes. Powers of two, so that the
// limit itself is exact.
func TestNodesAsNearAsRoundingAreOne(t *testing.T) {
	for _, size := range []float64{1. / 1024, 1, 4096} {
		limit := lengthRounding * size
		for apart, want := range map[float64]bool{0: true, limit / 2: true, limit: true, 2 * limit: false, size: false} {
			f := funnel{u: &unfolded{at: []flat{{0, 0}, {apart, 0}, {0, apart}}, size: size}}
			if f.same(0, 1) != want || f.same(2, 0) != want {
				t.Errorf("%g apart on a strip of %g: one is %v", apart, size, !want)
			}
		}
	}
}
