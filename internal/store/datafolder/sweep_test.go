package datafolder

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// clock is a clock that is moved by hand.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

func newClock() *clock { return &clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)} }

func atClock(t *testing.T, dir string, c *clock) *Store {
	t.Helper()
	return opened(t, dir, World{Now: c.now, Program: "test", Lookup: func(string) (string, bool) { return "", false }})
}

func put(t *testing.T, s *Store, text string) string {
	t.Helper()
	hash, _, err := s.Put(t.Context(), strings.NewReader(text), 1000)
	if err != nil {
		t.Fatal(err)
	}
	return hash
}

func evidence(id, hash string) job.Event {
	return job.Event{Kind: job.EvidenceAdded, Data: job.Evidence{ID: id, File: "photo.txt", SHA256: hash, Text: "A photo", On: unit.Date{Year: 2026, Month: 3, Day: 2}, By: "W2"}}
}

func begun(t *testing.T, s *Store) {
	t.Helper()
	if _, err := s.Create(t.Context(), "J1", app.Change{Key: "open", By: "p-1", Events: job.FromState(storetest.State("J1"))}); err != nil {
		t.Fatal(err)
	}
}

func is(ctx context.Context, s *Store, hash string) bool {
	r, _, err := s.Get(ctx, hash)
	if err == nil {
		_, err = io.Copy(io.Discard, r)
		err = errors.Join(err, r.Close())
	}
	return err == nil
}

// TestSweepKeepsWhatIsNamed: of everything that can refer to bytes one is made; after two sweeps with a day between the bytes of all
// are there, and those that nothing refers to are gone, row and all. What work has made stays until its days are over; then the
// work says no longer that it has made it.
func TestSweepKeepsWhatIsNamed(t *testing.T) {
	c := newClock()
	s := atClock(t, t.TempDir(), c)
	begun(t, s)
	named, loose := put(t, s, "named"), put(t, s, "loose")
	withdrawn := put(t, s, "withdrawn since")
	for i, e := range []job.Event{evidence("E1", named), evidence("E2", withdrawn)} {
		if _, err := s.Append(t.Context(), "J1", app.Change{Key: fmt.Sprint("a", i), By: "p-1", Events: []job.Event{e}}, nil); err != nil {
			t.Fatal(err)
		}
	}
	h, err := s.Head(t.Context(), "J1")
	if err != nil {
		t.Fatal(err)
	}
	w := job.Event{Kind: job.RecordWithdrawn, Of: "evidence/E2", Seen: h.Seq, Data: job.Withdrawal{By: "W2", On: unit.Date{Year: 2026, Month: 3, Day: 2}, Reason: "Of another vehicle"}}
	if _, err := s.Append(t.Context(), "J1", app.Change{Key: "w", By: "p-1", Events: []job.Event{w}}, nil); err != nil {
		t.Fatal(err)
	}
	content, err := s.Keep(t.Context(), map[string][]byte{"body.yaml": []byte("of no job")})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SetAside(t.Context(), "J1", map[string][]byte{"note.txt": []byte("by hand")}); err != nil {
		t.Fatal(err)
	}
	task, made := worked(t, s, c, "made by work")
	sweep := func(want int) {
		t.Helper()
		c.add(25 * time.Hour)
		got, err := s.Sweep(t.Context())
		if err != nil || got.Removed != want {
			t.Fatalf("%+v %v, want %d removed", got, err, want)
		}
		if v, err := s.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
			t.Errorf("swept, it is not as it was written: %v %v", v.Faults, err)
		}
	}
	sweep(0)
	sweep(1)
	for what, hash := range map[string]string{"named": named, "withdrawn since": withdrawn, "made by work": made} {
		if !is(t.Context(), s, hash) {
			t.Errorf("%s: gone", what)
		}
	}
	if has, err := s.HasBlob(t.Context(), loose); is(t.Context(), s, loose) || has || err != nil {
		t.Errorf("what nothing refers to is there: row %v, %v", has, err)
	}
	_, files := s.Files(t.Context(), content)
	aside, err := s.Aside(t.Context(), "J1")
	if err != nil || files != nil || len(aside) != 1 {
		t.Errorf("library: %v, aside: %v %v", files, aside, err)
	}
	c.add(87 * 24 * time.Hour) // 89 days and 2 hours since it was made
	sweep(0)                   // and 90 days: marked
	sweep(1)
	if now, err := s.TaskOf(t.Context(), task); err != nil || now.Result != "" || is(t.Context(), s, made) {
		t.Errorf("what work has made is said to be kept: %q %v", now.Result, err)
	}
	if again := put(t, s, "loose"); again != loose || !is(t.Context(), s, loose) {
		t.Error("what was swept cannot be put again")
	}
	sweep(0)
}

// worked is a task that is done, and what it made.
func worked(t *testing.T, s *Store, c *clock, text string) (id, hash string) {
	t.Helper()
	id, err := s.Want(t.Context(), app.Wanted{Kind: "files", About: "J1", By: "p-1"})
	if err != nil {
		t.Fatal(err)
	}
	task, err := s.Claim(t.Context(), []app.TaskKind{"files"}, "w", time.Hour, 3)
	if err != nil || task == nil {
		t.Fatal(task, err)
	}
	hash = put(t, s, text)
	if err := s.End(t.Context(), task, app.TaskEnd{State: app.TaskDone, Due: c.now(), Result: hash}); err != nil {
		t.Fatal(err)
	}
	return id, hash
}

// TestSweepOfAnotherDatabase: where most files have no row, the database is another: nothing is removed or marked.
func TestSweepOfAnotherDatabase(t *testing.T) {
	c, dir := newClock(), t.TempDir()
	s := atClock(t, dir, c)
	var hashes []string
	for i := range 11 {
		hashes = append(hashes, put(t, s, fmt.Sprint("file ", i)))
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"fettle.db", "fettle.db-wal", "fettle.db-shm"} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
	}
	other := atClock(t, dir, c)
	put(t, other, "d")
	for range 3 {
		c.add(25 * time.Hour)
		if got, err := other.Sweep(t.Context()); diag.KindOf(err) != diag.Conflict || got.Removed != 0 || got.Marked != 0 {
			t.Errorf("%+v %v", got, err)
		}
	}
	for _, hash := range hashes {
		if _, err := other.Blobs.Size(t.Context(), hash); err != nil {
			t.Error(err)
		}
	}
}

// backup does what a backup does, with a sweep in the middle: sweeps are held off, rows are copied, and the bytes of those are
// read at leisure. It says how many are gone.
func backup(t *testing.T, s *Store) (gone int) {
	p, err := s.BeginPause(t.Context(), "backup", pauseFor)
	if err != nil {
		t.Error(err)
	}
	has, err := s.Contents(t.Context())
	if err != nil {
		t.Error(err)
	}
	if _, err := s.Sweep(t.Context()); err != nil {
		t.Error(err)
	}
	for hash := range has.Blobs {
		if _, err := s.Blobs.Size(t.Context(), hash); err != nil {
			gone++
		}
	}
	if err := errors.Join(s.Stands(t.Context(), p.ID), s.EndPause(t.Context(), p.ID)); err != nil {
		t.Error(err)
	}
	return gone
}

// race lets people put photos, and name photos that are there, and now and then somebody make a backup, while two sweeps run and the clock goes on by some minutes, and by half a day between; in an order by
// chance. Sure is what somebody who names one that is there does before. It says how many events name bytes that are gone, and how
// many files were removed.
func race(t *testing.T, seed uint64, rounds int, sure func(s *Store, hash string) error) (lost, removed int) {
	t.Helper()
	c := newClock()
	return raceIn(t, c, atClock(t, t.TempDir(), c), seed, rounds, sure)
}

// raceIn is the same in a store of one's choice.
func raceIn(t *testing.T, c *clock, s *Store, seed uint64, rounds int, sure func(s *Store, hash string) error) (lost, removed int) {
	t.Helper()
	begun(t, s)
	var mu sync.Mutex
	names := map[string]bool{}
	texts, hashes := make([]string, 12), make([]string, 12)
	for i := range texts {
		texts[i] = fmt.Sprint("photo ", i)
		hashes[i] = put(t, s, texts[i])
	}
	name := func(key, hash string) {
		_, err := s.Append(t.Context(), "J1", app.Change{Key: key, By: "p-1", Events: []job.Event{evidence("E-"+key, hash)}}, nil)
		mu.Lock()
		defer mu.Unlock()
		if names[hash] = true; err != nil {
			t.Error(err)
		}
	}
	for round := range rounds {
		c.add(13 * time.Hour)
		var group sync.WaitGroup
		for who := range 6 {
			r := rand.New(rand.NewPCG(seed, uint64(10*round+who)))
			group.Go(func() {
				time.Sleep(time.Duration(r.IntN(3000)) * time.Microsecond)
				n := r.IntN(len(texts))
				switch {
				case who < 2:
					got, err := s.Sweep(t.Context())
					mu.Lock()
					defer mu.Unlock()
					if removed += got.Removed; err != nil {
						t.Error(err)
					}
				case who == 5 && r.IntN(2) > 0: // or nothing is ever removed
				case who == 5:
					gone := backup(t, s)
					mu.Lock()
					defer mu.Unlock()
					lost += gone
				case who == 2:
					c.add(time.Duration(r.IntN(180)) * time.Second) // beyond a minute a removal under way is given up
				case r.IntN(4) == 0:
					put(t, s, texts[n])
				case r.IntN(3) == 0 && round > rounds/2:
					if err := sure(s, hashes[n]); err == nil {
						if r.IntN(2) == 0 { // there is a day's time
							if _, err := s.Sweep(t.Context()); err != nil {
								t.Error(err)
							}
						}
						name(fmt.Sprintf("%d-%d", round, who), hashes[n])
					} else if diag.KindOf(err) != diag.NotFound {
						t.Error(err)
					}
				}
			})
		}
		group.Wait()
		for hash := range names {
			if !is(t.Context(), s, hash) {
				lost++
				delete(names, hash)
			}
		}
	}
	if v, err := s.Verify(t.Context()); lost == 0 && (err != nil || len(v.Faults) > 0) {
		t.Errorf("seed %d: it is not as it was written: %v %v", seed, v.Faults, err)
	}
	return lost, removed
}

// retained makes sure of bytes, as whoever names them has to.
func retained(t *testing.T) func(s *Store, hash string) error {
	return func(s *Store, hash string) error {
		_, err := s.Retain(t.Context(), hash)
		return err
	}
}

// lookedAt only looks whether bytes are there.
func lookedAt(t *testing.T) func(s *Store, hash string) error {
	return func(s *Store, hash string) error {
		r, _, err := s.Get(t.Context(), hash)
		if err == nil {
			err = r.Close()
		}
		return err
	}
}

// TestSweepMeetsPeople: whatever is done at once, no event names bytes that are gone; and it is not for want of removals. Where whoever names
// bytes that are there only looks at them, some are lost. FETTLE_SWEEPS says how many orders (1,000 for the whole campaign).
func TestSweepMeetsPeople(t *testing.T) {
	times := 6
	if n, err := strconv.Atoi(os.Getenv("FETTLE_SWEEPS")); err == nil {
		times = n
	}
	lost, removed := 0, 0
	for seed := range times {
		l, r := race(t, uint64(seed), 16, retained(t))
		lost, removed = lost+l, removed+r
	}
	t.Logf("%d orders: %d lost, %d removed", times, lost, removed)
	if lost > 0 || removed < times {
		t.Errorf("%d orders: %d lost, %d removed", times, lost, removed)
	}
	for seed := range 400 {
		if lost, _ := race(t, uint64(seed), 16, lookedAt(t)); lost > 0 {
			t.Logf("without retaining bytes were lost in order %d", seed)
			return
		}
	}
	t.Error("without retaining nothing is lost in 400 orders, so they show nothing")
}

// TestScan: files that are damaged, gone or fewer are named, and no others.
func TestScan(t *testing.T) {
	c, dir := newClock(), t.TempDir()
	s := atClock(t, dir, c)
	whole, gone, fewer, other := put(t, s, "whole"), put(t, s, "gone"), put(t, s, "fewer bytes"), put(t, s, "other bytes")
	err := errors.Join(os.Remove(filepath.Join(dir, "blobs", gone)), os.WriteFile(filepath.Join(dir, "blobs", fewer), []byte("few"), 0o600), os.WriteFile(filepath.Join(dir, "blobs", other), []byte("OTHER bytes"), 0o600))
	if err != nil {
		t.Fatal(err)
	}
	found, told := map[string]bool{}, 0
	n, _, err := s.Scan(t.Context(), func(done, of int) {
		if told++; of != 4 || done != told-1 {
			t.Errorf("%d of %d are done", done, of)
		}
	}, func(hash string, why error) { found[hash] = true })
	if err != nil || n != 4 || told != 4 || found[whole] || !found[gone] || !found[fewer] || !found[other] {
		t.Errorf("%d read, %v told, %v: %v", n, told, err, found)
	}
}

// TestDroppedButRetained: bytes of files set aside that somebody has retained, and names after the files were dropped, stay; the others go by a sweep.
func TestDroppedButRetained(t *testing.T) {
	c := newClock()
	s := atClock(t, t.TempDir(), c)
	begun(t, s)
	if err := s.SetAside(t.Context(), "J1", map[string][]byte{"photo.txt": []byte("a photo"), "note.txt": []byte("by hand")}); err != nil {
		t.Fatal(err)
	}
	photo, note := sumOf([]byte("a photo")), sumOf([]byte("by hand"))
	if _, err := s.Retain(t.Context(), photo); err != nil {
		t.Fatal(err)
	}
	if dropped, err := s.DropAside(t.Context(), "J1"); err != nil || !dropped {
		t.Fatal(dropped, err)
	}
	if _, err := s.Append(t.Context(), "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{evidence("E1", photo)}}, nil); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		c.add(25 * time.Hour)
		if _, err := s.Sweep(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if v, err := s.Verify(t.Context()); err != nil || len(v.Faults) > 0 || !is(t.Context(), s, photo) || is(t.Context(), s, note) {
		t.Errorf("%v %v; the named is there: %v, the other: %v", v.Faults, err, is(t.Context(), s, photo), is(t.Context(), s, note))
	}
}
