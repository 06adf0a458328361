// Command fettle is the one binary: it wires the outside world to package cli
// and holds no logic of its own.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
	_ "time/tzdata" // zones of shops, where the machine has no database of them

	"golang.org/x/term"

	"fettle/internal/cli"
)

// version is the release; a build from source adds the commit, and whether the
// source was that commit.
const version = "0.1.0"

func main() { os.Exit(run()) }

func run() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return cli.Run(os.Args[1:], cli.Env{
		Stop:   ctx,
		Stdin:  os.Stdin,
		Stdout: os.Stdout, Stderr: os.Stderr,
		Asking:   term.IsTerminal(int(os.Stdin.Fd())) && term.IsTerminal(int(os.Stderr.Fd())),
		Terminal: term.IsTerminal(int(os.Stderr.Fd())),
		Now:      time.Now,
		Version:  cli.ThisVersion(version),
		Build:    cli.ThisBuild(version),
		Lookup:   os.LookupEnv,
		Person:   os.Getenv("FETTLE_PERSON"),
		Cache:    cli.DefaultCache(os.Getenv("FETTLE_CACHE")),
		Serving:  serving,
	})
}
