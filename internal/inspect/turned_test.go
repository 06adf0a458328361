package inspect

import (
	"math"
	"testing"

	"fettle/internal/geom"
)

// A vector turned about an axis keeps its length and its part along the axis, and turns by the
// angle, counterclockwise as seen from the tip of the axis. Angles and axes all round.
func TestTurnedKeepsTheAxis(t *testing.T) {
	for _, axis := range []geom.Vec{{1, 0, 0}, {0, 0, 1}, geom.Vec{1, 2, -2}.Unit(), geom.Vec{-3, 1, 5}.Unit()} {
		for _, v := range []geom.Vec{{1, 0, 0}, {0.3, -2, 1.5}, {4, 4, 0}} {
			for _, rad := range []float64{-2, -0.5, 0, 0.1, 1, math.Pi / 2, 3} {
				got := turned(v, axis, rad)
				a, b := v.Sub(axis.Scale(axis.Dot(v))), got.Sub(axis.Scale(axis.Dot(v)))
				if math.Abs(got.Dot(axis)-v.Dot(axis)) > 1e-12 || math.Abs(got.Norm()-v.Norm()) > 1e-12 {
					t.Errorf("%v about %v by %v is %v", v, axis, rad, got)
				}
				if a.Norm() > 1e-9 && math.Abs(math.Atan2(axis.Dot(a.Cross(b)), a.Dot(b))-rad) > 1e-9 {
					t.Errorf("%v about %v by %v turns by %v", v, axis, rad, math.Atan2(axis.Dot(a.Cross(b)), a.Dot(b)))
				}
			}
		}
	}
}
