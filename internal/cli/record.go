package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
)

type recordCmd struct {
	Job   string `arg:"" help:"Folder of the job."`
	Blank string `help:"Write what is open to this table (CSV), a row each, with blanks to fill in." placeholder:"FILE" xor:"list"`
	Take  string `help:"Add the rows of this table that name a person to the job." placeholder:"FILE" xor:"list"`
	On    string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (recordCmd) Help() string {
	return `Says which entries of the job are open: a route to be chosen, treatments to be accepted, a review, a procedure to be looked up, steps, hold points, figures, torques, bonds, what has to be seen, inspections and what penetrant showed, inspection areas that nobody has seen, dangers to be made safe, set-ups and readings of control points after the repair, the hash of evidence that has none, and deliveries and new promises, with what each has to be. Evidence is taken too: a row "evidence" names a file in the folder of the job, and its hash is recorded; so are set-ups and readings of every stage, and what came of materials. A danger made safe, an area that is not covered and evidence without a hash are changed where they stand. It proposes nothing that a person has to see, read or sign. With --blank they are written to a table; fill in who, when and what it was, in a spreadsheet or by hand, and give it back with --take: the rows that name a person are added to the job, all of them or none, and every other byte of job.yaml stays as it is.

Example:

  fettle record fettle-demo/job --on 2026-11-26
  fettle record fettle-demo/job --blank open.csv --on 2026-11-26
`
}

func (c recordCmd) run(env Env, a *app.App) (code int, err error) {
	if c.Take != "" {
		return c.take(env, a)
	}
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	entries := a.OpenEntries(opened, result)
	if c.Blank == "" {
		_, err = fmt.Fprint(env.Stdout, a.EntriesText(opened, entries, column))
		return Done, err
	}
	if err := writeFile(c.Blank, app.EncodeEntries(entries)); err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintf(env.Stdout, "Wrote %d open entries to %s.\n", len(entries), c.Blank)
	return Done, err
}

// take adds the rows of a list to the job.
func (c recordCmd) take(env Env, a *app.App) (int, error) {
	return recording(env, a, c.Job, c.On, func(opened *app.Opened, result app.Assessment) (app.Recorded, error) {
		return a.Record(opened, result, filepath.ToSlash(c.Take))
	})
}
