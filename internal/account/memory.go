package account

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"fettle/internal/diag"
)

// Memory is a store that is gone with the program.
type Memory struct {
	mu   sync.RWMutex
	rows memoryRows
}

type memoryRows map[Kind]map[string]Record

// NewMemory is an empty one.
func NewMemory() *Memory { return &Memory{rows: memoryRows{}} }

// Get implements Reader.
func (m *Memory) Get(ctx context.Context, k Kind, id string) (Record, bool, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return m.rows.Get(ctx, k, id)
}

// Find implements Reader.
func (m *Memory) Find(ctx context.Context, k Kind, key string) (Record, bool, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return m.rows.Find(ctx, k, key)
}

// List implements Reader.
func (m *Memory) List(ctx context.Context, k Kind, w Which) ([]Record, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return m.rows.List(ctx, k, w)
}

// Over implements Reader.
func (m *Memory) Over(ctx context.Context, k Kind, before time.Time, most int) ([]Record, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return m.rows.Over(ctx, k, before, most)
}

// Change implements Store.
func (m *Memory) Change(ctx context.Context, do func(Tx) error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	fresh := memoryRows{}
	for k, rows := range m.rows {
		fresh[k] = maps.Clone(rows)
	}
	if err := do(fresh); err != nil {
		return err
	}
	m.rows = fresh
	return nil
}

// Get implements Reader.
func (m memoryRows) Get(ctx context.Context, k Kind, id string) (Record, bool, error) {
	r, there := m[k][id]
	return r, there, ctx.Err()
}

// Find implements Reader.
func (m memoryRows) Find(ctx context.Context, k Kind, key string) (Record, bool, error) {
	for _, r := range m[k] {
		if key != "" && r.Key == key {
			return r, true, ctx.Err()
		}
	}
	return Record{}, false, ctx.Err()
}

// List implements Reader.
func (m memoryRows) List(ctx context.Context, k Kind, w Which) ([]Record, error) {
	if !IsText(w.After) { // which stands before or behind nothing
		return nil, ctx.Err()
	}
	return m.some(k, w.Most, func(r Record) bool {
		if w.Person != "" {
			return r.Person == w.Person && r.ID > w.After
		}
		return (w.Shop == "" || r.Shop == w.Shop) && r.ID > w.After
	}), ctx.Err()
}

// Over implements Reader.
func (m memoryRows) Over(ctx context.Context, k Kind, before time.Time, most int) ([]Record, error) {
	return m.some(k, most, func(r Record) bool { return !r.Ends.IsZero() && r.Ends.Before(before) }), ctx.Err()
}

func (m memoryRows) some(k Kind, most int, is func(Record) bool) []Record {
	var out []Record
	for _, r := range m[k] {
		if is(r) {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b Record) int { return cmp.Compare(a.ID, b.ID) })
	return out[:min(most, len(out))]
}

// Put implements Tx.
func (m memoryRows) Put(r Record) error {
	if err := r.Check(); err != nil {
		return err
	}
	for _, other := range m[r.Kind] {
		if r.Key != "" && other.Key == r.Key && other.ID != r.ID {
			return KeyTaken(r.Kind)
		}
	}
	if m[r.Kind] == nil {
		m[r.Kind] = map[string]Record{}
	}
	r.Ends = r.Ends.UTC()
	m[r.Kind][r.ID] = r
	return nil
}

// Drop implements Tx.
func (m memoryRows) Drop(k Kind, id string) error {
	delete(m[k], id)
	return nil
}

// IsText says whether every store can keep a text: characters, and none that is zero. Nothing that is no text is ever there.
func IsText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// mostText is how many bytes any text of a record may have.
const mostText = 64 << 10

// Check refuses a record that no store keeps.
func (r Record) Check() error {
	for _, s := range []string{r.ID, r.Person, r.Shop, r.Key, r.Data} {
		if !IsText(s) {
			return &diag.Error{Kind: diag.Invalid, Op: "keep a record", Subject: string(r.Kind), Msg: "a text of it has bytes that are no characters"}
		}
		if len(s) > mostText {
			return &diag.Error{Kind: diag.Invalid, Op: "keep a record", Subject: string(r.Kind), Msg: "a text of it is too long"}
		}
	}
	if !slices.Contains(Kinds(), r.Kind) || r.ID == "" || !r.Ends.Equal(r.Ends.Truncate(time.Millisecond)) {
		return &diag.Error{Kind: diag.Internal, Op: "keep a record", Subject: string(r.Kind), Msg: "it has no known kind, no name, or an end finer than a millisecond"}
	}
	return nil
}

// KeyTaken is the error of a store for a second record with one key.
func KeyTaken(k Kind) error {
	return &diag.Error{Kind: diag.Conflict, Op: "keep a record", Subject: string(k), Msg: "there is another one of that name", Hint: "give another name"}
}
