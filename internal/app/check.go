package app

import (
	"context"
	"errors"
	"fmt"
	"path"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// Checked is what Check looked at.
type Checked struct {
	Documents []string    // what was found and judged
	Notes     []diag.Note // remarks that are not faults
}

// Check reads whatever lies at the path: a job, a body, a shop file, or a
// folder that holds several of them. The error is diag.Problems with every
// fault found; a procedure that has expired on the day is one.
func (a *App) Check(ctx context.Context, p string, on unit.Date) (Checked, error) {
	return while(ctx, func(w *halt.Work) (Checked, error) { return a.check(w, p, on) })
}

func (a *App) check(w *halt.Work, p string, on unit.Date) (Checked, error) {
	p = path.Clean(p)
	var out Checked
	if !a.files.Exists(p) {
		return out, &diag.Error{Kind: diag.NotFound, Op: "check", Subject: p, Msg: "there is no such file or folder", Hint: "give a job, body or shop"}
	}
	found, err := a.documents(w, p, on)
	if err != nil {
		return out, err
	}
	if len(found) == 0 {
		return out, &diag.Error{Kind: diag.Invalid, Op: "check", Subject: p, Msg: "nothing to check",
			Hint: "a job holds job.yaml or events.jsonl, a body holds body.yaml, a shop is shop.yaml"}
	}
	var problems diag.Problems
	seen := map[diag.Problem]bool{}
	for _, d := range found {
		notes, with, err := d.check()
		out.Documents = append(out.Documents, d.what+" "+d.path+with)
		out.Notes = append(out.Notes, notes...)
		more, err := gather(nil, err)
		if err != nil {
			return out, err
		}
		for _, m := range more {
			said := m
			said.Remedy = nil // the same sentence asks for the same
			if !seen[said] {
				seen[said] = true
				problems = append(problems, m)
			}
		}
	}
	out.Notes = assess.Once(out.Notes)
	problems.Sort()
	return out, problems.OrNil()
}

// document is something that can be checked on its own.
type document struct {
	what, path string
	check      func() (notes []diag.Note, with string, err error)
}

func (a *App) documents(w *halt.Work, p string, on unit.Date) ([]document, error) {
	var names []string
	root := p
	if a.files.IsDir(p) {
		var err error
		if names, err = a.files.List(p); err != nil {
			return nil, notRead(p, aDocument, err, "check the path")
		}
	} else {
		root, names = path.Dir(p), []string{path.Base(p)}
	}
	shelf := newShelf() // jobs of one body do not read it each
	var out []document
	for _, n := range names {
		full := path.Join(root, n)
		switch path.Base(n) {
		case "body.yaml":
			out = append(out, document{"body", path.Dir(full), func() ([]diag.Note, string, error) {
				var c Opened
				err := a.shelvedBody(w, shelf, &c, path.Dir(full))
				if err == nil {
					c.Notes = append(append(c.Notes, gaps(c.Body)...), revise.Lacks(c.Body, on)...)
					err = expired(c.Body, path.Dir(full), on).OrNil()
				}
				return c.Notes, "", err
			}})
		case "shop.yaml":
			out = append(out, document{"shop", full, func() ([]diag.Note, string, error) {
				return nil, "", a.shelvedShop(shelf, &Opened{}, full)
			}})
		case job.MainFile, job.EventsFile:
			out = append(out, document{"job", path.Dir(full), func() ([]diag.Note, string, error) {
				c, err := a.open(w, full, shelf)
				if c == nil {
					return nil, "", err
				}
				if err == nil {
					err = a.stillKept(w, c)
				}
				if err == nil {
					faults := append(append(unreasoned(w, c, on), a.unsoundWork(w, c, on)...), expired(c.Body, beside(c.From, c.Job.Body), on)...)
					faults.Sort()
					err = faults.OrNil()
				}
				return append(c.Notes, job.TipNotes(c.Job.Findings)...), fmt.Sprintf(", with body %s and shop %s", a.where(c.From, c.Job.Body), a.where(c.From, c.Job.Shop)), err
			}})
		}
	}
	return out, nil
}

// where is where a document of a job lies, which may be anywhere: as the job
// names it and, when a link leads elsewhere, the place itself.
func (a *App) where(dir, file string) string {
	named := beside(dir, file)
	there, err := a.files.Real(named)
	if err != nil {
		return named // it has been read: only the other name of it is lost
	}
	straight, err := a.files.Real(dir)
	if err != nil || path.Join(straight, file) == there {
		return named
	}
	return named + " (a link to " + there + ")"
}

// unreasoned names treatments that were accepted without the reason they need,
// or though they are not allowed on the day.
func unreasoned(w *halt.Work, c *Opened, on unit.Date) diag.Problems {
	if len(c.Job.Accepted) == 0 {
		return nil
	}
	found := seen(w, c, c.Body, on)
	decided, _ := decide.Run(decide.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: found, Today: on, Measure: c.measuredOnce(w, on)})
	var problems diag.Problems
	for _, f := range decide.Acceptances(c.Job, decided) {
		field := ".treatment"
		if f.Note.Code == decide.CodeAcceptedUnreasoned {
			field = ""
		}
		problems = append(problems, c.Job.Problem(fmt.Sprintf("accepted[%d]%s", f.At, field), f.Note.Text, f.Note.Hint))
	}
	return located(problems, c.From)
}

// gaps is what a planner should know of the tables: facts no row speaks of,
// and rows that overrule one another.
func gaps(b *body.Body) []diag.Note {
	var out []diag.Note
	for _, p := range b.Procedures {
		out = append(out, revise.Gaps(b, p)...)
	}
	return out
}

// expired names castings without a procedure that may be relied on that day.
func expired(b *body.Body, dir string, on unit.Date) diag.Problems {
	var problems diag.Problems
	for _, c := range b.Castings {
		in, ok := b.ProcedureFor(c.ID, on)
		switch {
		case !ok:
			problems = append(problems, diag.Problem{File: path.Join(dir, "procedures"), Field: "casting " + string(c.ID),
				Msg: "no procedure is in force on " + on.String(), Hint: "add the manufacturer's current revision"})
		case in.Expired:
			problems = append(problems, diag.Problem{File: path.Join(dir, "procedures"), Field: string(in.Procedure.ID) + " revision " + in.Procedure.Revision,
				Msg:  "expired: it had to be looked up again before " + in.Procedure.Recheck.String(),
				Hint: "get the manufacturer's current revision, then set 'recheck_before'"})
		}
	}
	return problems
}

// stillKept says what a job stands on and its library does not have any more, though it is in memory still.
func (a *App) stillKept(w *halt.Work, c *Opened) error {
	var lost []error
	for _, name := range []string{c.Job.Body, c.Job.Shop} {
		hash, stored := job.NamedHash(name)
		if !stored {
			continue
		}
		if err := a.needsStore(c, c.From); err != nil {
			return err
		}
		if _, err := c.inLibrary(w, hash); err != nil {
			lost = append(lost, err)
		}
	}
	return errors.Join(lost...)
}
