package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// OpenUploads makes an empty store with a clock, and opens it again as another program would.
type OpenUploads func(t testing.TB, now func() time.Time) (again func() (app.Store, app.Uploads))

// TestUploads puts files on record that come in pieces: so many over a link that is cut ten times in each, and those
// that are refused.
func TestUploads(t *testing.T, files int, open OpenUploads) {
	for _, c := range []struct {
		name string
		test func(*Sender, *testing.T)
	}{
		{"cut", func(s *Sender, t *testing.T) { s.cut(t, files) }},
		{"refused", (*Sender).refused},
		{"kinds", (*Sender).kinds},
		{"of a finding", (*Sender).ofFinding},
		{"others", (*Sender).others},
		{"at once", (*Sender).atOnce},
		{"expired", (*Sender).expired},
		{"limits", (*Sender).limited},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(NewSender(t, app.UsualUploads, open), t) })
	}
}

// SentTo is the job that files are sent for.
const SentTo = "DEMO"

// Sender is a person with a camera, and the store that files are sent to.
type Sender struct {
	*app.Uploader
	To    app.Store
	Clock *Clock
	open  func(app.UploadLimits) *app.Uploader
	again func() (app.Store, app.Uploads)
	app   *app.App
}

// NewSender keeps the demonstration in a store that files can be sent to.
func NewSender(t testing.TB, l app.UploadLimits, open OpenUploads) *Sender {
	t.Helper()
	clock := &Clock{at: time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC)}
	again := open(t, clock.Now)
	to, in := again()
	a := app.New(folders.Coarse(), "test").WithBodies(&written).WithStores(func(string) (app.Store, string) { return to, SentTo })
	before, err := a.Open(t.Context(), demo.Job)
	if err == nil {
		_, err = a.Keep(t.Context(), before, "p-1", "keep")
	}
	if err != nil {
		t.Fatal(err)
	}
	s := &Sender{To: to, Clock: clock, again: again, app: a}
	s.open = func(l app.UploadLimits) *app.Uploader { return a.Uploader(to, in, l) }
	s.Uploader = s.open(l)
	return s
}

// HashOf is the SHA-256 of bytes.
func HashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// SendingOf announces a file.
func SendingOf(name string, data []byte) app.Sending {
	return app.Sending{Job: SentTo, Name: name, SHA256: HashOf(data), Size: int64(len(data)), Text: "What it shows", By: "T2", On: unit.Date{Year: 2026, Month: 11, Day: 25}}
}

// Text is a text of so many bytes that no other number has.
func Text(n, size int) []byte {
	out := []byte(fmt.Sprintf("%d\n", n))
	for x := uint64(n) + 1; len(out) < size; {
		x = x*6364136223846793005 + 1442695040888963407 // D. Knuth, MMIX
		out = fmt.Appendf(out, "%016x\n", x)
	}
	return out[:max(size, 8)]
}

// pngOf is a PNG that says it has so many dots, and has none (ISO/IEC 15948, 5.3 and 11.2.2).
func pngOf(w, h uint32) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	head = append(head, 8, 2, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	return binary.BigEndian.AppendUint32(append(out, head...), crc32.ChecksumIEEE(head))
}

// broken gives so many bytes and then fails, as a link that is cut does.
type broken struct {
	io.Reader
	left int
}

var errCut = errors.New("the link was cut")

func (b *broken) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errCut
	}
	n, err := b.Reader.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}

// evidence is what is on record of each hash.
func (s *Sender) evidence(t testing.TB) map[string][]job.Evidence {
	t.Helper()
	to, _ := s.again()
	lines, err := to.Lines(context.WithoutCancel(t.Context()), SentTo)
	if err != nil {
		t.Fatal(err)
	}
	stored, err := (&job.Folds{}).Read(job.ChainOf(lines))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]job.Evidence{}
	for _, e := range stored.State().Evidence {
		out[e.SHA256] = append(out[e.SHA256], e)
	}
	return out
}

// keeps says that a file is on record once, and that its bytes are those that were sent.
func (s *Sender) keeps(t testing.TB, data []byte) {
	t.Helper()
	if got := s.evidence(t)[HashOf(data)]; len(got) != 1 {
		t.Errorf("it is on record %d times", len(got))
	}
	to, _ := s.again()
	r, n, err := to.Get(t.Context(), HashOf(data))
	if err != nil {
		t.Error(err)
		return
	}
	got, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil || n != int64(len(data)) || !bytes.Equal(got, data) {
		t.Errorf("%d bytes are kept, and not those that were sent: %v", n, err)
	}
}

// cut sends files over a link that is cut ten times in each: in the middle of a piece, before its answer, before the
// answer of the beginning or the sealing. The sender does what it is told, and begins anew with its key where it knows nothing.
func (s *Sender) cut(t *testing.T, files int) {
	draw := rand.New(rand.NewPCG(19, 7))
	for n := range files {
		data := Text(n, 1+draw.IntN(60_000))
		up, err := s.Begin(t.Context(), "p-1", fmt.Sprint("key-", n), SendingOf("note.txt", data))
		for cuts := 0; up.Recorded == ""; {
			if err != nil {
				t.Fatal(err)
			}
			if cuts < 10 && draw.IntN(8) == 0 { // the tablet was off, and knows its key
				cuts++
				up, err = s.Begin(t.Context(), "p-1", fmt.Sprint("key-", n), SendingOf("note.txt", data))
				continue
			}
			rest := data[up.Have:]
			if len(rest) == 0 && cuts >= 10 || len(rest) == 0 && draw.IntN(2) == 0 {
				if up, err = s.Seal(t.Context(), "p-1", SentTo, up.ID); cuts < 10 && err == nil { // its answer is lost
					cuts++
					up, err = s.Seal(t.Context(), "p-1", SentTo, up.ID)
				}
				continue
			}
			piece := rest[:min(len(rest), 1+draw.IntN(len(data)/4+1))]
			var r io.Reader = bytes.NewReader(piece)
			if lost := cuts < 10 && draw.IntN(2) == 0; lost {
				r, cuts = &broken{r, draw.IntN(len(piece) + 1)}, cuts+1
				if _, err = s.Send(t.Context(), "p-1", SentTo, up.ID, up.Have, HashOf(piece), r); err == nil || !errors.Is(err, errCut) {
					t.Fatalf("a piece that did not come whole: %v", err)
				}
				up, err = s.State(t.Context(), "p-1", SentTo, up.ID)
				continue
			}
			after, sent := s.Send(t.Context(), "p-1", SentTo, up.ID, up.Have, HashOf(piece), r)
			if err = sent; cuts < 10 && draw.IntN(3) == 0 { // its answer is lost: the sender sends it again
				cuts++
				continue
			}
			up = after
		}
		if err != nil {
			t.Fatal(err)
		}
		if n%10 == 0 { // asked once more, long after: the answer is the same, and nothing is to be sent
			if again, err := s.Begin(t.Context(), "p-1", fmt.Sprint("key-", n), SendingOf("note.txt", data)); err != nil || again.Recorded != up.Recorded {
				t.Fatalf("begun again: %+v %v, it is %s", again, err, up.Recorded)
			}
		}
	}
	s.Holds(t, "note", files)
}

// Holds says that so many files that were sent under a name are on record, each once, whole and under a name of its own.
func (s *Sender) Holds(t testing.TB, name string, files int) {
	t.Helper()
	byHash, names, sent := s.evidence(t), map[string]bool{}, 0
	for hash, list := range byHash {
		for _, e := range list {
			if names[strings.ToLower(e.File)] {
				t.Errorf("two files are called %s", e.File)
			}
			names[strings.ToLower(e.File)] = true
		}
		if list[0].File == name+".txt" || strings.HasPrefix(list[0].File, name+"-") {
			sent++
			if len(list) != 1 {
				t.Errorf("%s is on record %d times", hash, len(list))
			}
			to, _ := s.again()
			r, _, err := to.Get(t.Context(), hash)
			if err == nil {
				_, err = io.Copy(io.Discard, r) // fails where they are not those of the hash
				err = errors.Join(err, r.Close())
			}
			if err != nil {
				t.Errorf("%s: %v", list[0].File, err)
			}
		}
	}
	if sent != files {
		t.Errorf("%d files are on record, %d were sent", sent, files)
	}
}

// begin begins an upload that has to be taken.
func (s *Sender) begin(t testing.TB, key string, f app.Sending) app.Sent {
	t.Helper()
	up, err := s.Begin(t.Context(), "p-1", key, f)
	if err != nil {
		t.Fatal(err)
	}
	return up
}

// send sends a piece of data by person p-1.
func (s *Sender) send(t testing.TB, up app.Sent, data []byte, from, to int) (app.Sent, error) {
	return s.Send(t.Context(), "p-1", SentTo, up.ID, int64(from), HashOf(data[from:to]), bytes.NewReader(data[from:to]))
}

// whole sends a file that has to be taken.
func (s *Sender) whole(t testing.TB, key string, f app.Sending, data []byte) app.Sent {
	t.Helper()
	up := s.begin(t, key, f)
	_, err := s.send(t, up, data, 0, len(data))
	if err == nil {
		up, err = s.Seal(t.Context(), "p-1", SentTo, up.ID)
	}
	if err != nil {
		t.Fatal(err)
	}
	return up
}

func (s *Sender) refused(t *testing.T) {
	data := Text(1, 20_000)
	up := s.begin(t, "k", SendingOf("a.txt", data))
	want := func(what string, kind diag.Kind, err error) {
		t.Helper()
		if kind == fine && err != nil || kind != fine && (err == nil || diag.KindOf(err) != kind) {
			t.Errorf("%s: %v, want kind %d", what, err, kind)
		}
	}
	_, err := s.Send(t.Context(), "p-1", SentTo, up.ID, 0, HashOf(data), bytes.NewReader(data[:900]))
	want("a piece with the hash of another one", diag.Integrity, err)
	for _, offset := range []int64{-1, 20_001} {
		_, err = s.Send(t.Context(), "p-1", SentTo, up.ID, offset, HashOf(data[:9]), bytes.NewReader(data[:9]))
		want("a piece beyond the file", diag.Invalid, err)
	}
	_, err = s.Send(t.Context(), "p-1", SentTo, up.ID, 19_999, HashOf(data[:9]), bytes.NewReader(data[:9]))
	want("a piece that is longer than the rest", diag.Denied, err)
	if at, err := s.State(t.Context(), "p-1", SentTo, up.ID); err != nil || at.Have != 0 {
		t.Errorf("nothing that was refused is there: %+v %v", at, err)
	}
	_, err = s.send(t, up, data, 10_000, 20_000) // behind a gap
	want("a piece behind a gap", fine, err)
	_, err = s.Seal(t.Context(), "p-1", SentTo, up.ID)
	want("sealed with a gap", diag.Conflict, err)
	at, err := s.send(t, up, data, 0, 12_000) // over what is there
	if want("a piece over another one", fine, err); at.Have != 20_000 {
		t.Errorf("%d bytes are there, want all", at.Have)
	}
	first, err := s.Seal(t.Context(), "p-1", SentTo, up.ID)
	want("sealed", fine, err)
	again, err := s.Seal(t.Context(), "p-1", SentTo, up.ID)
	if want("sealed twice", fine, err); first.Recorded == "" || again.Recorded != first.Recorded {
		t.Errorf("sealed %+v, and again %+v", first, again)
	}
	if at, err := s.send(t, up, data, 0, 100); err != nil || at.Recorded != first.Recorded {
		t.Errorf("sent once more: %+v %v", at, err)
	}
	s.keeps(t, data)

	_, err = s.Begin(t.Context(), "p-1", "k", SendingOf("b.txt", Text(2, 99)))
	want("another file with the key", diag.Conflict, err)
	_, err = s.Begin(t.Context(), "p-1", "k2", SendingOf("b.txt", data))
	want("the same file with another key", diag.Conflict, err)
	wrong := SendingOf("c.txt", Text(3, 5_000))
	bad := s.begin(t, "k3", wrong)
	other := Text(4, 5_000)
	if _, err := s.send(t, bad, other, 0, 5_000); err != nil {
		t.Fatal(err)
	}
	_, err = s.Seal(t.Context(), "p-1", SentTo, bad.ID)
	want("other bytes than announced", diag.Integrity, err)
	_, err = s.State(t.Context(), "p-1", SentTo, bad.ID)
	want("an upload that was wrong", diag.NotFound, err)
	for name, change := range map[string]func(*app.Sending){
		"empty": func(f *app.Sending) { f.Size = 0 }, "no hash": func(f *app.Sending) { f.SHA256 = "abc" }, "no text": func(f *app.Sending) { f.Text = " " },
		"no such finding": func(f *app.Sending) { f.For = "finding/D99" }, "no name": func(f *app.Sending) { f.Name = "" }, "no job": func(f *app.Sending) { f.Job = "NONE" },
		"too large": func(f *app.Sending) { f.Size = 1 << 40 },
	} {
		f := SendingOf("d.txt", Text(5, 100))
		change(&f)
		if up, err := s.Begin(t.Context(), "p-1", "k-"+name, f); err == nil {
			t.Errorf("%s: it was begun: %+v", name, up)
		}
	}
}

// fine is no error.
const fine diag.Kind = -1

// kinds: what a file is, its bytes say.
func (s *Sender) kinds(t *testing.T) {
	for i, c := range []struct {
		name, as string
		data     []byte
		kind     diag.Kind
	}{
		{"report.jpg", "report.pdf", []byte("%PDF-1.7\n" + string(Text(1, 300))), fine},
		{"../../etc/passwd", "passwd.txt", Text(2, 300), fine},
		{"C:\\shop\\read\u202eout.csv", "read-out.csv", Text(3, 300), fine},
		{"nul.txt", "filenul.txt", Text(4, 300), fine},
		{"job.yaml", "job.txt", Text(5, 300), fine},
		{"part.txt", "part.stl", []byte("solid part\nendsolid part\n"), fine},
		{"small.jpg", "small.png", pngOf(100, 100), fine},
		{"bomb.png", "", pngOf(65_535, 65_535), diag.Denied},          // 4,295 million dots
		{"bomb.txt", "", append(pngOf(7_000, 7_000), 0), diag.Denied}, // 49 million, more than 40
		{"page.jpg", "", []byte("<html><script>1</script></html>"), diag.Unsupported},
		{"drawing.png", "", []byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), diag.Unsupported},
		{"scan.png", "", append([]byte("II*\x00"), make([]byte, 300)...), diag.Unsupported},
		{"all.pdf", "", append([]byte("PK\x03\x04"), make([]byte, 300)...), diag.Unsupported},
		{"moving.jpg", "", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), diag.Unsupported},
	} {
		up := s.begin(t, fmt.Sprint("kind-", i), SendingOf(c.name, c.data))
		_, err := s.send(t, up, c.data, 0, len(c.data))
		if c.kind != fine {
			if diag.KindOf(err) != c.kind {
				t.Errorf("%s: %v, want kind %d as soon as its first bytes are there", c.name, err, c.kind)
			}
			if _, err := s.State(t.Context(), "p-1", SentTo, up.ID); diag.KindOf(err) != diag.NotFound {
				t.Errorf("%s: the upload goes on: %v", c.name, err)
			}
			continue
		}
		if _, err = s.Seal(t.Context(), "p-1", SentTo, up.ID); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := s.evidence(t)[HashOf(c.data)]; len(got) != 1 || got[0].File != c.as {
			t.Errorf("%s is on record as %+v, want %s", c.name, got, c.as)
		}
	}
	long := Text(9, 5_000) // a text that begins like one, of more bytes than a text may have
	f := SendingOf("long.txt", long)
	f.Size = 21 << 20
	up := s.begin(t, "long", f)
	if _, err := s.send(t, up, long, 0, 5_000); diag.KindOf(err) != diag.Denied {
		t.Errorf("a text of 21 MB: %v", err)
	}
}

// ofFinding: a photo becomes one of its finding, whatever others wrote about that meanwhile.
func (s *Sender) ofFinding(t *testing.T) {
	photo := pngOf(64, 64)
	f := SendingOf("crack.png", photo)
	c, err := s.app.OpenStored(t.Context(), s.To, SentTo)
	if err != nil {
		t.Fatal(err)
	}
	was := c.Job.Findings[0]
	f.For = job.RecordName("finding/" + string(was.ID))
	up := s.whole(t, "photo", f, photo)
	c, err = s.app.OpenStored(t.Context(), s.To, SentTo)
	if err != nil {
		t.Fatal(err)
	}
	is := c.Job.Findings[0]
	if want := append(slices.Clone(was.Photos), strings.TrimPrefix(string(up.Recorded), "evidence/")); !slices.Equal(is.Photos, want) {
		t.Errorf("the finding has the photos %v, want %v", is.Photos, want)
	}
	if is.Text != was.Text || is.Kind != was.Kind || is.By != was.By {
		t.Errorf("the finding was changed: %+v, was %+v", is, was)
	}
	s.keeps(t, photo)
}

// others: what somebody else sends is not there for anybody but them.
func (s *Sender) others(t *testing.T) {
	data := Text(7, 9_000)
	up := s.begin(t, "k", SendingOf("a.txt", data))
	if _, err := s.send(t, up, data, 0, 9_000); err != nil {
		t.Fatal(err)
	}
	tries := func(sealed bool) {
		t.Helper()
		for name, try := range map[string]func() (app.Sent, error){
			"seal":  func() (app.Sent, error) { return s.Seal(t.Context(), "p-2", SentTo, up.ID) },
			"state": func() (app.Sent, error) { return s.State(t.Context(), "p-2", SentTo, up.ID) },
			"send": func() (app.Sent, error) {
				return s.Send(t.Context(), "p-2", SentTo, up.ID, 0, HashOf(data[:9]), bytes.NewReader(data[:9]))
			},
			"another job": func() (app.Sent, error) { return s.State(t.Context(), "p-1", "OTHER", up.ID) },
			"no id":       func() (app.Sent, error) { return s.Seal(t.Context(), "p-1", SentTo, "../../x") },
		} {
			if got, err := try(); diag.KindOf(err) != diag.NotFound || got != (app.Sent{}) {
				t.Errorf("%s, sealed %v: %+v %v", name, sealed, got, err)
			}
		}
		if err := s.Drop(t.Context(), "p-2", SentTo, up.ID); err != nil {
			t.Error(err)
		}
	}
	tries(false)
	if n := len(s.evidence(t)[HashOf(data)]); n != 0 {
		t.Errorf("somebody else put it on record")
	}
	other, err := s.Begin(t.Context(), "p-2", "k", SendingOf("a.txt", data))
	if err != nil || other.ID == up.ID {
		t.Errorf("the key of one person is that of another: %+v %v", other, err)
	}
	if _, err := s.Seal(t.Context(), "p-1", SentTo, up.ID); err != nil {
		t.Fatal(err)
	}
	tries(true)
	s.keeps(t, data)
	if err := s.Drop(t.Context(), "p-2", SentTo, other.ID); err != nil {
		t.Error(err)
	}
	if err := s.Drop(t.Context(), "p-2", SentTo, other.ID); err != nil {
		t.Errorf("dropped twice: %v", err)
	}
	if _, err := s.State(t.Context(), "p-2", SentTo, other.ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("dropped, and still there: %v", err)
	}
}

// atOnce: two programs send the same file, and seal it, while others put files on record in the same job.
func (s *Sender) atOnce(t *testing.T) {
	data := Text(11, 40_000)
	up := s.begin(t, "both", SendingOf("both.txt", data))
	var wg sync.WaitGroup
	got := make([]app.Sent, 4)
	for i := range 4 {
		wg.Go(func() {
			for at := 0; at < len(data); at += 3_000 + 500*i {
				if _, err := s.send(t, up, data, at, min(len(data), at+3_000+500*i)); err != nil {
					t.Errorf("sender %d: %v", i, err)
				}
			}
			own := Text(100+i, 3_000)
			s.wholeOr(t, fmt.Sprint("own-", i), own)
			var err error
			if got[i], err = s.Seal(t.Context(), "p-1", SentTo, up.ID); err != nil {
				t.Errorf("sealed by %d: %v", i, err)
			}
		})
	}
	wg.Wait()
	for _, g := range got {
		if g.Recorded == "" || g.Recorded != got[0].Recorded {
			t.Errorf("sealed as %v", got)
		}
	}
	s.keeps(t, data)
	for i := range 4 {
		s.keeps(t, Text(100+i, 3_000))
	}
}

// wholeOr is whole for another goroutine.
func (s *Sender) wholeOr(t *testing.T, key string, data []byte) {
	up, err := s.Begin(t.Context(), "p-1", key, SendingOf(key+".txt", data))
	if err == nil {
		_, err = s.send(t, up, data, 0, len(data))
	}
	if err == nil {
		_, err = s.Seal(t.Context(), "p-1", SentTo, up.ID)
	}
	if err != nil {
		t.Errorf("%s: %v", key, err)
	}
}

func (s *Sender) expired(t *testing.T) {
	data := Text(12, 9_000)
	f := SendingOf("late.txt", data)
	up := s.begin(t, "late", f)
	if _, err := s.send(t, up, data, 0, 9_000); err != nil {
		t.Fatal(err)
	}
	done := s.whole(t, "done", SendingOf("done.txt", Text(13, 500)), Text(13, 500))
	s.Clock.add(7 * 24 * time.Hour)
	if _, err := s.Seal(t.Context(), "p-1", SentTo, up.ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("sealed after a week: %v", err)
	}
	if got, err := s.Seal(t.Context(), "p-1", SentTo, done.ID); err != nil || got.Recorded != done.Recorded {
		t.Errorf("what is on record has no end: %+v %v", got, err)
	}
	again := s.begin(t, "late", f)
	if again.ID != up.ID || again.Have != 0 {
		t.Errorf("begun anew: %+v, before %+v", again, up)
	}
	s.whole(t, "late", f, data)
	s.keeps(t, data)
}

func (s *Sender) limited(t *testing.T) {
	free, known := uint64(1<<40), true
	s.Uploader = s.open(app.UploadLimits{Own: 2, All: 3, Free: 1 << 20, Room: func() (uint64, bool, error) { return free, known, nil }})
	begin := func(who, key string) error {
		_, err := s.Begin(t.Context(), who, key, SendingOf(key, Text(len(key), 10_000)))
		return err
	}
	for _, c := range []struct {
		who, key string
		free     uint64
		known    bool
		taken    bool
	}{
		{"p-1", "one", 1 << 40, true, true}, {"p-1", "two2", 1 << 40, true, true}, {"p-1", "three", 1 << 40, true, false},
		{"p-1", "one", 1 << 40, true, true},           // it is under way
		{"p-2", "three", 1<<20 + 59_999, true, false}, // 1 MiB stays free, and three of 10,000 bytes take that twice
		{"p-2", "three", 0, false, true},              // nobody knows
		{"p-3", "fourth", 1 << 40, true, false},
	} {
		free, known = c.free, c.known
		if err := begin(c.who, c.key); (err == nil) != c.taken || err != nil && diag.KindOf(err) != diag.Unavailable {
			t.Errorf("%+v: %v", c, err)
		}
	}
	// the disk is full when a piece comes: it is not there, and comes again
	full := &fullDisk{left: 3}
	to, in := s.again()
	full.Uploads = in
	s.Uploader = s.app.Uploader(to, full, app.UsualUploads)
	data := Text(21, 30_000)
	up := s.begin(t, "full", SendingOf("full.txt", data))
	refusals := 0
	for at := int64(0); at < int64(len(data)); {
		got, err := s.send(t, up, data, int(at), min(len(data), int(at)+5_000))
		if err == nil {
			at = got.Have
		} else if refusals++; diag.KindOf(err) != diag.Unavailable {
			t.Fatal(err)
		}
	}
	if _, err := s.Seal(t.Context(), "p-1", SentTo, up.ID); err != nil || refusals != 3 {
		t.Errorf("after %d refusals: %v", refusals, err)
	}
	s.keeps(t, data)
}

// fullDisk has no room for the first pieces.
type fullDisk struct {
	app.Uploads
	left int
}

func (f *fullDisk) SendPiece(ctx context.Context, id string, offset int64, r io.Reader) (app.Upload, error) {
	if f.left--; f.left >= 0 {
		if _, err := io.CopyN(io.Discard, r, 100); err != nil {
			return app.Upload{}, err
		}
		return app.Upload{}, &diag.Error{Kind: diag.Unavailable, Op: "test", Msg: "no space left on device"}
	}
	return f.Uploads.SendPiece(ctx, id, offset, r)
}
