package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/store/safefile"
	"fettle/internal/unit"
)

type tasksCmd struct {
	List  tasksListCmd  `cmd:"" default:"withargs" help:"List them, newest first."`
	Ask   tasksAskCmd   `cmd:"" help:"Ask for work about a job."`
	Stop  tasksStopCmd  `cmd:"" help:"Stop one that waits or is being done."`
	Again tasksAgainCmd `cmd:"" help:"Have one done again that has failed or was stopped."`
	Fetch tasksFetchCmd `cmd:"" help:"Write what one has made into a file."`
}

type tasksListCmd struct {
	State string `help:"Only those that are waiting, running, done, failed or stopped." enum:",waiting,running,done,failed,stopped" default:"" placeholder:"STATE"`
	About string `help:"Only those about this job." placeholder:"JOB"`
	Most  int    `help:"So many at most." default:"50" placeholder:"N"`
}

func (tasksListCmd) Help() string {
	return `Each with its identity, what it is and about which job, where it stands, and why it failed.

Example:

  fettle tasks --data fettle-data
  fettle tasks --state failed --data fettle-data
`
}

func (c tasksListCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("tasks")
	}
	all, err := env.at.ListTasks(env.context(), app.TaskQuery{State: app.TaskState(c.State), About: c.About, Most: c.Most})
	if err != nil {
		return Refused, err
	}
	for _, t := range all {
		fmt.Fprintln(env.Stdout, taskLine(t))
	}
	if len(all) == 0 {
		fmt.Fprintln(env.Stdout, "No tasks.")
	}
	return Done, nil
}

// taskLine is a task in one line, and why it failed in one more.
func taskLine(t app.Task) string {
	line := fmt.Sprintf("%s  %s  %-8s %-8s %s", t.ID, t.Made.Format("2006-01-02 15:04:05"), t.State, t.Kind, t.About)
	switch {
	case t.State == app.TaskWaiting && t.Tries > 0:
		line += fmt.Sprintf(", try %d from %s", t.Tries+1, t.Due.Format("2006-01-02 15:04:05"))
	case t.State == app.TaskRunning && t.Progress.Of > 1:
		line += fmt.Sprintf(", %s, %d of %d", working[t.Progress.What], t.Progress.Done+1, t.Progress.Of)
	case t.State == app.TaskRunning && t.Progress.What != "":
		line += ", " + working[t.Progress.What]
	}
	if t.Fault != "" {
		line += "\n    " + diag.Plain(t.Fault)
	}
	return line
}

type tasksAskCmd struct {
	Kind string `arg:"" help:"assess; files: report, day sheets, order list and assessment as a zip; next: what it waits for; zones; sweep; scan; or verify." enum:"assess,files,next,zones,sweep,scan,verify"`
	Job  string `arg:"" optional:"" help:"A job of the data folder; of zones the file of a recipe; none of sweep, scan and verify."`
	On   string `help:"Judge as of this day (year-month-day); today unless given." placeholder:"DATE"`
	By   string `help:"Who asks: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (tasksAskCmd) Help() string {
	return `It is done by 'fettle work'. Asked for again before it is done, it is done once, with the newer day; asked for while it is done, once more after.

Example:

  fettle tasks ask files rear-job --on 2026-11-26 --by p-31 --data fettle-data
  fettle tasks ask scan --by p-31 --data fettle-data
`
}

func (c tasksAskCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("tasks")
	}
	who, err := env.writer(c.By)
	if err != nil {
		return Usage, err
	}
	when, err := env.day(c.On)
	if err != nil {
		return Usage, err
	}
	id, err := c.ask(env, who, unit.DateOf(when))
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintln(env.Stdout, "Asked for: "+id)
	return Done, err
}

func (c tasksAskCmd) ask(env Env, who string, on unit.Date) (string, error) {
	kind := app.TaskKind(c.Kind)
	if all := kind == app.TaskSweep || kind == app.TaskScan || kind == app.TaskVerify; all || c.Job == "" {
		if all != (c.Job == "") {
			return "", &diag.Error{Kind: diag.Usage, Op: "tasks", Subject: c.Kind, Msg: "sweep, scan and verify are about the whole data folder, and everything else is about a job or a recipe", Hint: "give JOB with assess, files, next and zones only"}
		}
		return env.at.Want(env.context(), app.Wanted{Kind: kind, By: who})
	}
	if kind == app.TaskZones {
		return env.at.Zones(env.context(), env.onDisk(), filepath.ToSlash(c.Job), who)
	}
	if _, err := env.at.Head(env.context(), c.Job); err != nil {
		return "", err
	}
	want, err := app.AboutJob(kind, c.Job, who, on)
	if err != nil {
		return "", err
	}
	return env.at.Want(env.context(), want)
}

type tasksStopCmd struct {
	ID string `arg:"" help:"Its identity, as fettle tasks lists it."`
}

func (c tasksStopCmd) run(env Env, a *app.App) (int, error) {
	return env.onTask(c.ID, "Stopped: ", jobsAt.StopTask)
}

type tasksAgainCmd struct {
	ID string `arg:"" help:"Its identity, as fettle tasks lists it."`
}

func (c tasksAgainCmd) run(env Env, a *app.App) (int, error) {
	return env.onTask(c.ID, "Waits again: ", jobsAt.Again)
}

func (env Env) onTask(id, words string, do func(jobsAt, context.Context, string) error) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("tasks")
	}
	if err := do(env.at, env.context(), id); err != nil {
		return Refused, err
	}
	_, err := fmt.Fprintln(env.Stdout, words+id)
	return Done, err
}

type tasksFetchCmd struct {
	ID   string `arg:"" help:"Its identity, as fettle tasks lists it."`
	File string `arg:"" help:"File to write; it must not be there."`
}

func (c tasksFetchCmd) run(env Env, a *app.App) (code int, err error) {
	if env.at == nil {
		return Usage, env.noPlace("tasks")
	}
	from, err := env.at.Made(env.context(), c.ID)
	if err != nil {
		return Refused, err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	f, err := parentOf(c.File)
	if err != nil {
		return Refused, err
	}
	name := filepath.Base(c.File)
	err = f.within(func() error {
		if f.has(name) {
			return notWritten(c.File, fs.ErrExist)
		}
		return f.writeFrom(name, func(w io.Writer) error {
			_, err := io.Copy(w, from)
			return err
		})
	})
	if err != nil {
		return Refused, err
	}
	_, err = fmt.Fprintln(env.Stdout, "Written: "+c.File)
	return Done, err
}

type workCmd struct {
	Idle bool `help:"End when nothing is left to be done; go on until stopped unless given."`
}

func (workCmd) Help() string {
	return `Does the work that was asked for, one piece at a time, and says of each how it ended. Several may work on one data folder. Stopped, it gives back what it was at.

Example:

  fettle tasks ask files rear-job --on 2026-11-26 --by p-31 --data fettle-data
  fettle work --idle --data fettle-data
`
}

// How a worker of the command line works.
const (
	taskLease = time.Minute
	taskLook  = time.Second
	taskTries = 8
)

// called is what a task is called in a line: its kind, and what it is about unless that is the whole data folder.
func called(t app.Task) string { return strings.TrimSpace(string(t.Kind) + " " + t.About) }

func (c workCmd) run(env Env, a *app.App) (int, error) {
	if env.data == nil {
		return Usage, env.noData("work")
	}
	ctx, stop := context.WithCancel(env.context())
	defer stop()
	failed := 0
	w := &app.Worker{
		Name: "fettle-" + safefile.Drawn(6), Tasks: env.data, Do: env.allWork(a), Now: env.Now,
		Lease: taskLease, Look: taskLook, Tries: taskTries,
		Told: func(t app.Task, err error) {
			if err != nil {
				failed++
				fmt.Fprintf(env.Stdout, "%s: %s\n", called(t), diag.Plain(strings.TrimSpace(err.Error())))
				return
			}
			fmt.Fprintf(env.Stdout, "%s: done\n", called(t))
		},
	}
	if c.Idle {
		w.Idle = stop
	}
	if err := w.Run(ctx); !errors.Is(err, context.Canceled) || env.context().Err() != nil {
		return Refused, err
	}
	if failed > 0 {
		return Blocked, nil
	}
	return Done, nil
}
