package cli

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/alecthomas/kong"

	"fettle/internal/diag"
)

// allCommands are all commands of the program, as the parser of the command line knows them.
func allCommands(t *testing.T) []*kong.Node {
	t.Helper()
	parser, err := kong.New(&grammar{})
	if err != nil {
		t.Fatal(err)
	}
	return parser.Model.Leaves(false)
}

// lineFor is a command line of a command with something for everything that it has to be given.
func lineFor(n *kong.Node) []string {
	out := strings.Fields(nameOf(n))
	value := func(v *kong.Value) string {
		switch {
		case v.Enum != "":
			return v.EnumSlice()[0]
		case strings.Contains(v.Target.Type().String(), "Date"):
			return "2026-11-30"
		case v.IsMap():
			return "a=b"
		case v.Target.CanFloat() || v.Target.CanInt() || v.Target.CanUint():
			return "1"
		}
		return "x"
	}
	for _, p := range n.Positional {
		if p.Required {
			out = append(out, value(p))
		}
	}
	for _, f := range n.Flags {
		if f.Required {
			out = append(out, "--"+f.Name+"="+value(f.Value))
		}
	}
	return out
}

// Of every command of the program it is said on what it works. Where a server is named, one that is not for servers says what to do instead, one
// that is asks for a token, and one on files alone does its work: in each case before anything is asked of the server.
func TestEveryCommandIsClassed(t *testing.T) {
	var asked atomic.Int32
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	defer server.Close()
	dir := t.TempDir()
	t.Chdir(dir)
	var names []string
	for _, n := range allCommands(t) {
		name := nameOf(n)
		names = append(names, name)
		of, err := classOf(name)
		if err != nil {
			t.Error(err)
			continue
		}
		var out, errs bytes.Buffer
		code := Run(lineFor(n), Env{Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test",
			Lookup: variables(serverVar + "=" + server.URL)})
		says := errs.String()
		switch {
		case of.files:
			if strings.Contains(says, "token") || strings.Contains(says, "server") {
				t.Errorf("%s: on files alone: %d %s", name, code, says)
			}
		case of.instead != "":
			if code != Usage || !strings.Contains(says, "fettle "+name+": works on a data folder and not on a server; "+of.instead) || out.Len() > 0 {
				t.Errorf("%s: not for servers: %d %s", name, code, says)
			}
		case code != Usage || !strings.Contains(says, tokenFileVar):
			t.Errorf("%s: without a token: %d %s", name, code, says)
		}
	}
	for name := range classes {
		if !slices.Contains(names, name) {
			t.Errorf("%s is classed, and there is no such command", name)
		}
	}
	if len(names) < 55 || asked.Load() > 0 {
		t.Errorf("%d commands, %d requests", len(names), asked.Load())
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("something was written: %v %v", left, err)
	}
	if _, err := classOf("something new"); diag.KindOf(err) != diag.Internal {
		t.Errorf("a command that nobody classed runs: %v", err)
	}
}

// The command line is heard before the environment; a data folder and a server at once are refused.
func TestWhereIsSettled(t *testing.T) {
	for _, c := range []struct {
		name         string
		is           where
		vars         string // NAME=VALUE ...
		data, server string
		refused      string
	}{
		{"nothing", where{}, "", "", "", ""},
		{"a folder", where{Data: "a"}, "", "a", "", ""},
		{"a server", where{Server: "https://a"}, "", "", "https://a", ""},
		{"a folder in the environment", where{}, "FETTLE_DATA=b", "b", "", ""},
		{"a server in the environment", where{}, "FETTLE_SERVER=https://b", "", "https://b", ""},
		{"both", where{Data: "a", Server: "https://a"}, "", "", "", "--data and --server"},
		{"both in the environment", where{}, "FETTLE_DATA=b FETTLE_SERVER=https://b", "", "", "FETTLE_DATA and FETTLE_SERVER"},
		{"a folder before the environment's server", where{Data: "a"}, "FETTLE_SERVER=https://b", "a", "", ""},
		{"a server before the environment's folder", where{Server: "https://a"}, "FETTLE_DATA=b", "", "https://a", ""},
		{"a server before both", where{Server: "https://a"}, "FETTLE_DATA=b FETTLE_SERVER=https://b", "", "https://a", ""},
		{"plain without a server", where{PlainHTTP: true}, "", "", "", "--plain-http"},
		{"plain on a folder", where{PlainHTTP: true, Data: "a"}, "", "", "", "--plain-http"},
		{"plain", where{PlainHTTP: true}, "FETTLE_SERVER=http://b", "", "http://b", ""},
	} {
		got, err := c.is.settled(Env{Lookup: variables(c.vars)})
		if c.refused != "" {
			if diag.KindOf(err) != diag.Usage || !strings.HasPrefix(err.Error(), c.refused) {
				t.Errorf("%s: %v", c.name, err)
			}
		} else if err != nil || got.Data != c.data || got.Server != c.server {
			t.Errorf("%s: %+v %v", c.name, got, err)
		}
	}
	if code, _, errs := run(t, t.TempDir(), "version", "--data", "a", "--server", "https://a"); code != Usage || !strings.Contains(errs, "--data and --server") {
		t.Errorf("both, to a command on files alone: %d %s", code, errs)
	}
}

func variables(text string) func(string) (string, bool) {
	vars := map[string]string{}
	for _, v := range strings.Fields(text) {
		name, value, _ := strings.Cut(v, "=")
		vars[name] = value
	}
	return func(name string) (string, bool) { v, is := vars[name]; return v, is }
}

// A token comes from the environment, or from a regular file that its owner alone may read; anything else is refused with what to do, and
// never told.
func TestTokens(t *testing.T) {
	const secret = "fettle_secret4711"
	dir := t.TempDir()
	file := func(name string, mode os.FileMode, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(p, mode); err != nil {
			t.Fatal(err)
		}
		return p
	}
	good := file("good", 0o600, secret+"\n")
	if err := os.Symlink(good, filepath.Join(dir, "link")); err != nil && runtime.GOOS != "windows" {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, vars, says string }{
		{"given", "FETTLE_TOKEN=" + secret, ""},
		{"a file", "FETTLE_TOKEN_FILE=" + good, ""},
		{"a file for its owner to read", "FETTLE_TOKEN_FILE=" + file("ro", 0o400, secret), ""},
		{"none", "", "chmod 600"},
		{"both", "FETTLE_TOKEN=" + secret + " FETTLE_TOKEN_FILE=" + good, "take one of them"},
		{"a file for the group", "FETTLE_TOKEN_FILE=" + file("group", 0o640, secret), "chmod 600"},
		{"a file for all", "FETTLE_TOKEN_FILE=" + file("all", 0o604, secret), "revoke the token"},
		{"a file that all may write", "FETTLE_TOKEN_FILE=" + file("written", 0o602, secret), "chmod 600"},
		{"a link", "FETTLE_TOKEN_FILE=" + filepath.Join(dir, "link"), "regular file"},
		{"a folder", "FETTLE_TOKEN_FILE=" + dir, "regular file"},
		{"no file", "FETTLE_TOKEN_FILE=" + filepath.Join(dir, "gone"), "cannot be read"},
		{"a long file", "FETTLE_TOKEN_FILE=" + file("long", 0o600, strings.Repeat("x", mostToken)), "too long"},
	} {
		if runtime.GOOS == "windows" && strings.HasPrefix(c.name, "a file ") {
			continue
		}
		got, err := (Env{Lookup: variables(c.vars)}).token()
		if c.says == "" {
			if got != secret || err != nil {
				t.Errorf("%s: %q %v", c.name, got, err)
			}
		} else if err == nil || got != "" || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), secret) {
			t.Errorf("%s: %q %v", c.name, got, err)
		}
	}
	for _, text := range []string{"", "two words", "two\nlines"} {
		vars := "FETTLE_SERVER=http://127.0.0.1:1 FETTLE_TOKEN_FILE=" + file("bad", 0o600, text)
		var out, errs bytes.Buffer
		if code := Run([]string{"jobs"}, Env{Stdout: &out, Stderr: &errs, Now: time.Now, Lookup: variables(vars)}); code != Usage || !strings.Contains(errs.String(), "token") || text != "" && strings.Contains(errs.String(), text) {
			t.Errorf("%q: %d %s", text, code, errs.String())
		}
	}
}

// An authority is a file with a certificate; anything else is refused before anything is asked.
func TestAuthorityOfTheCommandLine(t *testing.T) {
	dir := t.TempDir()
	empty := filepath.Join(dir, "empty")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, named := range []string{empty, dir, filepath.Join(dir, "gone")} {
		for _, args := range [][]string{{"jobs", "--ca", named}, {"jobs"}} {
			vars := "FETTLE_SERVER=https://127.0.0.1:1 FETTLE_TOKEN=fettle_x"
			if len(args) == 1 {
				vars += " FETTLE_CA=" + named
			}
			var out, errs bytes.Buffer
			if code := Run(args, Env{Stdout: &out, Stderr: &errs, Now: time.Now, Lookup: variables(vars)}); code != Usage || !strings.Contains(errs.String(), "/authority") {
				t.Errorf("%s: %d %s", named, code, errs.String())
			}
		}
	}
}
