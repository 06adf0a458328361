package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type procedureCmd struct {
	Diff   procedureDiffCmd   `cmd:"" help:"Say in words what changed from one revision to another, and which findings it decides differently."`
	Replay procedureReplayCmd `cmd:"" help:"Decide open jobs under a new revision and list those that change, and in which direction."`
}

type procedureDiffCmd struct {
	Old  string   `arg:"" help:"Procedure file of the older revision."`
	New  string   `arg:"" help:"Procedure file of the newer revision."`
	Jobs []string `help:"Jobs, or folders that hold jobs, whose findings are decided under both." placeholder:"DIR" sep:","`
	JSON bool     `name:"json" help:"Print the differences as JSON."`
	On   string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (procedureDiffCmd) Help() string {
	return `Nothing is changed. Give --jobs several times, or separated by commas. Exit code 1 when a job could not be decided.

Example:

  fettle procedure diff fettle-demo/body/procedures/br-fc-c.yaml fettle-demo/body/procedures/br-fc-d.yaml --jobs fettle-demo --on 2026-11-26
`
}

func (c procedureDiffCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	progress := env.progress()
	r, err := a.DiffProcedures(filepath.ToSlash(c.Old), filepath.ToSlash(c.New), app.Replaying{Jobs: slashes(c.Jobs), On: unit.DateOf(when)}, progress)
	if progress != nil {
		progress("")
	}
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		return replayCode(r), printJSON(env.Stdout, r)
	}
	fmt.Fprint(env.Stdout, a.ReplayText(r, 96))
	return replayCode(r), nil
}

type procedureReplayCmd struct {
	Procedure string   `required:"" help:"Procedure file of the new revision." placeholder:"FILE"`
	Jobs      []string `arg:"" help:"Jobs, or folders that hold jobs."`
	Cache     string   `help:"File that keeps where the findings of each job lie, for the next replay." placeholder:"FILE"`
	JSON      bool     `name:"json" help:"Print the result as JSON."`
	On        string   `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
}

func (procedureReplayCmd) Help() string {
	return `Each job is decided under the revision that is in force for it and under the new one. Nothing is changed. With --cache only what has changed since the last replay is found out again: keep the file where only those may write who may change the program. Exit code 1 when a job could not be decided.

Example:

  fettle procedure replay --procedure fettle-demo/body/procedures/br-fc-d.yaml fettle-demo --on 2026-09-01
`
}

func (c procedureReplayCmd) run(env Env, a *app.App) (int, error) {
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	cache, err := openCache(c.Cache, a.Version())
	if err != nil {
		return Refused, err
	}
	progress := env.progress()
	r, err := a.Replay(filepath.ToSlash(c.Procedure), app.Replaying{Jobs: slashes(c.Jobs), On: unit.DateOf(when), Cache: cache}, progress)
	if progress != nil {
		progress("")
	}
	if err != nil {
		return Refused, err
	}
	if err := saveCache(c.Cache, cache); err != nil {
		return Refused, err
	}
	if c.JSON {
		return replayCode(r), printJSON(env.Stdout, r)
	}
	fmt.Fprint(env.Stdout, a.ReplayText(r, 96))
	return replayCode(r), nil
}

func replayCode(r app.Replayed) int {
	if r.Failed() > 0 {
		return Refused
	}
	return Done
}

func slashes(paths []string) []string {
	out := make([]string, len(paths))
	for i, p := range paths {
		out[i] = filepath.ToSlash(p)
	}
	return out
}

// openCache reads the file of a cache; nil when none was asked for. A program
// that was built anew knows nothing of what another build found.
func openCache(file, version string) (*app.ReplayCache, error) {
	if file == "" {
		return nil, nil
	}
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	program, err := os.ReadFile(self)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, &diag.Error{Kind: diag.NotFound, Op: "replay", Subject: file, Msg: "the cache cannot be read", Err: err}
	}
	sum := sha256.Sum256(program)
	return app.OpenReplayCache(data, version+" "+hex.EncodeToString(sum[:])), nil
}

// saveCache writes what was learnt.
func saveCache(file string, cache *app.ReplayCache) error {
	data, changed, err := cache.Bytes()
	if err != nil || !changed {
		return err
	}
	return writeFile(file, data)
}
