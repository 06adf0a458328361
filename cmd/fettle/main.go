// Command fettle is the one binary: it wires the outside world to package cli
// and holds no logic of its own.
package main

import (
	"os"
	"runtime/debug"
	"time"

	"golang.org/x/term"

	"fettle/internal/cli"
)

// version is the release; a build from source adds the commit.
const version = "0.1.0"

func main() { os.Exit(run()) }

func run() int {
	return cli.Run(os.Args[1:], cli.Env{
		Stdout: os.Stdout, Stderr: os.Stderr,
		Terminal: term.IsTerminal(int(os.Stderr.Fd())),
		Now:      time.Now,
		Version:  version + commit(),
		Cache:    cli.DefaultCache(os.Getenv("FETTLE_CACHE")),
	})
}

// commit is the short hash the binary was built from, when it is known.
func commit() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 8 {
			return "+" + s.Value[:8]
		}
	}
	return ""
}
