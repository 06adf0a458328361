package app

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
)

// hanging is a store of one job that is slow in one of its answers: until whoever asks is stopped.
type hanging struct {
	Store // the rest is not asked
	chain ledger.Chain
	files map[string]map[string][]byte
	in    string // the question that hangs
	stop  func()
}

func (h *hanging) answer(ctx context.Context, of string) error {
	if of != h.in {
		return nil
	}
	h.stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(10 * time.Second):
		return errors.New("it went on although it was stopped")
	}
}

func (h *hanging) Load(ctx context.Context, _ string, _ int64) (ledger.Chain, error) {
	return h.chain, h.answer(ctx, "the job")
}

func (h *hanging) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	if hash == body.Hash(h.files["body"]) {
		return h.files["body"], h.answer(ctx, "the body")
	}
	return h.files["shop"], h.answer(ctx, "the shop")
}

// storedDemo is the demonstration's sound job as a chain, in a store that hangs.
func storedDemo(t *testing.T) (memory, *hanging) {
	t.Helper()
	m := coarse(t)
	s, err := job.Decode(map[string][]byte{job.MainFile: m[demo.SoundJob+"/job.yaml"], job.ReadingsFile: m[demo.SoundJob+"/readings.csv"]})
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]map[string][]byte{"body": {}, "shop": {"shop.yaml": m["shop.yaml"]}}
	for name, data := range m {
		if rest, ok := strings.CutPrefix(name, "body/"); ok {
			files["body"][rest] = data
		}
	}
	s.Body, s.Shop = job.HashName(body.Hash(files["body"])), job.HashName(body.Hash(files["shop"]))
	chain, _, err := (&job.Stored{}).Write(job.FromState(*s), job.Stamp{At: "2026-11-26T10:00:00Z", By: "p-1", Salt: func() string { return strings.Repeat("0", 64) }})
	if err != nil {
		t.Fatal(err)
	}
	lines, err := job.EncodeLines(job.Lines("open", chain))
	if err != nil {
		t.Fatal(err)
	}
	return memory{"kept/" + job.EventsFile: lines}, &hanging{chain: chain, files: files, stop: func() {}}
}

// TestStopReachesTheStore: a store that takes its time with the job, its body or its shop is
// stopped with the work that asks it, and the answer is the stop.
func TestStopReachesTheStore(t *testing.T) {
	m, st := storedDemo(t)
	a := New(m, "test").WithBodies(&Bodies{}).WithStores(func(string) (Store, string) { return st, "kept" })
	if _, err := a.Open(t.Context(), "kept"); err != nil {
		t.Fatal(err)
	}
	for _, st.in = range []string{"the job", "the body", "the shop"} {
		ctx, stop := context.WithCancel(t.Context())
		st.stop = stop
		a.WithBodies(&Bodies{}) // one that is kept is not read again
		if c, err := a.Open(ctx, "kept"); c != nil || !errors.Is(err, context.Canceled) || strings.Contains(err.Error(), "kept") {
			t.Errorf("stopped while it read %s: %v, %v", st.in, c, err)
		}
	}
}

// TestReplayIsStoppedWithinAJob stops a replay of two jobs while it measures where the findings of
// the first one lie: it answers with the stop, and keeps nothing. Undisturbed it says which job it is at.
func TestReplayIsStoppedWithinAJob(t *testing.T) {
	m := scenario(t, "", "", "")
	kept := newCache("p")
	replay := func(ctx context.Context) error {
		_, err := New(m, "test").WithBodies(&bodies).WithCache(kept).Replay(ctx, "body/procedures/br-fc-d.yaml", Replaying{Jobs: []string{demo.Job, demo.SoundJob}, On: replayDay})
		return err
	}
	why := errors.New("stopped")
	ctx, stop := context.WithCancelCause(t.Context())
	err := replay(halt.Telling(ctx, func(p halt.Progress) {
		if p.What == Inspecting && p.Done == 1 {
			stop(why)
		}
	}))
	if !errors.Is(err, why) || kept.puts != 0 {
		t.Errorf("stopped within its first job: %v, kept %d times", err, kept.puts)
	}
	var at []halt.Progress
	if err := replay(halt.Telling(t.Context(), func(p halt.Progress) {
		if p.What == Replays && p.Of > 0 {
			at = append(at, p)
		}
	})); err != nil || len(at) != 2 || at[1] != (halt.Progress{What: Replays, Done: 1, Of: 2}) {
		t.Errorf("told %v, %v; want both jobs by their numbers", at, err)
	}
}
