package database

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// CheckSound reads the whole database: what SQLite itself says of its file, and the tree of the log, which is made
// anew out of the leaves; every event, content and set-aside file has a leaf.
func (d *Database) CheckSound(ctx context.Context) error {
	if !d.kind.postgres {
		for _, ask := range []string{"pragma integrity_check", "pragma foreign_key_check"} {
			says, err := firsts(ctx, d.reads, ask)
			if err == nil && len(says) > 0 && !slices.Equal(says, []string{"ok"}) {
				err = fmt.Errorf("%s says %q", ask, says)
			}
			if err != nil {
				return err
			}
		}
	}
	return errors.Join(d.checkTree(ctx), d.checkCounts(ctx))
}

func (d *Database) checkTree(ctx context.Context) error {
	want := map[int64]tlog.Hash{}
	next := int64(0)
	err := d.Read(ctx, "select n, "+leafColumns+" from leaves order by n", nil, func(scan func(...any) error) error {
		var n int64
		var l leaf
		if err := scan(&n, &l.kind, &l.name, &l.seq, &l.hash, &l.request); err != nil {
			return err
		}
		if n != next {
			return fmt.Errorf("leaf %d follows on %d leaves", n, next)
		}
		next++
		_, err := l.nodes(n, want)
		return err
	})
	if err != nil {
		return err
	}
	have := 0
	err = d.Read(ctx, "select at, hash from nodes", nil, func(scan func(...any) error) error {
		var at int64
		var hash []byte
		err := scan(&at, &hash)
		is := want[at]
		if err == nil && !bytes.Equal(hash, is[:]) {
			err = fmt.Errorf("node %d is not the one of its leaves", at)
		}
		have++
		return err
	})
	if err == nil && have != len(want) {
		err = fmt.Errorf("the tree has %d nodes, its leaves make %d", have, len(want))
	}
	return err
}

// checkCounts wants as many rows of one kind as of another: one left out on one side is half a change.
func (d *Database) checkCounts(ctx context.Context) error {
	for _, same := range [][2]string{
		{"select count(*) from events", "select count(*) from leaves l join events e on l.kind = 'event' and e.job = l.name and e.seq = l.seq and e.hash = l.hash"},
		{"select count(*) from events", "select count(*) from leaves where kind = 'event'"},
		{"select count(*) from events", "select coalesce(sum(events), 0) from requests"},
		{"select count(*) from events", "select coalesce(sum(seq), 0) from jobs"},
		{"select count(*) from blobs", "select count(*) from leaves where kind = 'blob'"},
		{"select count(*) from library", "select count(*) from leaves where kind = 'library'"},
		{"select count(distinct library) from library_files", "select count(*) from library"},
	} {
		var n [2]int64
		for i, ask := range same {
			if err := d.Read(ctx, ask, nil, func(scan func(...any) error) error { return scan(&n[i]) }); err != nil {
				return err
			}
		}
		if n[0] != n[1] {
			return fmt.Errorf("%q says %d, and %q %d", same[0], n[0], same[1], n[1])
		}
	}
	return nil
}

// On is the settings for a database that SQLite finds by another way than the system's files.
func (s Settings) On(vfs string) Settings {
	s.vfs = vfs
	return s
}

// Set has SQLite opened with another value of a setting, until what it returns is called.
func Set(name, set, is string) (undo func()) {
	was := slices.Clone(settings)
	settings = append(slices.DeleteFunc(slices.Clone(settings), func(p pragma) bool { return p.name == name }), pragma{name, set, is})
	return func() { settings = was }
}

// SetPatience has transactions tried again for another time, until what it returns is called.
func SetPatience(most time.Duration) (undo func()) {
	was := mostAgain
	mostAgain = most
	return func() { mostAgain = was }
}

// Trusting has no setting of PostgreSQL looked at, until what it returns is called.
func Trusting() (undo func()) {
	was := safeSettings
	safeSettings = nil
	return func() { safeSettings = was }
}

// NoTurns lets the database write whenever SQLite lets it.
func (d *Database) NoTurns() { d.turns = nil }
