package fettle_test

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/parser"
	"go/token"
	"go/types"
	"slices"
	"strings"
	"testing"
)

// barewords are the fields that may be compared with a word written in place, and why that is no
// word for a kind, a stage or a state that a constant could name.
var barewords = map[string]string{
	"app.Build.Tree":            wordOfOthers,
	"app.Entry.Value":           wordTyped,
	"body.Reading.Unit":         symbolOfUnit,
	"diag.Error.Subject":        nameOfThing,
	"doc.Member.Name":           nameOfField,
	"explain.writtenField.name": nameOfField,
	"format.MeshOptions.Unit":   symbolOfUnit,
	"format.plyElement.name":    wordOfOthers,
	"job.AgreedLine.ID":         nameOfThing,
	"rule.Value.Unit":           symbolOfUnit,
	"unit.Amount.Unit":          symbolOfUnit,
}

const (
	wordOfOthers = "a word of somebody else's format"
	wordTyped    = "what a person typed"
	symbolOfUnit = "the symbol of a unit"
	nameOfThing  = "the name of one thing"
	nameOfField  = "the name of a field of a document"
)

// packagesOfTests hold what the tests of several packages share.
var packagesOfTests = []string{"store/storetest", "decide/fixture", "account/accounttest"}

// TestKindsAreComparedByName finds fields and values of types of ours that are compared with a
// word written in place: a slip of the pen in it would be an answer, not an error.
func TestKindsAreComparedByName(t *testing.T) {
	used := map[string]bool{}
	for _, p := range checkedPackages(t) {
		if slices.Contains(packagesOfTests, p.name) {
			continue
		}
		for _, f := range barewordFaults(p, used) {
			t.Error(f)
		}
	}
	for name := range barewords {
		if !used[name] {
			t.Errorf("%s is not compared with a word written in place any more: take it off the list", name)
		}
	}
}

// TestKindsAreComparedByNameFindsPlantedBreaches shows that the check has teeth.
func TestKindsAreComparedByNameFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct{ src, want string }{
		{`func f(x finding) bool { return x.Kind == "crack" }`, `job.finding.Kind is compared with "crack"`},
		{`func f(x *finding) bool { return "crack" != (x.Kind) }`, `job.finding.Kind is compared with "crack"`},
		{"func f(x finding) int {\n switch x.Kind {\n case crack, \"dent\": return 1 }\n return 0 }", `job.finding.Kind is compared with "dent"`},
		{`func f(s stage) bool { return s == "after" }`, `job.stage is compared with "after"`},
		{`func f(x finding) bool { return x.Kind == "cra" + "ck" }`, `job.finding.Kind is compared with "crack"`},
		{`func f(x []finding) bool { return x[0].at == stage("after") }`, `job.finding.at is compared with "after"`},
		{`func f(x finding) bool { return x.Kind == crack || x.Kind == "" || x.at == after }`, ""},
	} {
		set := token.NewFileSet()
		src := "package job\ntype stage string\ntype finding struct { Kind string; at stage }\nconst ( crack = \"crack\"; after stage = \"after\" )\n"
		f, err := parser.ParseFile(set, "a.go", src+c.src, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		p, err := checked(set, nil, "fettle/internal/job", []*ast.File{f})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(barewordFaults(p, map[string]bool{}), "\n"); (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: want %q, got %q", c.src, c.want, got)
		}
	}
}

// barewordFaults are the comparisons of fields and typed words of ours with a word in place.
func barewordFaults(p checkedPackage, used map[string]bool) []string {
	var faults []string
	compare := func(x, with ast.Expr) {
		word, name := bareWord(p.info, with), ourWord(p.info, x)
		if word == "" || name == "" {
			return
		}
		if used[name] = true; barewords[name] == "" {
			faults = append(faults, fmt.Sprintf("%s: %s is compared with %q: name the word by a constant", p.set.Position(x.Pos()), name, word))
		}
	}
	eachComparison(p, compare)
	slices.Sort(faults)
	return faults
}

// eachComparison gives each two expressions of a package that are held to be equal or not, both
// ways round.
func eachComparison(p checkedPackage, compare func(x, with ast.Expr)) {
	for _, f := range p.files {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BinaryExpr:
				if n.Op == token.EQL || n.Op == token.NEQ {
					compare(n.X, n.Y)
					compare(n.Y, n.X)
				}
			case *ast.SwitchStmt:
				for _, c := range n.Body.List {
					for _, e := range c.(*ast.CaseClause).List {
						if n.Tag != nil {
							compare(n.Tag, e)
							compare(e, n.Tag)
						}
					}
				}
			}
			return true
		})
	}
}

// bareWord is the word that an expression comes to, if it is written in it and no constant
// names it.
func bareWord(info *types.Info, x ast.Expr) string {
	v := info.Types[x].Value
	if v == nil || v.Kind() != constant.String {
		return ""
	}
	written := false
	ast.Inspect(x, func(n ast.Node) bool {
		_, literal := n.(*ast.BasicLit)
		written = written || literal
		return true
	})
	if !written {
		return ""
	}
	return constant.StringVal(v)
}

// ourWord is the name of a field of ours, with its type, or of a type of words of ours; empty
// for anything else.
func ourWord(info *types.Info, x ast.Expr) string {
	if s, ok := ast.Unparen(x).(*ast.SelectorExpr); ok {
		if in, ok := info.Types[s.X]; ok && in.Type != nil {
			t := in.Type
			if to, ok := t.(*types.Pointer); ok {
				t = to.Elem()
			}
			if name := ourName(t); name != "" {
				return name + "." + s.Sel.Name
			}
		}
	}
	return ourName(info.Types[x].Type)
}

// ourName is the name of a type of ours, with its package.
func ourName(t types.Type) string {
	n, ok := t.(*types.Named)
	if !ok || n.Obj().Pkg() == nil {
		return ""
	}
	of, ok := strings.CutPrefix(n.Obj().Pkg().Path(), "fettle/internal/")
	if !ok {
		return ""
	}
	return of + "." + n.Obj().Name()
}
