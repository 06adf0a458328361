package remote

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
)

// page is how many jobs or tasks are asked for at once.
const page = 200

type sentEvent struct {
	Kind  job.EventKind   `json:"kind"`
	About job.RecordName  `json:"about,omitempty"`
	Seen  int64           `json:"seen"`
	Data  json.RawMessage `json:"data"`
}

type sentWant struct {
	Kind app.TaskKind `json:"kind"`
	On   string       `json:"on"`
}

type sentChange struct {
	Events []sentEvent `json:"events"`
	Wants  []sentWant  `json:"wants,omitempty"`
}

type line struct {
	ID      string   `json:"id"`
	Head    app.Head `json:"head"`
	Changed string   `json:"changed"`
	Vehicle string   `json:"vehicle"`
	Title   string   `json:"title"`
	Plate   string   `json:"plate"`
	Waits   string   `json:"waits"`
	Whom    string   `json:"whom"`
	Act     string   `json:"act"`
	Since   string   `json:"since"`
	Judged  string   `json:"judged"`
	At      int64    `json:"at"`
}

func (l line) jobLine() app.JobLine {
	return app.JobLine{ID: l.ID, Head: l.Head, Changed: l.Changed, Vehicle: l.Vehicle, At: l.At,
		Shown: app.Shown{Title: l.Title, Plate: l.Plate, Waits: l.Waits, On: l.Whom, Act: l.Act, Since: l.Since, Judged: l.Judged}}
}

type lines struct {
	Jobs []line `json:"jobs"`
	More bool   `json:"more"`
}

// ofJob is the path of a job.
func ofJob(id string, more ...string) string {
	return "/jobs/" + url.PathEscape(id) + strings.Join(more, "")
}

// noJob is the error of every store for a job that is not there, where the server says no more than that.
func noJob(id string, err error) error {
	if diag.KindOf(err) == diag.NotFound {
		return store.NoJob(id)
	}
	return err
}

// Create begins a job.
func (s *Store) Create(ctx context.Context, id string, c app.Change) (app.Head, error) {
	return s.change(ctx, call{op: "begin", method: http.MethodPut, path: ofJob(id)}, id, c)
}

// Append adds a change. The server judges it by what it knows, in the moment in which it is written; may is asked of the job as it
// is just before that is sent.
func (s *Store) Append(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	if may != nil {
		if err := s.judged(ctx, id, c, may); err != nil {
			return app.Head{}, err
		}
	}
	head, err := s.change(ctx, call{op: "write", method: http.MethodPost, path: ofJob(id, "/changes")}, id, c)
	return head, noJob(id, err)
}

// judged asks may. What else speaks against the change, also that it was made before, the server says.
func (s *Store) judged(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) error {
	chain, err := s.Load(ctx, id, 0)
	if err != nil {
		return err
	}
	before, err := job.Read(chain)
	if err != nil {
		return err
	}
	_, after, err := before.Write(c.Events, job.Stamp{At: before.At(), By: c.By, Salt: noSalt})
	if err != nil {
		return nil
	}
	if err := may(before, after); err != nil {
		return err
	}
	return ctx.Err()
}

// noSalt is for texts that are looked at and thrown away.
func noSalt() string { return strings.Repeat("0", 64) }

func (s *Store) change(ctx context.Context, to call, id string, c app.Change) (app.Head, error) {
	if err := cmp.Or(store.CheckID(id), store.CheckChange(id, c), ctx.Err()); err != nil {
		return app.Head{}, err
	}
	if len(c.Events) == 0 {
		return app.Head{}, &diag.Error{Kind: diag.Invalid, Op: "job.Write", Subject: "job", Msg: "there are no events to write"}
	}
	if err := s.writes(ctx, c.By); err != nil {
		return app.Head{}, err
	}
	var in sentChange
	for _, e := range c.Events {
		data, err := ledger.Canonical(doc.Encode(e.Data))
		if err != nil {
			return app.Head{}, &diag.Error{Kind: diag.Invalid, Op: "write", Subject: string(e.Kind), Msg: "cannot be written as JSON", Err: err}
		}
		in.Events = append(in.Events, sentEvent{e.Kind, e.Of, e.Seen, data})
	}
	for _, w := range c.Wants {
		on, err := dayOf(w)
		if err != nil {
			return app.Head{}, err
		}
		in.Wants = append(in.Wants, sentWant{w.Kind, on})
	}
	to.key, to.repeats = c.Key, true
	var head app.Head
	return head, s.send(ctx, to, in, &head)
}

// Load is the events of a job after one of them.
func (s *Store) Load(ctx context.Context, id string, after int64) (ledger.Chain, error) {
	if err := store.CheckID(id); err != nil {
		return nil, err
	}
	if after < 0 {
		return nil, store.NoEvent(id, after)
	}
	var head app.Head
	var got ledger.Chain
	err := s.list(ctx, call{op: "open", path: ofJob(id, "/events"), query: url.Values{"after": {strconv.FormatInt(after, 10)}}}, "entries",
		func() { got = nil }, func(d *json.Decoder) error {
			var e ledger.Entry
			err := d.Decode(&e)
			if err == nil {
				err = follows(e, after+int64(len(got)))
			}
			got = append(got, e)
			return err
		}, map[string]any{"head": &head})
	if err != nil {
		return nil, noJob(id, err)
	}
	if len(got) == 0 && head.Seq < after {
		return nil, store.NoEvent(id, after)
	}
	return got, nil
}

// follows says that an event has the number behind another, and a hash. Whoever reads the chain verifies it.
func follows(e ledger.Entry, last int64) error {
	if e.Seq != last+1 || !blobs.IsHash(e.Hash) {
		return fmt.Errorf("event %d stands where event %d has to", e.Seq, last+1)
	}
	return nil
}

// Head is the newest event of a job.
func (s *Store) Head(ctx context.Context, id string) (head app.Head, err error) {
	if err := store.CheckID(id); err != nil {
		return head, err
	}
	return head, noJob(id, s.get(ctx, "open", ofJob(id), nil, &head))
}

type sentLines struct {
	Lines []job.Line `json:"lines"`
}

// Lines is the events of a job with their keys.
func (s *Store) Lines(ctx context.Context, id string) ([]job.Line, error) {
	if err := store.CheckID(id); err != nil {
		return nil, err
	}
	var got []job.Line
	err := s.list(ctx, call{op: "open", path: ofJob(id, "/lines")}, "lines", func() { got = nil }, func(d *json.Decoder) error {
		var l job.Line
		err := d.Decode(&l)
		if err == nil {
			err = follows(l.Entry, int64(len(got)))
		}
		got = append(got, l)
		return err
	}, nil)
	if err != nil {
		return nil, noJob(id, err)
	}
	return got, nil
}

// Bring begins a job with lines of another store.
func (s *Store) Bring(ctx context.Context, id string, lines []job.Line) (head app.Head, err error) {
	if err := store.CheckID(id); err != nil {
		return head, err
	}
	if _, err := store.CheckBrought(id, nil, lines); err != nil {
		return head, err
	}
	return head, s.send(ctx, call{op: "bring", method: http.MethodPut, path: ofJob(id, "/lines"), repeats: true}, sentLines{lines}, &head)
}

type sentFile struct {
	Name string `json:"name"`
	Data []byte `json:"data"`
}

type sentFiles struct {
	Files []sentFile `json:"files"`
}

func listed(files map[string][]byte) sentFiles {
	out := sentFiles{Files: []sentFile{}}
	for name, data := range files {
		if data == nil {
			data = []byte{} // else it is null
		}
		out.Files = append(out.Files, sentFile{name, data})
	}
	slices.SortFunc(out.Files, func(a, b sentFile) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// SetAside keeps files beside a job.
func (s *Store) SetAside(ctx context.Context, id string, files map[string][]byte) error {
	if err := store.CheckAside(id, nil, files); err != nil {
		return err
	}
	return s.send(ctx, call{op: "set aside", method: http.MethodPut, path: ofJob(id, "/aside"), repeats: true}, listed(files), nil)
}

// Aside is what was set aside for a job.
func (s *Store) Aside(ctx context.Context, id string) (map[string][]byte, error) {
	if err := store.CheckID(id); err != nil {
		return nil, err
	}
	var got sentFiles
	err := s.answered(ctx, call{op: "open", method: http.MethodGet, path: ofJob(id, "/aside"), repeats: true, most: mostFiles}, &got)
	if diag.KindOf(err) == diag.NotFound && err != nil {
		return map[string][]byte{}, nil
	}
	out := map[string][]byte{}
	for _, f := range got.Files {
		out[f.Name] = f.Data
	}
	return out, err
}

// onward refuses a page of more than was asked for, and one of what are no jobs.
func (s *Store) onward(got lines, most int) error {
	if got.Jobs == nil {
		return s.strange("there are no jobs in it")
	}
	for _, l := range got.Jobs {
		if store.CheckID(l.ID) != nil {
			return s.strange("a job in it has no name")
		}
	}
	if len(got.Jobs) > min(page, most) {
		return s.strange(fmt.Sprintf("%d jobs stand on a page of %d", len(got.Jobs), min(page, most)))
	}
	return nil
}

// List is jobs in the order of their names.
func (s *Store) List(ctx context.Context, after string, most int) (out []app.JobLine, err error) {
	for len(out) < most {
		var got lines
		q := url.Values{"most": {strconv.Itoa(min(page, most-len(out)))}}
		if after != "" {
			q.Set("after", after)
		}
		if err := s.get(ctx, "list", "/jobs-by-name", q, &got); err != nil {
			return nil, err
		}
		if err := s.onward(got, most-len(out)); err != nil {
			return nil, err
		}
		for _, l := range got.Jobs {
			out, after = append(out, l.jobLine()), l.ID
		}
		if !got.More || len(got.Jobs) == 0 {
			break
		}
	}
	return out, ctx.Err()
}

// Find is jobs, the one changed last first. They are of the token's shop, whoever else's are asked for.
func (s *Store) Find(ctx context.Context, q app.JobQuery) (out []app.JobLine, err error) {
	if q.Of != nil {
		return nil, &diag.Error{Kind: diag.Unsupported, Op: "find", Subject: s.URL(), Msg: "a server finds the jobs of the token's shop, and of no other"}
	}
	last := q.After
	for len(out) < q.Most {
		v := url.Values{"most": {strconv.Itoa(min(page, q.Most-len(out)))}}
		for name, value := range map[string]string{"text": q.Text, "waits": q.Waits, "whom": q.On, "after": last.ID, "changed": last.Changed} {
			if value != "" {
				v.Set(name, value)
			}
		}
		var got lines
		if err := s.get(ctx, "find", "/jobs", v, &got); err != nil {
			return nil, err
		}
		if err := s.onward(got, q.Most-len(out)); err != nil {
			return nil, err
		}
		for _, l := range got.Jobs {
			last = l.jobLine()
			out = append(out, last)
		}
		if !got.More || len(got.Jobs) == 0 {
			break
		}
	}
	return out, ctx.Err()
}
