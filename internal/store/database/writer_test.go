package database

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
)

func review() job.Event {
	return job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: storetest.State("").Opened}}
}

// What is kept in memory of jobs is bounded, and a change of a job that was dropped, or that another program has
// changed since, goes on from what the tables say.
func TestJobsKeptInMemory(t *testing.T) {
	s := at(t, filepath.Join(t.TempDir(), "x.db"), monday)
	d, other := opened(t, s), opened(t, s)
	ctx := t.Context()
	for n := range 5 {
		id := fmt.Sprint("J", n)
		if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
	}
	for name, forget := range map[string]func(id string){
		"kept":                   func(string) {},
		"dropped":                func(id string) { delete(d.folded.jobs, id) },
		"of another chain":       func(id string) { d.folded.jobs[id] = d.folded.jobs["J4"] },
		"changed by another":     func(id string) { mustAppend(t, other, id, "other "+id) },
		"dropped, and by others": func(id string) { delete(d.folded.jobs, id); mustAppend(t, other, id, "other "+id) },
	} {
		for _, id := range []string{"J0", "J1"} {
			forget(id)
			mustAppend(t, d, id, name+id)
			if s, err := job.Read(must(d.Load(ctx, id, 0))); err != nil {
				t.Errorf("%s: %s: %v", name, id, err)
			} else if _, hash := s.Head(); hash != must(d.List(ctx, "", 9))[int(id[1]-'0')].Head.Hash {
				t.Errorf("%s: %s: its head is another", name, id)
			}
		}
	}
	var f foldedJobs
	for n := range mostFolded + 10 {
		f.keep(map[string]folded{fmt.Sprint(n): {bytes: 10}})
	}
	if _, ok := f.jobs["9"]; len(f.jobs) != mostFolded || f.bytes != 10*mostFolded || ok {
		t.Errorf("%d jobs with %d bytes are kept, the 10th among them: %t", len(f.jobs), f.bytes, ok)
	}
	f.keep(map[string]folded{"large": {bytes: mostFoldedBytes + 1}})
	if len(f.jobs) != 1 || f.jobs["large"].bytes == 0 {
		t.Errorf("%d jobs are kept beside one that is too large", len(f.jobs)-1)
	}
}

func mustAppend(t *testing.T, d *Database, id, key string) {
	t.Helper()
	if _, err := d.Append(t.Context(), id, app.Change{Key: key, By: "p-1", Events: []job.Event{review()}}, nil); err != nil {
		t.Fatal(err)
	}
}

// A function that ends in a panic ends the one who asked for it, and leaves nothing behind; the others go on.
func TestPanicIsItsAuthors(t *testing.T) {
	d := opened(t, at(t, filepath.Join(t.TempDir(), "x.db"), monday))
	ctx := t.Context()
	if _, err := d.Create(ctx, "J1", app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State("J1"))}); err != nil {
		t.Fatal(err)
	}
	was := len(must(d.Load(ctx, "J1", 0)))
	var wg sync.WaitGroup
	for n := range 20 {
		wg.Go(func() {
			defer func() {
				if got := recover(); (got == "planted") != (n%4 == 0) {
					t.Errorf("change %d ended in %v", n, got)
				}
			}()
			c := app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{review()}}
			if err := d.Write(ctx, func(tx *Tx) error {
				if _, err := d.changeIn(ctx, tx, "J1", false, c, nil); err != nil {
					return err
				}
				if n%4 == 0 {
					panic("planted")
				}
				return nil
			}); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if now := len(must(d.Load(ctx, "J1", 0))); now != was+15 {
		t.Errorf("%d events were written, want 15", now-was)
	}
	if faults, err := d.Verify(ctx); err != nil || len(faults) > 0 {
		t.Errorf("%v %v", faults, err)
	}
}

// A store that was closed says so; what waited was written.
func TestClosed(t *testing.T) {
	s := at(t, filepath.Join(t.TempDir(), "x.db"), monday)
	d, err := Open(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	made := make(chan string, 20)
	for n := range 20 {
		wg.Go(func() {
			id := fmt.Sprint("J", n)
			_, err := d.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))})
			if err == nil {
				made <- id
			} else if diag.KindOf(err) != diag.Unavailable || !strings.Contains(err.Error(), "closed") {
				t.Error(err)
			}
		})
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	wg.Wait()
	close(made)
	d = opened(t, s)
	for id := range made {
		if _, err := d.Load(t.Context(), id, 0); err != nil {
			t.Errorf("%s was acknowledged: %v", id, err)
		}
	}
	if _, err := d.Create(t.Context(), "last", app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State("last"))}); err != nil {
		t.Error(err)
	}
}
