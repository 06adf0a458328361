// Package simdisk is a folder in memory: for stores that end with the program, and for tests, which can cut
// its power. What was not made safe by then may be lost, torn or there, each by itself, as on the worst disk that
// keeps its promises: the data of a file that was not synced, and every name that was given or taken away in a
// folder that was not. It models no links and no disk that lies about syncing.
package simdisk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"path"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Disk is a folder in memory. It is closed without effect, so that it can be opened again.
type Disk struct {
	mu  sync.Mutex
	now func() time.Time
	top *node
}

// node is a file or a folder.
type node struct {
	dir      bool
	names    map[string]*node // of a folder, as they are
	safe     map[string]*node // those that stay
	data     []byte           // of a file: only ever added to
	safeData int              // how much of it stays
	changed  time.Time
}

// New is an empty folder; changes have the times of a clock.
func New(now func() time.Time) *Disk { return &Disk{now: now, top: newFolder(now())} }

func newFolder(now time.Time) *node {
	return &node{dir: true, names: map[string]*node{}, safe: map[string]*node{}, changed: now}
}

// Cut is the disk as it is found after the power was cut.
func (d *Disk) Cut(r *rand.Rand) *Disk {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &Disk{now: d.now, top: d.top.cut(r, map[*node]*node{})}
}

// Clone is the disk as it is.
func (d *Disk) Clone() *Disk {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &Disk{now: d.now, top: d.top.clone(map[*node]*node{})}
}

func (n *node) clone(made map[*node]*node) *node {
	if n == nil || made[n] != nil {
		return made[n]
	}
	is := &node{dir: n.dir, data: slices.Clone(n.data), safeData: n.safeData, changed: n.changed}
	made[n] = is
	if n.dir {
		is.names, is.safe = map[string]*node{}, map[string]*node{}
		for name, of := range n.names {
			is.names[name] = of.clone(made)
		}
		for name, of := range n.safe {
			is.safe[name] = of.clone(made)
		}
	}
	return is
}

// cut makes of a file or folder what is found of it; one with two names is found once.
func (n *node) cut(r *rand.Rand, found map[*node]*node) *node {
	if is := found[n]; is != nil {
		return is
	}
	if !n.dir {
		data := torn(r, n.data, n.safeData)
		is := &node{data: data, safeData: len(data), changed: n.changed}
		found[n] = is
		return is
	}
	is := newFolder(n.changed)
	found[n] = is
	names := slices.AppendSeq(slices.Collect(maps.Keys(n.names)), maps.Keys(n.safe))
	slices.Sort(names) // so that the draws are in one order
	for _, name := range slices.Compact(names) {
		of := n.safe
		if n.safe[name] != n.names[name] && r.IntN(2) == 0 {
			of = n.names
		}
		if child := of[name]; child != nil {
			is.names[name] = child.cut(r, found)
		}
	}
	is.safe = maps.Clone(is.names)
	return is
}

// torn is the data of a file after a cut: what is safe, and of the rest nothing, all, or blocks of it, some of
// them empty.
func torn(r *rand.Rand, data []byte, safe int) []byte {
	switch r.IntN(4) {
	case 0:
		return slices.Clone(data[:safe])
	case 1:
		return slices.Clone(data)
	}
	out := slices.Clone(data[:safe+r.IntN(len(data)-safe+1)])
	const block = 512
	for at := safe; at < len(out); at += block {
		if r.IntN(2) == 0 {
			clear(out[at:min(at+block, len(out))])
		}
	}
	return out
}

// find is what has a name, and the folder it lies in.
func (d *Disk) find(op, name string) (in *node, base string, is *node, err error) {
	name = path.Clean(name)
	if name == "." {
		return nil, ".", d.top, nil
	}
	in = d.top
	parts := strings.Split(name, "/")
	for i, part := range parts {
		if !in.dir || part == ".." {
			return nil, "", nil, &fs.PathError{Op: op, Path: name, Err: syscall.ENOTDIR}
		}
		is = in.names[part]
		if i == len(parts)-1 {
			return in, part, is, nil
		}
		if is == nil {
			return nil, "", nil, &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
		}
		in = is
	}
	return nil, "", nil, &fs.PathError{Op: op, Path: name, Err: fs.ErrInvalid}
}

// there is find, for what has to be there.
func (d *Disk) there(op, name string) (in *node, base string, is *node, err error) {
	in, base, is, err = d.find(op, name)
	if err == nil && is == nil {
		err = &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
	}
	return in, base, is, err
}

// add puts something new into a folder.
func (d *Disk) add(op, name string, is *node) error {
	in, base, was, err := d.find(op, name)
	if err == nil && was != nil {
		err = &fs.PathError{Op: op, Path: name, Err: fs.ErrExist}
	}
	if err != nil {
		return err
	}
	in.names[base], in.changed = is, d.now()
	return nil
}

// Create makes a file to be written.
func (d *Disk) Create(name string) (safefile.File, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	is := &node{changed: d.now()}
	if err := d.add("create", name, is); err != nil {
		return nil, err
	}
	return &file{disk: d, name: path.Base(name), is: is, writes: true}, nil
}

// Open opens a file to be read.
func (d *Disk) Open(name string, most int64) (safefile.File, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	_, base, is, err := d.there("open", name)
	if err != nil {
		return nil, err
	}
	if is.dir || int64(len(is.data)) > most {
		return nil, &diag.Error{Kind: diag.Denied, Op: "store", Subject: name, Msg: fmt.Sprintf("is no file of at most %d bytes", most), Hint: "take it away"}
	}
	return &file{disk: d, name: base, is: is}, nil
}

// Lstat is what has a name.
func (d *Disk) Lstat(name string) (fs.FileInfo, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	_, base, is, err := d.there("lstat", name)
	if err != nil {
		return nil, err
	}
	return is.info(base), nil
}

// Rename gives a file another name.
func (d *Disk) Rename(from, to string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	old, oldBase, is, err := d.there("rename", from)
	if err != nil {
		return err
	}
	in, base, was, err := d.find("rename", to)
	if err == nil && (was != nil && was.dir || old == nil || in == nil) {
		err = &fs.PathError{Op: "rename", Path: to, Err: fs.ErrExist}
	}
	if err != nil {
		return err
	}
	delete(old.names, oldBase)
	in.names[base] = is
	old.changed, in.changed = d.now(), d.now()
	return nil
}

// Remove takes a file or an empty folder away.
func (d *Disk) Remove(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	in, base, is, err := d.there("remove", name)
	if err == nil && (in == nil || is.dir && len(is.names) > 0) {
		err = &fs.PathError{Op: "remove", Path: name, Err: syscall.ENOTEMPTY}
	}
	if err != nil {
		return err
	}
	delete(in.names, base)
	in.changed = d.now()
	return nil
}

// Mkdir makes a folder.
func (d *Disk) Mkdir(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.add("mkdir", name, newFolder(d.now()))
}

// Each does something with everything in a folder.
func (d *Disk) Each(name string, f func(fs.FileInfo) error) error {
	d.mu.Lock()
	_, _, is, err := d.there("readdir", name)
	if err == nil && !is.dir {
		err = &fs.PathError{Op: "readdir", Path: name, Err: syscall.ENOTDIR}
	}
	if err != nil {
		d.mu.Unlock()
		return err
	}
	var all []fs.FileInfo
	for _, base := range slices.Sorted(maps.Keys(is.names)) {
		all = append(all, is.names[base].info(base))
	}
	d.mu.Unlock()
	for _, fi := range all {
		if err := f(fi); err != nil {
			return err
		}
	}
	return nil
}

// SyncDir makes the names of a folder safe.
func (d *Disk) SyncDir(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	_, _, is, err := d.there("sync", name)
	if err != nil {
		return err
	}
	is.safe = maps.Clone(is.names)
	return nil
}

// Close does nothing.
func (d *Disk) Close() error { return nil }

// file is a file that is open.
type file struct {
	disk   *Disk
	name   string
	is     *node
	writes bool
	at     int64
}

func (f *file) Write(p []byte) (int, error) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	if !f.writes {
		return 0, &fs.PathError{Op: "write", Path: f.name, Err: syscall.EBADF}
	}
	f.is.data, f.is.changed = append(f.is.data, p...), f.disk.now()
	return len(p), nil
}

func (f *file) Read(p []byte) (int, error) {
	n, err := f.ReadAt(p, f.at)
	f.at += int64(n)
	if n > 0 {
		err = nil
	}
	return n, err
}

func (f *file) ReadAt(p []byte, at int64) (int, error) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	if at < 0 {
		return 0, &fs.PathError{Op: "read", Path: f.name, Err: fs.ErrInvalid}
	}
	if at >= int64(len(f.is.data)) {
		if len(p) == 0 {
			return 0, nil
		}
		return 0, io.EOF
	}
	n := copy(p, f.is.data[at:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

func (f *file) Seek(to int64, whence int) (int64, error) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	switch whence {
	case io.SeekCurrent:
		to += f.at
	case io.SeekEnd:
		to += int64(len(f.is.data))
	}
	if to < 0 {
		return 0, errors.New("before the beginning")
	}
	f.at = to
	return to, nil
}

func (f *file) Stat() (fs.FileInfo, error) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	return f.is.info(f.name), nil
}

func (f *file) Sync() error {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	f.is.safeData = len(f.is.data)
	return nil
}

func (f *file) Close() error { return nil }

// info is a file or folder at one moment.
type info struct {
	name    string
	size    int64
	dir     bool
	changed time.Time
}

func (n *node) info(name string) info { return info{name, int64(len(n.data)), n.dir, n.changed} }

func (i info) Name() string { return i.name }
func (i info) Size() int64  { return i.size }
func (i info) Mode() fs.FileMode {
	if i.dir {
		return fs.ModeDir | 0o755
	}
	return 0o644
}
func (i info) ModTime() time.Time { return i.changed }
func (i info) IsDir() bool        { return i.dir }
func (i info) Sys() any           { return nil }
