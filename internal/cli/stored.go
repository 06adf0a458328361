package cli

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store"
	"fettle/internal/store/safefile"
	"fettle/internal/unit"
)

// storeAt is the store that the folder of a stored job lies in. The job is called there as its
// folder is, whatever link led to it.
func (env Env) storeAt(place string) (app.Store, string) {
	dir := filepath.FromSlash(place)
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	if abs, err := filepath.Abs(dir); err == nil {
		dir = abs // else it is opened as it is, which says what is wrong
	}
	return store.OpenFolder(filepath.Dir(dir), env.Now), filepath.Base(dir)
}

// newKey is a key for one change.
func newKey() string { return safefile.Drawn(16) }

// writer is who writes into a stored job: as given, or else as the environment says.
func (env Env) writer(given string) (string, error) {
	if given == "" && env.at != nil {
		who, err := env.at.Writer(env.context())
		if err != nil || who != "" {
			return who, err
		}
	}
	if given == "" {
		given = env.Person
	}
	if strings.TrimSpace(given) == "" {
		return "", &diag.Error{Kind: diag.Usage, Op: "write", Subject: "person", Msg: "a stored job says who wrote each event, and nobody is named", Hint: "set FETTLE_PERSON to your opaque name, for example p-31"}
	}
	return given, nil
}

// putOnRecord writes what was recorded of a job: into its files, or as events.
func putOnRecord(env Env, a *app.App, f *folder, c *app.Opened, r app.Recorded) error {
	if c.Stored() {
		return appending(env, a, c, r, "")
	}
	return writeRecorded(f, r)
}

// appending puts something on record in a stored job.
func appending(env Env, a *app.App, c *app.Opened, r app.Recorded, by string) error {
	who, err := env.writer(by)
	if err != nil {
		return err
	}
	_, err = a.Append(env.context(), c, r, who, newKey())
	return err
}

type keepCmd struct {
	Job string `arg:"" help:"Folder of the job."`
	By  string `help:"Who keeps it: an opaque name that stands in its events; FETTLE_PERSON unless given." placeholder:"NAME"`

	As   string `help:"With --data or --server: what the job is called there; as its folder unless given." placeholder:"NAME"`
	Body string `help:"Of a stored job: work with this body, as it is now, from now on." placeholder:"DIR"`
	Shop string `help:"Of a stored job: work with this shop file, as it is now, from now on." placeholder:"FILE"`
}

func (keepCmd) Help() string {
	return `Makes a stored job of a folder with job.yaml. From then on its truth is a chain of events in events.jsonl, each with who wrote it and when, and recording, answering and asking add to it. Its history begins now: the first events are the job as it stands, all of them yours and of this moment. Body and shop are named by the hash of their content, and copies of them go into the folder 'library' beside the job; evidence is copied into 'blobs' under its hash. job.yaml and readings.csv stay as as-written.yaml and as-written.csv, and are not read any more. With --data the job goes into the data folder instead, also one that is stored already, with its history; its own folder stays as it is. A stored job goes on with the body and shop it was kept with: a new revision of a procedure is taken with --body.

Example:

  fettle keep fettle-demo/job --by p-31
  fettle keep fettle-demo/job --body fettle-demo/body --by p-31
`
}

// asWritten are the names under which the files of a state that was kept stay.
var asWritten = map[string]string{job.MainFile: "as-written.yaml", job.ReadingsFile: "as-written.csv"}

func (c keepCmd) run(env Env, a *app.App) (int, error) {
	who, err := env.writer(c.By)
	if err != nil {
		return Usage, err
	}
	if env.at != nil && c.Body == "" && c.Shop == "" {
		return c.takeIn(env, who)
	}
	dir, err := a.JobDir(filepath.ToSlash(c.Job))
	if err != nil {
		return Refused, err
	}
	if c.Body != "" || c.Shop != "" {
		return c.renew(env, a, dir)
	}
	was, err := writtenFiles(dir)
	if err != nil {
		return Refused, err
	}
	ctx, clear := env.work()
	opened, err := a.Open(ctx, dir)
	clear()
	if err != nil {
		return Refused, err
	}
	head, err := a.Keep(env.context(), opened, who, newKey())
	if err != nil {
		return Refused, err
	}
	if err := putAside(dir, was); err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintf(env.Stdout, "Kept: job %s as events 1 to %d, by %s. Its history begins now.\n", opened.Job.ID, head.Seq, who)
	return Done, err
}

// renew takes the body or shop of a stored job as it is now.
func (c keepCmd) renew(env Env, a *app.App, dir string) (int, error) {
	ctx, clear := env.work()
	opened, err := a.Open(ctx, dir)
	clear()
	if err != nil {
		return Refused, err
	}
	recorded, err := a.Renew(env.context(), opened, filepath.ToSlash(c.Body), filepath.ToSlash(c.Shop))
	if err == nil && len(recorded.Events) > 0 {
		err = appending(env, a, opened, recorded, c.By)
	}
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintln(env.Stdout, recorded.Text)
	return Done, err
}

// writtenFiles is the files of a state as they are, locked while they are read.
func writtenFiles(dir string) (map[string][]byte, error) {
	f, err := lockedFolder(filepath.FromSlash(dir))
	if err != nil {
		return nil, err
	}
	was := map[string][]byte{}
	return was, f.within(func() error {
		for name, aside := range asWritten {
			data, err := f.state(name, app.MaxDocument)
			if err != nil {
				return err
			}
			if was[name] = data; data != nil && f.has(aside) {
				return &diag.Error{Kind: diag.Conflict, Op: "keep", Subject: f.path(aside), Msg: "is there already; nothing was kept", Hint: "put it into another folder"}
			}
		}
		return nil
	})
}

// putAside gives the files of a state that was kept other names. Where one of them was changed
// meanwhile the job is in two forms, which whoever opens it is told.
func putAside(dir string, was map[string][]byte) error {
	f, err := lockedFolder(filepath.FromSlash(dir))
	if err != nil {
		return err
	}
	return f.within(func() error {
		for name, aside := range asWritten {
			now, err := f.state(name, app.MaxDocument)
			if err != nil {
				return err
			}
			if !bytes.Equal(now, was[name]) {
				return &diag.Error{Kind: diag.Conflict, Op: "keep", Subject: f.path(name), Msg: "somebody has changed it while the job was kept; events.jsonl has it as it was before", Hint: "take events.jsonl away and keep the job again"}
			}
			if now == nil {
				continue
			}
			if err := f.root.Rename(name, aside); err != nil {
				return notWritten(f.path(aside), err)
			}
		}
		return nil
	})
}

type eventsCmd struct {
	Job  string `arg:"" help:"Folder of a stored job."`
	JSON bool   `name:"json" help:"Print the events as JSON: words and codes." xor:"form"`

	Codes bool `help:"Print the codes of events and records, as fettle show and put take them, in place of words." xor:"form"`
}

func (eventsCmd) Help() string {
	return `Prints what happened to a stored job, in words: the number of each event, when it was written (UTC) and by whom, and what it says. With --codes it prints of each which sort it is, which record it is about, and which event about that record its author had seen. The chain is verified before. Exit code 1 when it is not whole.

Example:

  fettle keep fettle-demo/job --by p-31
  fettle events fettle-demo/job
  fettle events fettle-demo/job --codes
`
}

func (c eventsCmd) run(env Env, a *app.App) (int, error) {
	events, err := a.Events(env.context(), filepath.ToSlash(c.Job))
	if err != nil {
		return Refused, err
	}
	if c.JSON {
		if err := printJSON(env.Stdout, events); err != nil {
			return Refused, err
		}
		return Done, nil
	}
	for _, e := range events {
		if !c.Codes {
			fmt.Fprintf(env.Stdout, "%3d  %s  %s  %s\n", e.Seq, strings.NewReplacer("T", " ", "Z", "").Replace(e.At), e.By, diag.Plain(e.Text))
			continue
		}
		line := fmt.Sprintf("%d  %s  %s  %s  %s", e.Seq, e.At, e.By, e.What, e.About)
		if e.Seen > 0 {
			line += fmt.Sprintf(", after %d", e.Seen)
		}
		if e.Erased {
			line += ", texts erased"
		}
		fmt.Fprintln(env.Stdout, line)
	}
	last := events[len(events)-1]
	_, err = fmt.Fprintf(env.Stdout, "The chain is whole: %s (times in UTC), the last with hash %s.\n", unit.Count(len(events), "event"), last.Hash)
	return Done, err
}

type showCmd struct {
	Job    string `arg:"" help:"Folder of a stored job."`
	Record string `arg:"" help:"The record, as fettle events --codes names it, for example finding/D1."`
}

func (showCmd) Help() string {
	return `Prints a record of a stored job as it is, and the number of the newest event about it, as fettle put takes them.

Example:

  fettle keep fettle-demo/job --by p-31
  fettle show fettle-demo/job finding/D1
`
}

func (c showCmd) run(env Env, a *app.App) (int, error) {
	ctx, clear := env.work()
	opened, err := a.Open(ctx, filepath.ToSlash(c.Job))
	clear()
	if err != nil {
		return Refused, err
	}
	text, seen, err := a.Show(opened, job.RecordName(c.Record))
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintf(env.Stdout, "# %s, --seen %d\n%s", c.Record, seen, text)
	return Done, err
}

type putCmd struct {
	Job    string `arg:"" help:"Folder of a stored job."`
	Record string `arg:"" help:"The record, as fettle events --codes names it, for example finding/D1; of a new one without identity the sort alone, for example review."`
	File   string `arg:"" help:"File with the record, as fettle show prints it."`
	Seen   int64  `help:"Number of the newest event about the record that you had before you; 0 for a new one." default:"0" placeholder:"N"`
	By     string `help:"Who writes: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (putCmd) Help() string {
	return `Records in a stored job what a file holds: a new record of any sort, or one in the place of what --seen says you have seen. Where somebody else has written it since nothing is written. A fault is told with line and column of the file.

Example:

  fettle show fettle-demo/job finding/D1 > d1.yaml
  fettle put fettle-demo/job finding/D1 d1.yaml --seen 21 --by p-31
`
}

func (c putCmd) run(env Env, a *app.App) (int, error) {
	return changing(env, a, c.Job, "", c.By, func(opened *app.Opened, _ unit.Date) (app.Recorded, error) {
		return a.Put(env.context(), opened, job.RecordName(c.Record), filepath.ToSlash(c.File), c.Seen)
	})
}

type withdrawCmd struct {
	Job    string `arg:"" help:"Folder of a stored job."`
	Record string `arg:"" help:"The record, as fettle events --codes names it, for example finding/D1."`
	Reason string `required:"" help:"Why it does not count." placeholder:"TEXT"`
	Signed string `required:"" help:"Person of the shop file who withdraws it." placeholder:"PERSON"`
	On     string `help:"Day it is withdrawn (year-month-day); today unless given." placeholder:"DATE"`
	By     string `help:"Who writes: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (withdrawCmd) Help() string {
	return `Takes a record of a stored job back: it no longer counts, and both it and the withdrawal stay in the chain. A record that others refer to is refused, and they are named.

Example:

  fettle withdraw fettle-demo/job work/W-1 --reason "Another vehicle" --signed P1
`
}

func (c withdrawCmd) run(env Env, a *app.App) (int, error) {
	return changing(env, a, c.Job, c.On, c.By, func(opened *app.Opened, on unit.Date) (app.Recorded, error) {
		return a.Withdraw(opened, job.RecordName(c.Record), job.Withdrawal{By: c.Signed, On: on, Reason: c.Reason})
	})
}

type eraseCmd struct {
	Job    string `arg:"" help:"Folder of a stored job."`
	Record string `arg:"" optional:"" help:"The record, as fettle events --codes names it, for example finding/D1; none where a person is erased."`
	Person string `help:"Every record that names this person, in a text of its own or one that was replaced or withdrawn: an identity of the shop file, or a name." placeholder:"NAME"`
	Wrote  string `help:"Every record that this opaque name has written a text of, but for what the job was opened with." placeholder:"NAME"`
	Reason string `required:"" help:"Why, without a name." placeholder:"TEXT"`
	On     string `help:"Day it is erased (year-month-day); today unless given." placeholder:"DATE"`
	By     string `help:"Who writes: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (eraseCmd) Help() string {
	return `Takes the names and remarks of people out of a record of a stored job, in every event about it; this cannot be undone. The record itself stays and the chain still verifies. What needs the person, a signature or a reason, does not stand any more. With --person or --wrote that is done for every record of a person at once; a name in what the work rests on, as the text of a danger, stays and is told. The opaque name in the events stays too: forget elsewhere whose it is. Backups, evidence, the shop file, as-written.yaml and results that were written before are not touched; of a job of a data folder the files it was written in by hand, which may name the person too, are dropped with --person. A job on hold is not erased from.

Example:

  fettle erase fettle-demo/job finding/D1 --reason "Asked for by the person"
  fettle erase fettle-demo/job --person T2 --reason "Asked for by the person"
`
}

func (c eraseCmd) run(env Env, a *app.App) (int, error) {
	person := c.Person != "" || c.Wrote != ""
	if person == (c.Record != "") {
		return Usage, &diag.Error{Kind: diag.Usage, Op: "erase", Subject: c.Job, Msg: "name either a record or a person", Hint: "give RECORD, or --person, or --wrote"}
	}
	code, err := changing(env, a, c.Job, c.On, c.By, func(opened *app.Opened, on unit.Date) (app.Recorded, error) {
		if person {
			return a.ErasePerson(env.context(), opened, job.Person{Names: []string{c.Person}, Wrote: c.Wrote}, job.Erasure{On: on, Reason: c.Reason})
		}
		return a.Erase(opened, job.RecordName(c.Record), job.Erasure{On: on, Reason: c.Reason})
	})
	if env.data == nil || !person || err != nil && diag.KindOf(err) != diag.NotFound {
		return code, err
	}
	return env.eraseAside(filepath.Base(filepath.Clean(c.Job)), code, err)
}

// eraseAside drops the files that a job of the data folder was written in by hand, where a person is erased: nobody can say
// what they name. It goes before an answer that no record has the person.
func (env Env) eraseAside(id string, code int, answer error) (int, error) {
	dropped, err := env.data.DropAside(env.context(), id)
	if err != nil || !dropped {
		return max(code, codeOf(err)), errors.Join(answer, err)
	}
	_, err = fmt.Fprintln(env.Stdout, "Dropped: the files it was written in by hand, which may name the person. Their bytes go with a sweep a day later: fettle sweep --data "+env.data.Dir)
	return Done, err
}

func codeOf(err error) int {
	if err != nil {
		return Refused
	}
	return Done
}

// changing writes events about one record of a stored job.
func changing(env Env, a *app.App, dir, day, by string, do func(*app.Opened, unit.Date) (app.Recorded, error)) (int, error) {
	when, err := env.day(day)
	if err != nil {
		return Usage, err
	}
	ctx, clear := env.work()
	opened, err := a.Open(ctx, filepath.ToSlash(dir))
	clear()
	if err != nil {
		return Refused, err
	}
	recorded, err := do(opened, unit.DateOf(when))
	if err == nil {
		err = appending(env, a, opened, recorded, by)
	}
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintln(env.Stdout, recorded.Text)
	return Done, err
}
