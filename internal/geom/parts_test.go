package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What a turn that hangs with no translation makes of an arm is what the general formula makes
// of it: G C G' by whole matrices.
func TestTurnCovIsMotionCovSeed31(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 0))
	for range 50 {
		var c Mat6
		var a Mat3
		for i := range 3 {
			c[i][i] = 0.7 // translation alike in all directions
			for j := range 3 {
				a[i][j] = rng.NormFloat64()
			}
		}
		for i := range 3 {
			for j := range 3 {
				for k := range 3 {
					c[3+i][3+j] += a[i][k] * a[j][k]
				}
			}
		}
		arm := Vec{10 * rng.NormFloat64(), 10 * rng.NormFloat64(), 10 * rng.NormFloat64()}
		want := MotionCov(c, arm)
		got := turnCov(&c, arm[0], arm[1], arm[2])
		if w := lowerOf(&want); math.Abs(got.xx-w.xx) > 1e-9 || math.Abs(got.yx-w.yx) > 1e-9 || math.Abs(got.yy-w.yy) > 1e-9 || math.Abs(got.zx-w.zx) > 1e-9 || math.Abs(got.zy-w.zy) > 1e-9 || math.Abs(got.zz-w.zz) > 1e-9 {
			t.Fatalf("arm %v: %+v, want %+v", arm, got, w)
		}
	}
}
