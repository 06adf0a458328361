package storetest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// TestEditors lets so many people make so many changes each of six records of one job,
// and send every one of them to two programs, half of the time at once. Half of the time they go by what they
// read some time ago. Then the chain is gone through without package ledger: what was acknowledged is
// there once, what was refused is not, and nothing was written over what its author had not seen.
func TestEditors(t *testing.T, open Open, people, each int) {
	clock := &Clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	again := open(t, clock.Now)
	u := &under{again(), again, clock, t.Context()}
	u.create(t, "J1")
	var wg sync.WaitGroup
	all, programs := make([]*editor, people), [2]app.Store{again(), again()}
	for p := range all {
		all[p] = &editor{by: fmt.Sprint("p-", p), to: programs, draw: rand.New(rand.NewPCG(uint64(p), 19)), made: map[string]app.Head{}}
		wg.Go(func() { all[p].err = all[p].work(u.ctx, each) })
	}
	wg.Wait()
	c, err := u.Load(u.ctx, "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	events, err := job.Events(c)
	if err != nil {
		t.Fatal(err)
	}
	newest, times := map[job.RecordName]int64{}, map[string]int64{}
	for i, e := range events {
		seq := int64(i + 1)
		if was := newest[e.About()]; e.Seen != was {
			t.Errorf("event %d was written over event %d about %s, and its author had seen %d", seq, was, e.About(), e.Seen)
		}
		newest[e.About()] = seq
		if f, ok := e.Data.(job.Finding); ok && f.By == "W3" {
			if times[f.Text] != 0 {
				t.Errorf("%q is there twice", f.Text)
			}
			times[f.Text] = seq
		}
	}
	made, conflicts := 0, 0
	for _, e := range all {
		if e.err != nil {
			t.Fatal(e.err)
		}
		for text, head := range e.made {
			if times[text] != head.Seq || c[head.Seq-1].Hash != head.Hash {
				t.Errorf("%q was acknowledged as event %d, and is %d", text, head.Seq, times[text])
			}
		}
		made, conflicts = made+len(e.made), conflicts+e.conflicts
	}
	if made != len(times) || made == 0 || conflicts == 0 {
		t.Errorf("%d were acknowledged, %d are there, %d were refused", made, len(times), conflicts)
	}
	t.Logf("%d people, %d changes each sent twice: %d acknowledged, %d conflicts", people, people*each, made, conflicts)
}

type editor struct {
	by        string
	to        [2]app.Store
	draw      *rand.Rand
	seen      *job.Stored
	made      map[string]app.Head // by the text
	conflicts int
	err       error
}

func (e *editor) work(ctx context.Context, each int) error {
	for n := range each {
		if err := e.read(ctx, n); err != nil {
			return err
		}
		f := found(e.seen, fmt.Sprint("D", 4+e.draw.IntN(6)), fmt.Sprintf("%s %d", e.by, n))
		finding := f.Data.(job.Finding)
		finding.By = "W3"
		f.Data = finding
		first, second := e.twice(ctx, app.Change{Key: finding.Text, By: e.by, Events: []job.Event{f}})
		switch {
		case first.err == nil && second == first:
			e.made[finding.Text] = first.head
		case diag.KindOf(first.err) == diag.Conflict && diag.KindOf(second.err) == diag.Conflict:
			e.conflicts++
		default:
			return errors.Join(fmt.Errorf("%q: sent twice, the answers were %v and %v", finding.Text, first.head, second.head), first.err, second.err)
		}
	}
	return nil
}

// read reads what came since, half of the time.
func (e *editor) read(ctx context.Context, n int) error {
	if e.seen == nil {
		e.seen = &job.Stored{}
	}
	if n > 0 && e.draw.IntN(2) == 0 {
		return nil
	}
	seq, _ := e.seen.Head()
	c, err := e.to[0].Load(ctx, "J1", seq)
	if err == nil && len(c) > 0 {
		e.seen, err = e.seen.Then(c)
	}
	return err
}

type answer struct {
	head app.Head
	err  error
}

// twice sends a change to two programs, one after the other or both at once.
func (e *editor) twice(ctx context.Context, c app.Change) (first, second answer) {
	send := func(to app.Store, a *answer) { a.head, a.err = to.Append(ctx, "J1", c, nil) }
	if e.draw.IntN(2) == 0 {
		send(e.to[0], &first)
		send(e.to[1], &second)
		return first, second
	}
	var wg sync.WaitGroup
	wg.Go(func() { send(e.to[0], &first) })
	send(e.to[1], &second)
	wg.Wait()
	return first, second
}
