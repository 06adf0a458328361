package remote

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/store"
)

type task struct {
	ID       string        `json:"id"`
	Kind     app.TaskKind  `json:"kind"`
	About    string        `json:"about"`
	State    app.TaskState `json:"state"`
	Tries    int           `json:"tries"`
	Made     time.Time     `json:"made"`
	Due      time.Time     `json:"due"`
	Stopping bool          `json:"stopping"`
	Doing    string        `json:"doing"`
	Done     int           `json:"done"`
	Of       int           `json:"of"`
	Fault    string        `json:"fault"`
}

// task is a piece of work as far as a server tells of it: whose worker has it, and what it made, stays there.
func (t task) task() app.Task {
	return app.Task{ID: t.ID, Wanted: app.Wanted{Kind: t.Kind, About: t.About}, State: t.State, Tries: t.Tries, Made: t.Made.UTC(), Due: t.Due.UTC(), Stopping: t.Stopping,
		Progress: halt.Progress{What: t.Doing, Done: t.Done, Of: t.Of}, Fault: t.Fault}
}

// dayOf is the day that work about a job is judged on.
func dayOf(w app.Wanted) (string, error) {
	var in app.TaskInput
	if err := json.Unmarshal([]byte(w.Input), &in); err != nil {
		return "", &diag.Error{Kind: diag.Invalid, Op: "tasks", Subject: w.About, Msg: "does not say the day it is judged on", Err: err}
	}
	return in.On, nil
}

type asked struct {
	ID string `json:"id"`
}

// Want asks for work about a job, or about all that is kept.
func (s *Store) Want(ctx context.Context, w app.Wanted) (string, error) {
	if err := s.writes(ctx, w.By); err != nil {
		return "", err
	}
	in := struct {
		Kind app.TaskKind `json:"kind"`
		Job  string       `json:"job,omitempty"`
		On   string       `json:"on,omitempty"`
	}{Kind: w.Kind, Job: w.About}
	if w.Input != "" {
		on, err := dayOf(w)
		if err != nil {
			return "", err
		}
		in.On = on
	}
	var got asked
	return got.ID, s.send(ctx, call{op: "tasks", method: http.MethodPost, path: "/tasks", repeats: true}, in, &got)
}

// WantZones asks for zones to be made by a recipe out of files.
func (s *Store) WantZones(ctx context.Context, recipe string, files map[string][]byte, by string) (string, error) {
	if err := s.writes(ctx, by); err != nil {
		return "", err
	}
	in := struct {
		sentFiles
		Recipe string `json:"recipe"`
	}{listed(files), recipe}
	var got asked
	return got.ID, s.send(ctx, call{op: "tasks", method: http.MethodPost, path: "/tasks/zones", repeats: true}, in, &got)
}

func ofTask(id, more string) string { return "/tasks/" + url.PathEscape(id) + more }

// StopTask has a piece of work stopped.
func (s *Store) StopTask(ctx context.Context, id string) error {
	return s.sentTo(ctx, id, "/stop", func(t app.Task) bool { return t.Stopping || t.State == app.TaskStopped })
}

// Again has one done again that has failed or was stopped.
func (s *Store) Again(ctx context.Context, id string) error {
	return s.sentTo(ctx, id, "/again", func(t app.Task) bool {
		return t.State == app.TaskWaiting || t.State == app.TaskRunning || t.State == app.TaskDone
	})
}

// sentTo has something done to a piece of work. Where the first answer was lost and the second says that it is done already, it was done by the first.
func (s *Store) sentTo(ctx context.Context, id, what string, is func(app.Task) bool) error {
	lost := false
	err := s.send(ctx, call{op: "tasks", method: http.MethodPost, path: ofTask(id, what), repeats: true, lost: &lost}, nil, nil)
	if lost && diag.KindOf(err) == diag.Conflict {
		if t, failed := s.TaskOf(ctx, id); failed == nil && is(t) {
			return nil
		}
	}
	return noTask(id, err)
}

// TaskOf is one piece of work.
func (s *Store) TaskOf(ctx context.Context, id string) (app.Task, error) {
	var got task
	err := s.get(ctx, "tasks", ofTask(id, ""), nil, &got)
	return got.task(), noTask(id, err)
}

// TaskResult is what a piece of work has made.
func (s *Store) TaskResult(ctx context.Context, id string) (io.ReadCloser, error) {
	r, _, err := s.bytes(ctx, call{op: "tasks", method: http.MethodGet, path: ofTask(id, "/result"), repeats: true}, "")
	return r, err
}

// ListTasks is pieces of work, newest first.
func (s *Store) ListTasks(ctx context.Context, q app.TaskQuery) (out []app.Task, err error) {
	below := q.Below
	for len(out) < q.Most {
		v := url.Values{"most": {strconv.Itoa(min(page, q.Most-len(out)))}}
		for name, value := range map[string]string{"state": string(q.State), "about": q.About, "below": below} {
			if value != "" {
				v.Set(name, value)
			}
		}
		var got struct {
			Tasks []task `json:"tasks"`
			Below string `json:"below"`
		}
		if err := s.get(ctx, "tasks", "/tasks", v, &got); err != nil {
			return nil, err
		}
		if got.Tasks == nil || len(got.Tasks) > q.Most-len(out) {
			return nil, s.strange("it has no list of work, or a longer one than was asked for")
		}
		for _, t := range got.Tasks {
			out = append(out, t.task())
		}
		if got.Below == "" || got.Below == below {
			break
		}
		below = got.Below
	}
	return out, ctx.Err()
}

// noTask is the error of every store for work that is not there.
func noTask(id string, err error) error {
	if diag.KindOf(err) == diag.NotFound {
		return store.NoTask(id)
	}
	return err
}
