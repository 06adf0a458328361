package store

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/store/blobs"
)

// grown is a demonstration written event by event, a minute apart: what the job waits for after each. Where it is long, those in the
// middle are written sixteen at a time (FETTLE_CAMPAIGN: one at a time).
func grown(t *testing.T, dir string) []app.Awaited {
	clock := demo.Day
	m := NewMemory(func() time.Time { return clock })
	a := app.New(folders.Coarse(), "test").WithBodies(&app.Bodies{}).WithStores(func(string) (app.Store, string) { return m, "whole" })
	c, err := a.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Keep(t.Context(), c, "p-1", "keep"); err != nil {
		t.Fatal(err)
	}
	kept, err := a.OpenStored(t.Context(), m, "whole")
	if err != nil {
		t.Fatal(err)
	}
	var out []app.Awaited
	var was *app.Awaited
	var wait []job.Event
	begun := false
	events := job.FromState(*kept.Job)
	for i, e := range events {
		wait = append(wait, e)
		if i > 50 && i < len(events)-8 && len(wait) < 16 && os.Getenv("FETTLE_CAMPAIGN") == "" {
			continue
		}
		change := app.Change{Key: fmt.Sprint(len(out), len(wait)), By: "p-1", Events: wait}
		if !begun {
			_, err = m.Create(t.Context(), "J", change)
		} else {
			_, err = m.Append(t.Context(), "J", change, nil)
		}
		if err != nil {
			continue // with the next
		}
		begun, wait = true, nil
		w, err := a.Waits(t.Context(), m, "J", "", was)
		if err != nil {
			t.Fatal(err)
		}
		if len(out)%17 == 4 { // found again with nothing known before
			if again, err := a.Waits(t.Context(), m, "J", "", nil); err != nil || again != w {
				t.Errorf("event %d: %+v, and anew %+v %v", w.At, w, again, err)
			}
		}
		t.Logf("%3d %-22s %-10s %-30s %-18s since %d", w.At, e.Kind, w.For, w.About, w.On, w.Since)
		out = append(out, w)
		was = &w
		clock = clock.Add(time.Minute)
	}
	if len(wait) > 0 {
		t.Errorf("%d events were never taken", len(wait))
	}
	return out
}

// TestWaitsMoves: over the demonstrations, event by event, what a job waits for is what a reader of it would say, and moves with the
// event that brings it. By hand, from the files of the demonstrations and the rule of the gate (package release).
func TestWaitsMoves(t *testing.T) {
	for _, x := range []struct {
		dir  string
		want []release.Act // some of what it waits for, in this order
	}{
		{demo.Job, []release.Act{
			{For: release.ActInspection, About: "control points", On: release.OnShop}, // nothing was measured
			{For: release.ActLookup, About: "BR-FC", On: release.OnShop},              // nobody looked up the procedure
			{For: release.ActInspection, About: "A-RAIL-L", On: release.OnShop},       // the first cracks, and nothing around them was inspected
			{For: release.ActInspection, About: "A-J-SUBFRAME", On: release.OnShop},
			{For: release.ActLookup, About: "BR-FC", On: release.OnShop},
			{For: release.ActInspection, About: "A-KNEE-R", On: release.OnShop}, // is said to be out of reach, to the end
		}},
		{demo.SoundJob, []release.Act{
			{For: release.ActInspection, About: "control points", On: release.OnShop},
			{For: release.ActLookup, About: "BR-FC", On: release.OnShop},
			{For: release.ActChoice, On: release.OnShop},
		}},
		{demo.RearJob, []release.Act{
			{For: release.ActChoice, On: release.OnShop},
			{For: release.ActAcceptance, About: "D3", On: release.OnShop},
			{For: release.ActAcceptance, About: "D4", On: release.OnShop},
			{For: release.ActReview, On: release.OnSecond},
			{For: release.ActWork, About: "Read all fault memories and the state of the drive battery, and keep the list", On: "electric"},
			{For: release.ActHold, About: "Pull the service plug, lock it out, wait and prove the high-voltage system dead", On: release.OnShop},
			{For: release.ActHandBack, On: release.OnShop},
		}},
	} {
		t.Run(x.dir, func(t *testing.T) {
			got := grown(t, x.dir)
			left := x.want
			for i, w := range got {
				if len(left) > 0 && w.Act == left[0] {
					left = left[1:]
				}
				first := i // the first of those before it that are alike without a break
				for first > 0 && got[first-1].Act == w.Act {
					first--
				}
				if w.Since != got[first].At || w.SinceAt == "" {
					t.Errorf("event %d: it waits since %d, want %d", w.At, w.Since, got[first].At)
				}
				if w.For == release.ActHandBack && i != len(got)-1 {
					t.Errorf("event %d: it may be handed back, and more was on record afterwards", w.At)
				}
			}
			if len(left) > 0 {
				t.Errorf("it never waited for %+v", left[0])
			}
			if last := got[len(got)-1].Act; last != x.want[len(x.want)-1] {
				t.Errorf("in the end it waits for %+v", last)
			}
		})
	}
}

// TestWaitsNotKnown: what cannot be judged is not known, and never nothing; what a day brings has no event.
func TestWaitsNotKnown(t *testing.T) {
	clock := demo.Day
	m := NewMemory(func() time.Time { return clock })
	a := app.New(folders.Coarse(), "test").WithBodies(&app.Bodies{}).WithStores(func(string) (app.Store, string) { return m, "J" })
	c, err := a.Open(t.Context(), demo.RearJob)
	if err == nil {
		_, err = a.Keep(t.Context(), c, "p-1", "keep")
	}
	if err != nil {
		t.Fatal(err)
	}
	w, err := a.Waits(t.Context(), m, "J", "", nil)
	if err != nil || w.For != release.ActHandBack || w.Since == 0 {
		t.Fatalf("%+v %v", w, err)
	}
	later, err := a.Waits(t.Context(), m, "J", "2031-11-26", &w) // what was looked up has lapsed by then
	if err != nil || later.For == release.ActHandBack || later.Since != 0 || later.SinceAt != "" {
		t.Errorf("after five years: %+v %v", later, err)
	}
	evidence := slices.Clone(c.Job.Evidence)
	if len(evidence) == 0 {
		t.Fatal("the job has no evidence")
	}
	lost, err := a.Waits(t.Context(), losing{m, evidence[0].SHA256}, "J", "", &w)
	if err != nil || lost.Act != release.Unknown("") {
		t.Errorf("with evidence lost: %+v %v", lost, err)
	}
}

// losing is a store that has lost what is kept under a hash.
type losing struct {
	app.Store
	hash string
}

func (l losing) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	if hash == l.hash {
		return nil, 0, blobs.NothingKept(hash)
	}
	return l.Store.Get(ctx, hash)
}
