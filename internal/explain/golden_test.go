package explain_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/explain"
	"fettle/internal/golden"
	"fettle/internal/golden/folders"
	"fettle/internal/report"
)

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
// fingerprinted in a file, and of every thing by its title. What can be read of it stands in the
// golden files of package app; this is about the rest, which nobody would read through for each change.
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
	said := map[string]string{}
	for _, name := range slices.Compact(names) {
		if tree, err := known.Explain(name); err == nil { // else it has no name in print
			said[name] = tree.In(explain.Column{Width: 96})
		}
	}
	for _, x := range known.Reasoned() { // one after the other where several have a title
		said["the "+x.Title()] += x.Tree.In(explain.Column{Width: 96})
	}
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(said)) {
		fmt.Fprintf(&b, "%s\t%.6x\n", name, sha256.Sum256([]byte(said[name])))
	}
	const file = "testdata/reasons.tsv"
	was, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(was)) { // no name gets lost, whatever is meant
		if name, _, _ := strings.Cut(line, "\t"); said[name] == "" {
			t.Errorf("%s is no longer explained", name)
		}
	}
	golden.Same(t, file, b.String())
}

var once = sync.OnceValues(func() (*app.Opened, app.Assessment) {
	a := app.New(folders.Coarse(), "test")
	c, err := a.Open(context.Background(), demo.Job)
	if err != nil {
		panic(err)
	}
	r, err := a.Assess(context.Background(), c, demo.Day)
	if err != nil {
		panic(err)
	}
	return c, r
})

// assessed is the damaged vehicle of the demonstration, with the coarse mesh of its casting;
// nobody writes into it.
func assessed(t *testing.T) (*app.Opened, app.Assessment) {
	t.Helper()
	return once()
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
