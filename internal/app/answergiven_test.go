package app

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// theDay is a day of the test's own.
func theDay(text string) unit.Date {
	var d unit.Date
	if err := d.UnmarshalText([]byte(text)); err != nil {
		panic(err) // a fault of the test
	}
	return d
}

// reply is where the document of an answer lies that came by mail.
const reply = "mail/reply.txt"

// answerable is the rear job with its answered question Q-D3, sent on 2026-11-06 and judged on
// 2026-11-26, on files of its own among which a reply lies; and an answer that is fit to be recorded.
func answerable(t *testing.T) (*App, *Opened, Assessment, Given) {
	t.Helper()
	_, c, r := demonstrated(t, demo.RearJob)
	m := files()
	m[reply] = []byte("Weld it, not longer than before.\n")
	return New(m, "test"), otherJob(c, func(*job.State) {}), r, Given{Question: "Q-D3", VIN: c.Job.Vehicle.VIN, Allow: []string{"weld"}, Forbid: []string{"dress", "section"},
		When: map[string]string{"length": "<= 24 mm"}, Conditions: "cold", By: "engineering desk", Dated: theDay("2026-11-20"), Expires: theDay("2027-03-01"),
		Document: reply, RecordedBy: "P1"}
}

// otherJob is a job with something in its state changed; c stays as it is.
func otherJob(c *Opened, change func(*job.State)) *Opened {
	out, s := *c, *c.Job
	s.Questions, s.Answers, s.Told = slices.Clone(s.Questions), slices.Clone(s.Answers), slices.Clone(s.Told)
	s.Evidence, s.Findings = slices.Clone(s.Evidence), slices.Clone(s.Findings)
	change(&s)
	out.Job = &s
	return &out
}

// writtenJob is the job as it would be read once what was recorded is written.
func writtenJob(t *testing.T, a *App, dir string, r Recorded) *job.State {
	t.Helper()
	m := a.files.(memory)
	in := map[string][]byte{job.MainFile: m[dir+"/"+job.MainFile], job.ReadingsFile: m[dir+"/"+job.ReadingsFile]}
	for _, f := range r.Files {
		if _, ok := in[f.Name]; ok {
			in[f.Name] = f.Data
		}
	}
	s, err := job.Decode(in)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// An answer is written with a copy of its document before job.yaml, and says what was given and nothing else.
func TestAnswerIsWritten(t *testing.T) {
	a, c, r, g := answerable(t)
	got, err := a.Answer(c, r, g)
	if err != nil {
		t.Fatal(err)
	}
	m := a.files.(memory)
	if len(got.Files) != 2 || got.Files[0].Name != "evidence/reply.txt" || string(got.Files[0].Data) != string(m[reply]) || got.Files[0].Replaces || got.Files[1].Name != job.MainFile {
		t.Fatalf("%d files: %v", len(got.Files), got.Files)
	}
	if string(got.Was) != string(m[demo.RearJob+"/job.yaml"]) || got.Events != nil {
		t.Error("what job.yaml has to be still is not what was read")
	}
	sum := sha256.Sum256(m[reply])
	hash := hex.EncodeToString(sum[:])
	is := writtenJob(t, a, demo.RearJob, got)
	wantAnswer := job.Answer{ID: "AN-2", Finding: "D3", VIN: "ZZZTHM5E4TN000881", Question: "Q-D3", Allow: []body.TreatmentKind{"weld"}, Forbid: []body.TreatmentKind{"dress", "section"},
		When: map[string]string{"length": "<= 24 mm"}, Conditions: "cold", By: "engineering desk", On: g.Dated, Expires: g.Expires, Document: "E3", RecordedBy: "P1"}
	wantEvidence := job.Evidence{ID: "E3", File: "evidence/reply.txt", SHA256: hash, Text: "Answer AN-2 to question Q-D3", On: g.Dated, By: "P1"}
	if !reflect.DeepEqual(is.Answers, append(slices.Clone(c.Job.Answers), wantAnswer)) || !reflect.DeepEqual(is.Evidence, append(slices.Clone(c.Job.Evidence), wantEvidence)) {
		t.Errorf("answers %+v\nevidence %+v", is.Answers, is.Evidence)
	}
	if len(is.Told) != len(c.Job.Told) { // its question has the facts already
		t.Errorf("told %+v", is.Told)
	}
	want := "Answer AN-2 to question Q-D3, for finding D3 of vehicle ZZZTHM5E4TN000881 only: allows weld, forbids dress, section, until the day before 2027-03-01." +
		" When length: <= 24 mm. Conditions: cold. Document E3 (evidence/reply.txt), SHA-256 " + hash + "."
	if got.Text != want {
		t.Errorf("it says\n%s\nwant\n%s", got.Text, want)
	}
}

// Where the document lies decides whether it is copied, and under which name.
func TestDocumentOfAnAnswer(t *testing.T) {
	for name, x := range map[string]struct {
		at     string
		more   map[string]string // files beside the demonstration's
		change func(*Opened)
		file   string // of the evidence
		id     string // of the evidence; E3 where it is new
		copied bool
	}{
		"elsewhere":                        {at: reply, file: "evidence/reply.txt", copied: true},
		"not written as the shortest path": {at: "mail/../mail/./reply.txt", file: "evidence/reply.txt", copied: true},
		"in the folder of the job":         {at: demo.RearJob + "/in/reply.txt", more: map[string]string{demo.RearJob + "/in/reply.txt": "Yes."}, file: "in/reply.txt"},
		"in a folder whose name goes on":   {at: demo.RearJob + "s/reply.txt", more: map[string]string{demo.RearJob + "s/reply.txt": "Yes."}, file: "evidence/reply.txt", copied: true},
		"in the folder, which is not read": {at: demo.RearJob + "/in/reply.txt", more: map[string]string{demo.RearJob + "/in/reply.txt": "Yes."}, change: func(c *Opened) { c.alone = true }, file: "evidence/reply.txt", copied: true},
		"on record already":                {at: "mail/again.txt", more: map[string]string{"mail/again.txt": string(unpacked()[demo.RearJob+"/evidence/answer-d3.txt"])}, file: "evidence/answer-d3.txt", id: "E2"},
		"a name that is taken":             {at: "mail/answer-d3.txt", more: map[string]string{"mail/answer-d3.txt": "Yes."}, file: "evidence/answer-d3-2.txt", copied: true},
		"a name that is taken twice":       {at: "mail/answer-d3.txt", more: map[string]string{"mail/answer-d3.txt": "Yes.", demo.RearJob + "/evidence/answer-d3-2.txt": "?"}, file: "evidence/answer-d3-3.txt", copied: true},
		"a name that only a record has":    {at: reply, change: func(c *Opened) { c.Job.Evidence[0].File = "evidence/reply.txt" }, file: "evidence/reply-2.txt", copied: true},
		"a file beside a stored job":       {at: reply, more: map[string]string{demo.RearJob + "/evidence/reply.txt": "?"}, change: func(c *Opened) { c.alone = true }, file: "evidence/reply.txt", copied: true},
		"a record in a stored job":         {at: reply, change: func(c *Opened) { c.alone, c.Job.Evidence[0].File = true, "evidence/reply.txt" }, file: "evidence/reply-2.txt", copied: true},
		"an identity that is taken":        {at: reply, change: func(c *Opened) { c.Job.Evidence[0].ID = "E3" }, file: "evidence/reply.txt", id: "E4", copied: true},
		"no ending":                        {at: "mail/answer", more: map[string]string{"mail/answer": "Yes.", demo.RearJob + "/evidence/answer": "?"}, file: "evidence/answer-2", copied: true},
	} {
		a, c, _, g := answerable(t)
		for p, text := range x.more {
			a.files.(memory)[p] = []byte(text)
		}
		if x.change != nil {
			x.change(c)
		}
		g.Document = x.at
		e, copied, err := a.document(c, g, "AN-9")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if x.id == "" {
			x.id = "E3"
		}
		if e.ID != x.id || e.File != x.file || (copied != nil) != x.copied {
			t.Errorf("%s: %s %s, copied %v; want %s %s, %v", name, e.ID, e.File, copied != nil, x.id, x.file, x.copied)
		}
		if copied != nil && (copied.Name != e.File || copied.Replaces || e.Text != "Answer AN-9 to question Q-D3") {
			t.Errorf("%s: copied %s, %q", name, copied.Name, e.Text)
		}
	}
}

// A file of the folder in which the program runs is named without that folder; one above it, or
// from the root, lies elsewhere.
func TestWithinAFolder(t *testing.T) {
	for _, x := range []struct {
		dir, file, rest string
		ok              bool
	}{
		{".", "a.txt", "a.txt", true}, {".", "in/a.txt", "in/a.txt", true}, {".", "..a", "..a", true},
		{".", "..", "", false}, {".", "../a.txt", "", false}, {".", "/a.txt", "", false},
		{"job", "job/a.txt", "a.txt", true}, {"job", "jobs/a.txt", "", false}, {"job", "job", "", false}, {"job", "a.txt", "", false}, {"/x/job", "/x/job/in/a", "in/a", true},
	} {
		if rest, ok := within(x.dir, x.file); ok != x.ok || ok && rest != x.rest {
			t.Errorf("%s in %s: %q, %v", x.file, x.dir, rest, ok)
		}
	}
}

// refusedAs wants an error of a kind with these texts in what it says of whom and why.
func refusedAs(t *testing.T, name string, err error, kind diag.Kind, subject, msg, hint string) {
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

// Each thing that an answer must not be is refused by itself, and beside it an answer is taken: on the
// day of the question, on this very day, and for one day.
func TestAnswerIsRefused(t *testing.T) {
	vin := "ZZZTHM5E4TN000881"
	for name, x := range map[string]struct {
		change             func(*Given, memory)
		kind               diag.Kind
		subject, msg, hint string // no message: it is taken
	}{
		"as it is":               {change: func(*Given, memory) {}},
		"of the question's day":  {change: func(g *Given, _ memory) { g.Dated = theDay("2026-11-06") }},
		"of today":               {change: func(g *Given, _ memory) { g.Dated = theDay("2026-11-26") }},
		"for one day":            {change: func(g *Given, _ memory) { g.Expires = theDay("2026-11-21") }},
		"that only forbids":      {change: func(g *Given, _ memory) { g.Allow = nil }},
		"that only allows":       {change: func(g *Given, _ memory) { g.Forbid = nil }},
		"another vehicle":        {func(g *Given, _ memory) { g.VIN = "ZZZBPVL4XTN000317" }, diag.Conflict, "ZZZBPVL4XTN000317", "the answer is for another vehicle; this job is about " + vin, "ask for this one"},
		"no verdict":             {func(g *Given, _ memory) { g.Allow, g.Forbid = nil, nil }, diag.Conflict, "Q-D3", "neither allows nor forbids", "give what it says"},
		"of tomorrow":            {func(g *Given, _ memory) { g.Dated = theDay("2026-11-27") }, diag.Conflict, "2026-11-27", "is dated after today, 2026-11-26", ""},
		"before the question":    {func(g *Given, _ memory) { g.Dated = theDay("2026-11-05") }, diag.Conflict, "2026-11-05", "older than the question, which was sent on 2026-11-06", ""},
		"over when it begins":    {func(g *Given, _ memory) { g.Expires = g.Dated }, diag.Conflict, "2026-11-20", "expire before it holds", "give the day"},
		"nobody":                 {func(g *Given, _ memory) { g.RecordedBy = "P9" }, diag.Conflict, "P9", "no such person", ""},
		"somebody who may not":   {func(g *Given, _ memory) { g.RecordedBy = "T1" }, diag.Conflict, "T1", "may not record answers", "may: [answers]"},
		"no document":            {func(g *Given, _ memory) { g.Document = "mail/none.txt" }, diag.NotFound, "mail/none.txt", "there is no such file", "own words as a file"},
		"a folder":               {func(g *Given, _ memory) { g.Document = "mail/" }, diag.NotFound, "mail", "there is no such file", "own words as a file"},
		"an empty document":      {func(_ *Given, m memory) { m[reply] = nil }, diag.Conflict, reply, "the file is empty", ""},
		"a document of one byte": {change: func(_ *Given, m memory) { m[reply] = []byte("y") }},
		"a huge document":        {func(_ *Given, m memory) { m[reply] = make([]byte, aReply.most+1) }, diag.Denied, reply, "the document of an answer has 64 MB at most", "save it smaller"},
		"a question like it":     {func(g *Given, _ memory) { g.Question = "QD3" }, diag.NotFound, "QD3", "the job has no such question", `"Q-D3"`},
		"another question":       {func(g *Given, _ memory) { g.Question = "something else" }, diag.NotFound, "something else", "the job has no such question", "known: Q-D3"},
		"one that was not sent":  {func(g *Given, _ memory) { g.Question = "Q-D1" }, diag.Conflict, "Q-D1", "the question is not on record as sent", "record it first"},
		"what is on record": {func(g *Given, m memory) {
			*g = Given{Question: "Q-D3", VIN: vin, Allow: []string{"dress"}, Conditions: "at least 3.1 mm of wall remain and are on record; penetrant shows no indication afterwards", By: "engineering desk",
				Dated: theDay("2026-11-11"), Expires: theDay("2027-02-01"), Document: demo.RearJob + "/evidence/answer-d3.txt", RecordedBy: "P1"}
		}, diag.Conflict, "Q-D3", "this answer is on record already, as AN-1", "another day"},
	} {
		a, c, r, g := answerable(t)
		r.Decide.Questions = append(slices.Clone(r.Decide.Questions), decide.Question{ID: "Q-D1", Finding: "D1"})
		x.change(&g, a.files.(memory))
		got, err := a.Answer(c, r, g)
		if x.msg == "" {
			if err != nil || len(got.Files) != 2 {
				t.Errorf("%s: %v, %d files", name, err, len(got.Files))
			}
			continue
		}
		refusedAs(t, name, err, x.kind, x.subject, x.msg, x.hint)
		if !reflect.DeepEqual(got, Recorded{}) {
			t.Errorf("%s: something is to be written: %+v", name, got)
		}
	}
	a, c, r, g := answerable(t)
	_, err := a.Answer(otherJob(c, func(s *job.State) { s.Questions = nil }), r, g)
	refusedAs(t, "no question at all", err, diag.Conflict, "Q-D3", "not on record as sent", "record it first")
	r.Decide.Questions = nil
	_, err = a.Answer(otherJob(c, func(s *job.State) { s.Questions = nil }), r, g)
	refusedAs(t, "nor one to be sent", err, diag.NotFound, "Q-D3", "no such question", "")
}

// Answers are the same when all they say is the same, whoever recorded them: anything else makes another one.
func TestSameAnswer(t *testing.T) {
	_, c, _, _ := answerable(t)
	was := c.Job.Answers[0]
	same := was
	same.ID, same.RecordedBy = "AN-7", "T1"
	if got := sameAnswer(c.Job.Answers, same); got != was.ID {
		t.Errorf("the same answer is taken for %q", got)
	}
	for i := range reflect.TypeFor[job.Answer]().NumField() {
		field := reflect.TypeFor[job.Answer]().Field(i)
		if field.Name == "ID" || field.Name == "RecordedBy" {
			continue
		}
		other := same
		v := reflect.ValueOf(&other).Elem().Field(i)
		switch x := v.Interface().(type) {
		case unit.Date:
			v.Set(reflect.ValueOf(x.AddDays(1)))
		case map[string]string:
			v.Set(reflect.ValueOf(map[string]string{"length": "<= 1 mm"}))
		case []body.TreatmentKind:
			v.Set(reflect.ValueOf(append(slices.Clone(x), "leave")))
		default:
			v.SetString(v.String() + "x")
		}
		if got := sameAnswer(c.Job.Answers, other); got != "" {
			t.Errorf("another %s, and it is the same as %s", field.Name, got)
		}
	}
}

// What is wrong with an answer beyond that is told as what was asked for: of no file, in the words of
// the record and without its place in the list. Other errors are left as they are.
func TestFaultsOfWhatWasAsked(t *testing.T) {
	a, c, r, g := answerable(t)
	g.Allow = []string{"glue"}
	_, err := a.Answer(c, r, g)
	var ps diag.Problems
	if !errors.As(err, &ps) || len(ps) != 1 || ps[0].File != Asked || ps[0].Line != 0 || ps[0].Col != 0 || ps[0].Field != "answers.allow" || !strings.Contains(ps[0].Msg, "glue") {
		t.Errorf("a treatment that is none: %+v", err)
	}
	was := diag.Problems{{File: "job.yaml", Line: 7, Col: 3, Field: "answers[12].allow[3]", Msg: "no"}}
	if got := asAsked(was); got.Error() != ": answers.allow: no" || was[0].File != "job.yaml" || was[0].Line != 7 {
		t.Errorf("%v of %v", got, was)
	}
	other := errors.New("the disk is gone")
	if got := asAsked(other); got != other {
		t.Errorf("another error became %v", got)
	}
	for name, text := range map[string]string{"changed and broken": "format: fettle-job 1\nid: [\n", "gone": ""} {
		a, c, r, g := answerable(t)
		m := a.files.(memory)
		if m[demo.RearJob+"/job.yaml"] = []byte(text); text == "" {
			delete(m, demo.RearJob+"/job.yaml")
		}
		if got, err := a.Answer(c, r, g); err == nil || !strings.HasPrefix(err.Error(), demo.RearJob+"/job.yaml:") || got.Files != nil {
			t.Errorf("job.yaml is %s: %v", name, err)
		}
	}
}

// What the manufacturer was told goes with the answer only where its question does not say, and nothing
// on the part was entered after the question was sent.
func TestToldSinceTheQuestion(t *testing.T) {
	a, c, r, g := answerable(t)
	if got := toldSince(c, r, c.Job.Questions[0]); got != nil {
		t.Errorf("the question says what was told, and it is told again: %v", got)
	}
	c = otherJob(c, func(s *job.State) { s.Told = nil })
	newest := unit.Date{}
	for _, f := range told(c, r, "D3").Findings {
		if newest.Before(f.On) {
			newest = f.On
		}
	}
	for _, x := range []struct {
		sent unit.Date
		told bool
	}{{newest, true}, {newest.AddDays(1), true}, {newest.AddDays(-1), false}} {
		asked := c.Job.Questions[0]
		asked.On = x.sent
		if got := toldSince(c, r, asked); (got != nil) != x.told {
			t.Errorf("sent on %s, newest finding of %s: told %v", x.sent, newest, got != nil)
		}
	}
	if got := toldSince(c, r, job.Asked{ID: "Q-C1", Point: "C1"}); got != nil {
		t.Errorf("a question about a point was told of a finding: %v", got)
	}
	m := a.files.(memory)
	text, rest, ok := strings.Cut(string(m[demo.RearJob+"/job.yaml"]), "told: #")
	_, rest, also := strings.Cut(rest, "\nanswers:")
	if !ok || !also {
		t.Fatal("nothing was told in the rear job")
	}
	m[demo.RearJob+"/job.yaml"] = []byte(text + "answers:" + rest)
	got, err := a.Answer(c, r, g)
	if err != nil {
		t.Fatal(err)
	}
	is := writtenJob(t, a, demo.RearJob, got)
	want := told(c, r, "D3")
	if len(is.Told) != 1 || is.Told[0].Answer != "AN-2" || is.Told[0].Question != "" || len(is.Told[0].Findings) != len(want.Findings) {
		t.Errorf("on record as told: %+v", is.Told)
	}
}

// A question that is sent is on record with its day and what was told with it; of a control point
// nothing is told. Sent by nobody, or a second time, it is refused.
func TestSentIsRecorded(t *testing.T) {
	_, c, r := demonstrated(t, demo.RearJob)
	a := New(files(), "test")
	q := decide.Question{ID: "Q-D3-2", Finding: "D3", State: decide.ToBeSent}
	got, err := a.Sent(c, r, q, "P1")
	if err != nil {
		t.Fatal(err)
	}
	is := writtenJob(t, a, demo.RearJob, got)
	day := unit.DateOf(r.Made)
	if n := len(is.Questions); n != 2 || is.Questions[1] != (job.Asked{ID: "Q-D3-2", Finding: "D3", On: day, By: "P1"}) {
		t.Errorf("questions %+v", is.Questions)
	}
	if n := len(is.Told); n != 2 || is.Told[1].Question != "Q-D3-2" || is.Told[1].Answer != "" {
		t.Errorf("told %d times", n)
	}
	point := c.Body.Points[0].ID
	if got, err = a.Sent(c, r, decide.Question{ID: "Q-P", Point: point, State: decide.AnswerExpired}, "P1"); err != nil {
		t.Fatal(err)
	}
	if is = writtenJob(t, a, demo.RearJob, got); len(is.Questions) != 2 || is.Questions[1] != (job.Asked{ID: "Q-P", Point: point, On: day, By: "P1"}) || len(is.Told) != 1 {
		t.Errorf("about a point: %+v, told %d times", is.Questions, len(is.Told))
	}
	if _, err = a.Sent(c, r, q, "P9"); true {
		refusedAs(t, "sent by nobody", err, diag.Conflict, "P9", "no such person", "")
	}
	q.State, q.Asked = decide.Waiting, theDay("2026-11-06")
	if _, err = a.Sent(c, r, q, "P1"); true {
		refusedAs(t, "sent again", err, diag.Conflict, "Q-D3-2", "sent on 2026-11-06 already", "")
	}
}

// What an answer says in words: what it allows and forbids, its conditions in the order of their names.
func TestAnswerInWords(t *testing.T) {
	e := job.Evidence{ID: "E4", File: "evidence/a.txt", SHA256: "aa"}
	day := unit.Date{Year: 2027, Month: 1, Day: 31}
	for want, x := range map[string]job.Answer{
		"Answer A to question Q, for finding D1 of vehicle V only: allows weld, until the day before 2027-01-31. Document E4 (evidence/a.txt), SHA-256 aa.": {Finding: "D1", Allow: []body.TreatmentKind{"weld"}},
		"Answer A to question Q, for point C1 of vehicle V only: forbids leave, until the day before 2027-01-31. Document E4 (evidence/a.txt), SHA-256 aa.": {Point: "C1", Forbid: []body.TreatmentKind{"leave"}},
		"Answer A to question Q, for finding D1 of vehicle V only: allows weld, until the day before 2027-01-31. When depth: <= 1 mm. When outboard of: S-1. Conditions: dry. Document E4 (evidence/a.txt), SHA-256 aa.": {
			Finding: "D1", Allow: []body.TreatmentKind{"weld"}, When: map[string]string{"outboard_of": "S-1", "depth": "<= 1 mm"}, Conditions: "dry"},
	} {
		x.ID, x.Question, x.VIN, x.Expires = "A", "Q", "V", day
		if got := answerWords(x, e); got != want {
			t.Errorf("it says\n%s\nwant\n%s", got, want)
		}
	}
	used := []string{"AN-2", "AN-3"}
	for n, want := range []string{"AN-1", "AN-3", "AN-4"} { // numbers go on behind as many as there are
		if got := freeID("AN-", used[:n], func(s string) string { return s }); got != want {
			t.Errorf("of %v the next is %s, want %s", used[:n], got, want)
		}
	}
}
