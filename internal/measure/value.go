package measure

import (
	"math"

	"fettle/internal/unit"
)

// none is the place of what is not there.
const none = -1

// inf is beyond every figure.
var inf = math.Inf(1)

// known is the value, or 0 when it is unknown or no number.
func known(m unit.Maybe[float64]) float64 {
	if !m.Known || !finite(m.Value) {
		return 0
	}
	return m.Value
}

// smallestTolerance is the least of the limits given, or 0.
func smallestTolerance(limits ...unit.Maybe[float64]) float64 {
	least := 0.0
	for _, l := range limits {
		if v := known(l); v > 0 && (least == 0 || v < least) {
			least = v
		}
	}
	return least
}

// root is the standard deviation of a variance; what is below zero by rounding is none.
func root(variance float64) float64 { return math.Sqrt(math.Max(0, variance)) }
