package remote_test

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
)

// TestPagesAreWhole: while others begin jobs before, behind and between, every job that was there when somebody began to read is in the pages
// once, in order, whether they are read by the name or by the time; so are pieces of work.
func TestPagesAreWhole(t *testing.T) {
	clock := &storetest.Clock{}
	clock.Add(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Sub(time.Time{}))
	g := newGroup(t, clock.Now, 1, nil)
	s, in, ctx := g.open().Store, g.stores[0], t.Context()
	var ids []string
	for i := range 40 {
		ids = append(ids, fmt.Sprintf("J-%03d", i*7))
	}
	begin := func(ctx context.Context, id string) error {
		c := app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}
		c.Wants = []app.Wanted{{Kind: app.TaskAssess, About: id, Input: id, By: "p-1"}}
		_, err := in.Create(ctx, id, c)
		return err
	}
	for _, id := range ids {
		clock.Add(time.Second)
		if err := begin(ctx, id); err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(ids)
	until, stop := context.WithCancel(ctx)
	var beside sync.WaitGroup
	var added atomic.Int64
	beside.Go(func() {
		for i := 0; until.Err() == nil; i++ { // names between the others, at later times
			clock.Add(time.Second)
			if err := begin(until, fmt.Sprintf("J-%03d.%d", (i*13)%280, i)); err != nil && until.Err() == nil {
				t.Error(err)
				return
			}
			added.Add(1)
		}
	})
	defer beside.Wait()
	defer stop()
	reads := map[string]func() ([]string, error){
		"by name": func() (out []string, err error) {
			for after := ""; ; after = out[len(out)-1] {
				page, err := s.List(ctx, after, 7)
				if err != nil || len(page) == 0 {
					return out, err
				}
				for _, l := range page {
					out = append(out, l.ID)
				}
			}
		},
		"by time": func() (out []string, err error) {
			for q := (app.JobQuery{Most: 7}); ; {
				page, err := s.Find(ctx, q)
				if err != nil || len(page) == 0 {
					slices.Reverse(out) // the one changed first is the first
					return out, err
				}
				for _, l := range page {
					out = append(out, l.ID)
				}
				q.After = page[len(page)-1]
			}
		},
		"work": func() (out []string, err error) {
			for q := (app.TaskQuery{Most: 7}); ; {
				page, err := s.ListTasks(ctx, q)
				if err != nil || len(page) == 0 {
					slices.Reverse(out)
					return out, err
				}
				for _, x := range page {
					out = append(out, x.About)
				}
				q.Below = page[len(page)-1].ID
			}
		},
	}
	for name, read := range reads {
		for range 4 {
			was := added.Load()
			got, err := read()
			for deadline := time.Now().Add(time.Minute); err == nil && added.Load() == was && time.Now().Before(deadline); { // else it tried nothing
				got, err = read()
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			times := map[string]int{}
			var old []string
			for _, id := range got {
				if times[id]++; times[id] > 1 {
					t.Errorf("%s: %s is there twice", name, id)
				}
				if slices.Contains(ids, id) {
					old = append(old, id)
				}
			}
			if !slices.Equal(old, ids) {
				t.Errorf("%s: %d of %d that were there: %v", name, len(old), len(ids), old)
			}
		}
	}
	t.Logf("%d jobs were begun meanwhile", added.Load())
}
