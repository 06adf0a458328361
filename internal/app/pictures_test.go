package app

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"path"
	"strings"
	"testing"

	"fettle/internal/job"
)

// kept is files in memory.
type kept map[string][]byte

func (k kept) Read(p string) ([]byte, error) {
	if data, ok := k[p]; ok {
		return data, nil
	}
	return nil, errors.New("no such file")
}
func (k kept) List(string) ([]string, error) { return nil, nil }
func (k kept) IsDir(string) bool             { return false }
func (k kept) Exists(p string) bool          { return k[p] != nil }

// Only a picture that is what its name says and not too large is put into the
// report; the others are named with the reason. The picture is drawn here.
func TestPicturesOfFindings(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	large := append(bytes.Clone(b.Bytes()), make([]byte, maxPictureBytes)...)
	files := kept{"j/a.png": b.Bytes(), "j/b.jpg": b.Bytes(), "j/c.PNG": large, "j/d.txt": []byte("words"), "j/e.png": b.Bytes()}
	c := &Case{Dir: "j", Job: &job.State{Findings: []job.Finding{{ID: "F1", Photos: []string{"A", "B", "C", "D"}}}, Looks: []job.Inspection{{ID: "PT", Photos: []string{"A"}}}}}
	for _, name := range []string{"a.png", "b.jpg", "c.PNG", "d.txt", "e.png"} {
		c.Job.Evidence = append(c.Job.Evidence, job.Evidence{ID: strings.ToUpper(name[:1]), File: name, Text: "drawn"})
	}
	got, err := New(files, "").pictures(c)
	if err != nil {
		t.Fatal(err)
	}
	want := []struct{ id, media, why string }{{"A", "image/png", ""}, {"B", "", "not the picture"}, {"C", "", "MB, more than"}}
	if len(got) != len(want) {
		t.Fatalf("%d pictures: %+v", len(got), got)
	}
	for i, w := range want {
		if g := got[i]; g.ID != w.id || g.Media != w.media || !strings.Contains(g.Why, w.why) || (w.why == "") != (g.Why == "") || len(g.SHA256) != 64 {
			t.Errorf("%s: media %q, why %q", g.ID, g.Media, g.Why)
		}
	}
	if strings.Join(got[0].For, " ") != "F1 PT" {
		t.Errorf("it is evidence of %v", got[0].For)
	}
	delete(files, path.Join("j", "a.png"))
	if _, err := New(files, "").pictures(c); err == nil {
		t.Error("a picture that is gone is not told")
	}
}
