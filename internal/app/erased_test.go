package app

import (
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/decide"
	"fettle/internal/job"
)

// unsaid is a state in which nobody signed for a record and nothing was said in it: each of its
// erasable texts is one that names nobody, or empty.
func unsaid(s job.State, of job.RecordName) job.State {
	events := job.FromState(s)
	i := slices.IndexFunc(events, func(e job.Event) bool { return e.About() == of })
	v := reflect.New(reflect.TypeOf(events[i].Data)).Elem()
	v.Set(reflect.ValueOf(events[i].Data))
	silence(v)
	events[i].Data = v.Interface()
	out, err := job.Fold(events)
	if err != nil {
		panic(err)
	}
	return out
}

func silence(v reflect.Value) {
	switch v.Kind() {
	case reflect.Slice:
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range v.Len() {
			silence(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			switch {
			case !f.IsExported():
			case f.Tag.Get("personal") != "" && v.Field(i).String() != "":
				v.Field(i).SetString(map[bool]string{true: "NOBODY"}[f.Name == "By" || f.Name == "Author" || f.Name == "RecordedBy"])
			default:
				silence(v.Field(i))
			}
		}
	}
}

// people erases one person of a job after the other: those of the shop who signed anything in it.
func people(t *testing.T, c *Opened, same func(what string, erased, plain job.State)) {
	t.Helper()
	s := *c.Job
	s.Body, s.Shop = job.HashName(c.BodyHash), job.HashName(c.ShopHash)
	chain, kept, err := (&job.Stored{}).Write(job.FromState(s), job.Stamp{At: "2026-11-26T10:00:00Z", By: "p-1", Salt: func() string { return strings.Repeat("0", 64) }})
	if err != nil {
		t.Fatal(err)
	}
	erased := 0
	for i, p := range c.Shop.People {
		if i%3 != 0 && os.Getenv("FETTLE_CAMPAIGN") == "" {
			continue
		}
		of, _, err := job.Person{Names: []string{p.ID}}.Concerns(chain)
		if err != nil {
			t.Fatal(err)
		}
		if len(of) == 0 {
			continue
		}
		_, without, err := kept.Write(kept.Erasing(of, job.Erasure{On: c.Job.Opened, Reason: "Asked for"}), job.Stamp{At: "2026-11-26T10:00:00Z", By: "p-1"})
		if err != nil {
			t.Errorf("%s cannot be erased: %v", p.ID, err)
			continue
		}
		plain := s
		for _, x := range of {
			plain = unsaid(plain, x)
		}
		same("person "+p.ID, *without.State(), plain)
		erased++
	}
	if erased == 0 {
		t.Error("nobody was erased: the test shows nothing")
	}
}

// TestErasingPermitsNothing erases the texts of every record of a job that may be released, one
// after the other, and those of one person at once. It is then judged as if nobody had signed for it and no reason had been given:
// what was missing is missing still, and where that person was needed the gate is shut.
func TestErasingPermitsNothing(t *testing.T) {
	a, c, r := releasable(t)
	if !a.Release(c, r).Ready() {
		t.Fatal("the job may not be released to begin with")
	}
	judged := func(s job.State) (Release, bool, int) {
		other := *c
		other.Job = &s
		got := assessedOf(t, a, &other, r.Made)
		allowed := 0
		for _, f := range got.Decide.Findings {
			for _, o := range f.Options {
				if o.Verdict == decide.Allowed {
					allowed++
				}
			}
		}
		return a.Release(&other, got), got.Blocked, allowed
	}
	shut := 0
	same := func(what string, erased, plain job.State) {
		t.Helper()
		got, blocked, allowed := judged(erased)
		want, wantBlocked, wantAllowed := judged(plain)
		if got.Ready() != want.Ready() || blocked != wantBlocked || allowed != wantAllowed || len(got.Missing) != len(want.Missing) {
			t.Errorf("%s: ready %v, %d missing, blocked %v, %d allowed; as if nobody had said it: %v, %d, %v, %d\n%s", what,
				got.Ready(), len(got.Missing), blocked, allowed, want.Ready(), len(want.Missing), wantBlocked, wantAllowed, a.ReleaseText(got, Column{Width: 160}))
		}
		if got.Ready() != (len(got.Missing) == 0) {
			t.Errorf("%s: %v", what, got)
		}
		if !got.Ready() {
			shut++
		}
	}
	people(t, c, same)
	for _, e := range job.FromState(*c.Job) {
		if e.Kind != job.DecisionsReviewed && os.Getenv("FETTLE_CAMPAIGN") == "" {
			continue
		}
		of := e.About()
		erased, err := job.Fold(append(job.FromState(*c.Job), job.Event{Kind: job.TextsErased, Of: of, Data: job.Erasure{On: c.Job.Opened, Reason: "Asked for"}}))
		if err != nil {
			t.Fatal(err)
		}
		same(string(of), erased, unsaid(*c.Job, of))
	}
	if shut == 0 {
		t.Error("no erasure shut the gate: the test shows nothing")
	}
}
