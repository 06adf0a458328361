package datafolder

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/store/safefile"
)

// CheckBackup reads all of a backup: it is as it was written, and the bytes that it needs are beside it. Hashes are those of its files.
func CheckBackup(ctx context.Context, dir string, now func() time.Time) (m Manifest, hashes []string, err error) {
	if m, err = readManifest(dir); err != nil {
		return m, nil, err
	}
	sums, err := readUpTo(filepath.Join(dir, sumsFile), 1<<30)
	if err != nil || sumOf(sums) != m.Sums {
		return m, nil, refused(filepath.Join(dir, sumsFile), "is not the one that was written", err)
	}
	sum, size, err := hashFile(ctx, filepath.Join(dir, string(m.Database)))
	if ctx.Err() != nil {
		return m, nil, ctx.Err()
	}
	if err != nil || sum != m.SHA256 || size != m.Size {
		return m, nil, refused(filepath.Join(dir, string(m.Database)), fmt.Sprintf("is not the one that was written: it has %d bytes and the hash %.12s..., and had %d and %.12s...", size, sum, m.Size, m.SHA256), err)
	}
	lines := strings.Split(strings.TrimSuffix(string(sums), "\n"), "\n")
	from := pool(dir, now)
	for _, line := range lines[1:] { // the first is that of the database; all of them are as they were written
		hash, _, _ := strings.Cut(line, " ")
		if _, err := readWhole(ctx, from, hash); err != nil {
			if ctx.Err() != nil {
				return m, nil, ctx.Err()
			}
			return m, nil, refused(filepath.Join(filepath.Dir(filepath.Clean(dir)), blobsDir, hash), "is not there or not as it was written, and the backup needs it", err)
		}
		hashes = append(hashes, hash)
	}
	return m, hashes, nil
}

// pool is the bytes that lie beside a backup.
func pool(dir string, now func() time.Time) *blobs.Store {
	return blobs.NewFolder(filepath.Dir(filepath.Clean(dir)), blobsDir, now)
}

func refused(name, msg string, err error) error {
	return &diag.Error{Kind: diag.Integrity, Op: "restore", Subject: name, Msg: msg, Hint: "use another backup", Err: err}
}

// Restore makes a data folder out of a backup: where there is none, and in a database where there is none. All of the backup is read
// before anything is written, and all of the folder is verified after, against the checkpoint of the backup.
func Restore(ctx context.Context, backup, dir string, w World) (m Manifest, v Verified, err error) {
	backup, err = filepath.Abs(backup)
	if err != nil {
		return m, v, err
	}
	m, hashes, err := CheckBackup(ctx, backup, w.Now)
	if err != nil {
		return m, v, err
	}
	if err := emptyFolder(dir); err != nil {
		return m, v, err
	}
	set, err := readSettings(dir, w.Lookup)
	if err != nil {
		return m, v, err
	}
	to, err := openBlobs(dir, set, w)
	if err != nil {
		return m, v, err
	}
	for _, hash := range hashes {
		if err := copyBack(ctx, pool(backup, w.Now), to, hash); err != nil {
			return m, v, err
		}
	}
	if err := restoreDatabase(ctx, backup, m.Database, dir, set, to, w); err != nil {
		return m, v, err
	}
	s, err := Open(ctx, dir, false, w)
	if err != nil {
		return m, v, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	root, err := hex.DecodeString(m.Root)
	point := ledger.Checkpoint{Size: m.Leaves}
	if err != nil || copy(point.Root[:], root) != len(point.Root) {
		return m, v, refused(backup, "its manifest has no root", err)
	}
	v, err = s.Verify(ctx, point)
	return m, v, err
}

// emptyFolder makes a folder, or is content with one that has nothing but settings.
func emptyFolder(dir string) error {
	if err := safefile.MakeDirs(dir, 0o700); err != nil {
		return safefile.Unusable(dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return safefile.Unusable(dir, err)
	}
	may := map[string]bool{settingsFile: true}
	for _, e := range entries {
		if !may[e.Name()] {
			return &diag.Error{Kind: diag.Conflict, Op: "restore", Subject: dir, Msg: "is not empty: " + e.Name() + " is in it; nothing was written", Hint: "give a new folder"}
		}
	}
	return nil
}

func copyBack(ctx context.Context, from, to *blobs.Store, hash string) error {
	r, size, err := from.Get(ctx, hash)
	if err != nil {
		return err
	}
	err = to.Mend(ctx, hash, untilDone{ctx, r}, size)
	return errors.Join(err, r.Close())
}

// restoreDatabase fills the database of a data folder: a copy of SQLite is copied into one of SQLite, all else goes through a dump.
func restoreDatabase(ctx context.Context, backup string, name copyName, dir string, set Settings, files *blobs.Store, w World) error {
	into := database.Settings{Address: set.Database, Backups: filepath.Join(dir, backupsDir), Blobs: files, Now: w.Now, Program: w.Program, Told: w.Told}
	if into.Address == "" {
		into.Address = filepath.Join(dir, databaseFile)
	}
	copied := filepath.Join(backup, string(name))
	switch {
	case name == dumpFile:
		return fill(ctx, into, copied)
	case set.Database == "":
		return placeFile(copied, into.Address)
	}
	temp, err := os.MkdirTemp("", "fettle-")
	if err != nil {
		return safefile.Unusable(os.TempDir(), err)
	}
	err = throughDump(ctx, copied, temp, into)
	return errors.Join(err, os.RemoveAll(temp))
}

// throughDump opens a copy of a SQLite database, which may be of an older version, and fills another database with what it has.
func throughDump(ctx context.Context, copied, temp string, into database.Settings) error {
	from := into
	from.Address, from.Backups = filepath.Join(temp, databaseFile), temp
	if err := placeFile(copied, from.Address); err != nil {
		return err
	}
	db, err := database.Open(ctx, from)
	if err != nil {
		return err
	}
	dump := filepath.Join(temp, string(dumpFile))
	out, err := os.OpenFile(dump, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err == nil {
		err = errors.Join(db.Dump(ctx, out), out.Close())
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	return fill(ctx, into, dump)
}

func fill(ctx context.Context, into database.Settings, dump string) error {
	in, err := os.Open(dump)
	if err != nil {
		return safefile.Unusable(dump, err)
	}
	defer in.Close() // it was only read from
	db, err := database.Fill(ctx, into, in)
	if err != nil {
		return err
	}
	return db.Close()
}

// placeFile copies a file to where none is; it has its name only once it is safe.
func placeFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return safefile.Unusable(from, err)
	}
	defer in.Close() // it was only read from
	temp := to + "." + safefile.Drawn(4)
	out, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return safefile.Unusable(to, err)
	}
	_, err = io.Copy(out, in)
	if err = errors.Join(err, out.Sync(), out.Close()); err == nil {
		err = os.Rename(temp, to)
	}
	if err != nil {
		return safefile.Unusable(to, errors.Join(err, os.Remove(temp)))
	}
	return safeDir(filepath.Dir(to))
}

func safeDir(dir string) error {
	if err := syncDir(dir); err != nil {
		return safefile.Unusable(dir, err)
	}
	return nil
}
