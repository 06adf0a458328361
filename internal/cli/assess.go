package cli

import (
	"fmt"
	"path/filepath"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type assessCmd struct {
	Job  string `arg:"" help:"Folder of the job (it holds job.yaml or events.jsonl)."`
	Out  string `help:"Folder for report.html, owner.html, sheets.html, assessment.json and the order list; JOB/result unless given." placeholder:"DIR" xor:"files"`
	JSON bool   `name:"json" help:"Print the assessment as JSON; files are written only with --out."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`

	NoReport bool `help:"Print the summary only: draw and write no report, day sheets or order list." xor:"files"`

	Full bool `help:"Print the annex of the report too: every fact behind each finding."`

	Earlier []string `help:"Folders of earlier jobs, whose times are shown in the report." placeholder:"DIR"`
}

func (assessCmd) Help() string {
	return `Runs the whole chain on one job and writes the report. Nothing is changed in the job.

Example:

  fettle assess fettle-demo/job --on 2026-11-26
`
}

func (c assessCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	if result, err = a.WithEarlier(env.context(), result, slashes(c.Earlier), fromJob(opened.From, c.Earlier)); err != nil {
		return Refused, err
	}
	var file string
	if c.Out != "" || !c.JSON && !c.NoReport {
		if file, err = writeResult(env, a, opened, result, c.Out, c.Full); err != nil {
			return Refused, err
		}
	}
	if c.JSON {
		if err := printJSON(env.Stdout, result); err != nil {
			return Refused, err
		}
	} else {
		summarise(env, a, opened, result, file)
	}
	return blockedCode(result), nil
}

// fromJob is where folders lie from the folder of a job.
func fromJob(job string, dirs []string) []string {
	var out []string
	for _, d := range dirs {
		from, err := filepath.Abs(filepath.FromSlash(job))
		to, err2 := filepath.Abs(d)
		if rel, err3 := filepath.Rel(from, to); err == nil && err2 == nil && err3 == nil {
			d = rel
		}
		out = append(out, filepath.ToSlash(d))
	}
	return out
}

// summarise prints the answers in short, and where the report is if one was
// written.
func summarise(env Env, a *app.App, c *app.Opened, r app.Assessment, file string) {
	fmt.Fprint(env.Stdout, a.Summary(c, r, summaryWidth))
	if file != "" {
		fmt.Fprintln(env.Stdout, "Report: "+file)
	}
}

// assessOn assesses a job as of the day a person gave; today unless given.
func assessOn(env Env, a *app.App, dir, on string) (*app.Opened, app.Assessment, error) {
	when, err := env.day(on)
	if err != nil {
		return nil, app.Assessment{}, err
	}
	return assessJob(env, a, dir, when)
}

// assessJob opens a job and runs the chain on it.
func assessJob(env Env, a *app.App, dir string, when time.Time) (*app.Opened, app.Assessment, error) {
	ctx, clear := env.work()
	defer clear()
	opened, err := a.Open(ctx, filepath.ToSlash(dir))
	if err != nil {
		return nil, app.Assessment{}, err
	}
	r, err := a.AssessOpened(ctx, opened, when)
	return opened, r, err
}

// resultFolder is the folder for the results of a job, locked: one inside the
// job's folder is reached beneath that only.
func resultFolder(env Env, job, out string) (*folder, error) {
	if out == "" {
		out = filepath.Join(job, "result")
	}
	if inner, err := filepath.Rel(job, out); env.at == nil && err == nil && filepath.IsLocal(inner) && inner != "." {
		return openInside(job, inner)
	}
	return openFolder(out)
}

// writeResult writes report.html, in full if asked, owner.html, assessment.json and, where a
// route is picked, its day sheets as sheets.html and its order list as order.csv and
// order.xlsx. It says where the report is.
func writeResult(env Env, a *app.App, c *app.Opened, r app.Assessment, out string, full bool) (string, error) {
	ctx, clear := env.work()
	defer clear()
	f, err := resultFolder(env, filepath.FromSlash(c.From), out)
	if err != nil {
		return "", err
	}
	return f.path(app.ReportFile), f.within(func() error {
		if err := mayReplaceResult(f); err != nil {
			return err
		}
		made, err := a.ResultFiles(ctx, c, r, full)
		if err != nil {
			return err
		}
		return replaceResult(f, made)
	})
}

// replaceResult writes the files of a result in place of those of an earlier
// one. Order lists and day sheets that this one does not have are taken away, so that
// nobody orders or works from them. A folder that holds files of these names and
// no assessment is somebody's own, and is left alone.
func replaceResult(f *folder, made map[string][]byte) error {
	for _, n := range app.ResultNames {
		var err error
		if data, ok := made[n]; ok {
			err = f.write(n, data)
		} else {
			err = f.remove(n)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// mayReplaceResult says, before anything is drawn, why a result cannot be written
// into the folder.
func mayReplaceResult(f *folder) error {
	if !f.has(app.AssessmentFile) {
		for _, n := range app.ResultNames {
			if f.has(n) {
				return &diag.Error{Kind: diag.Conflict, Op: "write", Subject: f.path(n), Msg: "is there already, and no result of fettle beside it", Hint: "give another folder with --out"}
			}
		}
	}
	for _, n := range app.ResultNames {
		if _, err := f.state(n, 0); err != nil {
			return err
		}
	}
	return nil
}

type explainCmd struct {
	Job  string `arg:"" help:"Folder of the job."`
	What string `arg:"" help:"Anything by the name it is printed with, or a figure as it is printed (\"34.2 mm\"); ROUTE/NAME for a step, part or price line of a route that is not the one shown."`
	JSON bool   `name:"json" help:"Print the reasons as JSON."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (explainCmd) Help() string {
	return `Everything that is printed anywhere can be asked for: points, findings, zones, areas, section lines, rows of the procedure, inspections, set-ups, readings, devices, questions, answers, routes, steps, hold points, waits, joints, parts, materials, price lines, total-loss rules, chances, tenths, drivers, notes. The reasons lead down to the file and line of each input and to the citation of each rule. A name that means two things gives both; with its kind before it ("zone RAIL-L") it means one.

Examples:

  fettle explain fettle-demo/job D2 --on 2026-11-26
  fettle explain fettle-demo/job "zone RAIL-L" --on 2026-11-26
  fettle explain fettle-demo/job "57.6 mm" --on 2026-11-26
`
}

func (c explainCmd) run(env Env, a *app.App) (int, error) {
	opened, result, err := assessOn(env, a, c.Job, c.On)
	if err != nil {
		return Refused, err
	}
	tree, err := a.Explain(opened, result, c.What)
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return Done, printJSON(env.Stdout, tree)
	}
	fmt.Fprint(env.Stdout, tree.In(column))
	return Done, nil
}

type checkCmd struct {
	Path string `arg:"" help:"A job, a body, a shop file, or a folder that holds them."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (checkCmd) Help() string {
	return `Every fault is told at once, with what would be right. Exit code 1 when there is any. Notes are no faults: cases that no row of a procedure speaks of, and of what a body does not have, what that costs in answers.

Example:

  fettle check fettle-demo --on 2026-11-26
`
}

func (c checkCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	found, err := a.Check(env.context(), filepath.ToSlash(c.Path), unit.DateOf(when))
	if err == nil {
		for _, d := range found.Documents {
			fmt.Fprintln(env.Stdout, "sound: "+d)
		}
	}
	for _, n := range found.Notes { // of a mesh with faults too: they often say why
		fmt.Fprintf(env.Stdout, "%s: %s: %s\n", n.Severity, n.Where, n.Text)
	}
	if err != nil {
		return Refused, err
	}
	return Done, nil
}
