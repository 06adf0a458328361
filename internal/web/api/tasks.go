package api

import (
	"context"
	"net/http"
	"time"

	"fettle/internal/app"
)

// Task is a piece of work in the background.
type Task struct {
	ID       string `json:"id"`
	Kind     string `json:"kind"`
	About    string `json:"about,omitempty" doc:"A job, or the hash of a content."`
	State    string `json:"state" enum:"waiting,running,done,failed,stopped"`
	Tries    int    `json:"tries"`
	Made     string `json:"made" doc:"When it was asked for."`
	Due      string `json:"due" doc:"Not begun before; of one that is over, when it ended."`
	Stopping bool   `json:"stopping"`
	Doing    string `json:"doing,omitempty"`
	Done     int    `json:"done"`
	Of       int    `json:"of"`
	Fault    string `json:"fault,omitempty" doc:"Why the last try failed."`
	Result   bool   `json:"result" doc:"It has made something."`
}

func taskOf(t app.Task) Task {
	at := func(t time.Time) string { return t.UTC().Format(time.RFC3339) }
	return Task{t.ID, string(t.Kind), t.About, string(t.State), t.Tries, at(t.Made), at(t.Due), t.Stopping, t.Progress.What, t.Progress.Done, t.Progress.Of, t.Fault, t.Result != ""}
}

// Tasks is a page of work.
type Tasks struct {
	Tasks []Task `json:"tasks"`
	Below string `json:"below,omitempty" doc:"The next page is asked for with it; nothing: there is none."`
}

// OfTask is a piece of work.
type OfTask struct {
	Task string `path:"task" maxLength:"100" doc:"The work, by its identity."`
}

// Asked is the identity of work that was asked for.
type Asked struct {
	ID string `json:"id"`
}

func (s *service) tasks() {
	serve(s, route{id: "tasks", method: http.MethodGet, path: "/tasks", group: "tasks", says: "Work in the background of the shop, newest first."},
		func(ctx context.Context, as *app.As, in *struct {
			State string `query:"state" enum:"waiting,running,done,failed,stopped"`
			About string `query:"about" maxLength:"100" doc:"Only what is about this job."`
			Below string `query:"below" maxLength:"100" doc:"As the page before has it."`
			Most  int    `query:"most" default:"50" minimum:"1" maximum:"200"`
		}) (*plain[Tasks], error) {
			all, below, err := as.ListedTasks(ctx, app.TaskQuery{State: app.TaskState(in.State), About: in.About, Below: in.Below, Most: in.Most})
			out := &plain[Tasks]{Tasks{Tasks: []Task{}, Below: below}}
			for _, t := range all {
				out.Body.Tasks = append(out.Body.Tasks, taskOf(t))
			}
			return out, err
		})
	serve(s, route{id: "want-task", method: http.MethodPost, path: "/tasks", group: "tasks", status: http.StatusCreated, says: "Asks for work: assess, files or next (what it waits for) of a job; sweep, scan or verify of the store.",
		more: "Asked for again before it is done, it is done once.", limit: usualBody, refuses: []int{http.StatusNotFound}},
		func(ctx context.Context, as *app.As, in *struct {
			Body struct {
				Kind string `json:"kind" enum:"assess,files,next,sweep,scan,verify"`
				Job  string `json:"job,omitempty" maxLength:"100"`
				On   string `json:"on,omitempty" maxLength:"10" doc:"The day it is judged on; today unless given."`
			}
		}) (*plain[Asked], error) {
			on := in.Body.On
			if on == "" {
				on = s.day("")
			}
			id, err := as.WantTask(ctx, app.TaskKind(in.Body.Kind), in.Body.Job, on)
			return &plain[Asked]{Asked{id}}, err
		})
	serve(s, route{id: "want-zones", method: http.MethodPost, path: "/tasks/zones", group: "tasks", status: http.StatusCreated, says: "Keeps a recipe and its mesh, and asks for zones to be made of them.", limit: fileBody, refuses: []int{http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			Body struct {
				OnFiles
				Recipe string `json:"recipe" minLength:"1" maxLength:"500"`
			}
		}) (*plain[Asked], error) {
			id, err := as.WantZones(ctx, in.Body.Recipe, byName(in.Body.Files))
			return &plain[Asked]{Asked{id}}, err
		})
	serve(s, route{id: "task", method: http.MethodGet, path: "/tasks/{task}", group: "tasks", says: "One piece of work."},
		func(ctx context.Context, as *app.As, in *OfTask) (*plain[Task], error) {
			t, err := as.Task(ctx, in.Task)
			return &plain[Task]{taskOf(t)}, err
		})
	serve(s, route{id: "stop-task", method: http.MethodPost, path: "/tasks/{task}/stop", group: "tasks", status: http.StatusNoContent, says: "Stops work that waits or is being done.", refuses: []int{http.StatusConflict}},
		func(ctx context.Context, as *app.As, in *OfTask) (*struct{}, error) {
			return nil, as.StopTask(ctx, in.Task)
		})
	serve(s, route{id: "again-task", method: http.MethodPost, path: "/tasks/{task}/again", group: "tasks", status: http.StatusNoContent, says: "Has work done again that has failed or was stopped.", refuses: []int{http.StatusConflict}},
		func(ctx context.Context, as *app.As, in *OfTask) (*struct{}, error) {
			return nil, as.AgainTask(ctx, in.Task)
		})
	r := ranged(route{id: "task-result", path: "/tasks/{task}/result", group: "tasks", says: "What work has made.", refuses: []int{http.StatusConflict}})
	serve(s, r, func(ctx context.Context, as *app.As, in *struct {
		OfTask
		Part
	}) (*stream, error) {
		t, from, size, err := as.TaskResult(ctx, in.Task)
		if err != nil {
			return nil, err
		}
		if err := had(in.Has, tag(t.Result)); err != nil {
			return nil, closing(from, err)
		}
		return send(in.Part, t.Result, "application/octet-stream", from, size)
	})
}
