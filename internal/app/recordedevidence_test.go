package app

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/release"
)

// listing takes over a list in a job with two pieces of evidence, one of them without a hash, after a
// row has made a third.
func listing() *taken {
	s := &job.State{Evidence: []job.Evidence{{ID: "E1", File: "evidence/a.txt", Text: "A", By: "T1", On: theDay("2026-11-20")}, {ID: "E2", File: "evidence/./b.txt", SHA256: "bb"}}}
	return &taken{c: &Opened{Job: s}, today: theDay("2026-11-26"), records: []any{job.Arrival{}, job.Evidence{ID: "E3", File: "evidence/c.txt"}},
		hash: func(_ *Opened, file string) (string, error) {
			if strings.HasPrefix(file, "lost/") {
				return "", errors.New("it is lost")
			}
			return "hash of " + file, nil
		}}
}

// A file becomes evidence once, under its shortest path and the hash it has; what is not said, is there
// already, cannot be read or is the record itself is refused at its column.
func TestEvidenceOfARow(t *testing.T) {
	day := theDay("2026-11-26")
	for _, x := range []struct{ file, text, column, want string }{
		{"evidence/new.txt", "Seam", "value", ""},
		{" evidence/../evidence/./new.txt ", "Seam", "value", ""},
		{"", "Seam", "value", "does not say which file"},
		{"  ", "Seam", "value", "does not say which file"},
		{"evidence/new.txt", "", "text", "does not say what the file shows"},
		{"evidence/new.txt", " ", "text", "does not say what the file shows"},
		{"evidence/a.txt", "Seam", "value", "evidence/a.txt is evidence already, E1"},
		{"evidence//a.txt", "Seam", "value", "evidence/a.txt is evidence already, E1"},
		{"evidence/b.txt", "Seam", "value", "evidence/b.txt is evidence already, E2"},
		{"evidence/c.txt", "Seam", "value", "evidence/c.txt is evidence already, E3"},
		{"job.yaml", "Seam", "value", "job.yaml is the record itself"},
		{"x/../job.yaml", "Seam", "value", "job.yaml is the record itself"},
		{"lost/a.txt", "Seam", "value", "lost/a.txt cannot be taken: it is lost"},
	} {
		rec, column, err := listing().evidence(Entry{Value: x.file, Text: x.text, By: "T2", On: day})
		if column != x.column {
			t.Errorf("%q, %q: at column %q, want %q", x.file, x.text, column, x.column)
		}
		if x.want == "" {
			if want := (job.Evidence{ID: "E4", File: "evidence/new.txt", SHA256: "hash of evidence/new.txt", Text: x.text, By: "T2", On: day}); err != nil || rec != want {
				t.Errorf("%q: %+v, %v", x.file, rec, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), x.want) || rec != nil {
			t.Errorf("%q, %q: %v, want %q", x.file, x.text, err, x.want)
		}
	}
}

// A hash is noted of the file as it is, not before the day the evidence is of; the rest of the entry stays.
func TestHashOfARow(t *testing.T) {
	lost := listing()
	lost.c.Job.Evidence[0].File = "lost/a.txt"
	for _, x := range []struct {
		of               *taken
		about, value, on string
		column, want     string // nothing is wanted: it is taken
	}{
		{listing(), "E1", "as recorded", "2026-11-20", "value", ""},
		{listing(), "E1", " as recorded ", "2026-11-26", "value", ""},
		{listing(), "E1", "yes", "2026-11-26", "value", `"yes" is not 'as recorded'`},
		{listing(), "E1", "", "2026-11-26", "value", `"" is not 'as recorded'`},
		{listing(), "E9", "as recorded", "2026-11-26", "about", `the job has no evidence "E9"`},
		{listing(), "E1", "as recorded", "2026-11-19", "on", "it is of 2026-11-19, and E1 is of 2026-11-20"},
		{lost, "E1", "as recorded", "2026-11-26", "value", "lost/a.txt cannot be taken: it is lost"},
	} {
		rec, column, err := x.of.noted(release.Wanted{About: x.about}, Entry{Value: x.value, By: "T2", On: theDay(x.on)})
		if column != x.column {
			t.Errorf("%s %q on %s: at column %q, want %q", x.about, x.value, x.on, column, x.column)
		}
		if x.want == "" {
			if want := (job.Changed{List: "evidence", At: 0, Item: job.Evidence{ID: "E1", File: "evidence/a.txt", SHA256: "hash of evidence/a.txt", Text: "A", By: "T1", On: theDay("2026-11-20")}}); err != nil || !reflect.DeepEqual(rec, want) {
				t.Errorf("%q on %s: %+v, %v", x.value, x.on, rec, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), x.want) || rec != nil {
			t.Errorf("%s %q on %s: %v, want %q", x.about, x.value, x.on, err, x.want)
		}
	}
	if x := listing(); x.c.Job.Evidence[0].SHA256 != "" {
		t.Error("the job itself was changed")
	}
}

// The hash of a file is that of the folder of the job; where no folder lies beside it there is none.
func TestHashOfAFileOfTheJob(t *testing.T) {
	a := New(memory{"job/a.txt": []byte("a"), "a.txt": []byte("b")}, "test")
	if got, err := a.evidenceHash(&Opened{From: "job"}, "a.txt"); err != nil || got != hashOf([]byte("a")) {
		t.Errorf("%s, %v", got, err)
	}
	if got, err := a.evidenceHash(&Opened{From: "job", alone: true}, "a.txt"); err == nil || got != "" || !strings.Contains(err.Error(), "no folder lies beside it") {
		t.Errorf("without a folder: %q, %v", got, err)
	}
	if _, err := a.evidenceHash(&Opened{From: "job"}, "b.txt"); !missing(err) {
		t.Errorf("a file that is not there: %v", err)
	}
}

// A job that is opened from a store alone names body and shop by their contents; each that it does
// not is told. In a folder it may name paths.
func TestStandsAlone(t *testing.T) {
	hash := job.HashName(strings.Repeat("a", 64))
	for _, x := range []struct {
		body, shop string
		fields     string
	}{{hash, hash, ""}, {"../body", hash, "body"}, {hash, "../shop.yaml", "shop"}, {"../body", "../shop.yaml", "body shop"}} {
		s := &job.State{Body: x.body, Shop: x.shop}
		err := (&Opened{alone: true}).standsAlone(s)
		var ps diag.Problems
		var fields []string
		if errors.As(err, &ps) {
			for _, p := range ps {
				fields = append(fields, p.Field)
				if p.File != job.MainFile || !strings.Contains(p.Msg, "is no hash of a content, and there is no folder to look in") || p.Hint != "name it by its content" {
					t.Errorf("%+v", p)
				}
			}
		}
		if got := strings.Join(fields, " "); got != x.fields || (err != nil) != (x.fields != "") {
			t.Errorf("%s, %s: faults of %q, %v", x.body, x.shop, got, err)
		}
		if err := (&Opened{}).standsAlone(s); err != nil {
			t.Errorf("in a folder: %v", err)
		}
	}
}

// A stored job that was not read just now is looked up in the store of its place; one that was keeps its store.
func TestNeedsStore(t *testing.T) {
	mine, other := oneBlob{data: []byte("a")}, oneBlob{data: []byte("b")}
	a := New(memory{}, "test").WithStores(func(place string) (Store, string) { return other, "at " + place })
	c := &Opened{store: mine, storeID: "J"}
	if err := a.needsStore(c, "kept"); err != nil || c.storeID != "J" || string(c.store.(oneBlob).data) != "a" {
		t.Errorf("it changed its store: %s, %v", c.storeID, err)
	}
	c = &Opened{}
	if err := a.needsStore(c, "kept"); err != nil || c.storeID != "at kept" || string(c.store.(oneBlob).data) != "b" {
		t.Errorf("looked up: %s, %v", c.storeID, err)
	}
	refusedAs(t, "no stores", New(memory{}, "test").needsStore(&Opened{}, "kept"), diag.Unsupported, "kept", "stored jobs are not opened here", "open the job with fettle")
}

// The history of a job ends with its newest event; one that was written by hand has none. A body or
// shop is beside the job unless it is named by its content.
func TestNewestEventOfAJob(t *testing.T) {
	c := &Opened{}
	if last := c.lastEvent(); last != nil || last.orNone() != (Head{}) || historyWords(last) != "a state written by hand, without a history" {
		t.Errorf("written by hand: %v, %s", last, historyWords(last))
	}
	_, rear, _ := demonstrated(t, demo.RearJob)
	hash := job.HashName(strings.Repeat("a", 64))
	s := *rear.Job
	s.Body, s.Shop = hash, hash
	events := job.FromState(s)
	chain, stored, err := (&job.Stored{}).Write(events, job.Stamp{At: "2026-11-26T10:00:00Z", By: "p-1", Salt: func() string { return strings.Repeat("0", 64) }})
	if err != nil {
		t.Fatal(err)
	}
	c.stored = stored
	seq, sum := chain.Head()
	if last := c.lastEvent(); last == nil || *last != (Head{seq, sum}) || last.orNone() != *last || seq != int64(len(events)) || historyWords(last) != fmt.Sprintf("a stored job, events 1 to %d", len(events)) {
		t.Errorf("%v, %s; want event %d", last, historyWords(last), seq)
	}
	if beside("job", hash) != hash || beside("job", "../body") != "body" {
		t.Errorf("%s, %s", beside("job", hash), beside("job", "../body"))
	}
}

// An error about a body or shop that a person named says what to give; any other is left as it is.
func TestErrorsOfWhatWasNamed(t *testing.T) {
	for kind, named := range map[diag.Kind]bool{diag.NotFound: true, diag.Denied: true, diag.Invalid: false, diag.Conflict: false} {
		was := &diag.Error{Kind: kind, Subject: "x", Msg: "no", Hint: "correct job.yaml"}
		var e *diag.Error
		if !errors.As(asNamed(was), &e) || (e.Hint == "give the folder of a body (it holds body.yaml), or a shop file") != named || (e == was) == named || e.Msg != "no" || was.Hint != "correct job.yaml" {
			t.Errorf("%v: %+v", kind, e)
		}
	}
	odd := errors.New("no")
	if asNamed(odd) != odd {
		t.Error("another error became another one")
	}
}
