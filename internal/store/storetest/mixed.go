package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// MixedStore is what mixed writes are made to.
type MixedStore interface {
	app.Store
	app.Tasks
}

// WriteKind is what is written.
type WriteKind string

// What is written.
const (
	WriteJob     WriteKind = "job"     // a job is opened
	WriteFinding WriteKind = "finding" // with a text that can be erased
	WritePair    WriteKind = "pair"    // two findings in one change, which asks for a task
	WriteErasure WriteKind = "erasure" // of the texts of a finding
	WriteBlob    WriteKind = "blob"
	WriteLibrary WriteKind = "library"
	WriteWant    WriteKind = "want" // a task is asked for
	WriteDone    WriteKind = "done" // a task is claimed and done
)

// Write is one write of mixed ones, which can be made again as it was.
type Write struct {
	Kind WriteKind
	Job  string   // or what a task is about
	Key  string   // which nothing else has
	Of   []string // findings
	Seen []int64  // the newest event about each that its author knows
	Size int      // of bytes
}

// Wrote is a write that was acknowledged.
type Wrote struct {
	Write
	Head app.Head
	Hash string // of bytes
	Task string
}

// Mixed draws writes of one author, who is the only one to change the jobs that he opens.
type Mixed struct {
	by   string
	draw *rand.Rand
	n    int
	jobs []string
	seen map[string]int64 // of the newest event about a finding of a job that was acknowledged
	want string           // a task that waits
}

// NewMixed is an author of that name.
func NewMixed(by string, seed uint64) *Mixed {
	return &Mixed{by: by, draw: rand.New(rand.NewPCG(seed, 91)), seen: map[string]int64{}}
}

// Next is the next write.
func (m *Mixed) Next() Write {
	m.n++
	w := Write{Key: fmt.Sprintf("%s-%d", m.by, m.n)}
	if len(m.jobs) == 0 || m.draw.IntN(12) == 0 {
		w.Kind, w.Job = WriteJob, "J-"+w.Key
		return w
	}
	w.Job = m.jobs[m.draw.IntN(len(m.jobs))]
	first := m.draw.IntN(5)
	of := func(n int) {
		id := fmt.Sprint("D", 4+n%5)
		w.Of, w.Seen = append(w.Of, id), append(w.Seen, m.seen[w.Job+" "+id])
	}
	switch n := m.draw.IntN(10); {
	case n < 4:
		w.Kind = WriteFinding
		of(first)
	case n < 5:
		w.Kind = WritePair
		of(first)
		of(first + 1)
	case n < 6:
		if of(first); w.Seen[0] == 0 {
			w.Kind = WriteFinding
			return w
		}
		w.Kind = WriteErasure
	case n < 8:
		w.Kind, w.Job, w.Size = WriteBlob, "", 1+m.draw.IntN(9000)
	case n < 9:
		w.Kind, w.Job, w.Size = WriteLibrary, "", 1+m.draw.IntN(3000)
	case m.want == "":
		w.Kind, w.Job = WriteWant, "T-"+w.Key
	default:
		w.Kind, w.Job = WriteDone, m.want
	}
	return w
}

// Made is told of a write that was acknowledged.
func (m *Mixed) Made(w Wrote) {
	switch w.Kind {
	case WriteJob:
		m.jobs = append(m.jobs, w.Job)
	case WriteFinding, WritePair, WriteErasure:
		for i, id := range w.Of {
			m.seen[w.Job+" "+id] = w.Head.Seq - int64(len(w.Of)-1-i)
		}
	case WriteWant:
		m.want = w.Job
	case WriteDone:
		m.want = ""
	}
}

// text is what is said of a finding.
func (w Write) text(of string) string { return w.Key + " " + of }

// bytes are those that are kept, and no others have them.
func (w Write) bytes() []byte {
	return bytes.Repeat([]byte(w.Key+"\n"), w.Size/len(w.Key)+1)
}

func (w Write) files() map[string][]byte {
	return map[string][]byte{"body.yaml": w.bytes(), "procedures/a.yaml": []byte(w.Key)}
}

// change is what is written into a job.
func (w Write) change() app.Change {
	c := app.Change{Key: w.Key, By: "p-1"}
	switch w.Kind {
	case WriteJob:
		c.Events = job.FromState(State(w.Job))
	case WriteErasure:
		c.Events = []job.Event{{Kind: job.TextsErased, Of: job.RecordName("finding/" + w.Of[0]), Seen: w.Seen[0], Data: job.Erasure{On: day, Reason: "Asked for"}}}
	default:
		for i, id := range w.Of {
			f := job.Finding{ID: job.FindingID(id), Kind: "dent", Part: "P-SKIN", Through: "unknown", Seen: "visual", By: "W2", On: day, Text: w.text(id)}
			c.Events = append(c.Events, job.Event{Kind: job.FindingRecorded, Data: f, Seen: w.Seen[i]})
		}
	}
	if w.Kind == WritePair {
		c.Wants = []app.Wanted{w.wanted()}
	}
	return c
}

// mixedKind is the kind of the tasks that are asked for.
const mixedKind app.TaskKind = "assess"

func (w Write) wanted() app.Wanted {
	return app.Wanted{Kind: mixedKind, About: w.Job, Input: w.Key, By: "p-1"}
}

// Make makes a write. Made again after it was not heard of, the answer is the first one.
func (w Write) Make(ctx context.Context, st MixedStore) (out Wrote, err error) {
	out.Write = w
	switch w.Kind {
	case WriteJob:
		out.Head, err = st.Create(ctx, w.Job, w.change())
	case WriteFinding, WritePair, WriteErasure:
		out.Head, err = st.Append(ctx, w.Job, w.change(), nil)
	case WriteBlob:
		out.Hash, _, err = st.Put(ctx, bytes.NewReader(w.bytes()), 1<<20)
	case WriteLibrary:
		out.Hash, err = st.Keep(ctx, w.files())
	case WriteWant:
		out.Task, err = st.Want(ctx, w.wanted())
	case WriteDone:
		out.Task, err = w.done(ctx, st)
	}
	return out, err
}

// done claims tasks and ends them, until the one about something is done. Others may do so too.
func (w Write) done(ctx context.Context, st MixedStore) (string, error) {
	for range 1000 {
		is, err := st.ListTasks(ctx, app.TaskQuery{About: w.Job, Most: 1})
		if err != nil {
			return "", err
		}
		if len(is) == 1 && is[0].State == app.TaskDone {
			return is[0].ID, nil
		}
		t, err := st.Claim(ctx, []app.TaskKind{mixedKind}, w.Key, time.Nanosecond, 1000)
		switch {
		case err == nil && t == nil:
			time.Sleep(time.Millisecond) // a lost worker has it a moment longer
		case err == nil:
			err = st.End(ctx, t, app.TaskEnd{State: app.TaskDone, Result: resultOf(t.Wanted)})
		}
		if err != nil && diag.KindOf(err) != diag.Conflict {
			return "", err
		}
	}
	return "", fmt.Errorf("the task about %s cannot be done", w.Job)
}

// resultOf is the hash of what a task makes.
func resultOf(w app.Wanted) string {
	sum := sha256.Sum256([]byte(w.About))
	return hex.EncodeToString(sum[:])
}

// CheckWrote reads everything that was acknowledged, and says what is not there as it was.
func CheckWrote(ctx context.Context, st MixedStore, all []Wrote) error {
	var errs []error
	jobs := map[string][]Wrote{}
	for _, w := range all {
		var err error
		switch w.Kind {
		case WriteJob, WriteFinding, WritePair, WriteErasure:
			jobs[w.Job] = append(jobs[w.Job], w)
		case WriteBlob:
			err = w.checkBlob(ctx, st)
		case WriteLibrary:
			err = w.checkLibrary(ctx, st)
		case WriteWant, WriteDone:
			err = w.checkTask(ctx, st)
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%s %s was acknowledged: %w", w.Kind, w.Key, err))
		}
	}
	for id, of := range jobs {
		if err := checkJob(ctx, st, id, of); err != nil {
			errs = append(errs, fmt.Errorf("job %s: %w", id, err))
		}
	}
	return errors.Join(errs...)
}

func (w Wrote) checkBlob(ctx context.Context, st MixedStore) error {
	r, size, err := st.Get(ctx, w.Hash)
	if err != nil {
		return err
	}
	data, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err == nil && (!bytes.Equal(data, w.bytes()) || size != int64(len(data))) {
		err = fmt.Errorf("%d other bytes, of %d", len(data), size)
	}
	return err
}

func (w Wrote) checkLibrary(ctx context.Context, st MixedStore) error {
	files, err := st.Files(ctx, w.Hash)
	if err == nil && body.Hash(files) != body.Hash(w.files()) {
		err = errors.New("other files")
	}
	return err
}

func (w Wrote) checkTask(ctx context.Context, st MixedStore) error {
	t, err := st.TaskOf(ctx, w.Task)
	if err == nil && (t.About != w.Job || w.Kind == WriteDone && (t.State != app.TaskDone || t.Result != resultOf(t.Wanted))) {
		err = fmt.Errorf("it is %+v", t)
	}
	return err
}

// checkJob holds a job against the changes of it that were acknowledged: each is there whole and once, and what was
// erased is gone.
func checkJob(ctx context.Context, st MixedStore, id string, all []Wrote) error {
	lines, err := st.Lines(ctx, id)
	if err != nil {
		return err
	}
	c := job.ChainOf(lines)
	if _, err := job.Read(c); err != nil {
		return err
	}
	times := map[string]int{}
	for first := 0; first < len(lines); first += lines[first].Of {
		times[lines[first].Change]++
	}
	for _, w := range all {
		if w.Head.Seq < 1 || w.Head.Seq > int64(len(c)) || c[w.Head.Seq-1].Hash != w.Head.Hash || times[w.Key] != 1 {
			return fmt.Errorf("%s %s was acknowledged as event %d, and of %d events it is there %d times", w.Kind, w.Key, w.Head.Seq, len(c), times[w.Key])
		}
		if n := int64(len(w.change().Events)); w.Head.Seq < n || int64(lines[w.Head.Seq-n].Of) != n || lines[w.Head.Seq-n].Change != w.Key {
			return fmt.Errorf("%s %s is not there with its %d events", w.Kind, w.Key, n)
		}
		if w.Kind == WriteErasure {
			for _, e := range c[:w.Head.Seq-1] {
				if e.About == "finding/"+w.Of[0] && len(e.Beside) > 0 {
					return fmt.Errorf("texts of event %d were erased, and are there", e.Seq)
				}
			}
		}
		if w.Kind == WritePair {
			if is, err := st.ListTasks(ctx, app.TaskQuery{About: id, Most: 100}); err != nil || len(is) == 0 {
				return fmt.Errorf("the task that %s asked for is not there: %w", w.Key, err)
			}
		}
	}
	return nil
}

// CheckWhole reads every job that there is: each is a chain that holds, of whole changes. Keys that begin with Mixed
// ones are all there with the events they were sent with.
func CheckWhole(ctx context.Context, st MixedStore) error {
	for after := ""; ; {
		page, err := st.List(ctx, after, 100)
		if err != nil || len(page) == 0 {
			return err
		}
		for _, l := range page {
			lines, err := st.Lines(ctx, l.ID)
			if err != nil {
				return err
			}
			c := job.ChainOf(lines)
			s, err := job.Read(c)
			if err != nil {
				return fmt.Errorf("%s: %w", l.ID, err)
			}
			if seq, hash := s.Head(); seq != l.Head.Seq || hash != l.Head.Hash {
				return fmt.Errorf("%s: its line has event %d, and the chain %d", l.ID, l.Head.Seq, seq)
			}
			if opened := len(job.FromState(State(l.ID))); lines[0].Of != opened || !strings.HasPrefix(l.ID, "J-") {
				return fmt.Errorf("%s begins with %d events of one change, want %d", l.ID, lines[0].Of, opened)
			}
			after = l.ID
		}
	}
}
