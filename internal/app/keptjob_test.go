package app_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"path"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
	"fettle/internal/unit"
)

// read is the bodies of the tests in this file: they are read once.
var read app.Bodies

// faulty is a store that gives or takes something else, where a test wants that.
type faulty struct {
	*store.Memory
	load  func(ledger.Chain) (ledger.Chain, error)
	keep  error
	put   func(io.Reader) error
	get   error
	files func(hash string) map[string][]byte
}

func (f *faulty) Load(ctx context.Context, id string, after int64) (ledger.Chain, error) {
	c, err := f.Memory.Load(ctx, id, after)
	if f.load != nil && err == nil {
		return f.load(c)
	}
	return c, err
}

func (f *faulty) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if f.keep != nil {
		return "", f.keep
	}
	return f.Memory.Keep(ctx, files)
}

func (f *faulty) Put(ctx context.Context, r io.Reader, most int64) (string, int64, error) {
	if f.put != nil {
		return "", 0, f.put(r)
	}
	return f.Memory.Put(ctx, r, most)
}

func (f *faulty) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	if f.get != nil {
		return nil, 0, f.get
	}
	return f.Memory.Get(ctx, hash)
}

func (f *faulty) Retain(ctx context.Context, hash string) (int64, error) {
	if f.get != nil {
		return 0, f.get
	}
	return f.Memory.Retain(ctx, hash)
}

func (f *faulty) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	if f.files != nil {
		if files := f.files(hash); files != nil {
			return files, nil
		}
	}
	return f.Memory.Files(ctx, hash)
}

// shelf is the demonstration in folders beside a store, which calls its only job REAR and has its
// folder at "kept".
type shelf struct {
	*app.App
	rooms folders.Files
	st    *faulty
}

func newShelf() shelf {
	s := shelf{rooms: folders.Coarse(), st: &faulty{Memory: store.NewMemory(func() time.Time { return demo.Day })}}
	s.App = app.New(s.rooms, "test").WithBodies(&read).WithStores(func(string) (app.Store, string) { return s.st, "REAR" })
	return s
}

func (s shelf) open(t *testing.T, dir string) *app.Opened {
	t.Helper()
	c, err := s.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// kept is the rear job as a stored one, opened at its folder.
func kept(t *testing.T) (shelf, *app.Opened) {
	t.Helper()
	s := newShelf()
	if _, err := s.Keep(t.Context(), s.open(t, demo.RearJob), "p-1", "keep"); err != nil {
		t.Fatal(err)
	}
	s.rooms["kept/"+job.EventsFile] = nil
	return s, s.open(t, "kept")
}

// head is the newest event of the stored job; 0 where there is none.
func (s shelf) head(t *testing.T) int64 {
	t.Helper()
	c, err := s.st.Memory.Load(t.Context(), "REAR", 0)
	if err != nil && diag.KindOf(err) != diag.NotFound {
		t.Fatal(err)
	}
	return int64(len(c))
}

// refused wants an error of a kind about something, with these texts.
func refused(t *testing.T, name string, err error, kind diag.Kind, subject, msg, hint string) {
	t.Helper()
	var e *diag.Error
	if !errors.As(err, &e) {
		t.Errorf("%s: %v", name, err)
		return
	}
	if e.Kind != kind || e.Subject != subject || !strings.Contains(e.Msg, msg) || !strings.Contains(e.Hint, hint) || hint == "" && e.Hint != "" {
		t.Errorf("%s: %d of %q: %q; %q\nwant %d of %q: %q; %q", name, e.Kind, e.Subject, e.Msg, e.Hint, kind, subject, msg, hint)
	}
}

var errLine = errors.New("the line is down")

// What is kept of a job: its body and shop, each piece of evidence and its records, under the hashes they
// had in their folders; opened from the store alone it is the same job.
func TestKeepAJob(t *testing.T) {
	s := newShelf()
	before := s.open(t, demo.RearJob)
	head, err := s.Keep(t.Context(), before, "p-1", "keep")
	if err != nil || head.Seq != s.head(t) || head.Seq != int64(len(job.FromState(*before.Job))) {
		t.Fatal(head, err)
	}
	for _, hash := range []string{before.BodyHash, before.ShopHash} {
		if files, err := s.st.Files(t.Context(), hash); err != nil || body.Hash(files) != hash {
			t.Errorf("%s: %d files, %v", hash, len(files), err)
		}
	}
	for _, e := range before.Job.Evidence {
		r, _, err := s.st.Get(t.Context(), e.SHA256)
		if err != nil {
			t.Fatal(err)
		}
		if data, err := io.ReadAll(r); err != nil || string(data) != string(s.rooms[demo.RearJob+"/"+e.File]) {
			t.Errorf("%s: %v", e.ID, err)
		}
	}
	if before.Stored() || !strings.HasPrefix(before.Job.Body, "..") {
		t.Error("the job that was read is another one now")
	}
	after, err := app.New(folders.Files{}, "test").OpenStored(t.Context(), s.st, "REAR")
	if err != nil || after.JobHash != before.JobHash || after.From != "REAR" || !after.Stored() {
		t.Fatal(after, err)
	}
	again, err := s.Keep(t.Context(), before, "p-1", "keep")
	if err != nil || again != head {
		t.Errorf("kept twice under one key: %v, %v", again, err)
	}
	_, err = s.Keep(t.Context(), before, "p-1", "another")
	refused(t, "kept under another key", err, diag.Conflict, "REAR", "there is a stored job of that name already", "give another name")
}

// What cannot be kept as it was read is refused, and no job is begun.
func TestKeepIsRefused(t *testing.T) {
	sheet := demo.RearJob + "/evidence/inspection-sheet.txt"
	for name, x := range map[string]struct {
		do                 func(shelf, *app.Opened)
		kind               diag.Kind
		subject, msg, hint string
		is                 error // an error that is handed on
	}{
		"a body that was changed":      {do: func(s shelf, _ *app.Opened) { s.rooms["rear-body/more.txt"] = nil }, kind: diag.Conflict, subject: "rear-body", msg: "it was changed while the job was read; nothing was kept", hint: "try again"},
		"a shop that was changed":      {do: func(s shelf, _ *app.Opened) { s.rooms["shop.yaml"] = []byte("x") }, kind: diag.Conflict, subject: "shop.yaml", msg: "it was changed while the job was read; nothing was kept", hint: "try again"},
		"a shop that is gone":          {do: func(s shelf, _ *app.Opened) { delete(s.rooms, "shop.yaml") }, kind: diag.NotFound, subject: "shop.yaml", msg: "cannot be read", hint: "the job names this shop file"},
		"evidence that was changed":    {do: func(s shelf, _ *app.Opened) { s.rooms[sheet] = []byte("x") }, kind: diag.Conflict, subject: sheet, msg: "it is not the file whose hash is recorded; nothing was recorded", hint: "bring the original back"},
		"evidence that is gone":        {do: func(s shelf, _ *app.Opened) { delete(s.rooms, sheet) }, kind: diag.NotFound, subject: sheet, msg: "cannot be read", hint: "check that the file may be read"},
		"a library that takes nothing": {do: func(s shelf, _ *app.Opened) { s.st.keep = errLine }, is: errLine},
		"a store that reads nothing":   {do: func(s shelf, _ *app.Opened) { s.st.put = func(io.Reader) error { return errLine } }, is: errLine},
		"a store that reads one byte": {do: func(s shelf, _ *app.Opened) {
			s.st.put = func(r io.Reader) error {
				if _, err := r.Read(make([]byte, 1)); err != nil {
					return err
				}
				return errLine
			}
		}, is: errLine},
	} {
		s := newShelf()
		c := s.open(t, demo.RearJob)
		x.do(s, c)
		_, err := s.Keep(t.Context(), c, "p-1", "keep")
		if x.is == nil {
			refused(t, name, err, x.kind, x.subject, x.msg, x.hint)
		} else if !errors.Is(err, x.is) {
			t.Errorf("%s: %v", name, err)
		}
		if s.head(t) != 0 {
			t.Errorf("%s: a job was begun", name)
		}
	}
	s := newShelf()
	c := s.open(t, demo.RearJob)
	_, err := app.New(s.rooms, "test").Keep(t.Context(), c, "p-1", "keep")
	refused(t, "where there are no stores", err, diag.Conflict, demo.RearJob, "a stored job already", "")
	s, stored := kept(t)
	_, err = s.Keep(t.Context(), stored, "p-1", "again")
	refused(t, "a stored job", err, diag.Conflict, "kept", "this is a stored job already", "")
}

// Evidence has to note its hash to be kept: the record without one is named, with the hash to note.
func TestKeepNeedsHashes(t *testing.T) {
	s := newShelf()
	at := demo.RearJob + "/" + job.MainFile
	old := ", sha256: ac49f09aefcd583be64014575f1ddb24f2acfa5157c4ece347538ae6e000ab56"
	line := 1 + strings.Count(string(s.rooms[at][:strings.Index(string(s.rooms[at]), old)]), "\n")
	s.rooms[at] = []byte(strings.Replace(string(s.rooms[at]), old, "", 1))
	_, err := s.Keep(t.Context(), s.open(t, demo.RearJob), "p-1", "keep")
	var ps diag.Problems
	if !errors.As(err, &ps) || len(ps) != 1 || ps[0].File != at || ps[0].Line != line || ps[0].Field != "evidence[1].sha256" || ps[0].Hint != "note the hash"+strings.Replace(old, ", ", ": ", 1) || s.head(t) != 0 {
		t.Errorf("%+v, %d events", err, s.head(t))
	}
}

// A stored job is opened only where there are stores, and nothing but what its hashes name.
func TestOpenAStoredJob(t *testing.T) {
	s, c := kept(t)
	_, err := app.New(s.rooms, "test").Open(t.Context(), "kept")
	refused(t, "without stores", err, diag.Unsupported, "kept", "stored jobs are not opened here", "open the job with fettle")
	if !s.IsStored("kept") || s.IsStored(demo.RearJob) || !c.Stored() {
		t.Error("a stored job is not told from one that was written by hand")
	}
	for name, x := range map[string]struct {
		hash string
		gone map[string][]byte
		kind diag.Kind
		msg  string
	}{
		"another body": {c.BodyHash, map[string][]byte{"body.yaml": nil}, diag.Integrity, "the store gave something else under this hash"},
		"another shop": {c.ShopHash, map[string][]byte{"shop.yaml": nil}, diag.Integrity, "the store gave something else under this hash"},
	} {
		s.st.files = func(hash string) map[string][]byte {
			if hash == x.hash {
				return x.gone
			}
			return nil
		}
		_, err := app.New(folders.Files{}, "test").OpenStored(t.Context(), s.st, "REAR")
		refused(t, name, err, x.kind, job.HashName(x.hash), x.msg, "bring it back from a backup")
	}
	s.st.files = nil
	s.st.load = func(c ledger.Chain) (ledger.Chain, error) {
		out := slices.Clone(c)
		out[1].By = "p-9"
		return out, nil
	}
	if c, err := s.OpenStored(t.Context(), s.st, "REAR"); c != nil || diag.KindOf(err) != diag.Integrity {
		t.Errorf("a chain that was changed: %v", err)
	}
	s.st.load = nil
	two, err := s.st.Memory.Keep(t.Context(), map[string][]byte{"shop.yaml": s.rooms["shop.yaml"], "other.yaml": nil})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.st.Append(t.Context(), "REAR", app.Change{Key: "two", By: "p-1", Events: []job.Event{{Kind: job.ShopNamed, Data: job.Named{SHA256: two}}}}, nil); err != nil {
		t.Fatal(err)
	}
	_, err = s.Open(t.Context(), "kept")
	refused(t, "two files for a shop", err, diag.Invalid, job.HashName(two), "what is kept under this hash is no shop file", "")
}

// added is a piece of evidence to be put on record.
func added(file, hash string) app.Recorded {
	return app.Recorded{Events: []job.Event{{Kind: job.EvidenceAdded, Data: job.Evidence{ID: "E9", File: file, SHA256: hash, Text: "Photo", On: unit.DateOf(demo.Day), By: "T2"}}}}
}

// Evidence is in the store before an event names it: what is there stays, else it is what was given, or
// what lies in the folder of the job. What is not the file of the hash is refused, and nothing is written.
func TestAppendKeepsEvidence(t *testing.T) {
	const text = "a photo"
	hash := fmt.Sprintf("%x", sha256.Sum256([]byte(text)))
	at, given := "kept/evidence/p.txt", app.NewFile{Name: "evidence/p.txt", Data: []byte(text)}
	odd := given
	odd.Data = []byte("another")
	none, refusing := kept(t) // in which nothing is written
	elsewhere := app.NewFile{Name: "evidence/q.txt", Data: []byte("another")}
	for name, x := range map[string]struct {
		do                 func(s shelf)
		files              []app.NewFile
		alone              bool
		hash               string
		kind               diag.Kind
		subject, msg, hint string // no message: it is on record
		is                 error
	}{
		"in the folder":        {do: func(s shelf) { s.rooms[at] = []byte(text) }, hash: hash},
		"given":                {files: []app.NewFile{elsewhere, given}, hash: hash},
		"there already":        {do: func(s shelf) { _, _, _ = s.st.Memory.Put(t.Context(), strings.NewReader(text), 100) }, files: []app.NewFile{odd}, hash: hash},
		"given to one alone":   {alone: true, files: []app.NewFile{given}, hash: hash},
		"alone":                {do: func(s shelf) { s.rooms[at] = []byte(text) }, alone: true, hash: hash, kind: diag.NotFound, subject: "evidence/E9", msg: "the store keeps nothing under its hash", hint: "put the file into the store first"},
		"without a hash":       {files: []app.NewFile{given}, kind: diag.Invalid, subject: "evidence/E9", msg: "names evidence by the hash of its content", hint: "give sha256"},
		"another was given":    {files: []app.NewFile{odd}, hash: hash, kind: diag.Conflict, subject: "evidence/p.txt", msg: "it is not the file whose hash is recorded", hint: "bring the original back"},
		"another lies there":   {do: func(s shelf) { s.rooms[at] = []byte("another") }, hash: hash, kind: diag.Conflict, subject: at, msg: "it is not the file whose hash is recorded", hint: "bring the original back"},
		"nothing lies there":   {hash: hash, kind: diag.NotFound, subject: at, msg: "cannot be read", hint: "check that the file may be read"},
		"the store is away":    {do: func(s shelf) { s.rooms[at], s.st.get = []byte(text), errLine }, hash: hash, is: errLine},
		"the store takes none": {do: func(s shelf) { s.st.put = func(io.Reader) error { return errLine } }, files: []app.NewFile{given}, hash: hash, is: errLine},
	} {
		s, c := none, refusing
		if x.msg == "" && x.is == nil {
			s, c = kept(t)
		}
		if x.alone {
			var err error
			if c, err = s.OpenStored(t.Context(), s.st, "REAR"); err != nil {
				t.Fatal(err)
			}
		}
		if delete(s.rooms, at); x.do != nil {
			x.do(s)
		}
		r := added("evidence/p.txt", x.hash)
		r.Files = x.files
		before := s.head(t)
		head, err := s.Append(t.Context(), c, r, "p-2", name)
		s.st.get, s.st.put = nil, nil
		if x.msg == "" && x.is == nil {
			again, opening := s.OpenStored(t.Context(), s.st, "REAR")
			if err != nil || opening != nil || head.Seq != before+1 || len(again.Evidence) != len(c.Evidence)+1 {
				t.Errorf("%s: %v, %v, event %d", name, err, opening, head.Seq)
			}
			continue
		}
		if x.is == nil {
			refused(t, name, err, x.kind, x.subject, x.msg, x.hint)
		} else if !errors.Is(err, x.is) {
			t.Errorf("%s: %v", name, err)
		}
		if s.head(t) != before || head != (app.Head{}) {
			t.Errorf("%s: it is on record all the same", name)
		}
	}
}

// What does not fit body and shop is not written, and what somebody else has written of the same
// record since is not written over.
func TestAppendIsHeldAgainstTheJob(t *testing.T) {
	s, c := kept(t)
	before := s.head(t)
	other := job.Event{Kind: job.FindingRecorded, Data: job.Finding{ID: "D9", Kind: "dent", Part: "P-NONE", Seen: "visual", By: "T1", On: c.Job.Opened}}
	_, err := s.Append(t.Context(), c, app.Recorded{Events: []job.Event{other}}, "p-2", "k1")
	var ps diag.Problems
	if !errors.As(err, &ps) || !strings.Contains(ps.Error(), "P-NONE") || s.head(t) != before {
		t.Errorf("a part that the body has not: %v, %d events of %d", err, s.head(t), before)
	}
	point := c.Body.Points[0].ID
	q, r := decide.Question{ID: "Q-P", Point: point}, app.Assessment{Made: demo.Day} // of a point nothing is told
	sent, err := s.Sent(c, r, q, "P1")
	if err != nil || len(sent.Events) != 1 || sent.Files != nil || sent.Was != nil || sent.Events[0].Kind != job.QuestionAsked {
		t.Fatalf("%v: %+v", err, sent)
	}
	head, err := s.Append(t.Context(), c, sent, "p-2", "k2")
	if err != nil || head.Seq != before+1 {
		t.Fatal(head, err)
	}
	if again, err := s.Append(t.Context(), c, sent, "p-2", "k2"); err != nil || again != head {
		t.Errorf("sent twice under one key: %v, %v", again, err)
	}
	if _, err := s.Append(t.Context(), c, sent, "p-3", "k3"); diag.KindOf(err) != diag.Conflict || s.head(t) != head.Seq {
		t.Errorf("written by two: %v", err)
	}
	again := s.open(t, "kept")
	if n := len(again.Job.Questions); n != 2 || again.Job.Questions[1] != (job.Asked{ID: "Q-P", Point: point, On: unit.DateOf(demo.Day), By: "P1"}) {
		t.Errorf("%+v", again.Job.Questions)
	}
	for name, q := range map[string]decide.Question{"no point": {ID: "Q-P2", Point: "C99"}, "on record already": q} {
		if got, err := s.Sent(again, r, q, "P1"); !errors.As(err, &ps) || ps[0].File != app.Asked || !strings.HasPrefix(ps[0].Field, "questions.") || !reflect.DeepEqual(got, app.Recorded{}) {
			t.Errorf("%s: %+v, %+v", name, err, got)
		}
	}
}

// byHand wants what only a stored job has refused of one that was written by hand.
func byHand(t *testing.T, op string, err error) {
	t.Helper()
	refused(t, op, err, diag.Unsupported, demo.RearJob, "it is a state written by hand", "change ")
}

// A record is withdrawn by somebody of the shop, on a day that stands, and is gone then; texts are erased
// of any record there is or was, and the names with them.
func TestWithdrawAndErase(t *testing.T) {
	s, c := kept(t)
	plain := s.open(t, demo.RearJob)
	day := unit.DateOf(demo.Day)
	away := job.Withdrawal{By: "P1", On: day, Reason: "Taken twice"}
	gone := job.Erasure{On: day, Reason: "Asked for"}
	of := job.RecordName("area/A-FLANGE")
	_, err := s.Withdraw(plain, of, away)
	byHand(t, "withdraw", err)
	_, err = s.Erase(plain, of, gone)
	byHand(t, "erase", err)
	_, err = s.ErasePerson(t.Context(), plain, job.Person{Names: []string{"T2"}}, gone)
	byHand(t, "erase", err)
	_, _, err = s.Show(plain, of)
	byHand(t, "show", err)
	_, err = s.Put(t.Context(), plain, of, "d.yaml", 0)
	byHand(t, "put", err)
	_, err = s.Withdraw(c, "finding/D99", away)
	refused(t, "withdraw what is none", err, diag.NotFound, "finding/D99", "the job has no such record", "its history names them")
	_, err = s.Erase(c, "finding/D99", gone)
	refused(t, "erase what is none", err, diag.NotFound, "finding/D99", "the job has no such record", "its history names them")
	for name, x := range map[string]struct {
		w   job.Withdrawal
		msg string
	}{
		"by nobody":        {job.Withdrawal{By: "P9", On: day, Reason: "x"}, "P9"},
		"before the job":   {job.Withdrawal{By: "P1", On: c.Job.Opened.AddDays(-1), Reason: "x"}, "before the job was opened"},
		"on no day at all": {job.Withdrawal{By: "P1", Reason: "x"}, "does not say on which day"},
	} {
		got, err := s.Withdraw(c, of, x.w)
		refused(t, name, err, diag.Conflict, string(of), x.msg, "")
		if got.Events != nil {
			t.Errorf("%s: %v", name, got.Events)
		}
	}
	if _, err := s.Withdraw(c, of, job.Withdrawal{By: "P1", On: c.Job.Opened, Reason: "x"}); err != nil {
		t.Errorf("withdrawn on the day the job was opened: %v", err)
	}
	_, seen, err := s.Show(c, of)
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Withdraw(c, of, away)
	if want := (job.Event{Kind: job.RecordWithdrawn, Of: of, Seen: seen, Data: away}); err != nil || len(got.Events) != 1 || !reflect.DeepEqual(got.Events[0], want) || got.Text != "Withdrawn: area/A-FLANGE." {
		t.Fatalf("%v: %+v", err, got)
	}
	head, err := s.Append(t.Context(), c, got, "p-1", "away")
	if err != nil {
		t.Fatal(err)
	}
	c = s.open(t, "kept")
	if slices.ContainsFunc(c.Job.Areas, func(x job.AreaSeen) bool { return x.Area == "A-FLANGE" }) {
		t.Error("it is there still")
	}
	_, err = s.Withdraw(c, of, away)
	refused(t, "withdrawn twice", err, diag.NotFound, string(of), "the job has no such record", "its history")
	_, _, err = s.Show(c, of)
	refused(t, "shown", err, diag.NotFound, string(of), "the job has no such record", "its history")
	got, err = s.Erase(c, of, gone)
	if want := (job.Event{Kind: job.TextsErased, Of: of, Seen: head.Seq, Data: gone}); err != nil || len(got.Events) != 1 || !reflect.DeepEqual(got.Events[0], want) || got.Text != "Erased: names and remarks of area/A-FLANGE. What needs them does not stand any more." {
		t.Fatalf("erase what was withdrawn: %v: %+v", err, got)
	}
	if _, err := s.Append(t.Context(), c, got, "p-1", "erase"); err != nil {
		t.Fatal(err)
	}
	lines, err := s.Events(t.Context(), "kept")
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range lines {
		if l.About == of && l.What != string(job.TextsErased) != l.Erased || l.About != of && l.Erased || l.Seq != int64(i)+1 {
			t.Errorf("%+v", l)
		}
	}
	n := len(lines)
	if last := lines[n-1]; last.By != "p-1" || last.Seen != head.Seq || last.Hash == "" || !strings.HasPrefix(last.At, "2026-11-26T10:00:00") || last.Text != "Names and remarks erased from inspection area A-FLANGE: Asked for" {
		t.Errorf("%+v", last)
	}
}

// A record that a file holds takes the place of the one its author had seen. What is wrong with it is
// told at its place in the file, whether it is read in the file or in the job.
func TestPutARecord(t *testing.T) {
	s, c := kept(t)
	const of, file = job.RecordName("finding/D4"), "d4.yaml"
	text, seen, err := s.Show(c, of)
	if err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct{ old, fresh, field, msg string }{
		"no day":             {"on: 2026-11-04", "on: soon", "on", "soon"},
		"no part of the job": {"part: P-BEAM", "part: P-NONE", "part", "P-NONE"},
		"no such kind":       {"kind: bend", "kind: hole", "kind", "hole"},
		"a branch of a bend": {"part: P-BEAM", "part: P-BEAM\nbranch_of: D4", "branch_of", "only a crack forks off a crack"},
	} {
		if strings.Count(string(text), x.old) != 1 {
			t.Fatalf("%q is not there once:\n%s", x.old, text)
		}
		s.rooms[file] = []byte(strings.Replace(string(text), x.old, x.fresh, 1))
		before, _, ok := strings.Cut("\n"+string(s.rooms[file]), "\n"+x.field+":")
		at := 1 + strings.Count(before, "\n")
		_, err := s.Put(t.Context(), c, of, file, seen)
		var ps diag.Problems
		if !ok || !errors.As(err, &ps) || ps[0].File != file || ps[0].Line != at || ps[0].Field != x.field || !strings.Contains(ps[0].Msg, x.msg) {
			t.Errorf("%s: %+v, want line %d", name, err, at)
		}
	}
	lines := strings.Split(string(text), "\n")
	lines[slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "text:") })] = "text: Bowed by 4 mm"
	s.rooms[file] = []byte(strings.Join(lines, "\n"))
	got, err := s.Put(t.Context(), c, of, file, seen)
	if err != nil || got.Text != "Recorded: finding/D4." || len(got.Events) != 1 || got.Events[0].Seen != seen || got.Events[0].Kind != job.FindingRecorded {
		t.Fatalf("%v: %+v", err, got)
	}
	if _, err := s.Put(t.Context(), c, of, file, seen+1); diag.KindOf(err) != diag.Conflict {
		t.Errorf("in the place of another event: %v", err)
	}
	if _, err := s.Put(t.Context(), c, of, "none.yaml", seen); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a file that is not there: %v", err)
	}
	if _, err := s.Put(t.Context(), c, "finding/D5", file, 0); err == nil {
		t.Error("D4 was taken for D5")
	}
	if _, err := s.Append(t.Context(), c, got, "p-1", "put"); err != nil {
		t.Fatal(err)
	}
	c = s.open(t, "kept")
	if i := slices.IndexFunc(c.Job.Findings, func(f job.Finding) bool { return f.ID == "D4" }); c.Job.Findings[i].Text != "Bowed by 4 mm" {
		t.Errorf("%+v", c.Job.Findings[i])
	}
}

// A person is erased wherever the records name them, at once, and only out of the job as it was read.
func TestEraseAPerson(t *testing.T) {
	s, c := kept(t)
	gone := job.Erasure{On: unit.DateOf(demo.Day), Reason: "Asked for"}
	_, err := s.ErasePerson(t.Context(), c, job.Person{Names: []string{"Q9"}}, gone)
	refused(t, "nobody of the name", err, diag.NotFound, "kept", "no text of a person that can be erased has this name.", "give the name as the records have it")
	_, err = s.ErasePerson(t.Context(), c, job.Person{Names: []string{"TH-R"}}, gone)
	refused(t, "a name that the work rests on", err, diag.NotFound, "kept", "has this name. The work rests on what stays, and the name stands there still: procedure-check/", "give the name")
	got, err := s.ErasePerson(t.Context(), c, job.Person{Names: []string{"T3"}}, gone)
	if err != nil {
		t.Fatal(err)
	}
	var of []string
	for _, e := range got.Events {
		of = append(of, string(e.Of))
		if e.Kind != job.TextsErased || e.Data != gone || e.Seen == 0 {
			t.Errorf("%+v", e)
		}
	}
	want := fmt.Sprintf("Erased: names and remarks of %d records: ", len(of))
	if len(of) < 2 || !strings.HasPrefix(got.Text, want) || !strings.Contains(got.Text, "What needs them does not stand any more.") {
		t.Errorf("%v: %s", of, got.Text)
	}
	if _, err := s.Append(t.Context(), c, got, "p-1", "erase"); err != nil {
		t.Fatal(err)
	}
	_, err = s.ErasePerson(t.Context(), c, job.Person{Names: []string{"T1"}}, gone)
	refused(t, "written since", err, diag.Conflict, "kept", "somebody has written into the job since it was read; nothing was erased", "try again")
	c = s.open(t, "kept")
	for _, h := range c.Job.Hazards {
		if strings.Contains(h.By, "T3") {
			t.Errorf("the name stands in %+v", h)
		}
	}
	s.st.load = func(ledger.Chain) (ledger.Chain, error) { return nil, errLine }
	if _, err := s.ErasePerson(t.Context(), c, job.Person{Names: []string{"T1"}}, gone); !errors.Is(err, errLine) {
		t.Errorf("a store that is away: %v", err)
	}
}

// Body and shop are renewed as they are now, each by itself or both, and nothing is recorded where
// they are the same.
func TestRenew(t *testing.T) {
	s, c := kept(t)
	for _, x := range [][2]string{{"", ""}, {"rear-body", ""}, {"", "shop.yaml"}, {"rear-body", "shop.yaml"}} {
		if got, err := s.Renew(t.Context(), c, x[0], x[1]); err != nil || got.Events != nil || got.Text != "Nothing is new: the job works with these already." {
			t.Errorf("%v: %+v, %v", x, got, err)
		}
	}
	name := c.Shop.Name
	s.rooms["shop.yaml"] = []byte(strings.Replace(string(s.rooms["shop.yaml"]), name, "Newer shop", 1))
	add := func(file, text string) { s.rooms[file] = append(slices.Clone(s.rooms[file]), text...) }
	add("shop.yaml", "# newer\n")
	add("rear-body/body.yaml", "# newer\n")
	shopNow, bodyNow := body.Hash(map[string][]byte{"shop.yaml": s.rooms["shop.yaml"]}), ""
	{
		of := map[string][]byte{}
		names, _ := s.rooms.List("rear-body")
		for _, n := range names {
			of[n] = s.rooms[path.Join("rear-body", n)]
		}
		bodyNow = body.Hash(of)
	}
	bodyEvent, shopEvent := job.Event{Kind: job.BodyNamed, Of: job.OfBody, Data: job.Named{SHA256: bodyNow}}, job.Event{Kind: job.ShopNamed, Of: job.OfShop, Data: job.Named{SHA256: shopNow}}
	for _, x := range []struct {
		body, shop string
		want       []job.Event
	}{{"rear-body", "", []job.Event{bodyEvent}}, {"", "shop.yaml", []job.Event{shopEvent}}, {"rear-body", "shop.yaml", []job.Event{bodyEvent, shopEvent}}} {
		got, err := s.Renew(t.Context(), c, x.body, x.shop)
		if now := map[bool]string{true: "Newer shop", false: name}[x.shop != ""]; c.Shop.Name != now { // what the change is judged with
			t.Errorf("%q and %q: the shop is %q, want %q", x.body, x.shop, c.Shop.Name, now)
		}
		if err != nil || !reflect.DeepEqual(got.Events, x.want) || got.Text != "Renewed: the job works with body and shop as they are now." {
			t.Errorf("%q and %q: %+v, %v", x.body, x.shop, got, err)
		}
	}
	got, err := s.Renew(t.Context(), c, "rear-body", "shop.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), c, got, "p-1", "renew"); err != nil {
		t.Fatal(err)
	}
	if c = s.open(t, "kept"); c.BodyHash != bodyNow || c.ShopHash != shopNow {
		t.Errorf("it works with body %s and shop %s", c.BodyHash, c.ShopHash)
	}
	add("shop.yaml", "# newer again\n")
	if got, err = s.Renew(t.Context(), c, "", "shop.yaml"); err != nil || len(got.Events) != 1 || got.Events[0].Seen == 0 {
		t.Errorf("renewed again: %+v, %v", got, err)
	}
}

// turning is folders whose file changes once it was read.
type turning struct {
	folders.Files
	name string
	n    *int
}

func (f turning) Copy(dir, name string, most int64, to io.Writer) (int64, error) {
	n, err := f.Files.Copy(dir, name, most, to)
	if path.Join(dir, name) == f.name {
		if *f.n++; *f.n > 1 && err == nil {
			_, err = to.Write([]byte("# once more\n"))
		}
	}
	return n, err
}

// What is no body or shop, was changed while it was read, or does not fit the job is not taken.
func TestRenewIsRefused(t *testing.T) {
	s, c := kept(t)
	give := "give the folder of a body (it holds body.yaml), or a shop file"
	_, err := s.Renew(t.Context(), s.open(t, demo.RearJob), "rear-body", "")
	byHand(t, "renew", err)
	_, err = s.Renew(t.Context(), c, "nowhere", "")
	refused(t, "no body", err, diag.NotFound, "nowhere", "", give)
	_, err = s.Renew(t.Context(), c, "", "nowhere.yaml")
	refused(t, "no shop", err, diag.NotFound, "nowhere.yaml", "cannot be read", give)
	s.st.keep = errLine
	if _, err = s.Renew(t.Context(), c, "", "shop.yaml"); !errors.Is(err, errLine) {
		t.Errorf("a store that is away: %v", err)
	}
	s.st.keep = nil
	for name, x := range map[string][2]string{"shop.yaml": {"", "shop.yaml"}, "rear-body": {"rear-body", ""}} {
		file := name
		if x[0] != "" {
			file = "rear-body/parts.csv"
		}
		_, err := app.New(turning{s.rooms, file, new(int)}, "test").Renew(t.Context(), c, x[0], x[1])
		refused(t, name+" that is changed", err, diag.Conflict, name, "it was changed while it was read; nothing was recorded", "try again")
	}
	shop := string(s.rooms["shop.yaml"])
	for name, x := range map[string]struct{ text, want string }{
		"broken":    {shop + "nonsense: yes\n", "shop.yaml"},
		"of no fit": {strings.Replace(shop, "currency: EUR", "currency: USD", 1), "EUR"},
	} {
		s.rooms["shop.yaml"] = []byte(x.text)
		was := c.Shop
		got, err := s.Renew(t.Context(), c, "", "shop.yaml")
		var ps diag.Problems
		if !errors.As(err, &ps) || !strings.Contains(ps.Error(), x.want) || got.Events != nil || c.Shop != was {
			t.Errorf("a shop that is %s: %v, %v", name, err, got.Events)
		}
	}
}

// The events of a job are those of its store once they are verified; a job that was written by hand has none.
func TestEventsOfAJob(t *testing.T) {
	s, c := kept(t)
	lines, err := s.Events(t.Context(), "kept")
	if err != nil || int64(len(lines)) != s.head(t) {
		t.Fatal(len(lines), err)
	}
	events := job.FromState(*c.Job)
	for i, l := range lines {
		if l.Seq != int64(i)+1 || l.By != "p-1" || l.Seen != 0 || l.Erased || l.Text == "" || l.What != string(events[i].Kind) || l.About != events[i].About() {
			t.Errorf("%d: %+v, want %s %s", i, l, events[i].Kind, events[i].About())
		}
	}
	_, err = s.Events(t.Context(), demo.RearJob)
	refused(t, "written by hand", err, diag.NotFound, demo.RearJob, "it is a state written by hand, and has no history", "make a stored job of it, whose history begins then")
	_, err = s.Events(t.Context(), "nowhere")
	refused(t, "nowhere", err, diag.NotFound, "nowhere", "there is no job.yaml", "give the folder")
	_, err = app.New(s.rooms, "test").Events(t.Context(), "kept")
	refused(t, "without stores", err, diag.Unsupported, "kept", "stored jobs are not opened here", "open the job with fettle")
	s.st.load = func(ledger.Chain) (ledger.Chain, error) { return nil, errLine }
	if _, err = s.Events(t.Context(), "kept"); !errors.Is(err, errLine) {
		t.Errorf("a store that is away: %v", err)
	}
	s.st.load = func(c ledger.Chain) (ledger.Chain, error) {
		out := slices.Clone(c)
		out[1].By = "p-9"
		return out, nil
	}
	if lines, err = s.Events(t.Context(), "kept"); err == nil || lines != nil || diag.KindOf(err) != diag.Integrity {
		t.Errorf("a chain that was changed: %v", err)
	}
}
