package picture

import (
	"math"
	"testing"
)

func TestLeadersDoNotCrossSeed4(t *testing.T) {
	state := uint64(4)
	random := func(n float64) float64 { // a linear congruential generator (D. Knuth, MMIX constants)
		state = state*6364136223846793005 + 1442695040888963407
		return float64(state>>11) / (1 << 53) * n
	}
	for round := range 200 {
		var fs []Flag
		for range 12 {
			fs = append(fs, Flag{X: 100 + random(1000), Y: random(600)})
		}
		out := PlaceFlags(fs, 90, 1210, 20, 590, 40)
		for i := range out {
			for j := i + 1; j < len(out); j++ {
				a, b := out[i], out[j]
				if crosses(a.X, a.Y, a.px, a.py, b.X, b.Y, b.px, b.py) {
					t.Fatalf("round %d: leaders %d and %d cross", round, i, j)
				}
				if a.left == b.left && math.Abs(a.py-b.py) < 39.999 {
					t.Fatalf("round %d: labels %d and %d overlap", round, i, j)
				}
			}
		}
	}
}
