package storetest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
)

// TaskStore is a store with work in the background.
type TaskStore interface {
	app.Jobs
	app.Tasks
}

// OpenTasks makes an empty store with a clock, as Open does.
type OpenTasks func(t *testing.T, now func() time.Time) (again func() TaskStore)

// TestTasks runs the suite of work in the background.
func TestTasks(t *testing.T, open OpenTasks) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *tasks)
	}{
		{"a life", taskLife},
		{"asked with a change", askedWithChange},
		{"asked again", askedAgain},
		{"stopped and again", stoppedAndAgain},
		{"lost workers", lostWorkers},
		{"refused", refusedTasks},
		{"listed", listedTasks},
		{"against a model", againstModel},
		{"workers at once", workersAtOnce},
		{"worker", workerEnds},
		{"at a pace", atPace},
		{"behind", workBehind},
	} {
		t.Run(c.name, func(t *testing.T) {
			clock := &Clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
			again := open(t, clock.Now)
			c.test(t, &tasks{again(), again, clock, t.Context()})
		})
	}
}

type tasks struct {
	TaskStore
	again func() TaskStore
	clock *Clock
	ctx   context.Context
}

const (
	lease     = 10 * time.Second
	mostTries = 3
)

var bothKinds = []app.TaskKind{"draw", "scan"}

func want(about, input string) app.Wanted {
	return app.Wanted{Kind: "draw", About: about, Input: input, By: "p-1"}
}

func (u *tasks) want(t *testing.T, w app.Wanted) string {
	t.Helper()
	id, err := u.Want(u.ctx, w)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func (u *tasks) claim(t *testing.T, worker string) *app.Task {
	t.Helper()
	got, err := u.Claim(u.ctx, bothKinds, worker, lease, mostTries)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func (u *tasks) end(t *testing.T, own *app.Task, e app.TaskEnd) {
	t.Helper()
	if err := u.End(u.ctx, own, e); err != nil {
		t.Fatal(err)
	}
}

// is is a task as it stands.
func (u *tasks) is(t *testing.T, id string) app.Task {
	t.Helper()
	all, err := u.ListTasks(u.ctx, app.TaskQuery{Most: 1000})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(x app.Task) bool { return x.ID == id })
	if i < 0 {
		t.Fatalf("no task %s", id)
	}
	return all[i]
}

func taskLife(t *testing.T, u *tasks) {
	id := u.want(t, want("J1", "a"))
	if got, err := u.Claim(u.ctx, []app.TaskKind{"scan", "dra", "raw"}, "w1", lease, mostTries); err != nil || got != nil {
		t.Errorf("claimed for another kind: %v %v", got, err)
	}
	own := u.claim(t, "w1")
	if own == nil || own.ID != id || own.Input != "a" || own.By != "p-1" || own.Tries != 1 || own.State != app.TaskRunning || !own.Lease.Equal(u.clock.Now().Add(lease)) {
		t.Fatalf("%+v", own)
	}
	if other := u.claim(t, "w2"); other != nil {
		t.Errorf("two have it: %+v", other)
	}
	u.clock.add(lease)
	if other := u.claim(t, "w2"); other != nil {
		t.Errorf("claimed at the end of the lease, not after: %+v", other)
	}
	if stop, err := u.Hold(u.ctx, own, halt.Progress{What: "draw", Done: 2, Of: 5}, lease); err != nil || stop {
		t.Errorf("%v %v", stop, err)
	}
	u.clock.add(lease)
	if other := u.claim(t, "w2"); other != nil {
		t.Errorf("claimed within a lease that was prolonged: %+v", other)
	}
	if now := u.is(t, id); now.Progress != (halt.Progress{What: "draw", Done: 2, Of: 5}) || now.Worker != "w1" {
		t.Errorf("%+v", now)
	}
	u.end(t, own, app.TaskEnd{State: app.TaskWaiting, Due: u.clock.Now().Add(time.Minute), Fault: "the disk was full"})
	if early := u.claim(t, "w2"); early != nil {
		t.Errorf("tried again too early: %+v", early)
	}
	if now := u.is(t, id); now.State != app.TaskWaiting || now.Fault != "the disk was full" || !now.Lease.IsZero() {
		t.Errorf("%+v", now)
	}
	u.clock.add(time.Minute)
	own = u.claim(t, "w2")
	if own == nil || own.Tries != 2 || own.Fault != "" || own.Progress != (halt.Progress{}) {
		t.Fatalf("%+v", own)
	}
	u.end(t, own, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now(), Result: "hash"})
	if now := u.is(t, id); now.State != app.TaskDone || now.Result != "hash" || !now.Due.Equal(u.clock.Now()) {
		t.Errorf("%+v", now)
	}
	if more := u.claim(t, "w1"); more != nil {
		t.Errorf("done twice: %+v", more)
	}
	if next := u.want(t, want("J1", "b")); next == id {
		t.Error("what is over was asked for again, and is the same task")
	}
}

// askedWithChange: what a change asks for is asked for exactly when the change is written.
func askedWithChange(t *testing.T, u *tasks) {
	c := opening("J1", "create-J1")
	c.Wants = []app.Wanted{want("J1", "a"), {Kind: "scan", About: "J1", By: "p-1"}}
	if _, err := u.Create(u.ctx, "J1", c); err != nil {
		t.Fatal(err)
	}
	own := u.claim(t, "w1")
	second := u.claim(t, "w1")
	if own == nil || second == nil || own.Kind == second.Kind {
		t.Fatalf("%+v %+v", own, second)
	}
	u.end(t, own, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now()})
	u.end(t, second, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now()})
	if _, err := u.Create(u.ctx, "J1", c); err != nil {
		t.Fatal(err)
	}
	if more := u.claim(t, "w1"); more != nil {
		t.Errorf("a change that was sent twice asks twice: %+v", more)
	}
	other := opening("J1", "another")
	other.Wants = c.Wants
	if _, err := u.Create(u.ctx, "J1", other); diag.KindOf(err) != diag.Conflict {
		t.Fatal(err)
	}
	bad := opening("J2", "x")
	bad.Wants = []app.Wanted{want("J2", "a"), {About: "J2", By: "p-1"}}
	if _, err := u.Create(u.ctx, "J2", bad); diag.KindOf(err) != diag.Invalid {
		t.Errorf("%v", err)
	}
	if more := u.claim(t, "w1"); more != nil {
		t.Errorf("a change that was refused asks: %+v", more)
	}
	if _, err := u.Load(u.ctx, "J2", 0); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a job whose task was refused is there: %v", err)
	}
}

func askedAgain(t *testing.T, u *tasks) {
	id := u.want(t, want("J1", "a"))
	u.clock.add(time.Second)
	if u.want(t, want("J1", "b")) != id || u.want(t, want("J2", "c")) == id {
		t.Error("one of a kind about a thing waits")
	}
	own := u.claim(t, "w1")
	if own.Input != "b" {
		t.Errorf("done with an older input: %+v", own)
	}
	if u.want(t, want("J1", "d")) != id || u.want(t, want("J1", "e")) != id {
		t.Error("two at once of a kind about a thing")
	}
	u.end(t, own, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now(), Result: "old"})
	var inputs []string
	for own := u.claim(t, "w1"); own != nil; own = u.claim(t, "w1") {
		inputs = append(inputs, own.Input)
		u.end(t, own, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now()})
	}
	slices.Sort(inputs)
	if !slices.Equal(inputs, []string{"c", "e"}) {
		t.Errorf("done then: %v", inputs)
	}
}

func stoppedAndAgain(t *testing.T, u *tasks) {
	id := u.want(t, want("J1", "a"))
	if err := u.StopTask(u.ctx, id); err != nil {
		t.Fatal(err)
	}
	if own := u.claim(t, "w1"); own != nil {
		t.Errorf("what was stopped is done: %+v", own)
	}
	if err := u.StopTask(u.ctx, id); diag.KindOf(err) != diag.Conflict {
		t.Error(err)
	}
	if err := u.Again(u.ctx, id); err != nil {
		t.Fatal(err)
	}
	own := u.claim(t, "w1")
	if err := u.Again(u.ctx, id); diag.KindOf(err) != diag.Conflict {
		t.Error(err)
	}
	u.want(t, want("J1", "b"))
	if err := u.StopTask(u.ctx, id); err != nil {
		t.Fatal(err)
	}
	if stop, err := u.Hold(u.ctx, own, halt.Progress{}, lease); err != nil || !stop {
		t.Errorf("it is not told to stop: %v", err)
	}
	u.end(t, own, app.TaskEnd{State: app.TaskWaiting, Due: u.clock.Now()})
	if now := u.is(t, id); now.State != app.TaskStopped || now.Stopping {
		t.Errorf("%+v", now)
	}
	u.want(t, want("J1", "c"))
	if err := u.Again(u.ctx, id); diag.KindOf(err) != diag.Conflict {
		t.Errorf("two of a kind about a thing: %v", err)
	}
}

func lostWorkers(t *testing.T, u *tasks) {
	id := u.want(t, want("J1", "a"))
	var was []*app.Task
	for i := range mostTries {
		own := u.claim(t, fmt.Sprint("w", i))
		if own == nil || own.Tries != i+1 {
			t.Fatalf("try %d: %+v", i+1, own)
		}
		was = append(was, own)
		u.clock.add(lease + time.Millisecond)
	}
	for _, old := range was[:mostTries-1] { // a worker that comes back late
		if _, err := u.Hold(u.ctx, old, halt.Progress{}, lease); diag.KindOf(err) != diag.Conflict {
			t.Error(err)
		}
		if err := u.End(u.ctx, old, app.TaskEnd{State: app.TaskDone, Due: u.clock.Now()}); diag.KindOf(err) != diag.Conflict {
			t.Error(err)
		}
	}
	if own := u.claim(t, "w9"); own != nil {
		t.Errorf("tried too often: %+v", own)
	}
	if now := u.is(t, id); now.State != app.TaskFailed || now.Fault == "" {
		t.Errorf("%+v", now)
	}
	id = u.want(t, want("J2", "a"))
	for range 2 * mostTries { // broken off through no fault of its own
		u.end(t, u.claim(t, "w1"), app.TaskEnd{State: app.TaskWaiting, Due: u.clock.Now(), Spared: true})
	}
	if now := u.is(t, id); now.State != app.TaskWaiting || now.Tries != 0 {
		t.Errorf("%+v", now)
	}
	own := u.claim(t, "w1")
	if err := u.StopTask(u.ctx, own.ID); err != nil {
		t.Fatal(err)
	}
	u.clock.add(lease + time.Millisecond)
	if more := u.claim(t, "w2"); more != nil {
		t.Errorf("what was stopped is done by another: %+v", more)
	}
	if now := u.is(t, id); now.State != app.TaskStopped {
		t.Errorf("%+v", now)
	}
}

func refusedTasks(t *testing.T, u *tasks) {
	for _, w := range []app.Wanted{{}, {Kind: "draw"}, {By: "p-1"}, {Kind: "a,b", By: "p-1"}, {Kind: "a%", By: "p-1"}, {Kind: "a_", By: "p-1"}} {
		if _, err := u.Want(u.ctx, w); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%+v: %v", w, err)
		}
	}
	for _, c := range []struct {
		kinds []app.TaskKind
		name  string
		lease time.Duration
		tries int
	}{{nil, "w", lease, 1}, {bothKinds, "", lease, 1}, {bothKinds, "w", 0, 1}, {bothKinds, "w", lease, 0}} {
		if _, err := u.Claim(u.ctx, c.kinds, c.name, c.lease, c.tries); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%+v: %v", c, err)
		}
	}
	u.want(t, want("J1", ""))
	own := u.claim(t, "w1")
	if err := u.End(u.ctx, own, app.TaskEnd{State: app.TaskRunning}); diag.KindOf(err) != diag.Invalid {
		t.Error(err)
	}
	for _, err := range []error{u.StopTask(u.ctx, "no"), u.Again(u.ctx, "no")} {
		if diag.KindOf(err) != diag.NotFound {
			t.Error(err)
		}
	}
	if _, err := u.TaskOf(u.ctx, "no"); diag.KindOf(err) != diag.NotFound {
		t.Error(err)
	}
	if got, err := u.TaskOf(u.ctx, own.ID); err != nil || got.ID != own.ID || got.Worker != "w1" {
		t.Errorf("%+v %v", got, err)
	}
	if _, err := u.ListTasks(u.ctx, app.TaskQuery{Below: "no", Most: 1}); diag.KindOf(err) != diag.NotFound {
		t.Error(err)
	}
}

func listedTasks(t *testing.T, u *tasks) {
	var ids []string
	for i := range 7 {
		if i%2 == 0 {
			u.clock.add(time.Second)
		}
		ids = append(ids, u.want(t, want(fmt.Sprint("J", i), "")))
	}
	if err := u.StopTask(u.ctx, ids[3]); err != nil {
		t.Fatal(err)
	}
	var paged []app.Task
	for below := ""; ; {
		page, err := u.ListTasks(u.ctx, app.TaskQuery{Below: below, Most: 3})
		if err != nil {
			t.Fatal(err)
		}
		if len(page) == 0 {
			break
		}
		paged = append(paged, page...)
		below = page[len(page)-1].ID
	}
	var got []string
	for i, p := range paged {
		got = append(got, p.ID)
		if i > 0 && p.Made.After(paged[i-1].Made) {
			t.Error("not newest first")
		}
	}
	slices.Sort(got)
	slices.Sort(ids)
	if !slices.Equal(got, ids) {
		t.Errorf("in pages %v, asked for %v", got, ids)
	}
	for q, n := range map[app.TaskQuery]int{{State: app.TaskStopped, Most: 9}: 1, {State: app.TaskWaiting, Most: 9}: 6, {About: "J3", Most: 9}: 1, {About: "J9", Most: 9}: 0} {
		if page, err := u.ListTasks(u.ctx, q); err != nil || len(page) != n {
			t.Errorf("%+v: %d, %v", q, len(page), err)
		}
	}
}

// modelTask is a task as the words of app.Tasks have it, reckoned anew for each act.
type modelTask struct {
	about, input string
	later        *string
	state        app.TaskState
	tries        int
	due, lease   time.Time
	stopping     bool
}

// againstModel does acts drawn at random, and holds each task against a model of it.
func againstModel(t *testing.T, u *tasks) {
	rng := rand.New(rand.NewPCG(19, 4))
	model := map[string]*modelTask{}
	open := func(about string) string {
		for id, m := range model {
			if m.about == about && (m.state == app.TaskWaiting || m.state == app.TaskRunning) {
				return id
			}
		}
		return ""
	}
	over := func(m *modelTask, to app.TaskState, due time.Time) {
		m.state, m.due, m.lease, m.stopping = to, due, time.Time{}, false
		if m.later != nil {
			m.input, m.later, m.state, m.tries = *m.later, nil, app.TaskWaiting, 0
		}
	}
	var held []*app.Task
	for i := range 250 {
		now := u.clock.Now()
		switch rng.IntN(7) {
		case 0, 1:
			about, input := fmt.Sprint("J", rng.IntN(4)), fmt.Sprint(i)
			was := open(about)
			id := u.want(t, want(about, input))
			switch {
			case was != "" && id != was:
				t.Fatalf("%d: another task of the kind about %s", i, about)
			case was == "":
				model[id] = &modelTask{about: about, input: input, state: app.TaskWaiting, due: now}
			case model[id].state == app.TaskRunning:
				model[id].later = &input
			default:
				model[id].input = input
			}
		case 2:
			var first string
			for first = firstDue(model, now); first != ""; first = firstDue(model, now) {
				m := model[first]
				if m.state == app.TaskWaiting || !m.stopping && m.tries < mostTries {
					break
				}
				over(m, map[bool]app.TaskState{true: app.TaskStopped, false: app.TaskFailed}[m.stopping], now)
			}
			own := u.claim(t, fmt.Sprint("w", i))
			if own == nil && first == "" {
				continue
			}
			if own == nil || own.ID != first {
				t.Fatalf("%d: claimed %+v, want %s", i, own, first)
			}
			m := model[own.ID]
			m.state, m.lease, m.tries = app.TaskRunning, now.Add(lease), m.tries+1
			held = append(held, own)
		case 3:
			if len(held) > 0 {
				own := held[rng.IntN(len(held))]
				m := model[own.ID]
				stop, err := u.Hold(u.ctx, own, halt.Progress{}, lease)
				mine := m.state == app.TaskRunning && m.tries == own.Tries && latest(held, own)
				if (err == nil) != mine || mine && stop != m.stopping {
					t.Fatalf("%d: held %v %v, %+v", i, stop, err, m)
				}
				if mine {
					m.lease = now.Add(lease)
				}
			}
		case 4:
			if len(held) > 0 {
				own := held[rng.IntN(len(held))]
				m := model[own.ID]
				e := app.TaskEnd{State: []app.TaskState{app.TaskDone, app.TaskFailed, app.TaskWaiting}[rng.IntN(3)], Due: now.Add(time.Duration(rng.IntN(2)) * lease)}
				err := u.End(u.ctx, own, e)
				mine := m.state == app.TaskRunning && m.tries == own.Tries && latest(held, own)
				if (err == nil) != mine {
					t.Fatalf("%d: ended %v, %+v", i, err, m)
				}
				if mine {
					if m.stopping && e.State == app.TaskWaiting {
						e.State = app.TaskStopped
					}
					over(m, e.State, e.Due)
				}
			}
		case 5:
			u.clock.add(time.Duration(rng.IntN(3)) * lease / 2)
		case 6:
			if id := open(fmt.Sprint("J", rng.IntN(4))); id != "" {
				if err := u.StopTask(u.ctx, id); err != nil {
					t.Fatal(err)
				}
				if m := model[id]; m.state == app.TaskRunning {
					m.stopping, m.later = true, nil
				} else {
					over(m, app.TaskStopped, now)
				}
			}
		}
	}
	all, err := u.again().ListTasks(u.ctx, app.TaskQuery{Most: 1000})
	if err != nil || len(all) != len(model) {
		t.Fatalf("%d tasks, want %d: %v", len(all), len(model), err)
	}
	for _, x := range all {
		if m := model[x.ID]; x.State != m.state || x.Input != m.input || x.Tries != m.tries || x.Stopping != m.stopping || !x.Due.Equal(m.due) || !x.Lease.Equal(m.lease) {
			t.Errorf("%+v\nwant %+v", x, *m)
		}
	}
}

// firstDue is the task that is due first: one that waits, or whose worker was lost.
func firstDue(model map[string]*modelTask, now time.Time) string {
	first := ""
	for id, m := range model {
		due := m.state == app.TaskWaiting && !m.due.After(now) || m.state == app.TaskRunning && m.lease.Before(now)
		if due && (first == "" || m.due.Before(model[first].due) || m.due.Equal(model[first].due) && id < first) {
			first = id
		}
	}
	return first
}

// latest says that nobody claimed a task after this.
func latest(held []*app.Task, own *app.Task) bool {
	for _, h := range slices.Backward(held) {
		if h.ID == own.ID {
			return h == own
		}
	}
	return false
}

// atPace asks for standing work at moments drawn at random, of a few things, while a worker that is there now and then does what is due. Of each
// thing there is one row; work is not begun sooner than After its first asking or Rest after it ended; what was asked last is always done in the
// end, and no later than the pace has it. Work that is not standing is done at once beside it.
func atPace(t *testing.T, u *tasks) {
	pace := app.Pace{After: 5 * time.Second, Rest: time.Minute, Standing: true}
	rng := rand.New(rand.NewPCG(20, 26))
	type thing struct {
		id, asked, did string
		first, ended   time.Time // asked for since it was begun last, and ended last
		results        int
	}
	all := map[string]*thing{}
	for _, about := range []string{"J1", "J2", "J3"} {
		all[about] = &thing{}
	}
	asks := func(i int) {
		about := fmt.Sprint("J", 1+rng.IntN(3))
		x, input := all[about], fmt.Sprint(i)
		w := app.Wanted{Kind: "scan", About: about, Input: input, By: "p-1", Pace: pace}
		id := u.want(t, w)
		if x.id != "" && x.id != id {
			t.Fatalf("%s has two rows", about)
		}
		if x.id, x.asked = id, input; x.first.IsZero() {
			x.first = u.clock.Now()
		}
	}
	does := func(i int) bool {
		own := u.claim(t, "w1")
		now := u.clock.Now()
		if own == nil {
			for about, x := range all {
				if x.asked != x.did && !now.Before(x.first.Add(pace.After)) && (x.ended.IsZero() || !now.Before(x.ended.Add(pace.Rest))) {
					t.Fatalf("%s is due at %v and not begun", about, now)
				}
			}
			return false
		}
		x := all[own.About]
		if own.Input != x.asked || now.Before(x.first.Add(pace.After)) || !x.ended.IsZero() && now.Before(x.ended.Add(pace.Rest)) {
			t.Fatalf("begun %+v at %v, and %+v", own, now, *x)
		}
		if want := fmt.Sprint("made ", x.results); x.results > 0 && own.Result != want {
			t.Fatalf("what was made before is %q, want %q", own.Result, want)
		}
		x.did, x.first = own.Input, time.Time{}
		var again time.Time
		if rng.IntN(3) == 0 {
			u.clock.add(time.Duration(rng.IntN(3000)) * time.Millisecond)
			asks(-i) // while it is done
			if x.asked != x.did {
				again = u.clock.Now()
			}
			u.clock.add(time.Duration(rng.IntN(3000)) * time.Millisecond)
		}
		x.results++
		x.ended = u.clock.Now()
		u.end(t, own, app.TaskEnd{State: app.TaskDone, Due: x.ended, Result: fmt.Sprint("made ", x.results)})
		if !again.IsZero() {
			x.ended = again
		}
		return true
	}
	begun := 0
	for i := range 400 {
		if i++; rng.IntN(2) == 0 {
			asks(i)
		}
		u.clock.add(time.Duration(rng.IntN(4000)) * time.Millisecond)
		for does(i) {
			begun++
		}
	}
	for range 4 {
		u.clock.add(pace.Rest)
		for does(-1000) {
			begun++
		}
	}
	rows, err := u.again().ListTasks(u.ctx, app.TaskQuery{Most: 1000})
	if err != nil || len(rows) != len(all) {
		t.Errorf("%d rows of %d things: %v", len(rows), len(all), err)
	}
	for about, x := range all {
		if x.did != x.asked {
			t.Errorf("%s: %q was asked last, and %q was done", about, x.asked, x.did)
		}
	}
	t.Logf("asked about 200 times in %v, begun %d times", u.clock.Now().Sub(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)), begun)
	hurry := app.Wanted{Kind: "scan", About: "J1", Input: "now", By: "p-2", Pace: app.Pace{Standing: true}}
	u.clock.add(pace.Rest)
	u.want(t, app.Wanted{Kind: "scan", About: "J1", Input: "calm", By: "p-1", Pace: pace})
	if u.want(t, hurry); true {
		if own := u.claim(t, "w1"); own == nil || own.Input != "now" {
			t.Errorf("who is in a hurry waits: %+v", own)
		}
	}
}

// workBehind: what nobody waits for is done when nothing else is due, and rests after each piece as long as that took, while other work goes on.
func workBehind(t *testing.T, u *tasks) {
	ctx, stop := context.WithTimeout(u.ctx, time.Minute)
	defer stop()
	type span struct {
		kind       app.TaskKind
		began, end time.Time
	}
	var did []span
	do := func(kind app.TaskKind, takes time.Duration) app.Doing {
		return func(_ context.Context, x app.Task) (string, error) {
			began := time.Now()
			for time.Since(began) < takes { // it keeps a processor busy
			}
			did = append(did, span{kind, began, time.Now()})
			if kind == "scan" && len(did) == 4 { // meanwhile somebody asks for something
				u.want(t, want("J9", ""))
			}
			return "", nil
		}
	}
	for i := range 3 {
		u.want(t, app.Wanted{Kind: "scan", About: fmt.Sprint("J", i), By: "p-1"})
		u.want(t, want(fmt.Sprint("J", i), ""))
	}
	w := &app.Worker{Name: "w", Tasks: u.TaskStore, Do: map[app.TaskKind]app.Doing{"draw": do("draw", time.Millisecond), "scan": do("scan", 50*time.Millisecond)}, Behind: []app.TaskKind{"scan"},
		Now: u.clock.Now, Lease: time.Minute, Look: time.Millisecond, Tries: 1, Idle: stop}
	w.Run(ctx)
	var order []app.TaskKind
	for i, x := range did {
		order = append(order, x.kind)
		for _, before := range did[:i] {
			if x.kind == "scan" && before.kind == "scan" && x.began.Sub(before.end) < before.end.Sub(before.began) {
				t.Errorf("a piece that took %v, and the next of its sort %v after it", before.end.Sub(before.began), x.began.Sub(before.end))
			}
		}
	}
	if want := []app.TaskKind{"draw", "draw", "draw", "scan", "draw", "scan", "scan"}; !slices.Equal(order, want) {
		t.Errorf("done in the order %v, want %v", order, want)
	}
}

// workersAtOnce: every piece of work is done once, by one of four workers of four programs.
func workersAtOnce(t *testing.T, u *tasks) {
	const many = 40
	var mu sync.Mutex
	did := map[string]int{}
	ctx, stop := context.WithTimeout(u.ctx, time.Minute)
	defer stop()
	do := func(_ context.Context, x app.Task) (string, error) {
		mu.Lock()
		defer mu.Unlock()
		did[x.About]++
		if len(did) == many {
			stop()
		}
		return "", nil
	}
	for i := range many {
		u.want(t, want(fmt.Sprint("J", i), ""))
	}
	var all sync.WaitGroup
	for i := range 4 {
		w := &app.Worker{Name: fmt.Sprint("w", i), Tasks: u.again(), Do: map[app.TaskKind]app.Doing{"draw": do}, Now: u.clock.Now, Lease: time.Minute, Look: time.Millisecond, Tries: 1}
		all.Go(func() { w.Run(ctx) })
	}
	all.Wait()
	for about, n := range did {
		if n != 1 {
			t.Errorf("%s was done %d times", about, n)
		}
	}
	if len(did) != many {
		t.Errorf("%d were done, of %d", len(did), many)
	}
}

// workerEnds: how a try ended decides what becomes of the work.
func workerEnds(t *testing.T, u *tasks) {
	passing := errors.New("no answer")
	for _, c := range []struct {
		name  string
		do    app.Doing
		state app.TaskState
		tries int
	}{
		{"done", func(context.Context, app.Task) (string, error) { return "made", nil }, app.TaskDone, 1},
		{"fails thrice", func(context.Context, app.Task) (string, error) { return "", passing }, app.TaskFailed, 3},
		{"fails once", func(_ context.Context, x app.Task) (string, error) {
			return "", map[bool]error{true: passing}[x.Tries == 1]
		}, app.TaskDone, 2},
		{"never will", func(context.Context, app.Task) (string, error) {
			return "", fmt.Errorf("told: %w", &diag.Error{Kind: diag.NotFound, Msg: "no job"})
		}, app.TaskFailed, 1},
		{"a fault of the program", func(context.Context, app.Task) (string, error) { panic("out of range") }, app.TaskFailed, 3},
	} {
		id := u.want(t, want(c.name, ""))
		ctx, stop := context.WithTimeout(u.ctx, time.Minute)
		w := &app.Worker{Name: "w", Tasks: u.TaskStore, Do: map[app.TaskKind]app.Doing{"draw": c.do}, Now: u.clock.Now, Lease: time.Minute, Look: time.Millisecond, Tries: 3,
			Wait: func(int) time.Duration { return 0 },
			Told: func(app.Task, error) {
				if s := u.is(t, id).State; s == app.TaskDone || s == app.TaskFailed {
					stop()
				}
			}}
		w.Run(ctx)
		if now := u.is(t, id); now.State != c.state || now.Tries != c.tries || (now.State == app.TaskFailed) == (now.Fault == "") {
			t.Errorf("%s: %+v", c.name, now)
		}
	}
	u.workerStops(t)
}

// workerStops: a person stops what is done, and a program that ends gives it back.
func (u *tasks) workerStops(t *testing.T) {
	for _, byPerson := range []bool{true, false} {
		id := u.want(t, want(fmt.Sprint(byPerson), ""))
		ctx, stop := context.WithTimeout(u.ctx, time.Minute)
		began := make(chan struct{})
		w := &app.Worker{Name: "w", Tasks: u.TaskStore, Now: u.clock.Now, Lease: 300 * time.Millisecond, Look: time.Millisecond, Tries: 3, Told: func(app.Task, error) { stop() },
			Do: map[app.TaskKind]app.Doing{"draw": func(ctx context.Context, _ app.Task) (string, error) {
				close(began)
				<-ctx.Done()
				return "", ctx.Err()
			}}}
		ended := make(chan struct{})
		go func() { w.Run(ctx); close(ended) }()
		<-began
		want := app.TaskWaiting
		if byPerson {
			want = app.TaskStopped
			if err := u.StopTask(u.ctx, id); err != nil {
				t.Fatal(err)
			}
		} else {
			stop()
		}
		<-ended
		stop()
		if now := u.is(t, id); now.State != want || now.Tries != map[bool]int{true: 1, false: 0}[byPerson] {
			t.Errorf("%+v", now)
		}
	}
}
