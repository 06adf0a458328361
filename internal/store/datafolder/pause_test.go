package datafolder

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/postgrestest"
)

// bothKinds runs a test on a data folder with SQLite and on one with PostgreSQL.
func bothKinds(t *testing.T, test func(t *testing.T, s *Store, c *clock, w World)) {
	for name, address := range map[string]func(t *testing.T) string{"SQLite": func(*testing.T) string { return "" }, "PostgreSQL": func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) }} {
		t.Run(name, func(t *testing.T) {
			c, at := newClock(), address(t)
			w := World{Now: c.now, Program: "test", Lookup: func(name string) (string, bool) { return at, name == databaseVar && at != "" }}
			test(t, opened(t, t.TempDir(), w), c, w)
		})
	}
}

// TestBackupAndSweepEveryDay: for a month there is a backup and a sweep every day, in either order. Each day somebody puts a photo that is
// recorded and one that is not. What is not is gone two days later at the latest, what is recorded is there at the end, every
// backup has all bytes of its rows, and is restored as it was.
func TestBackupAndSweepEveryDayPostgreSQLAndSQLite(t *testing.T) {
	bothKinds(t, func(t *testing.T, s *Store, c *clock, w World) {
		begun(t, s)
		place := t.TempDir()
		var named, loose []string
		var last Backed
		for day := range 30 {
			named, loose = append(named, put(t, s, fmt.Sprint("named ", day))), append(loose, put(t, s, fmt.Sprint("loose ", day)))
			if _, err := s.Append(t.Context(), "J1", app.Change{Key: fmt.Sprint("a", day), By: "p-1", Events: []job.Event{evidence(fmt.Sprint("E", day), named[day])}}, nil); err != nil {
				t.Fatal(err)
			}
			for turn := range 2 {
				if turn == day%2 {
					if got, err := s.Sweep(t.Context()); err != nil || got.Held > 0 {
						t.Fatal(got, err)
					}
					continue
				}
				b, err := s.Backup(t.Context(), place, w)
				if last = b; err != nil || len(b.Missing) > 0 || b.Unheld {
					t.Fatalf("day %d: %v %v %v", day, b.Missing, b.Unheld, err)
				}
			}
			for past := range day - 1 {
				if is(t.Context(), s, loose[past]) {
					t.Fatalf("day %d: what was put on day %d and never recorded is there", day, past)
				}
			}
			c.add(24*time.Hour + time.Minute)
		}
		for _, hash := range named {
			if !is(t.Context(), s, hash) {
				t.Errorf("%s is recorded, and gone", hash)
			}
		}
		if all, err := s.Pauses(t.Context()); err != nil || len(all) > 0 {
			t.Errorf("after all backups pauses are there: %v %v", all, err)
		}
		if v, err := s.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
			t.Error(v.Faults, err)
		}
		restored(t, last.Place)
	})
}

// restored restores a backup into a new folder, which has to be as it was; all bytes of all rows are read.
func restored(t *testing.T, place string) {
	t.Helper()
	w := World{Now: newClock().now, Program: "test", Lookup: func(string) (string, bool) { return "", false }}
	if _, v, err := Restore(t.Context(), place, filepath.Join(t.TempDir(), "new"), w); err != nil || len(v.Faults) > 0 {
		t.Errorf("%s: %v %v", place, v.Faults, err)
	}
}

// TestSweepInTheMiddleOfABackup: bytes that may be removed are at every point of their removal when a backup begins and ends, or a sweep
// begins and ends at every point of a backup. Each backup has the bytes of all its rows.
func TestSweepInTheMiddleOfABackupPostgreSQLAndSQLite(t *testing.T) {
	bothKinds(t, func(t *testing.T, s *Store, c *clock, w World) {
		place := t.TempDir()
		backup := func(when string, has int) {
			t.Helper()
			b, err := s.Backup(t.Context(), place, w)
			if err != nil || len(b.Missing) > 0 || b.Blobs != has {
				t.Fatalf("%s: %d files, want %d; missing %v: %v", when, b.Blobs, has, b.Missing, err)
			}
			restored(t, b.Place)
		}
		ripe := func(text string) (hash string) { // from the next sweep on it is removed
			t.Helper()
			hash = put(t, s, text)
			if _, err := s.Sweep(t.Context()); err != nil {
				t.Fatal(err)
			}
			c.add(25 * time.Hour)
			return hash
		}
		put(t, s, "first")
		for point := range 3 {
			ripe(fmt.Sprint("of a sweep ", point))
			refs, err := s.References(t.Context(), time.Hour)
			if err != nil {
				t.Fatal(err)
			}
			during := false
			_, err = s.Blobs.SweepLetting(t.Context(), func(ctx context.Context, hash string) (bool, error) {
				if point == 0 && !during { // before anything is marked or removed
					during = true
					backup("before", countRows(t, s))
				}
				return refs.Refers(ctx, hash)
			}, func(ctx context.Context, hash string) (bool, error) {
				if point == 1 { // before its row goes
					backup("before its row goes", countRows(t, s))
				}
				stay, err := refs.LetGo(ctx, hash)
				if point == 2 && !stay && err == nil { // its row is gone, its bytes are not
					backup("after its row went", countRows(t, s))
				}
				return stay, err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		left := ripe("of a backup")
		got := Swept{}
		b, err := s.backup(t.Context(), place, w, func() error { return nil }) // without holding sweeps off, for what follows to show something
		if err != nil || len(b.Missing) > 0 {
			t.Fatal(b.Missing, err)
		}
		if err := os.RemoveAll(filepath.Join(place, blobsDir)); err != nil {
			t.Fatal(err)
		}
		for _, hold := range []bool{true, false} {
			id := ""
			if hold {
				p, err := s.BeginPause(t.Context(), "backup", pauseFor)
				if id = p.ID; err != nil {
					t.Fatal(err)
				}
			}
			has, err := s.CopyTo(t.Context(), filepath.Join(t.TempDir(), "copy"))
			if err == nil {
				got, err = s.Sweep(t.Context())
			}
			if err != nil {
				t.Fatal(err)
			}
			var b Backed
			if _, err := s.copyBlobs(t.Context(), place, has.Blobs, w.Now, &b); err != nil {
				t.Fatal(err)
			}
			if hold && (len(b.Missing) > 0 || got.Held == 0 || got.Removed > 0 || !is(t.Context(), s, left)) {
				t.Errorf("a sweep in the middle: %+v, missing %v", got, b.Missing)
			}
			if !hold && len(b.Missing) == 0 {
				t.Error("without holding sweeps off nothing is missing, so nothing is shown")
			}
			if err := errors.Join(s.EndPause(t.Context(), id), os.RemoveAll(filepath.Join(place, blobsDir))); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func countRows(t *testing.T, s *Store) int {
	t.Helper()
	has, err := s.Contents(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return len(has.Blobs)
}

// TestBackupThatDied: a backup that was ended in the middle holds sweeps off for an hour and no longer, also those of another machine; and
// one that only slept so long, while a sweep went on, does not pass for a backup.
func TestBackupThatDiedPostgreSQLAndSQLite(t *testing.T) {
	bothKinds(t, func(t *testing.T, s *Store, c *clock, w World) {
		loose := put(t, s, "loose")
		sweep := func(other *Store, held, removed int) {
			t.Helper()
			if got, err := other.Sweep(t.Context()); err != nil || got.Held != held || got.Removed != removed {
				t.Fatalf("%+v %v, want %d held and %d removed", got, err, held, removed)
			}
		}
		sweep(s, 0, 0)
		c.add(25 * time.Hour)
		if _, err := s.BeginPause(t.Context(), "backup", pauseFor); err != nil { // and no more is heard of it
			t.Fatal(err)
		}
		slept, err := s.BeginPause(t.Context(), "backup", pauseFor)
		if err != nil {
			t.Fatal(err)
		}
		other := opened(t, s.Dir, w)
		sweep(other, 1, 0)
		c.add(50 * time.Minute)
		if err := s.ProlongPause(t.Context(), slept.ID, pauseFor); err != nil {
			t.Fatal(err)
		}
		c.add(55 * time.Minute)
		sweep(other, 1, 0)
		if err := s.Stands(t.Context(), slept.ID); err != nil {
			t.Error(err)
		}
		c.add(10 * time.Minute)
		sweep(other, 0, 1)
		if is(t.Context(), s, loose) {
			t.Error("what nothing refers to is there")
		}
		for what, err := range map[string]error{"still asks": s.Stands(t.Context(), slept.ID), "prolongs": s.ProlongPause(t.Context(), slept.ID, pauseFor)} {
			if diag.KindOf(err) != diag.Conflict {
				t.Errorf("one that slept %s: %v", what, err)
			}
		}
		place := t.TempDir()
		if _, err := s.backup(t.Context(), place, w, func() error { return s.Stands(t.Context(), slept.ID) }); diag.KindOf(err) != diag.Conflict {
			t.Errorf("it is a backup: %v", err)
		}
		if left, err := filepath.Glob(filepath.Join(place, "*")); err != nil || len(left) > 1 { // blobs
			t.Errorf("it left %v %v", left, err)
		}
		if v, err := s.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
			t.Error(v.Faults, err)
		}
	})
}

const backsUpEnv = "FETTLE_TEST_BACKS_UP"

// TestBackupKilled: a program that makes backups is killed, each time later, in the middle of one. What it left holds sweeps off for an hour
// and no longer; every backup that has a name is whole; the next one is, and takes away what the killed ones left, once that is old.
func TestBackupKilledPostgreSQLAndSQLite(t *testing.T) {
	if dir := os.Getenv(backsUpEnv); dir != "" {
		w := World{Now: time.Now, Program: "killed", Lookup: os.LookupEnv}
		s, err := Open(t.Context(), dir, false, w)
		for fmt.Println("begins"); err == nil; {
			_, err = s.Backup(t.Context(), os.Getenv(backsUpEnv+"_TO"), w)
		}
		t.Fatal(err)
	}
	for name, address := range map[string]func(t *testing.T) string{"SQLite": func(*testing.T) string { return "" }, "PostgreSQL": func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) }} {
		t.Run(name, func(t *testing.T) {
			c, at, place := &clock{at: time.Now()}, address(t), t.TempDir()
			s := opened(t, t.TempDir(), World{Now: c.now, Program: "test", Lookup: func(name string) (string, bool) { return at, name == databaseVar && at != "" }})
			for i := range 40 {
				put(t, s, fmt.Sprint("file ", i))
			}
			kills := 0
			for n := range 9 {
				killedBackup(t, s.Dir, at, place, time.Duration(n*n*8)*time.Millisecond)
				left, err := s.Pauses(t.Context())
				must(t, err)
				kills += len(left)
				for _, p := range left {
					must(t, s.EndPause(t.Context(), p.ID))
				}
			}
			if kills == 0 {
				t.Error("no backup was killed in its middle")
			}
			must(t, second(s.Sweep(t.Context())))
			c.add(25 * time.Hour)
			must(t, second(s.BeginPause(t.Context(), "backup", pauseFor)))
			wholeBackups(t, s, place)
			c.add(59 * time.Minute)
			if got, err := s.Sweep(t.Context()); err != nil || got.Removed > 0 || got.Held != 40 {
				t.Errorf("within the hour: %+v %v", got, err)
			}
			c.add(2 * time.Minute)
			if got, err := s.Sweep(t.Context()); err != nil || got.Removed != 40 {
				t.Errorf("after the hour: %+v %v", got, err)
			}
			if v, err := s.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
				t.Error(v.Faults, err)
			}
		})
	}
}

// killedBackup kills a program that makes one backup after the other, a time after it has begun.
func killedBackup(t *testing.T, dir, address, place string, after time.Duration) {
	t.Helper()
	own := exec.Command(os.Args[0], "-test.run", "^TestBackupKilledPostgreSQLAndSQLite$")
	own.Env = append(os.Environ(), backsUpEnv+"="+dir, backsUpEnv+"_TO="+place)
	if address != "" {
		own.Env = append(own.Env, databaseVar+"="+address)
	}
	out, err := own.StdoutPipe()
	must(t, errors.Join(err, own.Start()))
	must(t, second(out.Read(make([]byte, 100))))
	time.Sleep(after)
	must(t, own.Process.Kill())
	if err := own.Wait(); err == nil {
		t.Error("it ended by itself")
	}
}

// wholeBackups reads every backup with a name, makes another and looks for what killed ones left: once it is old it is gone.
func wholeBackups(t *testing.T, s *Store, place string) {
	t.Helper()
	w := World{Now: time.Now, Program: "test", Lookup: func(string) (string, bool) { return "", false }}
	dead, err := filepath.Glob(filepath.Join(place, unfinished+"*"))
	must(t, err)
	for i, dir := range dead[:len(dead)/2] {
		old := time.Now().Add(-deadAfter - time.Hour)
		files, err := filepath.Glob(filepath.Join(dir, "*"))
		must(t, err)
		for _, name := range append(files, dir) {
			if i == 0 && name == dir {
				continue // something was written into it just now
			}
			must(t, os.Chtimes(name, old, old))
		}
	}
	b, err := s.Backup(t.Context(), place, w)
	if err != nil || b.Blobs != 40 || len(b.Missing) > 0 {
		t.Errorf("the next: %+v %v", b, err)
	}
	left, err := filepath.Glob(filepath.Join(place, unfinished+"*"))
	if want := len(dead) - max(0, len(dead)/2-1); err != nil || len(left) != want {
		t.Errorf("%d of %d are left of what was killed, want %d: %v", len(left), len(dead), want, err)
	}
	all, err := filepath.Glob(filepath.Join(place, "2*"))
	must(t, err)
	for _, dir := range all {
		if _, _, err := CheckBackup(t.Context(), dir, w.Now); err != nil {
			t.Error(err)
		}
	}
	t.Logf("%d backups with a name, %d left unfinished", len(all), len(dead))
}
