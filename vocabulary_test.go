package fettle_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode"
)

// tradeWords are words of the trade, which a kernel does not know: it works with meshes,
// labels, tables and activities, whatever they stand for. Words that a science has too (body,
// job, joint, section, tolerance, estimate) are none of them.
var tradeWords = strings.Fields("casting weld welder welding rivet panel vehicle car van truck repair crack dent procedure zone bay " +
	"technician airbag bumper penetrant adhesive treatment finding workshop damage insurer manufacturer chassis collision sill garage mechanic appraisal")

// otherSense takes out what only looks like a word of the trade.
var otherSense = regexp.MustCompile(`(?i)time zones?|van\s+(loan|oosterom)|real-time collision detection|collision-free`)

// wordsOfScience are words that a kernel uses in the sense of its own field.
var wordsOfScience = map[string][]string{
	"mesh": {"weld", "welder"}, // equal points of a mesh made one
}

func TestKernelsKnowNoWordOfTheTrade(t *testing.T) {
	for _, fault := range vocabularyFaults(t, os.DirFS("."), strings.Fields(kernels)) {
		t.Error(fault)
	}
}

// TestKernelsKnowNoWordFindsPlantedBreaches shows that the check has teeth.
func TestKernelsKnowNoWordFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct{ src, want string }{
		{"package a\nfunc longestCrackMM() {}", "crack"},
		{"package a\n// f counts zones.\nfunc f() {}", "zone"},
		{"package a\nvar s = \"ask the manufacturer\"", "manufacturer"},
		{"package a\ntype WeldKind int", "weld"},
		{"package a\ntype x struct{ RepairBay string }", "repair"},
		{"package a\n// It lies in its time zone, cracking on, windowed; see Real-Time Collision Detection.\nvar indent, vanish int", ""},
	} {
		got := strings.Join(vocabularyFaults(t, fstest.MapFS{"internal/a/a.go": {Data: []byte(c.src)}}, []string{"a"}), "\n")
		if (c.want == "") != (got == "") || !strings.Contains(got, `"`+c.want) && c.want != "" {
			t.Errorf("%q: want %q, got %q", c.src, c.want, got)
		}
	}
}

func vocabularyFaults(t *testing.T, fsys fs.FS, pkgs []string) []string {
	t.Helper()
	var faults []string
	for _, pkg := range pkgs {
		files, err := fs.Glob(fsys, "internal/"+pkg+"/*.go")
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pkg, err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			src, err := fs.ReadFile(fsys, file)
			if err != nil {
				t.Fatal(err)
			}
			set := token.NewFileSet()
			f, err := parser.ParseFile(set, file, src, parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			look := func(at token.Pos, text string) {
				for _, w := range wordsIn(otherSense.ReplaceAllString(text, "")) {
					if slices.Contains(tradeWords, w) && !slices.Contains(wordsOfScience[pkg], w) {
						faults = append(faults, fmt.Sprintf("%s:%d: a kernel knows nothing of %q", path.Clean(file), set.Position(at).Line, w))
					}
				}
			}
			for _, g := range f.Comments {
				look(g.Pos(), g.Text())
			}
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.Ident:
					look(n.Pos(), n.Name)
				case *ast.BasicLit:
					if n.Kind == token.STRING {
						look(n.Pos(), n.Value)
					}
				}
				return true
			})
		}
	}
	return faults
}

// wordsIn are the words of a text or of a name in mixed capitals, small and in the singular.
func wordsIn(text string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) }) {
		from := 0
		rs := []rune(part)
		for i := 1; i <= len(rs); i++ {
			if i == len(rs) || unicode.IsUpper(rs[i]) && !unicode.IsUpper(rs[i-1]) {
				w := strings.ToLower(string(rs[from:i]))
				out = append(out, w)
				if one, ok := strings.CutSuffix(w, "s"); ok {
					out = append(out, one)
				}
				from = i
			}
		}
	}
	return out
}
