package blobs

import (
	"encoding/binary"
	"errors"
	"io"
	"runtime"
	"testing"
	"time"

	"fettle/internal/diag"
)

// generated is so many bytes that are made while they are read.
type generated struct {
	left int64
	next uint64
}

func (g *generated) Read(p []byte) (int, error) {
	if g.left == 0 {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), g.left))
	for at := 0; at < n; at += 8 {
		var word [8]byte
		g.next = g.next*6364136223846793005 + 1442695040888963407 // a linear congruential generator (Knuth, MMIX)
		binary.LittleEndian.PutUint64(word[:], g.next)
		copy(p[at:n], word[:])
	}
	g.left -= int64(n)
	return n, nil
}

// allocated is how many bytes of memory were asked for meanwhile, given back or not.
func allocated(t testing.TB, do func()) int64 {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return int64(after.TotalAlloc - before.TotalAlloc)
}

func readAway(t testing.TB, s *Store, hash string, size int64) {
	t.Helper()
	r, _, err := s.Get(t.Context(), hash)
	if err != nil {
		t.Fatal(err)
	}
	n, err := io.CopyBuffer(struct{ io.Writer }{io.Discard}, r, make([]byte, copyBuffer))
	if err = errors.Join(err, r.Close()); err != nil || n != size {
		t.Fatalf("%d of %d bytes: %v", n, size, err)
	}
}

// onDisk puts and reads so many bytes in a folder, whole and in pieces.
func onDisk(t testing.TB, s *Store, size int64) {
	t.Helper()
	hash, n, err := s.Put(t.Context(), &generated{left: size}, size)
	if err != nil || n != size {
		t.Fatal(n, err)
	}
	readAway(t, s, hash, size)
	if _, err := s.Scrub(t.Context(), func(_ string, err error) error { return err }); err != nil {
		t.Error(err)
	}
}

func inPieces(t testing.TB, s *Store, size, piece int64) {
	t.Helper()
	all := &generated{left: size, next: 1}
	sum, _, err := copyHashed(t.Context(), io.Discard, &generated{left: size, next: 1}, size)
	if err != nil {
		t.Fatal(err)
	}
	up, err := s.Begin(t.Context(), sum, size, size)
	if err != nil {
		t.Fatal(err)
	}
	for at := int64(0); at < size; at += piece {
		if _, err := s.Send(t.Context(), up.ID, at, io.LimitReader(all, piece)); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := s.Seal(t.Context(), up.ID); err != nil {
		t.Fatal(err)
	}
}

// TestMemoryDoesNotGrow: 50 MB take as little memory as 1 MB, all that was ever asked for counted: 1 MB, by the promise
// in docs/store.md, and for each piece of an upload two buffers.
func TestMemoryDoesNotGrow(t *testing.T) {
	s := NewFolder(t.TempDir(), "blobs", time.Now)
	const most = 1 << 20
	for _, size := range []int64{1 << 20, 50 << 20} {
		if n := allocated(t, func() { onDisk(t, s, size) }); n > most {
			t.Errorf("%d bytes: %d allocated", size, n)
		}
		if n := allocated(t, func() { inPieces(t, s, size, 8<<20) }); n > most+(size>>23)*3*copyBuffer {
			t.Errorf("%d bytes in pieces: %d allocated", size, n)
		}
	}
	var stopped *diag.Error
	if _, _, err := s.Put(t.Context(), &generated{left: 50 << 20}, 49<<20); !errors.As(err, &stopped) || stopped.Kind != diag.Denied {
		t.Error(err)
	}
}

// BenchmarkPut500MB puts 500 MB into a folder and reads them.
func BenchmarkPut500MB(b *testing.B) {
	const size = 500 << 20
	b.SetBytes(size)
	var kB int64
	for b.Loop() {
		s := NewFolder(b.TempDir(), "blobs", time.Now)
		kB = allocated(b, func() { onDisk(b, s, size) }) >> 10
	}
	b.ReportMetric(float64(kB), "kB-allocated")
}

// BenchmarkPutPhoto puts photos of 4 MB, each another one.
func BenchmarkPutPhoto(b *testing.B) {
	s := NewFolder(b.TempDir(), "blobs", time.Now)
	b.SetBytes(4 << 20)
	for n := uint64(0); b.Loop(); n++ {
		if _, _, err := s.Put(b.Context(), &generated{left: 4 << 20, next: n}, 4<<20); err != nil {
			b.Fatal(err)
		}
	}
}
