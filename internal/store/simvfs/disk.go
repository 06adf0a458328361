// Package simvfs is a disk in memory on which the SQLite of the program itself runs, for tests: it is told
// what SQLite writes and when it asks for that to be safe, and Cut is what is found of it after the power was cut. What was not made
// safe may be lost, torn or there, each write by itself and in any order; so may names that were given or taken away in a folder that
// was not synced. Before each call a test may let it fail. It models no disk that lies about syncing.
package simvfs

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"path"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// Call is what is asked of a disk.
type Call int

// Calls that may fail. Those that need no room go on where the disk is full.
const (
	CallOpen Call = iota
	CallRead
	CallWrite
	CallTruncate
	CallSync
	CallDelete
)

func (c Call) String() string {
	return [...]string{"open", "read", "write", "truncate", "sync", "delete"}[c]
}

// Disk is a folder with files.
type Disk struct {
	mu     sync.Mutex
	number int64
	files  map[string]*node
	safe   map[string]*node // names that stay
	before func(Call) error
}

// node is a file.
type node struct {
	data    []byte
	safe    []byte // what stays of it
	pending []change
	locks   map[*handle]int32
	shared  []uintptr // memory that its connections share
	users   int       // of that
	reads   [8]int    // shared locks of it
	writes  [8]bool   // and exclusive ones
}

// change is one write, or a cut to a length, that is not safe.
type change struct {
	at   int64
	data []byte // nil: a cut
}

var (
	disks sync.Map // by their number
	last  atomic.Int64

	waited atomic.Int64
)

// New is an empty disk. Before, where it is given, is asked before each call, which fails with its error.
func New(before func(Call) error) *Disk {
	d := &Disk{number: last.Add(1), files: map[string]*node{}, safe: map[string]*node{}, before: before}
	disks.Store(d.number, d)
	return d
}

// Drop forgets a disk and all that is on it. Nothing may be open on it any more.
func (d *Disk) Drop() {
	disks.Delete(d.number)
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, names := range []map[string]*node{d.files, d.safe} {
		for _, n := range names {
			n.data, n.safe, n.pending = nil, nil, nil
		}
	}
}

// File is what SQLite is told of a file on the disk, and VFS is where it finds it.
func (d *Disk) File(name string) string { return fmt.Sprintf("/%d/%s", d.number, name) }

// on is the disk that a file is on.
func on(file string) *Disk {
	var n int64
	var name string
	if _, err := fmt.Sscanf(file, "/%d/%s", &n, &name); err != nil {
		return nil
	}
	d, _ := disks.Load(n)
	is, _ := d.(*Disk)
	return is
}

// Clone is the disk as it is, with nothing of it open.
func (d *Disk) Clone(before func(Call) error) *Disk {
	return d.found(before, func(n *node) *node {
		return &node{data: slices.Clone(n.data), safe: slices.Clone(n.safe), pending: slices.Clone(n.pending)}
	}, func(string) bool { return true })
}

// Cut is the disk as it is found after the power was cut.
func (d *Disk) Cut(r *rand.Rand, before func(Call) error) *Disk {
	return d.found(before, func(n *node) *node {
		data := n.cut(r)
		return &node{data: data, safe: slices.Clone(data)}
	}, func(string) bool { return r.IntN(2) == 0 })
}

// found is a disk of what is found of each file; a name that is not safe is as it is, or as it was.
func (d *Disk) found(before func(Call) error, of func(*node) *node, as func(name string) bool) *Disk {
	d.mu.Lock()
	defer d.mu.Unlock()
	is := New(before)
	names := slices.AppendSeq(slices.Collect(maps.Keys(d.files)), maps.Keys(d.safe))
	slices.Sort(names) // so that the draws are in one order
	for _, name := range slices.Compact(names) {
		from := d.files
		if d.files[name] != d.safe[name] && !as(name) {
			from = d.safe
		}
		if n := from[name]; n != nil {
			is.files[name] = of(n)
		}
	}
	is.safe = maps.Clone(is.files)
	return is
}

// sector is how much a disk writes at once.
const sector = 512

// cut is what is found of a file: of the changes that are not safe all, none or some, some of them torn.
func (n *node) cut(r *rand.Rand) []byte {
	data := slices.Clone(n.safe)
	of, torn := [...]int{0, 1, 2, 3, 3}[r.IntN(5)], r.IntN(2) == 0
	for _, c := range n.pending {
		switch {
		case of == 0 || of == 3 && r.IntN(2) == 0:
		case torn && c.data != nil && r.IntN(3) == 0:
			for at := 0; at < len(c.data); at += sector {
				if r.IntN(2) == 0 {
					end := min(len(c.data), at+sector)
					if r.IntN(8) == 0 {
						end = at + r.IntN(end-at)
					}
					data = change{at: c.at + int64(at), data: c.data[at:end]}.in(data)
				}
			}
		default:
			data = c.in(data)
		}
	}
	return data
}

// in makes a change.
func (c change) in(data []byte) []byte {
	if c.data == nil {
		return data[:min(int64(len(data)), c.at)]
	}
	if end := c.at + int64(len(c.data)); end > int64(len(data)) {
		data = append(data, make([]byte, end-int64(len(data)))...)
	}
	copy(data[c.at:], c.data)
	return data
}

// change makes a change that is not safe yet.
func (n *node) change(c change) {
	n.data = c.in(n.data)
	n.pending = append(n.pending, c)
}

// sync makes what was changed safe.
func (n *node) sync() {
	for _, c := range n.pending {
		n.safe = c.in(n.safe)
	}
	n.pending = nil
}

// fails is a sync that failed: what was to be made safe is forgotten, and no later sync makes it so, as on systems that
// mark it as written all the same.
func (n *node) fails() { n.pending = nil }

// Waited is how long SQLite has waited on all disks for a lock that another connection had.
func Waited() time.Duration { return time.Duration(waited.Load()) }

// base is a name in the folder.
func base(file string) string { return path.Base(file) }

// Left is how many files are open on all disks.
func Left() (open int) {
	handles.Range(func(any, any) bool { open++; return true })
	return open
}
