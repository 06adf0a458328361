package cli

import (
	"encoding/json"
	"fmt"
	"io"

	"fettle/internal/app"
	"fettle/internal/unit"
)

type planCmd struct {
	Job    string `arg:"" help:"Folder of the job."`
	Route  string `help:"Route to be shown; the chosen or best one unless given." placeholder:"ID"`
	Agree  string `help:"Print the entry for job.yaml, or of a stored job the record for fettle put, that keeps this bill as agreed by WHO; nothing is written." placeholder:"WHO"`
	Sheets string `help:"Write the day sheets for the bay to this HTML file, one for each person and day; they say DO NOT START while the route may not be started." placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Print the route, its plan, its bill and the order list as JSON."`
	On     string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (planCmd) Help() string {
	return `What comes off, every step with its day, person and bay, what to order and what it costs.

Example:

  fettle plan fettle-demo/job --route section-LINE-2 --on 2026-11-26
  fettle plan fettle-demo/job --sheets sheets.html --on 2026-11-26
`
}

func (c planCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	route, err := a.Picked(opened, result, c.Route)
	if err != nil {
		return Refused, err
	}
	if c.Agree != "" {
		entry, err := a.Agreement(opened, result, route, c.Agree, unit.DateOf(result.Made))
		if err != nil {
			return Refused, err
		}
		_, err = fmt.Fprint(env.Stdout, entry)
		return Done, err
	}
	if c.Sheets != "" {
		page, err := a.Sheets(env.context(), opened, result, route)
		if err == nil {
			err = writeFile(c.Sheets, page)
		}
		if err != nil {
			return Refused, err
		}
	}
	view := a.PlanView(opened, result, route)
	if c.JSON {
		err = printJSON(env.Stdout, view)
	} else {
		_, err = fmt.Fprint(env.Stdout, view.Text(column))
	}
	if view.Blocked() {
		return Blocked, err
	}
	return blockedCode(result), err
}

type routesCmd struct {
	Job  string `arg:"" help:"Folder of the job."`
	JSON bool   `name:"json" help:"Print every route with its plan and bill as JSON."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (routesCmd) Help() string {
	return `Every way through, ranked: money, days, open questions, what changes from one to the next, and why some are excluded.

Example:

  fettle routes fettle-demo/job --on 2026-11-26
`
}

func (c routesCmd) run(env Env, a *app.App) (int, error) {
	_, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		err = printJSON(env.Stdout, result.Compare)
	} else {
		_, err = fmt.Fprint(env.Stdout, a.RoutesText(result, column))
	}
	return blockedCode(result), err
}

// printJSON prints a result as people and programs can read it.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// blockedCode is the exit code of a command that was done.
func blockedCode(r app.Assessment) int {
	if r.Blocked {
		return Blocked
	}
	return Done
}

type historyCmd struct {
	Jobs []string `arg:"" help:"Folders of jobs."`
	JSON bool     `name:"json" help:"Print it as JSON."`
	On   string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (historyCmd) Help() string {
	return `What steps really took over several jobs: median and middle half by step, what they took over what was planned, and the minutes per millimetre where the step has a length. All times of a step in a job are one sample; records that do not count are left out, which is said. Shown, never applied.

Example:

  fettle history fettle-demo/job fettle-demo/sound-job
`
}

func (c historyCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Refused, err
	}
	h, err := a.History(env.context(), slashes(c.Jobs), when)
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return Done, printJSON(env.Stdout, h)
	}
	_, err = fmt.Fprint(env.Stdout, app.HistoryText(h, column))
	return Done, err
}
