package app

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"slices"
	"strings"
	"testing"

	"fettle/internal/job"
	"fettle/internal/photo"
)

// photograph is a made picture with the grain of a real one, so that it
// compresses like one: a shaded surface with noise and a dark crack across it.
func photograph(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	state := uint64(11)
	for y := range h {
		for x := range w {
			state = state*6364136223846793005 + 1442695040888963407 // D. Knuth, MMIX
			v := 120 + 60*x/w + int(state>>60)
			if d := x - w/4 - y/2; d > -3 && d < 3 {
				v = 25
			}
			img.Set(x, y, color.RGBA{uint8(v), uint8(v), uint8(v - 8), 255})
		}
	}
	return img
}

// camera is a photograph as a camera held upright saves it: the sensor's
// picture lies on its side and EXIF says how to turn it (Exif 2.32, tag 0x0112,
// value 6: a quarter turn; TIFF 6.0 for the layout of the bytes).
func camera(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, photograph(w, h), &jpeg.Options{Quality: 90}); err != nil {
		t.Fatal(err)
	}
	exif := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00")
	n := len(exif) + 2
	app1 := append([]byte{0xff, 0xe1, byte(n >> 8), byte(n)}, exif...)
	return slices.Concat(b.Bytes()[:2], app1, b.Bytes()[2:])
}

// ofPhotos is a picture of the package that makes them.
func ofPhotos(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("../photo/testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Only a picture that is whole and not too large is put into the report, whatever its name says it is: upright, and without
// what else lies in the file; the others are named with the reason. Beside each stands the hash of the original. The pictures are made
// here, as cameras save them, or are those of package photo.
func TestPicturesOfFindings(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, photograph(640, 480)); err != nil {
		t.Fatal(err)
	}
	turned := camera(t, 1600, 1200)
	large := append(bytes.Clone(b.Bytes()), make([]byte, photo.Usual.Bytes)...)
	wide := bytes.Clone(b.Bytes())
	binary.BigEndian.PutUint32(wide[16:], 65000) // width and height of the header (ISO/IEC 15948, 11.2.2)
	binary.BigEndian.PutUint32(wide[20:], 65000)
	binary.BigEndian.PutUint32(wide[29:], crc32.ChecksumIEEE(wide[12:29]))
	files := keptFiles{"j/a.png": b.Bytes(), "j/b.jpg": b.Bytes(), "j/c.PNG": large, "j/d.txt": []byte("words"), "j/e.png": b.Bytes(),
		"j/f.jpg": turned, "j/g.jpeg": turned[:len(turned)/2], "j/h.png": b.Bytes()[:len(b.Bytes())-40], "j/i.png": wide, "j/k.jpg": {},
		"j/l.HEIC": ofPhotos(t, "colour.heic"), "j/m.webp": ofPhotos(t, "lossy.webp"), "j/n.jpg": ofPhotos(t, "cmyk.jpg"), "j/o.heif": ofPhotos(t, "other.avif")}
	c := &Opened{From: "j", Job: &job.State{Findings: []job.Finding{{ID: "D1", Photos: strings.Split("A B C D F G H I J K L M N O", " ")}}, Looks: []job.Inspection{{ID: "PT", Photos: []string{"A"}}}}}
	for _, name := range []string{"a.png", "b.jpg", "c.PNG", "d.txt", "e.png", "f.jpg", "g.jpeg", "h.png", "i.png", "j.jpg", "k.jpg", "l.HEIC", "m.webp", "n.jpg", "o.heif"} {
		c.Job.Evidence = append(c.Job.Evidence, job.Evidence{ID: strings.ToUpper(name[:1]), File: name, Text: "made", SHA256: strings.Repeat("0", 64)})
	}
	got := New(files, "").pictures(t.Context(), c)
	want := []struct{ id, file, size, why, note string }{{"A", "a.png", "640x480", "", ""}, {"B", "b.jpg", "640x480", "", ""}, {"C", "", "", "40 MB at most", ""}, {"F", "f.jpg", "1200x1600", "", ""},
		{"G", "", "", "damaged or cut short", ""}, {"H", "", "", "damaged or cut short", ""}, {"I", "", "", "million dots", ""}, {"J", "", "", "cannot be read", ""}, {"K", "", "", "the file is empty", ""},
		{"L", "l.HEIC", "96x64", "", ""}, {"M", "m.webp", "96x64", "", ""}, {"N", "n.jpg", "96x64", "", "printing inks"}, {"O", "", "", "an AVIF picture", ""}}
	if len(got) != len(want) {
		t.Fatalf("%d pictures: %+v", len(got), got)
	}
	for i, w := range want {
		g := got[i]
		size, hash := "", strings.Repeat("0", 64) // as the job has it
		if w.size != "" {
			hash = hashOf(files["j/"+w.file])
			shown, err := jpeg.DecodeConfig(bytes.NewReader(g.Data))
			if size = fmt.Sprintf("%dx%d", shown.Width, shown.Height); err != nil {
				t.Errorf("%s: %v", g.ID, err)
			}
		}
		if g.ID != w.id || size != w.size || (g.Media == "image/jpeg") != (w.why == "") || !strings.Contains(g.Why, w.why) || (w.why == "") != (g.Why == "") || !strings.Contains(g.Note, w.note) || (w.note == "") != (g.Note == "") || g.SHA256 != hash {
			t.Errorf("%s: media %q, size %q, why %q, note %q, hash %s", g.ID, g.Media, size, g.Why, g.Note, g.SHA256)
		}
		if bytes.Contains(g.Data, []byte("Exif")) {
			t.Errorf("%s: what the camera says of itself is in the report", g.ID)
		}
	}
	if strings.Join(got[0].For, " ") != "D1 PT" {
		t.Errorf("it is evidence of %v", got[0].For)
	}
}

// A picture of a zone map that its file says is turned is refused: half of what shows it heeds that.
func TestTurnedMapsAreRefused(t *testing.T) {
	if _, _, why := mapPicture(t.Context(), "maps/a.jpg", camera(t, 40, 30)); !strings.Contains(why, "turned by a mark in its file") {
		t.Errorf("turned: %q", why)
	}
	if _, _, why := mapPicture(t.Context(), "maps/a.png", ofPhotos(t, "lossy.webp")); !strings.Contains(why, "no PNG or JPEG") {
		t.Errorf("a WebP: %q", why)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, photograph(40, 30)); err != nil {
		t.Fatal(err)
	}
	if media, shape, why := mapPicture(t.Context(), "maps/a.jpg", b.Bytes()); why != "" || media != "image/png" || shape != 40.0/30 {
		t.Errorf("a PNG under another name: %q, %g, %q", media, shape, why)
	}
}
