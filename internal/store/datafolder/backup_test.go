package datafolder

import (
	"bytes"
	"database/sql"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/storetest"
)

// small is a data folder with two jobs, files, a body and what was set aside, and a backup of it. It is closed.
func small(t *testing.T) (dir string, b Backed) {
	t.Helper()
	dir, ctx, w := filepath.Join(t.TempDir(), "data"), t.Context(), world("")
	s, err := Open(ctx, dir, true, w)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"J1", "J2"} {
		if _, err := s.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
		if _, _, err := s.Put(ctx, strings.NewReader("a photo for "+id), 100); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Keep(ctx, map[string][]byte{"body.yaml": []byte("x"), "points.csv": []byte("y")}); err != nil {
		t.Fatal(err)
	}
	if err := s.SetAside(ctx, "J1", map[string][]byte{"note.txt": []byte("by hand")}); err != nil {
		t.Fatal(err)
	}
	if b, err = s.Backup(ctx, filepath.Join(t.TempDir(), "backups"), w); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, b
}

func times(often int) int {
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAULTS")); err == nil {
		return n
	}
	return often
}

// spoilt is a file with a fault in it: a bit is another, it is cut, it has more behind it, it has the content of another, or it is gone.
func spoilt(t *testing.T, draw *rand.Rand, name, other string) (what string) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	was := slices.Clone(data)
	switch what = []string{"a bit", "cut", "longer", "exchanged", "gone"}[draw.IntN(5)]; what {
	case "a bit":
		data[draw.IntN(len(data))] ^= 1 << draw.IntN(8)
	case "cut":
		data = data[:draw.IntN(len(data))]
	case "longer":
		data = append(data, byte(draw.IntN(256)))
	case "exchanged":
		if data, err = os.ReadFile(other); err != nil {
			t.Fatal(err)
		}
	case "gone":
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
		return what
	}
	if bytes.Equal(data, was) {
		return ""
	}
	if err := os.WriteFile(name, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return what
}

// copied is a copy of a folder.
func copied(t *testing.T, dir string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if err := filepath.WalkDir(to, func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			err = os.Chmod(name, 0o600)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return to
}

// files are those below a folder.
func files(t *testing.T, dir string) (out []string) {
	t.Helper()
	if err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			out = append(out, name)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

// A backup in which any file is cut, altered, exchanged or gone is refused, before anything is written; and so is what is no backup. An
// honest one can be verified and used by hand too.
func TestRestoreRefusesWhatWasAltered(t *testing.T) {
	_, b := small(t)
	place := filepath.Dir(b.Place)
	if out, err := inDir(b.Place, "sha256sum", "--check", "--strict", sumsFile); err != nil {
		t.Errorf("by hand: %v\n%s", err, out)
	}
	draw, done := rand.New(rand.NewPCG(19, 5)), map[string]int{}
	for range times(60) {
		alteredBackup(t, draw, place, filepath.Base(b.Place), done)
	}
	t.Logf("refused: %v", done)
	if len(done) < 5 {
		t.Errorf("only %v were tried", done)
	}
	for name, dir := range map[string]string{"nothing": filepath.Join(t.TempDir(), "none"), "the place itself": place, "another folder": t.TempDir()} {
		if _, _, err := Restore(t.Context(), dir, filepath.Join(t.TempDir(), "new"), world("")); diag.KindOf(err) != diag.Integrity {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func alteredBackup(t *testing.T, draw *rand.Rand, place, name string, done map[string]int) {
	own := copied(t, place)
	defer os.RemoveAll(own)
	all := slices.DeleteFunc(files(t, own), func(f string) bool { return strings.Contains(f, string(filepath.Separator)+".") })
	at := all[draw.IntN(len(all))]
	what := spoilt(t, draw, at, all[draw.IntN(len(all))])
	if what == "" {
		return
	}
	into := filepath.Join(t.TempDir(), "new")
	_, _, err := Restore(t.Context(), filepath.Join(own, name), into, world(""))
	if diag.KindOf(err) != diag.Integrity {
		t.Errorf("%s %s: %v", filepath.Base(at), what, err)
	}
	if _, err := os.Stat(into); err == nil {
		t.Errorf("%s %s: something was written", filepath.Base(at), what)
	}
	done[what]++
}

func inDir(dir, program string, args ...string) ([]byte, error) {
	if _, err := exec.LookPath(program); err != nil {
		return nil, nil // a system without it
	}
	c := exec.Command(program, args...)
	c.Dir = dir
	return c.CombinedOutput()
}

// Any file of a data folder that is cut, altered, exchanged or gone is found when the store is verified against a checkpoint that was
// kept outside. In the file of the database a bit may lie where nothing is: then every row is as it was.
func TestFaultsInFilesAreFound(t *testing.T) {
	dir, b := small(t)
	flat := copied(t, dir) // and once with all of it in the file of the database itself
	db, err := sql.Open("sqlite", filepath.Join(flat, databaseFile))
	if err == nil {
		_, err = db.ExecContext(t.Context(), "pragma wal_checkpoint(truncate)")
	}
	if err = errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	draw, done := rand.New(rand.NewPCG(5, 19)), map[string]int{}
	for _, dir := range []string{dir, flat} {
		for range 3 { // no false alarm
			if got := foundIn(t, copied(t, dir), b.Note, b.Key); got != "" {
				t.Fatalf("nothing was altered: %s", got)
			}
		}
		whole := dumped(t, copied(t, dir))
		for range times(80) / 2 {
			alteredFolder(t, draw, dir, b.Note, b.Key, whole, done)
		}
	}
	t.Logf("altered and found: %v", done)
	for _, kind := range []string{"blobs a bit", "blobs cut", "fettle.db cut"} {
		if done[kind] == 0 {
			t.Errorf("%s: never tried: %v", kind, done)
		}
	}
}

func alteredFolder(t *testing.T, draw *rand.Rand, dir, point, key, whole string, done map[string]int) {
	own := copied(t, dir)
	defer os.RemoveAll(own)
	base := filepath.Join(own, databaseFile)
	all := slices.DeleteFunc(files(t, filepath.Join(own, blobsDir)), func(f string) bool { return strings.Contains(f, string(filepath.Separator)+".") })
	if log, err := os.Stat(base + "-wal"); err == nil && log.Size() > 0 {
		all = append(all, base+"-wal")
	}
	all = append(all, base)
	at := all[draw.IntN(len(all))]
	if draw.IntN(2) == 0 {
		at = all[len(all)-1-draw.IntN(2)]
	}
	what := spoilt(t, draw, at, all[draw.IntN(len(all))])
	if what == "" {
		return
	}
	kind := blobsDir
	if strings.HasPrefix(at, base) {
		kind = filepath.Base(at)
	}
	if foundIn(t, own, point, key) == "" {
		if kind == blobsDir || dumped(t, own) != whole {
			t.Errorf("%s %s: nothing was found", kind, what)
		}
		done["where nothing is"]++
		return
	}
	done[kind+" "+what]++
}

// foundIn is what is found when a folder is verified; what keeps it from being opened or read is found too.
func foundIn(t *testing.T, dir, point, key string) string {
	t.Helper()
	s, err := Open(t.Context(), dir, false, world(""))
	if err != nil {
		return err.Error()
	}
	defer s.Close() // a damaged file may not let itself be closed well
	c, err := s.OpenCheckpoint(point, key)
	if err != nil {
		t.Fatal(err)
	}
	v, err := s.Verify(t.Context(), c)
	if err != nil {
		return err.Error()
	}
	for _, f := range v.Faults {
		return f.Where + ": " + f.Msg
	}
	return ""
}

// dumped is all rows of a folder.
func dumped(t *testing.T, dir string) string {
	t.Helper()
	s := opened(t, dir, world(""))
	var out strings.Builder
	if err := s.Dump(t.Context(), &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestBackupMendsThePlace: bytes that are damaged in the place for backups are mended; those that the store has no longer whole are named, and the
// rest is backed up.
func TestBackupMendsThePlace(t *testing.T) {
	w := world("")
	s := opened(t, filepath.Join(t.TempDir(), "data"), w)
	ctx := t.Context()
	hash, size, err := s.Put(ctx, strings.NewReader("a photo"), 100)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Backup(ctx, filepath.Join(t.TempDir(), "backups"), w)
	if err != nil || b.Blobs != 1 || b.Bytes != size || len(b.Missing) > 0 {
		t.Fatal(b, err)
	}
	pool := filepath.Join(filepath.Dir(b.Place), blobsDir, hash)
	if err := os.WriteFile(pool, []byte("another"), 0o600); err != nil {
		t.Fatal(err)
	}
	if again, err := s.Backup(ctx, filepath.Dir(b.Place), w); err != nil || again.Mended != 1 || again.Copied != 1 {
		t.Errorf("damaged in the place: %+v %v", again, err)
	}
	if err := os.Remove(filepath.Join(s.Dir, blobsDir, hash)); err != nil {
		t.Fatal(err)
	}
	if kept, err := s.Backup(ctx, filepath.Dir(b.Place), w); err != nil || len(kept.Missing) > 0 {
		t.Errorf("gone in the store, and in the place: %+v %v", kept, err)
	}
	if lost, err := s.Backup(ctx, t.TempDir(), w); err != nil || !slices.Equal(lost.Missing, []string{hash}) {
		t.Errorf("gone: %+v %v", lost, err)
	}
}

// TestBackupOfWhatTakesNoWrites: where sweeps cannot be held off because the database takes no writes, there is a backup all the same, and it says so.
func TestBackupOfWhatTakesNoWrites(t *testing.T) {
	s := opened(t, filepath.Join(t.TempDir(), "data"), world(""))
	hash := put(t, s, "a photo")
	full, err := sql.Open("sqlite", filepath.Join(s.Dir, databaseFile))
	if err != nil {
		t.Fatal(err)
	}
	defer full.Close()
	if _, err := full.ExecContext(t.Context(), "create trigger no_room before insert on pauses begin select raise(abort, 'no room'); end"); err != nil {
		t.Fatal(err)
	}
	b, err := s.Backup(t.Context(), t.TempDir(), world(""))
	if err != nil || !b.Unheld || b.Blobs != 1 || len(b.Missing) > 0 || !is(t.Context(), s, hash) {
		t.Errorf("%+v %v", b, err)
	}
	restored(t, b.Place)
}
