package cli

import (
	"context"
	"fmt"
	"io"
	"path"
	"path/filepath"
	"strings"
	"sync"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/safefile"
	"fettle/internal/unit"
)

// dataVar is the data folder in the environment.
const dataVar = "FETTLE_DATA"

// lookup is a variable of the environment.
func (env Env) lookup(name string) (string, bool) {
	if env.Lookup == nil {
		return "", false
	}
	return env.Lookup(name)
}

// located is the environment with the data folder or the server that a command works on; a command that is not for servers is refused before anything is read.
func (env Env) located(c command, name string, w where) (Env, error) {
	of, err := classOf(name)
	if err != nil {
		return env, err
	}
	if of.files {
		if w.Data != "" && w.Server != "" {
			_, err = w.settled(env)
		}
		return env, err
	}
	if w, err = w.settled(env); err != nil {
		return env, err
	}
	if w.Server == "" {
		return env.withData(w.Data, c)
	}
	if err := of.refused(name); err != nil {
		return env, err
	}
	env.at, err = env.openServer(w)
	return env, err
}

// withData is the environment with the data folder that is named; none is none.
func (env Env) withData(named string, c command) (Env, error) {
	if usual, is := c.(interface{ usualData() string }); is && named == "" {
		named = usual.usualData()
	}
	if named == "" {
		return env, nil
	}
	if own, is := c.(interface{ ownFolder(dir string) }); is {
		own.ownFolder(named)
		return env, nil
	}
	_, fills := c.(interface{ fillsData() })
	return env.opened(named, fills)
}

// opened is the environment with a data folder.
func (env Env) opened(dir string, fills bool) (Env, error) {
	data, err := datafolder.Open(env.context(), dir, fills, env.world())
	if err == nil {
		env.data, env.at = data, atFolder{datafolder.Keeper{Store: data}}
	}
	return env, err
}

// world is what data folders are opened with.
func (env Env) world() datafolder.World {
	return datafolder.World{
		Lookup: env.lookup, Now: env.Now, Program: env.Version,
		Told: func(place string) { fmt.Fprintln(env.Stderr, "Before the tables were changed: "+place) },
	}
}

// inData is the files a command sees where it works on a data folder or a server: a job of it is a folder of its name that holds
// nothing but its events. What a person puts beside such a job is looked for in the working folder.
type inData struct {
	disk
	ctx   context.Context
	in    app.Store
	there sync.Map // jobs that were found
}

// jobAt is the job that a path is the folder of.
func (d *inData) jobAt(p string) bool {
	p = path.Clean(p)
	if strings.Contains(p, "/") || store.CheckID(p) != nil {
		return false
	}
	if _, is := d.there.Load(p); is {
		return true
	}
	_, err := d.in.Head(d.ctx, p)
	is := diag.KindOf(err) != diag.NotFound || err == nil // any other trouble is told by whoever reads it
	if is {
		d.there.Store(p, true)
	}
	return is
}

func (d *inData) Exists(p string) bool {
	dir, name := path.Split(path.Clean(p))
	switch {
	case d.jobAt(p):
		return true
	case d.jobAt(dir):
		return name == job.EventsFile
	}
	return d.disk.Exists(p)
}

func (d *inData) IsDir(p string) bool { return d.jobAt(p) || d.disk.IsDir(p) }

// List is the events of a job, or all jobs where the working folder is meant.
func (d *inData) List(dir string) ([]string, error) {
	switch {
	case d.jobAt(dir):
		return []string{job.EventsFile}, nil
	case path.Clean(dir) != ".":
		return d.disk.List(dir)
	}
	jobs, err := d.in.List(d.ctx, "", maxListed+1)
	if err == nil && len(jobs) > maxListed {
		err = &app.TooMany{Most: maxListed}
	}
	var out []string
	for _, j := range jobs {
		out = append(out, path.Join(j.ID, job.EventsFile))
	}
	return out, err
}

func (d *inData) Copy(dir, name string, most int64, to io.Writer) (int64, error) {
	if dir != "" && d.jobAt(dir) {
		dir = "."
	}
	return d.disk.Copy(dir, name, most, to)
}

func (d *inData) Real(p string) (string, error) {
	if d.jobAt(p) {
		return path.Clean(p), nil
	}
	return d.disk.Real(p)
}

// noData refuses a command that makes no sense without a data folder.
func (env Env) noData(what string) error {
	return &diag.Error{Kind: diag.Usage, Op: what, Subject: "fettle " + what, Msg: "works on a data folder, and none is named", Hint: "give --data DIR, or set " + dataVar}
}

// noPlace refuses a command that makes no sense without a data folder or a server.
func (env Env) noPlace(what string) error {
	return &diag.Error{Kind: diag.Usage, Op: what, Subject: "fettle " + what, Msg: "works on a data folder or a server, and none is named", Hint: "give --data DIR or --server URL, or set " + dataVar + " or " + serverVar}
}

type jobsCmd struct {
	Words []string `arg:"" optional:"" help:"Only jobs that have all of these: the beginning of a name, of a part of the vehicle's number, of a finding, its kind or its part."`
	Waits string   `help:"Only jobs that wait for this: not-known, make-safe, correction, lookup, inspection, question, answer, choice, acceptance, review, parts, work, hold, figure, proof, hand-back, handed-back or changed." placeholder:"WHAT"`
	On    string   `help:"Only jobs that wait for this one: manufacturer, supplier, shop, 'second person', 'qualified person', or a skill of the shop." placeholder:"WHOM"`
	Most  int      `help:"So many at most." default:"50" placeholder:"N"`
}

func (jobsCmd) Help() string {
	return `Lists the jobs of a data folder, the one changed last first: its name, the end of the vehicle's number, when it was changed (UTC), and its newest event. Below it what it waits for, on whom, since which event's time, and the day that was judged on. 'fettle work' finds that out after every change; 'fettle tasks ask next JOB' as of today.

Example:

  fettle jobs --data fettle-data
  fettle jobs crack P-REAR --data fettle-data
  fettle jobs --waits answer --on manufacturer --data fettle-data
`
}

// waitsLine is what a job waits for. What nobody knows is said to be not known, and what stood so at an older event is.
func waitsLine(j app.JobLine) string {
	if j.Waits == "" {
		return "waits for: not known; 'fettle work' finds out"
	}
	line := "waits for: " + strings.TrimSpace(j.Waits+" "+j.Act) + "; on: " + j.On
	if j.Since == "" {
		line += "; since: not known"
	} else {
		line += "; since " + onlyTime(j.Since)
	}
	line += "; judged on " + j.Judged
	if j.At < j.Head.Seq {
		line += fmt.Sprintf("; that was at event %d, and may not be so any more", j.At)
	}
	return line
}

// onlyTime is a time as lists have it.
func onlyTime(at string) string { return strings.NewReplacer("T", " ", "Z", "").Replace(at) }

func (c jobsCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("jobs")
	}
	found, err := env.at.Find(env.context(), app.JobQuery{Text: strings.Join(c.Words, " "), Waits: c.Waits, On: c.On, Most: c.Most + 1})
	if err != nil {
		return Refused, err
	}
	for _, j := range found[:min(len(found), c.Most)] {
		fmt.Fprintf(env.Stdout, "%-24s %-8s  %s  event %d\n    %s\n", j.ID, j.Vehicle, onlyTime(j.Changed), j.Head.Seq, diag.Plain(waitsLine(j)))
	}
	if c.Waits+c.On != "" {
		fmt.Fprintln(env.Stdout, "Jobs that were changed since it was last found out what they wait for may wait for this too: 'fettle work' finds out.")
	}
	switch {
	case len(found) > c.Most:
		fmt.Fprintf(env.Stdout, "There are more: name what you look for, or give --most.\n")
	case len(found) == 0 && len(c.Words)+len(c.Waits)+len(c.On) > 0:
		fmt.Fprintln(env.Stdout, "No job has all of these.")
	case len(found) == 0:
		fmt.Fprintln(env.Stdout, "No jobs yet. The first is put in by: fettle keep FOLDER "+env.at.Flag())
	}
	return Done, nil
}

func events(n int64) string { return unit.Count(int(n), "event") }

type giveCmd struct {
	Job string `arg:"" help:"A job of the data folder."`
	Dir string `arg:"" help:"Folder to give it out into: the job becomes a folder in it, with all it names beside it."`
}

func (giveCmd) Help() string {
	return `Gives a job of a data folder out as a folder: its events in JOB/events.jsonl, the bodies and shops it has ever named in 'library', photos and papers in 'blobs', each under its hash. The job stays where it is. 'fettle keep DIR/JOB --data OTHER' takes it in again, to the same bytes.

Example:

  fettle demo --data fettle-data
  fettle give job given --data fettle-data
`
}

func (c giveCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("give")
	}
	if err := safefile.MakeDirs(c.Dir, 0o755); err != nil {
		return Refused, notWritten(c.Dir, err)
	}
	head, err := a.CopyJob(env.context(), env.at, c.Job, store.OpenFolder(c.Dir, env.Now), c.Job)
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintf(env.Stdout, "Given out: %s, %s, with all it names.\n", filepath.Join(c.Dir, c.Job), events(head.Seq))
	return Done, err
}

// takeIn takes a folder in as a job of the data folder or server, and leaves the folder as it is: a stored job with its history, a
// state written by hand as first events of this person and this moment.
func (c keepCmd) takeIn(env Env, by string) (int, error) {
	a := env.onDisk()
	dir, err := a.JobDir(filepath.ToSlash(c.Job))
	if err != nil {
		return Refused, err
	}
	name := c.As
	if name == "" {
		abs, err := filepath.Abs(filepath.FromSlash(dir))
		if err != nil {
			return Refused, err
		}
		name = filepath.Base(abs)
	}
	head, err := env.takeJob(a, dir, name, by, newKey())
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintf(env.Stdout, "Kept: %s as job %s of %s, %s. The folder is as it was.\n", filepath.FromSlash(dir), name, env.at.Name(), events(head.Seq))
	return Done, err
}

// takeJob takes the job in a folder in, under a name.
func (env Env) takeJob(a *app.App, dir, name, by, key string) (app.Head, error) {
	if a.IsStored(dir) {
		from, id := env.storeAt(dir)
		return a.CopyJob(env.context(), from, id, env.at, name)
	}
	was, err := writtenFiles(dir)
	if err != nil {
		return app.Head{}, err
	}
	ctx, clear := env.work()
	opened, err := a.Open(ctx, dir)
	clear()
	if err != nil {
		return app.Head{}, err
	}
	aside := map[string][]byte{}
	for from, to := range asWritten {
		if was[from] != nil {
			aside[to] = was[from]
		}
	}
	if err := env.at.SetAside(env.context(), name, aside); err != nil {
		return app.Head{}, err
	}
	return a.KeepIn(env.context(), opened, env.at, name, by, key)
}

// onDisk is the service on files alone, whatever data folder there is.
func (env Env) onDisk() *app.App {
	return app.New(disk{}, env.Version).WithBodies(env.Bodies).WithBuild(env.Build).WithStores(env.storeAt)
}

// fillsData: these commands make a data folder where there is none.
func (keepCmd) fillsData() {}
func (demoCmd) fillsData() {}
