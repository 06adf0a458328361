package database

import (
	"crypto/sha256"
	"encoding/hex"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"

	"fettle/internal/ledger"
)

// leafKind says what a leaf of the log is about.
type leafKind string

// Kinds of leaf.
const (
	ofEvent   leafKind = "event"   // an event of a job
	ofBlob    leafKind = "blob"    // bytes that are kept
	ofLibrary leafKind = "library" // a body or shop that is kept
	ofAside   leafKind = "aside"   // the files that a job was written in by hand
	ofTask    leafKind = "task"    // a state of work that was asked for
	ofLine    leafKind = "line"    // what a list shows of a job

	ofHold       leafKind = "hold"        // that nothing of a job may be erased
	ofSetting    leafKind = "setting"     // what a shop has set
	ofPause      leafKind = "pause"       // that no sweep removes anything
	ofHandedBack leafKind = "handed-back" // that the vehicle of a job was handed back
	ofBrought    leafKind = "brought"     // that a shop has brought bytes or a content
	ofRemoved    leafKind = "removed"     // that a job was removed
	ofAccount    leafKind = "account"     // a person, a shop, a session and so on
)

// leafForm is hashed with every leaf.
const leafForm = "fettle-log 1"

// leaf is one line of the log: what the hash of one thing is. It holds nothing that says who somebody is.
type leaf struct {
	kind    leafKind
	name    string // of the job; the hash itself where the thing has no other name
	seq     int64  // of an event
	hash    string // empty: the thing is no longer there
	request string // hash of the key of the change
}

const leafColumns = "kind, name, seq, hash, request"

// bytes is what is hashed of a leaf.
func (l leaf) bytes() ([]byte, error) {
	return ledger.Canonical(map[string]any{"format": leafForm, "kind": string(l.kind), "name": l.name, "seq": l.seq, "hash": l.hash, "request": l.request})
}

func sumOf(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

// leaf puts a leaf into the log when the transaction is committed.
func (t *Tx) leaf(l leaf) { t.fresh = append(t.fresh, l) }

// edge is the size of the log and the nodes from which a longer one goes on.
type edge struct {
	size  int64
	nodes map[int64]tlog.Hash
}

// places is where the nodes of the edge of a log of that size are: the roots of its full trees.
func places(size int64) []int64 {
	var out []int64
	for rest := size; rest > 0; rest &= rest - 1 {
		level := bits.TrailingZeros64(uint64(rest))
		out = append(out, tlog.StoredHashIndex(level, size>>level-1))
	}
	return out
}

// writeLog puts the new leaves into the log, behind what other programs have written meanwhile.
func (t *Tx) writeLog() error {
	if len(t.fresh) == 0 {
		return nil
	}
	size, err := t.logSize()
	if err != nil {
		return err
	}
	nodes := map[int64]tlog.Hash{}
	for _, at := range places(size) {
		h, ok := t.log.nodes[at]
		if !ok || t.log.size != size {
			if h, err = t.node(at); err != nil {
				return err
			}
		}
		nodes[at] = h
	}
	var leaves, tree [][]any
	for i, l := range t.fresh {
		n := size + int64(i)
		leaves = append(leaves, []any{n, string(l.kind), l.name, l.seq, l.hash, l.request})
		fresh, err := l.nodes(n, nodes)
		if err != nil {
			return err
		}
		tree = append(tree, fresh...)
	}
	if err := t.insert("leaves", "n, "+leafColumns, leaves); err != nil {
		return err
	}
	if err := t.insert("nodes", "at, hash", tree); err != nil {
		return err
	}
	size += int64(len(t.fresh))
	t.log = edge{size, map[int64]tlog.Hash{}}
	for _, at := range places(size) {
		t.log.nodes[at] = nodes[at]
	}
	return nil
}

func (t *Tx) logSize() (int64, error) {
	var size int64
	err := t.Query("select coalesce(max(n) + 1, 0) from leaves", nil, func(scan func(...any) error) error { return scan(&size) })
	return size, err
}

// node is a node of the tree.
func (t *Tx) node(at int64) (tlog.Hash, error) {
	var b []byte
	if err := t.Query("select hash from nodes where at = $1", []any{at}, func(scan func(...any) error) error { return scan(&b) }); err != nil {
		return tlog.Hash{}, err
	}
	return nodeOf(b)
}

func nodeOf(b []byte) (h tlog.Hash, err error) {
	if len(b) != len(h) {
		return h, damaged("the log", "a node of its tree is not there")
	}
	copy(h[:], b)
	return h, nil
}

// nodes is the rows of the nodes that leaf n makes full, which are added to those there are.
func (l leaf) nodes(n int64, nodes map[int64]tlog.Hash) ([][]any, error) {
	data, err := l.bytes()
	if err != nil {
		return nil, err
	}
	hashes, err := tlog.StoredHashes(n, data, tlog.HashReaderFunc(func(at []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(at))
		for i, p := range at {
			h, ok := nodes[p]
			if !ok {
				return nil, damaged("the log", "a node of its tree is not there")
			}
			out[i] = h
		}
		return out, nil
	}))
	var rows [][]any
	for i, h := range hashes {
		at := tlog.StoredHashIndex(0, n) + int64(i)
		nodes[at] = h
		rows = append(rows, []any{at, h[:]})
	}
	return rows, err
}
