package app

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"fettle/internal/demo"
)

// A body that is kept gives the same assessment to the byte as one read anew,
// however often it is used, and a changed file is another body.
func TestKeptBodyGivesTheSame(t *testing.T) {
	text := func(r Assessment) string {
		out, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	assessed := func(m memory, b *Bodies) string {
		a := New(m, "test").WithBodies(b)
		c, err := a.Open(demo.Job, nil)
		if err != nil {
			t.Fatal(err)
		}
		return text(a.Assess(c, demo.Day, nil))
	}
	_, _, known := demonstrated(t, demo.Job) // of a body that other tests use too
	m, want, b := memory(demo.Files()), text(known), &Bodies{}
	for i := range 2 { // read anew, and kept
		if assessed(m, b) != want {
			t.Fatalf("use %d of the body gives another assessment", i+1)
		}
	}
	if len(b.kept) != 1 {
		t.Errorf("%d bodies kept, want 1", len(b.kept))
	}
	m["body/note.txt"] = []byte("another file")
	if assessed(m, b) == want || len(b.kept) != 2 {
		t.Error("a changed body was taken for the one that is kept")
	}
	for i := range 2 * mostBodies {
		b.keep(fmt.Sprint(i), Case{})
	}
	if _, ok := b.find(fmt.Sprint(2*mostBodies - 1)); !ok || len(b.kept) != mostBodies {
		t.Errorf("%d kept, want the last %d", len(b.kept), mostBodies)
	}
}

// A body with a fault is refused every time and never kept.
func TestFaultyBodyIsNotKept(t *testing.T) {
	m, b := memory(demo.Files()), &Bodies{}
	m["body/body.yaml"] = []byte(strings.Replace(string(m["body/body.yaml"]), "label: 1", "label: 199", 1))
	for range 2 {
		if _, err := New(m, "test").WithBodies(b).Open(demo.Job, nil); err == nil {
			t.Fatal("a faulty body was opened")
		}
	}
	if len(b.kept) != 0 {
		t.Error("a faulty body was kept")
	}
}
