package app_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/right"
)

// TestReviewInItsOrder: measured, sent, sent back, sent again, approved, changed, and sent and approved anew; what is void stays void.
func TestReviewInItsOrder(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.Planned)
	ctx, key := t.Context(), 0
	next := func() string { key++; return fmt.Sprint("k", key) }
	technician, planner, reviewer := a.as("p-t", "north", right.Technician), a.as("p-p", "north", right.Planner), a.as("p-r", "north", right.Reviewer)
	stage := func(want right.Stage, when string) {
		t.Helper()
		if got := app.StageOf(a.stored(id)); got != want {
			t.Fatalf("%s: %q, want %q", when, got, want)
		}
	}
	good := func(_ app.Recorded, _ app.Head, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	bad := func(want diag.Kind) func(app.Recorded, app.Head, error) {
		return func(_ app.Recorded, _ app.Head, err error) {
			t.Helper()
			if diag.KindOf(err) != want {
				t.Fatalf("%v, want %v", err, want)
			}
		}
	}
	head := func() string {
		t.Helper()
		h, err := a.in.Head(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		return h.Hash
	}
	sent := func(p job.Part) job.Sending { return job.Sending{Part: p, By: "P1", On: a.day} }
	approval := job.Review{By: "T3", On: a.day}
	bad(diag.Conflict)(reviewer.Approve(ctx, id, next(), head(), approval))
	bad(diag.Denied)(technician.SendToReview(ctx, id, next(), sent(job.Whole)))
	good(technician.SendToReview(ctx, id, next(), sent(job.Measurements)))
	stage(right.Planned, "what was measured is sent")
	bad(diag.Conflict)(reviewer.Approve(ctx, id, next(), head(), approval))
	k := next()
	good(planner.SendToReview(ctx, id, k, sent(job.Whole)))
	good(planner.SendToReview(ctx, id, k, sent(job.Whole))) // its answer was lost
	stage(right.InReview, "sent")
	bad(diag.Conflict)(planner.SendToReview(ctx, id, next(), sent(job.Whole)))
	bad(diag.Denied)(planner.SendBack(ctx, id, next(), job.Whole, "T3", "no", a.day))
	before := head()
	good(reviewer.SendBack(ctx, id, next(), job.Whole, "T3", "a photo is missing", a.day))
	stage(right.Planned, "sent back")
	bad(diag.Conflict)(reviewer.Approve(ctx, id, next(), before, approval)) // as another tab has it
	good(planner.SendToReview(ctx, id, next(), sent(job.Whole)))
	seen := head()
	good(reviewer.Approve(ctx, id, next(), seen, approval))
	stage(right.Approved, "approved")
	f := a.state.Findings[0]
	was := f
	f.Straight.Known, f.Depth.Known = false, false
	f.Seen, f.On = "visual", a.day
	change := func(g job.Finding) {
		t.Helper()
		of := job.RecordName("finding/" + string(g.ID))
		if _, err := technician.Change(ctx, id, app.Changing{Key: next(), Events: []job.Event{{Kind: job.FindingRecorded, Seen: a.stored(id).Newest(of), Data: g}}}); err != nil {
			t.Fatal(err)
		}
	}
	change(f)
	stage(right.Planned, "changed")
	bad(diag.Conflict)(reviewer.Approve(ctx, id, next(), seen, approval))
	good(planner.SendToReview(ctx, id, next(), sent(job.Whole)))
	bad(diag.Conflict)(reviewer.Approve(ctx, id, next(), seen, approval)) // what was sent before
	change(was)
	stage(right.Planned, "changed back: it was sent otherwise since")
	if _, err := planner.Change(ctx, id, app.Changing{Key: next(), Events: []job.Event{{Kind: job.RecordWithdrawn, Of: "sending/#4", Seen: a.stored(id).Newest("sending/#4"), Data: job.Withdrawal{By: "P1", On: a.day, Reason: "tried"}}}}); diag.KindOf(err) != diag.Invalid {
		t.Fatalf("what was sent is withdrawn: %v", err)
	}
	good(planner.SendToReview(ctx, id, next(), sent(job.Whole)))
	stage(right.InReview, "sent anew")
	bad(diag.Denied)(technician.Withdraw(ctx, id, next(), "workplace/#1", job.Withdrawal{By: "T1", On: a.day, Reason: "tried"}))
	good(reviewer.Approve(ctx, id, next(), head(), approval))
	stage(right.Approved, "approved anew")
}

// TestReopenedByAnother: who hands back does not open again by chance; a planner opens it, once, with a key that may be sent twice.
func TestReopenedByAnother(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.Released)
	planner := a.as("p-p", "north", right.Planner)
	if _, _, err := a.as("p-t", "north", right.Technician).Reopen(t.Context(), id, "k0", "P1", "tried"); diag.KindOf(err) != diag.Denied {
		t.Fatal(err)
	}
	_, first, err := planner.Reopen(t.Context(), id, "k1", "P1", "The door rattles")
	if err != nil {
		t.Fatal(err)
	}
	_, again, err := planner.Reopen(t.Context(), id, "k1", "P1", "The door rattles")
	if err != nil || again != first {
		t.Errorf("%+v %+v %v", first, again, err)
	}
	if stage := app.StageOf(a.stored(id)); stage == right.Released {
		t.Errorf("it is %q", stage)
	}
	if _, _, err := planner.Reopen(t.Context(), id, "k2", "P1", "Twice"); diag.KindOf(err) != diag.Conflict {
		t.Error(err)
	}
}

// TestHandedOverOnce: a hand-over whose answer was lost has the same answer when it is sent again, and to nobody else.
func TestHandedOverOnce(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.Planned)
	change := func(person, text, key string) (app.Head, error) {
		return a.as(person, "north", right.Planner).Change(t.Context(), id, app.Changing{Key: key, Events: []job.Event{{Kind: job.JobHandedOver, Of: job.OfOwner, Seen: 0, Data: job.HandedOver{To: "south", By: "P1", On: a.day, Reason: text}}}})
	}
	s := a.stored(id)
	seen := s.Newest(job.OfOwner)
	over := func(person, key string) (app.Head, error) {
		return a.as(person, "north", right.Planner).Change(t.Context(), id, app.Changing{Key: key, Events: []job.Event{{Kind: job.JobHandedOver, Seen: seen, Data: job.HandedOver{To: "south", By: "P1", On: a.day, Reason: "A bay is free"}}}})
	}
	first, err := over("p-p", "k1")
	if err != nil {
		t.Fatal(err)
	}
	if again, err := over("p-p", "k1"); err != nil || again != first {
		t.Errorf("%+v %+v %v", first, again, err)
	}
	for name, x := range map[string]func() (app.Head, error){
		"somebody else": func() (app.Head, error) { return over("p-q", "k1") },
		"another key":   func() (app.Head, error) { return over("p-p", "k2") },
		"the begun one": func() (app.Head, error) { return change("p-author", "x", id) },
	} {
		if _, err := x(); diag.KindOf(err) != diag.NotFound && diag.KindOf(err) != diag.Conflict {
			t.Errorf("%s: %v", name, err)
		}
	}
	if n, _ := a.in.Head(t.Context(), id); n != first {
		t.Errorf("it is written twice: %+v", n)
	}
}

// TestTwoPersonsErase: a reviewer agrees, an administrator who is another person carries it out; the texts are in no row any more, and the chain is proven.
func TestTwoPersonsErase(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.Planned)
	ctx, e := t.Context(), job.Erasure{On: a.day, Reason: "asked for"}
	secret := "Somebody whom nobody knows"
	a.append(id, "p-author", job.Event{Kind: job.WorkplaceMeasured, Of: "workplace/#9", Data: job.Climate{Temp: 19, Std: 1, By: secret, On: a.day}})
	both := []right.Role{right.Reviewer, right.Administrator}
	erase := func(s *app.As, key string) error {
		_, _, err := s.Erase(ctx, id, key, "workplace/#9", e)
		return err
	}
	agree := func(s *app.As, key string) error {
		_, _, err := s.AgreeErasure(ctx, id, key, "workplace/#9", job.Person{}, job.ErasureAgreed{By: "T3", On: a.day, Reason: "asked for"})
		return err
	}
	one := a.as("p-one", "north", both...)
	for name, err := range map[string]error{"nobody has agreed": erase(one, "k1"), "an administrator agrees": agree(a.as("p-a", "north", right.Administrator), "k2"), "another shop": nil} {
		if err != nil && diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := agree(one, "k3"); err != nil {
		t.Fatal(err)
	}
	if err := erase(one, "k4"); diag.KindOf(err) != diag.Denied {
		t.Errorf("one person does both: %v", err)
	}
	if err := erase(a.as("p-two", "north", right.Reviewer), "k5"); diag.KindOf(err) != diag.Denied {
		t.Errorf("a reviewer carries it out: %v", err)
	}
	if err := erase(a.as("p-two", "south", right.Administrator), "k6"); diag.KindOf(err) != diag.NotFound {
		t.Errorf("another shop carries it out: %v", err)
	}
	if _, _, err := a.as("p-two", "north", right.Administrator).Erase(ctx, id, "k7", "vehicle", e); diag.KindOf(err) != diag.Denied {
		t.Errorf("what nobody has agreed to: %v", err)
	}
	a.append(id, "p-author", job.Event{Kind: job.WorkplaceMeasured, Of: "workplace/#9", Seen: a.stored(id).Newest("workplace/#9"), Data: job.Climate{Temp: 18, Std: 1, By: secret, On: a.day}})
	if err := erase(a.as("p-two", "north", right.Administrator), "k8"); diag.KindOf(err) != diag.Denied {
		t.Errorf("it was written anew after somebody had agreed: %v", err)
	}
	if err := agree(one, "k9"); err != nil {
		t.Fatal(err)
	}
	if err := erase(a.as("p-two", "north", right.Administrator), "k10"); err != nil {
		t.Fatal(err)
	}
	lines, err := a.in.Lines(ctx, id)
	if err != nil || strings.Contains(fmt.Sprint(lines), secret) {
		t.Errorf("the text is there still: %v", err)
	}
	if got, _ := a.stored(id).Record("workplace/#9"); got.(job.Climate).By != job.Erased {
		t.Errorf("%+v", got)
	}
}

// TestProposedAndTakenOver: a proposal is taken over by whoever may, once, whole, and never changed by somebody else.
func TestProposedAndTakenOver(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.Planned)
	ctx := context.Background()
	technician, planner := a.as("p-t", "north", right.Technician), a.as("p-p", "north", right.Planner)
	text := "{id: F-P, kind: dent, part: " + string(a.state.Findings[0].Part) + ", seen: visual, by: P1, on: " + a.day.String() + "}"
	p := job.Proposal{Of: "finding/F-P", Record: text, By: "P1", On: a.day}
	if _, _, err := planner.Propose(ctx, id, "k1", p); err != nil {
		t.Fatal(err)
	}
	before := a.stored(id).State()
	if got := before.Findings; len(got) != len(a.state.Findings) {
		t.Fatal("a proposal is a finding")
	}
	change := func(s *app.As, key string, events ...job.Event) error {
		for i := range events {
			events[i].Seen = a.stored(id).Newest(events[i].About())
		}
		_, err := s.Change(ctx, id, app.Changing{Key: key, Events: events})
		return err
	}
	entered, err := before.Proposals[0].Proposed()
	if err != nil {
		t.Fatal(err)
	}
	taken, other, worse := before.Proposals[0], before.Proposals[0], entered
	taken.Settled, taken.SettledBy, taken.SettledOn = job.TakenOver, "T1", a.day
	other.Record = strings.Replace(text, "dent", "torn", 1)
	f := entered.Data.(job.Finding)
	f.Kind = "torn"
	worse.Data = f
	altered := taken
	altered.Record = other.Record
	mark := func(p job.Proposal) job.Event { return job.Event{Kind: job.RecordProposed, Data: p} }
	for name, x := range map[string]struct {
		err  error
		want diag.Kind
	}{
		"the planner enters it":            {change(planner, "e1", entered), diag.Denied},
		"the planner takes it over":        {change(planner, "e2", entered, mark(taken)), diag.Denied},
		"marked and not entered":           {change(technician, "e3", mark(taken)), diag.Conflict},
		"another thing entered":            {change(technician, "e4", worse, mark(taken)), diag.Conflict},
		"changed by settling":              {change(technician, "e5", worse, mark(altered)), diag.Conflict},
		"changed by somebody else":         {change(technician, "e6", mark(other)), diag.Conflict},
		"a proposal that is not there":     {change(technician, "e7", mark(job.Proposal{ID: "PP-7", Of: "choice", Record: "{route: R-1, by: T1, on: " + a.day.String() + ", reason: x}", By: "T1", On: a.day, Settled: job.Declined, SettledBy: "T1", SettledOn: a.day})), diag.Denied},
		"a reviewer proposes":              {change(a.as("p-r", "north", right.Reviewer), "e8", mark(job.Proposal{ID: "PP-8", Of: "finding/F-P", Record: text, By: "T3", On: a.day})), diag.Denied},
		"what is not proposed":             {change(planner, "e9", mark(job.Proposal{ID: "PP-9", Of: "work/W1", Record: "{}", By: "P1", On: a.day})), diag.Denied},
		"a technician takes a choice over": {change(technician, "e10", job.Event{Kind: job.ChoiceMade, Data: job.Choice{Route: "R-1", By: "T1", On: a.day, Reason: "x"}}), diag.Denied},
	} {
		if got := diag.KindOf(x.err); x.err == nil || got != x.want && !(x.want == diag.Denied && got == diag.Invalid) {
			t.Errorf("%s: %v", name, x.err)
		}
	}
	if _, _, err := technician.TakeOver(ctx, id, "k2", "PP-1", "T1", a.day); err != nil {
		t.Fatal(err)
	}
	s := a.stored(id)
	got, is := s.Record("finding/F-P")
	if !is || got.(job.Finding).By != "T1" || s.AuthorOf("finding/F-P") != "p-t" || len(s.State().OpenProposals()) != 0 {
		t.Errorf("%+v", got)
	}
	if _, _, err := technician.TakeOver(ctx, id, "k3", "PP-1", "T1", a.day); diag.KindOf(err) != diag.Conflict {
		t.Errorf("twice: %v", err)
	}
}
