package fettle_test

import (
	"go/ast"
	"go/token"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"fettle/internal/body"
)

// The names of facts are written in one table. Beside it they stand in documents of the
// invented vehicle and of tests only.
func TestFactsAreNamedOnce(t *testing.T) {
	for _, fault := range factFaults(t, os.DirFS(".")) {
		t.Error(fault)
	}
}

// TestFactsAreNamedOnceFindsPlantedBreaches shows that the check has teeth.
func TestFactsAreNamedOnceFindsPlantedBreaches(t *testing.T) {
	for _, c := range []struct {
		src  string
		want int
	}{
		{`const factZones = "zones"`, 1}, {`var near = when["bore_clearance"]`, 1}, {`const factNew = "wall_angle"`, 1},
		{"type p struct { B bool `doc:\"bolt_on\"` }", 0}, {`var list = "zones"`, 0}, {`// bore_clearance is a fact.`, 0},
	} {
		fsys := fstest.MapFS{"internal/a/a.go": {Data: []byte("package a\n" + c.src)}}
		if got := factFaults(t, fsys); len(got) != c.want {
			t.Errorf("%s: %v", c.src, got)
		}
	}
}

// namesAFact is what a constant is called whose value is the name of a fact.
var namesAFact = regexp.MustCompile(`^[fF]act[A-Z]`)

// factFaults is every name of a fact that is written elsewhere: one that can be nothing else,
// having two words, and whatever a constant calls a fact.
func factFaults(t *testing.T, fsys fs.FS) []string {
	t.Helper()
	var faults []string
	elsewhere := func(file string) bool {
		return file == "internal/body/facts.go" || strings.HasPrefix(file, "internal/demo/") || strings.HasPrefix(file, "internal/decide/fixture/")
	}
	eachSource(t, fsys, elsewhere, func(file string, f *ast.File) {
		ast.Inspect(f, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.Field:
				return x.Tag == nil
			case *ast.ValueSpec:
				for i, name := range x.Names {
					if i >= len(x.Values) || !namesAFact.MatchString(name.Name) {
						continue
					}
					if lit, ok := x.Values[i].(*ast.BasicLit); ok && lit.Kind == token.STRING {
						faults = append(faults, file+": "+name.Name+" names a fact; names of facts stand in internal/body/facts.go")
						return false
					}
				}
			case *ast.BasicLit:
				s, err := strconv.Unquote(x.Value)
				if err == nil && x.Kind == token.STRING && strings.Contains(s, "_") && body.Fact(s).Help != "" {
					faults = append(faults, file+": "+s+" is the name of a fact; write body.Fact..., which stands in internal/body/facts.go")
				}
			}
			return true
		})
	})
	return faults
}
