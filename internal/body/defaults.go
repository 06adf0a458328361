package body

import "fettle/internal/unit"

// LeastConfidence is the least probability a limit has to be met with (ISO
// 14253-1:2017 default, from memory). A body may ask for more, never for less.
const LeastConfidence = unit.Frac(0.95)

// setDefaults fills in what may be left out.
func (b *Body) setDefaults() {
	fill(&b.Axes.X, "rearward")
	fill(&b.Axes.Y, "right")
	fill(&b.Axes.Z, "up")
	fill(&b.Confidence, LeastConfidence)
}

func fill[T comparable](field *T, value T) {
	var zero T
	if *field == zero {
		*field = value
	}
}
