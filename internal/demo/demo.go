// Package demo owns the invented scenario that shows the program at work: two
// bodies, a shop and four jobs. Nothing in it is real: no maker builds the
// vehicles, no maker publishes the procedures, and every limit, price and time is
// made up.
//
// The van's casting has a mesh, made by the generator in package casting and kept
// beside the other files, so that every machine reads the same bytes; a test
// makes it again and compares.
package demo

import (
	"bytes"
	"compress/gzip"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"
)

// Job is the folder of the damaged van's job; SoundJob that of a van on which there
// is nothing to do; RearJob that of a hatchback whose casting has no mesh, repaired
// and on record until nothing is missing.
const (
	Job      = "job"
	SoundJob = "sound-job"
	RearJob  = "rear-job"
)

// Day is the day the scenario plays on.
var Day = time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC)

//go:generate go run ./gen

//go:embed files
var embedded embed.FS

// Files is every file of the scenario by slash path. Files packed with gzip are
// given unpacked.
func Files() map[string][]byte {
	out := map[string][]byte{}
	err := fs.WalkDir(embedded, "files", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := embedded.ReadFile(p)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(p, "files/")
		if plain, ok := strings.CutSuffix(name, ".gz"); ok {
			if data, err = unpack(data); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			name = plain
		}
		out[name] = data
		return nil
	})
	if err != nil {
		panic("the files built into the program are damaged: " + err.Error()) // a fault of the build, not of data
	}
	looked(out)
	return out
}

func unpack(data []byte) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}
