package photo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// shared is one maker for all tests: that of HEIC is made ready once.
var shared = New(Usual)

// quarters is the test picture: red, green; blue, grey.
var quarter = []color.RGBA{{200, 30, 40, 255}, {30, 160, 50, 255}, {40, 60, 190, 255}, {220, 220, 210, 255}}

func quarters(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, quarter[2*(2*y/h)+2*x/w])
		}
	}
	return img
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// exifOf is EXIF with an orientation, a shot at 14:03:10 on 25 November 2026, and a place (GPS, tag 0x8825): what a phone
// writes (TIFF 6.0, 2; Exif 2.32, 4.6).
func exifOf(order binary.AppendByteOrder, turn uint16) []byte {
	u16, u32 := order.AppendUint16, order.AppendUint32
	entry := func(b []byte, tag, kind uint16, n, value uint32) []byte {
		b = u32(u16(u16(b, tag), kind), n)
		if kind == 3 {
			return u16(u16(b, uint16(value)), 0)
		}
		return u32(b, value)
	}
	b := []byte("MM\x00*\x00\x00\x00\x08")
	if order.String() == "LittleEndian" {
		b = []byte("II*\x00\x08\x00\x00\x00")
	}
	b = u16(b, 3) // at 8: 2 + 3*12 + 4
	b = entry(b, tagOrientation, 3, 1, uint32(turn))
	b = entry(b, tagExif, 4, 1, 50)
	b = u32(entry(b, 0x8825, 4, 1, 88), 0)
	b = u16(b, 1) // at 50: 2 + 12 + 4
	b = u32(entry(b, tagTaken, 2, 20, 68), 0)
	b = append(b, "2026:11:25 14:03:10\x00"...)
	b = u16(b, 1) // at 88
	b = u32(entry(b, 1, 2, 2, 'N'<<24), 0)
	return append(b, "PLACE 48.1N 11.5E"...)
}

func withAPP1(data, exif []byte) []byte {
	body := append([]byte("Exif\x00\x00"), exif...)
	return slices.Concat(data[:2], []byte{0xff, 0xe1, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body, data[2:])
}

func withChunk(data []byte, name string, body []byte) []byte { // behind IHDR
	c := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	c = append(append(c, name...), body...)
	c = binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
	return slices.Concat(data[:33], c, data[33:])
}

// withRIFF adds a chunk to a simple WebP and the head that this takes (RFC 9649, 2.7).
func withRIFF(data []byte, w, h int, name string, body []byte) []byte {
	if len(body)&1 != 0 {
		body = append(bytes.Clone(body), 0)
	}
	flag := map[string]byte{"EXIF": 8, "ICCP": 32}[name]
	x := []byte{flag, 0, 0, 0, byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0}
	chunk := func(name string, b []byte) []byte {
		return append(binary.LittleEndian.AppendUint32([]byte(name), uint32(len(b))), b...)
	}
	out := slices.Concat(data[:12], chunk("VP8X", x), data[12:], chunk(name, body))
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out
}

// shot makes one picture and reads it again.
func shot(t testing.TB, data []byte, side int) (Original, image.Image, []byte) {
	t.Helper()
	o, made, err := shared.Make(context.Background(), data, side)
	if err != nil {
		t.Fatal(err)
	}
	img, err := jpeg.Decode(bytes.NewReader(made[0].Data))
	if err != nil || img.Bounds().Dx() != made[0].Width || img.Bounds().Dy() != made[0].Height {
		t.Fatalf("%v: %v is not %d by %d", err, img.Bounds(), made[0].Width, made[0].Height)
	}
	return o, img, made[0].Data
}

// seen are the quarters of a picture by number, as lines are read; ? where none is near.
func seen(img image.Image) string {
	out := ""
	b := img.Bounds()
	for _, at := range []image.Point{{b.Dx() / 4, b.Dy() / 4}, {3 * b.Dx() / 4, b.Dy() / 4}, {b.Dx() / 4, 3 * b.Dy() / 4}, {3 * b.Dx() / 4, 3 * b.Dy() / 4}} {
		n := slices.IndexFunc(quarter, func(c color.RGBA) bool { return apart(img.At(at.X, at.Y), c) < 14 })
		out += string("?0123"[n+1])
	}
	return out
}

// apart is the largest difference of two colours, of 255.
func apart(a, b color.Color) int {
	r, g, bl, _ := a.RGBA()
	r2, g2, bl2, _ := b.RGBA()
	d := func(x, y uint32) int { return max(int(x>>8)-int(y>>8), int(y>>8)-int(x>>8)) }
	return max(d(r, r2), d(g, g2), d(bl, bl2))
}

// turns are the quarters as they have to be seen by the orientation: Exif 2.32, tag 0x0112, tells for each where the
// first row and the first column of what is stored are seen; the figures were drawn by hand after it.
var turns = []string{1: "0123", 2: "1032", 3: "3210", 4: "2301", 5: "0213", 6: "2031", 7: "3120", 8: "1302"}

// TestAllEightTurns is about every orientation in every format that tells one by EXIF, in both orders of bytes.
func TestAllEightTurns(t *testing.T) {
	w, h := 96, 64
	originals := map[string]func(exif []byte) []byte{
		"JPEG": func(e []byte) []byte { return withAPP1(asJPEG(t, quarters(w, h)), e) },
		"PNG":  func(e []byte) []byte { return withChunk(asPNG(t, quarters(w, h)), "eXIf", e) },
		"WebP": func(e []byte) []byte { return withRIFF(fixture(t, "lossy.webp"), w, h, "EXIF", e) },
		"WebP with a head": func(e []byte) []byte {
			return withRIFF(fixture(t, "lossless.webp"), w, h, "EXIF", append([]byte("Exif\x00\x00"), e...))
		},
	}
	for name, original := range originals {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			for n := 1; n <= 8; n++ {
				o, img, _ := shot(t, original(exifOf(order, uint16(n))), 48)
				wide := n < 5
				if got := seen(img); got != turns[n] || (img.Bounds().Dx() == 48) != wide || (o.Width == w) != wide || o.Taken != "2026-11-25T14:03:10" {
					t.Errorf("%s, %v, %d: seen %s, want %s; %v, %+v", name, order, n, got, turns[n], img.Bounds(), o)
				}
			}
		}
	}
}

// Whatever lies in a file is gone, but what is seen: the JPEG has the tables, a frame and a scan (ISO/IEC 10918-1,
// B.1.1.3), no segment of an application, no comment, and nothing behind its end.
func TestNothingButThePictureIsKept(t *testing.T) {
	words := []string{"PLACE", "2026", "Exif", "<script", "PK\x03\x04", "ICC_PROFILE", "hidden"}
	page := []byte("<html><script>hidden</script>")
	comment := slices.Concat([]byte{0xff, 0xfe, 0, byte(len(page) + 2)}, page)
	j := withAPP1(asJPEG(t, quarters(96, 64)), exifOf(binary.LittleEndian, 1))
	j = slices.Concat(j[:2], comment, j[2:], []byte("PK\x03\x04 hidden archive"))
	p := append(withChunk(withChunk(asPNG(t, quarters(96, 64)), "eXIf", exifOf(binary.BigEndian, 1)), "tEXt", append([]byte("Comment\x00"), page...)), page...)
	w := append(withRIFF(fixture(t, "lossy.webp"), 96, 64, "EXIF", exifOf(binary.LittleEndian, 1)), page...)
	h := append(fixture(t, "colour.heic"), slices.Concat([]byte{0, 0, 0, byte(8 + len(page))}, []byte("free"), page)...)
	for name, data := range map[string][]byte{"JPEG": j, "PNG": p, "WebP": w, "HEIC": h} {
		_, img, out := shot(t, data, 96)
		if got := seen(img); got != turns[1] {
			t.Errorf("%s: seen %s", name, got)
		}
		for _, word := range words {
			if bytes.Contains(out, []byte(word)) {
				t.Errorf("%s: the picture has %q in it", name, word)
			}
		}
		segments(out, func(marker byte, _ []byte) {
			if !slices.Contains([]byte{0xdb, 0xc0, 0xc4, 0xda}, marker) {
				t.Errorf("%s: a segment %x", name, marker)
			}
		})
		if !bytes.HasSuffix(out, []byte{0xff, 0xd9}) {
			t.Errorf("%s: does not end where it ends", name)
		}
	}
}

// Every kind of picture of the general tools is seen as it was made.
func TestKindsOfPictures(t *testing.T) {
	for _, c := range []struct {
		file string
		kind Kind
		note string
	}{{"lossy.webp", WebP, ""}, {"lossless.webp", WebP, ""}, {"colour.heic", HEIC, ""}, {"full.heic", HEIC, ""}, {"progressive.jpg", JPEG, ""}, {"cmyk.jpg", JPEG, "printing inks"}, {"clear.heic", HEIC, "seen through"}} {
		o, img, _ := shot(t, fixture(t, c.file), 1000)
		if got := seen(img); got != turns[1] || o.Kind != c.kind || o.Width != 96 || o.Height != 64 || img.Bounds().Dx() != 96 || !strings.Contains(strings.Join(o.Notes, ";"), c.note) || (c.note == "") != (len(o.Notes) == 0) {
			t.Errorf("%s: seen %s, %+v", c.file, got, o)
		}
	}
	_, img, _ := shot(t, fixture(t, "grey.heic"), 96)
	for i, c := range quarter {
		at := image.Pt(24+48*(i%2), 16+32*(i/2))
		if grey := color.GrayModel.Convert(c); apart(img.At(at.X, at.Y), grey) > 20 || apart(img.At(at.X, at.Y), color.Gray{uint8(img.At(at.X, at.Y).(color.YCbCr).Y)}) > 3 {
			t.Errorf("a grey HEIC: %v at %v, want %v", img.At(at.X, at.Y), at, grey)
		}
	}
}

// What can be seen through is seen on white, in 8 and 16 bits and on a palette: half of a colour on white is the mean of both.
func TestTransparentIsWhite(t *testing.T) {
	r := image.Rect(0, 0, 32, 32)
	narrow, wide := image.NewNRGBA(r), image.NewNRGBA64(r)
	palette := image.NewPaletted(r, color.Palette{color.NRGBA{200, 100, 0, 128}})
	for y := range 32 {
		for x := range 32 {
			narrow.Set(x, y, color.NRGBA{200, 100, 0, 128})
			wide.Set(x, y, color.NRGBA64{200 << 8, 100 << 8, 0, 0x8000})
		}
	}
	want := color.RGBA{228, 178, 128, 255}
	for name, img := range map[string]image.Image{"8 bits": narrow, "16 bits": wide, "palette": palette} {
		if _, got, _ := shot(t, asPNG(t, img), 32); apart(got.At(16, 16), want) > 3 {
			t.Errorf("%s: %v, want %v", name, got.At(16, 16), want)
		}
	}
	if _, got, _ := shot(t, fixture(t, "clear.webp"), 96); apart(got.At(24, 16), color.RGBA{228, 143, 148, 255}) > 10 {
		t.Errorf("WebP: %v", got.At(24, 16))
	}
	if _, got, _ := shot(t, asPNG(t, image.NewNRGBA(r)), 32); apart(got.At(16, 16), color.White) > 1 {
		t.Errorf("nothing at all: %v", got.At(16, 16))
	}
}

// Sizes: the longer side is as asked, the other in proportion, nothing is enlarged, and a line of dots stays one.
func TestSizes(t *testing.T) {
	for _, c := range []struct{ w, h, side, ww, wh int }{{4000, 3000, 2000, 2000, 1500}, {300, 400, 200, 150, 200}, {100, 80, 200, 100, 80}, {3000, 1, 100, 100, 1}, {1, 1, 1, 1, 1}, {5, 3, 0, 1, 1}, {1001, 333, 500, 500, 166}} {
		if w, h := sizeWithin(c.w, c.h, max(1, c.side)); w != c.ww || h != c.wh {
			t.Errorf("%v: %d by %d", c, w, h)
		}
	}
	_, made, err := shared.Make(t.Context(), asJPEG(t, quarters(600, 400)), 50, 300, 1000)
	if err != nil || made[0].Width != 50 || made[1].Width != 300 || made[2].Width != 600 || made[2].Height != 400 {
		t.Errorf("%v: %d %d %d", err, made[0].Width, made[1].Width, made[2].Width)
	}
}

// Scaling by any factor keeps an even colour as it is, keeps the mean of any picture to a step, and moves nothing: a step
// from dark to bright stays in its place.
func TestScalingKeepsColoursAndPlaces(t *testing.T) {
	for _, size := range [][3]int{{97, 61, 96}, {97, 61, 50}, {200, 150, 33}, {1000, 10, 999}, {1000, 700, 7}, {640, 480, 320}, {1023, 767, 100}} {
		w, h, side := size[0], size[1], size[2]
		even, step := newRaster(w, h), newRaster(w, h)
		for i := range even.rgb {
			even.rgb[i] = []uint8{7, 130, 251}[i%3]
			if i/3%w*2 >= w {
				step.rgb[i] = 200
			}
		}
		got, err := scaled(t.Context(), even.rows(), side)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range got.rgb {
			if v != []uint8{7, 130, 251}[i%3] {
				t.Fatalf("%v: an even colour is %d at %d", size, v, i)
			}
		}
		got, _ = scaled(t.Context(), step.rows(), side)
		sum := 0
		for x := range got.w {
			sum += int(got.rgb[3*x])
		}
		if at := float64(got.w) - float64(sum)/200; at < float64(got.w)/2-1 || at > float64(got.w)/2+1 {
			t.Errorf("%v: the step is at %.1f of %d", size, at, got.w)
		}
	}
}

// A crack two dots wide in a picture of 4,000 dots is still seen in one of 1,000: half of a dot of full contrast.
func TestCracksStaySeen(t *testing.T) {
	img := newRaster(4000, 40)
	for i := range img.rgb {
		img.rgb[i] = 190
		if x := i / 3 % 4000; x == 2001 || x == 2002 {
			img.rgb[i] = 20
		}
	}
	got, err := scaled(t.Context(), img.rows(), 1000)
	if err != nil {
		t.Fatal(err)
	}
	if dark := min(got.rgb[3*500], got.rgb[3*501]); dark > 125 {
		t.Errorf("the crack is %d on 190", dark)
	}
}

// TestBytesAreTheSameEverywhere holds what is made against sums taken on amd64; TestOutsideSamePictures does so on arm64.
// They are those of Go 1.26, whose JPEG reader and writer gave other bytes than those before: with another version, look at the
// pictures, take the sums anew, and say so in the changelog.
func TestBytesAreTheSameEverywhere(t *testing.T) {
	if !strings.HasPrefix(runtime.Version(), "go1.26") {
		t.Skipf("the sums are those of Go 1.26, not of %s", runtime.Version())
	}
	p3 := withAPP2(asJPEG(t, quarters(500, 300)), profileBytes("display", displayP3, srgbCurve))
	originals := map[string][]byte{"turned": withAPP1(asJPEG(t, quarters(500, 300)), exifOf(binary.LittleEndian, 6)), "P3": p3, "PNG": asPNG(t, quarters(333, 222))}
	for _, f := range []string{"lossy.webp", "clear.webp", "colour.heic", "full.heic", "cmyk.jpg", "progressive.jpg"} {
		originals[f] = fixture(t, f)
	}
	for name, want := range sums {
		for range 2 {
			_, made, err := shared.Make(t.Context(), originals[name], 90, 31)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			sum := sha256.Sum256(append(made[0].Data, made[1].Data...))
			if got := hex.EncodeToString(sum[:8]); got != want {
				t.Errorf("%q: %q,", name, got)
			}
		}
	}
	if len(sums) != len(originals) {
		t.Errorf("%d sums of %d", len(sums), len(originals))
	}
}

// sums are the first eight bytes of the SHA-256 of two pictures, of 90 and 31 dots.
var sums = map[string]string{
	"turned":          "e02e53c8984475d5",
	"PNG":             "7b8d41179cc6e707",
	"colour.heic":     "98c3ab7592007dcc",
	"P3":              "9fcb910b2573408c",
	"lossy.webp":      "0947b0084a45ad62",
	"clear.webp":      "e82d85376d5d892b",
	"full.heic":       "c1720bd21f834dbf",
	"cmyk.jpg":        "ddf71bd883920977",
	"progressive.jpg": "c1720bd21f834dbf",
}

// Work ends when its context does, and says so when that was a matter of time.
func TestMakingCanBeStopped(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	for _, f := range []string{"lossy.webp", "colour.heic", "progressive.jpg"} {
		if _, _, err := shared.Make(ctx, fixture(t, f), 90); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", f, err)
		}
	}
	late, end := context.WithTimeout(t.Context(), 0)
	defer end()
	if _, _, err := shared.Make(late, fixture(t, "colour.heic"), 90); diag.KindOf(err) != diag.Unavailable || !strings.Contains(err.Error(), "longer than is given") {
		t.Errorf("late: %v", err)
	}
	if _, err := scaled(ctx, newRaster(3, 3).rows(), 2); !errors.Is(err, context.Canceled) {
		t.Errorf("scaling: %v", err)
	}
}

// One maker serves many at once.
func TestMakerIsShared(t *testing.T) {
	m, errs := New(Usual), make(chan error)
	data := fixture(t, "colour.heic")
	for range 4 {
		go func() {
			_, made, err := m.Make(context.Background(), data, 40)
			if err == nil && made[0].Width != 40 {
				err = fmt.Errorf("%d wide", made[0].Width)
			}
			errs <- err
		}()
	}
	for range 4 {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
}
