//go:build unix

package measure

import (
	"fmt"
	"math"
	"syscall"
	"testing"
	"time"
)

// processorTime is what this process has used so far. On a machine that others
// use as well it says more than the clock on the wall.
func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkRunProcessor is the whole analysis in processor time, the garbage
// collector's included: the least of batches of ten.
func BenchmarkRunProcessor(b *testing.B) {
	const batch = 10
	for _, n := range []int{30, 60} {
		c := newCar(n, 1)
		c.moveRear(0.33, 12)
		in := c.measure(1.0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			least := math.Inf(1)
			for b.Loop() {
				start := processorTime(b)
				for range batch {
					if r, _ := Run(in); len(r.Hypotheses) == 0 {
						b.Fatal("no hypothesis")
					}
				}
				least = math.Min(least, float64(processorTime(b)-start)/batch)
			}
			b.ReportMetric(least/1e6, "least-cpu-ms/analysis")
			b.ReportMetric(0, "ns/op")
		})
	}
}
