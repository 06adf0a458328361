package cli

import (
	"fmt"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

type handedBackCmd struct {
	Job    string    `arg:"" optional:"" help:"A job of the data folder; none lists all whose vehicles were handed back, and those that were removed."`
	On     unit.Date `help:"Note the day on which its vehicle was handed back." placeholder:"DATE"`
	Remove bool      `help:"Remove the job, which was kept as long as 'jobs' of settings.yaml says."`
	By     string    `help:"Who does it: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (handedBackCmd) Help() string {
	return `Notes on which day the vehicle of a job was handed back. From then on the job is kept for as many days as 'jobs' of settings.yaml says; where it says nothing, for ever. Without --on and --remove it lists until when each job is kept, and what keeps it.

--remove removes a job whose time is over, for good: its events, its line in lists, what it was written in by hand, work about it that is over; its photos and papers go with the next sweeps, a day later. It refuses a job that is on hold, that was not handed back, about which something was recorded since, or about which work waits. What it had is in the log as before, so 'fettle verify-store' and old checkpoints hold, and the list says when it was removed and by whom. Its name is not given again. Backups have it until they are thrown away.

Example:

  fettle handed-back rear-job --on 2026-11-30 --by p-31 --data fettle-data
  fettle handed-back --data fettle-data
  fettle handed-back rear-job --remove --by p-31 --data fettle-data
`
}

func (c handedBackCmd) run(env Env, a *app.App) (int, error) {
	if env.data == nil {
		return Usage, env.noData("handed-back")
	}
	if noted := !c.On.IsZero(); noted && c.Remove || c.Job == "" && (noted || c.Remove) {
		return Usage, &diag.Error{Kind: diag.Usage, Op: "handed-back", Subject: "fettle handed-back", Msg: "notes the day for one job, or removes one job, or lists", Hint: "give JOB with --on or with --remove"}
	}
	by := c.By
	if by == "" {
		by = env.Person
	}
	switch {
	case !c.On.IsZero():
		if err := env.data.HandBack(env.context(), c.Job, by, c.On); err != nil {
			return Refused, err
		}
		_, err := fmt.Fprintf(env.Stdout, "Noted: the vehicle of %s was handed back on %s.\n", c.Job, c.On)
		return Done, err
	case c.Remove:
		r, err := env.data.RemoveJob(env.context(), c.Job, by, env.data.Settings.Jobs)
		if err != nil {
			return Refused, err
		}
		_, err = fmt.Fprintf(env.Stdout, "Removed: %s with %s. Its photos and papers go with the next sweeps, a day later.\n", r.Job, events(r.Events))
		return Done, err
	}
	return c.list(env)
}

func (c handedBackCmd) list(env Env) (int, error) {
	there, err := env.data.HandedBacks(env.context(), env.data.Settings.Jobs)
	if err != nil {
		return Refused, err
	}
	gone, err := env.data.Removals(env.context())
	if err != nil {
		return Refused, err
	}
	n := 0
	for _, h := range there {
		if c.Job != "" && c.Job != h.Job {
			continue
		}
		n++
		state := "stays: " + h.Stays
		if h.Stays == "" {
			state = "may be removed"
		}
		fmt.Fprintf(env.Stdout, "%s  handed back %s, noted by %s; %s\n", h.Job, h.Day, h.By, diag.Plain(state))
	}
	for _, r := range gone {
		if c.Job != "" && c.Job != r.Job {
			continue
		}
		n++
		fmt.Fprintf(env.Stdout, "%s  handed back %s; %s, removed at %s by %s after %d days\n", r.Job, r.Day, events(r.Events), r.At, r.By, r.Days)
	}
	if n == 0 {
		fmt.Fprintln(env.Stdout, "Of no vehicle is it noted that it was handed back.")
	}
	return Done, nil
}

// tellDue names jobs that may be removed, and removes none.
func (env Env) tellDue() error {
	all, err := env.data.HandedBacks(env.context(), env.data.Settings.Jobs)
	var due []string
	for _, h := range all {
		if h.Stays == "" {
			due = append(due, h.Job)
		}
	}
	if err == nil && len(due) > 0 {
		_, err = fmt.Fprintf(env.Stdout, "Kept for %d days since they were handed back, and may be removed with 'fettle handed-back JOB --remove': %s\n", env.data.Settings.Jobs, strings.Join(due, ", "))
	}
	return err
}
