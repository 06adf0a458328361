//go:build outside

package blobs

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/s3test"
)

// realS3 starts an S3 server that checks who asks, with one bucket. What it returns stops it.
func realS3(t *testing.T) (S3Settings, func()) {
	t.Helper()
	s := s3test.Real(t)
	set := settingsAt(s)
	store := reached(t, set)
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		if err := store.Reach(t.Context()); err == nil {
			return set, s.Stop
		} else if time.Since(began) > time.Minute {
			t.Fatalf("%v: %v", err, errors.Unwrap(err))
		}
	}
}

// reached is a store at an S3 server.
func reached(t *testing.T, set S3Settings) *Store {
	t.Helper()
	s, err := NewS3(set, t.TempDir(), "spool", time.Now)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestOutsideS3 runs the suite on a real server.
func TestOutsideS3(t *testing.T) {
	set, _ := realS3(t)
	s3Suite(t, set)
	partsLeft(t, set)
}

// TestOutsideS3Refuses: who has another secret or is nobody is not let in, and no error shows a secret; a bucket that is not
// there is not taken for one in which nothing is.
func TestOutsideS3Refuses(t *testing.T) {
	set, stop := realS3(t)
	hash, _, err := reached(t, set).Put(t.Context(), strings.NewReader("a photo"), 100)
	if err != nil {
		t.Fatal(err)
	}
	for name, k := range map[string]struct {
		change func(*S3Settings)
		want   diag.Kind
	}{
		"another secret":   {func(s *S3Settings) { s.Secret = "invented-secret-9876543210" }, diag.Denied},
		"nobody":           {func(s *S3Settings) { s.KeyID = "another-id" }, diag.Denied},
		"no such bucket":   {func(s *S3Settings) { s.Bucket = "nothing" }, diag.Unavailable},
		"nothing to reach": {func(s *S3Settings) { s.Endpoint = "http://127.0.0.1:1" }, diag.Unavailable},
	} {
		other := set
		k.change(&other)
		if strings.HasSuffix(other.Endpoint, ":1") {
			_, _, err := reached(t, other).Get(t.Context(), hash) // each takes seconds: it is tried again
			if diag.KindOf(err) != k.want {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		for what, err := range everything(t.Context(), reached(t, other), hash) {
			if diag.KindOf(err) != k.want {
				t.Errorf("%s, %s: kind %v: %v: %+v", name, what, diag.KindOf(err), err, errors.Unwrap(err))
			}
			shown(t, err, string(other.Secret), string(set.Secret))
		}
	}
	stop()
	_, _, err = reached(t, set).Put(t.Context(), strings.NewReader("another photo"), 100)
	if diag.KindOf(err) != diag.Unavailable {
		t.Errorf("stopped: %v", err)
	}
}

// everything is the errors of everything that a store is asked.
func everything(ctx context.Context, s *Store, hash string) map[string]error {
	out := map[string]error{"reach": s.Reach(ctx)}
	_, _, out["put"] = s.Put(ctx, strings.NewReader("another photo"), 100)
	_, _, out["put again"] = s.Put(ctx, strings.NewReader("a photo"), 100)
	_, _, out["get"] = s.Get(ctx, hash)
	_, out["size"] = s.Size(ctx, hash)
	_, out["claim"] = s.Claim(ctx, hash)
	out["each"] = s.Each(ctx, func(string, int64) error { return nil })
	_, out["sweep"] = s.Sweep(ctx, func(context.Context, string) (bool, error) { return false, nil })
	_, out["scrub"] = s.Scrub(ctx, func(string, error) error { return nil })
	return out
}

// TestOutsideS3Cut: a server that is stopped while bytes are sent or read is an error that can be tried again, and
// nothing is promised.
func TestOutsideS3Cut(t *testing.T) {
	set, stop := realS3(t)
	s := reached(t, set)
	hash, _, err := s.Put(t.Context(), &generated{left: 40 << 20}, 1<<30)
	if err != nil {
		t.Fatal(err)
	}
	r, _, err := s.Get(t.Context(), hash)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.CopyN(io.Discard, r, 1<<20); err != nil {
		t.Fatal(err)
	}
	stop()
	_, read := io.Copy(io.Discard, r)
	if err := r.Close(); diag.KindOf(read) != diag.Unavailable {
		t.Errorf("read to the end of a line that broke off: %v %v", read, err)
	}
	if _, _, err := s.Put(t.Context(), &generated{left: 20 << 20, next: 1}, 1<<30); diag.KindOf(err) != diag.Unavailable {
		t.Errorf("put: %v", err)
	}
	if n := (&under{Store: s}).temporaries(t); n != 0 {
		t.Errorf("%d files were left behind", n)
	}
}

// TestOutsideS3LargeAtOnce: the same bytes that are sent in parts by several at once are kept once, and no parts are left.
func TestOutsideS3LargeAtOnce(t *testing.T) {
	set, _ := realS3(t)
	var c clock
	s, err := NewS3(set, t.TempDir(), "spool", c.now)
	if err != nil {
		t.Fatal(err)
	}
	const size = partSize + 1000
	var group sync.WaitGroup
	for range 3 {
		group.Go(func() {
			if _, _, err := s.Put(t.Context(), &generated{left: size}, size); err != nil {
				t.Error(err, errors.Unwrap(err))
			}
		})
	}
	group.Wait()
	u := &under{Store: s, ctx: t.Context()}
	if got := u.kept(t); len(got) != 1 {
		t.Errorf("%v are kept", got)
	}
	for hash := range u.kept(t) {
		readAway(t, s, hash, size)
	}
	c.add(2 * Grace)
	if left, err := u.tidied(); err != nil || left != 0 {
		t.Errorf("%d uploads were left behind: %v", left, err)
	}
}

// TestOutsideS3Memory: sending and reading 200 MB takes no more memory than 20.
func TestOutsideS3Memory(t *testing.T) {
	set, _ := realS3(t)
	s := reached(t, set)
	var took [2]int64
	for i, size := range []int64{20 << 20, 200 << 20} {
		took[i] = allocated(t, func() {
			hash, _, err := s.Put(t.Context(), &generated{left: size, next: uint64(i)}, size)
			if err != nil {
				t.Fatal(err)
			}
			readAway(t, s, hash, size)
		})
	}
	t.Logf("%d kB allocated for 20 MB, %d kB for 200 MB", took[0]>>10, took[1]>>10)
	if took[1] > took[0]+8<<20 {
		t.Errorf("%d bytes allocated for 200 MB", took[1])
	}
}
