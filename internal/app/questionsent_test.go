package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/png"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
)

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// A finding or control point with nothing to ask about is told from one that is none; what there are
// questions about, or what was meant, is named.
func TestNothingToAskAbout(t *testing.T) {
	_, c, r := demonstrated(t, demo.RearJob)
	a := New(files(), "test")
	settled := "there is nothing to ask the manufacturer about it: what may be done is settled"
	point := string(c.Body.Points[0].ID)
	refusedAs(t, "a settled finding", a.nothingToAsk(c, r, "D1"), diag.Conflict, "D1", settled, "there are questions about D3")
	refusedAs(t, "a settled point", a.nothingToAsk(c, r, point), diag.Conflict, point, settled, "there are questions about D3")
	refusedAs(t, "a finding that is none", a.nothingToAsk(c, r, "DD1"), diag.NotFound, "DD1", "there is no such finding or control point", `did you mean "D1"?`)
	refusedAs(t, "a point that is none", a.nothingToAsk(c, r, point+"X"), diag.NotFound, point+"X", "no such finding or control point", point)
	if q, ok := questionAbout(c, r, ""); ok {
		t.Errorf("a question about nothing: %v", q)
	}
	if q, ok := questionAbout(c, r, "Q-D3"); !ok || q.Finding != "D3" {
		t.Errorf("a question by its number: %v, %v", q.Finding, ok)
	}
	r.Decide.Offers = []decide.Question{{ID: "Q-D4", Finding: "D4"}, {ID: "Q-P", Point: body.PointID(point)}}
	if _, ok := questionAbout(c, r, point); !ok {
		t.Error("no question by a point")
	}
	refusedAs(t, "two questions more", a.nothingToAsk(c, r, "D1"), diag.Conflict, "D1", settled, "there are questions about D3, D4, "+point)
	r.Decide.Offers, r.Decide.Questions = nil, nil
	refusedAs(t, "no question at all", a.nothingToAsk(c, r, "D1"), diag.Conflict, "D1", settled, "nothing of this job has a question")
	if _, err := a.Ask(t.Context(), c, r, "D1"); diag.KindOf(err) != diag.Conflict {
		t.Errorf("asked about D1: %v", err)
	}
	if f, p := aboutWord("D1", ""), aboutWord("", "C1"); f != "finding: D1" || p != "point: C1" {
		t.Errorf("%q, %q", f, p)
	}
}

// photographed is the rear job with evidence of D3 in several folders: two files of one name, one more
// whose name differs in capital letters only, one file under two records, one that is no picture.
func photographed(t *testing.T) (*App, *Opened, Assessment) {
	t.Helper()
	_, c, r := demonstrated(t, demo.RearJob)
	m := files()
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 2, 2))); err != nil {
		t.Fatal(err)
	}
	pieces := []job.Evidence{{ID: "F1", File: "a/seat.png", Text: "Near"}, {ID: "F2", File: "b/seat.png", Text: "Far"}, {ID: "F3", File: "c/SEAT.PNG", Text: "Side"},
		{ID: "F4", File: "b/../b/seat.png", Text: "Far again"}, {ID: "F5", File: "a/note.txt", Text: "Note"}, {ID: "F6", File: "a/torn.jpg", Text: "Torn"}, {ID: "F7", File: "a/other.png", Text: "Of another"}}
	c = otherJob(c, func(s *job.State) {
		s.Evidence = pieces
		i := slices.IndexFunc(s.Findings, func(f job.Finding) bool { return f.ID == "D3" })
		s.Findings[i].Photos = []string{"F5", "F1", "F2", "F3", "F4", "F6"}
	})
	c.Evidence = nil
	for i, e := range pieces {
		at := strings.Replace(demo.RearJob+"/"+e.File, "b/../b", "b", 1)
		if strings.EqualFold(path.Ext(e.File), ".png") {
			m[at] = picture.Bytes()
		} else {
			m[at] = []byte{'x', byte(i)}
		}
		c.Evidence = append(c.Evidence, Evidence{ID: e.ID, File: e.File, SHA256: hashOf(m[at])})
	}
	return New(m, "test"), c, r
}

// The evidence of a finding goes with its question in the order of the job, each file once and under a
// name of its own; a picture is shown, another file named, and one that cannot be shown says why.
func TestEvidenceOfAQuestion(t *testing.T) {
	a, c, r := photographed(t)
	photos, copies, err := a.photos(t.Context(), c, "D3")
	if err != nil {
		t.Fatal(err)
	}
	want := [][3]string{{"F1", "evidence/seat.png", "image/jpeg"}, {"F2", "evidence/seat-2.png", "image/jpeg"}, {"F3", "evidence/SEAT-3.PNG", "image/jpeg"},
		{"F4", "evidence/seat-2.png", "image/jpeg"}, {"F5", "evidence/note.txt", ""}, {"F6", "evidence/torn.jpg", ""}}
	if len(photos) != len(want) {
		t.Fatalf("%d pieces: %+v", len(photos), photos)
	}
	for i, p := range photos {
		if p.ID != want[i][0] || p.File != want[i][1] || p.Media != want[i][2] || (p.Why != "") != (p.ID == "F6") || p.SHA256 != c.Evidence[i].SHA256 || p.Text != c.Job.Evidence[i].Text {
			t.Errorf("%s %s %q, not shown because %q; want %v", p.ID, p.File, p.Media, p.Why, want[i])
		}
	}
	var names []string
	for i, x := range copies {
		names = append(names, x.Name)
		var to bytes.Buffer
		if err := a.CopyEnclosed(t.Context(), x, &to); err != nil || hashOf(to.Bytes()) != x.SHA256 {
			t.Errorf("%d: %v", i, err)
		}
	}
	if got := strings.Join(names, " "); got != "evidence/seat.png evidence/seat-2.png evidence/SEAT-3.PNG evidence/note.txt evidence/torn.jpg" {
		t.Errorf("copied %s", got)
	}
	drawing := false
	asked, err := a.Ask(halt.Telling(t.Context(), func(p halt.Progress) { drawing = drawing || p.What == Drawing }), c, r, "D3")
	if err != nil || len(asked.Copies) != len(copies) || !drawing {
		t.Fatal(err, len(asked.Copies), drawing)
	}
	text := string(asked.Files[asked.Question.ID+".txt"])
	for _, line := range []string{"Question Q-D3 (answered), made 2026-11-26 by fettle test.\n\n", "\n\nEnclosed:\n- F1, Near: evidence/seat.png, SHA-256 " + c.Evidence[0].SHA256 + "\n- F2, Far: evidence/seat-2.png,",
		"\n\nThe answer is used for this vehicle and this finding only.\n"} {
		if !strings.Contains(text, line) {
			t.Errorf("the question does not have %q:\n%s", line, text)
		}
	}
	if photos, copies, err = a.photos(t.Context(), c, "D99"); photos != nil || copies != nil || err != nil {
		t.Errorf("evidence of a finding that is none: %v, %v, %v", photos, copies, err)
	}
	without := otherJob(c, func(s *job.State) {
		for i := range s.Findings {
			s.Findings[i].Photos = nil
		}
	})
	if asked, err = a.Ask(t.Context(), without, r, "D3"); err != nil || strings.Contains(string(asked.Files["Q-D3.txt"]), "Enclosed") {
		t.Errorf("nothing is enclosed: %v\n%s", err, asked.Files["Q-D3.txt"])
	}
}

// Evidence that was changed, lost or never read stops what goes to the manufacturer.
func TestEvidenceOfAQuestionIsRefused(t *testing.T) {
	a, c, _ := photographed(t)
	_, copies, err := a.photos(t.Context(), c, "D3")
	if err != nil {
		t.Fatal(err)
	}
	m := a.files.(memory)
	at := demo.RearJob + "/a/seat.png"
	was := m[at]
	m[at] = append(slices.Clone(was), 0)
	refusedAs(t, "a copy of what was changed", a.CopyEnclosed(t.Context(), copies[0], io.Discard), diag.Conflict, at, "was changed in the meantime", "try again")
	if photos, _, err := a.photos(t.Context(), c, "D3"); err != nil || photos[0].Media != "" || photos[0].Why != "the file is not the one whose hash this is" {
		t.Errorf("a picture that was changed: %v, %v", photos, err)
	}
	delete(m, at)
	refusedAs(t, "a copy of what is lost", a.CopyEnclosed(t.Context(), copies[0], io.Discard), diag.NotFound, at, "cannot be read", "bring the evidence back")
	_, _, err = a.photos(t.Context(), c, "D3")
	refusedAs(t, "a picture that is lost", err, diag.NotFound, at, "cannot be read", "bring the evidence back")
	m[at], c.Evidence = was, c.Evidence[1:]
	_, _, err = a.photos(t.Context(), c, "D3")
	refusedAs(t, "evidence that was not read", err, diag.Internal, "F1", "was not read when the job was opened", "")
	full := errors.New("the disk is full")
	if err := a.CopyEnclosed(t.Context(), copies[0], broken{full}); !errors.Is(err, full) {
		t.Errorf("a disk that is full: %v", err)
	}
}

// broken takes nothing and gives nothing.
type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }
func (b broken) Read([]byte) (int, error)  { return 0, b.err }
func (b broken) Close() error              { return b.err }

// large is a folder whose files are of a size that is only said.
type large struct {
	memory
	of map[string]int64
}

func (l large) Copy(_, name string, most int64, _ io.Writer) (int64, error) {
	if n := l.of[name]; n <= most {
		return n, nil
	}
	return 0, &TooLarge{l.of[name], most}
}

// The evidence of a job may have 8 GB together, a file that holds two pieces counted once, and one of
// its files 256 MB. What goes beyond is named at the record that does.
func TestEvidenceTogether(t *testing.T) {
	_, c, _ := demonstrated(t, demo.RearJob)
	sizes := map[string]int64{}
	c = otherJob(c, func(s *job.State) {
		s.Evidence = nil
		for i := range 33 {
			name := string(rune('A'+i)) + ".bin"
			s.Evidence = append(s.Evidence, job.Evidence{ID: name, File: name})
			sizes[name] = 256 << 20
		}
		s.Evidence[32].File = "x/../A.bin" // the first once more: 32 files of 256 MB are 8 GB
	})
	a := New(large{memory{}, sizes}, "test")
	if seen, problems, err := a.evidenceIn(t, c); err != nil || len(problems) > 0 || len(seen) != 33 {
		t.Errorf("8 GB: %d, %v, %v", len(seen), problems, err)
	}
	c.Job.Evidence[32].File, sizes["more.bin"] = "more.bin", 1
	if seen, problems, err := a.evidenceIn(t, c); err != nil || len(seen) != 32 || len(problems) != 1 || problems[0].Field != "evidence[32].file" || !strings.Contains(problems[0].Msg, "more than 8 GB together") {
		t.Errorf("8 GB and a byte: %d, %v, %v", len(seen), problems, err)
	}
	c.Job.Evidence, sizes["A.bin"] = c.Job.Evidence[:2], 256<<20+1
	if seen, problems, err := a.evidenceIn(t, c); err != nil || len(seen) != 1 || len(problems) != 1 || problems[0].Field != "evidence[0].file" || !strings.Contains(problems[0].Msg, "the file A.bin has 256.0 MB; a piece of evidence has 256 MB at most") {
		t.Errorf("a file of 256 MB and a byte: %d, %v, %v", len(seen), problems, err)
	}
}

// evidenceIn is the evidence of a job as evidenceOfJob reads it.
func (a *App) evidenceIn(t *testing.T, c *Opened) (seen []Evidence, problems diag.Problems, err error) {
	t.Helper()
	_, err = while(t.Context(), func(w *halt.Work) (struct{}, error) {
		seen, problems, err = a.evidenceOfJob(w, c)
		return struct{}{}, err
	})
	return seen, problems, err
}

// oneBlob keeps one piece of evidence, or fails.
type oneBlob struct {
	Store
	data []byte
	err  error // of Get
	bad  error // of closing it
}

func (o oneBlob) Get(context.Context, string) (io.ReadCloser, int64, error) {
	if o.err != nil {
		return nil, 0, o.err
	}
	return closing{bytes.NewReader(o.data), o.bad}, int64(len(o.data)), nil
}

func (o oneBlob) Retain(context.Context, string) (int64, error) { return int64(len(o.data)), o.err }

type closing struct {
	io.Reader
	err error
}

func (c closing) Close() error { return c.err }

// Evidence of a stored job is what its store keeps under the hash, up to the size that is asked for; a
// store that fails to give or to close it is an error.
func TestEvidenceFromAStore(t *testing.T) {
	_, c, _ := demonstrated(t, demo.RearJob)
	c = otherJob(c, func(*job.State) {})
	a, e := New(memory{}, "test"), c.Job.Evidence[0]
	lost := &diag.Error{Kind: diag.NotFound, Msg: "nothing is kept"}
	odd := errors.New("the line is down")
	for name, x := range map[string]struct {
		of   oneBlob
		most int64
		want error
	}{
		"there": {of: oneBlob{data: []byte("abc")}, most: 3}, "lost": {oneBlob{err: lost}, 3, lost}, "not closed": {oneBlob{data: []byte("abc"), bad: odd}, 3, odd},
	} {
		c.store = x.of
		var to bytes.Buffer
		if n, err := a.copyEvidence(t.Context(), c, e, x.most, &to); !errors.Is(err, x.want) || x.want == nil && (n != 3 || to.String() != "abc") {
			t.Errorf("%s: %d bytes, %q, %v", name, n, to.String(), err)
		}
	}
	c.store = oneBlob{data: []byte("abc")}
	var to bytes.Buffer
	var large *TooLarge
	if n, err := a.copyEvidence(t.Context(), c, e, 2, &to); !errors.As(err, &large) || *large != (TooLarge{3, 2}) || n != 0 || to.Len() > 0 {
		t.Errorf("a byte too many: %d, %v", n, err)
	}
	again := Recorded{Events: []job.Event{{Data: job.Arrival{}}, {Data: e}}}
	for bad, want := range map[error]error{nil: nil, odd: odd} { // what is there already is only retained
		c.store = oneBlob{err: bad}
		if err := a.keepEvidence(t.Context(), c, again); !errors.Is(err, want) {
			t.Errorf("retained with %v: %v", bad, err)
		}
	}
	if got := c.keptAs(job.Evidence{File: "a", SHA256: "aa"}); got != "aa" {
		t.Errorf("of a stored job it is found by %q", got)
	}
	if c.store = nil; c.keptAs(job.Evidence{File: "b/../a", SHA256: "aa"}) != "a" {
		t.Error("of a job written by hand it is not found by its file")
	}
}

// Why evidence is not read is told in the words of the job where that is a fault of it or of its store,
// and left to the machine otherwise.
func TestFaultOfEvidence(t *testing.T) {
	e := job.Evidence{ID: "E1", File: "a.txt"}
	here, stored := &Opened{}, &Opened{store: oneBlob{}}
	for _, x := range []struct {
		c         *Opened
		err       error
		msg, hint string
	}{
		{here, fs.ErrNotExist, "the file a.txt does not exist", "put it into the job's folder or correct the path"},
		{here, &NotAFile{"is a link out of the folder"}, "the file a.txt is a link out of the folder", "put the file itself into the folder"},
		{here, &TooLarge{300 << 20, 256 << 20}, "the file a.txt has 300 MB; a piece of evidence has 256 MB at most", "save it smaller"},
		{here, &diag.Error{Kind: diag.NotFound, Msg: "gone"}, "", ""},
		{here, errors.New("the line is down"), "", ""},
		{stored, &diag.Error{Kind: diag.NotFound, Msg: "gone"}, "a.txt: gone", "bring it back from a backup of the store"},
		{stored, &diag.Error{Kind: diag.Integrity, Msg: "another"}, "a.txt: another", "bring it back from a backup of the store"},
		{stored, &diag.Error{Kind: diag.Unavailable, Msg: "busy"}, "", ""},
		{stored, &TooLarge{300 << 20, 256 << 20}, "the file a.txt has 300 MB; a piece of evidence has 256 MB at most", "save it smaller"},
	} {
		if msg, hint := evidenceFault(x.c, e, x.err); msg != x.msg || hint != x.hint {
			t.Errorf("%v: %q, %q; want %q, %q", x.err, msg, hint, x.msg, x.hint)
		}
	}
	c := &Opened{Evidence: []Evidence{{ID: "E1", SHA256: "a"}, {ID: "E2", SHA256: "b"}}}
	if got, ok := c.seenEvidence("E2"); !ok || got.SHA256 != "b" {
		t.Errorf("%v %v", got, ok)
	}
	if got, ok := c.seenEvidence("E3"); ok || got != (Evidence{}) {
		t.Errorf("evidence that was not read: %v", got)
	}
}

// What evidence a document rests on is named by one hash: of identity, file and content of each piece in
// turn, each behind its length. A piece whose hash nobody noted is told, with the hash to note.
func TestEvidenceIsNamed(t *testing.T) {
	list := []Evidence{{ID: "E1", File: "a.txt", SHA256: "aa", Noted: true}, {ID: "E20", File: "b.txt", SHA256: "bbb"}}
	if got, want := evidenceHash(list), hashOf([]byte("2:E15:a.txt2:aa3:E205:b.txt3:bbb")); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	notes := evidenceNotes(list)
	if len(notes) != 1 || notes[0].Where != "E20" || notes[0].Severity != diag.Caution || !strings.Contains(notes[0].Text, "no hash of b.txt") || notes[0].Hint != "write into the job: sha256: bbb" {
		t.Errorf("%+v", notes)
	}
	if got := hashesOf(list); len(got) != 2 || got["E1"] != "aa" || got["E20"] != "bbb" {
		t.Errorf("%v", got)
	}
	_, c, _ := demonstrated(t, demo.RearJob)
	c = otherJob(c, func(s *job.State) {
		s.Evidence = []job.Evidence{{ID: "E1", File: "a.txt"}, {ID: "E2", File: "a.txt", SHA256: hashOf([]byte("abc"))}, {ID: "E3", File: "a.txt", SHA256: "cc"}, {ID: "E4", File: "b.txt"}}
	})
	seen, problems, err := New(memory{demo.RearJob + "/a.txt": []byte("abc")}, "test").evidenceIn(t, c)
	sum := hashOf([]byte("abc"))
	if want := []Evidence{{"E1", "a.txt", 3, sum, false}, {"E2", "a.txt", 3, sum, true}}; err != nil || !slices.Equal(seen, want) {
		t.Errorf("read %+v, %v", seen, err)
	}
	if len(problems) != 2 || problems[0].Field != "evidence[2].sha256" || !strings.Contains(problems[0].Msg, "its hash is "+sum) || problems[1].Field != "evidence[3].file" || !strings.Contains(problems[1].Msg, "the file b.txt does not exist") {
		t.Errorf("%+v", problems)
	}
}
