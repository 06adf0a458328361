package app

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

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
		c, err := a.Open(t.Context(), demo.Job)
		if err != nil {
			t.Fatal(err)
		}
		return text(assessedOf(t, a, c, demo.Day))
	}
	_, _, known := openAssessed(t, coarse(t), demo.Job)
	m, want, b := coarse(t), text(known), &Bodies{}
	for i := range 2 { // read anew, and kept
		if assessed(m, b) != want {
			t.Fatalf("use %d of the body gives another assessment", i+1)
		}
	}
	if len(b.kept) != 1 {
		t.Errorf("%d bodies kept, want 1", len(b.kept))
	}
	// Another procedure is another body, on the castings that were read before.
	file := "body/procedures/br-fc-d.yaml"
	m[file] = append(slices.Clone(m[file]), "# another file\n"...)
	a := New(m, "test").WithBodies(b)
	c, err := a.Open(t.Context(), demo.Job)
	if err != nil || len(b.kept) != 2 || c.BodyHash == known.Hashes.Body || c.Vehicle != b.kept[0].Vehicle {
		t.Fatalf("%v: %d bodies kept", err, len(b.kept))
	}
	// But for the hashes of the files it was made from.
	bare := func(r Assessment) string { r.Inputs = nil; return text(r) }
	other := assessedOf(t, a, c, demo.Day)
	if bare(other) != strings.ReplaceAll(bare(known), known.Hashes.Body, c.BodyHash) || reflect.DeepEqual(other.Inputs, known.Inputs) {
		t.Error("on the castings read before, another procedure file that says the same gives another assessment")
	}
	// Other words about the same casting: its mesh is not read anew, nor divided where
	// the section lines are the same.
	main := "body/body.yaml"
	m[main] = append(slices.Clone(m[main]), "# another file\n"...)
	e, err := a.Open(t.Context(), demo.Job)
	if err != nil || len(b.kept) != 3 || e.BodyHash == c.BodyHash || e.Vehicle == c.Vehicle || e.Vehicle.Surface(e.Body.Castings[0].ID) != c.Vehicle.Surface(c.Body.Castings[0].ID) {
		t.Fatalf("%v: %d bodies kept", err, len(b.kept))
	}
	if bare(assessedOf(t, a, e, demo.Day)) != strings.ReplaceAll(bare(known), known.Hashes.Body, e.BodyHash) {
		t.Error("on a mesh read before, a body that says the same gives another assessment")
	}
	for i := range 2 * mostBodies {
		b.keep(Opened{BodyHash: fmt.Sprint(i)})
	}
	if _, ok := b.withHash(fmt.Sprint(2*mostBodies - 1)); !ok || len(b.kept) != mostBodies {
		t.Errorf("%d kept, want the last %d", len(b.kept), mostBodies)
	}
}

// TestKeptAssessmentIsOfTheSameFiles: what was assessed is given again for the same
// files and the same time only; any other file, version or time is assessed anew.
func TestKeptAssessmentIsOfTheSameFiles(t *testing.T) {
	b := besides(t)
	assessed := func(m memory, version string, made time.Time) string {
		a := New(m, version).WithBodies(b)
		c, err := a.Open(t.Context(), demo.SoundJob)
		if err != nil {
			t.Fatal(err)
		}
		opened, err := a.AssessOpened(t.Context(), c, made)
		if err != nil {
			t.Fatal(err)
		}
		kept, err := json.Marshal(opened)
		if err != nil {
			t.Fatal(err)
		}
		fresh, err := json.Marshal(assessedOf(t, a, c, made))
		if err != nil || string(kept) != string(fresh) {
			t.Errorf("what was kept is not what is found anew: %v", err)
		}
		return string(kept)
	}
	m := coarse(t)
	want := assessed(m, "1", demo.Day)
	if assessed(m, "1", demo.Day) != want || len(b.assessed) != 1 {
		t.Errorf("%d assessments are kept of one", len(b.assessed))
	}
	assessed(m, "2", demo.Day)
	assessed(m, "1", demo.Day.AddDate(0, 6, 0))
	for _, file := range []string{"shop.yaml", demo.SoundJob + "/job.yaml"} {
		m[file] = append([]byte("# another file\n"), m[file]...)
		assessed(m, "1", demo.Day)
	}
	if len(b.assessed) != 5 {
		t.Errorf("%d assessments are kept of five", len(b.assessed))
	}
}

// A body with a fault is refused every time and never kept, alone and beside a sound
// one with the same mesh.
func TestFaultyBodyIsNotKept(t *testing.T) {
	m, sound := files(), besides(t)
	m["body/body.yaml"] = []byte(strings.Replace(string(m["body/body.yaml"]), "label: 1", "label: 199", 1))
	n := len(sound.kept)
	for _, b := range []*Bodies{{}, sound, sound} {
		if _, err := New(m, "test").WithBodies(b).Open(t.Context(), demo.Job); err == nil {
			t.Fatal("a faulty body was opened")
		}
		if b != sound && len(b.kept) != 0 || len(sound.kept) != n {
			t.Error("a faulty body was kept")
		}
	}
}

// besides are bodies of its own for a test, with those of the demonstration in them
// that other tests use too.
func besides(t *testing.T) *Bodies {
	t.Helper()
	demonstrated(t, demo.Job)
	return &Bodies{kept: slices.Clone(bodies.kept)}
}
