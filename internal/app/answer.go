package app

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/explain"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Given is an answer of the manufacturer as a person enters it.
type Given struct {
	Question   string   // its number
	VIN        string   // the vehicle the answer names
	Allow      []string // kinds of treatment
	Forbid     []string
	When       map[string]string // conditions that the finding has to meet, by fact
	Conditions string            // how it has to be done
	By         string            // who answered: a role
	Dated      unit.Date         // day of the answer
	Expires    unit.Date
	Document   string // file that holds it, anywhere
	RecordedBy string // person of the shop file
}

// Recorded is what has to be written so that something is on record: files by
// name, in the order they have to be written. Nothing has been written yet.
type Recorded struct {
	Files []NewFile // those that take the place of another one are written after job.yaml
	Was   []byte    // job.yaml as it was read: it must still be that when it is replaced
	Text  string    // what was recorded, in words

	Events []job.Event // of a stored job: what is written in place of job.yaml, by whoever records it
	Wants  []Wanted    // and work in the background that is asked for with it
	judged *Head       // the newest event that the gate had seen, of a hand-back
}

// NewFile is a file to be written.
type NewFile struct {
	Name string // in the folder of the job
	Data []byte

	Replaces bool   // it takes the place of a file that is what was read, or of none where nothing was
	Was      []byte // what was read
}

// Answer makes the record of an answer to a question that was sent: a copy of
// its document with the hash, and the answer for this vehicle and this finding
// only. Whatever does not fit is refused and nothing is to be written.
func (a *App) Answer(c *Opened, r Assessment, g Given) (Recorded, error) {
	asked, err := a.askedQuestion(c, r, g.Question)
	if err != nil {
		return Recorded{}, err
	}
	if err := checkGiven(c, g, asked, unit.DateOf(r.Made)); err != nil {
		return Recorded{}, err
	}
	id := freeID("AN-", c.Job.Answers, func(x job.Answer) string { return x.ID })
	e, copied, err := a.document(c, g, id)
	if err != nil {
		return Recorded{}, err
	}
	answer := job.Answer{ID: id, Finding: asked.Finding, Point: asked.Point, VIN: g.VIN, Question: asked.ID, Allow: kinds(g.Allow), Forbid: kinds(g.Forbid),
		When: g.When, Conditions: g.Conditions, By: g.By, On: g.Dated, Expires: g.Expires, Document: e.ID, RecordedBy: g.RecordedBy}
	if twice := sameAnswer(c.Job.Answers, answer); twice != "" {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "answer", Subject: asked.ID, Msg: "this answer is on record already, as " + twice, Hint: "another answer to the question has another day, document or content"}
	}
	records := []any{answer}
	if copied != nil || !slices.ContainsFunc(c.Job.Evidence, func(x job.Evidence) bool { return x.ID == e.ID }) {
		records = []any{e, answer}
	}
	if t := toldSince(c, r, asked); t != nil {
		t.Answer = id
		records = append(records, *t)
	}
	out, err := a.record(c, asAsked, records...)
	if err != nil {
		return Recorded{}, err
	}
	if copied != nil {
		out.Files = slices.Insert(out.Files, 0, *copied)
	}
	out.Text = answerWords(answer, e)
	return out, nil
}

// sameAnswer is the answer on record that says the same in the same document; empty
// when there is none.
func sameAnswer(all []job.Answer, a job.Answer) string {
	for _, x := range all {
		id := x.ID
		x.ID, x.RecordedBy = a.ID, a.RecordedBy
		if reflect.DeepEqual(x, a) {
			return id
		}
	}
	return ""
}

// Asked is the file of a fault in what a person asked to be recorded, which is in no file yet.
// Its field names the list and the field of the record.
const Asked = ""

var place = regexp.MustCompile(`\[\d+\]`)

// asAsked puts the faults of added records to what was asked for.
func asAsked(err error) error {
	var ps diag.Problems
	if !errors.As(err, &ps) {
		return err
	}
	out := slices.Clone(ps)
	for i := range out {
		out[i].File, out[i].Line, out[i].Col = Asked, 0, 0
		out[i].Field = place.ReplaceAllString(out[i].Field, "")
	}
	return out
}

// record makes job.yaml with records added, checked against body and shop; faults are told
// in the words of whoever adds them.
func (a *App) record(c *Opened, told func(error) error, records ...any) (Recorded, error) {
	return a.recordAll(c, told, nil, records...)
}

// recordAll is record with readings, which go to the end of their table.
func (a *App) recordAll(c *Opened, told func(error) error, readings []job.Reading, records ...any) (Recorded, error) {
	if err := keepsFolderClosed(c, records, len(readings)); err != nil {
		return Recorded{}, err
	}
	if c.stored != nil {
		return a.recordEvents(c, told, readings, records...)
	}
	files, err := a.jobFiles(c.From)
	if err != nil {
		return Recorded{}, err
	}
	if _, err := job.Decode(files); err != nil { // changed since it was opened
		return Recorded{}, inFolder(err, c.From)
	}
	text, err := job.Added(files, records...)
	if err != nil {
		return Recorded{}, told(err)
	}
	out := Recorded{Was: files[job.MainFile], Files: []NewFile{{Name: job.MainFile, Data: text}}}
	files[job.MainFile] = text
	if len(readings) > 0 {
		was := files[job.ReadingsFile]
		table, err := doc.AppendRows(job.ReadingsFile, was, readings)
		if err != nil {
			return Recorded{}, err
		}
		files[job.ReadingsFile] = table
		out.Files = append([]NewFile{{Name: job.ReadingsFile, Data: table, Replaces: true, Was: was}}, out.Files...)
	}
	after, err := job.Decode(files)
	if err != nil {
		return Recorded{}, told(err)
	}
	problems, _ := job.CheckAgainst(after, c.Body, c.Shop)
	return out, told(problems.OrNil())
}

// askedQuestion is the question of that number, which has to be on record as
// sent.
func (a *App) askedQuestion(c *Opened, r Assessment, number string) (job.Asked, error) {
	var known []string
	for _, q := range c.Job.Questions {
		if q.ID == number {
			return q, nil
		}
		known = append(known, q.ID)
	}
	if slices.ContainsFunc(r.Decide.Questions, func(q decide.Question) bool { return q.ID == number }) {
		return job.Asked{}, &diag.Error{Kind: diag.Conflict, Op: "answer", Subject: number, Msg: "the question is not on record as sent", Hint: "record it first",
			Remedy: diag.Do(job.ToAsk, "job", c.From, "about", number, "by", "")}
	}
	return job.Asked{}, &diag.Error{Kind: diag.NotFound, Op: "answer", Subject: number, Msg: "the job has no such question", Hint: doc.DidYouMean(number, known)}
}

// checkGiven refuses what an answer must not be. What the job file checks
// itself is left to it.
func checkGiven(c *Opened, g Given, asked job.Asked, today unit.Date) error {
	refuse := func(subject, msg, hint string) error {
		return &diag.Error{Kind: diag.Conflict, Op: "answer", Subject: subject, Msg: msg, Hint: hint}
	}
	person, ok := c.Shop.Person(g.RecordedBy)
	switch {
	case g.VIN != c.Job.Vehicle.VIN:
		return refuse(g.VIN, "the answer is for another vehicle; this job is about "+c.Job.Vehicle.VIN, "an answer never spreads to another vehicle: ask for this one")
	case len(g.Allow)+len(g.Forbid) == 0:
		return &diag.Error{Kind: diag.Conflict, Op: "answer", Subject: asked.ID, Msg: "the answer neither allows nor forbids anything", Hint: "give what it says", Remedy: job.Give(job.GiveVerdict)}
	case today.Before(g.Dated):
		return refuse(g.Dated.String(), "the answer is dated after today, "+today.String(), "")
	case g.Dated.Before(asked.On):
		return refuse(g.Dated.String(), "the answer is older than the question, which was sent on "+asked.On.String(), "")
	case !g.Dated.Before(g.Expires):
		return refuse(g.Expires.String(), "the answer would expire before it holds", "give the day from which it no longer holds")
	case !ok:
		return refuse(g.RecordedBy, "the shop file has no such person", "")
	case !slices.Contains(person.May, shop.MayAnswers):
		return refuse(g.RecordedBy, "this person may not record answers", "have it recorded by somebody whom the shop file lets ('may: [answers]')")
	}
	return nil
}

// document is the evidence that holds the answer: a file of the job, or a copy
// to be put there.
func (a *App) document(c *Opened, g Given, answer string) (job.Evidence, *NewFile, error) {
	file := path.Clean(g.Document)
	if !a.files.Exists(file) || a.files.IsDir(file) {
		return job.Evidence{}, nil, &diag.Error{Kind: diag.NotFound, Op: "answer", Subject: file, Msg: "there is no such file", Hint: "give the manufacturer's own words as a file"}
	}
	dir, name, inside := "", file, false
	if rest, ok := within(c.From, file); ok && !c.alone {
		dir, name, inside = c.From, rest, true
	}
	data, err := a.read(dir, name, aReply, "check that the file may be read")
	if err != nil {
		return job.Evidence{}, nil, err
	}
	if len(data) == 0 {
		return job.Evidence{}, nil, &diag.Error{Kind: diag.Conflict, Op: "answer", Subject: file, Msg: "the file is empty"}
	}
	sum := sha256.Sum256(data)
	e := job.Evidence{ID: freeID("E", c.Job.Evidence, func(x job.Evidence) string { return x.ID }), SHA256: hex.EncodeToString(sum[:]),
		Text: "Answer " + answer + " to question " + g.Question, On: g.Dated, By: g.RecordedBy}
	for _, x := range c.Job.Evidence {
		if x.SHA256 == e.SHA256 {
			return x, nil, nil // on record already
		}
	}
	if inside {
		e.File = name
		return e, nil, nil
	}
	e.File = path.Join("evidence", path.Base(file))
	taken := func(name string) bool {
		return !c.alone && a.files.Exists(path.Join(c.From, name)) || slices.ContainsFunc(c.Job.Evidence, func(x job.Evidence) bool { return x.File == name })
	}
	for n := 2; taken(e.File); n++ {
		ext := path.Ext(file)
		e.File = path.Join("evidence", strings.TrimSuffix(path.Base(file), ext)+"-"+strconv.Itoa(n)+ext)
	}
	return e, &NewFile{Name: e.File, Data: data}, nil
}

// within is the path inside a folder of a file that is written to lie there.
func within(dir, file string) (string, bool) {
	if dir == "." {
		return file, !path.IsAbs(file) && file != ".." && !strings.HasPrefix(file, "../")
	}
	return strings.CutPrefix(file, dir+"/")
}

// freeID is the first number that nothing has yet.
func freeID[T any](prefix string, items []T, id func(T) string) string {
	for n := len(items) + 1; ; n++ {
		if got := prefix + strconv.Itoa(n); !slices.ContainsFunc(items, func(x T) bool { return id(x) == got }) {
			return got
		}
	}
}

func answerWords(x job.Answer, e job.Evidence) string {
	var parts []string
	if len(x.Allow) > 0 {
		parts = append(parts, "allows "+explain.Joined(x.Allow))
	}
	if len(x.Forbid) > 0 {
		parts = append(parts, "forbids "+explain.Joined(x.Forbid))
	}
	t := fmt.Sprintf("Answer %s to question %s, for %s of vehicle %s only: %s, until the day before %s.", x.ID, x.Question, strings.Replace(aboutWord(x.Finding, x.Point), ": ", " ", 1), x.VIN, strings.Join(parts, ", "), x.Expires)
	for _, fact := range slices.Sorted(maps.Keys(x.When)) {
		t += " When " + strings.ReplaceAll(fact, "_", " ") + ": " + x.When[fact] + "."
	}
	if x.Conditions != "" {
		t += " Conditions: " + x.Conditions + "."
	}
	return t + fmt.Sprintf(" Document %s (%s), SHA-256 %s.", e.ID, e.File, e.SHA256)
}

// Sent makes the record that a question was sent today.
func (a *App) Sent(c *Opened, r Assessment, q decide.Question, by string) (Recorded, error) {
	if _, ok := c.Shop.Person(by); !ok {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: by, Msg: "the shop file has no such person"}
	}
	if q.State == decide.Waiting {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: q.ID, Msg: "the question was sent on " + q.Asked.String() + " already"}
	}
	return a.record(c, asAsked, sentRecords(c, r, q, by)...)
}

// sentRecords is what has to be on record of a question that was sent: the question,
// and what the manufacturer was told with it.
func sentRecords(c *Opened, r Assessment, q decide.Question, by string) []any {
	out := []any{job.Asked{ID: q.ID, Finding: q.Finding, Point: q.Point, On: unit.DateOf(r.Made), By: by}}
	if t := told(c, r, q.Finding); t != nil {
		t.Question = q.ID
		out = append(out, *t)
	}
	return out
}

// told is what the manufacturer is told of a finding today.
func told(c *Opened, r Assessment, id job.FindingID) *job.Told {
	return decide.Told(c.of(r).Decide(r.Measure, r.Inspect), id)
}

// toldSince is what an answer was given for where its question does not say: the
// facts of today, unless something on the part was entered after the question
// was sent.
func toldSince(c *Opened, r Assessment, asked job.Asked) *job.Told {
	if c.Job.ToldWith(asked) != nil {
		return nil
	}
	out := told(c, r, asked.Finding)
	if out == nil || slices.ContainsFunc(out.Findings, func(f job.Finding) bool { return asked.On.Before(f.On) }) {
		return nil
	}
	return out
}

func kinds(words []string) []body.TreatmentKind {
	var out []body.TreatmentKind
	for _, w := range words {
		out = append(out, body.TreatmentKind(w))
	}
	return out
}
