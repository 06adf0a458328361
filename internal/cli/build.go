package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime/debug"
	"sync"

	"fettle/internal/app"
)

// thisBuild is the program as exactly as it knows itself; it is found out once.
var thisBuild = sync.OnceValue(func() app.Build {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		info = &debug.BuildInfo{}
	}
	b := buildOf(info)
	b.SHA256 = ownHash()
	return b
})

// buildOf reads what the toolchain wrote into a program. Without the state of
// the source the tree is unknown, and the version says so: it may be any.
func buildOf(info *debug.BuildInfo) app.Build {
	b := app.Build{Version: version, Module: info.Main.Path, ModuleVersion: info.Main.Version, Tree: "unknown", Go: info.GoVersion}
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

// ownHash is the SHA-256 of the program's own file; empty when it cannot be read:
// the rest still says what is known.
func ownHash() string {
	name, err := os.Executable()
	if err != nil {
		return ""
	}
	f, err := os.Open(name)
	if err != nil {
		return ""
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil))
}
