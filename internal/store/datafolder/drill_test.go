package datafolder

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

func TestMain(m *testing.M) { os.Exit(postgrestest.Run(m)) }

func monday() time.Time { return time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC) }

// world has a database at an address; none is the file of the folder.
func world(address string) World {
	return World{Now: monday, Program: "test", Lookup: func(name string) (string, bool) {
		return address, name == databaseVar && address != ""
	}}
}

// both runs a test on a file of SQLite and on PostgreSQL; place gives an address for a new database.
func both(t *testing.T, test func(t *testing.T, place func() string)) {
	t.Run("SQLite", func(t *testing.T) { test(t, func() string { return "" }) })
	t.Run("PostgreSQL", func(t *testing.T) { test(t, func() string { return postgrestest.Shared(t).Schema(t) }) })
}

func opened(t *testing.T, dir string, w World) *Store {
	t.Helper()
	s, err := Open(t.Context(), dir, true, w)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// written is what was acknowledged: heads of jobs, and hashes of bytes.
type written struct {
	sync.Mutex
	heads map[string]app.Head
	blobs []string
}

func (w *written) copy() *written {
	w.Lock()
	defer w.Unlock()
	out := &written{heads: map[string]app.Head{}, blobs: append([]string{}, w.blobs...)}
	for id, h := range w.heads {
		out.heads[id] = h
	}
	return out
}

// write writes jobs, bytes and contents until it is stopped.
func (w *written) write(ctx context.Context, s *Store, who string) error {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("%s-%d", who, n)
		hash, _, err := s.Put(ctx, strings.NewReader("photo of "+id), 100)
		if err == nil {
			w.Lock()
			w.blobs = append(w.blobs, hash)
			w.Unlock()
			_, err = s.Keep(ctx, map[string][]byte{"body.yaml": []byte(id)})
		}
		if err != nil {
			return err
		}
		h, err := s.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id)), Wants: []app.Wanted{{Kind: "assess", About: id, By: "p-1"}}})
		if err != nil {
			return err
		}
		w.Lock()
		w.heads[id] = h
		w.Unlock()
	}
	return nil
}

// within wants all of it in a store, as it was; what was written later may be there too.
func (w *written) within(t *testing.T, s *Store) {
	t.Helper()
	for id, want := range w.heads {
		c, err := s.Load(t.Context(), id, 0)
		if err != nil || c.VerifyHead(want.Seq, want.Hash) != nil {
			t.Errorf("%s: %d events, %v; want it as it was acknowledged", id, len(c), err)
		}
	}
	for _, hash := range w.blobs {
		r, _, err := s.Get(t.Context(), hash)
		if err == nil {
			_, err = io.Copy(io.Discard, r)
			err = errors.Join(err, r.Close())
		}
		if err != nil {
			t.Errorf("file %s: %v", hash, err)
		}
	}
}

// A drill: while people write, backups are made; each is restored, into the same kind of database and into the other, and has all that was
// acknowledged before it began. The second copies only what is new.
func TestRestoreDrillPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, place func() string) {
		w := world(place())
		s, backups := opened(t, filepath.Join(t.TempDir(), "data"), w), filepath.Join(t.TempDir(), "backups")
		all, ctx := &written{heads: map[string]app.Head{}}, t.Context()
		writing, stop := context.WithCancel(ctx)
		var people sync.WaitGroup
		for _, who := range []string{"A", "B", "C"} {
			people.Go(func() {
				if err := all.write(writing, s, who); err != nil && !errors.Is(err, context.Canceled) {
					t.Error(err)
				}
			})
		}
		var made []Backed
		var before []*written
		for range 3 {
			for len(all.copy().heads) < 4*(len(made)+1) {
				time.Sleep(time.Millisecond)
			}
			before = append(before, all.copy())
			b, err := s.Backup(ctx, backups, w)
			if err != nil || len(b.Missing) > 0 {
				t.Fatal(b.Missing, err)
			}
			made = append(made, b)
		}
		stop()
		people.Wait()
		looked(t, s, w)
		other := func() string { return postgrestest.Shared(t).Schema(t) }
		if w.Lookup != nil && s.IsPostgres() {
			other = func() string { return "" }
		}
		for i, b := range made {
			if i > 0 && (b.Copied > b.Blobs-made[i-1].Blobs || b.Mended > 0) {
				t.Errorf("backup %d copied %d of %d files, the one before had %d", i, b.Copied, b.Blobs, made[i-1].Blobs)
			}
			to, into := place, filepath.Join(t.TempDir(), "new")
			if i == 1 {
				to = other
			}
			own := world(to())
			m, v, err := Restore(ctx, b.Place, into, own)
			if err != nil || len(v.Faults) > 0 || v.Log.Size != b.Leaves || m.Seal != sealOf(b.Manifest) {
				t.Fatalf("backup %d: %v %v; %d leaves, want %d", i, err, v.Faults, v.Log.Size, b.Leaves)
			}
			before[i].within(t, opened(t, into, own))
			if _, _, err := Restore(ctx, b.Place, into, own); diag.KindOf(err) != diag.Conflict {
				t.Errorf("restored over another: %v", err)
			}
		}
		if left, err := filepath.Glob(filepath.Join(backups, ".fettle-*")); err != nil || len(left) > 0 {
			t.Errorf("left over: %v %v", left, err)
		}
	})
}

// looked wants the look at a folder to find nothing but what is so: the backup is old by the clock of today, and by a clock
// that stands still the server of PostgreSQL has another time.
func looked(t *testing.T, s *Store, w World) {
	t.Helper()
	today := w
	today.Now = time.Now
	for want, own := range map[string]World{"backup": today, "clock": w} {
		var not []string
		for _, f := range Look(t.Context(), s.Dir, own) {
			if f.ToDo != "" && f.What != "disk" {
				not = append(not, f.What)
			}
		}
		if !slices.Equal(not, []string{want}) && (want != "clock" || s.IsPostgres() || len(not) > 0) {
			t.Errorf("not fine are %v, want %s", not, want)
		}
	}
}
