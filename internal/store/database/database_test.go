package database

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

func TestMain(m *testing.M) { os.Exit(postgrestest.Run(m)) }

// opened is a database that is closed with the test.
func opened(t testing.TB, s Settings) *Database {
	t.Helper()
	d, err := Open(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	})
	return d
}

// at is the settings for a database at an address, with its bytes in a folder.
func at(t testing.TB, address string, now func() time.Time) Settings {
	dir := t.TempDir()
	return Settings{Address: address, Backups: filepath.Join(dir, "backups"), Blobs: store.OpenFolder(dir, now), Now: now, Program: "test"}
}

// suite runs the suite of all stores. Each time it is opened again it is a program of its own.
func suite(t *testing.T, address func(t *testing.T) string) {
	storetest.TestStore(t, func(t *testing.T, now func() time.Time) func() app.Store {
		s := at(t, address(t), now)
		return func() app.Store { return opened(t, s) }
	})
}

func TestSQLite(t *testing.T) {
	suite(t, func(t *testing.T) string { return filepath.Join(t.TempDir(), "odd ?#%name.db") })
}

func TestPostgreSQL(t *testing.T) {
	suite(t, func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) })
}

func taskSuite(t *testing.T, address func(t *testing.T) string) {
	storetest.TestTasks(t, func(t *testing.T, now func() time.Time) func() storetest.TaskStore {
		s := at(t, address(t), now)
		return func() storetest.TaskStore { return opened(t, s) }
	})
}

func TestTasksSQLite(t *testing.T) {
	taskSuite(t, func(t *testing.T) string { return filepath.Join(t.TempDir(), "tasks.db") })
}

func TestTasksPostgreSQL(t *testing.T) {
	taskSuite(t, func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) })
}

// TestEditors is five people who change six records of one job; FETTLE_EDITORS says how often each
// (1,000 for the whole campaign).
func TestEditorsPostgreSQLAndSQLite(t *testing.T) {
	each := 15
	if n, err := strconv.Atoi(os.Getenv("FETTLE_EDITORS")); err == nil {
		each = n
	}
	both(t, func(t *testing.T, address string) {
		storetest.TestEditors(t, func(t *testing.T, now func() time.Time) func() app.Store {
			s := at(t, address, now)
			return func() app.Store { return opened(t, s) }
		}, 5, each)
	})
}

func TestShopsPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		storetest.TestShops(t, func(now func() time.Time) storetest.ShopStore { return opened(t, at(t, address, now)) })
	})
}

// Jobs are found in the same way by the terms of one word, by going through some of them, and by the terms of all words.
func TestListsPostgreSQLAndSQLite(t *testing.T) {
	terms, walked, set := mostByTerm, mostWalked, mostInSet
	defer func() { mostByTerm, mostWalked, mostInSet = terms, walked, set }()
	for _, most := range [][3]int{{terms, walked, set}, {2, walked, set}, {2, 3, set}, {2, 3, 10}} {
		mostByTerm, mostWalked, mostInSet = most[0], most[1], most[2]
		both(t, func(t *testing.T, address string) {
			storetest.TestLists(t, func(t *testing.T, now func() time.Time) func() storetest.ListStore {
				s := at(t, address, now)
				return func() storetest.ListStore { return opened(t, s) }
			})
		})
	}
}

// uploadSuite sends files in pieces, with the rows of their bytes.
func uploadSuite(t *testing.T, address func(t *testing.T) string) {
	storetest.TestUploads(t, 5, func(t testing.TB, now func() time.Time) func() (app.Store, app.Uploads) {
		dir := t.TempDir()
		bytes := blobs.NewFolder(dir, "blobs", now)
		s := Settings{Address: address(t.(*testing.T)), Backups: filepath.Join(dir, "backups"), Blobs: bytes, Now: now, Program: "test"}
		return func() (app.Store, app.Uploads) {
			d := opened(t, s)
			return d, store.NewUploads(bytes, d.NoteBlob)
		}
	})
}

func TestUploadsSQLite(t *testing.T) {
	uploadSuite(t, func(t *testing.T) string { return filepath.Join(t.TempDir(), "uploads.db") })
}

func TestUploadsPostgreSQL(t *testing.T) {
	uploadSuite(t, func(t *testing.T) string { return postgrestest.Shared(t).Schema(t) })
}
