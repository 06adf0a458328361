package database

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// TestVerifyWhileOthersWrite: people and workers write what jobs, work and keeping them are about while all rows are verified again and again, against every
// checkpoint that was made on the way: nothing is ever found. FETTLE_TAMPERS says how often: a two hundredth of it.
func TestVerifyWhileOthersWritePostgreSQLAndSQLite(t *testing.T) {
	times := 15
	if n, err := strconv.Atoi(os.Getenv("FETTLE_TAMPERS")); err == nil {
		times = n / 200
	}
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		filled(t, s)
		d := opened(t, s)
		ctx, stop := context.WithCancel(t.Context())
		var writers sync.WaitGroup
		var written atomic.Int64
		for who := range 4 {
			writers.Go(func() {
				r := rand.New(rand.NewPCG(7, uint64(who)))
				for step := 0; ctx.Err() == nil; step++ {
					err := writesOne(ctx, d, r, fmt.Sprintf("%d-%d", who, step))
					switch diag.KindOf(err) {
					case diag.Conflict, diag.Denied, diag.NotFound: // another was there before
					default:
						if err != nil && !errors.Is(err, context.Canceled) {
							t.Errorf("%d-%d: %v", who, step, err)
							return
						}
					}
					written.Add(1)
					time.Sleep(time.Duration(r.IntN(4000)) * time.Microsecond) // or the store outgrows what reads it
				}
			})
		}
		var points []ledger.Checkpoint
		verified := 0
		for ; verified < times || written.Load() < 150; verified++ {
			faults, err := d.Verify(ctx, points...)
			if err != nil || len(faults) > 0 {
				t.Errorf("nothing was altered: %v %v", faults, err)
				break
			}
			if points = append(points, must(d.Checkpoint(ctx, "test"))); len(points) > 20 {
				points = points[1:]
			}
		}
		stop()
		writers.Wait()
		size := must(d.logSize(t.Context()))
		t.Logf("%d verifications, %d writes, %d leaves, 0 false alarms unless told", verified, written.Load(), size)
		for _, kind := range []leafKind{ofEvent, ofBlob, ofTask, ofLine, ofHold, ofSetting, ofPause, ofHandedBack, ofRemoved} {
			n := 0
			if err := d.Read(t.Context(), "select count(*) from leaves where kind = $1", []any{string(kind)}, func(scan func(...any) error) error { return scan(&n) }); err != nil || n == 0 {
				t.Errorf("no leaf of the kind %s: %v", kind, err)
			}
		}
	})
}

// writesOne does one thing, by chance, with jobs, work, holds, pauses, settings or what is removed.
func writesOne(ctx context.Context, d *Database, r *rand.Rand, key string) error {
	id, day := fmt.Sprint("J", 1+r.IntN(8)), storetest.State("").Opened
	switch r.IntN(9) {
	case 0:
		id = "K" + key
		old := storetest.State(id)
		old.Opened = day.AddDays(-20)
		_, err := d.Create(ctx, id, app.Change{Key: key, By: "p-1", Events: job.FromState(old)})
		if err == nil {
			err = errors.Join(d.HandBack(ctx, id, "p-1", day.AddDays(-11)), d.Index(ctx, id, 1, func(app.Shown) app.Shown { return app.Shown{Title: "Old", Plate: key} }))
		}
		if err == nil {
			_, err = d.RemoveJob(ctx, id, "p-1", 10)
		}
		return err
	case 1:
		_, err := d.Create(ctx, id, app.Change{Key: key, By: "p-1", Events: job.FromState(storetest.State(id))})
		return err
	case 2:
		head, err := d.Head(ctx, id)
		if err == nil {
			err = d.Index(ctx, id, head.Seq, func(app.Shown) app.Shown { return app.Shown{Title: "Van " + key, Plate: "AB 1", Waits: "parts"} })
		}
		return err
	case 3:
		h, err := d.BeginHold(ctx, id, "p-1", "A claim")
		if err == nil && r.IntN(3) > 0 {
			_, err = d.EndHold(ctx, h.ID)
		}
		return err
	case 4:
		p, err := d.BeginPause(ctx, "backup", time.Hour)
		if err == nil {
			err = errors.Join(d.ProlongPause(ctx, p.ID, time.Hour), d.EndPause(ctx, p.ID))
		}
		return err
	case 5:
		return d.Set(ctx, fmt.Sprint("setting ", r.IntN(3)), strings.Repeat("x", r.IntN(3)))
	case 6:
		_, _, err := d.Put(ctx, strings.NewReader(key), 100)
		return err
	case 7:
		return worksOne(ctx, d, id, key)
	}
	e := job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: unit.DateOf(monday())}}
	if chain, err := d.Load(ctx, id, 0); err == nil {
		if now, err := job.Read(chain); err == nil {
			e.Seen = now.Newest("review")
		}
	}
	_, err := d.Append(ctx, id, app.Change{Key: key, By: "p-1", Events: []job.Event{e}, Wants: []app.Wanted{{Kind: "assess", About: id, By: "p-1"}}}, nil)
	return err
}

// worksOne asks for work, and does some that is due.
func worksOne(ctx context.Context, d *Database, id, key string) error {
	if _, err := d.Want(ctx, app.Wanted{Kind: "assess", About: id, By: "p-1", Input: key}); err != nil {
		return err
	}
	t, err := d.Claim(ctx, []app.TaskKind{"assess"}, "w-"+key, time.Hour, 3)
	if err != nil || t == nil {
		return err
	}
	if _, err := d.Hold(ctx, t, halt.Progress{Done: 1, Of: 2}, time.Hour); err != nil {
		return err
	}
	return d.End(ctx, t, app.TaskEnd{State: app.TaskDone, Due: monday(), Result: sumOf(key)})
}
