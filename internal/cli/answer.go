package cli

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type answerCmd struct {
	Job        string   `arg:"" help:"Folder of the job."`
	Question   string   `arg:"" help:"Number of the question it answers."`
	Document   string   `required:"" help:"File with the manufacturer's own words; a copy goes into the job." placeholder:"FILE"`
	VIN        string   `name:"vin" required:"" help:"The vehicle, as the answer names it." placeholder:"NUMBER"`
	Allow      []string `help:"Treatments the answer allows." placeholder:"TREATMENT" sep:","`
	Forbid     []string `help:"Treatments the answer forbids." placeholder:"TREATMENT" sep:","`
	Conditions string   `help:"Conditions it holds under, in its own words." placeholder:"TEXT"`
	By         string   `required:"" help:"Who answered: a role, not a name." placeholder:"ROLE"`
	Dated      string   `required:"" help:"Day of the answer (year-month-day)." placeholder:"DATE"`
	Expires    string   `required:"" help:"Day from which it no longer holds." placeholder:"DATE"`
	RecordedBy string   `required:"" help:"Person of the shop file who records it." placeholder:"PERSON"`
	On         string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (answerCmd) Help() string {
	return `Puts the answer and its document, with the hash, into the job; every other byte of job.yaml stays as it is. Refused when the question was not sent, the document is not there, the answer is for another vehicle, or the person may not record answers; then nothing is written.

Example:

  fettle answer fettle-demo/job Q-F10 --document fettle-demo/job/evidence/answer-f10.txt --vin ZZZBPVL4XTN000317 --forbid "leave" --by "engineering desk" --dated 2026-11-25 --expires 2027-02-01 --recorded-by P1 --on 2026-11-26
`
}

func (c answerCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	given := app.Given{Question: c.Question, VIN: c.VIN, Allow: c.Allow, Forbid: c.Forbid, Conditions: c.Conditions, By: c.By, Document: filepath.ToSlash(c.Document), RecordedBy: c.RecordedBy}
	for _, d := range []struct {
		text string
		into *unit.Date
	}{{c.Dated, &given.Dated}, {c.Expires, &given.Expires}} {
		if err := d.into.UnmarshalText([]byte(d.text)); err != nil {
			return Usage, &diag.Error{Kind: diag.Usage, Op: "answer", Subject: d.text, Msg: "is not a date", Hint: "write year-month-day, for example 2026-11-26"}
		}
	}
	recorded, err := a.Answer(opened, result, given)
	if err != nil {
		return Refused, err
	}
	if err := writeRecorded(recorded); err != nil {
		return Refused, err
	}
	fmt.Fprintln(env.Stdout, recorded.Text)
	return Done, nil
}

// writeRecorded writes the files one after the other, job.yaml last and only
// if nobody has changed it since it was read.
func writeRecorded(r app.Recorded) error {
	for i, f := range r.Files {
		p := filepath.FromSlash(f.Path)
		if i == len(r.Files)-1 {
			now, err := os.ReadFile(p)
			if err != nil {
				return notWritten(p, err)
			}
			if !bytes.Equal(now, r.Was) {
				return &diag.Error{Kind: diag.Conflict, Op: "write", Subject: p, Msg: "somebody has changed it in the meantime; nothing was recorded", Hint: "try again"}
			}
		}
		if err := writeFile(p, f.Data); err != nil {
			return err
		}
	}
	return nil
}
