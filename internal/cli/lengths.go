package cli

import (
	"fmt"
	"math"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/job"
)

type lengthsCmd struct {
	Job     string   `arg:"" help:"Folder of the job."`
	Page    string   `help:"Write the page to be printed and filled in to this HTML file." placeholder:"FILE"`
	Stage   string   `default:"before" enum:"before,during,after" help:"Before, during or after the repair."`
	Std     *float64 `help:"Standard uncertainty in millimetres of one length read with the gauge; that of the job's lengths unless given." placeholder:"MM"`
	Longest float64  `help:"Longest length in millimetres that the gauge reads; any unless given." placeholder:"MM"`
	Most    int      `default:"24" help:"So many lengths at most; 24 fit on the page." placeholder:"N"`
	JSON    bool     `name:"json" help:"Print them as JSON."`
	On      string   `help:"Date the page with this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (lengthsCmd) Help() string {
	return `Which lengths to take next with a tape or a tram gauge: first those that contradict others again, then, point by point, those that give it a place and decide its tolerance with the fewest readings, last those that show a wrong reading of another. Nothing is changed in the job.

The page is one sheet of A4 with a table to be filled in by hand. What was written down goes into the job as readings of kind length.

Example:

  fettle lengths fettle-demo/job --stage after --std 0.5 --page lengths.html --on 2026-11-26
`
}

func (c lengthsCmd) run(env Env, a *app.App) (int, error) {
	o := app.LengthsOptions{Stage: job.Stage(c.Stage), LongestMM: c.Longest, Most: c.Most}
	if c.Most < 1 || c.Most > app.MostLengths {
		return Usage, wrongUse("lengths", "--most", "is not from 1 to 24", "24 lengths fit on the page")
	}
	if !(c.Longest >= 0) || math.IsInf(c.Longest, 0) {
		return Usage, wrongUse("lengths", "--longest", "is not a length", "write for example --longest 2500")
	}
	if c.Std != nil {
		if !(*c.Std > 0) || math.IsInf(*c.Std, 0) {
			return Usage, wrongUse("lengths", "--std", "is not a number above zero", "write for example --std 0.5")
		}
		o.StdMM = *c.Std
	}
	made, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	opened, err := a.Open(env.context(), filepath.ToSlash(c.Job))
	if err != nil {
		return Refused, err
	}
	next, err := a.NextLengths(env.context(), opened, o)
	if err != nil {
		return Refused, err
	}
	if c.Page != "" {
		page, err := a.LengthsPage(opened, next, made)
		if err == nil {
			err = writeFile(c.Page, page)
		}
		if err != nil {
			return Refused, err
		}
	}
	if c.JSON {
		return Done, printJSON(env.Stdout, next)
	}
	_, err = fmt.Fprint(env.Stdout, a.LengthsText(opened, next, column))
	return Done, err
}
