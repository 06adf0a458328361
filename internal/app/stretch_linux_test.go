package app

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"fettle/internal/demo"
)

// stretches is a context that takes the processor time of its thread between one step of the work and the
// next: that long a stop may take on a machine with nothing else to do.
type stretches struct {
	context.Context
	last     time.Duration
	longest  time.Duration
	from, to string // where the longest began and ended
	at       string
}

func (s *stretches) Done() <-chan struct{} {
	here := steppedAt()
	if took := threadTime() - s.last; took > s.longest {
		s.longest, s.from, s.to = took, s.at, here
	}
	s.at, s.last = here, threadTime()
	return nil
}

// threadTime is what this thread took of the processor.
func threadTime() time.Duration {
	const thread = 1 // RUSAGE_THREAD, getrusage(2)
	var u syscall.Rusage
	if err := syscall.Getrusage(thread, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// steppedAt is the functions that a step was made in, the innermost first.
func steppedAt() string {
	var pc [6]uintptr
	frames := runtime.CallersFrames(pc[:runtime.Callers(4, pc[:])])
	var out []string
	for more := true; more; {
		var f runtime.Frame
		f, more = frames.Next()
		out = append(out, fmt.Sprintf("%s:%d", strings.TrimPrefix(f.Function, "fettle/internal/"), f.Line))
	}
	return strings.Join(out, " in ")
}

// All that a command on the demonstration does, from reading its files to its documents: the longest
// stretch without a step, and where it lies.
func BenchmarkLongestStretch(b *testing.B) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	s := &stretches{Context: context.Background()}
	for b.Loop() {
		s.longest, s.last = 0, threadTime()
		a := New(files(), "test")
		c, err := a.Open(s, demo.Job)
		if err != nil {
			b.Fatal(err)
		}
		r, err := a.AssessOpened(s, c, demo.Day)
		if err != nil {
			b.Fatal(err)
		}
		for _, draw := range []func() ([]byte, error){
			func() ([]byte, error) { return a.Report(s, c, r, true) },
			func() ([]byte, error) { return a.OwnerPage(s, c, r) },
		} {
			if _, err := draw(); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(s.longest.Microseconds())/1000, "ms-longest")
	b.Logf("from %s\nto %s", s.from, s.to)
}
