package app

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/release"
)

// evidenceHash is the hash of a file in the folder of a job.
func (a *App) evidenceHash(c *Opened, file string) (string, error) {
	if c.alone {
		return "", errors.New("the job was opened from its store, and no folder lies beside it")
	}
	hash, _, err := a.sum(c.From, file, evidence)
	return hash, err
}

// evidence is a file of the job's folder as it is now, under its hash.
func (t *taken) evidence(e Entry) (any, string, error) {
	file := strings.TrimSpace(e.Value)
	all := append(slices.Clone(t.c.Job.Evidence), recordsOf[job.Evidence](t)...)
	if file == "" {
		return nil, "value", errors.New("the row does not say which file; give its path in the folder of the job")
	}
	file = path.Clean(file)
	if strings.TrimSpace(e.Text) == "" {
		return nil, "text", errors.New("the row does not say what the file shows")
	}
	if k := slices.IndexFunc(all, func(x job.Evidence) bool { return path.Clean(x.File) == file }); k >= 0 {
		return nil, "value", fmt.Errorf("%s is evidence already, %s", file, all[k].ID)
	}
	if file == job.MainFile {
		return nil, "value", fmt.Errorf("%s is the record itself, and changes with this entry", file)
	}
	hash, err := t.hash(t.c, file)
	if err != nil {
		return nil, "value", fmt.Errorf("%s cannot be taken: %w", file, err)
	}
	return job.Evidence{ID: freeID("E", all, func(x job.Evidence) string { return x.ID }), File: file, SHA256: hash, Text: e.Text, By: e.By, On: e.On}, "value", nil
}

// noted is a piece of evidence with the hash of its file as it is now, in the place of its
// entry. Who took it and when stays as it was.
func (t *taken) noted(w release.Wanted, e Entry) (any, string, error) {
	if strings.TrimSpace(e.Value) != "as recorded" {
		return nil, "value", fmt.Errorf("%q is not 'as recorded'", e.Value)
	}
	k := slices.IndexFunc(t.c.Job.Evidence, func(x job.Evidence) bool { return x.ID == w.About })
	if k < 0 {
		return nil, "about", fmt.Errorf("the job has no evidence %q", w.About)
	}
	x := t.c.Job.Evidence[k]
	if e.On.Before(x.On) {
		return nil, "on", fmt.Errorf("it is of %s, and %s is of %s", e.On, x.ID, x.On)
	}
	hash, err := t.hash(t.c, x.File)
	if err != nil {
		return nil, "value", fmt.Errorf("%s cannot be taken: %w", x.File, err)
	}
	x.SHA256 = hash
	return job.Changed{List: "evidence", At: k, Item: x}, "value", nil
}
