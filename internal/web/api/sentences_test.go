package api

import (
	"fmt"
	"go/ast"
	"go/token"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// sentencesFile is every sentence that has been given a code: what stands there once stays.
const sentencesFile = "testdata/sentences.tsv"

// coded is a sentence in the source with its code.
type coded struct {
	code, template, pkg, file string
	given                     []string // how the parameter of each place is a figure: its unit, "-" where the source does not say one, nothing where it is none
}

var (
	codeForm  = regexp.MustCompile(`^[a-z]+\.[a-z0-9]+(-[a-z0-9]+)*$`)
	parameter = regexp.MustCompile(`\{([a-z0-9-]+)(?::([^ }]*)(?: ([^}]*))?)?\}`)
)

// params are the names of its parameters, each once.
func (c coded) params() []string {
	var out []string
	for _, m := range parameter.FindAllStringSubmatch(c.template, -1) {
		if !slices.Contains(out, m[1]) {
			out = append(out, m[1])
		}
	}
	return out
}

// plain is the sentence with the names of its parameters alone.
func (c coded) plain() string { return parameter.ReplaceAllString(c.template, "{$1}") }

// figures are the parameters that the template writes as numbers, with their units.
func (c coded) figures() []string {
	var out []string
	names := c.params()
	for _, m := range parameter.FindAllStringSubmatch(c.template, -1) {
		unit, place := m[3], slices.Index(names, m[1])
		if m[2] == "" || m[2] == "q" {
			if place >= len(c.given) || c.given[place] == "" {
				continue
			}
			unit = strings.TrimPrefix(c.given[place], "-")
		}
		if !slices.ContainsFunc(out, func(f string) bool { return strings.HasPrefix(f, "`"+m[1]+"`") }) {
			out = append(out, strings.TrimSpace("`"+m[1]+"` "+unit))
		}
	}
	return out
}

// makers are the functions that make a figure of a sentence, with its unit; counted things are their own.
var makers = map[string]string{"Paid": "(money)", "Share": "(of 1)", "share": "(of 1)", "long": "mm", "far": "mm", "minutes": "min", "figure": "-", "amount": "-", "Figure": "-"}

// figured says of each argument how it is a figure, as far as that can be seen.
func figured(args []ast.Expr) []string {
	var out []string
	for _, a := range args {
		unit := ""
		switch a := a.(type) {
		case *ast.CallExpr:
			name := called(a.Fun)
			if unit = makers[name]; name == "Counted" {
				noun, _ := literal(a.Args[1])
				unit = "(" + noun + ")"
			}
		case *ast.CompositeLit:
			unit = makers[called(a.Type)]
			for _, e := range a.Elts {
				if kv, is := e.(*ast.KeyValueExpr); is && called(kv.Key) == "Unit" {
					if text, is := literal(kv.Value); is {
						unit = text
					}
				}
			}
		}
		out = append(out, unit)
	}
	return out
}

// called is the last word of a name.
func called(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

// sentences is all sentences with a code in the source, by code and words.
func sentences(t *testing.T) []coded {
	t.Helper()
	all := source(t)
	known := constants(all)
	var out []coded
	for _, file := range slices.Sorted(maps.Keys(all)) {
		pkg := path.Base(path.Dir(file))
		ast.Inspect(all[file], func(n ast.Node) bool {
			call, is := n.(*ast.CallExpr)
			if !is || pkg == "diag" || len(call.Args) < 2 || !says(pkg, call.Fun) {
				return true
			}
			code, one := known.text(pkg, call.Args[0])
			template, two := known.text(pkg, call.Args[1])
			if id, is := call.Args[0].(*ast.Ident); is && id.Name == "code" && pkg == "explain" {
				return true // of each, whose calls are looked at
			}
			if !one || !two {
				t.Errorf("%s: a sentence whose code or words are not written where it is said", file)
				return true
			}
			if c := (coded{code, template, pkg, file, figured(call.Args[2:])}); !slices.ContainsFunc(out, func(o coded) bool { return o.code == c.code && o.template == c.template }) {
				out = append(out, c)
			}
			return true
		})
	}
	slices.SortFunc(out, func(a, b coded) int { return strings.Compare(a.code+" "+a.template, b.code+" "+b.template) })
	return out
}

// says says that a call makes a sentence: diag.Say, and each of package explain, which takes a code and words as that does.
func says(pkg string, fun ast.Expr) bool {
	if s, is := fun.(*ast.SelectorExpr); is {
		x, is := s.X.(*ast.Ident)
		return is && x.Name == "diag" && s.Sel.Name == "Say"
	}
	id, is := fun.(*ast.Ident)
	return is && id.Name == "each" && pkg == "explain"
}

// named is constants of texts, by package and name.
type named map[string]string

func constants(all map[string]*ast.File) named {
	out := named{}
	for range 2 { // one may be made of another
		for file, f := range all {
			pkg := path.Base(path.Dir(file))
			ast.Inspect(f, func(n ast.Node) bool {
				g, is := n.(*ast.GenDecl)
				if !is || g.Tok != token.CONST {
					return true
				}
				for _, s := range g.Specs {
					v := s.(*ast.ValueSpec)
					for i, id := range v.Names {
						if i < len(v.Values) {
							if text, is := out.text(pkg, v.Values[i]); is {
								out[pkg+"."+id.Name] = text
							}
						}
					}
				}
				return true
			})
		}
	}
	return out
}

// text is what is written there: a literal, a constant, or those put together.
func (n named) text(pkg string, e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		return literal(e)
	case *ast.Ident:
		text, is := n[pkg+"."+e.Name]
		return text, is
	case *ast.BinaryExpr:
		a, one := n.text(pkg, e.X)
		b, two := n.text(pkg, e.Y)
		return a + b, one && two && e.Op == token.ADD
	}
	return "", false
}

func literal(e ast.Expr) (string, bool) {
	b, is := e.(*ast.BasicLit)
	if !is || b.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(b.Value)
	return text, err == nil
}

// TestEveryNoteIsSaid: a note has its code and its sentence from diag.Say, and a sentence is made there alone: so that no code stands
// without a sentence, and none of them without its parameters.
func TestEveryNoteIsSaid(t *testing.T) {
	notes := 0
	for file, f := range source(t) {
		if path.Dir(file) == "diag" || strings.HasPrefix(file, "store/") {
			continue
		}
		ast.Inspect(f, func(n ast.Node) bool {
			c, is := n.(*ast.CompositeLit)
			of, sel := (ast.Expr)(nil), false
			if is {
				of = c.Type
			}
			s, sel := of.(*ast.SelectorExpr)
			if !is || !sel {
				return true
			}
			x, _ := s.X.(*ast.Ident)
			switch {
			case x == nil || x.Name != "diag":
			case s.Sel.Name == "Said" && len(c.Elts) > 0:
				t.Errorf("%s: a sentence that diag.Say has not made", file)
			case s.Sel.Name == "Note":
				notes++
				for _, e := range c.Elts {
					if kv, is := e.(*ast.KeyValueExpr); is {
						if name, is := kv.Key.(*ast.Ident); is && (name.Name == "Code" || name.Name == "Text") {
							t.Errorf("%s: a note whose %s is not from diag.Say", file, strings.ToLower(name.Name))
						}
					}
				}
			}
			return true
		})
	}
	if notes < 50 {
		t.Errorf("%d notes were looked at; there are more", notes)
	}
}

// TestOneCodeOneMeaning: a code has the form of codes and one sentence, or several that are told apart by their parameters.
func TestOneCodeOneMeaning(t *testing.T) {
	seen, packages := map[string]coded{}, map[string]string{}
	all := sentences(t)
	for _, x := range all {
		if !codeForm.MatchString(x.code) {
			t.Errorf("%s: %q is no code: words with dashes, a dot behind the first", x.file, x.code)
		}
		names := x.params()
		slices.Sort(names)
		key := x.code + " " + strings.Join(names, " ")
		if other, is := seen[key]; is {
			t.Errorf("%s: two sentences have the same parameters:\n%s (%s)\n%s (%s)", x.code, other.template, other.file, x.template, x.file)
		}
		seen[key] = x
		if other, is := packages[x.code]; is && other != x.pkg && x.code[:4] != "mesh" {
			t.Errorf("%s is said by two packages, %s and %s", x.code, other, x.pkg)
		}
		packages[x.code] = x.pkg
	}
	if len(all) < 450 {
		t.Errorf("%d sentences were found; there are more", len(all))
	}
}

// TestCodesStay: a code that was given once is there, with the parameters that it had. Words may be mended, which -update takes; a code
// that goes, or that loses or changes a parameter, breaks whoever relies on it, and no flag takes that.
func TestCodesStay(t *testing.T) {
	have := map[string]string{}
	var lines []string
	for _, x := range sentences(t) {
		names := x.params()
		slices.Sort(names)
		key := x.code + "\t" + strings.Join(names, " ")
		have[key] = x.plain()
		lines = append(lines, key+"\t"+x.plain())
	}
	slices.Sort(lines)
	want := strings.Join(lines, "\n") + "\n"
	kept, err := os.ReadFile(sentencesFile)
	if err != nil && !*update {
		t.Fatal(err)
	}
	if gone := lost(string(kept), have); len(gone) > 0 {
		t.Fatalf("these were given to programs, and are gone or have other parameters; bring them back, or give the new meaning a code of its own:\n%s", strings.Join(gone, "\n"))
	}
	if *update {
		if err := os.WriteFile(sentencesFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if string(kept) != want {
		t.Error("sentences have come or their words have changed: read what has, then go test ./internal/web/api -run Codes -update")
	}
}

// lost is the lines of a list whose code is not there with its parameters.
func lost(kept string, have map[string]string) []string {
	var out []string
	for line := range strings.Lines(kept) {
		cells := strings.SplitN(strings.TrimSuffix(line, "\n"), "\t", 3)
		if len(cells) != 3 || have[cells[0]+"\t"+cells[1]] == "" {
			out = append(out, line)
		}
	}
	return out
}

// The watch is worth nothing unless it barks: a code that goes, that loses a parameter, that takes another.
func TestCodesThatGoAreSeen(t *testing.T) {
	have := map[string]string{"plan.a\tpart": "{part} is off", "plan.b\t": "none"}
	for kept, want := range map[string]int{"plan.a\tpart\t{part} was off\nplan.b\t\tnone\n": 0, "plan.c\t\tgone\n": 1, "plan.a\t\tis off\n": 1, "plan.a\tpart side\tboth\n": 1, "plan.b\n": 1} {
		if got := lost(kept, have); len(got) != want {
			t.Errorf("%q: %v", kept, got)
		}
	}
	if got := fmt.Sprint(coded{template: "a {row:.1f mm} of {what} and {row} {n:q}"}.figures()); got != "[`row` mm]" {
		t.Error(got)
	}
}
