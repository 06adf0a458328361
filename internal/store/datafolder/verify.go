package datafolder

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"

	"fettle/internal/ledger"
	"fettle/internal/store/database"
)

// Verified is what a verification has read, and what it found.
type Verified struct {
	Log    ledger.Checkpoint // at its beginning; without an origin
	Blobs  int               // bytes under so many hashes were read
	Bytes  int64
	Faults []database.Fault
}

// Verify reads everything that is kept, while others go on, and says what is not as it was written: the file of the database,
// every row (database.Verify), all bytes that rows name, and bodies and shops whole. The log has to go on from checkpoints that
// were kept outside.
func (s *Store) Verify(ctx context.Context, outside ...ledger.Checkpoint) (Verified, error) {
	var v Verified
	if err := s.Sound(ctx, true); err != nil {
		if ctx.Err() != nil {
			return v, ctx.Err()
		}
		v.Faults = append(v.Faults, database.Fault{Where: "the database", Msg: err.Error()})
	}
	has, err := s.Contents(ctx)
	if err != nil {
		return v, err
	}
	v.Log = has.Log
	rows, err := s.Database.Verify(ctx, outside...)
	v.Faults = append(v.Faults, rows...)
	if err != nil {
		return v, err
	}
	for _, hash := range slices.Sorted(maps.Keys(has.Blobs)) {
		size, err := readWhole(ctx, s.Blobs, hash)
		if err == nil && size != has.Blobs[hash] {
			err = fmt.Errorf("it has %d bytes, and its row says %d", size, has.Blobs[hash])
		}
		v.Blobs++
		v.Bytes += size
		if err := v.note(ctx, "file "+hash, err, func() (bool, error) { return s.HasBlob(ctx, hash) }); err != nil {
			return v, err
		}
	}
	for _, hash := range has.Library {
		_, err := s.Files(ctx, hash)
		if err := v.note(ctx, "content "+hash, err, func() (bool, error) { return s.HasContent(ctx, hash) }); err != nil {
			return v, err
		}
	}
	return v, nil
}

// note notes an error as a fault, unless what it is about was taken away meanwhile.
func (v *Verified) note(ctx context.Context, where string, fault error, still func() (bool, error)) error {
	if fault == nil {
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	there, err := still()
	if err == nil && there {
		v.Faults = append(v.Faults, database.Fault{Where: where, Msg: fault.Error()})
	}
	return err
}

// untilDone reads until somebody stops it.
type untilDone struct {
	ctx context.Context
	io.Reader
}

func (r untilDone) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.Reader.Read(p)
}
