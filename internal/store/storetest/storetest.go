// Package storetest is what every maker of app.Store has to keep: the suite of tests that the
// folder, memory and databases pass.
package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// Clock is the clock that a store under test is made with.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// Now is the time; it stands still until it is set.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// Add sets the clock on.
func (c *Clock) Add(d time.Duration) { c.add(d) }

func (c *Clock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// Open makes an empty store with a clock. What it returns opens the same store again, as another
// program would after the first one ended.
type Open func(t *testing.T, now func() time.Time) (again func() app.Store)

// TestStore runs the suite.
func TestStore(t *testing.T, open Open) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *under)
	}{
		{"opens and reads", opensAndReads},
		{"true persons and times", personsAndTimes},
		{"conflicts", conflicts},
		{"sent twice", sentTwice},
		{"all or nothing", allOrNothing},
		{"may", may},
		{"read in parts", readInParts},
		{"clock set back", clockSetBack},
		{"erased", erased},
		{"editors at once", editorsAtOnce},
		{"list", list},
		{"brought", brought},
		{"set aside", setAside},
		{"names", names},
		{"stopped", stopped},
		{"blobs", blobs},
		{"library", library},
		{"a job from it alone", alone},
	} {
		t.Run(c.name, func(t *testing.T) {
			clock := &Clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
			again := open(t, clock.Now)
			c.test(t, &under{again(), again, clock, t.Context()})
		})
	}
}

// under is a store under test.
type under struct {
	app.Store
	again func() app.Store
	clock *Clock
	ctx   context.Context
}

var day = unit.Date{Year: 2026, Month: 3, Day: 2}

// State is a small job (invented), of SmallBody and SmallShop.
func State(id string) job.State {
	eur := func(m unit.Minor) unit.Money { return unit.Money{Minor: m, Currency: "EUR"} }
	return job.State{Format: job.Format, ID: id, Invented: true, Body: smallBody, Shop: smallShop,
		Opened: day, Start: day, Author: "W2",
		Vehicle: job.Vehicle{VIN: "TEST1111111111111", Value: eur(2_740_000), Salvage: eur(610_000), LoadState: "unloaded"},
		Impact:  job.Impact{From: "front-left", Text: "Low wall at walking speed"},
		Findings: []job.Finding{
			{ID: "D1", Kind: "dent", Part: "P-SKIN", Through: "unknown", Seen: "visual", By: "W2", On: day, Text: "A remark"},
			{ID: "D2", Kind: "dent", Part: "P-SKIN", Through: "unknown", Seen: "visual", By: "W2", On: day},
		},
		Accepted: []job.Accepted{{Finding: "D2", Kind: body.Leave, By: "W1", On: day, Reason: "It is small"}},
	}
}

func opening(id, key string) app.Change {
	return app.Change{Key: key, By: "p-1", Events: job.FromState(State(id))}
}

func (u *under) create(t *testing.T, id string) *job.Stored {
	t.Helper()
	if _, err := u.Create(u.ctx, id, opening(id, "create-"+id)); err != nil {
		t.Fatal(err)
	}
	return u.read(t, id)
}

// read is a job as another program reads it.
func (u *under) read(t *testing.T, id string) *job.Stored {
	t.Helper()
	c, err := u.again().Load(u.ctx, id, 0)
	if err != nil {
		t.Fatal(err)
	}
	s, err := job.Read(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// found is a finding with a text, having seen what s says of it.
func found(s *job.Stored, id, text string) job.Event {
	of := job.RecordName("finding/" + id)
	f := job.Finding{ID: job.FindingID(id), Kind: "dent", Part: "P-SKIN", Through: "unknown", Seen: "visual", By: "W2", On: day, Text: text}
	return job.Event{Kind: job.FindingRecorded, Data: f, Seen: s.Newest(of)}
}

func hash(t *testing.T, s *job.Stored) string {
	t.Helper()
	h, err := s.State().Hash()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// refused says that nothing has changed, and that the error is of a kind.
func (u *under) refused(t *testing.T, id string, was *job.Stored, err error, kind diag.Kind) {
	t.Helper()
	if err == nil || diag.KindOf(err) != kind {
		t.Errorf("got %v (kind %v), want an error of kind %v", err, diag.KindOf(err), kind)
	}
	if now := u.read(t, id); !reflect.DeepEqual(now, was) {
		t.Error("it was refused, and the job has changed")
	}
}

func opensAndReads(t *testing.T, u *under) {
	got := u.create(t, "J1")
	want := State("J1")
	if h, err := want.Hash(); err != nil || hash(t, got) != h {
		t.Errorf("the job as it stands is another: %v\n%+v\nwant\n%+v", err, got.State(), want)
	}
	c, err := u.Load(u.ctx, "J1", 0)
	if err != nil || c.Verify() != nil {
		t.Errorf("%v %v", err, c.Verify())
	}
	head, err := u.Append(u.ctx, "J1", app.Change{Key: "k", By: "p-2", Events: []job.Event{found(got, "D1", "Larger"), found(got, "D3", "")}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	now := u.read(t, "J1")
	if seq, sum := now.Head(); seq != head.Seq || sum != head.Hash || len(now.State().Findings) != 3 || now.State().Findings[0].Text != "Larger" {
		t.Errorf("head %v, read %d %s: %+v", head, seq, sum, now.State().Findings)
	}
	_, err = u.Create(u.ctx, "J1", opening("J1", "another"))
	u.refused(t, "J1", now, err, diag.Conflict)
}

func personsAndTimes(t *testing.T, u *under) {
	s := u.create(t, "J1")
	u.clock.add(90*time.Minute + 500*time.Millisecond)
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "k", By: "p-2", Events: []job.Event{found(s, "D1", "Larger")}}, nil); err != nil {
		t.Fatal(err)
	}
	c, err := u.Load(u.ctx, "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range c {
		at, by := "2026-03-02T08:00:00Z", "p-1"
		if i == len(c)-1 {
			at, by = "2026-03-02T09:30:00Z", "p-2"
		}
		if e.At != at || e.By != by || e.About == "" {
			t.Errorf("event %d about %q is of %s at %s, want %s at %s", e.Seq, e.About, e.By, e.At, by, at)
		}
	}
}

func conflicts(t *testing.T, u *under) {
	was := u.create(t, "J1")
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(was, "D1", "First")}}, nil); err != nil {
		t.Fatal(err)
	}
	now := u.read(t, "J1")
	for i, e := range []job.Event{found(was, "D1", "Second"), found(&job.Stored{}, "D1", "As if new"),
		{Kind: job.RecordWithdrawn, Of: "finding/D1", Seen: was.Newest("finding/D1"), Data: job.Withdrawal{By: "W2", On: day, Reason: "Unseen"}}} {
		_, err := u.Append(u.ctx, "J1", app.Change{Key: fmt.Sprint("b", i), By: "p-2", Events: []job.Event{e}}, nil)
		u.refused(t, "J1", now, err, diag.Conflict)
	}
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "c", By: "p-2", Events: []job.Event{found(was, "D9", "Another record")}}, nil); err != nil {
		t.Errorf("another record of the same job: %v", err)
	}
	now = u.read(t, "J1")
	withdraw := func(of job.RecordName) job.Event {
		return job.Event{Kind: job.RecordWithdrawn, Of: of, Seen: now.Newest(of), Data: job.Withdrawal{By: "W2", On: day, Reason: "Another vehicle"}}
	}
	_, err := u.Append(u.ctx, "J1", app.Change{Key: "d", By: "p-2", Events: []job.Event{withdraw("finding/D2")}}, nil)
	u.refused(t, "J1", now, err, diag.Conflict)
	if err == nil || !strings.Contains(err.Error(), "acceptance/D2") {
		t.Errorf("it does not say what refers to it: %v", err)
	}
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "e", By: "p-2", Events: []job.Event{withdraw("finding/D2"), withdraw("acceptance/D2")}}, nil); err != nil {
		t.Error(err)
	}
	if s := u.read(t, "J1").State(); len(s.Accepted) != 0 || len(s.Findings) != 2 {
		t.Errorf("%+v", s)
	}
}

func sentTwice(t *testing.T, u *under) {
	s := u.create(t, "J1")
	if h, err := u.again().Create(u.ctx, "J1", opening("J1", "create-J1")); err != nil || h.Seq == 0 {
		t.Errorf("opened twice with one key: %v %v", h, err)
	}
	c := app.Change{Key: "a", By: "p-1", Events: []job.Event{found(s, "D1", "First"), {Kind: job.WorkplaceMeasured, Data: job.Climate{Temp: 16, Std: 1, By: "W1", On: day}}}}
	first, err := u.Append(u.ctx, "J1", c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "b", By: "p-2", Events: []job.Event{found(u.read(t, "J1"), "D1", "Second")}}, nil); err != nil {
		t.Fatal(err)
	}
	now := u.read(t, "J1")
	for _, to := range []app.Store{u.Store, u.again()} {
		if h, err := to.Append(u.ctx, "J1", c, nil); err != nil || h != first {
			t.Errorf("sent twice: %v %v, want %v", h, err, first)
		}
	}
	if again := u.read(t, "J1"); !reflect.DeepEqual(again, now) {
		t.Error("what was sent twice was done twice")
	}
	for name, other := range map[string]app.Change{
		"another text":   {Key: "a", By: "p-1", Events: []job.Event{found(s, "D1", "Another"), c.Events[1]}},
		"another person": {Key: "a", By: "p-2", Events: c.Events},
		"half of it":     {Key: "a", By: "p-1", Events: c.Events[:1]},
	} {
		_, err := u.Append(u.ctx, "J1", other, nil)
		if u.refused(t, "J1", now, err, diag.Conflict); err == nil {
			t.Errorf("%s passed under a key that was used", name)
		}
	}
	for _, c := range []app.Change{{By: "p-1", Events: c.Events}, {Key: "z", Events: c.Events}, {Key: "z", By: "p-1"}} {
		_, err := u.Append(u.ctx, "J1", c, nil)
		u.refused(t, "J1", now, err, diag.Invalid)
	}
}

func allOrNothing(t *testing.T, u *under) {
	was := u.create(t, "J1")
	for i, bad := range []job.Event{
		found(was, "D1", "Good, and again"),
		{Kind: job.FindingRecorded, Data: job.Vehicle{}},
		{Kind: job.TreatmentAccepted, Data: job.Accepted{Finding: "D8", Kind: body.Leave, By: "W1", On: day}},
		{Kind: job.FindingRecorded, Data: job.Finding{ID: "D9", Kind: "crack", Part: "P", Seen: "visual", By: "W2", On: day}},
	} {
		events := []job.Event{found(was, "D1", "Good"), {Kind: job.WorkplaceMeasured, Data: job.Climate{Temp: 16, Std: 1, By: "W1", On: day}}, bad}
		_, err := u.Append(u.ctx, "J1", app.Change{Key: fmt.Sprint(i), By: "p-1", Events: events}, nil)
		u.refused(t, "J1", was, err, diag.Invalid)
	}
}

func may(t *testing.T, u *under) {
	was := u.create(t, "J1")
	no := &diag.Error{Kind: diag.Denied, Op: "test", Msg: "not to you"}
	asked := 0
	c := app.Change{Key: "a", By: "p-1", Events: []job.Event{found(was, "D3", "New")}}
	_, err := u.Append(u.ctx, "J1", c, func(before, after *job.Stored) error {
		asked++
		if len(before.State().Findings) != 2 || len(after.State().Findings) != 3 || before.Newest("finding/D3") != 0 || after.Newest("finding/D3") == 0 {
			t.Errorf("asked with %+v and %+v", before.State().Findings, after.State().Findings)
		}
		return no
	})
	if u.refused(t, "J1", was, err, diag.Denied); !errors.Is(err, no) || asked != 1 {
		t.Errorf("%v, asked %d times", err, asked)
	}
	if _, err := u.Append(u.ctx, "J1", c, func(_, _ *job.Stored) error { return nil }); err != nil {
		t.Errorf("the key of what was refused cannot be used: %v", err)
	}
}

func readInParts(t *testing.T, u *under) {
	s := u.create(t, "J1")
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(s, "D1", "Larger")}}, nil); err != nil {
		t.Fatal(err)
	}
	all, err := u.Load(u.ctx, "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	want, err := job.Read(all)
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= len(all); n++ {
		rest, err := u.Load(u.ctx, "J1", int64(n))
		if err != nil || !reflect.DeepEqual(slices.Concat(all[:n], rest), all) {
			t.Fatalf("after %d: %v %v", n, rest, err)
		}
		part, err := job.Read(all[:n])
		if err == nil {
			part, err = part.Then(rest)
		}
		if err != nil || !reflect.DeepEqual(part, want) {
			t.Errorf("in two parts at %d: %v", n, err)
		}
	}
	for _, n := range []int64{-1, int64(len(all)) + 1} {
		if _, err := u.Load(u.ctx, "J1", n); diag.KindOf(err) != diag.NotFound {
			t.Errorf("after %d: %v", n, err)
		}
	}
}

func clockSetBack(t *testing.T, u *under) {
	was := u.create(t, "J1")
	u.clock.add(-time.Second)
	_, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(was, "D1", "Before")}}, nil)
	u.refused(t, "J1", was, err, diag.Unavailable)
	u.clock.add(time.Second)
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(was, "D1", "Now")}}, nil); err != nil {
		t.Error(err)
	}
}

func erased(t *testing.T, u *under) {
	s := u.create(t, "J1")
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(s, "D1", "Mrs Invented was there")}}, nil); err != nil {
		t.Fatal(err)
	}
	s = u.read(t, "J1")
	e := job.Event{Kind: job.TextsErased, Of: "finding/D1", Seen: s.Newest("finding/D1"), Data: job.Erasure{On: day, Reason: "Asked for"}}
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "b", By: "p-2", Events: []job.Event{e}}, nil); err != nil {
		t.Fatal(err)
	}
	c, err := u.again().Load(u.ctx, "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(c)
	if err != nil || bytes.Contains(text, []byte("Mrs Invented")) || bytes.Contains(text, []byte("A remark")) || !bytes.Contains(text, []byte("It is small")) {
		t.Errorf("what was erased is still there, or more is gone: %v", err)
	}
	now := u.read(t, "J1").State()
	if f := now.Findings[0]; f.Text != job.Erased || f.By != job.Erased || f.Kind != body.Dent || now.Findings[1].By != "W2" {
		t.Errorf("%+v", now.Findings)
	}
	if _, err := u.Append(u.ctx, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(u.create(t, "J2"), "D1", "Mrs Invented was there")}}, nil); err != nil {
		t.Errorf("a change from before, sent again: %v", err)
	}
	if text, err := json.Marshal(must(u.again().Load(u.ctx, "J1", 0))); err != nil || bytes.Contains(text, []byte("Mrs Invented")) {
		t.Errorf("what was erased came back: %v", err)
	}
}

func must(c ledger.Chain, err error) ledger.Chain {
	if err != nil {
		panic(err)
	}
	return c
}

// editorsAtOnce: four people write four records of one job, each sends everything twice, and reads again
// when somebody else was first. All that was acknowledged is in the chain once, and nothing was
// written over what its author had not seen.
func editorsAtOnce(t *testing.T, u *under) {
	u.create(t, "J1")
	const people, each = 4, 6
	var wg sync.WaitGroup
	fail := make(chan error, people)
	for p := range people {
		wg.Go(func() { fail <- u.edits(fmt.Sprint("p-", p), each) })
	}
	wg.Wait()
	close(fail)
	for err := range fail {
		if err != nil {
			t.Fatal(err)
		}
	}
	c, err := u.again().Load(u.ctx, "J1", 0)
	if err != nil || c.Verify() != nil {
		t.Fatal(err, c.Verify())
	}
	events, err := job.Events(c)
	if err != nil {
		t.Fatal(err)
	}
	times := map[string]int{}
	for _, e := range events {
		if f, ok := e.Data.(job.Finding); ok {
			times[f.Text]++
		}
	}
	for p := range people {
		for n := range each {
			if text := fmt.Sprintf("p-%d %d", p, n); times[text] != 1 {
				t.Errorf("%q is there %d times", text, times[text])
			}
		}
	}
}

func (u *under) edits(by string, each int) error {
	st := u.again()
	for n := range each {
		for try := 0; ; try++ {
			c, err := st.Load(u.ctx, "J1", 0)
			if err != nil {
				return err
			}
			s, err := job.Read(c)
			if err != nil {
				return err
			}
			change := app.Change{Key: fmt.Sprintf("%s-%d-%d", by, n, try), By: by,
				Events: []job.Event{found(s, fmt.Sprint("D", 4+n%4), fmt.Sprintf("%s %d", by, n))}}
			head, err := st.Append(u.ctx, "J1", change, nil)
			if diag.KindOf(err) == diag.Conflict && try < 1000 {
				continue
			}
			if err != nil {
				return err
			}
			if again, err := st.Append(u.ctx, "J1", change, nil); err != nil || again != head {
				return fmt.Errorf("sent twice: %v %v, want %v", again, err, head)
			}
			break
		}
	}
	return nil
}

func list(t *testing.T, u *under) {
	if got, err := u.List(u.ctx, "", 10); err != nil || len(got) != 0 {
		t.Errorf("an empty store has %v %v", got, err)
	}
	want := []string{"A-1", "A-2", "B", "a.1", "b_2"}
	for _, id := range []string{"b_2", "A-2", "B", "A-1", "a.1"} {
		u.create(t, id)
	}
	var got []string
	for from, pages := "", 0; pages < 10; pages++ {
		page, err := u.again().List(u.ctx, from, 2)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range page {
			seq, sum := u.read(t, l.ID).Head()
			if got = append(got, l.ID); l.Head != (app.Head{Seq: seq, Hash: sum}) {
				t.Errorf("%s: head %v, want %d %s", l.ID, l.Head, seq, sum)
			}
		}
		if len(page) == 0 {
			break
		}
		from = page[len(page)-1].ID
	}
	if !slices.Equal(got, want) {
		t.Errorf("listed %v, want %v", got, want)
	}
}

func names(t *testing.T, u *under) {
	for _, id := range []string{"", ".", "..", "../x", "a/b", `a\b`, "a b", "-a", ".a", "a\x00", strings.Repeat("a", 200), "blobs", "library"} {
		if _, err := u.Create(u.ctx, id, opening("J1", "k")); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", id, err)
		}
		if _, err := u.Load(u.ctx, id, 0); err == nil {
			t.Errorf("%q was read", id)
		}
	}
	if _, err := u.Load(u.ctx, "J9", 0); diag.KindOf(err) != diag.NotFound {
		t.Error(err)
	}
	if _, err := u.Append(u.ctx, "J9", opening("J9", "k"), nil); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a job that is not there was written: %v", err)
	}
	if _, err := u.Create(u.ctx, "J9", app.Change{Key: "k", By: "p-1", Events: job.FromState(State("J9"))[1:]}); err == nil {
		t.Error("a job was begun without being opened")
	}
	if _, err := u.Load(u.ctx, "J9", 0); diag.KindOf(err) != diag.NotFound {
		t.Errorf("what was refused is there: %v", err)
	}
}

func stopped(t *testing.T, u *under) {
	was := u.create(t, "J1")
	gone, stop := context.WithCancel(u.ctx)
	stop()
	if _, err := u.Append(gone, "J1", app.Change{Key: "a", By: "p-1", Events: []job.Event{found(was, "D1", "Late")}}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("append: %v", err)
	}
	midway, stop := context.WithCancel(u.ctx)
	if _, err := u.Append(midway, "J1", app.Change{Key: "b", By: "p-1", Events: []job.Event{found(was, "D1", "Late")}}, func(_, _ *job.Stored) error { stop(); return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped midway: %v", err)
	}
	if _, err := u.Create(gone, "J2", opening("J2", "k")); !errors.Is(err, context.Canceled) {
		t.Errorf("create: %v", err)
	}
	if _, err := u.Load(gone, "J1", 0); !errors.Is(err, context.Canceled) {
		t.Errorf("load: %v", err)
	}
	if _, _, err := u.Put(gone, strings.NewReader("x"), 10); !errors.Is(err, context.Canceled) {
		t.Errorf("put: %v", err)
	}
	if now := u.read(t, "J1"); !reflect.DeepEqual(now, was) {
		t.Error("what was stopped has changed the job")
	}
	if _, err := u.Load(u.ctx, "J2", 0); diag.KindOf(err) != diag.NotFound {
		t.Errorf("what was stopped is there: %v", err)
	}
}

func blobs(t *testing.T, u *under) {
	data := bytes.Repeat([]byte("0123456789abcdef"), 10_000)
	sum := sha256.Sum256(data)
	want := hex.EncodeToString(sum[:])
	for range 2 {
		if got, n, err := u.Put(u.ctx, bytes.NewReader(data), int64(len(data))); err != nil || got != want || n != int64(len(data)) {
			t.Errorf("put: %s %d %v", got, n, err)
		}
	}
	r, n, err := u.again().Get(u.ctx, want)
	if err != nil || n != int64(len(data)) {
		t.Fatalf("get: %d %v", n, err)
	}
	got, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil || !bytes.Equal(got, data) {
		t.Errorf("%d bytes, %v", len(got), err)
	}
	if _, _, err := u.Put(u.ctx, bytes.NewReader(data), int64(len(data))-1); diag.KindOf(err) != diag.Denied {
		t.Errorf("more than may be: %v", err)
	}
	broken := io.MultiReader(strings.NewReader("half"), failing{})
	if _, _, err := u.Put(u.ctx, broken, 100); !errors.Is(err, errBroken) {
		t.Errorf("broken off: %v", err)
	}
	half := sha256.Sum256([]byte("half"))
	for _, hash := range []string{hex.EncodeToString(half[:]), strings.Repeat("0", 64), "", "../x", strings.ToUpper(want)} {
		_, _, got := u.Get(u.ctx, hash)
		_, retained := u.Retain(u.ctx, hash)
		for _, err := range []error{got, retained} {
			if diag.KindOf(err) != diag.NotFound {
				t.Errorf("%q: %v", hash, err)
			}
		}
	}
	for _, st := range []app.Store{u.Store, u.again()} {
		if n, err := st.Retain(u.ctx, want); err != nil || n != int64(len(data)) {
			t.Errorf("retained: %d %v", n, err)
		}
	}
}

var errBroken = errors.New("the line broke off")

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errBroken }

func library(t *testing.T, u *under) {
	files := map[string][]byte{"body.yaml": []byte("format: x\n"), "procedures/tb-1.yaml": []byte("y"), "empty.csv": {}}
	for range 2 {
		if got, err := u.Keep(u.ctx, files); err != nil || got != body.Hash(files) {
			t.Errorf("%s %v", got, err)
		}
	}
	got, err := u.again().Files(u.ctx, body.Hash(files))
	if err != nil || body.Hash(got) != body.Hash(files) || len(got) != len(files) {
		t.Errorf("%v %v", got, err)
	}
	if _, err := u.Files(u.ctx, strings.Repeat("0", 64)); diag.KindOf(err) != diag.NotFound {
		t.Error(err)
	}
	for _, name := range []string{"../x", "/x", "a/../../x", "", ".", `a\b`, "c:x"} {
		if _, err := u.Keep(u.ctx, map[string][]byte{name: []byte("x")}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := u.Keep(u.ctx, nil); diag.KindOf(err) != diag.Invalid {
		t.Error(err)
	}
	if page, err := u.List(u.ctx, "", 10); err != nil || len(page) != 0 {
		t.Errorf("the library is a job: %v %v", page, err)
	}
}
