package database

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/store"
)

// inFolder is the settings for a database, and the folder with its bytes.
func inFolder(t *testing.T, address string) (Settings, string) {
	s, dir := at(t, address, time.Now), t.TempDir()
	s.Blobs = store.OpenFolder(dir, time.Now)
	return s, filepath.Join(dir, "blobs")
}

// TestKeepMends: content that has a row and whose bytes are gone, or are fewer, is whole again after it was kept once more; until
// then it is not said to be there. The same of single bytes that are put once more.
func TestKeepMendsPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, dir := inFolder(t, address)
		d := opened(t, s)
		files := map[string][]byte{"body.yaml": []byte("format: x\n"), "mesh.stl": []byte(strings.Repeat("solid ", 100))}
		hash, err := d.Keep(t.Context(), files)
		if err != nil {
			t.Fatal(err)
		}
		mesh := filepath.Join(dir, sumOf(string(files["mesh.stl"])))
		for what, damage := range map[string]func() error{
			"gone":  func() error { return os.Remove(mesh) },
			"fewer": func() error { return os.WriteFile(mesh, []byte("solid"), 0o600) },
		} {
			if err := damage(); err != nil {
				t.Fatal(err)
			}
			if _, err := d.Retain(t.Context(), filepath.Base(mesh)); diag.KindOf(err) != diag.NotFound && diag.KindOf(err) != diag.Integrity {
				t.Errorf("%s: retained all the same: %v", what, err)
			}
			if _, err := d.Files(t.Context(), hash); err == nil {
				t.Errorf("%s: the content is read all the same", what)
			}
			if again, err := d.Keep(t.Context(), files); err != nil || again != hash {
				t.Errorf("%s: %s %v", what, again, err)
			}
			if got, err := d.Files(t.Context(), hash); err != nil || body.Hash(got) != hash {
				t.Errorf("%s: not mended: %v", what, err)
			}
			if n, err := d.Retain(t.Context(), filepath.Base(mesh)); err != nil || n != 600 {
				t.Errorf("%s: %d %v", what, n, err)
			}
		}
	})
}

// endsAfter ends a database once bytes were put.
type endsAfter struct {
	app.Blobs
	end func()
}

func (e endsAfter) Put(ctx context.Context, r io.Reader, most int64) (string, int64, error) {
	hash, size, err := e.Blobs.Put(ctx, r, most)
	e.end()
	return hash, size, err
}

// TestPutWithoutRow: bytes whose row could not be written are not said to be kept, by the one who put them or by anybody after; put
// again they are, with one row and one leaf.
func TestPutWithoutRowPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s, dir := inFolder(t, address)
		whole := s.Blobs
		var d *Database
		s.Blobs = endsAfter{whole, func() { d.stop() }}
		d = opened(t, s)
		if hash, _, err := d.Put(t.Context(), strings.NewReader("a photo"), 100); diag.KindOf(err) != diag.Unavailable || hash != "" {
			t.Errorf("it was put: %q %v", hash, err)
		}
		hash := sumOf("a photo")
		if _, err := os.Stat(filepath.Join(dir, hash)); err != nil {
			t.Fatal("the bytes are not there, so this shows nothing: ", err)
		}
		s.Blobs = whole
		d = opened(t, s)
		_, _, got := d.Get(t.Context(), hash)
		_, retained := d.Retain(t.Context(), hash)
		if diag.KindOf(got) != diag.NotFound || diag.KindOf(retained) != diag.NotFound {
			t.Errorf("bytes without a row are promised: %v, %v", got, retained)
		}
		for range 2 {
			if _, _, err := d.Put(t.Context(), strings.NewReader("a photo"), 100); err != nil {
				t.Error(err)
			}
		}
		for _, q := range []string{"select count(*) from blobs", "select count(*) from leaves"} {
			n := 0
			if err := d.Read(t.Context(), q, nil, func(scan func(...any) error) error { return scan(&n) }); err != nil || n != 1 {
				t.Errorf("%s: %d %v", q, n, err)
			}
		}
	})
}
