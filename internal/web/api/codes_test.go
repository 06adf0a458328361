package api

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/right"
)

const codesFile = "../../../docs/api/codes.md"

// source is all Go files of the program but tests, by their path below internal.
func source(t *testing.T) map[string]*ast.File {
	t.Helper()
	out := map[string]*ast.File{}
	err := filepath.WalkDir("../..", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && d.Name() == "testdata" {
			if d != nil && d.IsDir() && err == nil {
				return filepath.SkipDir
			}
			return err
		}
		if d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, 0)
		out[strings.TrimPrefix(filepath.ToSlash(p), "../../")] = f
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// wordSets is the words of closed sets that answers are made of, by their types.
func wordSets(t *testing.T) map[string][]string {
	t.Helper()
	answers := []string{"measure", "inspect", "decide", "plan", "cost", "compare", "release", "body", "job", "diag", "app"}
	out := map[string][]string{}
	files := source(t)
	for _, file := range slices.Sorted(maps.Keys(files)) {
		f, pkg := files[file], path.Base(path.Dir(file))
		if !slices.Contains(answers, pkg) {
			continue
		}
		for _, d := range f.Decls {
			g, is := d.(*ast.GenDecl)
			if !is || g.Tok != token.CONST {
				continue
			}
			for _, s := range g.Specs {
				v := s.(*ast.ValueSpec)
				id, is := v.Type.(*ast.Ident)
				if !is || !ast.IsExported(id.Name) || len(v.Values) != 1 {
					continue
				}
				if word, is := literal(v.Values[0]); is && word != "" {
					out[pkg+"."+id.Name] = append(out[pkg+"."+id.Name], word)
				}
			}
		}
	}
	for name, words := range out {
		slices.Sort(words)
		if out[name] = slices.Compact(words); len(words) < 2 {
			delete(out, name)
		}
	}
	return out
}

// codesPage is docs/api/codes.md.
func codesPage(t *testing.T) string {
	t.Helper()
	b := &strings.Builder{}
	row := func(cells ...string) {
		fmt.Fprintf(b, "| %s |\n", strings.Join(cells, " | "))
	}
	b.WriteString("# Codes\n\nStable names of what the program says, beside its sentences. Made from the source: `go test ./internal/web/api -run Codes -update`.\n\n## Problems\n\n`code` of a problem document.\n\n| code | status | when |\n|---|---|---|\n")
	problems := problemCodes()
	for _, code := range slices.Sorted(maps.Keys(problems)) {
		p := problems[code]
		fmt.Fprintf(b, "| <a id=%q></a>`%s` | %d | %s |\n", strings.ReplaceAll(code, ".", ""), code, p.Status, p.Detail)
	}
	b.WriteString("\n## Refusals\n\n`code` of a problem document with status 403: what would have to hold.\n\n| code | sentence |\n|---|---|\n")
	refusals := maps.Clone(right.Codes())
	refusals[app.Limited] = "one may do it within a limit, and this is more"
	for _, code := range slices.Sorted(maps.Keys(refusals)) {
		fmt.Fprintf(b, "| <a id=%q></a>`%s` | %s |\n", strings.ReplaceAll(string(code), ".", ""), code, refusals[code])
	}
	b.WriteString("\n## Notes and reasons\n\n`code` of a note, of a reason, or of what stands beside a sentence (`becauseSaid` beside `because`). In braces stand the parameters, `with` of the code, in the order of the sentence; " +
		"a code with several sentences has other parameters in each, by which they are told apart. A parameter `before` or `and` is words before or behind the whole sentence. A parameter that is a sentence itself has a `code` and `with` of its own.\n\n| code | sentence | figures | made by |\n|---|---|---|---|\n")
	for _, x := range sentences(t) {
		row("`"+x.code+"`", strings.ReplaceAll(x.plain(), "|", "\\|"), strings.Join(x.figures(), ", "), x.pkg)
	}
	b.WriteString("\n## Words of verdicts and states\n\nWhat a verdict, a state or a sort is called in an answer: the word is its code.\n\n| set | words |\n|---|---|\n")
	sets := wordSets(t)
	for _, name := range slices.Sorted(maps.Keys(sets)) {
		var words []string
		for _, w := range sets[name] {
			words = append(words, "`"+w+"`")
		}
		row(name, strings.Join(words, ", "))
	}
	return b.String()
}

// problemCodes is every code of a problem with its status and when it is told.
func problemCodes() map[string]Problem {
	out := map[string]Problem{
		"not-modified":           {Status: http.StatusNotModified, Detail: "the answer is the one of the tag that was sent; there is no body"},
		"conflict.written-since": {Status: http.StatusConflict, Detail: "somebody else has written a record since its author read it; `clashes` has all versions"},
		"stopped":                {Status: http.StatusServiceUnavailable, Detail: "the request was stopped before its end"},
		"request.unknown-field":  {Status: http.StatusBadRequest, Detail: "a member or parameter is not one that the route takes"},
		"request.method":         {Status: http.StatusMethodNotAllowed, Detail: "the route has other methods"},
		"request.range":          {Status: http.StatusRequestedRangeNotSatisfiable, Detail: "there are no bytes there"},
	}
	delete(out, "not-modified") // it is no problem document
	maps.Copy(out, wayCodes)
	says := map[string]string{"internal": told["internal"], "invalid": "a document, a record or what is asked for is not right; `faults` has every fault", "not-found": "it is not there, or it is not for who asks",
		"conflict": "what is there speaks against it", "denied": "it may not be done", "unsupported": "the program does not do it", "integrity": told["integrity"], "unavailable": told["unavailable"], "usage": "it is asked for in a way that means nothing"}
	for _, k := range kinds {
		out[k.code] = Problem{Status: k.status, Detail: says[k.code]}
	}
	for status, code := range shapes {
		if out[code].Status == 0 {
			out[code] = Problem{Status: status, Detail: map[string]string{"request.malformed": "the request does not have the form that is described", "request.media-type": "the body is of another media type than the route takes",
				"request.too-large": "the body has more bytes than the route takes", "request.timeout": "the body did not come in time", "signed-out": "nobody is signed in"}[code]}
		}
	}
	return out
}

// TestCodesAreDocumented: docs/api/codes.md has every code that the source has, and says something of each.
func TestCodesAreDocumented(t *testing.T) {
	want := codesPage(t)
	if *update {
		if err := os.WriteFile(codesFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(codesFile)
	if err != nil {
		t.Fatal(err)
	}
	if string(have) != want {
		t.Error("docs/api/codes.md is not what the source says: go test ./internal/web/api -run Codes -update")
	}
	for code, p := range problemCodes() {
		if p.Detail == "" || p.Status == 0 {
			t.Errorf("problem %s says nothing", code)
		}
	}
}
