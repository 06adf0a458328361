// Package cli owns the commands: their arguments, what they print and their
// exit codes. It decides nothing and computes nothing: it calls package app
// and touches the disk, the terminal and the clock on its behalf.
package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/store/datafolder"
)

// Exit codes.
const (
	Done    = 0   // done, nothing blocks
	Refused = 1   // an input was refused
	Usage   = 2   // the command line was wrong
	Blocked = 3   // done, but something blocks the repair
	Stopped = 130 // left before its end, as a shell has it for an interrupt
)

// Env is the world a command runs in.
type Env struct {
	Stdin          io.Reader // nil: there is nothing to read
	Asking         bool      // a person sits at it and can be asked
	Stdout, Stderr io.Writer
	Terminal       bool // stderr is a terminal: show progress
	Now            func() time.Time
	Version        string
	Build          func() app.Build                 // which program this is; nil: only its version is known
	Cache          string                           // folder that keeps what was found out about jobs; empty: nothing is kept
	Lookup         func(name string) (string, bool) // variables of the environment; nil: there are none
	Person         string                           // who writes into stored jobs, by an opaque name
	Bodies         *app.Bodies                      // bodies that several commands of one process share; nil: each reads its own
	Stop           context.Context                  // done when the command is to be left; nil: it is not
	Serving        func(context.Context)            // makes the process fit to serve until that is done; nil: it stays as it is

	at   jobsAt            // where jobs are that are called by their names; nil: jobs are folders
	data *datafolder.Store // that place where it is a data folder; nil: it is none
	bar  io.Writer         // stderr itself, for a line that is written over

	patience, quiet time.Duration // how long a server is waited for; zero: as usual
}

// grammar is every command; kong reads the tags.
type grammar struct {
	where

	Demo       demoCmd        `cmd:"" help:"Write an invented vehicle, shop and job, assess them and write the report."`
	Check      checkCmd       `cmd:"" help:"Find the faults of a job, body or shop: file, line and column of each."`
	Assess     assessCmd      `cmd:"" help:"From readings and findings to decisions, routes, days, money and the report."`
	Routes     routesCmd      `cmd:"" help:"Every way through, ranked, with what changes from one to the next."`
	Plan       planCmd        `cmd:"" help:"One way through: what comes off, steps by day, what to order, what it costs."`
	Expose     exposeCmd      `cmd:"" help:"What comes off so that every area that is not inspected yet can be, cheapest first."`
	Week       weekCmd        `cmd:"" help:"Several jobs on the same people, bays and equipment, in one schedule."`
	History    historyCmd     `cmd:"" help:"What steps really took over several jobs, beside what was planned."`
	Explain    explainCmd     `cmd:"" help:"Say why: the reasons behind anything that is printed, by its name or figure."`
	Measure    measureCmd     `cmd:"" help:"Which control points have moved, from two CSV files alone."`
	Lengths    lengthsCmd     `cmd:"" help:"Which lengths to take next with a tape or tram gauge, as a page to fill in by hand."`
	May        mayCmd         `cmd:"" help:"May this spot be repaired, and how? Asks a procedure file alone."`
	Mesh       meshCmd        `cmd:"" help:"Describe a mesh file and its faults."`
	Trace      traceCmd       `cmd:"" help:"Measure a crack along the surface of a mesh."`
	Cut        cutCmd         `cmd:"" help:"Cut a mesh by a plane: loops, length, both sides."`
	Body       bodyCmd        `cmd:"" help:"Begin a body folder from the tables that are at hand."`
	Zones      zonesCmd       `cmd:"" help:"Make the zones of a casting from its mesh, by a recipe."`
	Ask        askCmd         `cmd:"" help:"Write the question to the manufacturer about a finding, complete and ready to send."`
	Answer     answerCmd      `cmd:"" help:"Record the manufacturer's answer to a question, with its document."`
	Record     recordCmd      `cmd:"" help:"Say which entries of a job are open, write them as a table with blanks, and take it back."`
	Keep       keepCmd        `cmd:"" help:"Make a stored job, with a history, of a folder with job.yaml."`
	Give       giveCmd        `cmd:"" help:"Give a job of a data folder out as a folder, with all it names."`
	Jobs       jobsCmd        `cmd:"" help:"The jobs of a data folder."`
	Tasks      tasksCmd       `cmd:"" help:"Work in the background of a data folder: what waits, is done, or has failed."`
	Work       workCmd        `cmd:"" help:"Do the work that was asked for in a data folder."`
	Backup     backupCmd      `cmd:"" help:"Back a data folder up while others go on."`
	Restore    restoreCmd     `cmd:"" help:"Make a new data folder out of a backup."`
	Verify     verifyStoreCmd `cmd:"" name:"verify-store" help:"Read everything a data folder keeps, and name what is damaged."`
	Checkpoint checkpointCmd  `cmd:"" help:"Print what the log of a data folder is now, signed, to be kept elsewhere."`
	Hold       holdCmd        `cmd:"" help:"Put a job of a data folder on hold: nothing of it can be erased; list and end holds."`
	Doctor     doctorCmd      `cmd:"" help:"Look at a data folder: configuration, rights, database, disk, clock, last backup."`
	Serve      serveCmd       `cmd:"" help:"Serve a data folder to people and programs, over HTTP."`
	People     peopleCmd      `cmd:"" help:"Who may sign in to a server: list them, links for first use and new passwords, disable, roles."`
	Sweep      sweepCmd       `cmd:"" help:"Remove files of a data folder that nothing has referred to for a day."`
	HandedBack handedBackCmd  `cmd:"" name:"handed-back" help:"Note that a vehicle was handed back; list until when jobs are kept, and remove one whose time is over."`
	Events     eventsCmd      `cmd:"" help:"What happened to a stored job: who, when, what; and whether it is whole."`
	Show       showCmd        `cmd:"" help:"A record of a stored job as it is."`
	Put        putCmd         `cmd:"" help:"Record in a stored job what a file holds: a new record, or one in the place of what was seen."`
	Withdraw   withdrawCmd    `cmd:"" help:"Take a record of a stored job back."`
	Erase      eraseCmd       `cmd:"" help:"Take names and remarks of people out of a record of a stored job."`
	Procedure  procedureCmd   `cmd:"" help:"Compare revisions of a procedure, and replay jobs under a new one."`
	Release    releaseCmd     `cmd:"" help:"Say what is still missing before the vehicle may be handed back."`
	Schema     schemaCmd      `cmd:"" help:"Print the JSON Schema of a document: body, procedure, shop, job, zones or assessment."`
	Recompute  recomputeCmd   `cmd:"" help:"Compute an assessment.json again, and say what is the same and what changed."`
	Version    versionCmd     `cmd:"" help:"Print the version of the program."`
}

const description = `fettle says, for a vehicle whose structure is one large aluminium casting: whether it has moved, where the casting is cracked, what may be done, what has to come apart, which route is best, how it is done, and what still has to be proven.

Exit codes: 0 done, 1 an input was refused, 2 wrong command line, 3 done but something blocks the repair, or what was computed again differs, 130 stopped before its end.`

// Run runs one command line and is the exit code. Whatever it prints is plain.
func Run(args []string, env Env) int {
	out, errs := &plainOut{to: env.Stdout}, &plainOut{to: env.Stderr}
	env.Stdout, env.Stderr, env.bar = out, errs, env.Stderr
	code := runLine(args, env)
	if err := errors.Join(out.end(), errs.end()); err != nil {
		return Refused
	}
	return code
}

func runLine(args []string, env Env) int {
	var g grammar
	exit := -1
	parser, err := kong.New(&g, kong.Name("fettle"), kong.Description(description),
		kong.Writers(env.Stdout, env.Stderr), kong.Exit(func(code int) { exit = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: width}), kong.UsageOnError())
	if err != nil {
		fmt.Fprintln(env.Stderr, "fettle:", err)
		return Refused
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	ctx, err := parser.Parse(withNegatives(args, valueFlags(parser.Model.Node)))
	if exit >= 0 { // --help was printed
		return exit
	}
	if err != nil {
		fmt.Fprintln(env.Stderr, "fettle: "+usageText(err))
		return Usage
	}
	code, err := env.runCommand(ctx.Selected().Target.Addr().Interface().(command), nameOf(ctx.Selected()), g.where)
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(env.Stderr, "fettle: stopped; nothing was written")
		return Stopped
	}
	if err != nil {
		tell(env.Stderr, err)
		if v := (*versioned)(nil); errors.As(err, &v) {
			fmt.Fprintln(env.Stderr, v.note())
		}
		return exitCode(err)
	}
	return code
}

// runCommand runs a command on a data folder or a server, where one is named.
func (env Env) runCommand(c command, name string, w where) (code int, err error) {
	cache := &kept{root: env.Cache, version: env.Version}
	defer cache.tell(env.Stderr)
	if env, err = env.located(c, name, w); err != nil {
		return Refused, err
	}
	if env.at == nil {
		return c.run(env, env.onDisk().WithCache(cache))
	}
	defer func() { err = errors.Join(err, env.at.Close()) }()
	code, err = c.run(env, env.inPlace().WithCache(cache))
	if s, is := env.at.(atServer); is && err != nil {
		err = env.otherRelease(s.Store, err)
	}
	return code, err
}

// inPlace is the service on the jobs of a place.
func (env Env) inPlace() *app.App {
	return app.New(&inData{ctx: env.context(), in: env.at}, env.Version).WithBodies(env.Bodies).WithBuild(env.Build).WithData(env.at, env.at.Hint())
}

// command is one command with its arguments filled in.
type command interface {
	run(env Env, a *app.App) (int, error)
}

// tell prints an error: each fault of a document on its own line.
func tell(w io.Writer, err error) {
	var ps diag.Problems
	if errors.As(err, &ps) {
		for _, p := range ps {
			fmt.Fprintln(w, p.Told(typed))
		}
		fmt.Fprintln(w, faults(len(ps)))
		return
	}
	var e *diag.Error
	if !errors.As(err, &e) {
		fmt.Fprintln(w, "fettle: "+err.Error())
		return
	}
	fmt.Fprintln(w, "fettle: "+e.Told(typed))
	if c := (*app.Clashing)(nil); errors.As(err, &c) {
		tellClashes(w, c.Clashes)
	}
	if e.Err != nil && e.Msg != "" {
		fmt.Fprintln(w, "  because: "+e.Err.Error())
	}
}

// tellClashes prints the versions of records that two people have written at once, field by field.
func tellClashes(w io.Writer, clashes []job.Clash) {
	or := func(s string) string { return diag.Plain(cmp.Or(s, "nothing")) }
	for _, c := range clashes {
		for _, f := range c.Fields() {
			fmt.Fprintf(w, "  %s %s: before %s; since then %s wrote %s; yours is %s\n", c.Of, f.Name, or(f.Base), or(c.By), or(f.Theirs), or(f.Mine))
		}
	}
}

func faults(n int) string {
	if n == 1 {
		return "1 fault"
	}
	return fmt.Sprintf("%d faults", n)
}

func exitCode(err error) int {
	if diag.KindOf(err) == diag.Usage {
		return Usage
	}
	return Refused
}

// context is what a command's work is done in.
func (env Env) context() context.Context {
	if env.Stop == nil {
		return context.Background()
	}
	return env.Stop
}

// working are the words for what is being done.
var working = map[string]string{
	app.ReadingJob: "reading the job", app.ReadingBody: "reading the body",
	app.Measuring: "which points have moved", app.Inspecting: "where the findings lie",
	app.Deciding: "what may be done", app.Comparing: "which routes there are",
	app.Scheduling: "one schedule for all of them", app.Drawing: "drawing", app.Replays: "job", readingFiles: "file",
}

// work is that context for work of which a terminal is told, on a line that clear takes away; a
// pipe is not told.
func (env Env) work() (ctx context.Context, clear func()) {
	ctx = env.context()
	if !env.Terminal {
		return ctx, func() {}
	}
	last := ""
	tell := func(p halt.Progress) {
		now := working[p.What]
		if p.Of > 1 {
			now += fmt.Sprintf(", %d of %d", p.Done+1, p.Of)
		}
		if now != last {
			fmt.Fprintf(env.bar, "\r%-60s", "… "+now)
			last = now
		}
	}
	return halt.Telling(ctx, tell), func() { fmt.Fprint(env.bar, "\r"+strings.Repeat(" ", 60)+"\r") }
}

// day reads the day the documents are judged on: today unless given.
func (env Env) day(given string) (time.Time, error) {
	if given == "" {
		return env.Now(), nil
	}
	t, err := time.Parse("2006-01-02", given)
	if err != nil {
		return t, &diag.Error{Kind: diag.Usage, Op: "read --on", Subject: "--on " + given, Msg: "is not a date", Hint: "write year-month-day, for example 2026-11-26"}
	}
	return t.Add(12 * time.Hour), nil
}

type versionCmd struct{}

func (versionCmd) Help() string { return "Example:\n\n  fettle version\n" }

func (versionCmd) run(env Env, a *app.App) (int, error) {
	fmt.Fprintln(env.Stdout, "fettle "+a.Version())
	return Done, nil
}

type schemaCmd struct {
	Document string `arg:"" help:"body, procedure, shop, job, zones or assessment."`
}

func (schemaCmd) Help() string {
	return "Example:\n\n  fettle schema job\n"
}

func (c schemaCmd) run(env Env, a *app.App) (int, error) {
	b, err := app.Schema(c.Document)
	if err != nil {
		return Usage, err
	}
	_, err = env.Stdout.Write(append(b, '\n'))
	return Done, err
}
