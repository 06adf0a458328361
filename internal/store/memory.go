package store

import (
	"cmp"
	"context"
	"errors"
	"io"
	"maps"
	"slices"
	"sync"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/blobs"
)

// Memory is a store that ends with the program.
type Memory struct {
	now     func() time.Time
	mu      sync.Mutex
	jobs    map[string][]job.Line
	blobs   *blobs.Store
	library map[string]map[string][]byte
	aside   map[string]map[string][]byte
	shown   map[string]shownAt
	brought map[[2]string]bool // shop and hash
	folds   job.Folds
}

// NewMemory makes an empty store with a clock.
func NewMemory(now func() time.Time) *Memory {
	return &Memory{now: now, jobs: map[string][]job.Line{}, blobs: blobs.NewMemory(now), library: map[string]map[string][]byte{}, aside: map[string]map[string][]byte{}, shown: map[string]shownAt{}, brought: map[[2]string]bool{}}
}

// Create begins a job.
func (m *Memory) Create(ctx context.Context, id string, c app.Change) (app.Head, error) {
	return m.change(ctx, id, true, c, nil)
}

// Append adds a change to a job.
func (m *Memory) Append(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	return m.change(ctx, id, false, c, may)
}

func (m *Memory) change(ctx context.Context, id string, opens bool, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	if err := errors.Join(CheckID(id), noWork(id, c)); err != nil {
		return app.Head{}, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	lines := m.jobs[id]
	made, err := MakeChange(ctx, id, opens, c, may, m.now(), pastOf(lines, &m.folds))
	if err != nil {
		return app.Head{}, err
	}
	m.jobs[id] = slices.Concat(withoutTexts(lines, made.Erased), job.Lines(c.Key, made.Fresh))
	return made.Head, nil
}

// Load is the events of a job after one of them.
func (m *Memory) Load(ctx context.Context, id string, n int64) (ledger.Chain, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	lines, ok := m.jobs[id]
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case !ok:
		return nil, NoJob(id)
	}
	return after(id, lines, n)
}

// Head is the newest event of a job.
func (m *Memory) Head(ctx context.Context, id string) (app.Head, error) {
	lines, err := m.Lines(ctx, id)
	if err != nil {
		return app.Head{}, err
	}
	return headOf(lines), nil
}

// Lines is the events of a job with their keys.
func (m *Memory) Lines(ctx context.Context, id string) ([]job.Line, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	lines, ok := m.jobs[id]
	if !ok {
		return nil, NoJob(id)
	}
	return slices.Clone(lines), ctx.Err()
}

// Bring begins a job with lines of another store.
func (m *Memory) Bring(ctx context.Context, id string, lines []job.Line) (app.Head, error) {
	if err := errors.Join(CheckID(id), ctx.Err()); err != nil {
		return app.Head{}, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	made, err := CheckBrought(id, m.jobs[id], lines)
	if err == nil {
		m.jobs[id] = slices.Clone(lines)
	}
	return made.Head, err
}

// SetAside keeps files beside a job.
func (m *Memory) SetAside(ctx context.Context, id string, files map[string][]byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := errors.Join(ctx.Err(), CheckAside(id, m.aside[id], files)); err != nil {
		return err
	}
	m.aside[id] = maps.Clone(files)
	return nil
}

// Aside is what was set aside for a job.
func (m *Memory) Aside(ctx context.Context, id string) (map[string][]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := map[string][]byte{}
	maps.Copy(out, m.aside[id])
	return out, errors.Join(CheckID(id), ctx.Err())
}

// List is jobs in the order of their names.
func (m *Memory) List(ctx context.Context, from string, most int) ([]app.JobLine, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []app.JobLine
	for _, id := range slices.Sorted(maps.Keys(m.jobs)) {
		if id > from && len(out) < most {
			out = append(out, app.JobLine{ID: id, Head: headOf(m.jobs[id])})
		}
	}
	return out, ctx.Err()
}

// Index notes what a list shows of a job.
func (m *Memory) Index(ctx context.Context, id string, at int64, change func(was app.Shown) app.Shown) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	lines, was := m.jobs[id], m.shown[id]
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case len(lines) == 0:
		return NoJob(id)
	}
	if err := CheckIndexed(id, at, headOf(lines).Seq); err != nil {
		return err
	}
	if at >= was.at {
		m.shown[id] = shownAt{change(was.Shown), at}
	}
	return nil
}

type shownAt struct {
	app.Shown
	at int64
}

// Find goes through all jobs.
func (m *Memory) Find(ctx context.Context, q app.JobQuery) ([]app.JobLine, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []app.JobLine
	words := app.Words(q.Text)
	for id, lines := range m.jobs {
		s, err := m.folds.Read(job.ChainOf(lines))
		if err != nil {
			return nil, err
		}
		l := app.JobLine{ID: id, Head: headOf(lines), Changed: s.At(), Owner: s.Owner(), At: m.shown[id].at, Shown: m.shown[id].Shown}
		var terms []string
		l.Vehicle, terms = app.JobTerms(id, s)
		terms = append(terms, app.ShownTerms(l.Shown)...)
		slices.Sort(terms)
		if app.Finds(words, terms) && (q.Waits == "" || q.Waits == l.Waits) && (q.On == "" || q.On == l.On) && (q.Of == nil || slices.Contains(q.Of, l.Owner)) && (q.After.ID == "" || newerFirst(q.After, l) < 0) {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, newerFirst)
	return out[:min(len(out), max(0, q.Most))], ctx.Err()
}

func newerFirst(a, b app.JobLine) int {
	return cmp.Or(cmp.Compare(b.Changed, a.Changed), cmp.Compare(b.ID, a.ID))
}

// Put keeps bytes.
func (m *Memory) Put(ctx context.Context, r io.Reader, most int64) (string, int64, error) {
	return m.blobs.Put(ctx, r, most)
}

// Get is the bytes of a hash.
func (m *Memory) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	return m.blobs.Get(ctx, hash)
}

// Retain says that bytes are kept and stay for a day.
func (m *Memory) Retain(ctx context.Context, hash string) (size int64, err error) {
	return m.blobs.Retain(ctx, hash)
}

// Keep puts files into the library.
func (m *Memory) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if err := CheckFiles(files, maxLibrary); err != nil {
		return "", err
	}
	hash := body.Hash(files)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.library[hash] = maps.Clone(files)
	return hash, ctx.Err()
}

// Files is what the library has under a hash.
func (m *Memory) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	files, ok := m.library[hash]
	if !ok {
		return nil, blobs.NothingKept(hash)
	}
	return maps.Clone(files), ctx.Err()
}
