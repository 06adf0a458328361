package database_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"syscall"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/store/simvfs"
	"fettle/internal/store/storetest"
)

// fault is what happens at a call of a disk.
type fault struct {
	err  error
	good bool // for good, and not once
}

func (f fault) String() string { return fmt.Sprintf("%v, for good: %v", f.err, f.good) }

// full says that only calls that need room fail.
func (f fault) full() bool { return errors.Is(f.err, syscall.ENOSPC) }

// at lets the call of that number fail. A full disk hinders none that needs no room.
func (f fault) at(at int, met *bool) func(n int, reads, room bool) error {
	return func(n int, _, room bool) error {
		if n < at || f.full() && !room || *met && !f.good {
			return nil
		}
		*met = true
		return f.err
	}
}

// failing is one run of mixed writes on a store one call of whose disks fails, or all from that one on. The error
// says what should not be.
func failing(t *testing.T, before *machine, had worked, f fault, seed uint64) (met bool, err error) {
	draw := rand.New(rand.NewPCG(seed, 8))
	ctx, dir := t.Context(), t.TempDir()
	m := before.clone()
	m.counts = true
	at := draw.IntN(1 << (3 + draw.IntN(7)))
	if opens := draw.IntN(5) == 0; opens {
		m.does(f.at(at, &met))
	}
	st, err := m.open(ctx, dir)
	if err != nil {
		if diag.KindOf(err) != diag.Unavailable {
			return met, fmt.Errorf("it does not open, with an error of kind %v: %w", diag.KindOf(err), err)
		}
		m.does(nil)
		return met, holds(ctx, m, dir, had)
	}
	if !met {
		m.does(f.at(at, &met))
	}
	author := storetest.NewMixed(fmt.Sprint("fault", seed), seed)
	w := work(ctx, st, author, 10)
	all := append(had.made[:len(had.made):len(had.made)], w.made...)
	if w.err != nil {
		if diag.KindOf(w.err) != diag.Unavailable {
			return met, fmt.Errorf("%s is refused with an error of kind %v: %w", w.last.Kind, diag.KindOf(w.err), w.err)
		}
		if f.full() { // nothing can be written, and all can be read
			if err := storetest.CheckWrote(ctx, st, all); err != nil {
				return met, fmt.Errorf("while it is full: %w", err)
			}
		}
		m.does(nil) // there is room again, or the disk was mended: without opening it again the same write goes on
		more, err := goesOn(ctx, st, author, *w.last)
		if err != nil {
			return met, fmt.Errorf("after %s %s failed: %w", w.last.Kind, w.last.Key, err)
		}
		all = append(all, more...)
	}
	m.does(nil)
	err = errors.Join(st.CheckSound(ctx), storetest.CheckWhole(ctx, st), storetest.CheckWrote(ctx, st, all), st.Close())
	if err != nil {
		return met, err
	}
	after := m.found(draw)
	defer after.disk.Drop()
	return met, holds(ctx, after, dir, worked{made: all})
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
func TestFaultsOfSQLite(t *testing.T) {
	before, had := used(t)
	met, runs := 0, times(t, 24, 2016)
	for seed := range uint64(runs) {
		f := fault{[]error{syscall.EIO, syscall.ENOSPC, simvfs.ErrShort}[seed%3], seed/3%2 == 0}
		was, err := failing(t, before, had, f, seed)
		if err != nil {
			t.Fatalf("run %d, %v: %v", seed, f, err)
		}
		if was {
			met++
		}
	}
	nothingOpen(t)
	t.Logf("%d runs, a fault met in %d of them, 0 acknowledged lost", runs, met)
	if met < runs/2 {
		t.Errorf("a fault was met in only %d of %d runs", met, runs)
	}
}
