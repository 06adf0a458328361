package database

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/ledger"
	"fettle/internal/store"
	"fettle/internal/store/safefile"
)

// momentForm is how moments of tasks are written: the order of the texts is that of the times.
const momentForm = "2006-01-02T15:04:05.000Z"

// taskRow is a task as it is kept: later is the input of one that was asked for while this one runs.
type taskRow struct {
	app.Task
	later *string
	sum   string // as it was read
}

const taskColumns = "id, kind, about, input, author, later, state, tries, made, due, worker, lease, stopping, progress, fault, result"

// values are what the columns hold, a salt and the sum of them all, which is also what the log has of them.
func (r taskRow) values() (row []any, sum string, err error) {
	progress, err := json.Marshal(r.Progress)
	if err != nil {
		return nil, "", err
	}
	var later any
	if r.later != nil {
		later = *r.later
	}
	stopping := int64(0)
	if r.Stopping {
		stopping = 1
	}
	row = []any{r.ID, string(r.Kind), r.About, r.Input, r.By, later, string(r.State), int64(r.Tries), moment(r.Made), moment(r.Due), r.Worker, moment(r.Lease), stopping, string(progress), r.Fault, r.Result, safefile.Drawn(32)}
	sum, err = sumOfTask(row)
	return append(row, sum), sum, err
}

// taskForm is hashed with every row.
const taskForm = "fettle-task 1"

func sumOfTask(values []any) (string, error) {
	b, err := ledger.Canonical(map[string]any{"format": taskForm, "row": values})
	return sumOf(string(b)), err
}

// moment is a time as it is kept; empty for none.
func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(momentForm)
}

func momentOf(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	return time.Parse(momentForm, s)
}

// scanTask reads a row, which has to be the one that was written.
func scanTask(scan func(...any) error) (taskRow, error) {
	var r taskRow
	var kind, state, made, due, lease, progress, salt string
	var tries, stopping int64
	if err := scan(&r.ID, &kind, &r.About, &r.Input, &r.By, &r.later, &state, &tries, &made, &due, &r.Worker, &lease, &stopping, &progress, &r.Fault, &r.Result, &salt, &r.sum); err != nil {
		return r, err
	}
	r.Kind, r.State, r.Tries, r.Stopping = app.TaskKind(kind), app.TaskState(state), int(tries), stopping == 1
	var faults [4]error
	r.Made, faults[0] = momentOf(made)
	r.Due, faults[1] = momentOf(due)
	r.Lease, faults[2] = momentOf(lease)
	faults[3] = json.Unmarshal([]byte(progress), &r.Progress)
	var later any
	if r.later != nil {
		later = *r.later
	}
	row := []any{r.ID, kind, r.About, r.Input, r.By, later, state, tries, made, due, r.Worker, lease, stopping, progress, r.Fault, r.Result}
	if salt != "" { // as in the first version
		row = append(row, salt)
	}
	own, err := sumOfTask(row)
	if cmp.Or(faults[0], faults[1], faults[2], faults[3], err) != nil || own != r.sum {
		return r, damaged("task "+r.ID, "its row is not the one that was written")
	}
	return r, nil
}

// task is the one row that a query finds; none is nil.
func (t *Tx) task(query string, args ...any) (*taskRow, error) {
	var out *taskRow
	err := t.Query(query, args, func(scan func(...any) error) error {
		r, err := scanTask(scan)
		out = &r
		return err
	})
	return out, err
}

const taskByID = "select " + taskColumns + ", salt, sum from tasks where id = $1"

// named is a task that has to be there.
func (t *Tx) named(id string) (*taskRow, error) {
	r, err := t.task(taskByID, id)
	if err == nil && r == nil {
		err = store.NoTask(id)
	}
	return r, err
}

// put writes a task in the place of its row, with a leaf: one that is put back to what it was earlier is found.
func (t *Tx) put(r taskRow) error {
	values, sum, err := r.values()
	if err != nil {
		return err
	}
	t.leaf(leaf{kind: ofTask, name: r.ID, hash: sum})
	_, err = t.Exec("update tasks set kind = $2, about = $3, input = $4, author = $5, later = $6, state = $7, tries = $8, made = $9, due = $10, worker = $11, lease = $12, stopping = $13, progress = $14, fault = $15, result = $16, salt = $17, sum = $18 where id = $1", values...)
	return err
}

// now is the time, as tasks are kept.
func (d *Database) now() time.Time { return d.set.Now().UTC().Truncate(time.Millisecond) }

// Want asks for work.
func (d *Database) Want(ctx context.Context, w app.Wanted) (id string, err error) {
	err = d.Write(ctx, func(t *Tx) error {
		id, err = t.want(w)
		return err
	})
	return id, err
}

// wantAll asks for the work that goes with a change.
func (t *Tx) wantAll(ws []app.Wanted) error {
	for _, w := range ws {
		if _, err := t.want(w); err != nil {
			return err
		}
	}
	return nil
}

// want asks for work. What waits already is done with the new input, and what runs is done once more after.
func (t *Tx) want(w app.Wanted) (string, error) {
	if w.Kind == "" || w.By == "" || strings.ContainsAny(string(w.Kind), ",%_") {
		return "", &diag.Error{Kind: diag.Invalid, Op: "task", Subject: string(w.Kind), Msg: "a task has a kind, and says who asked for it"}
	}
	r, err := t.task("select "+taskColumns+", salt, sum from tasks where kind = $1 and about = $2 and state in ('waiting', 'running')", string(w.Kind), w.About)
	now := t.db.now()
	switch {
	case err != nil:
		return "", err
	case r != nil && r.State == app.TaskRunning:
		if w.After > 0 || w.Rest > 0 { // of what runs, when it is due again
			r.Due = w.Pace.Due(now, now)
		}
		r.later = &w.Input
		return r.ID, t.put(*r)
	case r != nil:
		r.Input, r.By = w.Input, w.By
		if w.After == 0 && w.Rest == 0 && r.ID == standing(w) && r.Tries == 0 && now.Before(r.Due) {
			r.Due = now // who asks is in a hurry, and whoever asked before was not
		}
		return r.ID, t.put(*r)
	}
	id := safefile.Drawn(16)
	if w.Standing {
		id = standing(w)
		if r, err = t.task(taskByID, id); err != nil {
			return "", err
		}
	}
	if r != nil {
		r.Input, r.By, r.State, r.Tries, r.Made, r.Due, r.Fault, r.Progress = w.Input, w.By, app.TaskWaiting, 0, now, w.Pace.Due(now, r.Due), "", halt.Progress{}
		return r.ID, t.put(*r)
	}
	fresh := taskRow{Task: app.Task{ID: id, Wanted: w, State: app.TaskWaiting, Made: now, Due: w.Pace.Due(now, time.Time{})}}
	values, sum, err := fresh.values()
	if err != nil {
		return "", err
	}
	_, err = t.Exec("insert into tasks ("+taskColumns+", salt, sum) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)", values...)
	t.leaf(leaf{kind: ofTask, name: fresh.ID, hash: sum})
	return fresh.ID, err
}

// standing is the identity of the one row of standing work.
func standing(w app.Wanted) string {
	return sumOf(string(w.Kind) + "\n" + w.About)[:32]
}

// Claim is the work that is due first.
func (d *Database) Claim(ctx context.Context, kinds []app.TaskKind, worker string, lease time.Duration, mostTries int) (*app.Task, error) {
	if len(kinds) == 0 || worker == "" || lease <= 0 || mostTries <= 0 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "task", Subject: worker, Msg: "a worker has a name, kinds of work, a lease and a number of tries"}
	}
	due, err := d.anyDue(ctx, kinds)
	if err != nil || !due {
		return nil, err
	}
	var out *app.Task
	err = d.Write(ctx, func(t *Tx) error {
		out = nil
		for {
			r, err := t.task(firstDue, among(kinds), moment(d.now()))
			if err != nil || r == nil {
				return err
			}
			if t.lost(r, mostTries) {
				r.State, r.Worker, r.Lease, r.Fault, r.Progress = app.TaskRunning, worker, d.now().Add(lease), "", halt.Progress{}
				r.Tries++
				out = &r.Task
			}
			if err := t.put(*r); err != nil || out != nil {
				return err
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// due are tasks of some kinds that nobody has, or whose worker was lost.
const (
	due      = " from tasks where (state = 'waiting' and due <= $2 or state = 'running' and lease < $2) and $1 like '%,' || kind || ',%'"
	firstDue = "select " + taskColumns + ", salt, sum" + due + " order by due, id limit 1"
)

// among is kinds as the query takes them.
func among(kinds []app.TaskKind) string {
	var b strings.Builder
	for _, k := range kinds {
		b.WriteString("," + string(k))
	}
	return b.String() + ","
}

// anyDue looks beside the writer, which is not asked for nothing.
func (d *Database) anyDue(ctx context.Context, kinds []app.TaskKind) (bool, error) {
	there := false
	err := d.Read(ctx, "select 1"+due+" limit 1", []any{among(kinds), moment(d.now())}, func(scan func(...any) error) error {
		var one int
		there = true
		return scan(&one)
	})
	return there, err
}

// lost ends the try of a worker that was lost, and says whether there may be another.
func (t *Tx) lost(r *taskRow, mostTries int) bool {
	if r.State != app.TaskRunning {
		return true
	}
	now := t.db.now()
	switch {
	case r.Stopping:
		r.over(stopped(now))
		return false
	case r.Tries >= mostTries:
		r.over(app.TaskEnd{State: app.TaskFailed, Due: now, Fault: fmt.Sprintf("it was begun %d times, and its worker was lost the last time (%s)", r.Tries, r.Worker)})
		return false
	}
	return true
}

// stopped is the end of what a person has stopped.
func stopped(at time.Time) app.TaskEnd {
	return app.TaskEnd{State: app.TaskStopped, Due: at, Fault: "it was stopped by a person"}
}

// over ends a try. What was asked for again meanwhile waits from now on.
func (r *taskRow) over(e app.TaskEnd) {
	again := r.Due
	r.State, r.Due, r.Fault, r.Lease, r.Stopping = e.State, e.Due.UTC().Truncate(time.Millisecond), e.Fault, time.Time{}, false
	if e.Result != "" {
		r.Result = e.Result
	}
	if e.Spared {
		r.Tries--
	}
	if r.later != nil {
		r.Input, r.later, r.State, r.Tries = *r.later, nil, app.TaskWaiting, 0
		if again.After(r.Due) {
			r.Due = again
		}
	}
}

// mine is a task as this try of it has it.
func (t *Tx) mine(own *app.Task) (*taskRow, error) {
	r, err := t.named(own.ID)
	if err == nil && (r.State != app.TaskRunning || r.Worker != own.Worker || r.Tries != own.Tries) {
		err = &diag.Error{Kind: diag.Conflict, Op: "task", Subject: own.ID, Msg: "it is not this worker's any more"}
	}
	return r, err
}

// Hold prolongs a lease.
func (d *Database) Hold(ctx context.Context, own *app.Task, p halt.Progress, lease time.Duration) (stop bool, err error) {
	err = d.Write(ctx, func(t *Tx) error {
		r, err := t.mine(own)
		if err != nil {
			return err
		}
		r.Progress, r.Lease, stop = p, d.now().Add(lease), r.Stopping
		return t.put(*r)
	})
	return stop, err
}

// End ends a try.
func (d *Database) End(ctx context.Context, own *app.Task, e app.TaskEnd) error {
	if !slices.Contains([]app.TaskState{app.TaskWaiting, app.TaskDone, app.TaskFailed, app.TaskStopped}, e.State) {
		return &diag.Error{Kind: diag.Invalid, Op: "task", Subject: own.ID, Msg: "a try does not end so"}
	}
	return d.Write(ctx, func(t *Tx) error {
		r, err := t.mine(own)
		if err != nil {
			return err
		}
		if r.Stopping && e.State == app.TaskWaiting {
			e = stopped(e.Due)
		}
		r.over(e)
		return t.put(*r)
	})
}

// StopTask has a task stopped: one that waits at once, one that is done by whoever does it.
func (d *Database) StopTask(ctx context.Context, id string) error {
	return d.Write(ctx, func(t *Tx) error {
		r, err := t.named(id)
		if err != nil {
			return err
		}
		switch r.State {
		case app.TaskWaiting:
			r.over(stopped(d.now()))
		case app.TaskRunning:
			r.Stopping, r.later = true, nil
		default:
			return &diag.Error{Kind: diag.Conflict, Op: "task", Subject: id, Msg: fmt.Sprintf("it is over: it is %s", r.State)}
		}
		return t.put(*r)
	})
}

// Again has a task done again that is over without success.
func (d *Database) Again(ctx context.Context, id string) error {
	return d.Write(ctx, func(t *Tx) error {
		r, err := t.named(id)
		if err != nil {
			return err
		}
		if r.State != app.TaskFailed && r.State != app.TaskStopped {
			return &diag.Error{Kind: diag.Conflict, Op: "task", Subject: id, Msg: fmt.Sprintf("it has not failed: it is %s", r.State)}
		}
		other, err := t.task("select "+taskColumns+", salt, sum from tasks where kind = $1 and about = $2 and state in ('waiting', 'running')", string(r.Kind), r.About)
		if err != nil || other != nil {
			return cmp.Or(err, error(&diag.Error{Kind: diag.Conflict, Op: "task", Subject: id, Msg: "the same work was asked for since, and waits or is being done"}))
		}
		r.State, r.Due, r.Tries, r.Fault = app.TaskWaiting, d.now(), 0, ""
		return t.put(*r)
	})
}

// TaskOf is one task.
func (d *Database) TaskOf(ctx context.Context, id string) (app.Task, error) {
	var out *taskRow
	err := d.Read(ctx, taskByID, []any{id}, func(scan func(...any) error) error {
		r, err := scanTask(scan)
		out = &r
		return err
	})
	if err == nil && out == nil {
		err = store.NoTask(id)
	}
	if err != nil {
		return app.Task{}, err
	}
	return out.Task, nil
}

// ListTasks is tasks, newest first.
func (d *Database) ListTasks(ctx context.Context, q app.TaskQuery) ([]app.Task, error) {
	below := ""
	if q.Below != "" {
		err := d.Read(ctx, "select made from tasks where id = $1", []any{q.Below}, func(scan func(...any) error) error { return scan(&below) })
		if err == nil && below == "" {
			err = store.NoTask(q.Below)
		}
		if err != nil {
			return nil, err
		}
	}
	var out []app.Task
	err := d.Read(ctx, "select "+taskColumns+", salt, sum from tasks where ($1 = '' or state = $1) and ($2 = '' or about = $2) and ($3 = '' or made < $4 or made = $4 and id < $3) order by made desc, id desc limit $5",
		[]any{string(q.State), q.About, q.Below, below, q.Most}, func(scan func(...any) error) error {
			r, err := scanTask(scan)
			out = append(out, r.Task)
			return err
		})
	return out, err
}
