// Package folders is folders of files in memory, and the demonstration in them, for tests.
package folders

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"fettle/internal/demo"
)

// Files is files by their slash path, below no folder in particular.
type Files map[string][]byte

// Copy writes a file of a folder, as much of it as is asked for.
func (f Files) Copy(dir, name string, most int64, to io.Writer) (int64, error) {
	data, ok := f[path.Join(dir, name)]
	if !ok {
		return 0, fs.ErrNotExist
	}
	n, err := to.Write(data[:min(most, int64(len(data)))])
	return int64(n), err
}

// List is the names of all files below a folder, in order.
func (f Files) List(dir string) ([]string, error) {
	var out []string
	for p := range f {
		if rest, ok := strings.CutPrefix(path.Clean("/"+p), strings.TrimSuffix(path.Clean("/"+dir), "/")+"/"); ok {
			out = append(out, rest)
		}
	}
	slices.Sort(out)
	return out, nil
}

// IsDir says that files lie below a folder.
func (f Files) IsDir(p string) bool {
	below, _ := f.List(p)
	return len(below) > 0
}

// Exists says that there is such a file or folder.
func (f Files) Exists(p string) bool { _, ok := f[p]; return ok || f.IsDir(p) }

// Real is the path itself: there are no links.
func (f Files) Real(p string) (string, error) { return p, nil }

//go:embed coarse.ply.gz
var packed []byte

var coarsely = sync.OnceValue(func() Files {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic(err) // a fault of the build, not of data
	}
	mesh, err := io.ReadAll(z)
	if err != nil {
		panic(err)
	}
	out := Files(demo.Files())
	out["body/front-casting.ply"] = mesh
	return out
})

// Coarse is the demonstration with the coarse mesh of its casting, in a tenth of the faces: what
// it is about is the same. Files may be put into it and taken out; nobody writes into one.
func Coarse() Files { return maps.Clone(coarsely()) }
