package database_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/store/safefile/simdisk"
	"fettle/internal/store/simvfs"
	"fettle/internal/store/storetest"
)

// machine has two disks: one that SQLite runs on and one for the bytes of photos. Their calls are counted together, those
// that only read apart, and each may fail.
type machine struct {
	disk  *simvfs.Disk
	files *simdisk.Disk

	mu     sync.Mutex
	counts bool // reads too
	calls  int
	fails  func(asked) error // nil: none does
}

// asked is a call of one of the disks.
type asked struct {
	disk        string
	call        fmt.Stringer
	n           int // its number; of one that reads and is not counted, that of the one before
	reads, room bool
}

func newMachine() *machine {
	m := &machine{files: simdisk.New(time.Now)}
	m.disk = simvfs.New(m.ofSQLite)
	return m
}

func (m *machine) ofSQLite(c simvfs.Call) error {
	return m.call(asked{disk: "SQLite", call: c, reads: c == simvfs.CallRead, room: c == simvfs.CallWrite})
}

func (m *machine) ofFiles(c simdisk.Call) (half bool, err error) {
	err = m.call(asked{disk: "files", call: c, reads: c == simdisk.CallRead, room: c >= simdisk.CallCreate})
	return errors.Is(err, simvfs.ErrShort), err
}

func (m *machine) call(a asked) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if !a.reads || m.counts {
		m.calls++
	}
	if m.fails == nil {
		return nil
	}
	a.n = m.calls - 1
	return m.fails(a)
}

// does lets calls fail from now on, or no more.
func (m *machine) does(fails func(asked) error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.calls, m.fails = 0, fails
}

var errPower = errors.New("the power is gone")

// loses cuts the power before the call of that number.
func (m *machine) loses(at int) {
	m.does(func(a asked) error {
		if a.n >= at {
			return errPower
		}
		return nil
	})
}

// found is the machine as it is found after the power was cut.
func (m *machine) found(r *rand.Rand) *machine {
	is := &machine{files: m.files.Cut(r)}
	is.disk = m.disk.Cut(r, is.ofSQLite)
	m.disk.Drop()
	return is
}

// clone is the machine as it is.
func (m *machine) clone() *machine {
	is := &machine{files: m.files.Clone()}
	is.disk = m.disk.Clone(is.ofSQLite)
	return is
}

func (m *machine) open(ctx context.Context, dir string) (*database.Database, error) {
	if err := simvfs.Register(); err != nil {
		return nil, err
	}
	files := blobs.NewIn(simdisk.Asked(m.files, m.ofFiles), time.Now)
	return database.Open(ctx, database.Settings{Address: m.disk.File("fettle.db"), Backups: dir, Blobs: files, Now: time.Now, Program: "test"}.On(simvfs.VFS))
}

// worked is what an author of mixed writes came to: what was acknowledged, and the write that failed.
type worked struct {
	made []storetest.Wrote
	last *storetest.Write
	err  error
}

// work makes so many writes, until one fails.
func work(ctx context.Context, st storetest.MixedStore, m *storetest.Mixed, n int) (out worked) {
	for range n {
		w := m.Next()
		made, err := w.Make(ctx, st)
		if err != nil {
			out.last, out.err = &w, err
			return out
		}
		m.Made(made)
		out.made = append(out.made, made)
	}
	return out
}

// holds opens a store on a machine, and holds it against what was acknowledged; the write that failed is made again.
func holds(ctx context.Context, m *machine, dir string, w worked) (err error) {
	st, err := m.open(ctx, dir)
	if err != nil {
		return fmt.Errorf("it does not open: %w", err)
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	err = errors.Join(st.CheckSound(ctx), storetest.CheckWhole(ctx, st), storetest.CheckWrote(ctx, st, w.made))
	if err != nil || w.last == nil {
		return err
	}
	again, err := w.last.Make(ctx, st)
	if err != nil {
		return fmt.Errorf("made again: %w", err)
	}
	return errors.Join(storetest.CheckWrote(ctx, st, []storetest.Wrote{again}), st.CheckSound(ctx))
}

// used is a machine with a store that has something in it, and what that is.
func used(t *testing.T) (*machine, worked) {
	t.Helper()
	m := newMachine()
	st, err := m.open(t.Context(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	w := work(t.Context(), st, storetest.NewMixed("before", 1), 30)
	if err := errors.Join(w.err, st.Close()); err != nil {
		t.Fatal(err)
	}
	return m, w
}

// nothingOpen wants every file of the simulated disks to be closed.
func nothingOpen(t *testing.T) {
	t.Helper()
	if open := simvfs.Left(); open != 0 {
		t.Errorf("%d files are open, and every store was closed", open)
	}
}

// powerCut is one cut: at a call of mixed writes on a store that is new or was used, and one time in four another
// one while the store is opened after the first. Its error says what was lost.
func powerCut(t *testing.T, before *machine, had worked, seed uint64) (acknowledged int, err error) {
	draw := rand.New(rand.NewPCG(seed, 3))
	ctx, dir := t.Context(), t.TempDir()
	if draw.IntN(2) == 0 { // pages are brought from the journal into the file after every few writes
		defer database.Set("wal_autocheckpoint", "4", "4")()
	}
	m, all := newMachine(), worked{}
	if draw.IntN(5) > 0 {
		m.disk.Drop()
		m, all = before.clone(), had
	}
	m.loses(draw.IntN(1 << (5 + draw.IntN(6))))
	if st, err := m.open(ctx, dir); err == nil {
		w := work(ctx, st, storetest.NewMixed(fmt.Sprint("cut", seed), seed), 12)
		acknowledged = len(w.made)
		all = worked{append(all.made[:len(all.made):len(all.made)], w.made...), w.last, w.err}
		st.Close() // what it says of a disk without power says nothing
	}
	m = m.found(draw)
	if draw.IntN(4) == 0 {
		m.loses(draw.IntN(30))
		if st, err := m.open(ctx, dir); err == nil {
			st.Close() // as above
		}
		m = m.found(draw)
	}
	defer m.disk.Drop()
	return acknowledged, holds(ctx, m, dir, all)
}

// TestPowerCutsOfSQLite cuts the power under the whole store 200 times, or as FETTLE_FAULTS says. Whenever that is, what was
// acknowledged is there, and nothing is there by half.
func TestPowerCutsOfSQLite(t *testing.T) {
	before, had := used(t)
	cuts, acknowledged := times(t, 200, 10_000), 0
	for seed := range uint64(cuts) {
		n, err := powerCut(t, before, had, seed)
		if err != nil {
			t.Fatalf("cut %d, with %d writes acknowledged: %v", seed, n, err)
		}
		acknowledged += n
	}
	nothingOpen(t)
	t.Logf("%d cuts, %d writes acknowledged, 0 lost, 0 by half", cuts, acknowledged)
}

// TestPowerCutsOfSQLiteHaveTeeth: the same cuts find that SQLite with weaker settings loses what it acknowledged.
func TestPowerCutsOfSQLiteHaveTeeth(t *testing.T) {
	before, had := used(t)
	for _, weak := range [][2]string{{"NORMAL", "1"}, {"OFF", "0"}} {
		func() {
			defer database.Set("synchronous", weak[0], weak[1])()
			cuts, lost := times(t, 30, 1000), 0
			for seed := range uint64(cuts) {
				if _, err := powerCut(t, before, had, seed); err != nil {
					lost++
				}
			}
			t.Logf("synchronous=%s: %d of %d cuts lose something", weak[0], lost, cuts)
			if lost < cuts/10 {
				t.Errorf("synchronous=%s: only %d of %d cuts lose something", weak[0], lost, cuts)
			}
		}()
	}
}
