package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"

	"fettle/internal/app"
	"fettle/internal/diag"
)

type askCmd struct {
	Job     string `arg:"" help:"Folder of the job."`
	Finding string `arg:"" help:"The finding or control point to ask about, or the number of a question."`
	Out     string `required:"" help:"Folder for the question's files." placeholder:"DIR"`
	SentBy  string `help:"Record in the job that this person of the shop file sent it today." placeholder:"PERSON"`
	On      string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (askCmd) Help() string {
	return `Writes the question about a finding or a control point as text and as a page with the drawing of the finding, and copies its photos. It needs nothing else: send the folder. Nothing is changed in the job without --sent-by: once it is sent, give that.

Example:

  fettle ask fettle-demo/job D8 --out fettle-demo/question --on 2026-11-26
`
}

func (c askCmd) run(env Env, a *app.App) (int, error) {
	if c.SentBy == "" {
		return c.ask(env, a, nil)
	}
	f, err := jobFolder(env, a, c.Job)
	if err != nil {
		return Refused, err
	}
	code := Refused
	err = f.within(func() (err error) {
		code, err = c.ask(env, a, f)
		return err
	})
	return code, err
}

// ask writes the question and, where the folder of the job is given, locked,
// records in it that it was sent.
func (c askCmd) ask(env Env, a *app.App, job *folder) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	q, err := a.Ask(env.context(), opened, result, c.Finding)
	if err != nil {
		return Refused, err
	}
	if err := c.write(env, a, job, q); err != nil {
		return Refused, err
	}
	fmt.Fprintf(env.Stdout, "Question %s: %s.\n", q.Question.ID, q.Question.State)
	if job != nil {
		recorded, err := a.Sent(opened, result, q.Question, c.SentBy)
		if err != nil {
			return Refused, asTyped(err, "fettle ask", askOptions)
		}
		if err := putOnRecord(env, a, job, opened, recorded); err != nil {
			return Refused, err
		}
		fmt.Fprintf(env.Stdout, "Recorded: sent by %s.\n", c.SentBy)
		q.Question.State = app.Waiting
		c.tellNext(env, q)
		return Done, nil
	}
	c.tellNext(env, q)
	return Done, nil
}

// tellNext says what to do with the question, and which command records what follows.
func (c askCmd) tellNext(env Env, q app.QuestionFiles) {
	switch q.Question.State {
	case app.Answered:
	case app.Waiting:
		fmt.Fprintf(env.Stdout, "The answer is recorded by:\n  fettle answer %s %s --document FILE --vin NUMBER --allow KIND --by ROLE --dated DATE --expires DATE --recorded-by PERSON\n", c.Job, q.Question.ID)
	default:
		fmt.Fprintf(env.Stdout, "Send what is in %s: it needs nothing else. Once it is sent, this records that, and what was told:\n  fettle ask %s %s --out %s --sent-by PERSON\n", c.Out, c.Job, c.Finding, c.Out)
	}
}

// write writes the files of the question and copies what goes with it. Evidence
// of another question that lies there under the same name is not written over.
func (c askCmd) write(env Env, a *app.App, job *folder, q app.QuestionFiles) error {
	out, err := outFolder(c.Out, job)
	if err != nil {
		return err
	}
	names := make([]string, 0, len(q.Files))
	for n := range q.Files {
		names = append(names, n)
	}
	sort.Strings(names)
	return out.within(func() error {
		for _, n := range names {
			if _, err := out.state(n, 0); err != nil {
				return err
			}
		}
		for _, x := range q.Copies {
			if err := c.enclose(env, a, out, x); err != nil {
				return err
			}
		}
		for _, n := range names {
			if err := out.write(n, q.Files[n]); err != nil {
				return err
			}
			fmt.Fprintln(env.Stdout, "Written: "+out.path(filepath.FromSlash(n)))
		}
		for _, x := range q.Copies {
			fmt.Fprintln(env.Stdout, "Written: "+out.path(filepath.FromSlash(x.Name)))
		}
		return nil
	})
}

// enclose copies one piece of evidence.
func (c askCmd) enclose(env Env, a *app.App, out *folder, x app.Enclosed) error {
	if out.has(x.Name) {
		have, err := out.sum(x.Name)
		if err != nil {
			return err
		}
		if have != x.SHA256 {
			return &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: out.path(filepath.FromSlash(x.Name)), Msg: "is there already and is another file", Hint: "give another folder with --out"}
		}
		return nil
	}
	return out.writeFrom(x.Name, func(w io.Writer) error { return a.CopyEnclosed(env.context(), x, w) })
}

// outFolder is the folder for what is written; the folder of the job when that
// is meant, which is locked already.
func outFolder(name string, job *folder) (*folder, error) {
	if job != nil {
		a, err := os.Stat(name)
		if err == nil {
			b, err := job.root.Stat(".")
			if err == nil && os.SameFile(a, b) {
				return &folder{name: job.name, root: job.root, borrowed: true}, nil
			}
		}
	}
	return openFolder(name)
}
