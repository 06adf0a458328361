package main

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
)

// mutant is one small change of one file.
type mutant struct {
	file     string // as a slash path in the module
	line     int
	in       [2]int // first and last line of the function
	from, to int    // bytes of the file that are replaced
	with     string // by these
	was      string // the bytes replaced
	name     string // function, kind of change and its number in the function
	order    uint64 // of the draw
}

func (m mutant) String() string {
	if m.with == "" {
		return fmt.Sprintf("%s:%d: without %s", m.file, m.line, short(m.was))
	}
	return fmt.Sprintf("%s:%d: %s for %s", m.file, m.line, short(m.with), short(m.was))
}

// short is a piece of code on one line.
func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if len(s) > 70 {
		s = s[:70] + "..."
	}
	return "`" + s + "`"
}

// other is what each operator is changed into, one mutant for each.
var other = map[token.Token][]string{
	token.LSS: {"<=", ">="}, token.LEQ: {"<", ">"}, token.GTR: {">=", "<="}, token.GEQ: {">", "<"},
	token.EQL: {"!="}, token.NEQ: {"=="}, token.LAND: {"||"}, token.LOR: {"&&"},
	token.ADD: {"-"}, token.SUB: {"+"}, token.MUL: {"/"}, token.QUO: {"*"},
}

// mutantsOf are all changes of a file. The draw goes by names, so that a change elsewhere
// leaves it as it is.
func mutantsOf(file string, src []byte, seed uint64) ([]mutant, error) {
	fset := token.NewFileSet()
	tree, err := parser.ParseFile(fset, file, src, 0)
	if err != nil {
		return nil, err
	}
	var out []mutant
	for _, d := range tree.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok || f.Body == nil {
			continue
		}
		v := visitor{fset: fset, src: src, file: file, in: nameOf(f), lines: [2]int{fset.Position(f.Pos()).Line, fset.Position(f.End()).Line}, seed: seed, count: map[string]int{}}
		v.walk(f.Body)
		out = append(out, v.out...)
	}
	return out, nil
}

func nameOf(f *ast.FuncDecl) string {
	if f.Recv == nil || len(f.Recv.List) == 0 {
		return f.Name.Name
	}
	t := f.Recv.List[0].Type
	if s, ok := t.(*ast.StarExpr); ok {
		t = s.X
	}
	if x, ok := t.(*ast.IndexExpr); ok {
		t = x.X
	}
	if id, ok := t.(*ast.Ident); ok {
		return id.Name + "." + f.Name.Name
	}
	return f.Name.Name
}

type visitor struct {
	fset  *token.FileSet
	src   []byte
	file  string
	in    string
	lines [2]int
	seed  uint64
	count map[string]int
	out   []mutant
}

// add is a mutant that replaces what lies between two places.
func (v *visitor) add(kind string, from, to token.Pos, with string) {
	v.count[kind]++
	name := fmt.Sprintf("%s %s %s %d", v.file, v.in, kind, v.count[kind])
	sum := sha256.Sum256(binary.BigEndian.AppendUint64([]byte(name), v.seed))
	a, b := v.fset.Position(from), v.fset.Position(to)
	v.out = append(v.out, mutant{v.file, a.Line, v.lines, a.Offset, b.Offset, with, string(v.src[a.Offset:b.Offset]), name, binary.BigEndian.Uint64(sum[:])})
}

func (v *visitor) walk(n ast.Node) {
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			return !v.unseen(n)
		case *ast.BinaryExpr:
			for _, with := range other[n.Op] {
				v.add(n.Op.String()+" to "+with, n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), with)
			}
		case *ast.UnaryExpr:
			if n.Op == token.NOT {
				v.add("not", n.OpPos, n.OpPos+1, "")
			}
		case *ast.IfStmt:
			v.add("if", n.Cond.Pos(), n.Cond.End(), "!("+v.text(n.Cond)+")")
		case *ast.ExprStmt:
			v.add("call", n.Pos(), n.End(), "")
		case *ast.IncDecStmt:
			v.add("step", n.Pos(), n.End(), "")
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				v.add("assignment", n.Pos(), n.End(), "")
			}
		case *ast.BranchStmt:
			if n.Tok == token.CONTINUE && n.Label == nil {
				v.add("continue", n.Pos(), n.End(), "break")
			}
		case *ast.Ident:
			switch n.Name {
			case "true":
				v.add("true", n.Pos(), n.End(), "false")
			case "false":
				v.add("false", n.Pos(), n.End(), "true")
			}
		case *ast.BasicLit:
			if i, err := strconv.Atoi(n.Value); n.Kind == token.INT && err == nil {
				v.add("number", n.Pos(), n.End(), strconv.Itoa(i+1))
			}
		}
		return true
	})
}

// unseen: how much room a list is made with changes nothing that can be seen, nor by how many
// bits more than 64 a number is read; of the argument of math.Inf only the sign counts, and of
// the second one of math.IsInf, which no change of a literal touches.
func (v *visitor) unseen(c *ast.CallExpr) bool {
	switch f := v.text(c.Fun); f {
	case "make":
		return len(c.Args) == 3 || len(c.Args) == 2 && strings.HasPrefix(v.text(c.Args[0]), "map[")
	case "math.Inf":
		return isLiteral(c.Args[0])
	case "math.IsInf":
		if v.text(c.Args[1]) == "0" { // either sign: another number is one of them
			return false
		}
		v.walk(c.Args[0])
		return true
	default:
		return f == "slices.Grow" || strings.HasPrefix(f, "strconv.Parse") || strings.HasPrefix(f, "strconv.Format")
	}
}

// isLiteral: a number as it is written, 1 or -1.
func isLiteral(e ast.Expr) bool {
	if u, ok := e.(*ast.UnaryExpr); ok {
		e = u.X
	}
	_, ok := e.(*ast.BasicLit)
	return ok
}

func (v *visitor) text(n ast.Node) string {
	return string(v.src[v.fset.Position(n.Pos()).Offset:v.fset.Position(n.End()).Offset])
}
