package datafolder

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// TestRemovedWhenItsTimeIsOver: a job is removed when it was kept as long as the shop keeps jobs, and not before, nor while anything
// speaks against it. Then no word of it and no photo of its own is left in folder and new backup, what another job names too
// stays; the log goes on from a checkpoint that was kept before, proves the events that are gone, and says who removed them and when.
func TestRemovedWhenItsTimeIsOverPostgreSQLAndSQLite(t *testing.T) {
	bothKinds(t, func(t *testing.T, s *Store, c *clock, w World) {
		ctx, today := t.Context(), unit.DateOf(c.now())
		own, shared := put(t, s, "A photo of Zebedee's vehicle"), put(t, s, "a photo of two vehicles")
		for _, id := range []string{"J1", "J2"} {
			state := storetest.State(id)
			if id == "J1" {
				state.Author, state.Impact.Text, state.Vehicle.VIN = "Zebedee", "Zebedee drove into a wall", "TEST2222222222222"
			}
			if _, err := s.Create(ctx, id, app.Change{Key: "open", By: "p-1", Events: append(job.FromState(state), evidence("E1", shared))}); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := s.Append(ctx, "J1", app.Change{Key: "own", By: "p-1", Events: []job.Event{evidence("E2", own)}}, nil); err != nil {
			t.Fatal(err)
		}
		must(t, s.SetAside(ctx, "J1", map[string][]byte{"note.txt": []byte("Zebedee wrote it by hand")}))
		must(t, s.Index(ctx, "J1", 1, func(app.Shown) app.Shown { return app.Shown{Title: "Zebedee", Plate: "ZE 1"} }))
		before, err := s.Database.Checkpoint(ctx, "test")
		must(t, err)

		refused := func(why, want string, days int) {
			t.Helper()
			if _, err := s.RemoveJob(ctx, "J1", "p-9", days); diag.KindOf(err) != diag.Denied || !strings.Contains(err.Error(), want) {
				t.Fatalf("%s: %v, want that %q", why, err, want)
			}
		}
		refused("nobody has handed it back", "nobody has noted", 400)
		if err := s.HandBack(ctx, "J1", "p-1", today.AddDays(2)); diag.KindOf(err) != diag.Invalid {
			t.Errorf("handed back in the future: %v", err)
		}
		if err := s.HandBack(ctx, "J1", "p-1", unit.Date{}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("handed back on no day: %v", err)
		}
		must(t, s.HandBack(ctx, "J1", "p-1", today))
		refused("it is young", "kept until "+today.AddDays(400).String(), 400)
		refused("kept for ever", "for ever", 0)
		c.add(400 * 24 * time.Hour)
		refused("its last day", "kept until", 400)
		c.add(24 * time.Hour)
		hold, err := s.BeginHold(ctx, "J1", "p-1", "A claim")
		must(t, err)
		refused("on hold", "on hold", 400)
		_, err = s.EndHold(ctx, hold.ID)
		must(t, err)
		task, err := s.Want(ctx, app.Wanted{Kind: "files", About: "J1", By: "p-1", Input: "for Zebedee"})
		must(t, err)
		refused("work waits", "work about it", 400)
		must(t, s.StopTask(ctx, task))
		_, err = s.Append(ctx, "J1", app.Change{Key: "later", By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: today}}}}, nil)
		must(t, err)
		refused("recorded since", "recorded since", 400)
		must(t, s.HandBack(ctx, "J1", "p-1", today))
		if _, err := s.RemoveJob(ctx, "J1", "", 400); diag.KindOf(err) != diag.Invalid {
			t.Errorf("by nobody: %v", err)
		}
		if all, err := s.HandedBacks(ctx, 400); err != nil || len(all) != 1 || all[0].Stays != "" || all[0].Due != today.AddDays(400) {
			t.Errorf("due: %+v %v", all, err)
		}
		head, err := s.Head(ctx, "J1")
		must(t, err)
		r, err := s.RemoveJob(ctx, "J1", "p-9", 400)
		if err != nil || r.Events != head.Seq || r.Hash != head.Hash {
			t.Fatalf("%+v %v", r, err)
		}
		if again, err := s.RemoveJob(ctx, "J1", "p-8", 400); err != nil || again != r {
			t.Errorf("removed twice: %+v %v", again, err)
		}
		gone, err := s.Removals(ctx)
		if err != nil || len(gone) != 1 || gone[0].By != "p-9" || gone[0].At != c.now().UTC().Format(time.RFC3339) {
			t.Errorf("the list says %+v %v", gone, err)
		}
		for what, err := range map[string]error{"kept anew": second(s.Create(ctx, "J1", app.Change{Key: "new", By: "p-1", Events: job.FromState(storetest.State("J1"))})), "set aside anew": s.SetAside(ctx, "J1", map[string][]byte{"a": []byte("b")})} {
			if diag.KindOf(err) != diag.Conflict {
				t.Errorf("%s: %v", what, err)
			}
		}
		if _, err := s.Load(ctx, "J1", 0); diag.KindOf(err) != diag.NotFound {
			t.Errorf("its events: %v", err)
		}
		for range 2 {
			if _, err := s.Sweep(ctx); err != nil {
				t.Fatal(err)
			}
			c.add(25 * time.Hour)
		}
		if is(ctx, s, own) || !is(ctx, s, shared) {
			t.Errorf("its own photo is there: %v; the one of two jobs: %v", is(ctx, s, own), is(ctx, s, shared))
		}
		if v, err := s.Verify(ctx, before); err != nil || len(v.Faults) > 0 {
			t.Error(v.Faults, err)
		}
		now, err := s.Database.Checkpoint(ctx, "test")
		must(t, err)
		if p, err := s.ProveEvent(ctx, "J1", head.Seq, now.Size); err != nil {
			t.Errorf("its last event cannot be proven: %+v %v", p, err)
		}
		place := filepath.Join(t.TempDir(), "backups")
		b, err := s.Backup(ctx, place, w)
		must(t, err)
		restored(t, b.Place)
		must(t, s.Close())
		for _, dir := range []string{s.Dir, place} {
			noWord(t, dir, "Zebedee", "ZE 1", "TEST2222222222222")
		}
	})
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func second[T any](_ T, err error) error { return err }

// noWord looks for words in all files of a folder.
func noWord(t *testing.T, dir string, words ...string) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(dir, func(name string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(name)
		n++
		for _, word := range words {
			if bytes.Contains(data, []byte(word)) {
				t.Errorf("%s is in %s", word, name)
			}
		}
		return err
	})
	if err != nil || n == 0 {
		t.Errorf("%d files in %s: %v", n, dir, err)
	}
}

// due is what a reader knows of a job: what the program may go by and what not.
type due struct {
	gone, holds, waits int
	day                unit.Date // of the newest note that is about its newest event, or events that only erase after it
}

// TestRemovalsAgreeWithAReader: people note, record, erase, hold, ask for work and remove, in an order by chance, over some years. Each
// removal is held against one that is judged by the list of what was done; afterwards all is as it was written. None is under a hold, of a vehicle
// not handed back, too young, or changed since.
func TestRemovalsAgreeWithAReader(t *testing.T) {
	c := newClock()
	s := atClock(t, t.TempDir(), c)
	ctx, r, days, removed, refused := t.Context(), rand.New(rand.NewPCG(3, 65)), 365, 0, 0
	jobs, holds, tasks := map[string]*due{}, map[string][]string{}, map[string]string{}
	name := func() string { return fmt.Sprint("J", r.IntN(1+len(jobs))) }
	for step := range 2400 {
		id := name()
		j := jobs[id]
		if j == nil {
			state := storetest.State(id)
			state.ID = id
			_, err := s.Create(ctx, id, app.Change{Key: "open", By: "p-1", Events: job.FromState(state)})
			must(t, err)
			jobs[id] = &due{}
			continue
		}
		if j.gone == 1 && r.IntN(4) > 0 {
			continue
		}
		change := func(e job.Event) error {
			_, err := s.Append(ctx, id, app.Change{Key: fmt.Sprint("s", step), By: "p-1", Events: []job.Event{e}}, nil)
			return err
		}
		there := j.gone == 0
		var err error
		switch r.IntN(9) {
		case 0, 1:
			on := unit.DateOf(c.now()).AddDays(-r.IntN(30))
			if on.Before(storetest.State(id).Opened) {
				on = storetest.State(id).Opened
			}
			if err = s.HandBack(ctx, id, "p-1", on); err == nil {
				j.day = on
			}
		case 2:
			if err = change(job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: unit.DateOf(c.now())}}); err == nil {
				j.day = unit.Date{}
			}
		case 3:
			chain, bad := s.Load(ctx, id, 0)
			if err = bad; err == nil {
				now, bad := job.Read(chain)
				must(t, bad)
				err = change(job.Event{Kind: job.TextsErased, Of: "finding/D1", Seen: now.Newest("finding/D1"), Data: job.Erasure{On: unit.DateOf(c.now()), Reason: "Asked for"}})
				if diag.KindOf(err) == diag.Denied && j.holds > 0 {
					err = nil
				}
			}
		case 4:
			why := fmt.Sprintf("Claim %d", step)
			h, bad := s.BeginHold(ctx, id, "p-1", why)
			if again, _ := s.BeginHold(ctx, id, "p-1", why); bad == nil && again.ID != h.ID {
				t.Fatalf("step %d: asked for twice it is two holds", step)
			}
			if err = bad; err == nil {
				j.holds++
				holds[id] = append(holds[id], h.ID)
			}
		case 5:
			if len(holds[id]) > 0 && there {
				_, err = s.EndHold(ctx, holds[id][0])
				holds[id] = holds[id][1:]
				j.holds--
			}
		case 6:
			if !there {
				break
			}
			if tasks[id] != "" {
				err = s.StopTask(ctx, tasks[id])
				tasks[id], j.waits = "", 0
			} else {
				tasks[id], err = s.Want(ctx, app.Wanted{Kind: "files", About: id, By: "p-1"})
				j.waits = 1
			}
		default:
			may := there && !j.day.IsZero() && j.holds == 0 && j.waits == 0 && j.day.AddDays(days).Before(unit.DateOf(c.now()))
			_, bad := s.RemoveJob(ctx, id, "p-1", days)
			switch {
			case may && bad == nil:
				j.gone = 1
				removed++
			case !may && there && diag.KindOf(bad) == diag.Denied:
				refused++
			case !there && bad == nil: // the answer of then
			default:
				t.Fatalf("step %d: %s %+v: %v", step, id, *j, bad)
			}
		}
		if kind := diag.KindOf(err); err != nil && (there || kind != diag.NotFound) {
			t.Fatalf("step %d: %s: %v", step, id, err)
		}
		c.add(time.Duration(r.IntN(8*24)) * time.Hour)
	}
	if t.Logf("%d jobs, %d removed, %d times refused", len(jobs), removed, refused); removed < 10 || refused < 100 {
		t.Error("too few to show something")
	}
	v, err := s.Verify(ctx)
	if err != nil || len(v.Faults) > 0 {
		t.Error(v.Faults, err)
	}
}
