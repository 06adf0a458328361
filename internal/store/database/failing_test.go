package database_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"syscall"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/store/simvfs"
	"fettle/internal/store/storetest"
)

// fault is what happens at a call of a disk.
type fault struct {
	err  error
	good bool   // for good, and not once
	of   string // only of calls of that name, which are counted by themselves; empty: of all
	at   int    // the number of the first that fails
}

// drawn is a fault: every second one of any call, the others of each kind of call in turn, that of a sync as often as that of a
// write that comes fifty times as often.
func drawn(seed uint64, draw *rand.Rand) fault {
	f := fault{err: []error{syscall.EIO, syscall.ENOSPC, simvfs.ErrShort}[seed%3], good: seed/3%2 == 0, at: draw.IntN(1 << (3 + draw.IntN(7)))}
	if seed/6%2 == 0 {
		return f
	}
	of := []string{"write of SQLite", "write of files", "create of files", "rename of files", // which need room
		"open of SQLite", "read of SQLite", "sync of SQLite", "read of files", "remove of files", "sync of files"}
	kind := int(seed/12) % len(of)
	if f.of, f.at = of[kind], draw.IntN(1<<draw.IntN(5)); kind >= 4 {
		f.err = syscall.EIO
	}
	return f
}

// name is what happens; only a write can end after half of it.
func (f fault) name(write bool) string {
	switch {
	case f.err == syscall.EIO:
		return "error"
	case write && errors.Is(f.err, simvfs.ErrShort):
		return "half, then no room"
	}
	return "no room"
}

func (f fault) String() string {
	return fmt.Sprintf("%s of %q at %d, for good: %v", f.name(true), f.of, f.at, f.good)
}

// full says that only calls that need room fail.
func (f fault) full() bool { return errors.Is(f.err, syscall.ENOSPC) }

// ran is what a run came to.
type ran struct {
	met    string // the call that failed first, and with what; empty: none
	failed int    // how many calls did
	opens  bool   // the store was told of it when it was opened
	told   error  // what the program said
	made   int    // writes that were acknowledged before, after and all the same
}

// happens lets the call of that number fail. A full disk hinders none that needs no room.
func (f fault) happens(r *ran) func(asked) error {
	n := 0
	return func(a asked) error {
		of := fmt.Sprintf("%s of %s", a.call, a.disk)
		if f.of == of {
			a.n, n = n, n+1
		}
		if a.n < f.at || f.of != "" && f.of != of || f.full() && !a.room || r.met != "" && !f.good {
			return nil
		}
		if r.failed++; r.met == "" {
			r.met = of + ": " + f.name(strings.HasPrefix(of, "write"))
		}
		return f.err
	}
}

// failing is one run of mixed writes on a store one call of whose disks fails, or all from that one on. The error
// says what should not be.
func failing(t *testing.T, before *machine, had worked, f fault, seed uint64, draw *rand.Rand) (r ran, err error) {
	ctx, dir := t.Context(), t.TempDir()
	m := before.clone()
	m.counts = true
	if opens := draw.IntN(5) == 0; opens {
		m.does(f.happens(&r))
	}
	st, err := m.open(ctx, dir)
	if err != nil {
		if r.told, r.opens = err, true; diag.KindOf(err) != diag.Unavailable {
			return r, fmt.Errorf("it does not open, with an error of kind %v: %w", diag.KindOf(err), err)
		}
		m.does(nil)
		return r, holds(ctx, m, dir, had)
	}
	if r.met == "" {
		m.does(f.happens(&r))
	}
	author := storetest.NewMixed(fmt.Sprint("fault", seed), seed)
	w := work(ctx, st, author, 10)
	all := append(had.made[:len(had.made):len(had.made)], w.made...)
	if w.err != nil {
		if r.told = w.err; diag.KindOf(w.err) != diag.Unavailable {
			return r, fmt.Errorf("%s is refused with an error of kind %v: %w", w.last.Kind, diag.KindOf(w.err), w.err)
		}
		if f.full() { // nothing can be written, and all can be read
			if err := storetest.CheckWrote(ctx, st, all); err != nil {
				return r, fmt.Errorf("while it is full: %w", err)
			}
		}
		m.does(nil) // there is room again, or the disk was mended: without opening it again the same write goes on
		more, err := goesOn(ctx, st, author, *w.last)
		if err != nil {
			return r, fmt.Errorf("after %s %s failed: %w", w.last.Kind, w.last.Key, err)
		}
		all = append(all, more...)
	}
	m.does(nil)
	r.made = len(all) - len(had.made)
	err = errors.Join(st.CheckSound(ctx), storetest.CheckWhole(ctx, st), storetest.CheckWrote(ctx, st, all), st.Close())
	if err != nil {
		return r, err
	}
	after := m.found(draw)
	defer after.disk.Drop()
	return r, holds(ctx, after, dir, worked{made: all})
}

// goesOn makes the write that failed again, and more.
func goesOn(ctx context.Context, st storetest.MixedStore, author *storetest.Mixed, last storetest.Write) ([]storetest.Wrote, error) {
	again, err := last.Make(ctx, st)
	if err != nil {
		return nil, err
	}
	author.Made(again)
	w := work(ctx, st, author, 3)
	return append(w.made, again), w.err
}

// TestFaultsOfSQLite lets one call of the disks fail, or all from that one on: with an error of the disk, with no room, or
// with half of what was to be written. 24 times, or as FETTLE_FAULTS says. What fails says so, what was
// acknowledged is there, also after the power was cut then; a full disk can be read; and writing goes on once it can.
// Nobody waits for a lock that was left behind by what failed.
func TestFaultsOfSQLite(t *testing.T) {
	before, had := used(t)
	waited := simvfs.Waited()
	runs, met, failed, made := times(t, 24, 2400), 0, 0, 0
	kinds, says := map[string]int{}, map[string]int{}
	for seed := range uint64(runs) {
		draw := rand.New(rand.NewPCG(seed, 8))
		f := drawn(seed, draw)
		r, err := failing(t, before, had, f, seed, draw)
		if err != nil {
			t.Fatalf("run %d, %v: %v", seed, f, err)
		}
		if r.met != "" {
			met++
			kinds[r.met]++
			says[r.said()]++
		}
		failed += r.failed
		made += r.made
	}
	nothingOpen(t)
	t.Logf("%d runs, a fault met in %d of them, %d calls failed, %d writes acknowledged beside the %d before, 0 lost, 0 by half", runs, met, failed, made, len(had.made))
	for _, of := range []map[string]int{kinds, says} {
		for _, name := range slices.Sorted(maps.Keys(of)) {
			t.Logf("%5d %s", of[name], name)
		}
	}
	if met < runs/2 {
		t.Errorf("a fault was met in only %d of %d runs", met, runs)
	}
	if waited = simvfs.Waited() - waited; waited > 0 {
		t.Errorf("%v were spent waiting for locks, and nobody else has the file", waited)
	}
}

// said is what the program said of a fault.
func (r ran) said() string {
	switch {
	case r.told == nil:
		return "nothing was said: what was asked for was done all the same"
	case r.opens:
		return "unavailable: it is not opened" // any other kind is an error of the run
	}
	return "unavailable: a write is refused"
}
