package database

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
)

// heardWithin says whether somebody was told in time.
func heardWithin(c <-chan struct{}, d time.Duration) bool {
	select {
	case <-c:
		return true
	case <-time.After(d):
		return false
	}
}

// What was written is read in one order, by every program, whoever wrote it; those that wait are told of it once it is committed, and of nothing
// that was not.
func TestWhoWaitsIsToldPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		one, other := opened(t, Settings{Address: address, Now: monday}), opened(t, Settings{Address: address, Now: monday})
		ctx, end := context.WithCancel(t.Context())
		defer end()
		here, there := one.Woken(ctx), other.Woken(ctx)
		if one.kind.postgres { // both listen now
			for _, c := range []<-chan struct{}{here, there} {
				if !heardWithin(c, 10*time.Second) {
					t.Fatal("it does not listen")
				}
			}
		}
		before, err := one.Newest(ctx)
		if err != nil {
			t.Fatal(err)
		}
		refused := errors.New("no")
		create := func(d *Database, id string) {
			t.Helper()
			if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
				t.Fatal(err)
			}
		}
		create(one, "J1")
		if !heardWithin(here, 10*time.Second) {
			t.Error("the program that wrote it was not told")
		}
		patience := 100 * time.Millisecond
		if one.kind.postgres {
			patience = 10 * time.Second
		}
		if told := heardWithin(there, patience); told != one.kind.postgres {
			t.Errorf("another program was told: %v", told)
		}
		create(other, "J2")
		if err := one.Write(ctx, func(x *Tx) error {
			if err := x.insert("settings", "name, value, salt", [][]any{{"n", "v", "s"}}); err != nil {
				return err
			}
			return refused
		}); !errors.Is(err, refused) {
			t.Fatal(err)
		}
		moves, err := one.Moved(ctx, before, 1000)
		if err != nil {
			t.Fatal(err)
		}
		again, err := other.Moved(ctx, before, 1000)
		if err != nil || !slices.Equal(moves, again) {
			t.Errorf("two programs read different things: %v", err)
		}
		newest := map[string]int64{}
		for i, m := range moves {
			if m.N != before+int64(i)+1 {
				t.Fatalf("leaf %d follows after %d", m.N, i)
			}
			if m.Job != "" {
				if m.Seq != newest[m.Job]+1 {
					t.Errorf("%s: event %d follows on %d", m.Job, m.Seq, newest[m.Job])
				}
				newest[m.Job] = m.Seq
			}
		}
		for _, id := range []string{"J1", "J2"} {
			if h, err := one.Head(ctx, id); err != nil || newest[id] != h.Seq {
				t.Errorf("%s: up to event %d, want %d; %v", id, newest[id], h.Seq, err)
			}
		}
		if few, err := one.Moved(ctx, moves[1].N, 2); err != nil || !slices.Equal(few, moves[2:4]) {
			t.Errorf("%v, %v", few, err)
		}
		if n, err := one.Newest(ctx); err != nil || n != moves[len(moves)-1].N {
			t.Errorf("%d, %v", n, err)
		}
		if err := one.Ready(ctx); err != nil {
			t.Error(err)
		}
		end()
		for until := time.Now().Add(5 * time.Second); ; time.Sleep(time.Millisecond) {
			one.woken.mu.Lock()
			left := len(one.woken.all)
			one.woken.mu.Unlock()
			if left == 0 {
				break
			}
			if time.Now().After(until) {
				t.Fatal("whoever does not wait any more is told still")
			}
		}
	})
}

// Where the connection that listens is lost, another is made, and whoever waits looks once more.
func TestListeningPostgreSQLGoesOn(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		d := opened(t, Settings{Address: address, Now: monday})
		if !d.kind.postgres {
			return
		}
		c := d.Woken(t.Context())
		if !heardWithin(c, 10*time.Second) {
			t.Fatal("it does not listen")
		}
		ended := 0
		if err := d.reads.QueryRowContext(t.Context(), fmt.Sprintf("select count(pg_terminate_backend(pid)) from pg_stat_activity where query = '%s'", listenWords)).Scan(&ended); err != nil || ended == 0 {
			t.Fatalf("%d connections ended: %v", ended, err)
		}
		if !heardWithin(c, 10*time.Second) {
			t.Error("it does not listen any more")
		}
		if !heardWithin(c, 0) {
			if _, err := d.Create(t.Context(), "J1", app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State("J1"))}); err != nil {
				t.Fatal(err)
			}
			if !heardWithin(c, 10*time.Second) {
				t.Error("nobody is told")
			}
		}
	})
}
