package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/unit"
)

type mayCmd struct {
	Procedure string   `arg:"" help:"Procedure file."`
	Known     []string `arg:"" optional:"" help:"What is known of the spot, each as NAME=VALUE." placeholder:"NAME=VALUE"`
	Table     bool     `help:"Print all that the procedure says of a zone: the rows, and the lengths at which it changes."`
	JSON      bool     `name:"json" help:"Print the answer as JSON."`
	On        string   `help:"Ask for this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (mayCmd) Help() string {
	return `May this crack be welded? The procedure file alone is asked about one spot: every treatment is allowed, forbidden, undecided or to be asked of the manufacturer, with the rows that say so. What is not given is not known, and never permits.

Names are the facts of the procedure (kind, zones, through, spacing, bore_clearance, ...). Lengths and temperatures are given with their expanded uncertainty (k = 2). length is the length along the surface as it was measured from tip to tip; the allowance of the procedure for tips seen by eye is added unless tips says otherwise. A distance to something that is not there is "none near".

Exit code 3 when no treatment is allowed.

Examples:

  fettle may fettle-demo/body/procedures/br-fc-d.yaml kind=crack zones=RAIL-L 'length=34 +- 2 mm' tips=penetrant 'spacing=none near' --on 2026-11-26
  fettle may fettle-demo/body/procedures/br-fc-d.yaml --table zones=RAIL-L kind=crack
`
}

func (c mayCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	if c.Table {
		return c.table(env, a, unit.DateOf(when))
	}
	r, err := a.May(env.context(), filepath.ToSlash(c.Procedure), c.Known, unit.DateOf(when))
	if err != nil {
		return Refused, err
	}
	code := Blocked
	if r.Permits() {
		code = Done
	}
	if c.JSON {
		return code, printJSON(env.Stdout, r)
	}
	fmt.Fprint(env.Stdout, a.MayText(r, column))
	return code, nil
}

func (c mayCmd) table(env Env, a *app.App, on unit.Date) (int, error) {
	t, err := a.MayTable(env.context(), filepath.ToSlash(c.Procedure), c.Known, on)
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return Done, printJSON(env.Stdout, t)
	}
	fmt.Fprint(env.Stdout, a.MayTableText(t, column))
	return Done, nil
}
