package blobs

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// clock is ahead of the computer's by so much.
type clock struct{ ahead atomic.Int64 }

func (c *clock) now() time.Time      { return time.Now().Add(time.Duration(c.ahead.Load())) }
func (c *clock) add(d time.Duration) { c.ahead.Add(int64(d)) }

// under is a store under test.
type under struct {
	*Store
	*clock
	ctx    context.Context
	again  func() *Store                         // opens it as another program would
	change func(hash string, other []byte) error // what lies under a hash, behind the store's back
}

// open makes an empty store with a clock.
type open func(t *testing.T, c *clock) (again func() *Store, change func(hash string, other []byte) error)

// suite is what every maker of a Store has to keep.
func suite(t *testing.T, open open) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *under)
	}{
		{"put and get", putAndGet},
		{"what is no hash", noHash},
		{"limits", limits},
		{"broken off", brokenOff},
		{"parts", parts},
		{"large", large},
		{"each", each},
		{"put at once", putAtOnce},
		{"upload", upload},
		{"upload in disorder", uploadInDisorder},
		{"upload of other bytes", uploadOfOthers},
		{"upload refused", uploadRefused},
		{"upload given up", uploadGivenUp},
		{"upload at once", uploadAtOnce},
		{"sweep", sweep},
		{"sweep and put at once", sweepAndPut},
		{"sweep broken off", sweepBrokenOff},
		{"sweep too late", sweepTooLate},
		{"sweep that slept", sweepThatSlept},
		{"scrub", scrub},
		{"replaced", replaced},
		{"mended", mended},
	} {
		t.Run(c.name, func(t *testing.T) {
			var now clock
			again, change := open(t, &now)
			c.test(t, &under{again(), &now, t.Context(), again, change})
		})
	}
}

// text is bytes that are like no others of another number.
func text(n, size int) []byte {
	out := make([]byte, 0, size+32)
	for sum := sha256.Sum256(fmt.Append(nil, n)); len(out) < size; sum = sha256.Sum256(sum[:]) {
		out = append(out, sum[:]...)
	}
	return out[:size]
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func (u *under) put(t *testing.T, data []byte) string {
	t.Helper()
	hash, size, err := u.Put(u.ctx, bytes.NewReader(data), int64(len(data)))
	if err != nil || hash != hashOf(data) || size != int64(len(data)) {
		t.Fatalf("put %d bytes: %q %d %v", len(data), hash, size, err)
	}
	return hash
}

// has says that a store has bytes, whole.
func (u *under) has(t *testing.T, data []byte) {
	t.Helper()
	r, size, err := u.again().Get(u.ctx, hashOf(data))
	if err != nil {
		t.Fatalf("get %d bytes: %v", len(data), err)
	}
	got, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil || size != int64(len(data)) || !bytes.Equal(got, data) {
		t.Errorf("%d bytes, said to be %d, of %d: %v", len(got), size, len(data), err)
	}
}

// hasNot says that nothing is kept under the hash of bytes.
func (u *under) hasNot(t *testing.T, data []byte) {
	t.Helper()
	if _, _, err := u.again().Get(u.ctx, hashOf(data)); diag.KindOf(err) != diag.NotFound {
		t.Errorf("what should not be kept: %v", err)
	}
	if _, err := u.Size(u.ctx, hashOf(data)); diag.KindOf(err) != diag.NotFound {
		t.Errorf("what should not be kept has a size: %v", err)
	}
}

// kept is the hashes of all that is kept.
func (u *under) kept(t *testing.T) map[string]int64 {
	t.Helper()
	out := map[string]int64{}
	if err := u.Each(u.ctx, func(hash string, size int64) error { out[hash] = size; return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

func putAndGet(t *testing.T, u *under) {
	for _, size := range []int{0, 1, copyBuffer - 1, copyBuffer, copyBuffer + 1, 1 << 20} {
		data := text(size, size)
		u.hasNot(t, data)
		for range 2 {
			u.put(t, data)
			u.has(t, data)
		}
		if n, err := u.Size(u.ctx, hashOf(data)); err != nil || n != int64(size) {
			t.Errorf("size %d of %d: %v", n, size, err)
		}
		if n, err := u.Claim(u.ctx, hashOf(data)); err != nil || n != int64(size) {
			t.Errorf("claimed %d of %d: %v", n, size, err)
		}
	}
	// SHA-256 of "abc": FIPS 180-2, appendix B.1
	if got := u.put(t, []byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Error(got)
	}
}

func noHash(t *testing.T, u *under) {
	hash := u.put(t, []byte("a photo"))
	for _, no := range []string{"", hash[1:], hash + "0", strings.ToUpper(hash), "../" + hash[3:], strings.Repeat("0", 64), hash[:63] + "/", marksDir, uploadsDir} {
		_, _, get := u.Get(u.ctx, no)
		_, _, part := u.Range(u.ctx, no, 0, 1)
		_, size := u.Size(u.ctx, no)
		_, claim := u.Claim(u.ctx, no)
		for of, err := range map[string]error{"get": get, "range": part, "size": size, "claim": claim} {
			if diag.KindOf(err) != diag.NotFound {
				t.Errorf("%s of %q: %v", of, no, err)
			}
		}
	}
}

func limits(t *testing.T, u *under) {
	for n := range 4 {
		data := text(n, n)
		hash, size, err := u.Put(u.ctx, bytes.NewReader(data), 2)
		if n <= 2 {
			if err != nil || size != int64(n) {
				t.Errorf("%d bytes: %v", n, err)
			}
			continue
		}
		if diag.KindOf(err) != diag.Denied || hash != "" || size != 0 {
			t.Errorf("%d bytes where 2 may be: %q %d %v", n, hash, size, err)
		}
		u.hasNot(t, data)
	}
}

var errBroken = errors.New("the line broke off")

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errBroken }

// stops stops a context after so many reads.
type stops struct {
	io.Reader
	after int
	stop  func()
}

func (s *stops) Read(p []byte) (int, error) {
	if s.after--; s.after == 0 {
		s.stop()
	}
	return s.Reader.Read(p)
}

func brokenOff(t *testing.T, u *under) {
	half := text(1, copyBuffer*3)
	if _, _, err := u.Put(u.ctx, io.MultiReader(bytes.NewReader(half), broken{}), 1<<30); !errors.Is(err, errBroken) {
		t.Errorf("broken off: %v", err)
	}
	u.hasNot(t, half)
	for after := range 4 {
		ctx, stop := context.WithCancel(u.ctx)
		if after == 0 {
			stop()
		}
		if _, _, err := u.Put(ctx, &stops{bytes.NewReader(half), after, stop}, 1<<30); !errors.Is(err, context.Canceled) {
			t.Errorf("stopped after %d reads: %v", after, err)
		}
		stop()
	}
	u.hasNot(t, half)
	ctx, stop := context.WithCancel(u.ctx)
	stop()
	hash := u.put(t, half)
	_, _, get := u.Get(ctx, hash)
	_, size := u.Size(ctx, hash)
	_, claim := u.Claim(ctx, hash)
	_, begin := u.Begin(ctx, hash, 1, 1)
	_, swept := u.Sweep(ctx, func(context.Context, string) (bool, error) { return true, nil })
	for of, err := range map[string]error{"get": get, "size": size, "claim": claim, "begin": begin, "sweep": swept} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s, stopped: %v", of, err)
		}
	}
	if left := u.temporaries(t); left != 0 {
		t.Errorf("%d files were left behind", left)
	}
}

// temporaries is how many temporary files there are.
func (u *under) temporaries(t *testing.T) (n int) {
	t.Helper()
	d, err := u.spool(true)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(d.Each(".", func(fi fs.FileInfo) error {
		if safefile.IsTemporary(fi.Name()) {
			n++
		}
		return nil
	}), d.Close()); err != nil {
		t.Error(err)
	}
	return n
}

func parts(t *testing.T, u *under) {
	data := text(3, 100_000)
	hash := u.put(t, data)
	size := int64(len(data))
	for _, offset := range []int64{0, 1, 99_999, size} {
		for _, length := range []int64{0, 1, 2, 70_000, size, size + 1, 1 << 40} {
			r, n, err := u.Range(u.ctx, hash, offset, length)
			if err != nil {
				t.Errorf("%d from %d: %v", length, offset, err)
				continue
			}
			want := data[offset:min(offset+length, size)]
			got, err := io.ReadAll(r)
			if err = errors.Join(err, r.Close()); err != nil || n != int64(len(want)) || !bytes.Equal(got, want) {
				t.Errorf("%d from %d: %d bytes, said to be %d, want %d: %v", length, offset, len(got), n, len(want), err)
			}
		}
	}
	for _, no := range [][2]int64{{-1, 1}, {0, -1}, {size + 1, 0}, {size + 1, 1}} {
		if _, _, err := u.Range(u.ctx, hash, no[0], no[1]); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%v: %v", no, err)
		}
	}
}

// large is more than is sent to an S3 store at once, and no whole number of parts.
func large(t *testing.T, u *under) {
	data := text(4, partSize+partSize/2+7)
	for range 2 {
		u.put(t, data)
		u.has(t, data)
	}
}

func each(t *testing.T, u *under) {
	want := map[string]int64{}
	if got := u.kept(t); len(got) != 0 {
		t.Errorf("an empty store has %v", got)
	}
	for n := range 40 {
		want[u.put(t, text(n, n))] = int64(n)
	}
	if got := u.kept(t); !maps.Equal(got, want) {
		t.Errorf("%d are kept, want %d", len(got), len(want))
	}
	n := 0
	if err := u.Each(u.ctx, func(string, int64) error { n++; return errBroken }); !errors.Is(err, errBroken) || n != 1 {
		t.Errorf("after %d: %v", n, err)
	}
}

func putAtOnce(t *testing.T, u *under) {
	var group sync.WaitGroup
	for n := range 12 {
		group.Go(func() {
			data := text(n%3, 200_000)
			if hash, _, err := u.again().Put(u.ctx, bytes.NewReader(data), 1<<30); err != nil || hash != hashOf(data) {
				t.Errorf("%q %v", hash, err)
			}
		})
	}
	group.Wait()
	if got := u.kept(t); len(got) != 3 {
		t.Errorf("%d are kept, want 3", len(got))
	}
	for n := range 3 {
		u.has(t, text(n, 200_000))
	}
}

// begin begins an upload.
func (u *under) begin(t *testing.T, data []byte) Upload {
	t.Helper()
	up, err := u.Begin(u.ctx, hashOf(data), int64(len(data)), 1<<30)
	if err != nil || up.Have != 0 || up.Sealed || up.Size != int64(len(data)) {
		t.Fatalf("%+v %v", up, err)
	}
	return up
}

// send sends data[from:to] and asks another program how far the upload is.
func (u *under) send(t *testing.T, up Upload, data []byte, from, to int) int64 {
	t.Helper()
	sent, err := u.Send(u.ctx, up.ID, int64(from), bytes.NewReader(data[from:to]))
	if err != nil {
		t.Fatalf("from %d to %d: %v", from, to, err)
	}
	is, err := (&under{Store: u.again()}).UploadOf(u.ctx, up.ID)
	if err != nil || is.Have != sent.Have {
		t.Fatalf("from %d to %d: %d are there, another program says %d: %v", from, to, sent.Have, is.Have, err)
	}
	return is.Have
}

func (u *under) seal(t *testing.T, up Upload, data []byte) {
	t.Helper()
	for range 2 { // the answer to the first one may be lost
		if hash, size, err := u.again().Seal(u.ctx, up.ID); err != nil || hash != hashOf(data) || size != int64(len(data)) {
			t.Fatalf("%q %d %v", hash, size, err)
		}
		u.has(t, data)
	}
}

// upload is cut in every way between its pieces: some are sent twice, one breaks off; the sender asks how far it is
// and goes on there.
func upload(t *testing.T, u *under) {
	for _, size := range []int{0, 1, 1000, 300_000} {
		data := text(size, size)
		up := u.begin(t, data)
		step := size/4 + 1
		for at := 0; at < size; {
			if _, err := u.Send(u.ctx, up.ID, int64(at), io.MultiReader(bytes.NewReader(data[at:min(at+step/2, size)]), broken{})); !errors.Is(err, errBroken) {
				t.Errorf("broken off: %v", err)
			}
			if is, err := u.UploadOf(u.ctx, up.ID); err != nil || is.Have != int64(at) {
				t.Fatalf("%d are there, want %d: %v", is.Have, at, err)
			}
			if _, _, err := u.Seal(u.ctx, up.ID); diag.KindOf(err) != diag.Conflict {
				t.Errorf("sealed with %d of %d: %v", at, size, err)
			}
			to := min(at+step, size)
			for range 2 {
				if have := u.send(t, up, data, at, to); have != int64(to) {
					t.Fatalf("%d are there, want %d", have, to)
				}
			}
			at = to
		}
		u.hasNot(t, data)
		u.seal(t, up, data)
		is, err := u.Send(u.ctx, up.ID, 0, broken{})
		if err != nil || !is.Sealed || is.Have != int64(size) {
			t.Errorf("sent to what is sealed: %+v %v", is, err)
		}
	}
}

// uploadInDisorder sends pieces that overlap, from the last to the first, and of other lengths the second time.
func uploadInDisorder(t *testing.T, u *under) {
	data := text(9, 10_000)
	up := u.begin(t, data)
	for _, p := range []struct{ from, to, have int }{{7000, 10_000, 0}, {3000, 3500, 0}, {0, 1000, 1000}, {0, 500, 1000}, {900, 3200, 3500}, {200, 400, 3500}, {3500, 3500, 3500}, {3400, 7000, 10_000}} {
		if have := u.send(t, up, data, p.from, p.to); have != int64(p.have) {
			t.Errorf("from %d to %d: %d are there, want %d", p.from, p.to, have, p.have)
		}
	}
	u.seal(t, up, data)
}

func uploadOfOthers(t *testing.T, u *under) {
	data, other := text(5, 5000), text(6, 5000)
	up := u.begin(t, data)
	if have := u.send(t, up, slices.Concat(data[:4999], other[:1]), 0, 5000); have != 5000 {
		t.Error(have)
	}
	if hash, size, err := u.Seal(u.ctx, up.ID); diag.KindOf(err) != diag.Integrity || hash != "" || size != 0 {
		t.Errorf("other bytes were sealed: %q %d %v", hash, size, err)
	}
	if got := u.kept(t); len(got) != 0 {
		t.Errorf("other bytes are kept: %v", got)
	}
	if _, err := u.UploadOf(u.ctx, up.ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("an upload of other bytes goes on: %v", err)
	}
}

func uploadRefused(t *testing.T, u *under) {
	data := text(5, 5000)
	for name, k := range map[string]struct {
		hash       string
		size, most int64
		want       diag.Kind
	}{"no hash": {"x", 1, 9, diag.Invalid}, "less than nothing": {hashOf(data), -1, 9, diag.Invalid}, "more than may be": {hashOf(data), 10, 9, diag.Denied}} {
		if _, err := u.Begin(u.ctx, k.hash, k.size, k.most); diag.KindOf(err) != k.want {
			t.Errorf("%s: %v", name, err)
		}
	}
	up := u.begin(t, data)
	for name, k := range map[string]struct {
		offset int64
		size   int
		want   diag.Kind
	}{"before": {-1, 1, diag.Invalid}, "behind": {5001, 1, diag.Invalid}, "longer": {0, 5001, diag.Denied}, "longer by one": {4000, 1001, diag.Denied}, "at the end": {5000, 1, diag.Denied}} {
		if _, err := u.Send(u.ctx, up.ID, k.offset, bytes.NewReader(text(1, k.size))); diag.KindOf(err) != k.want {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, id := range []string{"", "..", "../" + up.ID[3:], strings.Repeat("0", 32), up.ID + "0", strings.ToUpper(up.ID) + "x"} {
		_, of := u.UploadOf(u.ctx, id)
		_, send := u.Send(u.ctx, id, 0, strings.NewReader("x"))
		_, _, seal := u.Seal(u.ctx, id)
		for _, err := range []error{of, send, seal} {
			if diag.KindOf(err) != diag.NotFound {
				t.Errorf("%q: %v", id, err)
			}
		}
	}
	// Pieces behind a gap cost no more room than all bytes.
	var err error
	n := 0
	for ; err == nil && n < 4000; n++ {
		_, err = u.Send(u.ctx, up.ID, int64(4000-n), bytes.NewReader(data[4000-n:]))
	}
	if diag.KindOf(err) != diag.Denied || n > 20 {
		t.Errorf("%d pieces that overlap: %v", n, err)
	}
	if have := u.send(t, up, data, 0, 4000); have != 5000 {
		t.Errorf("%d are there", have)
	}
	u.seal(t, up, data)
}

// uploadGivenUp: an upload that is not sealed within its time is over, and leaves nothing.
func uploadGivenUp(t *testing.T, u *under) {
	data, sealed := text(7, 3000), text(8, 3000)
	up, other := u.begin(t, data), u.begin(t, sealed)
	u.send(t, up, data, 0, 1500)
	u.send(t, other, sealed, 0, 3000)
	u.seal(t, other, sealed)
	u.add(UploadLife - time.Hour)
	if left, err := u.tidied(); err != nil || left != 0 {
		t.Errorf("%d were given up before their time: %v", left, err)
	}
	if is, err := u.UploadOf(u.ctx, up.ID); err != nil || is.Have != 1500 {
		t.Errorf("%+v %v", is, err)
	}
	u.add(2 * time.Hour)
	_, of := u.UploadOf(u.ctx, up.ID)
	_, send := u.Send(u.ctx, up.ID, 1500, bytes.NewReader(data[1500:]))
	_, _, seal := u.Seal(u.ctx, up.ID)
	for _, err := range []error{of, send, seal} {
		if diag.KindOf(err) != diag.NotFound {
			t.Errorf("after its time: %v", err)
		}
	}
	if left, err := u.tidied(); err != nil || left != 2 {
		t.Errorf("%d were given up, want 2: %v", left, err)
	}
	u.has(t, sealed)
	u.hasNot(t, data)
}

// tidied sweeps what was left behind by now; everything is referred to.
func (u *under) tidied() (int, error) {
	out, err := u.Sweep(u.ctx, func(context.Context, string) (bool, error) { return true, nil })
	return out.Left, err
}

// uploadAtOnce sends every piece from several senders at once, who all seal.
func uploadAtOnce(t *testing.T, u *under) {
	data := text(11, 90_000)
	up := u.begin(t, data)
	var group sync.WaitGroup
	for sender := range 4 {
		group.Go(func() {
			s := u.again()
			for n := range 9 {
				at := (n + sender*2) % 9 * 10_000
				if _, err := s.Send(u.ctx, up.ID, int64(at), bytes.NewReader(data[at:at+10_000])); err != nil {
					t.Error(err, errors.Unwrap(err))
				}
			}
			if hash, _, err := s.Seal(u.ctx, up.ID); err != nil || hash != hashOf(data) {
				t.Errorf("%q %v", hash, err)
			}
		})
	}
	group.Wait()
	u.has(t, data)
}

// refers says of hashes whether something refers to them.
type refers struct {
	mu sync.Mutex
	to map[string]bool
}

func (r *refers) set(hash string, is bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.to == nil {
		r.to = map[string]bool{}
	}
	r.to[hash] = is
}

func (r *refers) has(_ context.Context, hash string) (bool, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.to[hash], nil
}

func (u *under) swept(t *testing.T, r *refers, marked, removed int) {
	t.Helper()
	out, err := u.again().Sweep(u.ctx, r.has)
	if err != nil || out.Marked != marked || out.Removed != removed {
		t.Errorf("%+v %v, want %d marked and %d removed", out, err, marked, removed)
	}
}

// sweep: what nothing refers to is marked, and removed a day later; not earlier, and not if it was put or claimed again or
// something refers to it by then.
func sweep(t *testing.T, u *under) {
	data := map[string][]byte{}
	var r refers
	for n, name := range []string{"used", "loose", "put", "claimed", "used later", "used and loose", "sealed"} {
		data[name] = text(n, 100+n)
		u.put(t, data[name])
	}
	r.set(hashOf(data["used"]), true)
	r.set(hashOf(data["used and loose"]), true)
	u.swept(t, &r, 5, 0)
	u.swept(t, &r, 0, 0)
	u.add(Grace - time.Minute)
	u.swept(t, &r, 0, 0)
	u.put(t, data["put"])
	if _, err := u.Claim(u.ctx, hashOf(data["claimed"])); err != nil {
		t.Error(err)
	}
	up := u.begin(t, data["sealed"])
	u.send(t, up, data["sealed"], 0, len(data["sealed"]))
	u.seal(t, up, data["sealed"])
	r.set(hashOf(data["used later"]), true)
	r.set(hashOf(data["used and loose"]), false)
	u.add(2 * time.Minute)
	if _, err := u.Sweep(u.ctx, func(context.Context, string) (bool, error) { return false, errBroken }); !errors.Is(err, errBroken) {
		t.Errorf("nobody knew what is referred to: %v", err)
	}
	if len(u.kept(t)) != 7 {
		t.Error("something was removed though nobody knew what is referred to")
	}
	u.swept(t, &r, 4, 1) // marked: put, claimed, sealed and loose again; removed: loose
	u.hasNot(t, data["loose"])
	delete(data, "loose")
	for _, d := range data {
		u.has(t, d)
	}
	u.add(Grace + time.Minute)
	u.swept(t, &r, 0, 4)
	if got := u.kept(t); len(got) != 2 {
		t.Errorf("%d are kept, want 2", len(got))
	}
	u.has(t, data["used"])
	u.has(t, data["used later"])
	u.put(t, data["put"]) // what was removed can be put again
	u.has(t, data["put"])
	r.set(hashOf(data["used later"]), false) // its first mark is long gone
	u.swept(t, &r, 2, 0)
	u.has(t, data["used later"])
}

// sweepAndPut puts, claims and uploads bytes whose mark is a day old while two programs sweep. What was put is
// there afterwards: the notes of it are made when it returned.
func sweepAndPut(t *testing.T, u *under) {
	var removed, claimed int
	for round := range 12 {
		data := text(round, 50)
		hash := hashOf(data)
		u.put(t, data)
		var r refers
		if _, err := u.Sweep(u.ctx, r.has); err != nil {
			t.Fatal(err)
		}
		u.add(Grace + time.Hour)
		var group sync.WaitGroup
		for range 2 {
			group.Go(func() {
				out, err := u.again().Sweep(u.ctx, r.has)
				if err != nil {
					t.Error(err)
				}
				if out.Removed > 0 {
					r.mu.Lock()
					removed += out.Removed
					r.mu.Unlock()
				}
			})
		}
		group.Go(func() {
			s := u.again()
			time.Sleep(time.Duration(round) * time.Millisecond / 4)
			if round%3 == 0 {
				if _, err := s.Claim(u.ctx, hash); err != nil {
					if diag.KindOf(err) != diag.NotFound {
						t.Error(err)
					}
					return // it was gone, and whoever asked was told so
				}
				claimed++
			} else if _, _, err := s.Put(u.ctx, bytes.NewReader(data), 100); err != nil {
				t.Error(err)
			}
			r.set(hash, true)
		})
		group.Wait()
		if r.to[hash] {
			u.has(t, data)
		}
	}
	t.Logf("%d removed in 12 rounds, %d claimed", removed, claimed)
}

// sweepBrokenOff: a removal that was announced by a program that died holds up whoever puts the same, until it is stale.
func sweepBrokenOff(t *testing.T, u *under) {
	data := text(1, 50)
	hash := u.put(t, data)
	s := u.again()
	s.wait = 30 * time.Millisecond
	if made, err := s.kept.make(u.ctx, removal, hash, u.clock.now()); err != nil || !made {
		t.Fatal(made, err)
	}
	_, _, put := s.Put(u.ctx, bytes.NewReader(data), 100)
	_, claim := s.Claim(u.ctx, hash)
	for _, err := range []error{put, claim} {
		if diag.KindOf(err) != diag.Unavailable {
			t.Errorf("put while it is being removed: %v", err)
		}
	}
	u.has(t, data)
	u.add(staleRemoval + 2*time.Second)
	u.put(t, data)
	if _, err := s.kept.since(u.ctx, removal, hash); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a stale removal is still there: %v", err)
	}
	if made, err := s.kept.make(u.ctx, removal, hash, u.clock.now()); err != nil || !made {
		t.Fatal(made, err)
	}
	u.add(staleRemoval + 2*time.Second)
	if _, err := u.tidied(); err != nil {
		t.Error(err)
	}
	if _, err := s.kept.since(u.ctx, removal, hash); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a stale removal is still there after a sweep: %v", err)
	}
	u.has(t, data)
}

// sweepTooLate: bytes that something refers to only when their removal was announced are not removed.
func sweepTooLate(t *testing.T, u *under) {
	data := text(1, 50)
	u.put(t, data)
	u.swept(t, &refers{}, 1, 0)
	u.add(Grace + time.Minute)
	asked := 0
	out, err := u.Sweep(u.ctx, func(context.Context, string) (bool, error) { asked++; return asked == 3, nil })
	if err != nil || out.Removed != 0 || asked != 3 {
		t.Errorf("%+v, asked %d times: %v", out, asked, err)
	}
	u.has(t, data)
	u.put(t, data) // and nobody is held up
}

// sweepThatSlept: whoever has announced a removal and comes to do it only when others take it for broken off, because the
// computer slept meanwhile, removes nothing.
func sweepThatSlept(t *testing.T, u *under) {
	data := text(1, 50)
	u.put(t, data)
	u.swept(t, &refers{}, 1, 0)
	u.add(Grace + time.Minute)
	asked := 0
	out, err := u.Sweep(u.ctx, func(context.Context, string) (bool, error) {
		if asked++; asked == 3 { // for the mark, at the mark, and once the removal is announced
			u.add(staleRemoval)
		}
		return false, nil
	})
	if err != nil || out.Removed != 0 || asked != 3 {
		t.Errorf("%+v, asked %d times: %v", out, asked, err)
	}
	u.has(t, data)
	u.swept(t, &refers{}, 0, 1)
}

// scrub names all that was changed behind the store's back, and nothing else.
func scrub(t *testing.T, u *under) {
	want := map[string]bool{}
	var sum int64
	for n := range 20 {
		data := text(n, 1000+n)
		hash := u.put(t, data)
		sum += int64(len(data))
		if n%3 > 0 {
			continue
		}
		want[hash] = true
		other := bytes.Clone(data)
		switch n % 4 {
		case 0:
			other[n*37] ^= 1 << (n % 8)
		case 1:
			other = other[:len(other)-1]
			sum--
		case 2:
			other = append(other, 0)
			sum++
		case 3:
			sum -= int64(len(other))
			other = nil
		}
		if err := u.change(hash, other); err != nil {
			t.Fatal(err)
		}
	}
	got := map[string]bool{}
	out, err := u.Scrub(u.ctx, func(hash string, why error) error {
		if got[hash] = true; diag.KindOf(why) != diag.Integrity {
			t.Errorf("%s: %v", hash, why)
		}
		return nil
	})
	if err != nil || !maps.Equal(got, want) || out != (Scrubbed{20, sum, len(want)}) {
		t.Errorf("%+v %v: %d damaged, want %d of %d bytes", out, err, len(got), len(want), sum)
	}
	if _, err := u.Scrub(u.ctx, func(string, error) error { return errBroken }); !errors.Is(err, errBroken) {
		t.Error(err)
	}
}

// replaced: bytes of which not as many are kept as there were are mended when they are put again.
func replaced(t *testing.T, u *under) {
	data := text(2, 2000)
	hash := u.put(t, data)
	if err := u.change(hash, data[:1000]); err != nil {
		t.Fatal(err)
	}
	r, _, err := u.Get(u.ctx, hash)
	if err != nil {
		t.Fatal(err)
	}
	_, read := io.ReadAll(r)
	if err := r.Close(); err != nil || diag.KindOf(read) != diag.Integrity {
		t.Errorf("half of it was read: %v %v", read, err)
	}
	part, _, err := u.Range(u.ctx, hash, 0, 2000)
	if err != nil {
		t.Fatal(err)
	}
	if err := part.Close(); err != nil {
		t.Error(err)
	}
	u.put(t, data)
	u.has(t, data)
}

// mended: bytes of which one is another are mended by those that were there, and by no others.
func mended(t *testing.T, u *under) {
	data := text(3, 2000)
	hash := u.put(t, data)
	other := bytes.Clone(data)
	other[1234] ^= 4
	if err := u.change(hash, other); err != nil {
		t.Fatal(err)
	}
	if err := u.Mend(u.ctx, hash, bytes.NewReader(other), 2000); diag.KindOf(err) != diag.Integrity {
		t.Errorf("mended by other bytes: %v", err)
	}
	if err := u.Mend(u.ctx, hash, bytes.NewReader(data), 1999); diag.KindOf(err) != diag.Denied {
		t.Errorf("mended by more than may be: %v", err)
	}
	if out, err := u.Scrub(u.ctx, func(string, error) error { return nil }); err != nil || out.Damaged != 1 {
		t.Errorf("%+v %v", out, err)
	}
	for range 2 {
		if err := u.again().Mend(u.ctx, hash, bytes.NewReader(data), 2000); err != nil {
			t.Error(err)
		}
		u.has(t, data)
	}
	if n := u.temporaries(t); n != 0 {
		t.Errorf("%d files were left behind", n)
	}
}
