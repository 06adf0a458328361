// Package datafolder opens the folder in which a shop's data are: its settings, a database (the SQLite file in
// it, or a PostgreSQL elsewhere) and files (in it, or in an S3-compatible store).
package datafolder

import (
	"context"
	"os"
	"path/filepath"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/store/safefile"
)

// What lies in a data folder.
const (
	settingsFile = "settings.yaml"
	databaseFile = "fettle.db"
	blobsDir     = "blobs"
	spoolDir     = "spool" // what is on its way to a bucket
	backupsDir   = "backups"
)

// World is what a data folder is opened with.
type World struct {
	Lookup  func(name string) (string, bool) // variables of the environment
	Now     func() time.Time
	Program string             // version of the program
	Told    func(place string) // is told where a backup was put before a newer version; nil: nobody is
}

// Store is the store of a data folder.
type Store struct {
	*database.Database
	Blobs    *blobs.Store
	Dir      string
	Settings Settings
	now      func() time.Time
}

// Open opens a data folder. With make it is made where there is none; without, one that is none is refused, so that
// nobody takes an empty store for theirs.
func Open(ctx context.Context, dir string, make bool, w World) (*Store, error) {
	if make {
		if err := safefile.MakeDirs(dir, 0o700); err != nil {
			return nil, safefile.Unusable(dir, err)
		}
	}
	set, err := readSettings(dir, w.Lookup)
	if err != nil {
		return nil, err
	}
	file := filepath.Join(dir, databaseFile)
	if !make && set.Database == "" {
		if _, err := os.Lstat(file); err != nil {
			return nil, &diag.Error{Kind: diag.NotFound, Op: "open", Subject: dir, Msg: "is no data folder: there is no " + databaseFile, Hint: "give the folder, or fill one with a first job"}
		}
	}
	files, err := openBlobs(dir, set, w)
	if err != nil {
		return nil, err
	}
	address := set.Database
	if address == "" {
		address = file
	}
	db, err := database.Open(ctx, database.Settings{Address: address, Backups: filepath.Join(dir, backupsDir), Blobs: files, Now: w.Now, Program: w.Program, Told: w.Told})
	if err != nil {
		return nil, err
	}
	return &Store{db, files, dir, set, w.Now}, nil
}

// Uploads is the uploads to the files of a data folder.
func (s *Store) Uploads() store.Uploads { return store.NewUploads(s.Blobs, s.NoteBlob) }

// Room is how many bytes are free where uploads are gathered; not known on every system.
func (s *Store) Room() (free uint64, known bool, err error) { return space(s.Dir) }

func openBlobs(dir string, set Settings, w World) (*blobs.Store, error) {
	s3, is, err := set.s3(w.Lookup)
	if err != nil {
		return nil, err
	}
	if is {
		return blobs.NewS3(s3, dir, spoolDir, w.Now)
	}
	if _, err := os.Lstat(dir); err != nil {
		return nil, safefile.Unusable(dir, err)
	}
	return blobs.NewFolder(dir, blobsDir, w.Now), nil
}
