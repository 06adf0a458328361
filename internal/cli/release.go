package cli

import (
	"fmt"

	"fettle/internal/app"
)

type releaseCmd struct {
	Job  string `arg:"" help:"Folder of the job."`
	JSON bool   `name:"json" help:"Print the list as JSON."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (releaseCmd) Help() string {
	return `Says what is still missing before the vehicle may be handed back: what blocks, what the chosen route waits for, decisions that nobody accepted or reviewed, steps that are not on record as done, and inspections, hold points, measurements, torques and adhesives that are not on record, not accepted, or dated before what they prove. Nothing is changed. Exit code 3 until nothing is missing.

Example:

  fettle release fettle-demo/job --on 2026-11-26
`
}

func (c releaseCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	r := a.Release(opened, result)
	if c.JSON {
		err = printJSON(env.Stdout, r)
	} else {
		_, err = fmt.Fprint(env.Stdout, a.ReleaseText(r, column))
	}
	if err != nil {
		return Refused, err
	}
	if !r.Ready() {
		return Blocked, nil
	}
	return Done, nil
}
