package fettle_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"strings"
	"sync"
	"testing"

	"golang.org/x/tools/go/packages"
)

// TestUnits finds what the compiler accepts and should not: a product or a
// quotient of two quantities whose result still claims their unit, and a
// conversion from one quantity straight into another.
func TestUnits(t *testing.T) {
	for _, f := range unitFaults(packagesOf(t)) {
		t.Error(f)
	}
}

const unitsPlanted = `package planted
import "fettle/internal/unit"
func area(a, b unit.MM) unit.MM { return a * b }
func wrong(a unit.MM) unit.Celsius { return unit.Celsius(a) }
func fine(a unit.MM) unit.MM { return 2 * a }
`

// TestUnitsFindPlantedFaults shows that the check has teeth.
func TestUnitsFindPlantedFaults(t *testing.T) {
	got := strings.Join(unitFaults(planted(t, unitsPlanted)), "\n")
	for _, want := range []string{"a * b", "converts MM into Celsius"} {
		if !strings.Contains(got, want) {
			t.Errorf("planted fault %q was not found in %q", want, got)
		}
	}
	if n := strings.Count(got, "planted.go"); n != 2 {
		t.Errorf("2 faults were planted, %d found:\n%s", n, got)
	}
}

// packagesOf reads and types our packages, once for all tests.
func packagesOf(t *testing.T) []*packages.Package {
	t.Helper()
	pkgs, err := packagesRead()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pkgs {
		for _, e := range p.Errors {
			t.Fatalf("%s: %v", p.PkgPath, e)
		}
	}
	return pkgs
}

var packagesRead = sync.OnceValues(func() ([]*packages.Package, error) {
	return packages.Load(&packages.Config{
		Mode: packages.NeedName | packages.NeedFiles | packages.NeedSyntax | packages.NeedTypes | packages.NeedTypesInfo | packages.NeedImports | packages.NeedExportFile,
	}, "./...")
})

// imports are the packages that ours import, by path.
type imports map[string]*types.Package

func (m imports) Import(path string) (*types.Package, error) {
	if p, ok := m[path]; ok {
		return p, nil
	}
	return nil, fmt.Errorf("none of our packages imports %s", path)
}

// planted is a package of one file, named planted.go, which imports what ours do.
func planted(t *testing.T, src string) []*packages.Package {
	t.Helper()
	known := imports{}
	for _, p := range packagesOf(t) {
		for path, q := range p.Imports {
			if q.Types != nil {
				known[path] = q.Types
			}
		}
	}
	p := &packages.Package{Name: "planted", PkgPath: "planted", Fset: token.NewFileSet(),
		TypesInfo: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{}, Uses: map[*ast.Ident]types.Object{}}}
	f, err := parser.ParseFile(p.Fset, "planted.go", src, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	p.Syntax = []*ast.File{f}
	if p.Types, err = (&types.Config{Importer: known}).Check("planted", p.Fset, p.Syntax, p.TypesInfo); err != nil {
		t.Fatal(err)
	}
	return []*packages.Package{p}
}

func unitFaults(pkgs []*packages.Package) []string {
	var faults []string
	for _, p := range pkgs {
		if p.PkgPath == "fettle/internal/unit" {
			continue
		}
		for _, f := range p.Syntax {
			faults = append(faults, fileUnitFaults(p, f)...)
		}
	}
	return faults
}

func fileUnitFaults(p *packages.Package, f *ast.File) []string {
	var faults []string
	say := func(pos token.Pos, format string, args ...any) {
		faults = append(faults, fmt.Sprintf("%s: ", p.Fset.Position(pos))+fmt.Sprintf(format, args...))
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch e := n.(type) {
		case *ast.BinaryExpr:
			x, y := p.TypesInfo.Types[e.X], p.TypesInfo.Types[e.Y]
			if (e.Op == token.MUL || e.Op == token.QUO) && x.Value == nil && y.Value == nil && quantity(x.Type) != "" && quantity(y.Type) != "" {
				say(e.Pos(), "%s is a product or quotient of two quantities: convert to float64 and name the new unit", types.ExprString(e))
			}
		case *ast.CallExpr:
			fun := p.TypesInfo.Types[e.Fun]
			if !fun.IsType() || len(e.Args) != 1 {
				break
			}
			to, from := quantity(fun.Type), quantity(p.TypesInfo.Types[e.Args[0]].Type)
			if to != "" && from != "" && to != from {
				say(e.Pos(), "converts %s into %s", from, to)
			}
		}
		return true
	})
	return faults
}

// quantity is the name of a numeric type of package unit, or "".
func quantity(t types.Type) string {
	n, ok := t.(*types.Named)
	if !ok || n.Obj().Pkg() == nil || n.Obj().Pkg().Path() != "fettle/internal/unit" {
		return ""
	}
	if b, ok := n.Underlying().(*types.Basic); !ok || b.Info()&types.IsNumeric == 0 {
		return ""
	}
	return n.Obj().Name()
}
