package fettle_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

// typed is what a person types at a terminal, or what only a terminal understands: a command
// of ours, an option, a control sequence.
var typed = regexp.MustCompile(`\bfettle [a-z]+|(?:^|[\s'"(=])--[a-z]|\x1b\[`)

// A text below cli says what to do, and names a remedy (diag.Remedy) where the program does it;
// cli knows how that is typed.
func TestOnlyTheEdgeKnowsATerminal(t *testing.T) {
	for file, n := range typedTexts(t, os.DirFS(".")) {
		t.Errorf("%s: %d texts name a command or an option; only cli knows how something is typed", file, n)
	}
}

// TestOnlyTheEdgeKnowsATerminalFindsPlantedBreaches shows that the check has teeth.
func TestOnlyTheEdgeKnowsATerminalFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct {
		src  string
		want int
	}{
		{`var h = "see why: fettle assess JOB"`, 1}, {`var h = "name one with --route"`, 1}, {`var o = "--std"`, 1}, {`var c = "\x1b[1m"`, 1}, {"var r = `fettle\nx --json`", 1},
		{"// fettle assess says --route.\nvar h = \"-- a dash, fettle-demo, fettle.\"", 0},
	} {
		fsys := fstest.MapFS{"internal/a/a.go": {Data: []byte("package a\n" + c.src)}, "internal/cli/c.go": {Data: []byte("package cli\n" + c.src)}}
		if got := typedTexts(t, fsys); got["internal/a/a.go"] != c.want || len(got) > c.want {
			t.Errorf("%s: %v", c.src, got)
		}
	}
}

func typedTexts(t *testing.T, fsys fs.FS) map[string]int {
	t.Helper()
	out := map[string]int{}
	eachSource(t, fsys, func(file string) bool {
		return strings.HasPrefix(file, "internal/cli/") || strings.HasPrefix(file, "internal/store/postgrestest/") || strings.HasPrefix(file, "internal/store/s3test/") // start programs of others, for tests
	}, func(file string, f *ast.File) {
		ast.Inspect(f, func(n ast.Node) bool {
			if field, ok := n.(*ast.Field); ok && field.Tag != nil && typed.MatchString(field.Tag.Value) {
				out[file]++
				return false
			}
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if s, err := strconv.Unquote(lit.Value); err == nil && typed.MatchString(s) {
					out[file]++
				}
			}
			return true
		})
	})
	return out
}

// eachSource parses every source below internal but tests, what lies in testdata, and what is left out.
func eachSource(t *testing.T, fsys fs.FS, leftOut func(file string) bool, do func(file string, f *ast.File)) {
	t.Helper()
	err := fs.WalkDir(fsys, "internal", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") || strings.Contains(file, "testdata/") || leftOut(file) {
			return err
		}
		src, err := fs.ReadFile(fsys, file)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, src, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		do(file, f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
