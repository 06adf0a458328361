package database

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/storetest"
)

// The log has a leaf for every event, in the transaction of the event. Every event is proven to be in every
// later checkpoint, and every checkpoint to be the beginning of the later ones; the proofs are verified by
// package ledger alone.
func TestLogPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		d := opened(t, s)
		ctx := t.Context()
		var points []ledger.Checkpoint
		point := func() {
			t.Helper()
			c, err := d.Checkpoint(ctx, "test")
			if err != nil {
				t.Fatal(err)
			}
			points = append(points, c)
		}
		point()
		for n := range 5 {
			id := fmt.Sprint("J", n)
			if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
				t.Fatal(err)
			}
			if point(); n == 2 { // another program goes on with the log
				d = opened(t, s)
			}
		}
		if points[0].Size != 0 || points[0].Root != ledger.Hash(mustHash("")) {
			t.Errorf("an empty log is %v; RFC 6962 says the hash of nothing", points[0])
		}
		events := int64(0)
		for n := range 5 {
			id := fmt.Sprint("J", n)
			c, err := d.Load(ctx, id, 0)
			if err != nil {
				t.Fatal(err)
			}
			events += int64(len(c))
			for _, e := range c {
				proven(t, d, points[n+1:], id, e)
			}
			if _, err := d.ProveEvent(ctx, id, c[len(c)-1].Seq, points[n].Size); err == nil {
				t.Errorf("%s: its newest event is proven to be in the log as it was before", id)
			}
		}
		if last := points[len(points)-1]; last.Size != events {
			t.Errorf("%d leaves for %d events", last.Size, events)
		}
		for i, old := range points[1:] {
			for _, now := range points[1+i:] {
				p, err := d.ProveGrowth(ctx, old.Size, now.Size)
				if err == nil {
					err = ledger.VerifyConsistency(old.Root, old.Size, now.Root, now.Size, p)
				}
				if err != nil {
					t.Errorf("from %d to %d: %v", old.Size, now.Size, err)
				}
			}
		}
		if _, err := d.ProveGrowth(ctx, 1, events+1); err == nil {
			t.Error("a log of one more leaf than there are is proven")
		}
	})
}

func mustHash(s string) [32]byte {
	h := ledger.Hash{}
	copy(h[:], must(hex.DecodeString(sumOf(s))))
	return h
}

// proven wants an event to be in the log as it was at each checkpoint; its leaf names its hash.
func proven(t *testing.T, d *Database, points []ledger.Checkpoint, id string, e ledger.Entry) {
	t.Helper()
	for _, c := range points {
		in, err := d.ProveEvent(t.Context(), id, e.Seq, c.Size)
		if err == nil && !bytes.Contains(in.Leaf, []byte(`"hash":"`+e.Hash+`"`)) {
			err = fmt.Errorf("its leaf %s has not the hash %s", in.Leaf, e.Hash)
		}
		if err == nil {
			err = ledger.VerifyInclusion(c.Root, c.Size, in.N, ledger.LeafHash(in.Leaf), in.Proof)
		}
		if err != nil {
			t.Fatalf("%s, event %d, among %d: %v", id, e.Seq, c.Size, err)
		}
	}
}

// What is refused leaves nothing behind in the log, the tables or what is kept in memory, also where
// others are committed in the same transaction.
func TestRefusedChangeLeavesNothingPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		d := opened(t, at(t, address, monday))
		ctx := t.Context()
		for _, id := range []string{"J1", "J2"} {
			if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
				t.Fatal(err)
			}
		}
		refusal := errors.New("refused late")
		var wg sync.WaitGroup
		for n := range 40 {
			wg.Go(func() {
				id := fmt.Sprint("J", n%2+1)
				c := app.Change{Key: fmt.Sprint("c", n), By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: fmt.Sprint("W", n+1), On: storetest.State(id).Opened}}}}
				err := d.Write(ctx, func(tx *Tx) error { return late(ctx, d, tx, id, c, n%3 == 0, refusal) })
				if refused := errors.Is(err, refusal); refused != (n%3 == 0) || err != nil && !refused {
					t.Errorf("change %d: %v", n, err)
				}
			})
		}
		wg.Wait()
		leaves, events := int64(0), int64(0)
		for id, want := range map[string]int{"J1": 13, "J2": 13} {
			c, err := d.Load(ctx, id, 0)
			if err != nil || c.Verify() != nil {
				t.Fatal(err, c.Verify())
			}
			events += int64(len(c))
			if got := len(c) - len(job.FromState(storetest.State(id))); got != want {
				t.Errorf("%s has %d reviews, want %d", id, got, want)
			}
		}
		leaves = must(d.logSize(ctx))
		if leaves != events {
			t.Errorf("%d leaves for %d events", leaves, events)
		}
	})
}

// late makes a change, and may refuse it after all of it was written.
func late(ctx context.Context, d *Database, tx *Tx, id string, c app.Change, refuse bool, refusal error) error {
	if _, err := d.changeIn(ctx, tx, id, false, c, nil); err != nil {
		return err
	}
	if refuse {
		return refusal
	}
	return nil
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// A dump of one kind fills a database of either, with all that was in it; and what was changed in a dump is noticed.
func TestDumpPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		filled(t, s)
		d := opened(t, s)
		var dump bytes.Buffer
		if err := d.Dump(t.Context(), &dump); err != nil {
			t.Fatal(err)
		}
		both(t, func(t *testing.T, address string) {
			to := s
			to.Address = address
			other, err := Fill(t.Context(), to, bytes.NewReader(dump.Bytes()))
			if err != nil {
				t.Fatal(err)
			}
			defer other.Close()
			var again bytes.Buffer
			if err := other.Dump(t.Context(), &again); err != nil || !bytes.Equal(again.Bytes(), dump.Bytes()) {
				t.Errorf("dumped again it is another: %v", err)
			}
			if _, err := other.Create(t.Context(), "J3", app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State("J3"))}); err != nil {
				t.Error(err)
			}
			if _, err := Fill(t.Context(), to, bytes.NewReader(dump.Bytes())); err == nil {
				t.Error("a store that is there was filled")
			}
		})
		whole := dump.String()
		for i := 0; i < len(whole); i += 97 {
			bad := whole[:i] + string(whole[i]^1) + whole[i+1:]
			if CheckDump(strings.NewReader(bad)) == nil || CheckDump(strings.NewReader(whole[:i])) == nil {
				t.Fatalf("byte %d was changed, or all from it on is missing, and nothing is noticed", i)
			}
		}
		place, err := d.Backup(t.Context())
		if err != nil || filepath.Dir(place) != s.Backups {
			t.Fatal(place, err)
		}
		if page, err := restored(t, s, place).List(t.Context(), "", 10); err != nil || len(page) != 2 {
			t.Errorf("in the backup: %v %v", page, err)
		}
	})
}
