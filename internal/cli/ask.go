package cli

import (
	"fmt"
	"path/filepath"
	"sort"

	"fettle/internal/app"
)

type askCmd struct {
	Job     string `arg:"" help:"Folder of the job."`
	Finding string `arg:"" help:"The finding to ask about, or the number of a question."`
	Out     string `required:"" help:"Folder for the question's files." placeholder:"DIR"`
	SentBy  string `help:"Record in the job that this person of the shop file sent it today." placeholder:"PERSON"`
	On      string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (askCmd) Help() string {
	return `Writes the question as text and as a page with the drawing of the finding, and copies its photos. It needs nothing else: send the folder. Nothing is changed in the job without --sent-by: once it is sent, give that, or write the lines that are printed into job.yaml.

Example:

  fettle ask fettle-demo/job F8 --out fettle-demo/question --on 2026-11-26
`
}

func (c askCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	q, err := a.Ask(opened, result, c.Finding)
	if err != nil {
		return Refused, err
	}
	names := make([]string, 0, len(q.Files))
	for n := range q.Files {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		full := filepath.Join(c.Out, filepath.FromSlash(n))
		if err := writeFile(full, q.Files[n]); err != nil {
			return Refused, err
		}
		fmt.Fprintln(env.Stdout, "Written: "+full)
	}
	fmt.Fprintf(env.Stdout, "Question %s: %s.\n", q.Question.ID, q.Question.State)
	if c.SentBy != "" {
		recorded, err := a.Sent(opened, result, q.Question, c.SentBy)
		if err != nil {
			return Refused, err
		}
		if err := writeRecorded(recorded); err != nil {
			return Refused, err
		}
		fmt.Fprintf(env.Stdout, "Recorded: sent by %s.\n", c.SentBy)
		return Done, nil
	}
	if q.Question.State != app.Waiting && q.Question.State != app.Answered {
		fmt.Fprintf(env.Stdout, "Once it is sent, write into job.yaml:\n%s\n", q.Record)
	}
	return Done, nil
}
