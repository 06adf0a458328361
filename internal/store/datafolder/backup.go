package datafolder

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/store/blobs"
	"fettle/internal/store/safefile"
)

// A place for backups has a folder for each backup and one, blobs, with the bytes of all: they never change, and each is there once. A
// backup is a copy of the database, SHA256SUMS (which 'sha256sum -c' verifies, and names the bytes it needs) and manifest.json.
const (
	manifestFile = "manifest.json"
	sumsFile     = "SHA256SUMS"
	lastFile     = "last-backup.json"
	mostManifest = 64 << 20
)

// form is how a backup is written.
type form string

const manifestForm form = "fettle-backup 1"

// copyName is what the copy of the database is called.
type copyName string

const (
	copyFile copyName = "fettle.db"   // of SQLite
	dumpFile copyName = "fettle.dump" // of PostgreSQL
)

// Manifest says what a backup is.
type Manifest struct {
	Format   form     `json:"format"`
	Program  string   `json:"program"` // that made it
	At       string   `json:"at"`      // when it was begun
	Database copyName `json:"database"`
	Size     int64    `json:"size"`    // of the database
	SHA256   string   `json:"sha256"`  // of the database
	Sums     string   `json:"sums"`    // SHA-256 of SHA256SUMS
	Blobs    int      `json:"blobs"`   // files whose bytes go with it
	Bytes    int64    `json:"bytes"`   // of those
	Missing  []string `json:"missing"` // files that the store had no longer whole
	Leaves   int64    `json:"leaves"`  // of the log
	Root     string   `json:"root"`    // of the log
	Note     string   `json:"checkpoint"`
	Key      string   `json:"key"` // public, of the checkpoint
	Seal     string   `json:"seal"`
}

// sealed is the manifest as a file: the seal is the SHA-256 of the rest.
func (m Manifest) sealed() ([]byte, error) {
	m.Seal = ""
	data, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	m.Seal = hex.EncodeToString(sum[:])
	data, err = json.MarshalIndent(m, "", "  ")
	return append(data, '\n'), err
}

// Backed is a backup that was made.
type Backed struct {
	Manifest
	Place  string
	Copied int  // files whose bytes were not in the place yet
	Mended int  // files whose bytes were there, and damaged
	Unheld bool // sweeps could not be held off: the database took no writes
}

// pauseFor is when a backup that was not heard of is taken for dead and sweeps go on; it is heard of six times in it. Clocks of
// machines that share a store may differ by most of it.
const pauseFor = time.Hour

// Backup copies the database, as it is at one moment, and all bytes that its rows name into a place for backups, while others go on. All that was
// acknowledged before it begins is in it. It has its name only once all of it is safe and was read back. From before the rows are
// read until then no sweep of any program removes anything; where one has, because this one was taken for dead, there is no backup.
// A database that takes no writes, as on a full disk, is backed up all the same.
func (s *Store) Backup(ctx context.Context, place string, w World) (b Backed, err error) {
	if err := s.checkPlace(place); err != nil {
		return b, err
	}
	p, err := s.BeginPause(ctx, "backup", pauseFor)
	if diag.KindOf(err) == diag.Unavailable && ctx.Err() == nil {
		b, err = s.backup(ctx, place, w, func() error { return nil })
		b.Unheld = true
		return b, err
	}
	if err != nil {
		return b, err
	}
	prolonged := s.prolonging(ctx, p.ID, pauseFor/6)
	b, err = s.backup(ctx, place, w, func() error { return s.Stands(ctx, p.ID) })
	prolonged()
	ended := s.EndPause(context.WithoutCancel(ctx), p.ID)
	if diag.KindOf(ended) == diag.Unavailable {
		ended = nil // it ends by itself, and the backup is there
	}
	return b, errors.Join(err, ended)
}

// prolonging prolongs a pause again and again, until what it returns is called. Where it fails the pause ends some time,
// which is found before the backup gets its name.
func (s *Store) prolonging(ctx context.Context, id string, each time.Duration) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	var over sync.WaitGroup
	over.Go(func() {
		tick := time.NewTicker(each)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			if diag.KindOf(s.ProlongPause(ctx, id, pauseFor)) == diag.Conflict {
				return
			}
		}
	})
	return func() { cancel(); over.Wait() }
}

// backup makes a backup; whole is asked when all bytes are copied, whether none was removed meanwhile.
func (s *Store) backup(ctx context.Context, place string, w World, whole func() error) (b Backed, err error) {
	begun := w.Now().UTC()
	temp := filepath.Join(place, unfinished+safefile.Drawn(8))
	if err := os.Mkdir(temp, 0o700); err != nil {
		return b, safefile.Unusable(place, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(temp))
		}
	}()
	if err := clearDead(place, temp); err != nil {
		return b, safefile.Unusable(place, err)
	}
	b.Manifest = Manifest{Format: manifestForm, Program: w.Program, At: begun.Format(ledger.TimeForm), Database: copyFile, Missing: []string{}}
	if s.IsPostgres() {
		b.Database = dumpFile
	}
	has, err := s.CopyTo(ctx, filepath.Join(temp, string(b.Database)))
	if err != nil {
		return b, err
	}
	sums, err := s.copyBlobs(ctx, place, has.Blobs, w.Now, &b)
	if err == nil {
		err = whole()
	}
	if err != nil {
		return b, err
	}
	if b.SHA256, b.Size, err = hashFile(ctx, filepath.Join(temp, string(b.Database))); err != nil {
		return b, safefile.Unusable(place, err)
	}
	point, err := s.signed(has.Log)
	if err != nil {
		return b, err
	}
	sums = b.SHA256 + "  " + string(b.Database) + "\n" + sums
	b.Sums, b.Leaves, b.Root, b.Note, b.Key = sumOf([]byte(sums)), has.Log.Size, hex.EncodeToString(has.Log.Root[:]), point.Note, point.Key
	manifest, err := b.sealed()
	if err == nil {
		err = errors.Join(writeSafe(filepath.Join(temp, sumsFile), []byte(sums)), writeSafe(filepath.Join(temp, manifestFile), manifest), syncDir(temp))
	}
	b.Place = filepath.Join(place, begun.Format("20060102T150405Z")+"-"+safefile.Drawn(4))
	if err == nil {
		err = os.Rename(temp, b.Place)
	}
	if err == nil {
		err = syncDir(place)
	}
	if err != nil {
		return b, safefile.Unusable(place, err)
	}
	return b, s.noteBackup(b)
}

// unfinished is how the folder of a backup is called until it is whole, and deadAfter when one that nothing was written into is that of a
// backup that was ended in the middle.
const (
	unfinished = ".fettle-"
	deadAfter  = 7 * 24 * time.Hour
)

// clearDead takes away what backups have left that were ended in the middle. Its clock is that of the disk: fresh is a folder made just now.
func clearDead(place, fresh string) error {
	now, err := os.Stat(fresh)
	if err != nil {
		return err
	}
	all, err := filepath.Glob(filepath.Join(place, unfinished+"*"))
	for _, dir := range all {
		files, bad := filepath.Glob(filepath.Join(dir, "*"))
		if err = errors.Join(err, bad); err != nil {
			return err
		}
		dead := true
		for _, name := range append(files, dir) {
			fi, bad := os.Lstat(name)
			dead = dead && bad == nil && now.ModTime().Sub(fi.ModTime()) > deadAfter
		}
		if dead {
			err = os.RemoveAll(dir)
		}
	}
	return err
}

// checkPlace makes a place for backups that is not the data folder itself.
func (s *Store) checkPlace(place string) error {
	if err := safefile.MakeDirs(place, 0o700); err != nil {
		return safefile.Unusable(place, err)
	}
	is, err := os.Stat(place)
	own, bad := os.Stat(s.Dir)
	if err = errors.Join(err, bad); err != nil {
		return safefile.Unusable(place, err)
	}
	if os.SameFile(is, own) {
		return &diag.Error{Kind: diag.Denied, Op: "backup", Subject: place, Msg: "is the data folder itself", Hint: "give another folder, on another disk"}
	}
	return nil
}

// copyBlobs copies the bytes that the place has not yet, and reads all others there.
func (s *Store) copyBlobs(ctx context.Context, place string, named map[string]int64, now func() time.Time, b *Backed) (sums string, err error) {
	hashes := slices.Sorted(maps.Keys(named))
	to := blobs.NewFolder(place, blobsDir, now)
	var out strings.Builder
	for _, hash := range hashes {
		size, err := s.copyBlob(ctx, to, hash, named[hash], b)
		switch {
		case ctx.Err() != nil:
			return "", ctx.Err()
		case diag.KindOf(err) == diag.NotFound || diag.KindOf(err) == diag.Integrity:
			b.Missing = append(b.Missing, hash)
			continue
		case err != nil:
			return "", err
		}
		b.Blobs++
		b.Bytes += size
		fmt.Fprintf(&out, "%s  ../%s/%s\n", hash, blobsDir, hash)
	}
	return out.String(), nil
}

// copyBlob copies bytes, unless they are in the place and whole.
func (s *Store) copyBlob(ctx context.Context, to *blobs.Store, hash string, size int64, b *Backed) (int64, error) {
	there, err := readWhole(ctx, to, hash)
	mends := err == nil || diag.KindOf(err) == diag.Integrity
	if err == nil && there == size {
		return there, nil
	}
	if ctx.Err() != nil || err != nil && diag.KindOf(err) != diag.NotFound && diag.KindOf(err) != diag.Integrity {
		return 0, errors.Join(err, ctx.Err())
	}
	from, has, err := s.Blobs.Get(ctx, hash)
	if err != nil {
		return 0, err
	}
	err = to.Mend(ctx, hash, untilDone{ctx, from}, has)
	if err = errors.Join(err, from.Close()); err != nil {
		return 0, err
	}
	if mends {
		b.Mended++
	}
	b.Copied++
	return has, nil
}

// noteBackup notes in the data folder which backup is the last.
func (s *Store) noteBackup(b Backed) error {
	place, err := filepath.Abs(b.Place)
	if err != nil {
		return err
	}
	data, err := json.Marshal(lastBackup{At: b.At, Place: place, Seal: sealOf(b.Manifest), Missing: len(b.Missing)})
	if err != nil {
		return err
	}
	d, err := safefile.Open(s.Dir)
	if err != nil {
		return safefile.Unusable(s.Dir, err)
	}
	err = safefile.WriteWhole(d, ".", func(w io.Writer) (string, error) {
		_, err := w.Write(append(data, '\n'))
		return lastFile, err
	})
	return errors.Join(err, d.Close())
}

type lastBackup struct {
	At      string `json:"at"`
	Place   string `json:"place"`
	Seal    string `json:"seal"`
	Missing int    `json:"missing"`
}

func sealOf(m Manifest) string {
	data, err := m.sealed()
	var sealed Manifest
	if err == nil && json.Unmarshal(data, &sealed) == nil {
		return sealed.Seal
	}
	return ""
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func hashFile(ctx context.Context, name string) (sum string, size int64, err error) {
	f, err := os.Open(name)
	if err != nil {
		return "", 0, err
	}
	defer f.Close() // it was only read from
	h := sha256.New()
	size, err = io.Copy(h, untilDone{ctx, f})
	return hex.EncodeToString(h.Sum(nil)), size, err
}

// readManifest reads the manifest of a backup, which has to be as it was written.
func readManifest(dir string) (m Manifest, err error) {
	no := func(msg string, err error) (Manifest, error) {
		return Manifest{}, &diag.Error{Kind: diag.Integrity, Op: "restore", Subject: filepath.Join(dir, manifestFile), Msg: msg, Hint: "give the folder of one backup as it was made, or use another one", Err: err}
	}
	data, err := readUpTo(filepath.Join(dir, manifestFile), mostManifest)
	if err != nil {
		return no("cannot be read: this is no backup, or not all of it", err)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&m); err != nil {
		return no("is no manifest of a backup", err)
	}
	if m.Format != manifestForm {
		return no(fmt.Sprintf("has the format %q; this program reads %q", m.Format, manifestForm), nil)
	}
	again, err := m.sealed()
	if err != nil || !bytes.Equal(again, data) {
		return no("is not as it was written: its seal is of another text", err)
	}
	if m.Database != copyFile && m.Database != dumpFile {
		return no("names a database that is none", nil)
	}
	return m, nil
}

func readUpTo(name string, most int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close() // it was only read from
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(data)) > most {
		err = fmt.Errorf("it has more than %d bytes", most)
	}
	return data, err
}

// readWhole reads bytes of a store to their end.
func readWhole(ctx context.Context, from *blobs.Store, hash string) (int64, error) {
	r, _, err := from.Get(ctx, hash)
	if err != nil {
		return 0, err
	}
	n, err := io.Copy(io.Discard, untilDone{ctx, r})
	return n, errors.Join(err, r.Close())
}
