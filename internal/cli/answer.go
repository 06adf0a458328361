package cli

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type answerCmd struct {
	Job        string            `arg:"" help:"Folder of the job."`
	Question   string            `arg:"" help:"Number of the question it answers."`
	Document   string            `required:"" help:"File with the manufacturer's own words; a copy goes into the job." placeholder:"FILE"`
	VIN        string            `name:"vin" required:"" help:"The vehicle, as the answer names it." placeholder:"NUMBER"`
	Allow      []string          `help:"Treatments the answer allows." placeholder:"TREATMENT" sep:","`
	Forbid     []string          `help:"Treatments the answer forbids." placeholder:"TREATMENT" sep:","`
	When       map[string]string `help:"A condition that the finding has to meet, as in a row of a procedure; may be given several times." placeholder:"FACT=CONDITION" mapsep:"none"`
	Conditions string            `help:"Conditions it holds under, in its own words." placeholder:"TEXT"`
	By         string            `required:"" help:"Who answered: a role, not a name." placeholder:"ROLE"`
	Dated      string            `required:"" help:"Day of the answer (year-month-day)." placeholder:"DATE"`
	Expires    string            `required:"" help:"Day from which it no longer holds." placeholder:"DATE"`
	RecordedBy string            `required:"" help:"Person of the shop file who records it." placeholder:"PERSON"`
	On         string            `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (answerCmd) Help() string {
	return `Puts the answer and its document, with the hash, into the job; every other byte of job.yaml stays as it is. Refused when the question was not sent, the document is not there, the answer is for another vehicle, or the person may not record answers; then nothing is written.

Example:

  fettle answer fettle-demo/job Q-D10 --document fettle-demo/job/evidence/answer-d10.txt --vin ZZZBPVL4XTN000317 --forbid "leave" --by "engineering desk" --dated 2026-11-25 --expires 2027-02-01 --recorded-by P1 --on 2026-11-26
`
}

func (c answerCmd) run(env Env, a *app.App) (code int, err error) {
	given := app.Given{Question: c.Question, VIN: c.VIN, Allow: c.Allow, Forbid: c.Forbid, When: c.When, Conditions: c.Conditions, By: c.By, Document: filepath.ToSlash(c.Document), RecordedBy: c.RecordedBy}
	for _, d := range []struct {
		text string
		into *unit.Date
	}{{c.Dated, &given.Dated}, {c.Expires, &given.Expires}} {
		if err := d.into.UnmarshalText([]byte(d.text)); err != nil {
			return Usage, &diag.Error{Kind: diag.Usage, Op: "answer", Subject: d.text, Msg: "is not a date", Hint: "write year-month-day, for example 2026-11-26"}
		}
	}
	return recording(env, a, c.Job, c.On, func(opened *app.Opened, result app.Assessment) (app.Recorded, error) {
		recorded, err := a.Answer(opened, result, given)
		return recorded, asTyped(err, "fettle answer", answerOptions)
	})
}

// recording puts something on record in a job, whose folder is locked from before the job
// is read until it is written, and says what.
func recording(env Env, a *app.App, job, on string, do func(*app.Opened, app.Assessment) (app.Recorded, error)) (code int, err error) {
	f, err := jobFolder(env, a, job)
	if err != nil {
		return Refused, err
	}
	code = Refused
	err = f.within(func() error {
		opened, result, err := assessOn(env, a, job, on)
		if err != nil {
			return err
		}
		recorded, err := do(opened, result)
		if err == nil {
			err = putOnRecord(env, a, f, opened, recorded)
		}
		if err != nil {
			return err
		}
		code = Done
		_, err = fmt.Fprintln(env.Stdout, recorded.Text)
		return err
	})
	return code, err
}

// jobFolder is the folder of a job, locked from before the job is read until it
// is written: whoever comes second reads what the first has written. That of a stored job is
// not: what is written says what it has seen.
func jobFolder(env Env, a *app.App, job string) (*folder, error) {
	dir, err := a.JobDir(filepath.ToSlash(job))
	if err != nil {
		return nil, err
	}
	if env.at != nil {
		return unlockedFolder(".")
	}
	if a.IsStored(dir) {
		return unlockedFolder(filepath.FromSlash(dir))
	}
	return lockedFolder(filepath.FromSlash(dir))
}

// writeRecorded writes the files one after the other: new ones, job.yaml, and then those that
// take the place of others, without which job.yaml says less but nothing wrong. Nothing is
// written unless job.yaml and those are what they were when they were read, and no other file
// is written over; what was written is taken back when a later one fails.
func writeRecorded(f *folder, r app.Recorded) (err error) {
	main := r.Files[len(r.Files)-1]
	var fresh, replaced []app.NewFile
	for _, x := range r.Files[:len(r.Files)-1] {
		if x.Replaces {
			replaced = append(replaced, x)
		} else {
			fresh = append(fresh, x)
		}
	}
	replaced = append([]app.NewFile{{Name: main.Name, Data: main.Data, Replaces: true, Was: r.Was}}, replaced...)
	for _, x := range replaced {
		if err := unchanged(f, x); err != nil {
			return err
		}
	}
	for i, x := range fresh {
		if f.has(x.Name) {
			return errors.Join(&diag.Error{Kind: diag.Conflict, Op: "write", Subject: f.path(x.Name), Msg: "is there already; nothing was recorded", Hint: "try again"}, takeBack(f, fresh[:i]))
		}
		if err := f.write(x.Name, x.Data); err != nil {
			return errors.Join(err, takeBack(f, fresh[:i]))
		}
	}
	for i, x := range replaced {
		if err := f.write(x.Name, x.Data); err != nil {
			return errors.Join(err, putBack(f, replaced[:i]), takeBack(f, fresh))
		}
	}
	return nil
}

// unchanged refuses a file that is not what it was when it was read.
func unchanged(f *folder, x app.NewFile) error {
	if x.Was == nil && !f.has(x.Name) {
		return nil
	}
	now, err := f.state(x.Name, int64(len(x.Was))+1)
	if err != nil {
		return err
	}
	if !bytes.Equal(now, x.Was) {
		return &diag.Error{Kind: diag.Conflict, Op: "write", Subject: f.path(x.Name), Msg: "somebody has changed it in the meantime; nothing was recorded", Hint: "try again"}
	}
	return nil
}

// putBack writes what there was in the place of what was written for nothing.
func putBack(f *folder, files []app.NewFile) error {
	var errs []error
	for _, x := range files {
		if x.Was == nil {
			errs = append(errs, f.remove(x.Name))
		} else {
			errs = append(errs, f.write(x.Name, x.Was))
		}
	}
	return errors.Join(errs...)
}

// takeBack removes files that were written for nothing.
func takeBack(f *folder, files []app.NewFile) error {
	var errs []error
	for _, x := range files {
		errs = append(errs, f.remove(x.Name))
	}
	return errors.Join(errs...)
}
