package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type assessCmd struct {
	Job  string `arg:"" help:"Folder of the job (it holds job.yaml)."`
	Out  string `help:"Folder for report.html, cards.html, assessment.json and the order list; JOB/result unless given." placeholder:"DIR" xor:"files"`
	JSON bool   `name:"json" help:"Print the assessment as JSON; files are written only with --out."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`

	NoReport bool `help:"Print the summary only: draw and write no report, cards or order list." xor:"files"`

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
	if result.History, err = a.History(slashes(c.Earlier)); err != nil {
		return Refused, err
	}
	out := c.Out
	if out == "" && !c.JSON && !c.NoReport {
		out = filepath.Join(filepath.FromSlash(opened.Dir), "result")
	}
	var file string
	if out != "" {
		if file, err = writeResult(a, opened, result, out); err != nil {
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

// summarise prints the answers in short, and where the report is if one was
// written.
func summarise(env Env, a *app.App, c *app.Case, r app.Assessment, file string) {
	fmt.Fprint(env.Stdout, a.Summary(c, r, 80))
	if file != "" {
		fmt.Fprintln(env.Stdout, "Report: "+file)
	}
}

// assessOn assesses a job as of the day a person gave; today unless given.
func assessOn(env Env, a *app.App, dir, on string) (*app.Case, app.Assessment, error) {
	when, err := env.day(on)
	if err != nil {
		return nil, app.Assessment{}, err
	}
	return assessJob(env, a, dir, when)
}

// assessJob opens a job and runs the chain on it.
func assessJob(env Env, a *app.App, dir string, when time.Time) (*app.Case, app.Assessment, error) {
	progress := env.progress()
	defer func() {
		if progress != nil {
			progress("")
		}
	}()
	opened, err := a.Open(filepath.ToSlash(dir), progress)
	if err != nil {
		return nil, app.Assessment{}, err
	}
	return opened, a.Assess(opened, when, progress), nil
}

// writeResult writes report.html, assessment.json and, where a route is picked,
// its step cards as cards.html and its order list as order.csv and order.xlsx. It says where the report is.
func writeResult(a *app.App, c *app.Case, r app.Assessment, dir string) (string, error) {
	page, err := a.Report(c, r)
	if err != nil {
		return "", err
	}
	data, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return "", err
	}
	file := filepath.Join(dir, "report.html")
	if err := writeFile(filepath.Join(dir, "assessment.json"), append(data, '\n')); err != nil {
		return "", err
	}
	if err := errors.Join(writeOrder(a, c, r, dir), writeCards(a, c, r, dir)); err != nil {
		return "", err
	}
	return file, writeFile(file, page)
}

// writeOrder writes the order list of the picked route. Without one the lists of
// an earlier run are taken away, so that nobody orders from them.
func writeOrder(a *app.App, c *app.Case, r app.Assessment, dir string) error {
	csv, xlsx := filepath.Join(dir, "order.csv"), filepath.Join(dir, "order.xlsx")
	route, err := a.Picked(c, r, "")
	if diag.KindOf(err) == diag.NotFound {
		return errors.Join(removeFile(csv), removeFile(xlsx))
	}
	if err != nil {
		return err
	}
	sheet := a.OrderSheet(c, r, route)
	text, err := sheet.CSV()
	if err != nil {
		return err
	}
	book, err := sheet.XLSX()
	if err != nil {
		return err
	}
	return errors.Join(writeFile(csv, text), writeFile(xlsx, book))
}

// writeCards writes the step cards of the picked route. Without one, or when it
// has no steps, those of an earlier run are taken away: nobody works from them.
func writeCards(a *app.App, c *app.Case, r app.Assessment, dir string) error {
	file := filepath.Join(dir, "cards.html")
	route, err := a.Picked(c, r, "")
	if diag.KindOf(err) == diag.NotFound || err == nil && len(route.Plan.Steps) == 0 {
		return removeFile(file)
	}
	if err != nil {
		return err
	}
	page, err := a.Cards(c, r, route)
	if err != nil {
		return err
	}
	return writeFile(file, page)
}

// removeFile takes a file away if it is there.
func removeFile(p string) error {
	if err := os.Remove(p); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

type explainCmd struct {
	Job  string `arg:"" help:"Folder of the job."`
	What string `arg:"" help:"A control point, finding, risk, route, step, part, material or price line; ROUTE/NAME for a route that is not the best."`
	JSON bool   `name:"json" help:"Print the reasons as JSON."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (explainCmd) Help() string {
	return `Example:

  fettle explain fettle-demo/job F2 --on 2026-11-26
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
	fmt.Fprint(env.Stdout, tree)
	return Done, nil
}

type checkCmd struct {
	Path string `arg:"" help:"A job, a body, a shop file, or a folder that holds them."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (checkCmd) Help() string {
	return `Every fault is told at once, with what would be right. Exit code 1 when there is any.

Example:

  fettle check fettle-demo --on 2026-11-26
`
}

func (c checkCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	found, err := a.Check(filepath.ToSlash(c.Path), unit.DateOf(when))
	if err != nil {
		return Refused, err
	}
	for _, d := range found.Documents {
		fmt.Fprintln(env.Stdout, "sound: "+d)
	}
	for _, n := range found.Notes {
		fmt.Fprintf(env.Stdout, "%s: %s: %s\n", n.Severity, n.Where, n.Text)
	}
	return Done, nil
}
