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
	"regexp"
	"slices"
	"strconv"
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

var codeForm = regexp.MustCompile(`^[a-z]+\.[a-z0-9]+(-[a-z0-9]+)*$`)

// notCodes have the form of a code and are none: files, hosts, names of the standard library.
var notCodes = regexp.MustCompile(`\.(yaml|json|csv|jsonl|html|go|txt|db|tsv|ply|stl|glb|obj|svg|xlsx|zip|mod|sum|sql|md|key|pem|crt|css|local|invalid|example|test|internal|png|jpg|webp|heic|x|y|z)$`)

// noteCodes is the codes of notes in the source, each with a sentence that goes with it and the package it is from.
func noteCodes(t *testing.T) map[string][2]string {
	t.Helper()
	packages, all := map[string]bool{"trace": true}, source(t)
	for file := range all {
		packages[path.Base(path.Dir(file))] = true
	}
	out := map[string][2]string{}
	for _, file := range slices.Sorted(maps.Keys(all)) { // in one order, so that the page is the same each time
		f := all[file]
		if strings.HasPrefix(file, "web/") || strings.HasPrefix(file, "store/") || strings.HasPrefix(file, "cli/") || strings.HasPrefix(file, "account/") || strings.HasPrefix(file, "right/") {
			continue
		}
		ast.Inspect(f, func(n ast.Node) bool {
			var parts []ast.Expr
			switch n := n.(type) {
			case *ast.CallExpr:
				parts = n.Args
			case *ast.CompositeLit:
				for _, e := range n.Elts {
					if kv, is := e.(*ast.KeyValueExpr); is {
						parts = append(parts, kv.Value)
					} else {
						parts = append(parts, e)
					}
				}
			case *ast.ValueSpec:
				parts = n.Values
			default:
				return true
			}
			for _, p := range parts {
				code, is := literal(p)
				before, _, _ := strings.Cut(code, ".")
				if !is || !codeForm.MatchString(code) || notCodes.MatchString(code) || !packages[before] || before == "right" {
					continue
				}
				if says := sentence(parts, code); out[code][0] == "" || says != "" && len(says) < len(out[code][0]) {
					out[code] = [2]string{says, path.Dir(file)}
				}
			}
			return true
		})
	}
	for code, says := range saysMore {
		if n, is := out[code]; is && n[0] == "" {
			out[code] = [2]string{says, n[1]}
		}
	}
	return out
}

// saysMore is what notes say whose sentence is put together elsewhere than beside their code.
var saysMore = map[string]string{
	"body.lacks": "the body does not have …, and that costs …", "compare.no-cure": "no route can treat …",
	"decide.accepted-not-allowed": "what was accepted for … is not allowed", "decide.accepted-without-reason": "what was accepted for … has no reason on record",
	"decide.answer-override": "… is … by an answer of the manufacturer, against the table", "decide.no-treatment": "nothing is allowed for …, because …",
	"inspect.access-not-counted": "what was found of the access to … does not count, because …", "inspect.no-such-area": "the job looks at an area that the body does not have",
	"inspect.zone-without-area": "nobody says how zone … is inspected", "measure.not-comparable": "two stages cannot be compared, because …",
	"mesh.gaps-not-all": "there are more narrow openings than were looked at", "mesh.seams": "… seams, across which no way leads", "mesh.t-joints": "… T-joints, across which no way leads",
	"plan.access-unknown": "nobody says how … is reached",
}

func literal(e ast.Expr) (string, bool) {
	b, is := e.(*ast.BasicLit)
	if !is || b.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(b.Value)
	return text, err == nil
}

// sentence is the first text with blanks beside a code.
func sentence(parts []ast.Expr, code string) string {
	found := ""
	for _, p := range parts {
		ast.Inspect(p, func(n ast.Node) bool {
			if e, is := n.(ast.Expr); is && found == "" {
				if text, is := literal(e); is && text != code && strings.Contains(strings.TrimSpace(text), " ") {
					found = regexp.MustCompile(`%[+#0-9.]*[a-z]`).ReplaceAllString(text, "…")
				}
			}
			return found == ""
		})
	}
	return strings.TrimSpace(found)
}

// TestEveryNoteHasACode: a note that is made in the program has a code, or takes one that it is given.
func TestEveryNoteHasACode(t *testing.T) {
	notes := 0
	for file, f := range source(t) {
		ast.Inspect(f, func(n ast.Node) bool {
			c, is := n.(*ast.CompositeLit)
			if !is || len(c.Elts) == 0 {
				return true
			}
			of, is := c.Type.(*ast.SelectorExpr)
			if !is || of.Sel.Name != "Note" {
				return true
			}
			notes++
			coded := false
			for _, e := range c.Elts {
				kv, keyed := e.(*ast.KeyValueExpr)
				if name, is := func() (*ast.Ident, bool) {
					if !keyed {
						return nil, false
					}
					id, is := kv.Key.(*ast.Ident)
					return id, is
				}(); !keyed || is && name.Name == "Code" {
					coded = true
				}
			}
			if !coded {
				t.Errorf("%s: a note without a code", file)
			}
			return true
		})
	}
	if notes < 50 {
		t.Errorf("%d notes were looked at; there are more", notes)
	}
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
	b.WriteString("\n## Notes\n\n`code` of a note in an answer; … stands for a name or a figure.\n\n| code | a sentence of it | made by |\n|---|---|---|\n")
	notes := noteCodes(t)
	for _, code := range slices.Sorted(maps.Keys(notes)) {
		row("`"+code+"`", strings.ReplaceAll(notes[code][0], "|", "\\|"), notes[code][1])
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
	for code, n := range noteCodes(t) {
		if n[0] == "" {
			t.Errorf("%s has no sentence", code)
		}
	}
	for code, p := range problemCodes() {
		if p.Detail == "" || p.Status == 0 {
			t.Errorf("problem %s says nothing", code)
		}
	}
	if n := len(noteCodes(t)); n < 80 {
		t.Errorf("%d codes of notes were found; there are more", n)
	}
}
