package fettle_test

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"math"
	"strings"
	"testing"

	"golang.org/x/tools/go/packages"
)

// TestNoProductIsFused finds what would give another last bit on another machine. A
// compiler may fuse a product and the sum it goes into, also through a variable or out of
// a function, and rounds once instead of twice (Go specification, floating-point
// operators); it does on arm64 and from amd64 v3 on. An explicit conversion of the
// product prevents that. A product with a power of two is exact and may be fused. And
// functions of package math that are not exact are assembly on some machines.
//
// What goes from one function into a sum in another by a parameter or a field is found by
// scripts/fused.sh, which asks the compiler.
func TestNoProductIsFused(t *testing.T) {
	for _, f := range fusedFaults(packagesOf(t)) {
		t.Error(f)
	}
}

const fusedPlanted = `package planted

import (
	"math"
	"math/rand/v2"
)

type mm float64
type pair struct{ x, y float64 }

func planted(a, b, c float64, d mm, p *pair, v []float64) float64 {
	_ = a*b + c          // fault
	_ = c - (a * b)      // fault
	_ = -(a * b) + c     // fault
	_ = d*d + d          // fault
	c += a * b           // fault
	c -= 2 * a * b       // fault
	_ = 3*a + c          // fault
	_ = float64(a*b)*c+1 // fault
	e := a * b           // fault
	_ = e + c
	_, f := a, a*b       // fault
	f++
	p.x = a * b          // fault
	p.x += c
	v[0] = a * b         // fault
	_ = -v[0] - c
	var g = a * b        // fault
	func() { c += g }()
	_ = func() float64 { return a * b } // fault
	_ = math.Exp(a)      // fault
	_ = math.Pow(a, b)   // fault
	h := math.Hypot      // fault
	_ = h
	_ = rand.NormFloat64() // fault
	return a * b         // fault
}

func sound(a, b, c float64, d mm, n int) float64 {
	_ = float64(a*b) + c
	_ = mm(d*d) + d
	_ = 2*a + b/4 - 0.5*c
	_ = a*b/c + 1
	_ = 3*n*n + n
	c += float64(a * b)
	e := float64(a * b)
	_ = e + math.Sqrt(a*b)
	f := a * b
	if f > c || a*b*c < 1 {
		return math.Abs(f)
	}
	const k = 3.1 * 2.7
	return k + 1 + math.Floor(a)
}
`

// TestNoProductIsFusedFindsPlantedFaults shows that the check has teeth: each line with
// a fault ends in the word.
func TestNoProductIsFusedFindsPlantedFaults(t *testing.T) {
	faults := fusedFaults(planted(t, fusedPlanted))
	found := map[string]bool{}
	for _, f := range faults {
		line := strings.SplitN(strings.TrimPrefix(f, "planted.go:"), ":", 2)[0]
		found[line] = true
	}
	for i, line := range strings.Split(fusedPlanted, "\n") {
		if want := strings.HasSuffix(line, "// fault"); found[fmt.Sprint(i+1)] != want {
			t.Errorf("line %d is a fault: %v, and was found to be one: %v: %s", i+1, want, !want, line)
		}
	}
}

// exactMath are the functions of package math with the same result on every machine:
// those that are correctly rounded, or move bits.
var exactMath = words("Abs Sqrt FMA Floor Ceil Trunc Round RoundToEven Max Min Dim Mod Modf Remainder Frexp Ldexp Logb Ilogb " +
	"Pow10 Copysign Signbit Nextafter Nextafter32 Inf NaN IsInf IsNaN Float64bits Float64frombits Float32bits Float32frombits")

// drawn are functions of math/rand/v2 that are made of such.
var drawn = words("NormFloat64 ExpFloat64")

func words(s string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(s) {
		out[w] = true
	}
	return out
}

func fusedFaults(pkgs []*packages.Package) []string {
	var faults []string
	for _, p := range pkgs {
		c := &fuseCheck{p: p, say: func(pos token.Pos, format string, args ...any) {
			faults = append(faults, fmt.Sprintf("%s: ", p.Fset.Position(pos))+fmt.Sprintf(format, args...))
		}}
		c.functions()
		for _, f := range p.Syntax {
			for _, d := range f.Decls {
				c.added = map[any]bool{}
				ast.Inspect(d, c.collect)
				ast.Inspect(d, c.check)
			}
		}
	}
	return faults
}

// fuseCheck looks at one package. added are the variables, fields and elements that are
// part of a sum somewhere in the declaration that is looked at.
type fuseCheck struct {
	p     *packages.Package
	say   func(token.Pos, string, ...any)
	added map[any]bool
}

// functions finds those that are not the same everywhere.
func (c *fuseCheck) functions() {
	for id, obj := range c.p.TypesInfo.Uses {
		fun, ok := obj.(*types.Func)
		if !ok || fun.Pkg() == nil || fun.Signature().Recv() != nil && fun.Pkg().Path() != "math/rand/v2" {
			continue
		}
		switch path := fun.Pkg().Path(); {
		case path == "math" && !exactMath[fun.Name()]:
			c.say(id.Pos(), "math.%s has another last bit on another machine: take it from package elem", fun.Name())
		case path == "math/cmplx", path == "math/rand/v2" && drawn[fun.Name()]:
			c.say(id.Pos(), "%s.%s has another last bit on another machine", fun.Pkg().Name(), fun.Name())
		}
	}
}

func (c *fuseCheck) collect(n ast.Node) bool {
	switch e := n.(type) {
	case *ast.BinaryExpr:
		if e.Op == token.ADD || e.Op == token.SUB {
			c.adds(e.X, e.Y)
		}
	case *ast.AssignStmt:
		if e.Tok == token.ADD_ASSIGN || e.Tok == token.SUB_ASSIGN {
			c.adds(e.Lhs[0], e.Rhs[0])
		}
	case *ast.IncDecStmt:
		c.adds(e.X)
	}
	return true
}

func (c *fuseCheck) adds(terms ...ast.Expr) {
	for _, e := range terms {
		if p := c.place(plain(e)); p != nil {
			c.added[p] = true
		}
	}
}

// place is what a variable, a field or an element is known by, nil for anything else.
func (c *fuseCheck) place(e ast.Expr) any {
	switch e := e.(type) {
	case *ast.Ident:
		if o := c.p.TypesInfo.ObjectOf(e); o != nil {
			return o
		}
	case *ast.SelectorExpr, *ast.IndexExpr, *ast.StarExpr:
		return types.ExprString(e)
	}
	return nil
}

func (c *fuseCheck) check(n ast.Node) bool {
	switch e := n.(type) {
	case *ast.BinaryExpr:
		if e.Op == token.ADD || e.Op == token.SUB {
			c.term(e.X)
			c.term(e.Y)
		}
	case *ast.AssignStmt:
		switch {
		case e.Tok == token.ADD_ASSIGN || e.Tok == token.SUB_ASSIGN:
			c.term(e.Rhs[0])
		case len(e.Lhs) == len(e.Rhs):
			for i, x := range e.Rhs {
				c.assigned(e.Lhs[i], x)
			}
		}
	case *ast.ValueSpec:
		for i, x := range e.Values {
			if len(e.Values) == len(e.Names) {
				c.assigned(e.Names[i], x)
			}
		}
	case *ast.ReturnStmt:
		for _, x := range e.Results {
			if c.product(x) {
				c.say(x.Pos(), "%s is given back as it is, and may be fused where it is added: convert it, float64(...)", types.ExprString(x))
			}
		}
	}
	return true
}

func (c *fuseCheck) term(e ast.Expr) {
	if c.product(e) {
		c.say(e.Pos(), "%s is added or subtracted as it is, and may be fused: convert it, float64(...)", types.ExprString(plain(e)))
	}
}

func (c *fuseCheck) assigned(to, e ast.Expr) {
	if p := c.place(plain(to)); p != nil && c.added[p] && c.product(e) {
		c.say(e.Pos(), "%s goes into %s, which is added or subtracted, and may be fused: convert it, float64(...)", types.ExprString(plain(e)), types.ExprString(to))
	}
}

// product says that e is a product of floating-point numbers that is rounded.
func (c *fuseCheck) product(e ast.Expr) bool {
	m, ok := plain(e).(*ast.BinaryExpr)
	if !ok || m.Op != token.MUL {
		return false
	}
	tv := c.p.TypesInfo.Types[m]
	b, ok := tv.Type.Underlying().(*types.Basic)
	return ok && tv.Value == nil && b.Info()&(types.IsFloat|types.IsComplex) != 0 && !c.powerOfTwo(m.X) && !c.powerOfTwo(m.Y)
}

func (c *fuseCheck) powerOfTwo(e ast.Expr) bool {
	v := c.p.TypesInfo.Types[e].Value
	if v == nil {
		return false
	}
	x, _ := constant.Float64Val(constant.ToFloat(v))
	frac, _ := math.Frexp(math.Abs(x))
	return frac == 0.5
}

// plain is e without parentheses and sign.
func plain(e ast.Expr) ast.Expr {
	for {
		switch x := e.(type) {
		case *ast.ParenExpr:
			e = x.X
		case *ast.UnaryExpr:
			if x.Op != token.ADD && x.Op != token.SUB {
				return e
			}
			e = x.X
		default:
			return e
		}
	}
}
