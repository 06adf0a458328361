package simdisk

import (
	"io/fs"

	"fettle/internal/store/safefile"
)

// Call is what is asked of a folder.
type Call int

// Calls. Those from CallCreate on change something.
const (
	CallRead Call = iota
	CallRemove
	CallSync
	CallCreate // and those from here on need room
	CallRename
	CallMkdir
	CallWrite
)

func (c Call) String() string {
	return [...]string{"read", "remove", "sync", "create", "rename", "mkdir", "write"}[c]
}

// Asked is a folder of which each call first asks whether it may go on, and fails with the error. A call that writes may
// be told that half of it is written before.
func Asked(d safefile.Dir, ask func(Call) (half bool, err error)) safefile.Dir { return &asked{d, ask} }

type asked struct {
	safefile.Dir
	ask func(Call) (half bool, err error)
}

func (a *asked) may(c Call, op, name string) error {
	if _, err := a.ask(c); err != nil {
		return &fs.PathError{Op: op, Path: name, Err: err}
	}
	return nil
}

func (a *asked) Create(name string) (safefile.File, error) {
	if err := a.may(CallCreate, "create", name); err != nil {
		return nil, err
	}
	f, err := a.Dir.Create(name)
	if err != nil {
		return nil, err
	}
	return &askedFile{f, a, name}, nil
}

func (a *asked) Open(name string, most int64) (safefile.File, error) {
	if err := a.may(CallRead, "open", name); err != nil {
		return nil, err
	}
	f, err := a.Dir.Open(name, most)
	if err != nil {
		return nil, err
	}
	return &askedFile{f, a, name}, nil
}

func (a *asked) Lstat(name string) (fs.FileInfo, error) {
	if err := a.may(CallRead, "lstat", name); err != nil {
		return nil, err
	}
	return a.Dir.Lstat(name)
}

func (a *asked) Each(name string, f func(fs.FileInfo) error) error {
	if err := a.may(CallRead, "readdir", name); err != nil {
		return err
	}
	return a.Dir.Each(name, f)
}

func (a *asked) Rename(from, to string) error {
	if err := a.may(CallRename, "rename", from); err != nil {
		return err
	}
	return a.Dir.Rename(from, to)
}

func (a *asked) Mkdir(name string) error {
	if err := a.may(CallMkdir, "mkdir", name); err != nil {
		return err
	}
	return a.Dir.Mkdir(name)
}

func (a *asked) Remove(name string) error {
	if err := a.may(CallRemove, "remove", name); err != nil {
		return err
	}
	return a.Dir.Remove(name)
}

func (a *asked) SyncDir(name string) error {
	if err := a.may(CallSync, "sync", name); err != nil {
		return err
	}
	return a.Dir.SyncDir(name)
}

type askedFile struct {
	safefile.File
	of   *asked
	name string
}

func (f *askedFile) Write(p []byte) (int, error) {
	half, err := f.of.ask(CallWrite)
	if err == nil {
		return f.File.Write(p)
	}
	n := 0
	if half {
		n, _ = f.File.Write(p[:len(p)/2]) // what is told is the fault
	}
	return n, &fs.PathError{Op: "write", Path: f.name, Err: err}
}

func (f *askedFile) Read(p []byte) (int, error) {
	if err := f.of.may(CallRead, "read", f.name); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

func (f *askedFile) ReadAt(p []byte, at int64) (int, error) {
	if err := f.of.may(CallRead, "read", f.name); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, at)
}

func (f *askedFile) Sync() error {
	if err := f.of.may(CallSync, "sync", f.name); err != nil {
		return err
	}
	return f.File.Sync()
}
