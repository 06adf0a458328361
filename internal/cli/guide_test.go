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

// TestGuide does what docs/first-vehicle.md says.
func TestGuide(t *testing.T) {
	if files, commands := walk(t, readPage(t, "../../docs/first-vehicle.md")); files < 9 || commands < 9 {
		t.Errorf("%d files and %d commands: the page was not read", files, commands)
	}
	sameFigures(t)
}

// TestFirstHour does what docs/first-hour.md says. Each of its three starts is ten minutes of typing
// at most, by somebody who types 240 characters a minute (from memory: 40 to 50 words of five letters).
func TestFirstHour(t *testing.T) {
	page := readPage(t, "../../docs/first-hour.md")
	if files, commands := walk(t, page); files < 7 || commands < 7 {
		t.Errorf("%d files and %d commands: the page was not read", files, commands)
	}
	starts := strings.Split(page, "\n## ")[1:]
	if len(starts) != 3 {
		t.Fatalf("%d starts", len(starts))
	}
	for i, start := range starts {
		n := 0
		for _, b := range blocks.FindAllStringSubmatch(start, -1) {
			if b[1] != console {
				n += len([]rune(b[3]))
				continue
			}
			for _, part := range strings.Split(b[3], "$ ")[1:] {
				line, _, _ := strings.Cut(part, "\n")
				n += len([]rune(line))
			}
		}
		if n > 2400 || n < 300 {
			t.Errorf("start %d: %d characters to type", i+1, n)
		}
	}
}

func readPage(t *testing.T, file string) string {
	t.Helper()
	page, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

var blocks = regexp.MustCompile("(?ms)^```([a-z]+)( [^\n]+)?\n(.*?)^```$")

const console = "console" // the kind of a block of commands and what they print

// walk writes every file of a page and runs every command in a folder of its own, and holds what the
// program prints against what the page shows; a line of three dots stands for any lines.
func walk(t *testing.T, page string) (files, commands int) {
	t.Helper()
	t.Chdir(t.TempDir())
	for _, b := range blocks.FindAllStringSubmatch(page, -1) {
		kind, name, text := b[1], strings.TrimSpace(b[2]), b[3]
		if kind == console {
			commands += session(t, text)
			continue
		}
		files++
		name, more := strings.CutSuffix(name, " (append)")
		if more {
			text = readPage(t, name) + text
		}
		if to, from, copied := strings.Cut(name, " (as "); copied {
			name, text = to, readPage(t, strings.TrimSuffix(from, ")"))
		}
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return files, commands
}

// typedWords are the words of a line as a shell takes them apart: what stands in single quotes is kept together.
func typedWords(line string) []string {
	var out []string
	for _, w := range regexp.MustCompile(`(?:'[^']*'|[^\s'])+`).FindAllString(line, -1) {
		out = append(out, strings.ReplaceAll(w, "'", ""))
	}
	return out
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
		code := Run(typedWords(line), Env{Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test", Bodies: &bodies})
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
