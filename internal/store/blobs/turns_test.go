package blobs

import (
	"bytes"
	"context"
	"io"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"fettle/internal/diag"
)

// turns lets one of several programs go at a time, from one thing that it asks of the keeper to the next, by chance.
type turns struct {
	mu      sync.Mutex
	cond    *sync.Cond
	r       *rand.Rand
	live    int
	waiting []int
	turn    int // whose it is; -1: nobody's
}

func newTurns(programs int, seed uint64) *turns {
	t := &turns{live: programs, turn: -1, r: rand.New(rand.NewPCG(seed, 3))}
	t.cond = sync.NewCond(&t.mu)
	return t
}

func (t *turns) choose() {
	if t.turn < 0 && t.live > 0 && len(t.waiting) == t.live {
		n := t.r.IntN(len(t.waiting))
		t.turn = t.waiting[n]
		t.waiting = append(t.waiting[:n], t.waiting[n+1:]...)
		t.cond.Broadcast()
	}
}

func (t *turns) step(who int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.waiting = append(t.waiting, who)
	t.choose()
	for t.turn != who {
		t.cond.Wait()
	}
	t.turn = -1
}

func (t *turns) done() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.live--
	t.choose()
}

// stepped is a keeper that waits for its turn before everything.
type stepped struct {
	keeper
	t     *turns
	who   int
	blind bool // it sees no removal
	deaf  bool // it takes every mark for an old one, also where there is none
}

func (s stepped) put(ctx context.Context, st *staged, replace bool) error {
	s.t.step(s.who)
	return s.keeper.put(ctx, st, replace)
}

func (s stepped) open(ctx context.Context, hash string, offset, length int64) (io.ReadCloser, int64, error) {
	s.t.step(s.who)
	return s.keeper.open(ctx, hash, offset, length)
}

func (s stepped) look(ctx context.Context, hash string) (thing, error) {
	s.t.step(s.who)
	return s.keeper.look(ctx, hash)
}

func (s stepped) make(ctx context.Context, k kind, hash string, at time.Time) (bool, error) {
	s.t.step(s.who)
	return s.keeper.make(ctx, k, hash, at)
}

func (s stepped) since(ctx context.Context, k kind, hash string) (time.Time, error) {
	s.t.step(s.who)
	if s.blind && k == removal {
		return time.Time{}, NothingKept(hash)
	}
	if s.deaf && k == mark {
		return time.Time{}, nil
	}
	return s.keeper.since(ctx, k, hash)
}

func (s stepped) remove(ctx context.Context, k kind, hash string) error {
	s.t.step(s.who)
	return s.keeper.remove(ctx, k, hash)
}

// meeting is one program that puts or claims bytes whose mark is a day old, and two that sweep, in an order by chance. The
// note of them is not made yet when the sweeps ask. It says whether bytes that were promised are gone.
func meeting(t *testing.T, seed uint64, change func(*stepped)) (lost, removed bool) {
	t.Helper()
	var c clock
	s := NewMemory(c.now)
	data := text(1, 40)
	hash := hashOf(data)
	nobody := func(context.Context, string) (bool, error) { return false, nil }
	if _, _, err := s.Put(t.Context(), bytes.NewReader(data), 40); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Sweep(t.Context(), nobody); err != nil {
		t.Fatal(err)
	}
	c.add(Grace + time.Hour)
	order := newTurns(3, seed)
	program := func(who int) *Store {
		own := stepped{keeper: s.kept, t: order, who: who}
		change(&own)
		return &Store{spool: s.spool, kept: own, now: c.now, synced: true, wait: time.Minute}
	}
	var group sync.WaitGroup
	var mu sync.Mutex
	promised := false
	for who := range 2 {
		group.Go(func() {
			defer order.done()
			out, err := program(who).Sweep(t.Context(), nobody)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Errorf("seed %d: %v", seed, err)
			}
			removed = removed || out.Removed > 0
		})
	}
	group.Go(func() {
		defer order.done()
		for range rand.New(rand.NewPCG(seed, 4)).IntN(20) {
			order.step(2) // it comes when the others are well under way
		}
		var err error
		if p := program(2); seed%2 == 0 {
			_, _, err = p.Put(t.Context(), bytes.NewReader(data), 40)
		} else if _, err = p.Claim(t.Context(), hash); diag.KindOf(err) == diag.NotFound {
			return
		}
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		promised = true
	})
	group.Wait()
	_, err := s.Size(t.Context(), hash)
	return promised && err != nil, removed
}

// TestPutMeetsSweep: in whatever order the steps of a put or claim and of two sweeps come, what was promised is there; and
// it is not for want of removals. Where one side does not look it is lost in some orders.
func TestPutMeetsSweep(t *testing.T) {
	count := func(n int, change func(*stepped)) (lost, removed int) {
		for seed := range n {
			l, r := meeting(t, uint64(seed), change)
			if l {
				lost++
			}
			if r {
				removed++
			}
		}
		return lost, removed
	}
	n := points(t, 600)
	lost, removed := count(n, func(*stepped) {})
	t.Logf("%d orders: %d lost, removed in %d", n, lost, removed)
	if lost > 0 || removed < n/10 {
		t.Errorf("%d orders: %d lost, removed in %d", n, lost, removed)
	}
	for name, change := range map[string]func(*stepped){"who puts does not look": func(s *stepped) { s.blind = true }, "who sweeps does not look again": func(s *stepped) { s.deaf = true }} {
		if lost, _ := count(600, change); lost == 0 {
			t.Errorf("%s: nothing is lost in 600 orders, so they show nothing", name)
		} else {
			t.Logf("%s: %d of 600 lost", name, lost)
		}
	}
}

// slow is a keeper for which putting takes a day, in which a sweep marks the bytes.
type slow struct{ keeper }

func (s slow) put(ctx context.Context, st *staged, replace bool) error {
	if _, err := s.make(ctx, mark, st.hash, time.Now().Add(-Grace)); err != nil {
		return err
	}
	return s.keeper.put(ctx, st, replace)
}

// TestDayBeginsWhenPut: the day for which bytes stay begins when they were put, however long that took.
func TestDayBeginsWhenPut(t *testing.T) {
	s := NewMemory(time.Now)
	s.kept = slow{s.kept}
	hash, _, err := s.Put(t.Context(), bytes.NewReader([]byte("a photo")), 100)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.kept.since(t.Context(), mark, hash); diag.KindOf(err) != diag.NotFound {
		t.Errorf("what was put just now has a mark: %v", err)
	}
}

// loose is a keeper that makes what is there already, as a store does that does not know If-None-Match.
type loose struct{ keeper }

func (l loose) make(ctx context.Context, k kind, hash string, at time.Time) (bool, error) {
	_, err := l.keeper.make(ctx, k, hash, at)
	return true, err
}

// TestNothingIsRemovedWithoutExclusion: from a store in which two can make the same, nothing is removed.
func TestNothingIsRemovedWithoutExclusion(t *testing.T) {
	var c clock
	s := NewMemory(c.now)
	nobody := func(context.Context, string) (bool, error) { return false, nil }
	hash, _, err := s.Put(t.Context(), bytes.NewReader([]byte("a photo")), 100)
	if err == nil {
		_, err = s.Sweep(t.Context(), nobody)
	}
	if err != nil {
		t.Fatal(err)
	}
	c.add(2 * Grace)
	s.kept = loose{s.kept}
	if out, err := s.Sweep(t.Context(), nobody); diag.KindOf(err) != diag.Unsupported || out.Removed != 0 {
		t.Errorf("%+v %v", out, err)
	}
	if _, err := s.Size(t.Context(), hash); err != nil {
		t.Error(err)
	}
}
