package database

import (
	"bytes"
	"context"
	"io"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
)

// Put keeps bytes, and then their row.
func (d *Database) Put(ctx context.Context, r io.Reader, most int64) (string, int64, error) {
	hash, size, err := d.set.Blobs.Put(ctx, r, most)
	if err != nil {
		return "", 0, err
	}
	if err := d.NoteBlob(ctx, hash, size); err != nil {
		return "", 0, err
	}
	return hash, size, nil
}

// NoteBlob writes the row of bytes that are safe in where this database has its bytes.
func (d *Database) NoteBlob(ctx context.Context, hash string, size int64) error {
	return d.Write(ctx, func(t *Tx) error { return t.addBlob(hash, size) })
}

// addBlob writes the row of bytes that are safe, unless it is there.
func (t *Tx) addBlob(hash string, size int64) error {
	at := t.now()
	n, err := t.Exec("insert into blobs (hash, size, at) values ($1, $2, $3) on conflict (hash) do nothing", hash, size, at)
	if err == nil && n == 1 {
		t.leaf(leaf{kind: ofBlob, name: hash, hash: rowSum(hash, size, at)})
	}
	return err
}

func (t *Tx) now() string { return t.db.set.Now().UTC().Format(time.RFC3339) }

// Get is the bytes of a hash that has a row.
func (d *Database) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	there, err := d.has(ctx, "select 1 from blobs where hash = $1", hash)
	if err == nil && !there {
		err = blobs.NothingKept(hash)
	}
	if err != nil {
		return nil, 0, err
	}
	return d.set.Blobs.Get(ctx, hash)
}

// Retain says that bytes are kept, which have a row, and that they stay for a day. The row is looked at after them: it is only
// taken away while they are being removed, which they are not from then on.
func (d *Database) Retain(ctx context.Context, hash string) (int64, error) {
	size, err := d.set.Blobs.Retain(ctx, hash)
	if err != nil {
		return 0, err
	}
	noted := int64(-1)
	err = d.Read(ctx, "select size from blobs where hash = $1", []any{hash}, func(scan func(...any) error) error { return scan(&noted) })
	switch {
	case err != nil:
		return 0, err
	case noted < 0:
		return 0, blobs.NothingKept(hash)
	case noted != size:
		return 0, blobs.NotThose(hash)
	}
	return size, nil
}

// has says whether there is a row.
func (d *Database) has(ctx context.Context, query, name string) (there bool, err error) {
	err = d.Read(ctx, query, []any{name}, func(scan func(...any) error) error {
		var one int
		there = true
		return scan(&one)
	})
	return there, err
}

// mostFile is how many bytes a body may have.
const mostBody = 1 << 30

// Keep puts the files of a body or shop into the library: first their bytes, and then one row that names them.
func (d *Database) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if err := store.CheckFiles(files, mostBody); err != nil {
		return "", err
	}
	hash := body.Hash(files)
	there, err := d.has(ctx, "select 1 from library where hash = $1", hash)
	if err != nil {
		return "", err
	}
	blobs, sizes := map[string]string{}, map[string]int64{}
	for name, data := range files {
		sizes[name] = int64(len(data))
		if blobs[name], err = d.keepBytes(ctx, data, there); err != nil {
			return "", err
		}
	}
	if there {
		return hash, nil
	}
	err = d.Write(ctx, func(t *Tx) error { return t.addLibrary(hash, blobs, sizes) })
	if err != nil {
		return "", err
	}
	return hash, nil
}

// keepBytes keeps the bytes of one file of a content. Of one that is there already they are put only where they are gone.
func (d *Database) keepBytes(ctx context.Context, data []byte, there bool) (string, error) {
	if there {
		hash := sumOf(string(data))
		size, err := d.Retain(ctx, hash)
		if kind := diag.KindOf(err); err == nil && size == int64(len(data)) || err != nil && kind != diag.NotFound && kind != diag.Integrity {
			return hash, err
		}
	}
	hash, _, err := d.set.Blobs.Put(ctx, bytes.NewReader(data), int64(len(data)))
	return hash, err
}

func (t *Tx) addLibrary(hash string, blobs map[string]string, sizes map[string]int64) error {
	at := t.now()
	n, err := t.Exec("insert into library (hash, at) values ($1, $2) on conflict (hash) do nothing", hash, at)
	if err != nil || n == 0 {
		return err
	}
	files := map[string]any{}
	for name, blob := range blobs {
		files[name] = blob
		if err := t.addBlob(blob, sizes[name]); err != nil {
			return err
		}
		if _, err := t.Exec("insert into library_files (library, name, blob) values ($1, $2, $3)", hash, name, blob); err != nil {
			return err
		}
	}
	t.leaf(leaf{kind: ofLibrary, name: hash, hash: rowSum(hash, at, files)})
	return nil
}

// Files is what the library has under a hash.
func (d *Database) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	named := map[string]string{}
	err := d.Read(ctx, "select name, blob from library_files where library = $1", []any{hash}, func(scan func(...any) error) error {
		var name, blob string
		err := scan(&name, &blob)
		named[name] = blob
		return err
	})
	if err == nil && len(named) == 0 {
		err = blobs.NothingKept(hash)
	}
	if err != nil {
		return nil, err
	}
	files, left := map[string][]byte{}, int64(mostBody)
	for name, blob := range named {
		data, err := d.whole(ctx, blob, left)
		if err != nil {
			return nil, err
		}
		files[name] = data
		left -= int64(len(data))
	}
	if body.Hash(files) != hash {
		return nil, blobs.NotThose(hash)
	}
	return files, nil
}

// whole is all bytes of a hash, of at most so many.
func (d *Database) whole(ctx context.Context, hash string, most int64) (data []byte, err error) {
	r, _, err := d.set.Blobs.Get(ctx, hash)
	if err != nil {
		return nil, err
	}
	defer r.Close() // it was only read from: nothing is lost
	data, err = io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(data)) > most {
		err = blobs.NotThose(hash)
	}
	return data, err
}
