package explain_test

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/explain"
	"fettle/internal/report"
)

var update = flag.Bool("update", false, "write the golden file anew")

// files is the demonstration, with the coarse mesh of its casting.
type files map[string][]byte

func (m files) Copy(dir, name string, most int64, to io.Writer) (int64, error) {
	b, ok := m[path.Join(dir, name)]
	if !ok {
		return 0, fs.ErrNotExist
	}
	n, err := to.Write(b[:min(most, int64(len(b)))])
	return int64(n), err
}

func (m files) List(dir string) ([]string, error) {
	var out []string
	for p := range m {
		if rest, ok := strings.CutPrefix(p, dir+"/"); ok {
			out = append(out, rest)
		}
	}
	slices.Sort(out)
	return out, nil
}

func (m files) IsDir(p string) bool {
	below, _ := m.List(p)
	return len(below) > 0
}

func (m files) Exists(p string) bool { _, ok := m[p]; return ok || m.IsDir(p) }

func (m files) Real(p string) (string, error) { return p, nil }

// ids are the names, areas and kinds of everything in documents and results, as they stand there.
func ids(v any, add func(string)) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			if s, ok := x.(string); ok && (strings.EqualFold(k, "id") || k == "area" || k == "kind") {
				add(s)
			}
			ids(x, add)
		}
	case []any:
		for _, x := range v {
			ids(x, add)
		}
	}
}

// TestReasonsStayAsTheyAre: what is said of every name of the demonstration's job is
// fingerprinted in a file. What can be read of it stands in the golden files of package app;
// this is about the rest, which nobody would read through for each change.
func TestReasonsStayAsTheyAre(t *testing.T) {
	c, r := assessed(t)
	known := namesOf(c, r)
	var names []string
	for _, x := range []any{c.Body, c.Shop, c.Job, r} {
		data, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		var v any
		if err := json.Unmarshal(data, &v); err != nil {
			t.Fatal(err)
		}
		ids(v, func(s string) { names = append(names, s) })
	}
	slices.Sort(names)
	was, err := os.ReadFile("testdata/reasons.tsv")
	if err != nil && !*update {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, name := range slices.Compact(names) {
		tree, err := known.Explain(name)
		if err != nil {
			continue // it has no name in print
		}
		line := fmt.Sprintf("%s\t%.6x\n", name, sha256.Sum256([]byte(tree.In(explain.Column{Width: 96}))))
		if b.WriteString(line); !*update && !strings.Contains("\n"+string(was), "\n"+line) {
			t.Fatalf("of %s something else is said now; when it is meant, run 'go test ./internal/explain -update'\n%s", name, tree.In(explain.Column{Width: 96}))
		}
	}
	if *update {
		if err := os.WriteFile("testdata/reasons.tsv", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if b.String() != string(was) {
		t.Error("some names are no longer explained")
	}
}

// assessed is the damaged vehicle of the demonstration, with the coarse mesh of its casting.
func assessed(t *testing.T) (*app.Opened, app.Assessment) {
	t.Helper()
	m := files(demo.Files())
	packed, err := os.ReadFile("../app/testdata/coarse.ply.gz")
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	if m["body/front-casting.ply"], err = io.ReadAll(z); err != nil {
		t.Fatal(err)
	}
	a := app.New(m, "test")
	c, err := a.Open(t.Context(), demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	r, err := a.Assess(t.Context(), c, demo.Day)
	if err != nil {
		t.Fatal(err)
	}
	return c, r
}

func namesOf(c *app.Opened, r app.Assessment) *explain.Names {
	return explain.Of(report.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Vehicle: c.Vehicle, Measure: r.Measure, During: r.During, After: r.After, Inspect: r.Inspect, Decide: r.Decide,
		Compare: r.Compare, History: r.History, Notes: r.Notes, Meta: report.Meta{Made: r.Made, Version: r.Version}}, nil, nil, r.Compare.Best)
}

// Every fact that a procedure may name can be asked for, and is explained by what the vocabulary
// says of it.
func TestEveryFactIsExplained(t *testing.T) {
	c, r := assessed(t)
	known := namesOf(c, r)
	for _, d := range body.FactDefs() {
		tree, err := known.Explain("fact " + strings.ReplaceAll(d.Name, "_", " "))
		if err != nil {
			t.Errorf("%s: %v", d.Name, err)
			continue
		}
		if text := tree.In(explain.Column{Width: 1000}); !strings.Contains(text, d.Help) || !strings.Contains(text, d.Get) {
			t.Errorf("%s is explained so:\n%s", d.Name, text)
		}
	}
}
