package measure

import (
	"fmt"
	"testing"
)

func BenchmarkRun(b *testing.B) {
	for _, n := range []int{15, 30, 60} {
		c := newCar(n, 1)
		c.moveRear(0.33, 12)
		in := c.measure(1.0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r, _ := Run(in); len(r.Hypotheses) == 0 {
					b.Fatal("no hypothesis")
				}
			}
		})
	}
}
