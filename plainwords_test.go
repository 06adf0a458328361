package fettle_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"slices"
	"strings"
	"testing"
)

// plainWords are the constants without a type of their own that something may be compared with,
// and why the compiler need not keep them apart from other words. A star stands for the rest of
// a name.
var plainWords = map[string]string{
	"account.firstID":         nameOfThing,
	"app.Asked":               nameOfThing,
	"app.AssessmentFormat":    nameOfForm,
	"body.atAnyPoint":         "what stands in a cell where a point of the work could",
	"body.Fact*":              "rows of one table, by which package rule calls facts that it knows nothing of",
	"body.NoZone":             nameOfThing,
	"body.TextUnit":           symbolOfUnit,
	"cli.CacheOff":            wordTyped,
	"cli.pastedHere":          wordTyped,
	"compare.lossID":          nameOfThing,
	"decide.CodeAccepted*":    codeOfNote,
	"decide.FromSaying":       "words that are printed as where a fact comes from",
	"decide.Said*":            "names of facts, as body.Fact*",
	"decide.nothingSingle":    "a sentence that is printed",
	"format.Note*":            codeOfNote,
	"inspect.None":            nameOfThing,
	"job.Erased":              "what stands in the place of a text",
	"job.EventsFile":          nameOfFile,
	"job.MainFile":            nameOfFile,
	"job.ReadingsFile":        nameOfFile,
	"measure.Code*":           codeOfNote,
	"measure.noLimit":         "words that are printed in the place of a figure",
	"plan.Yard":               nameOfThing,
	"report.totalLoss":        nameOfThing,
	"rule.UnitDate":           symbolOfUnit,
	"store/database.dumpForm": nameOfForm,
}

const (
	nameOfFile = "the name of a file"
	nameOfForm = "the name of a form of documents"
	codeOfNote = "the code of a note"
)

// TestWordsOfClosedSetsHaveTypes finds constants of ours without a type of their own that
// something is compared with, above the kernels: such a word can stand where a word of another
// set does, and the compiler says nothing.
func TestWordsOfClosedSetsHaveTypes(t *testing.T) {
	used := map[string]bool{}
	for _, p := range checkedPackages(t) {
		if slices.Contains(strings.Fields(kernels), p.name) || slices.Contains(packagesOfTests, p.name) {
			continue
		}
		for _, f := range plainWordFaults(p, used) {
			t.Error(f)
		}
	}
	for name := range plainWords {
		if !used[name] {
			t.Errorf("nothing is compared with %s any more: take it off the list", name)
		}
	}
}

// TestWordsOfClosedSetsHaveTypesFindsPlantedBreaches shows that the check has teeth.
func TestWordsOfClosedSetsHaveTypesFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct{ src, want string }{
		{"func f(x string) bool { return x == crack }", `something is compared with job.crack`},
		{"func f(x string) bool { return (crack) != x }", `something is compared with job.crack`},
		{"func f(x string) int {\n switch x {\n case bent, crack: return 1 }\n return 0 }", `something is compared with job.crack`},
		{"func f(x string) int {\n switch crack {\n case x: return 1 }\n return 0 }", `something is compared with job.crack`},
		{"func f(x string) bool { return x == plain }", `something is compared with job.plain`},
		{"func f(x stage, n int) bool { return x == after || x == \"\" || n == two || x == stage(crack) }", ""},
		{"func f(x string) bool { return x == MainFile }", ""},
	} {
		set := token.NewFileSet()
		src := "package job\ntype stage string\nconst ( crack = \"crack\"; bent = \"bent\"; two = 2; after stage = \"after\"; MainFile = \"job.yaml\"; plain string = \"plain\" )\n"
		f, err := parser.ParseFile(set, "a.go", src+c.src, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		p, err := checked(set, nil, "fettle/internal/job", []*ast.File{f})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(plainWordFaults(p, map[string]bool{}), "\n"); (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: want %q, got %q", c.src, c.want, got)
		}
	}
}

// plainWordFaults are the comparisons with a constant of ours that is a plain string.
func plainWordFaults(p checkedPackage, used map[string]bool) []string {
	var faults []string
	eachComparison(p, func(x, with ast.Expr) {
		name := plainWord(p.info, with)
		if name == "" {
			return
		}
		for listed := range plainWords {
			if begin, any := strings.CutSuffix(listed, "*"); name == listed || any && strings.HasPrefix(name, begin) {
				used[listed] = true
				return
			}
		}
		faults = append(faults, fmt.Sprintf("%s: something is compared with %s: give the words of the set a type of their own", p.set.Position(x.Pos()), name))
	})
	slices.Sort(faults)
	return slices.Compact(faults)
}

// plainWord is the name of a constant of ours whose type is that of any string; empty for
// anything else.
func plainWord(info *types.Info, x ast.Expr) string {
	x = ast.Unparen(x)
	if s, ok := x.(*ast.SelectorExpr); ok {
		x = s.Sel
	}
	id, ok := x.(*ast.Ident)
	if !ok {
		return ""
	}
	c, ok := info.Uses[id].(*types.Const)
	if !ok || c.Pkg() == nil {
		return ""
	}
	of, ours := strings.CutPrefix(c.Pkg().Path(), "fettle/internal/")
	if b, basic := c.Type().(*types.Basic); !ours || !basic || b.Info()&types.IsString == 0 {
		return ""
	}
	return of + "." + c.Name()
}
