package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/unit"
)

type procedureCmd struct {
	Diff   procedureDiffCmd   `cmd:"" help:"Say in words what changed from one revision to another, and which findings it decides differently."`
	Replay procedureReplayCmd `cmd:"" help:"Decide open jobs under a new revision and list those that change, and in which direction."`
}

type procedureDiffCmd struct {
	Old  string   `arg:"" help:"Procedure file of the older revision."`
	New  string   `arg:"" help:"Procedure file of the newer revision."`
	Jobs []string `help:"Jobs, or folders that hold jobs, whose findings are decided under both." placeholder:"DIR" sep:","`
	JSON bool     `name:"json" help:"Print the differences as JSON."`
	On   string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (procedureDiffCmd) Help() string {
	return `Nothing is changed. Give --jobs several times, or separated by commas. Exit code 1 when a job could not be decided.

Example:

  fettle procedure diff fettle-demo/body/procedures/br-fc-c.yaml fettle-demo/body/procedures/br-fc-d.yaml --jobs fettle-demo --on 2026-11-26
`
}

func (c procedureDiffCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	ctx, clear := env.work()
	r, err := a.DiffProcedures(ctx, filepath.ToSlash(c.Old), filepath.ToSlash(c.New), app.Replaying{Jobs: slashes(c.Jobs), On: unit.DateOf(when)})
	clear()
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return replayCode(r), printJSON(env.Stdout, r)
	}
	fmt.Fprint(env.Stdout, a.ReplayText(r, column))
	return replayCode(r), nil
}

type procedureReplayCmd struct {
	Procedure string   `required:"" help:"Procedure file of the new revision." placeholder:"FILE"`
	Jobs      []string `arg:"" help:"Jobs, or folders that hold jobs."`
	JSON      bool     `name:"json" help:"Print the result as JSON."`
	On        string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (procedureReplayCmd) Help() string {
	return `Each job is decided under the revision that is in force for it and under the new one. Nothing is changed. Where the findings of a job lie is kept from its last assessment or replay in the folder FETTLE_CACHE (off: nothing is kept; otherwise the user's cache folder) and used again only while nothing has changed. Exit code 1 when a job could not be decided.

Example:

  fettle procedure replay --procedure fettle-demo/body/procedures/br-fc-d.yaml fettle-demo --on 2026-09-01
`
}

func (c procedureReplayCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	ctx, clear := env.work()
	r, err := a.Replay(ctx, filepath.ToSlash(c.Procedure), app.Replaying{Jobs: slashes(c.Jobs), On: unit.DateOf(when)})
	clear()
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return replayCode(r), printJSON(env.Stdout, r)
	}
	fmt.Fprint(env.Stdout, a.ReplayText(r, column))
	return replayCode(r), nil
}

func replayCode(r app.Replayed) int {
	if r.Failed() > 0 {
		return Refused
	}
	return Done
}

func slashes(paths []string) []string {
	out := make([]string, len(paths))
	for i, p := range paths {
		out[i] = filepath.ToSlash(p)
	}
	return out
}
