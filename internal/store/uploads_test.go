package store

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"net/http/httptest"
	"os"
	"runtime"
	"strconv"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/store/blobs"
	"fettle/internal/store/storetest"
)

// manyFiles is how many files are sent over a link that is cut; FETTLE_UPLOADS says more (200 for the whole campaign).
func manyFiles(usual int) int {
	if n, err := strconv.Atoi(os.Getenv("FETTLE_UPLOADS")); err == nil {
		return n
	}
	return usual
}

func inMemory(_ testing.TB, now func() time.Time) func() (app.Store, app.Uploads) {
	m := NewMemory(now)
	return func() (app.Store, app.Uploads) { return m, m.Uploads() }
}

func inFolder(t testing.TB, now func() time.Time) func() (app.Store, app.Uploads) {
	dir := t.TempDir()
	return func() (app.Store, app.Uploads) {
		f := OpenFolder(dir, now)
		return f, f.Uploads()
	}
}

func TestUploadsOfMemory(t *testing.T) { storetest.TestUploads(t, manyFiles(40), inMemory) }
func TestUploadsOfFolder(t *testing.T) { storetest.TestUploads(t, manyFiles(10), inFolder) }

// TestUploadsOfS3: jobs in memory, bytes in an S3 store (a double, in memory).
func TestUploadsOfS3(t *testing.T) {
	storetest.TestUploads(t, manyFiles(10), func(t testing.TB, now func() time.Time) func() (app.Store, app.Uploads) {
		backend := s3mem.New()
		if err := backend.CreateBucket("shop"); err != nil {
			t.Fatal(err)
		}
		server := httptest.NewUnstartedServer(gofakes3.New(backend).Server())
		server.Config.ErrorLog = log.New(io.Discard, "", 0)
		server.Start()
		t.Cleanup(func() { server.CloseClientConnections(); server.Close() })
		m := NewMemory(now)
		in, err := blobs.NewS3(blobs.S3Settings{Endpoint: server.URL, Bucket: "shop", Region: "us-east-1", KeyID: "id", Secret: "a-secret"}, t.TempDir(), "spool", now)
		if err != nil {
			t.Fatal(err)
		}
		m.blobs = in
		return func() (app.Store, app.Uploads) { return m, m.Uploads() }
	})
}

// meshLike is so many bytes that begin as a PLY does.
type meshLike struct {
	at, size int64
}

func (m *meshLike) Read(p []byte) (int, error) {
	n := 0
	for ; n < len(p) && m.at < m.size; n++ {
		if p[n] = byte(m.at * 7 >> 3); m.at < 4 {
			p[n] = "ply\n"[m.at]
		}
		m.at++
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// TestUploadsTakeOneMegabyte: what an upload of eight pieces asks for of memory, given back or not, is the same for
// 8 MiB and for 64 MiB to a megabyte.
func TestUploadsTakeOneMegabyte(t *testing.T) {
	s := storetest.NewSender(t, app.UsualUploads, inFolder)
	asked := func(size int64) int64 {
		whole, err := hashed(&meshLike{size: size})
		if err != nil {
			t.Fatal(err)
		}
		pieces := make([]string, 8)
		for i := range pieces {
			if pieces[i], err = hashed(&meshLike{at: size / 8 * int64(i), size: size / 8 * int64(i+1)}); err != nil {
				t.Fatal(err)
			}
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f := storetest.SendingOf("casting.ply", nil)
		f.SHA256, f.Size = whole, size
		up, err := s.Begin(t.Context(), "p-1", fmt.Sprint(size), f)
		for i := int64(0); i < 8 && err == nil; i++ {
			up, err = s.Send(t.Context(), "p-1", storetest.SentTo, up.ID, size/8*i, pieces[i], &meshLike{at: size / 8 * i, size: size / 8 * (i + 1)})
		}
		if err == nil {
			up, err = s.Seal(t.Context(), "p-1", storetest.SentTo, up.ID)
		}
		if runtime.ReadMemStats(&after); err != nil || up.Recorded == "" {
			t.Fatal(up, err)
		}
		return int64(after.TotalAlloc - before.TotalAlloc)
	}
	asked(4 << 20) // what is made once
	small, large := asked(8<<20), asked(64<<20)
	t.Logf("8 MiB asked for %d bytes of memory, 64 MiB for %d", small, large)
	if large-small > 1<<20 {
		t.Errorf("64 MiB take %d bytes of memory more than 8 MiB", large-small)
	}
}

func hashed(r io.Reader) (string, error) {
	h := sha256.New()
	_, err := io.CopyBuffer(struct{ io.Writer }{h}, r, make([]byte, 1<<16))
	return fmt.Sprintf("%x", h.Sum(nil)), err
}

// modelled is what the model knows of a file that is sent.
type modelled struct {
	id       string
	open     bool
	ends     time.Time
	there    []bool // each byte
	recorded string
}

func (m *modelled) have() int64 {
	for i, is := range m.there {
		if !is {
			return int64(i)
		}
	}
	return int64(len(m.there))
}

// sequence makes the calls that bytes tell, by two people about three files each, and holds each answer against a model.
func sequence(t *testing.T, tape []byte) {
	const size = 40
	s := storetest.NewSender(t, app.UsualUploads, inMemory)
	people, files := []string{"p-1", "p-2"}, map[string]*modelled{}
	next := func() int {
		if len(tape) == 0 {
			return 0
		}
		b := tape[0]
		tape = tape[1:]
		return int(b)
	}
	for step := 0; len(tape) > 0 && step < 60; step++ {
		op, who, n := next()%8, people[next()%2], next()%3
		name := fmt.Sprint(who, "-", n)
		data := storetest.Text(int(who[2])*10+n, size)
		m := files[name]
		if m == nil {
			m = &modelled{id: fmt.Sprintf("%032x", len(name))}
			files[name] = m
		}
		if m.open && !s.Clock.Now().Before(m.ends) {
			m.open = false
		}
		var got app.Sent
		var err error
		want := diag.NotFound
		fine := m.recorded != ""
		switch op {
		case 0, 1:
			got, err = s.Begin(t.Context(), who, name, storetest.SendingOf("a.txt", data))
			if fine = true; m.recorded == "" && !m.open {
				m.open, m.ends, m.there, m.id = true, s.Clock.Now().Add(blobs.UploadLife), make([]bool, size), got.ID
			}
		case 2, 3:
			from := next() % (size + 5)
			to := from + next()%(size+5-from)
			if op == 3 && next()%2 == 0 {
				from, to = 0, size
			}
			piece := data[min(from, size):min(to, size)]
			if to > size {
				piece = append(bytes.Clone(piece), make([]byte, to-max(size, from))...)
			}
			sum, odd := storetest.HashOf(piece), next()%5 == 0
			if odd {
				sum = storetest.HashOf([]byte("other"))
			}
			got, err = s.Send(t.Context(), who, storetest.SentTo, m.id, int64(from), sum, bytes.NewReader(piece))
			if !m.open || m.recorded != "" {
				break
			}
			switch {
			case from > size:
				want = diag.Invalid
			case odd && to <= size:
				want = diag.Integrity
			case to > size:
				if want = diag.KindOf(err); want != diag.Denied && want != diag.Integrity {
					t.Fatalf("a piece that is too long: %v", err)
				}
			case int64(from) > m.have() && diag.KindOf(err) == diag.Denied && err != nil:
				want = diag.Denied // behind a gap, more than what is there may be
			default:
				fine = true
				for i := from; i < to; i++ {
					m.there[i] = true
				}
			}
		case 4:
			got, err = s.Seal(t.Context(), who, storetest.SentTo, m.id)
			if m.open && m.recorded == "" {
				want = diag.Conflict
				if fine = m.have() == size; fine {
					m.recorded, m.open = string(got.Recorded), false
				}
			}
		case 5:
			if err = s.Drop(t.Context(), who, storetest.SentTo, m.id); err != nil {
				t.Fatal(err)
			}
			m.open = false
			continue
		case 6:
			got, err = s.State(t.Context(), who, storetest.SentTo, m.id)
			fine = fine || m.open
		case 7:
			if next()%4 == 0 {
				s.Clock.Add(time.Duration(1+next()%8) * 24 * time.Hour)
				continue
			}
			other := people[0]
			if who == other {
				other = people[1]
			}
			if _, err := s.Seal(t.Context(), other, storetest.SentTo, m.id); err == nil || diag.KindOf(err) != diag.NotFound {
				t.Fatalf("an upload of %s was sealed by %s: %v", who, other, err)
			}
			continue
		}
		switch {
		case fine != (err == nil):
			t.Fatalf("step %d, op %d, %s: %+v %v; the model: fine %v, %+v", step, op, name, got, err, fine, m)
		case !fine && diag.KindOf(err) != want:
			t.Fatalf("step %d, op %d, %s: %v, want kind %d", step, op, name, err, want)
		case fine && string(got.Recorded) != m.recorded:
			t.Fatalf("step %d, op %d, %s: on record as %q, the model %q", step, op, name, got.Recorded, m.recorded)
		case fine && m.recorded == "" && got.Have != m.have():
			t.Fatalf("step %d, op %d, %s: %d bytes are there, the model has %d", step, op, name, got.Have, m.have())
		}
	}
	count := 0
	for _, m := range files {
		if m.recorded != "" {
			count++
		}
	}
	s.Holds(t, "a", count)
}

// FuzzUploads looks for calls whose answers are other than those of a model.
func FuzzUploads(f *testing.F) {
	draw := rand.New(rand.NewPCG(19, 11))
	for range 25 {
		tape := make([]byte, 250)
		for i := range tape {
			tape[i] = byte(draw.Uint32())
		}
		f.Add(tape)
	}
	f.Add([]byte{0, 0, 0, 2, 0, 0, 0, 44, 1, 4, 0, 0, 4, 0, 0, 0, 0, 0, 7, 0, 0, 4, 7, 4, 0, 0})
	f.Fuzz(func(t *testing.T, tape []byte) { sequence(t, tape) })
}
