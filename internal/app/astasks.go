package app

import (
	"context"
	"io"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// TaskVerify reads everything that is kept and holds it against the log.
const TaskVerify TaskKind = "verify"

// ofStore says that work is about the store as a whole.
func ofStore(k TaskKind) bool { return k == TaskSweep || k == TaskScan || k == TaskVerify }

// WantTask asks for work: about a job, or about the store.
func (s *As) WantTask(ctx context.Context, kind TaskKind, id, on string) (string, error) {
	if ofStore(kind) {
		if _, err := s.may(right.LookAfterStore, s.inShop()); err != nil {
			return "", err
		}
		if id != "" {
			return "", &diag.Error{Kind: diag.Usage, Op: "ask for work", Subject: string(kind), Msg: "is about the whole store, and no job", Hint: "leave the job out"}
		}
		return s.In.Want(ctx, Wanted{Kind: kind, By: s.who.Person})
	}
	if kind != TaskAssess && kind != TaskFiles && kind != TaskNext {
		return "", &diag.Error{Kind: diag.Usage, Op: "ask for work", Subject: string(kind), Msg: "there is no such work", Hint: "ask for assess, files, next, sweep, scan or verify"}
	}
	if _, err := s.job(ctx, id, right.Assess); err != nil {
		return "", err
	}
	day, err := s.today(on)
	if err != nil {
		return "", err
	}
	w, err := AboutJob(kind, id, s.who.Person, day)
	if err != nil {
		return "", err
	}
	return s.In.Want(ctx, w)
}

// WantZones keeps a recipe and its mesh, and asks for zones to be made.
func (s *As) WantZones(ctx context.Context, recipe string, files map[string][]byte) (string, error) {
	if _, err := s.may(right.LoadBody, s.inShop()); err != nil {
		return "", err
	}
	w, err := s.reading(files).ZonesWanted(ctx, s.In, recipe, s.who.Person)
	if err == nil {
		err = s.In.NoteBrought(ctx, s.of.ID, w.About)
	}
	if err != nil {
		return "", err
	}
	return s.In.Want(ctx, w)
}

// seesTask says whether work is about something of the shop.
func (s *As) seesTask(ctx context.Context, t Task) error {
	switch {
	case ofStore(t.Kind):
		_, err := s.may(right.LookAfterStore, s.inShop())
		if diag.KindOf(err) == diag.Denied {
			return nothing()
		}
		return err
	case t.Kind == TaskZones:
		return s.knows(ctx, t.About)
	}
	owner, err := s.In.OwnerOf(ctx, t.About)
	if err == nil && !s.owns(owner) {
		err = nothing()
	}
	return hidden(err)
}

// task is work of the shop that they may do something about.
func (s *As) task(ctx context.Context, id string, a right.Act) (Task, error) {
	if _, err := s.may(a, s.inShop()); err != nil {
		return Task{}, err
	}
	t, err := s.In.TaskOf(ctx, id)
	if err != nil {
		return Task{}, hidden(err)
	}
	return t, s.seesTask(ctx, t)
}

// Task is one piece of work.
func (s *As) Task(ctx context.Context, id string) (Task, error) {
	return s.task(ctx, id, right.SeeTasks)
}

// ListedTasks is work of the shop, newest first, and behind which piece the next page begins; empty: there is none.
func (s *As) ListedTasks(ctx context.Context, q TaskQuery) (out []Task, below string, err error) {
	if _, err := s.may(right.SeeTasks, s.inShop()); err != nil {
		return nil, "", err
	}
	all, err := s.In.ListTasks(ctx, q)
	if err != nil {
		return nil, "", err
	}
	for _, t := range all {
		err := s.seesTask(ctx, t)
		if err == nil {
			out = append(out, t)
		} else if diag.KindOf(err) != diag.NotFound {
			return nil, "", err
		}
		below = t.ID
	}
	if len(all) < q.Most {
		below = ""
	}
	return out, below, nil
}

// StopTask has work stopped, and AgainTask has it done again.
func (s *As) StopTask(ctx context.Context, id string) error {
	if _, err := s.task(ctx, id, right.StopTasks); err != nil {
		return err
	}
	return s.In.StopTask(ctx, id)
}

// AgainTask has work done again that has failed or was stopped.
func (s *As) AgainTask(ctx context.Context, id string) error {
	if _, err := s.task(ctx, id, right.StopTasks); err != nil {
		return err
	}
	return s.In.Again(ctx, id)
}

// TaskResult is what work has made.
func (s *As) TaskResult(ctx context.Context, id string) (Task, io.ReadCloser, int64, error) {
	t, err := s.task(ctx, id, right.SeeTasks)
	if err == nil && t.Kind != TaskZones && !ofStore(t.Kind) {
		_, err = s.job(ctx, t.About, right.ReadReport)
	}
	if err == nil && t.Result == "" {
		err = &diag.Error{Kind: diag.Conflict, Op: "fetch", Subject: id, Msg: "it has made nothing yet", Hint: "wait until it is done"}
	}
	if err != nil {
		return t, nil, 0, err
	}
	r, size, err := s.In.Get(ctx, t.Result)
	return t, r, size, hidden(err)
}
