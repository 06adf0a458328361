package storetest

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
)

// nowhere is no folder at all: whoever looks into one fails the test.
type nowhere struct{ t *testing.T }

func (n nowhere) looked(at string) {
	n.t.Helper()
	n.t.Errorf("%s was looked for outside of the store", at)
}
func (n nowhere) Copy(dir, name string, _ int64, _ io.Writer) (int64, error) {
	n.looked(path.Join(dir, name))
	return 0, fs.ErrNotExist
}
func (n nowhere) List(dir string) ([]string, error) { n.looked(dir); return nil, fs.ErrNotExist }
func (n nowhere) IsDir(p string) bool               { n.looked(p); return false }
func (n nowhere) Exists(p string) bool              { n.looked(p); return false }
func (n nowhere) Real(p string) (string, error)     { n.looked(p); return p, nil }

// written is the body of the folders and what was found, for every store under test.
var written app.Bodies

// alone keeps the demonstration's damaged vehicle, throws its folders away and opens it from the
// store: body, meshes, shop and evidence are those of the hashes, and the assessment is the same to the
// byte but for where things were read from. What the store has lost, or gives something else for, is
// an error and no job.
func alone(t *testing.T, u *under) {
	rooms := folders.Coarse()
	a := app.New(rooms, "test").WithBodies(&written).WithStores(func(string) (app.Store, string) { return u.Store, "DEMO" })
	before, err := a.Open(u.ctx, demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	want := assessed(t, a, before)
	if _, err := a.Keep(u.ctx, before, "p-1", "keep"); err != nil {
		t.Fatal(err)
	}
	clear(rooms)
	a = app.New(nowhere{t}, "test").WithBodies(&app.Bodies{})
	kept, err := a.OpenStored(u.ctx, u.again(), "DEMO")
	if err != nil {
		t.Fatal(err)
	}
	if kept.JobHash != before.JobHash || kept.BodyHash != before.BodyHash || kept.ShopHash != before.ShopHash {
		t.Errorf("hashes %s %s %s, of the folders %s %s %s", kept.JobHash, kept.BodyHash, kept.ShopHash, before.JobHash, before.BodyHash, before.ShopHash)
	}
	if got := assessed(t, a, kept); !bytes.Equal(got, want) {
		t.Errorf("from the store %d bytes are found, from the folders %d, and they differ", len(got), len(want))
	}
	photo := kept.Job.Evidence[0]
	for name, st := range map[string]app.Store{
		"evidence lost":  lying{Store: u.again(), lost: photo.SHA256},
		"evidence other": lying{Store: u.again(), other: photo.SHA256},
		"the body lost":  lying{Store: u.again(), lost: before.BodyHash},
		"the body other": lying{Store: u.again(), other: before.BodyHash},
		"the shop other": lying{Store: u.again(), other: before.ShopHash},
	} {
		fresh := app.New(nowhere{t}, "test").WithBodies(&app.Bodies{}) // what was read once and is kept by its hash is not read again
		if c, err := fresh.OpenStored(u.ctx, st, "DEMO"); err == nil {
			t.Errorf("%s: it was opened all the same: %s", name, c.JobHash)
		}
	}
	recordsAlone(t, u, a, kept)
}

// recordsAlone puts evidence on record in a job that no folder lies beside: what the store keeps may be
// named, and nothing else.
func recordsAlone(t *testing.T, u *under, a *app.App, c *app.Opened) {
	hash, _, err := u.Put(u.ctx, strings.NewReader("a photo"), 100)
	if err != nil {
		t.Fatal(err)
	}
	event := func(sum string) app.Recorded {
		e := job.Evidence{ID: "E9", File: "photo.txt", SHA256: sum, Text: "From the tablet", On: c.Job.Opened, By: "T2"}
		return app.Recorded{Events: []job.Event{{Kind: job.EvidenceAdded, Data: e}}}
	}
	for _, sum := range []string{"", strings.Repeat("0", 64)} {
		if _, err := a.Append(u.ctx, c, event(sum), "p-1", "no"+sum); err == nil {
			t.Errorf("evidence of hash %q is on record, and the store has no such bytes", sum)
		}
	}
	if _, err := a.Append(u.ctx, c, event(hash), "p-1", "yes"); err != nil {
		t.Fatal(err)
	}
	again, err := a.OpenStored(u.ctx, u.again(), "DEMO")
	if err != nil || len(again.Evidence) != len(c.Evidence)+1 {
		t.Errorf("%v: evidence that the store keeps is not there: %v", err, again)
	}
}

// assessed is an assessment without where it was read from and the event it stands at.
func assessed(t *testing.T, a *app.App, c *app.Opened) []byte {
	t.Helper()
	r, err := a.AssessOpened(t.Context(), c, demo.Day)
	if err != nil {
		t.Fatal(err)
	}
	var read []string
	for _, x := range r.Inputs {
		if x.Role != "job" {
			read = append(read, x.Role+" "+x.SHA256)
		}
	}
	slices.Sort(read)
	r.Inputs, r.LastEvent = nil, nil
	out, err := json.Marshal(struct {
		R    app.Assessment
		Read []string
	}{r, read})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// lying is a store that has lost what is kept under a hash, or gives something else for it.
type lying struct {
	app.Store
	lost, other string
}

func (l lying) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	switch hash {
	case l.lost:
		return nil, 0, &diag.Error{Kind: diag.NotFound, Op: "test", Msg: "lost"}
	case l.other:
		return io.NopCloser(strings.NewReader("other")), 5, nil
	}
	return l.Store.Get(ctx, hash)
}

func (l lying) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	files, err := l.Store.Files(ctx, hash)
	switch hash {
	case l.lost:
		return nil, errors.Join(err, &diag.Error{Kind: diag.NotFound, Op: "test", Msg: "lost"})
	case l.other:
		for name := range files { // one remark more: it would be read as it is
			if path.Ext(name) == ".yaml" {
				files[name] = append(bytes.Clone(files[name]), "\n# other\n"...)
			}
		}
	}
	return files, err
}
