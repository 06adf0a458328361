package cli

import (
	"context"
	"fmt"
	"io"
	"path"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/remote"
)

// jobsAt is where stored jobs are that commands call by their names: a data folder, or a server.
type jobsAt interface {
	app.Store
	Find(ctx context.Context, q app.JobQuery) ([]app.JobLine, error)

	Want(ctx context.Context, w app.Wanted) (string, error)
	// Zones asks for zones to be made by a recipe that lies in a folder, with its mesh.
	Zones(ctx context.Context, from *app.App, recipe, by string) (string, error)
	TaskOf(ctx context.Context, id string) (app.Task, error)
	ListTasks(ctx context.Context, q app.TaskQuery) ([]app.Task, error)
	StopTask(ctx context.Context, id string) error
	Again(ctx context.Context, id string) error
	// Made is what a piece of work has made; diag.NotFound where nothing is kept of it.
	Made(ctx context.Context, id string) (io.ReadCloser, error)

	HoldsOf(ctx context.Context, job string) ([]app.Hold, error) // of all jobs with no name
	PutOnHold(ctx context.Context, job, by, reason string) (app.Hold, error)
	LetGo(ctx context.Context, hold string) (app.Hold, error)

	// Printed is what the log is, or was with so many leaves; less than none is now.
	Printed(ctx context.Context, leaves int64) (datafolder.Printed, error)

	Writer(ctx context.Context) (string, error) // who writes into it where nobody is named; empty: whom the environment names
	Name() string                               // as a person named it
	Flag() string                               // as the command line names it
	Hint() string                               // how a person finds jobs in it
	Close() error
}

// atFolder is a data folder as a place.
type atFolder struct{ datafolder.Keeper }

func (p atFolder) Zones(ctx context.Context, from *app.App, recipe, by string) (string, error) {
	w, err := from.ZonesWanted(ctx, p, recipe, by)
	if err != nil {
		return "", err
	}
	return p.Want(ctx, w)
}

func (p atFolder) Made(ctx context.Context, id string) (io.ReadCloser, error) {
	t, err := p.TaskOf(ctx, id)
	if err != nil {
		return nil, err
	}
	if t.Result == "" {
		return nil, nothingMade(t)
	}
	from, _, err := p.Get(ctx, t.Result)
	return from, err
}

// nothingMade is the error for work of which nothing is kept.
func nothingMade(t app.Task) error {
	return &diag.Error{Kind: diag.NotFound, Op: "tasks", Subject: t.ID, Msg: fmt.Sprintf("nothing that it made is kept: it is %s", t.State), Hint: "'fettle work' does what waits"}
}

func (p atFolder) Printed(ctx context.Context, leaves int64) (datafolder.Printed, error) {
	return p.Checkpoint(ctx, leaves)
}

func (p atFolder) Writer(context.Context) (string, error) { return "", nil }
func (p atFolder) Name() string                           { return p.Dir }
func (p atFolder) Flag() string                           { return "--data " + p.Dir }
func (p atFolder) Hint() string                           { return "'fettle jobs' lists those of the data folder" }

// atServer is a server as a place.
type atServer struct{ *remote.Store }

// caught is files that are to be kept, and are sent elsewhere.
type caught struct {
	app.Library
	files map[string][]byte
}

func (c *caught) Keep(_ context.Context, files map[string][]byte) (string, error) {
	c.files = files
	return "", nil
}

func (p atServer) Zones(ctx context.Context, from *app.App, recipe, by string) (string, error) {
	to := &caught{Library: p}
	if _, err := from.ZonesWanted(ctx, to, recipe, by); err != nil {
		return "", err
	}
	return p.WantZones(ctx, path.Base(recipe), to.files, by)
}

func (p atServer) Made(ctx context.Context, id string) (io.ReadCloser, error) {
	t, err := p.TaskOf(ctx, id)
	if err != nil {
		return nil, err
	}
	from, err := p.TaskResult(ctx, id)
	if diag.KindOf(err) == diag.Conflict {
		err = nothingMade(t)
	}
	return from, err
}

func (p atServer) HoldsOf(ctx context.Context, job string) ([]app.Hold, error) {
	return p.Holds(ctx, job)
}

func (p atServer) PutOnHold(ctx context.Context, job, by, reason string) (app.Hold, error) {
	return p.BeginHold(ctx, job, by, reason)
}

func (p atServer) LetGo(ctx context.Context, hold string) (app.Hold, error) {
	return p.EndHold(ctx, hold)
}

func (p atServer) Printed(ctx context.Context, leaves int64) (datafolder.Printed, error) {
	note, key, err := p.Checkpoint(ctx, leaves)
	if err != nil {
		return datafolder.Printed{}, err
	}
	return datafolder.Print(note, key)
}

// Writer is whom the token is of: nobody writes in another's name.
func (p atServer) Writer(ctx context.Context) (string, error) {
	me, err := p.Me(ctx)
	return me.Person, err
}

func (p atServer) Name() string { return p.URL() }
func (p atServer) Flag() string { return "--server " + p.URL() }
func (p atServer) Hint() string { return "'fettle jobs' lists those of the server" }
