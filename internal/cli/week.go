package cli

import (
	"context"
	"fmt"
	"path/filepath"
	"regexp"
	"time"

	"fettle/internal/app"
)

type weekCmd struct {
	Jobs   []string `arg:"" help:"Folders of jobs of one shop."`
	JSON   bool     `name:"json" help:"Print the schedule as JSON."`
	Sheets string   `help:"Write the day sheets of each job by this schedule into this folder, a file for each." placeholder:"DIR"`
	On     string   `help:"Plan from the morning of this day on (year-month-day); today unless given." placeholder:"DATE"`
}

func (weekCmd) Help() string {
	return `Several jobs of a shop in one schedule: the same people, bays and equipment, what is recorded as done left out, what is under way first. Dates that were promised with an agreed bill are kept as far as they can be.

Example:

  fettle week fettle-demo/job fettle-demo/sound-job --on 2026-11-26
  fettle week fettle-demo/job --sheets week --on 2026-11-26
`
}

// schedule is the week, with its day sheets where they are asked for.
func (c weekCmd) schedule(ctx context.Context, a *app.App, when time.Time) (app.WeekView, []app.WeekSheet, error) {
	if c.Sheets != "" {
		return a.WeekSheets(ctx, slashes(c.Jobs), when)
	}
	view, err := a.Week(ctx, slashes(c.Jobs), when)
	return view, nil, err
}

// writeSheets writes the day sheets of jobs, each into a file that is called as the job; the
// characters that a file may not have in its name are left out of it.
func writeSheets(dir string, sheets []app.WeekSheet) error {
	for i, s := range sheets {
		name := unsafeInNames.ReplaceAllString(s.Job, "")
		if err := writeFile(filepath.Join(dir, fmt.Sprintf("%d-%s.html", i+1, name)), s.Page); err != nil {
			return err
		}
	}
	return nil
}

var unsafeInNames = regexp.MustCompile(`[^A-Za-z0-9_-]`)

func (c weekCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Refused, err
	}
	ctx, clear := env.work()
	view, sheets, err := c.schedule(ctx, a, when)
	clear()
	if err != nil {
		return Refused, err
	}
	if err := writeSheets(c.Sheets, sheets); err != nil {
		return Refused, err
	}
	if c.JSON {
		err = printJSON(env.Stdout, view)
	} else {
		_, err = fmt.Fprint(env.Stdout, view.Text(column))
	}
	if view.Blocked {
		return Blocked, err
	}
	return Done, err
}
