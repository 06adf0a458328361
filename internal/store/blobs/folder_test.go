package blobs

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
)

// TestFolderAsItWas: what a folder has had since before there were marks and uploads is read, a file beside it that is none of
// ours stays, and what was left behind a day ago by a program that died is taken away.
func TestFolderAsItWas(t *testing.T) {
	dir := t.TempDir()
	data := []byte("a photo of long ago")
	old := filepath.Join(dir, "blobs", ".fettle-0011223344556677")
	for name, text := range map[string]string{hashOf(data): string(data), "README": "of a person", ".fettle-0011223344556677": "half a ph", ".fettle-8899aabbccddeeff": "being writ"} {
		if err := os.MkdirAll(filepath.Join(dir, "blobs"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "blobs", name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	yesterday := time.Now().Add(-Grace - time.Minute)
	if err := os.Chtimes(old, yesterday, yesterday); err != nil {
		t.Fatal(err)
	}
	var c clock
	s := NewFolder(dir, "blobs", c.now)
	u := &under{Store: s, clock: &c, ctx: t.Context(), again: func() *Store { return s }}
	u.has(t, data)
	if got := u.kept(t); len(got) != 1 {
		t.Errorf("%v are kept", got)
	}
	if left, err := u.tidied(); err != nil || left != 1 {
		t.Errorf("%d files were left behind, want 1: %v", left, err)
	}
	entries, err := os.ReadDir(filepath.Join(dir, "blobs"))
	if err != nil || len(entries) != 4 { // the photo, the person's file, the one being written, .removals
		t.Errorf("%v %v", entries, err)
	}
	if _, err := os.Stat(old); !os.IsNotExist(err) {
		t.Error(err)
	}
}

// TestNoLinkIsFollowed: a folder of files that is a link is neither read nor written through, wherever it leads; nor is a
// file that is one. Putting the same bytes puts a file in its place.
func TestNoLinkIsFollowed(t *testing.T) {
	dir, outside := t.TempDir(), t.TempDir()
	data := []byte("a photo")
	hash := hashOf(data)
	if err := os.WriteFile(filepath.Join(outside, hash), data, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "inside"), 0o755); err != nil {
		t.Fatal(err)
	}
	for i, to := range []string{outside, "inside"} {
		name := "blobs" + string(rune('0'+i))
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skip(err) // a system that lets no links be made
		}
		s := NewFolder(dir, name, time.Now)
		_, _, get := s.Get(t.Context(), hash)
		_, _, put := s.Put(t.Context(), strings.NewReader("x"), 1)
		_, begin := s.Begin(t.Context(), hash, 1, 1)
		for of, err := range map[string]error{"get": get, "put": put, "begin": begin} {
			if diag.KindOf(err) != diag.Denied {
				t.Errorf("%s through a link to %s: %v", of, to, err)
			}
		}
	}
	s := NewFolder(dir, "blobs", time.Now)
	if _, _, err := s.Put(t.Context(), strings.NewReader("x"), 1); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "blobs", hash)
	if err := os.Symlink(filepath.Join(outside, hash), link); err != nil {
		t.Fatal(err)
	}
	_, _, get := s.Get(t.Context(), hash)
	_, size := s.Size(t.Context(), hash)
	_, claim := s.Claim(t.Context(), hash)
	for of, err := range map[string]error{"get": get, "size": size, "claim": claim} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s of a link: %v", of, err)
		}
	}
	var named []string
	out, err := s.Scrub(t.Context(), func(hash string, _ error) error { named = append(named, hash); return nil })
	if err != nil || out.Damaged != 1 || named[0] != hash {
		t.Errorf("a scrub passes over a link: %+v %v", out, err)
	}
	if _, _, err := s.Put(t.Context(), bytes.NewReader(data), 100); err != nil {
		t.Error(err)
	}
	if fi, err := os.Lstat(link); err != nil || !fi.Mode().IsRegular() {
		t.Errorf("the link is still there: %v %v", fi, err)
	}
	if entries, err := os.ReadDir(outside); err != nil || len(entries) != 1 {
		t.Errorf("something was written outside: %v %v", entries, err)
	}
}

// TestNowhere: a store whose folder cannot be there says so, and does not say that nothing is kept.
func TestNowhere(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "blobs"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for of, s := range map[string]*Store{"no folder": NewFolder(filepath.Join(dir, "none"), "blobs", time.Now), "a file": NewFolder(dir, "blobs", time.Now)} {
		_, _, get := s.Get(t.Context(), hashOf(nil))
		_, _, put := s.Put(t.Context(), strings.NewReader(""), 1)
		for _, err := range []error{get, put} {
			if k := diag.KindOf(err); k != diag.Unavailable && k != diag.Denied {
				t.Errorf("%s: %v", of, err)
			}
		}
	}
}

// TestScrubFindsEveryFlip turns one bit in each of a thousand files, wherever it lies: all of them are named, and no other.
func TestScrubFindsEveryFlip(t *testing.T) {
	dir := t.TempDir()
	s := NewFolder(dir, "blobs", time.Now)
	flipped := map[string]bool{}
	if err := os.Mkdir(filepath.Join(dir, "blobs"), 0o755); err != nil {
		t.Fatal(err)
	}
	for n := range 1100 {
		data := text(n, 1+n%500)
		hash := hashOf(data)
		if n < 1000 {
			flipped[hash] = true
			bit := (n * 7919) % (len(data) * 8)
			data[bit/8] ^= 1 << (bit % 8)
		}
		if err := os.WriteFile(filepath.Join(dir, "blobs", hash), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	out, err := s.Scrub(t.Context(), func(hash string, why error) error {
		if !flipped[hash] || diag.KindOf(why) != diag.Integrity {
			t.Errorf("%s: %v", hash, why)
		}
		delete(flipped, hash)
		return nil
	})
	if err != nil || out.Blobs != 1100 || out.Damaged != 1000 || len(flipped) != 0 {
		t.Errorf("%+v, %d of 1000 were not found: %v", out, len(flipped), err)
	}
}
