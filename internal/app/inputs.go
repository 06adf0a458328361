package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"sort"

	"fettle/internal/body"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Input is a file that an assessment was made from.
type Input struct {
	Role   string `json:"role"` // body, shop, job, evidence or earlier job
	File   string `json:"file"` // path from the folder of the job
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Roles of an input.
const (
	roleBody     = "body"
	roleShop     = "shop"
	roleJob      = "job"
	roleEvidence = "evidence"
	roleEarlier  = "earlier job"
)

// Build is the program that computed something, as exactly as it knows itself.
type Build struct {
	Version       string `json:"version"`       // release, with the commit where it is known
	Module        string `json:"module"`        // module path
	ModuleVersion string `json:"moduleVersion"` // as it was fetched or stamped; (devel) from a folder
	Commit        string `json:"commit"`
	Committed     string `json:"committed"`
	Tree          string `json:"tree"` // clean, changed or unknown
	Go            string `json:"go"`
	OS            string `json:"os"`
	Arch          string `json:"arch"`   // with its level
	SHA256        string `json:"sha256"` // of the program's own file
}

// WithBuild lets every assessment say which program made it.
func (a *App) WithBuild(build func() Build) *App {
	a.build = build
	return a
}

func (a *App) thisBuild() Build {
	if a.build == nil {
		return Build{Version: a.version, Tree: "unknown"}
	}
	return a.build()
}

// inputsOf names files as they were read, in the order of their names.
func inputsOf(role string, files map[string][]byte) []Input {
	out := make([]Input, 0, len(files))
	for name, data := range files {
		sum := sha256.Sum256(data)
		out = append(out, Input{role, name, int64(len(data)), hex.EncodeToString(sum[:])})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].File < out[j].File })
	return out
}

// inFolderOf names inputs from the folder of the job.
func inFolderOf(dir string, list []Input) []Input {
	out := make([]Input, len(list))
	for i, x := range list {
		x.File = path.Join(dir, x.File)
		out[i] = x
	}
	return out
}

// inputs is every file that an opened job was read from.
func (c *Opened) inputs() []Input {
	out := append([]Input{}, c.jobFiles...)
	out = append(out, inFolderOf(c.Job.Body, c.bodyFiles)...)
	for _, x := range c.shopFiles {
		x.File = path.Clean(c.Job.Shop)
		out = append(out, x)
	}
	for _, e := range c.Evidence {
		out = append(out, Input{roleEvidence, path.Clean(e.File), e.Bytes, e.SHA256})
	}
	return out
}

// inputsNow is every input of a job that can be read, also where the job as a
// whole cannot be opened.
func (a *App) inputsNow(w *halt.Work, dir string) []Input {
	c := Opened{From: dir}
	if err := a.readJob(w, &c); err != nil {
		return c.jobFiles
	}
	if files, err := a.filesOf(w, &c, dir, c.Job.Body, a.readFolder); err == nil {
		c.bodyFiles = inputsOf(roleBody, files)
	}
	if files, err := a.filesOf(w, &c, dir, c.Job.Shop, a.shopFile); err == nil {
		c.shopFiles = inputsOf(roleShop, files)
	}
	for _, e := range c.Job.Evidence {
		if hash, n, err := a.sumOf(w.Context(), &c, e); err == nil {
			c.Evidence = append(c.Evidence, Evidence{ID: e.ID, File: e.File, Bytes: n, SHA256: hash})
		}
	}
	return c.inputs()
}

// WithEarlier adds the times of earlier jobs, and names their files among the
// inputs. A job is named by where its folder lies from the folder of this one.
func (a *App) WithEarlier(ctx context.Context, r Assessment, jobs, names []string) (Assessment, error) {
	return while(ctx, func(w *halt.Work) (Assessment, error) { return a.withEarlier(w, r, jobs, names) })
}

func (a *App) withEarlier(w *halt.Work, r Assessment, jobs, names []string) (Assessment, error) {
	if len(jobs) == 0 {
		return r, nil
	}
	history, opened, err := a.history(w, jobs, r.Made)
	if err != nil {
		return r, err
	}
	r.History, r.EarlierJobs = history, names
	r.Inputs = append([]Input{}, r.Inputs...)
	for i, c := range opened {
		for _, x := range c.inputs() {
			r.Inputs = append(r.Inputs, Input{roleEarlier, path.Join(names[i], x.File), x.Bytes, x.SHA256})
		}
	}
	return r, nil
}

// ReadingRecord is a reading as it was read.
type ReadingRecord struct {
	Line    int      `json:"line"` // in readings.csv
	Setup   string   `json:"setup"`
	Kind    string   `json:"kind"`
	From    string   `json:"from"`
	To      string   `json:"to,omitempty"`
	XMM     *float64 `json:"xMm,omitempty"`
	YMM     *float64 `json:"yMm,omitempty"`
	ZMM     *float64 `json:"zMm,omitempty"`
	ValueMM *float64 `json:"valueMm,omitempty"`
	StdMM   *float64 `json:"stdMm,omitempty"`
	StdXMM  *float64 `json:"stdXMm,omitempty"`
	StdYMM  *float64 `json:"stdYMm,omitempty"`
	StdZMM  *float64 `json:"stdZMm,omitempty"`
}

// Nominal is a published control point as it was read.
type Nominal struct {
	ID        string   `json:"id"`
	Name      string   `json:"name"`
	XMM       float64  `json:"xMm"`
	YMM       float64  `json:"yMm"`
	ZMM       float64  `json:"zMm"`
	TolMM     *float64 `json:"tolMm,omitempty"`
	TolXMM    *float64 `json:"tolXMm,omitempty"`
	TolYMM    *float64 `json:"tolYMm,omitempty"`
	TolZMM    *float64 `json:"tolZMm,omitempty"`
	StdMM     *float64 `json:"stdMm,omitempty"`
	Section   string   `json:"section,omitempty"`
	Mirror    string   `json:"mirror,omitempty"`
	Reference bool     `json:"reference"`
	Part      string   `json:"part,omitempty"`
}

// known is a value, or nil where it is not known.
func known(v unit.Maybe[float64]) *float64 {
	if !v.Known {
		return nil
	}
	return &v.Value
}

func readingRecords(list []job.Reading) []ReadingRecord {
	out := make([]ReadingRecord, 0, len(list))
	for _, r := range list {
		out = append(out, ReadingRecord{r.Line, r.Setup, string(r.Kind), string(r.From), string(r.To), known(r.X), known(r.Y), known(r.Z), known(r.Value), known(r.Std), known(r.StdX), known(r.StdY), known(r.StdZ)})
	}
	return out
}

func nominals(list []body.Point) []Nominal {
	out := make([]Nominal, 0, len(list))
	for _, p := range list {
		out = append(out, Nominal{string(p.ID), p.Name, p.X, p.Y, p.Z, known(p.Tol), known(p.TolX), known(p.TolY), known(p.TolZ), known(p.Std), string(p.Section), string(p.Mirror), p.Reference, string(p.Part)})
	}
	return out
}

// String is a build in a line.
func (b Build) String() string {
	return fmt.Sprintf("%s (%s %s, commit %s, tree %s, %s, %s/%s)", b.Version, b.Module, b.ModuleVersion, orAbsent(b.Commit), b.Tree, b.Go, b.OS, b.Arch)
}
