package database

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
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

// BenchmarkOpen opens a store of 10,000 jobs until it answers.
func BenchmarkOpen(b *testing.B) {
	for kind, address := range map[string]string{"SQLite": filepath.Join(b.TempDir(), "x.db"), "PostgreSQL": postgrestest.Shared(b).Schema(b)} {
		s := at(b, address, time.Now)
		many(b, opened(b, s), 10_000)
		b.Run(kind, func(b *testing.B) {
			for b.Loop() {
				d, err := Open(b.Context(), s)
				if err != nil {
					b.Fatal(err)
				}
				if page, err := d.Find(b.Context(), app.JobQuery{Most: 50}); err != nil || len(page) != 50 {
					b.Fatal(len(page), err)
				}
				if err := d.Close(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestCrowd is twenty people who write and twenty who read, none of whom is ever told of anything but what they asked
// for; FETTLE_CROWD says for how many seconds (60 for the whole campaign).
func TestCrowdPostgreSQLAndSQLite(t *testing.T) {
	seconds := 0.5
	if n, err := strconv.ParseFloat(os.Getenv("FETTLE_CROWD"), 64); err == nil {
		seconds = n
	}
	both(t, func(t *testing.T, address string) {
		d := opened(t, at(t, address, time.Now))
		var made [20]atomic.Int64
		for i := range made {
			id := fmt.Sprint("J", i)
			must(d.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}))
			made[i].Store(int64(len(job.FromState(storetest.State(id)))))
		}
		var wg sync.WaitGroup
		until := time.Now().Add(time.Duration(seconds * float64(time.Second)))
		writes, reads := make([][]time.Duration, 20), make([][]time.Duration, 20)
		for i := range 20 {
			wg.Go(func() {
				for n := 0; time.Now().Before(until); n++ {
					began := time.Now()
					h, err := d.Append(t.Context(), fmt.Sprint("J", i), app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{review()}}, nil)
					if err != nil {
						t.Error(err)
						return
					}
					writes[i] = append(writes[i], time.Since(began))
					made[i].Store(h.Seq)
				}
			})
			wg.Go(func() {
				r := rand.New(rand.NewPCG(uint64(i), 20))
				for time.Now().Before(until) {
					j := r.IntN(20)
					was, began := made[j].Load(), time.Now()
					c, err := d.Load(t.Context(), fmt.Sprint("J", j), max(0, was-20))
					if err != nil || c[len(c)-1].Seq < was {
						t.Errorf("J%d: up to event %d was acknowledged: %d are read, %v", j, was, len(c), err)
						return
					}
					if page, err := d.Find(t.Context(), app.JobQuery{Text: "dent", Most: 10}); err != nil || len(page) != 10 {
						t.Error(len(page), err)
						return
					}
					reads[i] = append(reads[i], time.Since(began))
				}
			})
		}
		wg.Wait()
		for name, of := range map[string][][]time.Duration{"writes": writes, "reads (two questions)": reads} {
			all := slices.Concat(of...)
			slices.Sort(all)
			t.Logf("%s: %.0f a second, middle %v, 99 of 100 within %v, all within %v", name, float64(len(all))/seconds, all[len(all)/2], all[len(all)*99/100], all[len(all)-1])
		}
	})
}

// TestPeoplePostgreSQLAndSQLite is twenty people as they are at work: each changes something of one of their jobs, thinks, reads pages of it, lists and finds
// jobs, and thinks again; a change of each comes about every fourth second. What is told is how long they wait for each. FETTLE_CROWD is for how many seconds (60 for the whole
// campaign), then among 10,000 jobs; otherwise they think for a fortieth of the time.
func TestPeoplePostgreSQLAndSQLite(t *testing.T) {
	span, thinks, others := time.Second, 50*time.Millisecond, 100
	if n, err := strconv.ParseFloat(os.Getenv("FETTLE_CROWD"), 64); err == nil {
		span, thinks, others = time.Duration(n*float64(time.Second)), 2*time.Second, 10_000
	}
	both(t, func(t *testing.T, address string) {
		d := opened(t, at(t, address, time.Now))
		many(t, d, others)
		const people = 20
		for i := range people {
			id := fmt.Sprint("J", i)
			must(d.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}))
			history := slices.Repeat([]job.Event{review()}, 40)
			must(d.Append(t.Context(), id, app.Change{Key: "before", By: "p-1", Events: history}, nil))
		}
		var mu sync.Mutex
		waits := map[string][]time.Duration{}
		asks := func(what string, do func() error) {
			began := time.Now()
			err := do()
			mu.Lock()
			defer mu.Unlock()
			if waits[what] = append(waits[what], time.Since(began)); err != nil {
				t.Errorf("%s: %v", what, err)
			}
		}
		until := time.Now().Add(span)
		var wg sync.WaitGroup
		for i := range people {
			wg.Go(func() {
				r := rand.New(rand.NewPCG(uint64(i), 4))
				think := func() { time.Sleep(thinks/2 + time.Duration(r.Int64N(int64(thinks)))) } // the middle is thinks
				time.Sleep(time.Duration(r.Int64N(int64(thinks))))
				for n := 0; time.Now().Before(until); n++ {
					id := fmt.Sprint("J", (i+r.IntN(2))%people) // two at a time at each job
					asks("change", func() error {
						_, err := d.Append(t.Context(), id, app.Change{Key: fmt.Sprintf("%d-%d", i, n), By: "p-1", Events: []job.Event{review()}}, nil)
						return err
					})
					think()
					asks("load", func() error { _, err := d.Load(t.Context(), id, 0); return err })
					asks("list", func() error { _, err := d.List(t.Context(), "", 50); return err })
					asks("find", func() error {
						_, err := d.Find(t.Context(), app.JobQuery{Text: "dent", Most: 50})
						return err
					})
					think()
				}
			})
		}
		wg.Go(func() { // what the machine itself needs meanwhile for a sync of a page, which every change waits for
			f, err := os.Create(filepath.Join(t.TempDir(), "page"))
			if err != nil {
				t.Error(err)
				return
			}
			for time.Now().Before(until) {
				asks("sync of a page", func() error {
					_, err := f.WriteAt(make([]byte, 4096), 0)
					return errors.Join(err, f.Sync())
				})
				time.Sleep(thinks / 20)
			}
			if err := f.Close(); err != nil {
				t.Error(err)
			}
		})
		wg.Wait()
		for _, what := range []string{"change", "load", "list", "find", "sync of a page"} {
			all := waits[what]
			slices.Sort(all)
			if len(all) < people/2 {
				t.Fatalf("a %s was asked for only %d times", what, len(all))
			}
			t.Logf("%s: %.1f a second, middle %v, 99 of 100 within %v, all within %v", what, float64(len(all))/span.Seconds(), all[len(all)/2], all[len(all)*99/100], all[len(all)-1])
		}
	})
}

// BenchmarkFind asks a store of 100,000 jobs with about 30 terms each (FETTLE_JOBS for another number) for one to eight
// letters of terms that many, some and few jobs have, and for pages: the middle and the 99th of a hundred.
func BenchmarkFind(b *testing.B) {
	jobs := 100_000
	if n, err := strconv.Atoi(os.Getenv("FETTLE_JOBS")); err == nil {
		jobs = n
	}
	for kind, address := range map[string]string{"SQLite": filepath.Join(b.TempDir(), "x.db"), "PostgreSQL": postgrestest.Shared(b).Schema(b)} {
		d := opened(b, at(b, address, time.Now))
		many(b, d, jobs)
		for _, letters := range []int{0, 1, 2, 3, 4, 6, 8} {
			b.Run(fmt.Sprintf("%s/%d", kind, letters), func(b *testing.B) { finds(b, d, letters) })
		}
		b.Run(kind+"/crack", func(b *testing.B) { findsText(b, d, func(*rand.Rand) string { return "crack" }) })
		b.Run(kind+"/two words", func(b *testing.B) {
			findsText(b, d, func(r *rand.Rand) string { return fmt.Sprintf("crack %04d", r.IntN(10000)) })
		})
		b.Run(kind+"/three numbers", func(b *testing.B) { // each of which many jobs have, and all of which few
			findsText(b, d, func(r *rand.Rand) string { return fmt.Sprintf("%02d %02d %02d", r.IntN(100), r.IntN(100), r.IntN(100)) })
		})
	}
}

// many writes rows as Index would have them, without chains.
func many(b testing.TB, d *Database, jobs int) {
	r := rand.New(rand.NewPCG(1, 2))
	parts := []string{"crack", "dent", "bend", "tower", "rail", "skin", "arm", "mount", "rib", "web"}
	for first := 0; first < jobs; first += 1000 {
		err := d.Write(b.Context(), func(t *Tx) error {
			var rows, terms [][]any
			for n := first; n < min(jobs, first+1000); n++ {
				id := fmt.Sprintf("2026-%06d", n)
				changed := monday().Add(time.Duration(r.IntN(1<<25)) * time.Second).Format(ledger.TimeForm)
				rows = append(rows, []any{id, 1, "", changed, "", "", "", "", "", 0, "", ""})
				vin, of := fmt.Sprintf("%013d", r.Int64N(1e13)), map[string]bool{}
				for i := range 13 {
					of[vin[i:]] = i < 10
				}
				for _, w := range app.Terms(id + fmt.Sprintf(" %c%c-%c %d", 'A'+r.IntN(26), 'A'+r.IntN(26), 'A'+r.IntN(26), r.IntN(10000))) {
					of[w] = true
				}
				for range 8 {
					of[parts[r.IntN(len(parts))]] = true
					of[fmt.Sprint("d", r.IntN(20))] = true
				}
				for w, is := range of {
					if is {
						terms = append(terms, []any{w, id})
					}
				}
			}
			if err := t.insert("jobs", "id, seq, hash, changed, vehicle, title, plate, waits, whom, shown, salt, sum", rows); err != nil {
				return err
			}
			return t.insert("terms", "term, job", terms)
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	if err := d.Write(b.Context(), func(t *Tx) error { return t.run("analyze") }); err != nil {
		b.Fatal(err)
	}
}

func finds(b *testing.B, d *Database, letters int) {
	var texts []string
	err := d.Read(b.Context(), "select term from terms where length(term) >= $1 limit 200000", []any{letters}, func(scan func(...any) error) error {
		var term string
		err := scan(&term)
		texts = append(texts, term)
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	findsText(b, d, func(r *rand.Rand) string { return texts[r.IntN(len(texts))][:letters] })
}

func findsText(b *testing.B, d *Database, text func(*rand.Rand) string) {
	r := rand.New(rand.NewPCG(3, 4))
	var all []time.Duration
	for b.Loop() {
		q := app.JobQuery{Text: text(r), Most: 50}
		for range 2 { // and the next page
			began := time.Now()
			page, err := d.Find(b.Context(), q)
			if err != nil {
				b.Fatal(err)
			}
			all = append(all, time.Since(began))
			if len(page) < q.Most {
				break
			}
			q.After = page[len(page)-1]
		}
	}
	slices.Sort(all)
	b.ReportMetric(float64(all[len(all)/2].Microseconds())/1000, "ms-p50")
	b.ReportMetric(float64(all[len(all)*99/100].Microseconds())/1000, "ms-p99")
	b.ReportMetric(float64(all[len(all)-1].Microseconds())/1000, "ms-max")
}
