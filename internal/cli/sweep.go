package cli

import (
	"context"
	"errors"
	"fmt"
	"maps"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/store/datafolder"
	"fettle/internal/unit"
)

// readingFiles is that the files of a data folder are read, as work is named for programs.
const readingFiles = "files"

type sweepCmd struct{}

func (sweepCmd) Help() string {
	return `Marks photos, papers and results that nothing refers to, and removes those that were marked a day ago and that nothing has referred to since. What any job has ever named stays, also what was withdrawn, and so do all bodies and shops. What 'fettle work' has made stays for 90 days, or as many as 'results' of settings.yaml says. It names jobs that were kept as long as 'jobs' of settings.yaml says after their vehicles were handed back, and removes none of them: 'fettle handed-back JOB --remove' does. It may run while others work; the first sweep removes nothing.

Example:

  fettle sweep --data fettle-data
`
}

func (c sweepCmd) run(env Env, a *app.App) (int, error) {
	if env.data == nil {
		return Usage, env.noData("sweep")
	}
	s, err := env.data.Sweep(env.context())
	if err != nil {
		return Refused, err
	}
	fmt.Fprintf(env.Stdout, "Looked at: %s. Marked now: %d.\n", unit.Count(s.Blobs, "file"), s.Marked)
	fmt.Fprintf(env.Stdout, "Removed: %s with %s, and %d left behind of what was broken off.\n", unit.Count(s.Removed, "file"), bytesText(s.Bytes), s.Left)
	if s.Over > 0 {
		fmt.Fprintf(env.Stdout, "Of people: %s that were over.\n", unit.Count(s.Over, "record"))
	}
	if err := env.tellDue(); err != nil {
		return Refused, err
	}
	if s.Held > 0 {
		fmt.Fprintf(env.Stdout, "A backup is being made: %s more can be removed when it is done. Sweep again then.\n", unit.Count(s.Held, "file"))
	}
	return Done, nil
}

// allWork is how all work in the background of a data folder is done.
func (env Env) allWork(a *app.App) map[app.TaskKind]app.Doing {
	all := a.Background(env.data)
	maps.Copy(all, map[app.TaskKind]app.Doing{
		app.TaskSweep: func(ctx context.Context, _ app.Task) (string, error) {
			s, err := env.data.Sweep(ctx)
			if err == nil && s.Held > 0 { // it is tried again
				err = &diag.Error{Kind: diag.Unavailable, Op: "sweep", Subject: env.data.Dir, Msg: unit.Count(s.Held, "file") + " could be removed, and a backup is being made", Hint: "have it done again after the backup; sweep and back up at different hours"}
			}
			return "", err
		},
		app.TaskVerify: app.Verifying(datafolder.Keeper{Store: env.data}, env.data),
		app.TaskScan:   func(ctx context.Context, _ app.Task) (string, error) { return "", env.scan(ctx) },
		app.TaskNext:   a.NextActs(env.data, env.data),
	})
	return all
}

// mostNamed is how many damaged files an error names.
const mostNamed = 20

// scan reads all files of the data folder; damaged ones are an error that names them.
func (env Env) scan(ctx context.Context) error {
	var faults []error
	bad := 0
	err := halt.Do(ctx, func(w *halt.Work) {
		w.Begin(readingFiles)
		_, _, failed := env.data.Scan(ctx, w.Part, func(hash string, why error) {
			if bad++; bad <= mostNamed {
				faults = append(faults, fmt.Errorf("%s: %w", hash, why))
			}
		})
		if failed != nil {
			faults = append(faults, failed)
		}
	})
	if err != nil || len(faults) == 0 {
		return err
	}
	if bad == 0 {
		return errors.Join(faults...)
	}
	return &diag.Error{Kind: diag.Integrity, Op: "scan", Subject: env.data.Dir, Msg: unit.Count(bad, "file") + " damaged", Hint: "bring them back from a backup", Err: errors.Join(faults...)}
}
