package app

import (
	"bytes"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
)

// keptFiles is files that a library keeps, as the service reads files. There is nothing beside them.
type keptFiles map[string][]byte

func (f keptFiles) Copy(dir, name string, most int64, to io.Writer) (int64, error) {
	data, ok := f[path.Join(dir, name)]
	switch {
	case !ok:
		return 0, fs.ErrNotExist
	case int64(len(data)) > most:
		return 0, &TooLarge{int64(len(data)), most}
	}
	return io.Copy(to, bytes.NewReader(data))
}

func (f keptFiles) List(dir string) ([]string, error) {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(f)) {
		if dir = path.Clean(dir); dir == "." {
			out = append(out, name)
		} else if rest, ok := strings.CutPrefix(name, dir+"/"); ok {
			out = append(out, rest)
		}
	}
	return out, nil
}

func (f keptFiles) IsDir(p string) bool {
	p = path.Clean(p)
	for name := range f {
		if p == "." || strings.HasPrefix(name, p+"/") {
			return true
		}
	}
	return false
}

func (f keptFiles) Exists(p string) bool {
	_, ok := f[path.Clean(p)]
	return ok || f.IsDir(p)
}

func (f keptFiles) Real(p string) (string, error) { return path.Clean(p), nil }
