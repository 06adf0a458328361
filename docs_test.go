package fettle_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// tracked is every file of the repository with one of the endings, without
// the folders that a build or git makes.
func tracked(t *testing.T, endings ...string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); p != "." && (name == ".git" || name == "node_modules" || name == "fettle-demo" || name == "build") {
				return filepath.SkipDir
			}
			return nil
		}
		for _, e := range endings {
			if strings.HasSuffix(p, e) {
				b, err := os.ReadFile(p)
				if err != nil {
					return err
				}
				out[filepath.ToSlash(p)] = string(b)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestPackagesHaveComments demands a package comment that says something.
func TestPackagesHaveComments(t *testing.T) {
	best := map[string]int{}
	for file, src := range tracked(t, ".go") {
		if strings.HasSuffix(file, "_test.go") || strings.Contains(file, "testdata/") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, src, parser.PackageClauseOnly|parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Dir(file)
		n := 0
		if f.Doc != nil {
			n = len(f.Doc.Text())
		}
		best[dir] = max(best[dir], n)
	}
	for dir, n := range best {
		if n < 80 {
			t.Errorf("%s: the package comment should say what it owns and what it refuses", dir)
		}
	}
}

var (
	mdLink     = regexp.MustCompile(`\]\(([^)#\s]+)(#[^)]*)?\)`)
	lineNumber = regexp.MustCompile(`[a-z_]+\.go:\d+`)
	testName   = regexp.MustCompile("`((?:Test|Fuzz|Benchmark|Example)[A-Za-z0-9_]+)`")
)

// TestDocuments checks that links lead somewhere, that no document points at a
// line number of the code (they go stale), and that every page of
// docs/methods ends with Evidence whose tests exist.
func TestDocuments(t *testing.T) {
	funcs := map[string]bool{}
	decl := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz|Benchmark|Example)\w+)\(`)
	for _, src := range tracked(t, "_test.go") {
		for _, m := range decl.FindAllStringSubmatch(src, -1) {
			funcs[m[1]] = true
		}
	}
	for file, text := range tracked(t, ".md") {
		for _, m := range mdLink.FindAllStringSubmatch(text, -1) {
			if strings.Contains(m[1], "://") || strings.HasPrefix(m[1], "mailto:") {
				continue
			}
			if _, err := os.Stat(filepath.Join(filepath.Dir(file), filepath.FromSlash(m[1]))); err != nil {
				t.Errorf("%s: the link %s leads nowhere", file, m[1])
			}
		}
		if m := lineNumber.FindString(text); m != "" {
			t.Errorf("%s: %s points at a line number; name the function instead", file, m)
		}
		if !strings.HasPrefix(file, "docs/methods/") || strings.HasSuffix(file, "README.md") {
			continue
		}
		_, evidence, ok := strings.Cut(text, "## Evidence")
		names := testName.FindAllStringSubmatch(evidence, -1)
		if !ok || len(names) == 0 {
			t.Errorf("%s: a method page ends with '## Evidence' that names its tests", file)
		}
		for _, m := range names {
			if !funcs[m[1]] {
				t.Errorf("%s: the test %s does not exist", file, m[1])
			}
		}
	}
}

// TestNothingForeign checks that no file names a path of a machine or a
// package registry's host.
func TestNothingForeign(t *testing.T) {
	bad := regexp.MustCompile(`(/wo` + `rk/|/ro` + `ot/|/home/[a-z])|((proxy|registry)\.[a-z0-9.-]+\.(org|com|io|dev))`)
	for file, text := range tracked(t, ".go", ".md", ".yaml", ".yml", ".csv", ".txt", ".html", ".sh", "Makefile", ".py", ".json", "go.mod") {
		for _, part := range []string{"/wo" + "rk/", "/ro" + "ot/", "/home/", "proxy.", "registry."} {
			if !strings.Contains(text, part) { // looked for first: a search of all files is slow
				continue
			}
			if m := bad.FindString(text); m != "" {
				t.Errorf("%s: names %q", file, m)
				break
			}
		}
	}
}

// TestLimitsAreLinked: whoever signs for a vehicle finds what the program cannot know
// from the first pages.
func TestLimitsAreLinked(t *testing.T) {
	for _, page := range []string{"README.md", "ARCHITECTURE.md", "docs/methods/README.md"} {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(text), "limits.md)") {
			t.Errorf("%s does not link limits.md", page)
		}
	}
}

// TestChecksCanBeLeftOut: every check against another program stands in scripts/setup.sh
// beside what it needs, so that where that is missing the other checks pass.
func TestChecksCanBeLeftOut(t *testing.T) {
	text, err := os.ReadFile("scripts/setup.sh")
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^(?:table=')?\S+ \S+ (TestOutside[^\s']*)'?$`).FindAllStringSubmatch(string(text), -1) {
		for _, p := range strings.Split(m[1], "|") {
			used[p] = false
		}
	}
	onlyGo := map[string]bool{"TestOutsideTimeOfLargeJobs": true} // measures itself
	for file, text := range tracked(t, "_test.go") {
		for _, m := range regexp.MustCompile(`(?m)^func (TestOutside\w*)\(`).FindAllStringSubmatch(text, -1) {
			named := onlyGo[m[1]]
			for p := range used {
				if regexp.MustCompile("^(" + p + ")$").MatchString(m[1]) {
					named, used[p] = true, true
				}
			}
			if !named {
				t.Errorf("%s: scripts/setup.sh does not say what %s needs", file, m[1])
			}
		}
	}
	for p, yes := range used {
		if !yes {
			t.Errorf("scripts/setup.sh names %s, and there is no such check", p)
		}
	}
}
