package cli

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"sort"

	"fettle/internal/app"
	"fettle/internal/diag"
)

type demoCmd struct {
	Dir       string `arg:"" optional:"" default:"fettle-demo" help:"Folder to write to."`
	Overwrite bool   `help:"Write over files that have been changed since."`
	NoReport  bool   `help:"Print the summary only: draw and write no report, day sheets or order list."`
	Serve     bool   `help:"Serve the jobs to this machine, with people who may sign in, and write nothing."`
	Listen    string `help:"With --serve: address to listen at; 127.0.0.1:8420 unless given." placeholder:"HOST:PORT"`
}

func (demoCmd) Help() string {
	return `Everything in it is invented: no maker builds the vehicles, no maker publishes the procedures. The job is judged as of the day the scenario plays on.

With --data the jobs are taken into a data folder, which is made where there is none; results are written as without. With --serve they are served from one, as 'fettle serve' does, which is gone when that ends unless --data names it.

Example:

  fettle demo
  fettle demo --data fettle-data
  fettle demo --serve
`
}

func (c demoCmd) run(env Env, a *app.App) (int, error) {
	d := app.Demo()
	if c.Serve {
		return c.runServed(env, d)
	}
	if c.Listen != "" {
		return Usage, &diag.Error{Kind: diag.Usage, Op: "demo", Subject: "--listen", Msg: "is for --serve", Hint: "give both"}
	}
	if env.data != nil {
		return c.runInData(env, a, d)
	}
	if err := c.write(d.Files); err != nil {
		return Refused, err
	}
	opened, result, err := assessJob(env, a, filepath.Join(c.Dir, d.Job), d.Day)
	if err != nil {
		return Refused, err
	}
	file := ""
	if !c.NoReport {
		if file, err = writeResult(env, a, opened, result, "", false); err != nil {
			return Refused, err
		}
	}
	summarise(env, a, opened, result, file)
	fmt.Fprintf(env.Stdout, "Next: the same vehicle after looking first is %s.\n      Make its crack D3 longer there, as the job file says beside it, and run\n      fettle assess %s --on %s\n      before and after: the route changes.\n",
		filepath.Join(c.Dir, d.Looked, "job.yaml"), filepath.Join(c.Dir, d.Looked), d.Day.Format("2006-01-02"))
	fmt.Fprintf(env.Stdout, "Also: the rear end of another vehicle, measured by hand and repaired:\n      fettle release %s --on %s\n",
		filepath.Join(c.Dir, d.Rear), d.Day.Format("2006-01-02"))
	return Done, nil
}

// demoWriter is who the invented jobs of a data folder are written by, unless somebody is named.
const demoWriter = "p-demo"

// runInData takes the invented jobs into a data folder and assesses the first there; its results go where they
// go without one.
func (c demoCmd) runInData(env Env, a *app.App, d app.DemoFiles) (int, error) {
	if err := c.takeIn(env, d); err != nil {
		return Refused, err
	}
	opened, result, err := assessJob(env, a, d.Job, d.Day)
	if err != nil {
		return Refused, err
	}
	file := ""
	if !c.NoReport {
		if file, err = writeResult(env, a, opened, result, filepath.Join(c.Dir, d.Job, "result"), false); err != nil {
			return Refused, err
		}
	}
	summarise(env, a, opened, result, file)
	fmt.Fprintf(env.Stdout, "Next: fettle jobs --data %s lists the jobs; the rear end of another vehicle, repaired:\n      fettle release %s --on %s --data %s\n",
		env.data.Dir, d.Rear, d.Day.Format("2006-01-02"), env.data.Dir)
	return Done, nil
}

// takeIn takes the invented jobs into the data folder.
func (c demoCmd) takeIn(env Env, d app.DemoFiles) error {
	by := cmp.Or(env.Person, demoWriter)
	dir, err := os.MkdirTemp("", "fettle-demo-")
	if err != nil {
		return notWritten("", err)
	}
	defer os.RemoveAll(dir) // a copy of what the program has in itself
	own := c
	own.Dir = dir
	if err := own.write(d.Files); err != nil {
		return err
	}
	for _, name := range []string{d.Job, d.Looked, d.Rear} {
		// One key for each: the demo taken in twice is there once.
		if _, err := env.takeJob(env.onDisk(), filepath.ToSlash(filepath.Join(dir, name)), name, by, "demo-"+name); err != nil {
			return err
		}
	}
	return nil
}

// write writes the files. A file that is there with other content is somebody's
// work and is not written over unless asked.
func (c demoCmd) write(files map[string][]byte) error {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names)
	f, err := openFolder(c.Dir)
	if err != nil {
		return err
	}
	return f.within(func() error {
		for _, n := range names {
			have, err := f.state(n, int64(len(files[n])))
			if err != nil {
				return err
			}
			if have != nil && !bytes.Equal(have, files[n]) && !c.Overwrite {
				return &diag.Error{Kind: diag.Conflict, Op: "demo", Subject: f.path(filepath.FromSlash(n)), Msg: "is there already and has been changed",
					Hint: "give another folder ('fettle demo DIR'), or --overwrite to lose the change"}
			}
		}
		for _, n := range names {
			if err := f.write(n, files[n]); err != nil {
				return err
			}
		}
		return nil
	})
}
