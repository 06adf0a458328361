package main

import (
	"context"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"time"
)

// How much memory a server has its garbage collected for: usualMemory, and where more of it is in use, half as much again and some for
// what is at work, so that it never only collects.
const (
	usualMemory = 224 << 20
	spareMemory = 32 << 20
	looksAtHeap = 5 * time.Second
)

// serving makes the process fit to serve. There is one thread more than processors: while assessments keep all of them (halt.Turns), what
// is quick is begun on it by the system at once, and does not wait until one of them is preempted. Memory is held low unless GOMEMLIMIT says
// otherwise.
func serving(ctx context.Context) {
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + 1)
	}
	if os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	debug.SetMemoryLimit(usualMemory)
	go func() {
		tick := time.NewTicker(looksAtHeap)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				debug.SetMemoryLimit(limitFor(liveHeap()))
			}
		}
	}()
}

// limitFor is how much memory is to be kept to with so much in use.
func limitFor(live int64) int64 { return max(usualMemory, live+live/2+spareMemory) }

// liveHeap is what the last collection left.
func liveHeap() int64 {
	s := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(s)
	if s[0].Value.Kind() != metrics.KindUint64 {
		return 0
	}
	return int64(s[0].Value.Uint64())
}
