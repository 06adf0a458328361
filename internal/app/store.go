package app

import (
	"context"
	"io"

	"fettle/internal/job"
	"fettle/internal/ledger"
)

// Store keeps stored jobs, their evidence, and the bodies and shops they name. The makers of it
// (a folder, memory, a database) pass one suite of tests, storetest.TestStore.
type Store interface {
	Jobs
	Blobs
	Library
}

// Change is what one person does to a job at once: all of it is written or nothing.
type Change struct {
	Key    string      // made by whoever sends it and used for nothing else: sent twice, the change is made once
	By     string      // the person, by an opaque name that says nothing of who that is
	Events []job.Event // each with the number of the event about its record that the person had before them
	Wants  []Wanted    // work in the background that is asked for with it, in one: not where it was made before
}

// Head is the newest event of a job.
type Head struct {
	Seq  int64  `json:"seq"`
	Hash string `json:"hash"`
}

// JobLine is a job in a list. Jobs.List tells its name and newest event, Lists.Find all of it.
type JobLine struct {
	ID      string
	Head    Head
	Changed string // the time of its newest event, as the ledger has it
	Vehicle string // the last characters of the vehicle's number
	Owner   string // the shop it belongs to; empty: it was never handed over
	At      int64  // the event at which what is shown stood so; older than Head: it may not be so any more
	Shown
}

// Jobs keeps chains of events. The times of events are its own. It writes nothing over an event
// that the author of a change had not seen: that is an error of kind diag.Conflict, as is a key
// that was used for another change.
type Jobs interface {
	// Create begins a job with a change that opens it.
	Create(ctx context.Context, id string, c Change) (Head, error)
	// Append adds a change. May, where it is given, is asked with the job before and after
	// it, once nothing else speaks against it; an error of it is the answer, and nothing is written.
	// With an erasure of texts those are gone from every event about the record.
	Append(ctx context.Context, id string, c Change, may func(before, after *job.Stored) error) (Head, error)
	// Load is the events of a job from the one after that number; it verifies nothing.
	Load(ctx context.Context, id string, after int64) (ledger.Chain, error)
	// Head is the newest event of a job.
	Head(ctx context.Context, id string) (Head, error)
	// Lines is the events of a job with the keys of the changes that wrote them; it verifies nothing.
	Lines(ctx context.Context, id string) ([]job.Line, error)
	// Bring begins a job with the lines of another store as they are: numbers, times, persons, keys and hashes
	// stay. They are verified before. Brought twice it is there once; what has gone on since, here or there, is a
	// diag.Conflict.
	Bring(ctx context.Context, id string, lines []job.Line) (Head, error)
	// SetAside keeps the files that a job was written in by hand, by name, and Aside is them; nothing reads them
	// as the job. What is set aside stays: other files under the same job are a diag.Conflict.
	SetAside(ctx context.Context, id string, files map[string][]byte) error
	Aside(ctx context.Context, id string) (map[string][]byte, error)
	// List is so many jobs in the order of their names, from the one after that name.
	List(ctx context.Context, after string, most int) ([]JobLine, error)
}

// Blobs keeps bytes by their SHA-256.
type Blobs interface {
	// Put keeps what is read, of at most so many bytes; it returns once they are safe.
	Put(ctx context.Context, r io.Reader, most int64) (hash string, size int64, err error)
	// Get is the bytes of a hash and how many they are. Reading them to the end fails when they are not
	// those any more.
	Get(ctx context.Context, hash string) (io.ReadCloser, int64, error)
	// Retain says that bytes are kept, how many, and that they stay for a day even if nothing refers to them. Whoever
	// notes a hash somewhere does so within a day of Put or Retain. Where nothing is kept it is a diag.NotFound, and
	// where other than so many bytes are, a diag.Integrity: putting them mends that.
	Retain(ctx context.Context, hash string) (size int64, err error)
}

// Library keeps bodies and shops by the hash of their files (body.Hash).
type Library interface {
	// Keep puts the files of a body, or of a shop, into the library. Names use slashes.
	Keep(ctx context.Context, files map[string][]byte) (hash string, err error)
	// Files is what was kept under a hash; they are those, or it is an error.
	Files(ctx context.Context, hash string) (map[string][]byte, error)
}
