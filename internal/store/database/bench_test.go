package database

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

// BenchmarkChanges is durable changes a second of so many authors at once, each in a job of their own with its
// history, and how long one waits for its answer: the middle and the 99th of a hundred.
func BenchmarkChanges(b *testing.B) {
	for _, authors := range []int{1, 20, 64} {
		for kind, address := range map[string]func(b *testing.B) string{
			"SQLite":     func(b *testing.B) string { return filepath.Join(b.TempDir(), "x.db") },
			"PostgreSQL": func(b *testing.B) string { return postgrestest.Shared(b).Schema(b) },
		} {
			b.Run(fmt.Sprintf("%s/%d", kind, authors), func(b *testing.B) { changes(b, address(b), authors) })
		}
	}
}

func changes(b *testing.B, address string, authors int) {
	d := opened(b, at(b, address, time.Now))
	ctx := context.Background()
	jobs := make([]*job.Stored, authors)
	for i := range jobs {
		id := fmt.Sprint("J", i)
		if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			b.Fatal(err)
		}
		var err error
		if jobs[i], err = job.Read(must(d.Load(ctx, id, 0))); err != nil {
			b.Fatal(err)
		}
	}
	var n atomic.Int64
	waits := make([][]time.Duration, authors)
	var wg sync.WaitGroup
	b.ResetTimer()
	for i, s := range jobs {
		wg.Go(func() {
			seen := s.Newest("finding/D1")
			f := storetest.State("").Findings[0]
			for n.Add(1) <= int64(b.N) {
				began := time.Now()
				h, err := d.Append(ctx, fmt.Sprint("J", i), app.Change{Key: fmt.Sprint("k", began.UnixNano()), By: "p-1", Events: []job.Event{{Kind: job.FindingRecorded, Data: f, Seen: seen}}}, nil)
				if err != nil {
					b.Error(err)
					return
				}
				seen = h.Seq
				waits[i] = append(waits[i], time.Since(began))
			}
		})
	}
	wg.Wait()
	b.StopTimer()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "changes/s")
	all := slices.Concat(waits...)
	slices.Sort(all)
	b.ReportMetric(float64(all[len(all)/2].Microseconds())/1000, "ms-p50")
	b.ReportMetric(float64(all[len(all)*99/100].Microseconds())/1000, "ms-p99")
}
