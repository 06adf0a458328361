package database

import (
	"context"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"

	"fettle/internal/diag"
	"fettle/internal/ledger"
)

// Checkpoint is the log as it is: how many leaves it has, and its root. Origin says which log it is.
func (d *Database) Checkpoint(ctx context.Context, origin string) (ledger.Checkpoint, error) {
	size, err := d.logSize(ctx)
	if err != nil {
		return ledger.Checkpoint{}, err
	}
	root, err := tlog.TreeHash(size, d.nodes(ctx))
	return ledger.Checkpoint{Origin: origin, Size: size, Root: ledger.Hash(root)}, err
}

func (d *Database) logSize(ctx context.Context) (size int64, err error) {
	err = d.Read(ctx, "select coalesce(max(n) + 1, 0) from leaves", nil, func(scan func(...any) error) error { return scan(&size) })
	return size, err
}

// nodes reads nodes of the log. They are never changed: a log that grows meanwhile has the same.
func (d *Database) nodes(ctx context.Context) tlog.HashReader {
	return tlog.HashReaderFunc(func(at []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(at))
		for i, p := range at {
			var b []byte
			err := d.Read(ctx, "select hash from nodes where at = $1", []any{p}, func(scan func(...any) error) error { return scan(&b) })
			if err == nil {
				out[i], err = nodeOf(b)
			}
			if err != nil {
				return nil, err
			}
		}
		return out, nil
	})
}

// Included is the proof that something is in the log.
type Included struct {
	Leaf  []byte // what was hashed
	N     int64  // its number
	Proof []ledger.Hash
}

// ProveEvent proves that an event of a job is in the log, as it was when it had so many leaves.
func (d *Database) ProveEvent(ctx context.Context, id string, seq, size int64) (Included, error) {
	found, n := leaf{}, int64(-1)
	err := d.Read(ctx, "select n, "+leafColumns+" from leaves where kind = $1 and name = $2 and seq = $3 and n < $4", []any{string(ofEvent), id, seq, size}, func(scan func(...any) error) error {
		return scan(&n, &found.kind, &found.name, &found.seq, &found.hash, &found.request)
	})
	if err == nil && n < 0 {
		err = &diag.Error{Kind: diag.NotFound, Op: "prove", Subject: id, Msg: fmt.Sprintf("event %d is not among the first %d leaves of the log", seq, size), Hint: "use a newer checkpoint"}
	}
	if err != nil {
		return Included{}, err
	}
	content, err := found.bytes()
	if err != nil {
		return Included{}, err
	}
	proof, err := d.proof(ctx, size, func(r tlog.HashReader) ([]tlog.Hash, error) { return tlog.ProveRecord(size, n, r) })
	return Included{content, n, proof}, err
}

// ProveGrowth proves that the log with so many leaves begins with those it had earlier.
func (d *Database) ProveGrowth(ctx context.Context, from, to int64) ([]ledger.Hash, error) {
	if from < 1 || from > to {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "prove", Subject: "the log", Msg: fmt.Sprintf("it does not grow from %d to %d leaves", from, to)}
	}
	return d.proof(ctx, to, func(r tlog.HashReader) ([]tlog.Hash, error) { return tlog.ProveTree(to, from, r) })
}

func (d *Database) proof(ctx context.Context, size int64, prove func(tlog.HashReader) ([]tlog.Hash, error)) ([]ledger.Hash, error) {
	now, err := d.logSize(ctx)
	if err == nil && size > now {
		err = &diag.Error{Kind: diag.NotFound, Op: "prove", Subject: "the log", Msg: fmt.Sprintf("it has %d leaves, and not %d", now, size), Hint: "the checkpoint is of another log, or leaves are missing: verify the store"}
	}
	if err != nil {
		return nil, err
	}
	hashes, err := prove(d.nodes(ctx))
	out := make([]ledger.Hash, len(hashes))
	for i, h := range hashes {
		out[i] = ledger.Hash(h)
	}
	return out, err
}
