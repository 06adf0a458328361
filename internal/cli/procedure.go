package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/unit"
)

type procedureCmd struct {
	Diff   procedureDiffCmd   `cmd:"" help:"Say in words what changed from one revision to another, and which findings it decides differently."`
	Table  procedureTableCmd  `cmd:"" help:"The rows of a procedure as a table, a row a line; or take the rows from one."`
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

type procedureTableCmd struct {
	Procedure string `arg:"" help:"Procedure file."`
	Take      string `help:"Put the rows of this table (CSV) in the place of the file's own." placeholder:"FILE"`
}

func (procedureTableCmd) Help() string {
	return `Prints the rows as CSV, for a spreadsheet: a column for each fact, and for what a row allows, forbids and asks, how it is done and what is inspected afterwards. With --take the rows of the procedure file are replaced; everything else in it stays as it is. Exit code 3 when the file's own tests do not come out with them: change its tests likewise.

Examples:

  fettle procedure table fettle-demo/body/procedures/br-fc-d.yaml > rows.csv
  fettle procedure table fettle-demo/body/procedures/br-fc-d.yaml --take rows.csv
`
}

func (c procedureTableCmd) run(env Env, a *app.App) (int, error) {
	if c.Take != "" {
		return c.take(env, a)
	}
	table, err := a.RowTable(filepath.ToSlash(c.Procedure))
	if err != nil {
		return Refused, err
	}
	_, err = env.Stdout.Write(table)
	return Done, err
}

func (c procedureTableCmd) take(env Env, a *app.App) (int, error) {
	f, err := parentOf(c.Procedure)
	if err != nil {
		return Refused, err
	}
	var r app.TakenRows
	err = f.within(func() (err error) {
		if r, err = a.TakeRowTable(filepath.ToSlash(c.Procedure), filepath.ToSlash(c.Take)); err != nil || r.Same {
			return err
		}
		return f.write(filepath.Base(c.Procedure), r.Text)
	})
	if err != nil {
		return Refused, err
	}
	if r.Same {
		fmt.Fprintf(env.Stdout, "%s has these rows already\n", c.Procedure)
	} else {
		fmt.Fprintf(env.Stdout, "%s has %s now\n", c.Procedure, unit.Count(r.Rows, "row"))
	}
	if len(r.Faults) > 0 {
		tell(env.Stderr, r.Faults)
		return Blocked, nil
	}
	return Done, nil
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
