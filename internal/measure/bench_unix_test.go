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
// collector's included: the least of some batches.
func BenchmarkRunProcessor(b *testing.B) {
	for _, c := range []struct{ points, setups, batch int }{{30, 1, 10}, {60, 1, 10}, {200, 1, 3}, {1000, 1, 1}, {500, 4, 1}} {
		car := newCar(c.points, 1)
		car.moveRear(0.33, 12)
		in := car.measure(1.0)
		for k := 1; k < c.setups; k++ {
			more := car.measure(1.0)
			for i := range more.Readings {
				more.Readings[i].Setup = fmt.Sprint("S", k+1)
			}
			in.Readings = append(in.Readings, more.Readings...)
		}
		b.Run(fmt.Sprintf("points=%d/setups=%d", c.points, c.setups), func(b *testing.B) {
			least := math.Inf(1)
			for b.Loop() {
				start := processorTime(b)
				for range c.batch {
					if r, _ := Run(in); len(r.Hypotheses) == 0 {
						b.Fatal("no hypothesis")
					}
				}
				least = math.Min(least, float64(processorTime(b)-start)/float64(c.batch))
			}
			b.ReportMetric(least/1e6, "least-cpu-ms/analysis")
			b.ReportMetric(0, "ns/op")
		})
	}
}
