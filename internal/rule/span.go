package rule

import (
	"math"

	"fettle/internal/normal"
)

// spanSlack makes up for the rounding of the two ends: a value exactly on a limit
// is undecided beside another one.
const spanSlack = 1e-9

// Span is one number for several that are all true of the thing, such as the
// temperatures of one day: at this confidence it meets a single limit exactly
// if every one of them does, and misses it exactly if every one of them does.
// With the quantile z of the confidence
//
//	L = min(y - z u),  U = max(y + z u),  y' = (L + U)/2,  u' = (U - L)/(2 z)
//
// in the unit of the numbers; no independence is needed. An interval between
// two limits is met only if every one of them meets it. One that is unknown
// makes it unknown, and none at all is unknown.
func Span(values []Value, conf float64) Value {
	if len(values) == 0 {
		return Value{}
	}
	z := normal.Quantile(max(conf, LeastConfidence))
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !v.Known {
			return Value{}
		}
		low = min(low, v.Number-float64(z*v.Std))
		high = max(high, v.Number+float64(z*v.Std))
	}
	if len(values) == 1 {
		return values[0]
	}
	return NumberValue((low+high)/2, (high-low)/(2*z)*(1+spanSlack), values[0].Unit)
}
