package cli

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/mesh"
)

// constants are the values of all constants of our packages that pick takes, by name and type.
func constants(t *testing.T, pick func(name, kind string) bool) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := fs.WalkDir(os.DirFS(".."), ".", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") || strings.Contains(file, "testdata") {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), "../"+file, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(f, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok || len(spec.Values) != 1 {
				return true
			}
			kind := ""
			switch x := spec.Type.(type) {
			case *ast.SelectorExpr:
				kind = x.Sel.Name
			case *ast.Ident:
				kind = x.Name
			}
			if lit, ok := spec.Values[0].(*ast.BasicLit); ok && lit.Kind == token.STRING && pick(spec.Names[0].Name, kind) {
				value, err := strconv.Unquote(lit.Value)
				if err != nil {
					t.Fatal(err)
				}
				out[value] = file + ": " + spec.Names[0].Name
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

// Every deed that a package names can be typed, and nothing else is in the table: who is told
// what to do is told how.
func TestEveryDeedHasACommand(t *testing.T) {
	deeds := constants(t, func(_, kind string) bool { return kind == "Deed" })
	if len(deeds) < 12 {
		t.Fatalf("only %d deeds were found: %v", len(deeds), deeds)
	}
	for d, at := range deeds {
		if _, ok := commands[diag.Deed(d)]; !ok && diag.Deed(d) != job.ToGive {
			t.Errorf("%s (%q): no command does it", at, d)
		}
	}
	for d := range commands {
		if deeds[string(d)] == "" {
			t.Errorf("the command for %q is asked for by nobody", d)
		}
	}
	gifts := constants(t, func(name, kind string) bool { return kind == "" && strings.HasPrefix(name, "Give") })
	if got, want := slices.Sorted(maps.Keys(given)), slices.Sorted(maps.Keys(gifts)); !slices.Equal(got, want) {
		t.Errorf("options are known for %v, and asked for are %v", got, want)
	}
}

// What is told to be typed is a command line of this program, with all its arguments given and
// with none.
func TestTypedCommandsAreCommands(t *testing.T) {
	number := strings.NewReplacer("MM", "1", "DEG", "1", "SHARE", "1")
	var g grammar
	parser, err := kong.New(&g, kong.Name("fettle"))
	if err != nil {
		t.Fatal(err)
	}
	for d, command := range commands {
		var all []string
		for _, m := range blank.FindAllStringSubmatch(command, -1) {
			all = append(all, m[1], "x")
		}
		for _, r := range []*diag.Remedy{diag.Do(d), diag.Do(d, all...)} {
			line := typed(*r)
			if strings.ContainsAny(line, "{}[]|~") || !strings.HasPrefix(line, "fettle ") {
				t.Errorf("%s: %q is no command line", d, line)
				continue
			}
			if _, err := parser.Parse(strings.Fields(number.Replace(line))[1:]); err != nil {
				t.Errorf("%s: %q: %v", d, line, err)
			}
		}
	}
	flags := map[string]bool{}
	var walk func(n *kong.Node)
	walk = func(n *kong.Node) {
		for _, f := range n.Flags {
			flags["--"+f.Name] = true
		}
		for _, c := range n.Children {
			walk(c)
		}
	}
	walk(parser.Model.Node)
	for what, option := range given {
		names := regexp.MustCompile(`--[a-z-]+`).FindAllString(option, -1)
		if len(names) == 0 {
			t.Errorf("%s: %q names no option", what, option)
		}
		for _, n := range names {
			if !flags[n] {
				t.Errorf("%s: no command has the option %s", what, n)
			}
		}
	}
}

// A remedy is typed with what is known of it, and with words in capitals for the rest; a shell
// takes it as it stands.
func TestTyped(t *testing.T) {
	for _, c := range []struct {
		r    *diag.Remedy
		want string
	}{
		{diag.Do(job.ToAsk, "about", "D8"), "fettle ask JOB D8 --out DIR"},
		{diag.Do(job.ToAsk, "job", "a job", "about", "D8", "by", ""), "fettle ask 'a job' D8 --out DIR --sent-by PERSON"},
		{diag.Do(job.ToPlan), "fettle plan JOB"}, {diag.Do(job.ToPlan, "route", "weld"), "fettle plan JOB --route weld"},
		{diag.Do(mesh.ToCut, "file", "m.ply", "unit", "mm", "plane", "1,0,0,5", "plane", "0,1,0,6", "window", "0,0,0; 1,1,1"),
			"fettle cut --mesh m.ply --unit mm --plane=1,0,0,5 --plane=0,1,0,6 '--window=0,0,0; 1,1,1' --picture FILE"},
		{job.Give(job.GiveStd), "--std MM"}, {diag.Do("something else"), ""},
	} {
		if got := typed(*c.r); got != c.want {
			t.Errorf("%+v is typed %q, want %q", *c.r, got, c.want)
		}
	}
	if got := column.How.Hint("see why", diag.Do(job.ToAssess, "job", "j")); got != "see why: fettle assess j" {
		t.Errorf("a hint with a remedy reads %q", got)
	}
	if got := diag.How(nil).Hint("see why", diag.Do(job.ToAssess)); got != "see why" {
		t.Errorf("a hint where nothing can be typed reads %q", got)
	}
}
