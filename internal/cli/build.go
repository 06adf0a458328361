package cli

import (
	"os"
	"runtime/debug"
	"sync"

	"fettle/internal/app"
)

// ThisVersion is a release with what is known of the source this program was
// built from.
func ThisVersion(release string) string { return buildOf(release, buildInfo()).Version }

// ThisBuild is the program as exactly as it knows itself; it is found out once.
func ThisBuild(release string) func() app.Build {
	return sync.OnceValue(func() app.Build {
		b := buildOf(release, buildInfo())
		b.SHA256, _ = ownHash() // empty when it cannot be read: the rest still says what is known
		return b
	})
}

func buildInfo() *debug.BuildInfo {
	if info, ok := debug.ReadBuildInfo(); ok {
		return info
	}
	return &debug.BuildInfo{}
}

// buildOf reads what the toolchain wrote into a program. Without the state of
// the source the tree is unknown, and the version says so: it may be any.
func buildOf(release string, info *debug.BuildInfo) app.Build {
	b := app.Build{Version: release, Module: info.Main.Path, ModuleVersion: info.Main.Version, Tree: "unknown", Go: info.GoVersion}
	level := ""
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Commit = s.Value
		case "vcs.time":
			b.Committed = s.Value
		case "vcs.modified":
			b.Tree = "clean"
			if s.Value == "true" {
				b.Tree = "changed"
			}
		case "GOOS":
			b.OS = s.Value
		case "GOARCH":
			b.Arch = s.Value
		case "GOAMD64", "GOARM64":
			level = " " + s.Value
		}
	}
	if b.Arch != "" && level != "" {
		b.Arch += level
	}
	if len(b.Commit) >= 8 {
		b.Version += "+" + b.Commit[:8]
	}
	switch {
	case b.Tree == "changed":
		b.Version += ".changed"
	case b.Commit == "":
		b.Version += "+unrecorded"
	}
	return b
}

// ownHash is the SHA-256 of the program's own file, found out once: it is read as a whole for it.
var ownHash = sync.OnceValues(func() (string, error) {
	name, err := os.Executable()
	if err != nil {
		return "", err
	}
	return hashOfFile(name)
})
