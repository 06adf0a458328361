package cli

import (
	"fmt"

	"fettle/internal/app"
)

type weekCmd struct {
	Jobs []string `arg:"" help:"Folders of jobs of one shop."`
	JSON bool     `name:"json" help:"Print the schedule as JSON."`
	On   string   `help:"Plan from the morning of this day on (year-month-day); today unless given." placeholder:"DATE"`
}

func (weekCmd) Help() string {
	return `Several jobs of a shop in one schedule: the same people, bays and equipment, what is recorded as done left out, what is under way first. Dates that were promised with an agreed bill are kept as far as they can be.

Example:

  fettle week fettle-demo/job fettle-demo/sound-job --on 2026-11-26
`
}

func (c weekCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Refused, err
	}
	progress := env.progress()
	view, err := a.Week(slashes(c.Jobs), when, progress)
	if progress != nil {
		progress("")
	}
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		err = printJSON(env.Stdout, view)
	} else {
		_, err = fmt.Fprint(env.Stdout, view)
	}
	if view.Blocked {
		return Blocked, err
	}
	return Done, err
}
