package blobs

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"strconv"
	"syscall"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
	"fettle/internal/store/safefile/simdisk"
)

// fault is what happens at a call of the system.
type fault int

const (
	noFault fault = iota
	ioError
	diskFull
	shortWrite // half of what is written is there
	powerCut
)

func (f fault) String() string {
	return [...]string{"none", "I/O error", "disk full", "short write", "power cut"}[f]
}

// forGood is more calls than there are.
const forGood = 1 << 30

// faulty lets calls fail: so many from the call number at. Closing is no such call.
type faulty struct {
	safefile.Dir
	what  fault
	at    int
	many  int
	calls int
	cut   func() // at a power cut, before the call
}

var errCut = errors.New("the power is gone")

func (f *faulty) call() error {
	n := f.calls
	f.calls++
	if f.what == noFault || n < f.at || n-f.at >= f.many {
		return nil
	}
	switch f.what {
	case ioError:
		return syscall.EIO
	case powerCut:
		if n == f.at {
			f.cut()
		}
		return errCut
	}
	return syscall.ENOSPC
}

// room is the error of a call that needs none: a full disk does not hinder it.
func (f *faulty) room() error {
	if err := f.call(); err != nil && f.what != diskFull && f.what != shortWrite {
		return err
	}
	return nil
}

func (f *faulty) Create(name string) (safefile.File, error) {
	if err := f.call(); err != nil {
		return nil, &fs.PathError{Op: "create", Path: name, Err: err}
	}
	file, err := f.Dir.Create(name)
	if err != nil {
		return nil, err
	}
	return &faultyFile{file, f}, nil
}

func (f *faulty) Open(name string, most int64) (safefile.File, error) {
	if err := f.room(); err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: err}
	}
	file, err := f.Dir.Open(name, most)
	if err != nil {
		return nil, err
	}
	return &faultyFile{file, f}, nil
}

func (f *faulty) Lstat(name string) (fs.FileInfo, error) {
	if err := f.room(); err != nil {
		return nil, err
	}
	return f.Dir.Lstat(name)
}

func (f *faulty) Rename(from, to string) error {
	if err := f.call(); err != nil {
		return err
	}
	return f.Dir.Rename(from, to)
}

func (f *faulty) Remove(name string) error {
	if err := f.room(); err != nil {
		return err
	}
	return f.Dir.Remove(name)
}

func (f *faulty) Mkdir(name string) error {
	if err := f.call(); err != nil {
		return err
	}
	return f.Dir.Mkdir(name)
}

func (f *faulty) Each(name string, do func(fs.FileInfo) error) error {
	if err := f.room(); err != nil {
		return err
	}
	return f.Dir.Each(name, do)
}

func (f *faulty) SyncDir(name string) error {
	if err := f.call(); err != nil {
		return err
	}
	return f.Dir.SyncDir(name)
}

type faultyFile struct {
	safefile.File
	of *faulty
}

func (f *faultyFile) Write(p []byte) (int, error) {
	err := f.of.call()
	if err == nil {
		return f.File.Write(p)
	}
	if f.of.what == shortWrite || f.of.what == powerCut {
		n, _ := f.File.Write(p[:len(p)/2]) // the error that is told is the one of the fault
		return n, err
	}
	return 0, err
}

func (f *faultyFile) Read(p []byte) (int, error) {
	if err := f.of.room(); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

func (f *faultyFile) Sync() error {
	if err := f.of.call(); err != nil {
		return err
	}
	return f.File.Sync()
}

// day is work as a shop does it in a day, with a fault somewhere in it. Every note it makes is one of bytes whose hash
// was given back.
type work struct {
	s       *Store
	clock   *clock
	notes   map[string][]byte // what something refers to: it has to be there, whatever happens
	uploads map[string]int64  // how far the senders were told that they are
	failed  int
}

// try counts what failed; nothing is noted of it.
func (w *work) try(err error) bool {
	if err != nil {
		w.failed++
	}
	return err == nil
}

func (w *work) refers(_ context.Context, hash string) (bool, error) { return w.notes[hash] != nil, nil }

const photoSize = copyBuffer + 100 // two writes

func (w *work) photo(ctx context.Context, n int) {
	data := text(n, photoSize)
	if hash, _, err := w.s.Put(ctx, bytes.NewReader(data), photoSize); w.try(err) {
		w.notes[hash] = data
	}
}

// pieces sends an upload in pieces, one of them twice, and seals it.
func (w *work) pieces(ctx context.Context, n int) {
	data := text(n, 3000)
	up, err := w.s.Begin(ctx, hashOf(data), 3000, 3000)
	if !w.try(err) {
		return
	}
	w.uploads[up.ID] = 0
	for _, p := range [][2]int{{0, 1000}, {500, 1500}, {0, 1000}, {1500, 3000}} {
		if is, err := w.s.Send(ctx, up.ID, int64(p[0]), bytes.NewReader(data[p[0]:p[1]])); w.try(err) {
			w.uploads[up.ID] = is.Have
		}
	}
	if hash, _, err := w.s.Seal(ctx, up.ID); w.try(err) {
		w.notes[hash] = data
		delete(w.uploads, up.ID)
	}
}

// day does it all.
func (w *work) day(ctx context.Context) {
	loose := text(100, 500)
	_, _, err := w.s.Put(ctx, bytes.NewReader(loose), 500) // nobody notes it
	w.try(err)
	w.photo(ctx, 1)
	w.pieces(ctx, 2)
	_, err = w.s.Sweep(ctx, w.refers)
	w.try(err)
	w.clock.add(Grace + time.Hour)
	w.photo(ctx, 1) // again
	if _, err := w.s.Claim(ctx, hashOf(text(101, 500))); w.try(absentOr(err)) && err == nil {
		w.notes[hashOf(text(101, 500))] = text(101, 500)
	}
	_, err = w.s.Sweep(ctx, w.refers) // removes what is loose
	w.try(err)
	w.photo(ctx, 3)
	_, _, err = w.s.Put(ctx, io.MultiReader(bytes.NewReader(loose), broken{}), 1000)
	if !errors.Is(err, errBroken) {
		w.failed++
	}
}

// begun is a disk as it is after earlier work: two photos, one of which was marked.
func begun(c *clock) *simdisk.Disk {
	disk := simdisk.New(c.now)
	s := inDir(func(bool) (safefile.Dir, error) { return disk, nil }, c.now)
	for _, data := range [][]byte{text(100, 500), text(101, 500)} {
		if _, _, err := s.Put(context.Background(), bytes.NewReader(data), 500); err != nil {
			panic(err)
		}
	}
	if _, err := s.Sweep(context.Background(), func(context.Context, string) (bool, error) { return false, nil }); err != nil {
		panic(err)
	}
	c.add(time.Hour)
	return disk
}

// at does a day's work with so many faults from a call on, and returns the work, how many calls there were, and the disk
// after it.
func at(what fault, n, many int, r *rand.Rand) (*work, int, *simdisk.Disk) {
	w := &work{clock: &clock{}, notes: map[string][]byte{}, uploads: map[string]int64{}}
	calls, after := w.on(begun(w.clock), what, n, many, r)
	return w, calls, after
}

// on does a day's work on a disk.
func (w *work) on(disk *simdisk.Disk, what fault, n, many int, r *rand.Rand) (calls int, after *simdisk.Disk) {
	f := &faulty{Dir: disk, what: what, at: n, many: many}
	after = disk
	f.cut = func() { after = disk.Cut(r) }
	w.s = inDir(func(bool) (safefile.Dir, error) { return f, nil }, w.clock.now)
	w.s.wait = 0
	w.day(context.Background())
	return f.calls, after
}

// holds says what does not hold of a disk after a fault: everything that was noted is there whole, nothing is kept under a
// hash that is not its own, uploads are as far as was told, work goes on, and once all are over nothing is left behind.
func (w *work) holds(disk *simdisk.Disk) error {
	ctx := context.Background()
	u := &under{Store: inDir(func(bool) (safefile.Dir, error) { return disk, nil }, w.clock.now), ctx: ctx}
	u.wait = 0
	for id, have := range w.uploads {
		if is, err := u.UploadOf(ctx, id); err != nil || is.Have < have {
			return fmt.Errorf("%d bytes of an upload were there, now %d: %w", have, is.Have, err)
		}
	}
	out, err := u.Scrub(ctx, func(hash string, why error) error { return fmt.Errorf("%s is kept: %w", hash, why) })
	if err != nil {
		return err
	}
	if out.Blobs < len(w.notes) {
		return fmt.Errorf("%d were noted, %d are there", len(w.notes), out.Blobs)
	}
	for hash, data := range w.notes {
		if size, err := u.Size(ctx, hash); err != nil || size != int64(len(data)) {
			return fmt.Errorf("%s was noted, and %d bytes of it are there: %w", hash, size, err)
		}
	}
	w.s, w.failed = u.Store, 0
	w.clock.add(time.Hour) // nothing that was broken off holds anybody up
	w.photo(ctx, 1)
	w.photo(ctx, 4)
	w.pieces(ctx, 5)
	if w.failed > 0 {
		return fmt.Errorf("%d things cannot be done when all is well again", w.failed)
	}
	for range 3 {
		w.clock.add(UploadLife + Grace)
		if _, err := u.Sweep(ctx, w.refers); err != nil {
			return fmt.Errorf("sweep: %w", err)
		}
	}
	return w.nothingLeft(ctx, disk)
}

func (w *work) nothingLeft(ctx context.Context, disk *simdisk.Disk) error {
	for _, dir := range []string{".", marksDir, removalsDir, uploadsDir} {
		err := disk.Each(dir, func(fi fs.FileInfo) error {
			if w.notes[fi.Name()] == nil && !(dir == "." && fi.IsDir()) {
				return fmt.Errorf("%s/%s was left behind", dir, fi.Name())
			}
			return nil
		})
		if gone(err) != nil {
			return err
		}
	}
	for hash, data := range w.notes {
		r, _, err := w.s.Get(ctx, hash)
		if err != nil {
			return fmt.Errorf("after the sweeps: %w", err)
		}
		got, err := io.ReadAll(r)
		if err = errors.Join(err, r.Close()); err != nil || !bytes.Equal(got, data) {
			return fmt.Errorf("after the sweeps %d bytes are there: %w", len(got), err)
		}
	}
	return nil
}

// points is how many points of fault are tried: FETTLE_FAULTS, or so many.
func points(t *testing.T, few int) int {
	t.Helper()
	text := os.Getenv("FETTLE_FAULTS")
	if text == "" {
		return few
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// calls is how many calls of the system a day takes.
func calls(t *testing.T) int {
	t.Helper()
	w, n, disk := at(noFault, 0, 0, nil)
	if w.failed > 0 || len(w.notes) != 4 {
		t.Fatalf("without any fault %d things fail, %d are noted", w.failed, len(w.notes))
	}
	if err := w.holds(disk); err != nil {
		t.Fatalf("without any fault: %v", err)
	}
	return n
}

// TestFaults lets every call of the system fail in turn in a day's work: by an I/O error, a full disk or a short write, once, twice
// and for good. Nothing that was noted is lost, nothing is kept under a hash that is not its own, all works again when
// the disk does, and nothing is left behind.
func TestFaults(t *testing.T) {
	all, tried, failed := calls(t), 0, 0
	few := points(t, 200)
	step := max(1, all*9/few)
	for i := 0; i < all*9; i += step {
		what, many, n := []fault{ioError, diskFull, shortWrite}[i%3], []int{1, 2, forGood}[i/3%3], i/9
		w, _, disk := at(what, n, many, nil)
		if tried++; w.failed > 0 {
			failed++
		}
		if err := w.holds(disk); err != nil {
			t.Errorf("%v at %d calls from %d of %d: %v", what, many, n, all, err)
		}
	}
	t.Logf("%d faults in %d calls of the system; %d of them were told", tried, all, failed)
	if failed < tried/3 {
		t.Errorf("of %d faults only %d were told", tried, failed)
	}
}

// TestPowerCuts cuts the power at every call of the system in turn; what is not safe by then is lost, torn or there, by
// chance. Every second time a call fails or the power goes again while the work is taken up.
func TestPowerCuts(t *testing.T) {
	all := calls(t)
	many := points(t, 200)
	for i := range many {
		n := i % all
		if many < all {
			n = i * all / many // from the first to the last
		}
		r := rand.New(rand.NewPCG(uint64(i), 1))
		w, _, disk := at(powerCut, n, forGood, r)
		second := noFault
		if i%2 == 1 {
			second = []fault{powerCut, ioError, diskFull, shortWrite}[r.IntN(4)]
			_, disk = w.on(disk, second, r.IntN(all), forGood, r)
		}
		if err := w.holds(disk); err != nil {
			t.Errorf("cut at call %d of %d, then %v, draw %d: %v", n, all, second, i, err)
		}
	}
}

// unsafe leaves out one thing that makes safe.
type unsafe struct {
	safefile.Dir
	files, names bool
}

func (u unsafe) Create(name string) (safefile.File, error) {
	file, err := u.Dir.Create(name)
	if err == nil && u.files {
		file = unsafeFile{file}
	}
	return file, err
}

func (u unsafe) SyncDir(name string) error {
	if u.names {
		return nil
	}
	return u.Dir.SyncDir(name)
}

type unsafeFile struct{ safefile.File }

func (unsafeFile) Sync() error { return nil }

// TestPowerCutsHaveTeeth: without making files or names safe, cuts lose what was noted.
func TestPowerCutsHaveTeeth(t *testing.T) {
	for name, u := range map[string]unsafe{"files": {files: true}, "names": {names: true}} {
		lost := 0
		for i := range 40 {
			var c clock
			disk := begun(&c)
			u.Dir = disk
			w := &work{s: inDir(func(bool) (safefile.Dir, error) { return u, nil }, c.now), clock: &c, notes: map[string][]byte{}, uploads: map[string]int64{}}
			w.day(t.Context())
			if w.failed > 0 {
				t.Fatal(w.failed)
			}
			if w.holds(disk.Cut(rand.New(rand.NewPCG(uint64(i), 2)))) != nil {
				lost++
			}
		}
		t.Logf("%s not made safe: %d of 40 cuts are noticed", name, lost)
		if lost < 20 {
			t.Errorf("%s not made safe: only %d of 40 cuts are noticed", name, lost)
		}
	}
}

// TestFaultsAreTold: whatever fails is an error of a kind that can be tried again, and names what to do.
func TestFaultsAreTold(t *testing.T) {
	for what := ioError; what <= diskFull; what++ {
		var c clock
		s := inDir(func(bool) (safefile.Dir, error) {
			return &faulty{Dir: simdisk.New(c.now), what: what, many: forGood}, nil
		}, c.now)
		_, _, put := s.Put(t.Context(), bytes.NewReader([]byte("x")), 1)
		_, begin := s.Begin(t.Context(), hashOf(nil), 0, 0)
		for _, err := range []error{put, begin} {
			var e *diag.Error
			if !errors.As(err, &e) || e.Kind != diag.Unavailable || e.Hint == "" {
				t.Errorf("%v: %v", what, err)
			}
		}
	}
}

// TestClaimedStays: bytes whose name another program gave and could not make safe, and whose mark is a day old, are claimed;
// whatever a cut takes afterwards, they are there, and stay for a day though nothing refers to them.
func TestClaimedStays(t *testing.T) {
	data := text(1, 700)
	nobody := func(context.Context, string) (bool, error) { return false, nil }
	named := 0
	for n := range 12 {
		for seed := range uint64(20) {
			var c clock
			disk := begun(&c)
			open := func(d safefile.Dir) *Store {
				return inDir(func(bool) (safefile.Dir, error) { return d, nil }, c.now)
			}
			s := open(disk)
			_, _, err := open(&faulty{Dir: disk, what: ioError, at: n, many: forGood}).Put(t.Context(), bytes.NewReader(data), 700)
			if _, there := s.Size(t.Context(), hashOf(data)); err == nil || there != nil {
				break // nothing failed, or the name was not given yet
			}
			named++
			file, err := disk.Create(marksDir + "/" + hashOf(data)) // by hand: making a mark makes other names safe too
			if err == nil {
				_, err = file.Write(note(c.now().Add(-2 * Grace)))
				err = errors.Join(err, file.Sync(), file.Close(), disk.SyncDir(marksDir))
			}
			if err != nil {
				t.Fatal(err)
			}
			if _, err := s.Claim(t.Context(), hashOf(data)); err != nil {
				t.Fatal(err)
			}
			s = open(disk.Cut(rand.New(rand.NewPCG(seed, 5))))
			c.add(Grace - time.Minute)
			if _, err := s.Sweep(t.Context(), nobody); err != nil {
				t.Fatal(err)
			}
			if _, err := s.Size(t.Context(), hashOf(data)); err != nil {
				t.Errorf("fault at %d, cut %d: %v", n, seed, err)
			}
		}
	}
	if named == 0 {
		t.Error("no fault left a name that was given and not safe")
	}
}
