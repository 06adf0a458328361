package cli

import (
	"runtime/debug"
	"testing"
)

// TestBuildOf: a clean tree, a changed one, and one of which nothing was recorded (as
// with go run) call themselves by three names.
func TestBuildOf(t *testing.T) {
	set := func(modified string) *debug.BuildInfo {
		return &debug.BuildInfo{GoVersion: "go1.99", Main: debug.Module{Path: "fettle", Version: "(devel)"}, Settings: []debug.BuildSetting{
			{Key: "GOARCH", Value: "amd64"}, {Key: "GOOS", Value: "linux"}, {Key: "GOAMD64", Value: "v3"},
			{Key: "vcs.revision", Value: "0123456789abcdef0123456789abcdef01234567"}, {Key: "vcs.time", Value: "2026-11-26T10:00:00Z"}, {Key: "vcs.modified", Value: modified}}}
	}
	for want, info := range map[string]*debug.BuildInfo{"0.1.0+01234567": set("false"), "0.1.0+01234567.changed": set("true"), "0.1.0+unrecorded": {}} {
		if b := buildOf("0.1.0", info); b.Version != want {
			t.Errorf("version %s, want %s", b.Version, want)
		}
	}
	if b := buildOf("0.1.0", set("true")); b.Arch != "amd64 v3" || b.OS != "linux" || b.Tree != "changed" || b.Committed == "" || b.Go != "go1.99" {
		t.Errorf("%+v", b)
	}
	if b := buildOf("0.1.0", &debug.BuildInfo{}); b.Tree != "unknown" {
		t.Errorf("a build without a record is %s", b.Tree)
	}
	if h := ThisBuild("0.1.0")().SHA256; len(h) != 64 {
		t.Errorf("the program's own hash is %q", h)
	}
}
