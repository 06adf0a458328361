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

// typedBelow are the texts below cli that still name a command or an option, by file. Nothing
// is added here: a text that says what to do says it, and cli knows how it is typed.
var typedBelow = map[string]int{
	"internal/app/answer.go":       21,
	"internal/app/cutfile.go":      7,
	"internal/app/measure.go":      1,
	"internal/app/meshmend.go":     1,
	"internal/app/recompute.go":    6,
	"internal/app/record.go":       1,
	"internal/app/schema.go":       6,
	"internal/app/stored.go":       3,
	"internal/app/tracefile.go":    1,
	"internal/app/week.go":         1,
	"internal/app/zonesfile.go":    8,
	"internal/assess/picked.go":    1,
	"internal/assess/work.go":      2,
	"internal/format/meshfile.go":  2,
	"internal/inspect/seam.go":     2,
	"internal/inspect/wallend.go":  1,
	"internal/job/agreed.go":       2,
	"internal/job/work.go":         1,
	"internal/mesh/mend.go":        1,
	"internal/mesh/path.go":        1,
	"internal/plan/delivery.go":    1,
	"internal/plan/recorded.go":    1,
	"internal/plan/unrecorded.go":  1,
	"internal/release/after.go":    1,
	"internal/release/measured.go": 1,
	"internal/release/release.go":  2,
	"internal/store/lock_other.go": 1,
}

func TestOnlyTheEdgeKnowsATerminal(t *testing.T) {
	got := typedTexts(t, os.DirFS("."))
	for file, n := range got {
		if n > typedBelow[file] {
			t.Errorf("%s: %d texts name a command or an option; only cli knows how something is typed", file, n)
		}
	}
	for file, n := range typedBelow {
		if got[file] < n {
			t.Errorf("%s: %d texts are left that name a command or an option, %d are listed: take the list down", file, got[file], n)
		}
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
	err := fs.WalkDir(fsys, "internal", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") || strings.HasPrefix(file, "internal/cli/") || strings.Contains(file, "testdata/") {
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
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
