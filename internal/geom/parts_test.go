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

// TestWeightsOfMatches: by the largest direction of both covariances together, and which of them
// let the closed form be taken.
func TestWeightsOfMatches(t *testing.T) {
	unit := Isotropic(1)
	at := []Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for k, c := range []struct {
		from, to  Mat3
		weight    float64
		isotropic bool
	}{
		{unit, unit, 1.0 / 2, true},
		{Mat3{{1, 0, 0}, {0, 7, 0}, {0, 0, 3}}, unit, 1.0 / 8, false},
		{unit, Mat3{{15, 0, 0}, {0, 1, 0}, {0, 0, 3}}, 1.0 / 16, false},
		{Mat3{{2, 1, 0}, {1, 2, 0}, {0, 0, 2}}, unit, 1.0 / 4, false}, // eigenvalues 3, 2 and 1, and 1 of the other
	} {
		m := Matches{From: at, To: at, CovFrom: []Mat3{unit, unit, unit, c.from}, CovTo: []Mat3{unit, unit, unit, c.to}}
		x, err := NewMatcher(m)
		if err != nil || math.Abs(x.weight[3]-c.weight) > 1e-15 || x.weight[0] != 0.5 || x.isotropic != c.isotropic || len(x.weight) != 4 {
			t.Errorf("%d: %+v, %v", k, x, err)
		}
	}
	for i := range 3 {
		for j := range 3 {
			m := unit
			m[i][j] += 0.5
			if scalar(m) {
				t.Errorf("%v is no multiple of the unit matrix", m)
			}
		}
	}
}
