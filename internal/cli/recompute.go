package cli

import (
	"fmt"
	"path/filepath"

	"fettle/internal/app"
)

type recomputeCmd struct {
	File    string   `arg:"" help:"An assessment.json as fettle assess wrote it."`
	Job     string   `arg:"" optional:"" help:"Folder of the job; where the file lies in JOB/result, that job unless given."`
	Earlier []string `help:"Folders of the earlier jobs whose times it shows." placeholder:"DIR"`
	JSON    bool     `name:"json" help:"Print all that differs as JSON."`
}

func (recomputeCmd) Help() string {
	return `Computes an assessment again from the folder of its job, for the moment it was made for, and says whether every input byte and every figure is the same, which inputs differ, which program made it, and which figures changed: path, was, is. Exit code 0 when inputs and figures are the same (whatever the build), 3 when something differs, 1 when the file is no whole assessment or the job cannot be opened any more.

Example:

  fettle recompute fettle-demo/job/result/assessment.json
`
}

func (c recomputeCmd) run(env Env, a *app.App) (int, error) {
	job := c.Job
	if job == "" {
		job = filepath.Dir(filepath.Dir(c.File))
	}
	dir, err := a.JobDir(filepath.ToSlash(job))
	if err != nil {
		return Refused, err
	}
	ctx, clear := env.work()
	r, err := a.Recompute(ctx, filepath.ToSlash(c.File), dir, slashes(c.Earlier), fromJob(dir, c.Earlier))
	clear()
	if err != nil {
		if len(r.Inputs) > 0 {
			fmt.Fprint(env.Stdout, r.Text(column))
		}
		return Refused, err
	}
	if c.JSON {
		err = printJSON(env.Stdout, r)
	} else {
		_, err = fmt.Fprint(env.Stdout, r.Text(column))
	}
	switch {
	case err != nil:
		return Refused, err
	case !r.Same:
		return Blocked, nil
	}
	return Done, nil
}
