//go:build outside

package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
)

// tool runs a program of others in a folder.
func tool(t *testing.T, dir, name string, args ...string) []byte {
	t.Helper()
	c := exec.Command(calledAs(name), args...)
	c.Dir = dir
	out, err := c.Output()
	if err != nil {
		var said *exec.ExitError
		errors.As(err, &said)
		t.Fatalf("%s %q: %v: %s", name, args, err, said.Stderr)
	}
	return out
}

// calledAs is how a program is called here: other programs are called convert too, and Debian has the one of ImageMagick by a name of its own.
func calledAs(name string) string {
	if name == "convert" {
		for _, own := range []string{"convert-im6.q16", "convert-im7.q16"} {
			if _, err := exec.LookPath(own); err == nil {
				return own
			}
		}
	}
	return name
}

// scene is a picture like a photograph, with no symmetry: shades, a bright and a dark shape.
func scene(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			fx, fy := float64(x)/float64(w), float64(y)/float64(h)
			c := color.RGBA{uint8(60 + 150*fx), uint8(200 - 120*fy), uint8(90 + 60*math.Sin(6*fx+4*fy)), 255}
			if math.Hypot(fx-0.3, fy-0.25) < 0.15 {
				c = color.RGBA{230, 220, 90, 255}
			}
			if d := fx - 0.6 - 0.2*fy; d > 0 && d < 0.05 {
				c = color.RGBA{30, 30, 40, 255}
			}
			img.Set(x, y, c)
		}
	}
	return img
}

// difference is the mean and the largest of the differences of two pictures, of 255.
func difference(a, b image.Image) (mean float64, most int) {
	if a.Bounds().Size() != b.Bounds().Size() {
		return 255, 255
	}
	sum := 0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			d := apart(a.At(x, y), b.At(x, y))
			sum, most = sum+d, max(most, d)
		}
	}
	return float64(sum) / float64(a.Bounds().Dx()*a.Bounds().Dy()), most
}

// drawn is a picture before it is written as a JPEG, whose writer halves the resolution of colours.
func drawn(t *testing.T, data []byte, side int) (Original, image.Image) {
	t.Helper()
	o, src, err := shared.open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	p, err := scaled(t.Context(), src.rows, side)
	if err != nil {
		t.Fatal(err)
	}
	src.colours.apply(p)
	p = p.turned(src.turn)
	img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	for i := range p.w * p.h {
		copy(img.Pix[4*i:], append(slices.Clone(p.rgb[3*i:3*i+3]), 255))
	}
	return o, img
}

// converted is a file as ImageMagick shows it: upright, on white, within a square.
func converted(t *testing.T, dir, file string, side int, turned ...string) image.Image {
	t.Helper()
	if turned == nil {
		turned = []string{"-auto-orient"}
	}
	args := slices.Concat([]string{file}, turned, []string{"+repage", "-background", "white", "-flatten", "-filter", "Catrom", "-resize", fmt.Sprintf("%dx%d>", side, side), "-depth", "8", "png24:-"})
	img, err := png.Decode(bytes.NewReader(tool(t, dir, "convert", args...)))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// withTurn gives a HEIC the properties that bring it upright as an orientation of EXIF does (ISO/IEC 23008-12, 6.5.10 and
// 6.5.12): mirrored first, then turned a quarter to the left so many times.
func withTurn(t *testing.T, data []byte, turn int) []byte {
	t.Helper()
	mirror := map[int][]byte{2: {1}, 4: {0}, 5: {1}, 7: {1}}[turn]
	left := map[int][]byte{3: {2}, 6: {3}, 8: {1}, 5: {1}, 7: {3}}[turn]
	box := func(name string, b []byte) []byte {
		return append(append(binary.BigEndian.AppendUint32(nil, uint32(len(b)+8)), name...), b...)
	}
	added := 0
	var walk func(b []byte) []byte
	walk = func(b []byte) (out []byte) {
		err := boxed(b, func(name string, body []byte) error {
			switch name {
			case "meta":
				body = append(slices.Clone(body[:4]), walk(body[4:])...)
			case "iprp":
				body = walk(body)
			case "ipco":
				n := 0
				_ = boxed(body, func(string, []byte) error { n++; return nil })
				for i, p := range []struct {
					name string
					body []byte
				}{{"imir", mirror}, {"irot", left}} {
					if p.body != nil {
						body = append(slices.Clone(body), box(p.name, p.body)...)
						added |= (n + 1) << (8 * i)
						n++
					}
				}
			case "ipma": // one item, numbers of one byte: what heif-enc writes
				body = slices.Clone(body)
				for i := range 2 {
					if p := added >> (8 * i) & 0xff; p > 0 {
						body[10]++
						body = append(body, 0x80|byte(p))
					}
				}
			}
			out = append(out, box(name, body)...)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	out := walk(data)
	// the picture lies further back now: iloc of one item, four bytes of offset
	at := bytes.Index(out, []byte("iloc"))
	mdat := bytes.Index(data, []byte("mdat")) + 4
	for i := at; i < at+60; i++ {
		if v := binary.BigEndian.Uint32(out[i:]); int(v) == mdat {
			binary.BigEndian.PutUint32(out[i:], v+uint32(len(out)-len(data)))
			return out
		}
	}
	t.Fatal("where the picture lies was not found")
	return nil
}

// byHand is how an orientation is brought upright (Exif 2.32, tag 0x0112), in ImageMagick's words.
var byHand = [][]string{1: {"-strip"}, 2: {"-flop"}, 3: {"-rotate", "180"}, 4: {"-flip"}, 5: {"-transpose"}, 6: {"-rotate", "90"}, 7: {"-transverse"}, 8: {"-rotate", "270"}}

func write(t *testing.T, dir, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestOutsidePicturesTurned holds every orientation of every format against ImageMagick, which has decoders of its own: the
// mean difference is below 1 of 255, of HEIC below 2 (ImageMagick rounds its colours down). EXIF is written by exiftool, so that not our own bytes are read; into WebP, where that
// cannot, by webpmux. ImageMagick 6 looks for an orientation in JPEG only: for the other two it is told how to turn.
func TestOutsidePicturesTurned(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "s.png", asPNG(t, scene(400, 300)))
	tool(t, dir, "convert", "s.png", "-quality", "95", "s.jpg")
	tool(t, dir, "convert", "s.png", "-quality", "95", "-interlace", "JPEG", "p.jpg")
	tool(t, dir, "cwebp", "-quiet", "-q", "95", "s.png", "-o", "s.webp")
	tool(t, dir, "cwebp", "-quiet", "-lossless", "s.png", "-o", "l.webp")
	tool(t, dir, "heif-enc", "-q", "95", "s.png", "-o", "s.heic")
	heic, err := os.ReadFile(filepath.Join(dir, "s.heic"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{"s.jpg", "p.jpg", "s.png", "s.webp", "l.webp", "s.heic"} {
		for n := 1; n <= 8; n++ {
			turned := fmt.Sprintf("%d-%s", n, file)
			var told []string
			switch filepath.Ext(file) {
			case ".heic":
				write(t, dir, turned, withTurn(t, heic, n))
			case ".webp":
				write(t, dir, "x.exif", exifOf(binary.BigEndian, uint16(n)))
				tool(t, dir, "webpmux", "-set", "exif", "x.exif", file, "-o", turned)
				told = byHand[n]
			case ".png":
				told = byHand[n]
				fallthrough
			default:
				tool(t, dir, "exiftool", "-q", fmt.Sprintf("-Orientation#=%d", n), "-GPSLatitude=48.1", "-GPSLatitudeRef=N", "-DateTimeOriginal=2026:11:25 14:03:10", "-o", turned, file)
			}
			data, err := os.ReadFile(filepath.Join(dir, turned))
			if err != nil {
				t.Fatal(err)
			}
			o, got := drawn(t, data, 160)
			if want := "2026-11-25T14:03:10"; o.Taken != want && file != "s.heic" {
				t.Errorf("%s: taken %q", turned, o.Taken)
			}
			limit := 1.0
			if file == "s.heic" {
				limit = 2
			}
			if mean, most := difference(got, converted(t, dir, turned, 160, told...)); mean > limit {
				t.Errorf("%s: %.2f in the mean, %d at most; %v", turned, mean, most, got.Bounds())
			}
		}
	}
}

// TestOutsidePicturesHEICIsTurnedOnce: EXIF in a HEIC tells what was, its boxes what is to be done (ISO/IEC 23008-12, 6.5.10): an
// orientation written by exiftool turns nothing, and the clock is read.
func TestOutsidePicturesHEICIsTurnedOnce(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "s.png", asPNG(t, scene(200, 150)))
	tool(t, dir, "heif-enc", "-q", "95", "s.png", "-o", "s.heic")
	tool(t, dir, "exiftool", "-q", "-EXIF:Orientation#=6", "-EXIF:DateTimeOriginal=2026:11:25 14:03:10", "-o", "x.heic", "s.heic")
	plain, err := os.ReadFile(filepath.Join(dir, "s.heic"))
	if err != nil {
		t.Fatal(err)
	}
	told, err := os.ReadFile(filepath.Join(dir, "x.heic"))
	if err != nil {
		t.Fatal(err)
	}
	_, want := drawn(t, plain, 100)
	o, got := drawn(t, told, 100)
	if mean, most := difference(got, want); most > 0 || o.Taken != "2026-11-25T14:03:10" || o.Turned || len(o.Notes) > 0 {
		t.Errorf("%.2f in the mean, %d at most; %+v", mean, most, o)
	}
}

// TestOutsidePicturesOfKinds holds CMYK, grey, 16 bits, what can be seen through, 4:4:4 and 10 bits against ImageMagick.
func TestOutsidePicturesOfKinds(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "s.png", asPNG(t, scene(240, 180)))
	for _, c := range []struct {
		file string
		most float64
		args []string
	}{
		{"grey.jpg", 2, []string{"convert", "s.png", "-colorspace", "Gray", "grey.jpg"}},
		{"inks.jpg", 3, []string{"convert", "s.png", "-colorspace", "CMYK", "-quality", "95", "inks.jpg"}},
		{"wide.png", 2, []string{"convert", "s.png", "-depth", "16", "-define", "png:bit-depth=16", "wide.png"}},
		{"palette.png", 2, []string{"convert", "s.png", "-colors", "32", "png8:palette.png"}},
		{"clear.png", 2, []string{"convert", "s.png", "-alpha", "set", "-channel", "A", "-evaluate", "set", "40%", "clear.png"}},
		{"clear16.png", 2, []string{"convert", "clear.png", "-depth", "16", "-define", "png:bit-depth=16", "clear16.png"}},
		{"clear.webp", 3, []string{"cwebp", "-quiet", "-q", "95", "clear.png", "-o", "clear.webp"}},
		{"full.heic", 2, []string{"heif-enc", "-p", "chroma=444", "-q", "95", "s.png", "-o", "full.heic"}},
		{"half.heic", 2, []string{"heif-enc", "-p", "chroma=422", "-q", "95", "s.png", "-o", "half.heic"}},
		{"ten.heic", 3, []string{"heif-enc", "-b", "10", "-q", "95", "wide.png", "-o", "ten.heic"}},
		{"other.heic", 3, []string{"heif-enc", "--matrix_coefficients", "1", "-q", "95", "s.png", "-o", "other.heic"}},
		{"narrow.heic", 3, []string{"heif-enc", "--full_range_flag", "0", "-q", "95", "s.png", "-o", "narrow.heic"}},
	} {
		tool(t, dir, c.args[0], c.args[1:]...)
		data, err := os.ReadFile(filepath.Join(dir, c.file))
		if err != nil {
			t.Fatal(err)
		}
		o, got := drawn(t, data, 120)
		if mean, most := difference(got, converted(t, dir, c.file, 120)); mean > c.most {
			t.Errorf("%s: %.2f in the mean, %d at most; %v", c.file, mean, most, o.Notes)
		}
	}
}

// TestOutsidePicturesOfEverySize: rows of a HEIC are laid out in steps, and x265 codes whole blocks; each size comes out as
// ImageMagick shows it.
func TestOutsidePicturesOfEverySize(t *testing.T) {
	dir := t.TempDir()
	for _, size := range [][2]int{{16, 16}, {31, 17}, {63, 64}, {64, 63}, {65, 65}, {66, 40}, {97, 61}, {100, 130}, {129, 127}, {143, 80}, {144, 80}, {145, 81}, {300, 200}} {
		name := fmt.Sprintf("%dx%d", size[0], size[1])
		write(t, dir, name+".png", asPNG(t, scene(size[0], size[1])))
		tool(t, dir, "heif-enc", "-q", "95", name+".png", "-o", name+".heic")
		data, err := os.ReadFile(filepath.Join(dir, name+".heic"))
		if err != nil {
			t.Fatal(err)
		}
		o, got := drawn(t, data, 1000)
		if mean, most := difference(got, converted(t, dir, name+".heic", 1000)); mean > 4 {
			t.Errorf("%s: %.2f in the mean, %d at most; %+v", name, mean, most, o)
		}
	}
}

// TestOutsidePicturesProfiles brings colours of Display P3 and of a profile with gamma 2.2 and wider green to sRGB by Little CMS, in ImageMagick.
func TestOutsidePicturesProfiles(t *testing.T) {
	dir := t.TempDir()
	wide := [3][3]float64{{0.60974, 0.20528, 0.14919}, {0.31111, 0.62567, 0.06322}, {0.01947, 0.06087, 0.74457}} // green of (0.21, 0.71); from memory
	for name, icc := range map[string][]byte{"srgb": profileBytes("srgb", srgbColorants, srgbCurve), "p3": profileBytes("p3", displayP3, srgbCurve), "wide": profileBytes("wide", wide, []byte("curv\x00\x00\x00\x00\x00\x00\x00\x01\x02\x33"))} {
		write(t, dir, name+".icc", icc)
	}
	write(t, dir, "s.png", asPNG(t, scene(200, 150)))
	for _, from := range []string{"p3", "wide"} {
		tool(t, dir, "convert", "s.png", "-strip", "-profile", from+".icc", "-quality", "95", from+".jpg")
		tool(t, dir, "convert", from+".jpg", "-profile", "srgb.icc", "-strip", from+"-out.png")
		data, err := os.ReadFile(filepath.Join(dir, from+".jpg"))
		if err != nil {
			t.Fatal(err)
		}
		o, got := drawn(t, data, 200)
		mean, most := difference(got, converted(t, dir, from+"-out.png", 200))
		raw, _ := difference(got, converted(t, dir, "s.png", 200))
		if mean > 2 || raw < 2*mean || len(o.Notes) > 0 {
			t.Errorf("%s: %.2f in the mean, %d at most; %.2f from the colours as stored; %v", from, mean, most, raw, o.Notes)
		}
	}
}

// TestOutsidePicturesSameBytes runs TestBytesAreTheSameEverywhere on arm64 under QEMU.
func TestOutsidePicturesSameBytes(t *testing.T) {
	if runtime.GOARCH == "arm64" {
		t.Skip("this is arm64")
	}
	bin := filepath.Join(t.TempDir(), "photo.test")
	build := exec.Command("go", "test", "-c", "-o", bin, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOARCH=arm64")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if out := tool(t, ".", "qemu-aarch64-static", bin, "-test.run", "TestBytesAreTheSameEverywhere", "-test.v"); !bytes.Contains(out, []byte("--- PASS: TestBytesAreTheSameEverywhere")) {
		t.Errorf("%s", out)
	}
}
