package cli

import (
	"fmt"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

type releaseCmd struct {
	Job  string `arg:"" help:"Folder of the job."`
	JSON bool   `name:"json" help:"Print the list as JSON."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`

	HandBack bool   `name:"hand-back" help:"Record that the vehicle was handed back on that day, if nothing is missing." xor:"act"`
	To       string `help:"To whom: owner, agent of the owner, agent of the payer or carrier; never a name." placeholder:"WHOM"`
	By       string `help:"Who signs: a person of the shop file who may review." placeholder:"PERSON"`
	Second   string `help:"A second person who signs; asked for where the first gave proofs of the repair." placeholder:"PERSON"`
	Text     string `help:"A remark."`
	Reopen   string `help:"Open a job again whose vehicle was handed back, for this reason." placeholder:"REASON" xor:"act"`
}

func (releaseCmd) Help() string {
	return `Says what is still missing before the vehicle may be handed back: what blocks, what the chosen route waits for, decisions that nobody accepted or reviewed, steps that are not on record as done, and inspections, hold points, measurements, torques and adhesives that are not on record, not accepted, or dated before what they prove. Nothing is changed. Exit code 3 until nothing is missing.

With --hand-back it records that the vehicle was handed back, to whom and who signs, only where nothing is missing on that day and the day has come. From then on nothing of the repair is written over, and it says whether anything was changed since all the same. --reopen opens the job again, with the reason.

Example:

  fettle release fettle-demo/job --on 2026-11-26
  fettle release fettle-demo/rear-job --hand-back --to owner --by T3
  fettle release fettle-demo/rear-job --reopen "The door rattles" --by P1
`
}

func (c releaseCmd) run(env Env, a *app.App) (int, error) {
	if c.HandBack || c.Reopen != "" {
		return c.record(env, a)
	}
	if c.To+c.By+c.Second+c.Text != "" {
		return Usage, &diag.Error{Kind: diag.Usage, Op: "release", Subject: "fettle release", Msg: "who signs, to whom and remarks belong to a hand-back or a reopening", Hint: "give --hand-back or --reopen too"}
	}
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

// record puts a hand-back on record, or a reopening.
func (c releaseCmd) record(env Env, a *app.App) (int, error) {
	today := unit.DateOf(env.Now())
	return recording(env, a, c.Job, c.On, func(opened *app.Opened, result app.Assessment) (app.Recorded, error) {
		if c.HandBack {
			return a.HandBack(opened, result, job.HandBack{To: job.Receiver(c.To), By: c.By, Second: c.Second, Text: c.Text}, today)
		}
		return a.Reopen(opened, c.By, c.Reopen, unit.DateOf(result.Made), today)
	})
}
