package app

import (
	"context"
	"path"
	"slices"
	"strings"
	"sync"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// Replayed is what a new revision of a procedure changes in some jobs.
type Replayed struct {
	Procedure string          `json:"procedure"`
	Revision  string          `json:"revision"`
	Day       unit.Date       `json:"day"`     // both revisions are judged as of this day
	Changes   []revise.Change `json:"changes"` // against the old revision; empty when every job has its own
	Jobs      []ReplayedJob   `json:"jobs"`
	Others    []string        `json:"others,omitempty"` // jobs in the same folders that are of another casting
}

// ReplayedJob is one job under both revisions.
type ReplayedJob struct {
	Dir     string          `json:"dir"`
	ID      string          `json:"id"`
	Against string          `json:"against"` // the old revision; empty: none was in force
	Decided int             `json:"findings"`
	Turned  []revise.Turned `json:"turned"`
	Failed  string          `json:"failed,omitempty"` // why the job could not be replayed

	other bool // its body has neither the casting nor the procedure
}

// Failed is how many jobs could not be replayed.
func (r Replayed) Failed() int {
	n := 0
	for _, j := range r.Jobs {
		if j.Failed != "" {
			n++
		}
	}
	return n
}

// Replaying is what a replay works on.
type Replaying struct {
	Jobs []string  // jobs, or folders that hold jobs
	On   unit.Date // the day both revisions are judged by, or the day the new one takes effect
}

// DiffProcedures says what changed between two procedure files, and which
// findings of the jobs they decide differently.
func (a *App) DiffProcedures(ctx context.Context, oldFile, newFile string, with Replaying) (Replayed, error) {
	old, err := a.readProcedure(oldFile)
	if err != nil {
		return Replayed{}, err
	}
	fresh, err := a.readProcedure(newFile)
	if err != nil {
		return Replayed{}, err
	}
	out := Replayed{Procedure: string(fresh.ID), Revision: fresh.Revision, Day: later(with.On, fresh.Effective), Changes: append([]revise.Change{}, revise.Diff(*old, *fresh)...)}
	return while(ctx, func(w *halt.Work) (Replayed, error) { return a.replay(w, out, old, *fresh, with) })
}

// Replay decides the jobs under a new revision and under the one that is in
// force for each of them on the day.
func (a *App) Replay(ctx context.Context, newFile string, with Replaying) (Replayed, error) {
	fresh, err := a.readProcedure(newFile)
	if err != nil {
		return Replayed{}, err
	}
	out := Replayed{Procedure: string(fresh.ID), Revision: fresh.Revision, Day: later(with.On, fresh.Effective)}
	return while(ctx, func(w *halt.Work) (Replayed, error) { return a.replay(w, out, nil, *fresh, with) })
}

func later(a, b unit.Date) unit.Date {
	if a.Before(b) {
		return b
	}
	return a
}

func (a *App) replay(w *halt.Work, out Replayed, old *body.Procedure, fresh body.Procedure, with Replaying) (Replayed, error) {
	dirs, err := a.jobDirs(with.Jobs)
	if err != nil {
		return out, err
	}
	r := &replaying{app: a, work: w, shelf: newShelf(), old: old, fresh: fresh, on: with.On, day: out.Day, pairs: map[*body.Body]*pair{}}
	for i, dir := range dirs {
		w.Begin(Replays) // reading the one before was told as that
		w.Part(i, len(dirs))
		out.Jobs = append(out.Jobs, r.job(dir))
	}
	out.setApart(with.Jobs)
	return out, nil
}

// setApart takes the jobs of another casting out of the list; those that were named themselves
// stay, and so do all where none is of this casting.
func (r *Replayed) setApart(named []string) {
	var of []ReplayedJob
	var others []string
	for _, j := range r.Jobs {
		if j.other && !slices.ContainsFunc(named, func(n string) bool { return path.Clean(n) == path.Clean(j.Dir) }) {
			others = append(others, j.Dir)
		} else {
			of = append(of, j)
		}
	}
	if len(of) > 0 {
		r.Jobs, r.Others = of, others
	}
}

// seen is where the findings lie under the procedures of a body.
func seen(w *halt.Work, c *Opened, b *body.Body, day unit.Date) inspect.Result {
	return seenBy(w, c, b, day, day)
}

// asOnRecord is the same with everything on record, whenever it was done: a
// replay asks what a revision would say of it.
func asOnRecord(w *halt.Work, c *Opened, b *body.Body, day unit.Date) inspect.Result {
	return seenBy(w, c, b, day, job.Whenever)
}

func seenBy(w *halt.Work, c *Opened, b *body.Body, day, acts unit.Date) inspect.Result {
	w.Begin(Inspecting)
	r, _ := inspect.Run(inspect.Input{Work: w, Body: b, Job: c.Job, Vehicle: c.Vehicle, Shop: c.Shop, Today: day, Acts: acts, Axes: c.on(day).Axes()})
	return r
}

// measuredOnce measures the control points of a job when that is asked for, and once.
func (c *Opened) measuredOnce(w *halt.Work, day unit.Date) func() measure.Result {
	return sync.OnceValue(func() measure.Result {
		in := c.on(day)
		in.Work = w
		r, _ := measure.Run(in.Measure(job.StageBefore))
		return r
	})
}

// readProcedure reads one procedure file and runs the tests inside it.
func (a *App) readProcedure(file string) (*body.Procedure, error) {
	p, _, err := a.procedureText(file)
	if err != nil {
		return nil, err
	}
	return p, testFaults(path.Clean(file), p).OrNil()
}

// testFaults is the tests of a procedure file that do not come out.
func testFaults(file string, p *body.Procedure) diag.Problems {
	var out diag.Problems
	for _, f := range revise.TestProcedure(*p, 0) {
		f.File = file
		out = append(out, f)
	}
	out.Sort()
	return out
}

// jobDirs is the folders of jobs: each path is a job, or a folder that holds
// some.
func (a *App) jobDirs(paths []string) ([]string, error) {
	var out []string
	seen := map[string]bool{}
	for _, p := range paths {
		p = path.Clean(p)
		dirs := []string{strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(p, job.MainFile), job.EventsFile), "/")}
		if !a.files.Exists(path.Join(dirs[0], job.MainFile)) && !a.IsStored(dirs[0]) {
			if dirs = a.jobsBelow(p); len(dirs) == 0 {
				return nil, &diag.Error{Kind: diag.NotFound, Op: "replay", Subject: p, Msg: "there is no job here", Hint: "give folders of jobs, which hold job.yaml or events.jsonl, or a folder of such folders"}
			}
		}
		for _, d := range dirs {
			if !seen[d] {
				seen[d] = true
				out = append(out, d)
			}
		}
	}
	return out, nil
}
