package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestGuide does what docs/first-vehicle.md says: it writes every file of the
// page and runs every command, and holds what the program prints against what
// the page shows; a line of three dots stands for any lines.
func TestGuide(t *testing.T) {
	page, err := os.ReadFile("../../docs/first-vehicle.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	files, commands := 0, 0
	for _, b := range regexp.MustCompile("(?ms)^```([a-z]+)( [^\n]+)?\n(.*?)^```$").FindAllStringSubmatch(string(page), -1) {
		kind, name, text := b[1], strings.TrimSpace(b[2]), b[3]
		if kind == "console" {
			commands += session(t, text)
			continue
		}
		files++
		name, more := strings.CutSuffix(name, " (append)")
		if more {
			was, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			text = string(was) + text
		}
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if files < 9 || commands < 9 {
		t.Errorf("%d files and %d commands: the page was not read", files, commands)
	}
	sameFigures(t)
}

// sameFigures: each length with its uncertainty that explain gives of the guide's
// finding stands in the report as well.
func sameFigures(t *testing.T) {
	t.Helper()
	page, err := os.ReadFile("job/result/report.html")
	if err != nil {
		t.Fatal(err)
	}
	report := strings.NewReplacer("\u00a0", " ", "\u2212", "-").Replace(string(page))
	var out, errs bytes.Buffer
	if code := Run([]string{"explain", "job", "D1", "--on", "2026-03-03"}, Env{Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test", Bodies: &bodies}); code != Done {
		t.Fatalf("explain: exit %d: %s", code, errs.String())
	}
	figures := regexp.MustCompile(`-?[0-9.]+ ± [0-9.]+ mm`).FindAllString(out.String(), -1)
	if len(figures) < 5 {
		t.Errorf("explain gives %d lengths only: %s", len(figures), out.String())
	}
	for _, f := range figures {
		if !strings.Contains(report, f) {
			t.Errorf("explain gives %s, the report does not", f)
		}
	}
}

// session runs the commands of a console block.
func session(t *testing.T, text string) (commands int) {
	t.Helper()
	for _, part := range strings.Split(text, "$ fettle ")[1:] {
		line, want, _ := strings.Cut(part, "\n")
		var out, errs bytes.Buffer
		code := Run(strings.Fields(line), Env{Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test", Bodies: &bodies})
		if code != Done && code != Blocked {
			t.Fatalf("fettle %s: exit %d: %s", line, code, errs.String())
		}
		var pattern strings.Builder
		for _, l := range strings.SplitAfter(want, "\n") {
			if l == "...\n" {
				pattern.WriteString("(?:.*\n)*?")
			} else {
				pattern.WriteString(regexp.QuoteMeta(l))
			}
		}
		if !regexp.MustCompile("^" + pattern.String() + "$").MatchString(out.String()) {
			t.Errorf("fettle %s prints\n%s\nand the page shows\n%s", line, out.String(), want)
		}
		commands++
	}
	return commands
}
