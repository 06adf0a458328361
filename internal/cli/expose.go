package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
)

type exposeCmd struct {
	Job     string   `arg:"" help:"Folder of the job."`
	Sheet   string   `help:"Write the sheet to open the vehicle up by and to fill in at it to this HTML file." placeholder:"FILE"`
	Off     []string `help:"Parts that are off already." placeholder:"PART"`
	Earlier []string `help:"Folders of earlier jobs: what was found in them where this one is to be inspected." placeholder:"DIR"`
	JSON    bool     `name:"json" help:"Print the plan, its stages and its bill as JSON."`
	On      string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (exposeCmd) Help() string {
	return `What has to come off so that every area that is not inspected yet can be, as a plan of its own, before any treatment is chosen: in stages, the cheapest next, with steps, minutes, money and what is lost for looking. Areas to which the body's data give no way are named and stay open. Then a first estimate for whoever pays: sums over what may be found, with the chances that the job's risks have; where nobody gave one that is said.

Exit code 3 while an area stays open, or something blocks.

Example:

  fettle expose fettle-demo/job --on 2026-11-26
  fettle expose fettle-demo/job --off P-BUMPER --sheet opening.html --on 2026-11-26
`
}

func (c exposeCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Refused, err
	}
	ctx, clear := env.work()
	opened, err := a.Open(ctx, filepath.ToSlash(c.Job))
	if err != nil {
		clear()
		return Refused, err
	}
	x, err := a.Expose(ctx, opened, c.Off, slashes(c.Earlier), when)
	clear()
	if err != nil {
		return Refused, err
	}
	if c.Sheet != "" {
		page, err := a.ExposedSheet(env.context(), opened, x, when)
		if err == nil {
			err = writeFile(c.Sheet, page)
		}
		if err != nil {
			return Refused, err
		}
	}
	if c.JSON {
		err = printJSON(env.Stdout, x)
	} else {
		_, err = fmt.Fprint(env.Stdout, a.ExposedText(opened, x, column))
	}
	if x.Blocked() {
		return Blocked, err
	}
	return Done, err
}
