package datafolder

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/store/blobs"
)

// fewUnknown is how many files without a row tell nothing: they are being put, or were swept and their removal was broken off.
const fewUnknown = 10

// Swept is what a sweep has found and done.
type Swept struct {
	blobs.Swept
	Held int // files that stay only because a backup is being made
	Over int // records about people that were over: sessions, links, old lines of the security log
}

// Sweep removes bytes that nothing has referred to for a day, with their rows, and marks what nothing refers to today. Where most of the
// bytes have no row nothing is removed: they may be those of another database. While a backup is made no bytes are removed either.
// What is over about people goes first.
func (s *Store) Sweep(ctx context.Context) (Swept, error) {
	over, err := account.Sweep(ctx, s.Database.Accounts(), s.now())
	if err != nil {
		return Swept{}, err
	}
	known, unknown := 0, 0
	err = s.Blobs.Each(ctx, func(hash string, _ int64) error {
		is, err := s.HasBlob(ctx, hash)
		if is {
			known++
		} else {
			unknown++
		}
		return err
	})
	if err == nil && unknown > known && unknown > fewUnknown {
		err = &diag.Error{Kind: diag.Conflict, Op: "sweep", Subject: s.Dir, Msg: fmt.Sprintf("of %d files %d have no row in this database; nothing was removed", known+unknown, unknown), Hint: "see whether the database that is named is the one of these files"}
	}
	if err != nil {
		return Swept{}, err
	}
	refs, err := s.References(ctx, s.Settings.results())
	if err != nil {
		return Swept{}, err
	}
	swept, err := s.Blobs.SweepLetting(ctx, refs.Refers, refs.LetGo)
	return Swept{swept, refs.Held(), over}, err
}

// Scan reads all bytes that are kept, holds them against their hashes and rows, and names those that are damaged. Before each file progress is told
// how many of how many are read.
func (s *Store) Scan(ctx context.Context, progress func(done, of int), damaged func(hash string, why error)) (files int, size int64, err error) {
	has := map[string]int64{}
	err = s.Read(ctx, "select hash, size from blobs", nil, func(scan func(...any) error) error {
		var hash string
		var size int64
		err := scan(&hash, &size)
		has[hash] = size
		return err
	})
	for _, hash := range slices.Sorted(maps.Keys(has)) {
		if err == nil {
			progress(files, len(has))
			err = ctx.Err()
		}
		if err != nil {
			return files, size, err
		}
		n, bad := s.readOne(ctx, hash)
		if bad == nil && n != has[hash] {
			bad = fmt.Errorf("it has %d bytes, and its row says %d", n, has[hash])
		}
		files, size = files+1, size+n
		if bad == nil {
			continue
		}
		var still bool
		if still, err = s.HasBlob(ctx, hash); err == nil && ctx.Err() == nil && still { // it was not swept meanwhile
			damaged(hash, bad)
		}
	}
	return files, size, err
}

func (s *Store) readOne(ctx context.Context, hash string) (n int64, err error) {
	r, _, err := s.Blobs.Get(ctx, hash)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	buffer := make([]byte, 128<<10)
	for {
		read, err := r.Read(buffer)
		if n += int64(read); errors.Is(err, io.EOF) {
			return n, nil
		}
		if err = errors.Join(err, ctx.Err()); err != nil {
			return n, err
		}
	}
}
