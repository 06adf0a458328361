package fettle_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// checkedPackage is a package of ours with the types of its expressions.
type checkedPackage struct {
	name  string // from internal/
	set   *token.FileSet
	files []*ast.File
	info  *types.Info
}

// checkedPackages are all packages under internal.
func checkedPackages(t *testing.T) []checkedPackage {
	t.Helper()
	var all []checkedPackage
	for _, p := range packagesOf(t) {
		if name, ok := strings.CutPrefix(p.PkgPath, "fettle/internal/"); ok {
			all = append(all, checkedPackage{name, p.Fset, p.Syntax, p.TypesInfo})
		}
	}
	return all
}

func checked(set *token.FileSet, imp types.Importer, path string, files []*ast.File) (checkedPackage, error) {
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{}, Uses: map[*ast.Ident]types.Object{}}
	conf := types.Config{Importer: imp}
	_, err := conf.Check(path, set, files, info)
	return checkedPackage{strings.TrimPrefix(path, "fettle/internal/"), set, files, info}, err
}

// moneyAsNumber are the functions that may look at money as a number of floating point, and
// what becomes of it: none of it is ever an amount of a bill.
var moneyAsNumber = map[string]string{
	"report.moneyChart":             "lengths in a drawing",
	"geom.pool.assignInRow":         "dual prices of an assignment, which are no money",
	"plan.builder.removalModel":     weightOfSearch,
	"plan.builder.supply":           weightOfSearch,
	"plan.Weigher.Packed":           weightOfSearch,
	"plan.Weigher.Bare":             weightOfSearch,
	"plan.Weigher.Own":              weightOfSearch,
	"compare.hunt.withTax":          weightOfSearch,
	"compare.hunt.storage":          weightOfSearch,
	"compare.hunt.effort":           shareInPercent,
	"compare.finder.tellGap":        shareInPercent,
	"compare.finder.spread":         drawnByChance,
	"compare.drawing.state":         drawnByChance,
	"compare.drawing.charge":        drawnByChance,
	"compare.drawing.stores":        drawnByChance,
	"compare.drawing.worthOf":       drawnByChance,
	"compare.drawing.lostOnAverage": drawnByChance,
	"compare.drawing.priceOf":       drawnByChance,
}

const (
	weightOfSearch = "weights of a search, rounded down to whole parts, by which a plan is found and never priced"
	shareInPercent = "the share that a gap is of a sum, in percent"
	drawnByChance  = "what routes may come to by chance: means and percentiles of draws"
)

func TestMoneyIsNoFloat(t *testing.T) {
	used := map[string]bool{}
	for _, p := range checkedPackages(t) {
		for _, f := range moneyFaults(p, used) {
			t.Error(f)
		}
	}
	for name := range moneyAsNumber {
		if !used[name] {
			t.Errorf("%s does not look at money as a number any more: take it off the list", name)
		}
	}
}

// TestMoneyIsNoFloatFindsPlantedBreaches shows that the check has teeth.
func TestMoneyIsNoFloatFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct{ src, want string }{
		{"func f(m Minor) float64 { return float64(m) }", "unit.f makes money a float"},
		{"type b struct{ sum Minor }\nfunc (x *b) half() float32 { return float32(2*x.sum) }", "unit.b.half makes money a float"},
		{"func g(x float64) Minor { return Minor(1.5*x) }", "unit.g makes money of a float"},
		{"type line struct{ PriceOfPart float64 }", "unit.line has a float PriceOfPart"},
		{"func h() { moneyLeft := 1.5; _ = moneyLeft }", "unit.h has a float moneyLeft"},
		{"func i(m Minor, n int64) float64 { _ = Minor(n); return float64(n) }", ""},
	} {
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, "a.go", "package unit\ntype Minor int64\n"+c.src, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		p, err := checked(set, nil, "fettle/internal/unit", []*ast.File{f})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(moneyFaults(p, map[string]bool{}), "\n"); (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: want %q, got %q", c.src, c.want, got)
		}
	}
}

// moneyName is a name of money.
var moneyName = regexp.MustCompile(`(?i)(money|price|euro|cents|invoice)`)

// moneyFaults are the places where money becomes a float, or a float is called money.
func moneyFaults(p checkedPackage, used map[string]bool) []string {
	var faults []string
	isFloat := func(t types.Type) bool {
		b, ok := t.Underlying().(*types.Basic)
		return ok && b.Info()&types.IsFloat != 0
	}
	isMoney := func(t types.Type) bool { return t.String() == "fettle/internal/unit.Minor" }
	fault := func(n ast.Node, in, what string) {
		if used[in] = true; moneyAsNumber[in] == "" {
			faults = append(faults, fmt.Sprintf("%s: %s %s", p.set.Position(n.Pos()), in, what))
		}
	}
	for _, f := range p.files {
		for _, d := range f.Decls {
			in := p.name + "." + declName(d)
			ast.Inspect(d, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					to, ok := p.info.Types[n.Fun]
					if !ok || !to.IsType() || len(n.Args) != 1 {
						return true
					}
					of := p.info.Types[n.Args[0]].Type
					if of == nil {
						return true
					}
					switch {
					case isFloat(to.Type) && isMoney(of):
						fault(n, in, "makes money a float")
					case isMoney(to.Type) && isFloat(of):
						fault(n, in, "makes money of a float")
					}
				case *ast.Ident:
					if v, ok := p.info.Defs[n].(*types.Var); ok && isFloat(v.Type()) && moneyName.MatchString(n.Name) {
						fault(n, in, "has a float "+n.Name)
					}
				}
				return true
			})
		}
	}
	slices.Sort(faults)
	return faults
}

// declName is the name of a function, with its receiver, or of the first thing declared.
func declName(d ast.Decl) string {
	switch d := d.(type) {
	case *ast.FuncDecl:
		if d.Recv == nil {
			return d.Name.Name
		}
		t := d.Recv.List[0].Type
		if s, ok := t.(*ast.StarExpr); ok {
			t = s.X
		}
		if x, ok := t.(*ast.IndexExpr); ok {
			t = x.X
		}
		return t.(*ast.Ident).Name + "." + d.Name.Name
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				return s.Name.Name
			case *ast.ValueSpec:
				return s.Names[0].Name
			}
		}
	}
	return ""
}
