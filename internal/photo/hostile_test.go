package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
)

// sized is a JPEG whose frame says another size, and may say that it is progressive.
func sized(t testing.TB, marker byte, w, h int) []byte {
	out := asJPEG(t, image.NewRGBA(image.Rect(0, 0, 16, 16)))
	at := bytes.Index(out, []byte{0xff, 0xc0, 0, 17, 8})
	out[at+1] = marker
	copy(out[at+5:], []byte{byte(h >> 8), byte(h), byte(w >> 8), byte(w)})
	return out
}

// widePNG is a PNG whose head says another size (ISO/IEC 15948, 11.2.2).
func widePNG(t testing.TB, w, h int) []byte {
	out := asPNG(t, quarters(96, 64))
	binary.BigEndian.PutUint32(out[16:], uint32(w))
	binary.BigEndian.PutUint32(out[20:], uint32(h))
	binary.BigEndian.PutUint32(out[29:], crc32.ChecksumIEEE(out[12:29]))
	return out
}

// smallWebP is 28 bytes that ask for 16384 by 16384 dots (RFC 9649, 2.6).
func smallWebP() []byte {
	return []byte("RIFF\x14\x00\x00\x00WEBPVP8L\x08\x00\x00\x00\x2f\xff\xff\xff\x0f\x00\x00\x00")
}

// manyScans is a progressive JPEG with more scans than any encoder writes.
func manyScans(t testing.TB) []byte {
	b := fixture(t, "progressive.jpg")
	at := bytes.LastIndex(b, []byte{0xff, 0xda})
	scan := b[at : len(b)-2]
	return slices.Concat(b[:at], bytes.Repeat(scan, maxScans), b[len(b)-2:])
}

// manySegments is a JPEG of 10,000 segments.
func manySegments(t testing.TB) []byte {
	b := asJPEG(t, quarters(96, 64))
	return slices.Concat(b[:2], bytes.Repeat([]byte("\xff\xef\x00\x06 abc"), 10_000), b[2:])
}

// hostile are originals that somebody made, or a bad connection; each with what is said of it, and what is to be done.
func hostile(t testing.TB) map[string]struct {
	data []byte
	kind diag.Kind
	says string
} {
	heic, j := fixture(t, "colour.heic"), asJPEG(t, quarters(96, 64))
	box := func(name string, body ...[]byte) []byte {
		b := append([]byte(name), slices.Concat(body...)...)
		return append(binary.BigEndian.AppendUint32(nil, uint32(len(b)+4)), b...)
	}
	ftyp := box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	return map[string]struct {
		data []byte
		kind diag.Kind
		says string
	}{
		"nothing":                      {nil, diag.Invalid, "empty"},
		"words":                        {[]byte("a photo, honestly"), diag.Unsupported, "no picture that is read, whatever its name says; send"},
		"a GIF":                        {fixture(t, "other.gif"), diag.Unsupported, "it is a GIF, not a photograph; send the picture as JPEG"},
		"an AVIF":                      {fixture(t, "other.avif"), diag.Unsupported, "an AVIF picture"},
		"a web page":                   {[]byte("\n<!DOCTYPE html><script>"), diag.Unsupported, "a web page"},
		"an archive":                   {[]byte("PK\x03\x04rest"), diag.Unsupported, "a zip archive"},
		"a drawing":                    {[]byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), diag.Unsupported, "an SVG drawing"},
		"a film":                       {box("ftyp", []byte("isom\x00\x00\x02\x00isommp41")), diag.Unsupported, "a film"},
		"a WebP that moves":            {fixture(t, "moving.webp"), diag.Unsupported, "a WebP that moves; send a still picture"},
		"28 bytes of WebP":             {smallWebP(), diag.Denied, "269 million dots (16384 × 16384), more than 40; set the camera to fewer"},
		"a PNG of 65535 by 65535":      {widePNG(t, 65535, 65535), diag.Denied, "4295 million dots"},
		"a PNG of 2^31 by 2^31":        {widePNG(t, 1<<31-1, 1<<31-1), diag.Unsupported, "dimension overflow"},
		"a JPEG of 65535 by 65535":     {sized(t, 0xc0, 65535, 65535), diag.Denied, "4295 million dots"},
		"a large progressive JPEG":     {sized(t, 0xc2, 6400, 6200), diag.Denied, "unpacked it takes"},
		"a JPEG of many scans":         {manyScans(t), diag.Denied, "scans; 64 are unpacked at most; save it as a plain JPEG"},
		"a JPEG cut short":             {j[:len(j)/2], diag.Invalid, "damaged or cut short"},
		"a JPEG without dots":          {sized(t, 0xc0, 0, 0), diag.Invalid, "damaged"},
		"a lossless JPEG":              {sized(t, 0xc3, 16, 16), diag.Unsupported, "a JPEG of a rare kind"},
		"a WebP cut short":             {fixture(t, "lossy.webp")[:60], diag.Invalid, "damaged or cut short"},
		"a WebP with nothing in it":    {[]byte("RIFF\x04\x00\x00\x00WEBP"), diag.Invalid, "damaged or cut short"},
		"a WebP of two sizes":          {withRIFF(fixture(t, "lossy.webp"), 16, 16, "EXIF", []byte{0, 0}), diag.Invalid, "damaged or cut short"},
		"a PNG cut short":              {asPNG(t, quarters(96, 64))[:100], diag.Invalid, "damaged or cut short"},
		"a HEIC cut short":             {heic[:len(heic)-30], diag.Invalid, "damaged or cut short"},
		"a HEIC cut in its boxes":      {heic[:200], diag.Invalid, "damaged or cut short"},
		"a HEIC without a box":         {ftyp, diag.Invalid, "says nothing of its pictures"},
		"a HEIC without a first":       {slices.Concat(ftyp, box("meta", make([]byte, 4), box("pitm", make([]byte, 6)))), diag.Invalid, "there is no picture in it"},
		"a HEIC of a box too long":     {slices.Concat(ftyp, []byte("\x00\x01\x00\x00meta"), make([]byte, 20)), diag.Invalid, "a box is longer"},
		"a HEIC of 2^64 bytes":         {slices.Concat(ftyp, []byte("\x00\x00\x00\x01meta\xff\xff\xff\xff\xff\xff\xff\xff")), diag.Invalid, "a box is longer"},
		"a HEIC that says it is large": {bytes.Replace(heic, []byte("\x00\x00\x00\x60\x00\x00\x00\x40"), []byte("\x00\x00\xff\xff\x00\x00\xff\xff"), 1), diag.Invalid, "two sizes of itself, 65535 × 65535 and 96 × 64"},
		"a HEIC of two sizes":          {bytes.Replace(heic, []byte("\x00\x00\x00\x60\x00\x00\x00\x40"), []byte("\x00\x00\x00\x20\x00\x00\x00\x20"), 1), diag.Invalid, "damaged or cut short"},
		"a HEIC of bombs":              {gridOf(t, 1000, 16, 16, 6000), diag.Denied, "million dots to show"},
		"a HEIC of too many dots":      {gridOf(t, 7000, 14, 14, 512), diag.Denied, "49 million dots (7000 × 7000), more than 40"},
		"a HEIC made of itself":        {gridOf(t, 1000, 16, 0, 0), diag.Denied, "million dots to show"},
		"more bytes than are taken":    {append([]byte("\xff\xd8\xff\xe0"), make([]byte, 41<<20)...), diag.Denied, "41 MB; a picture has 40 at most; save it smaller"},
	}
}

// gridOf is the boxes of a HEIC of so many dots a side that is made of so many times so many tiles of a side; of itself
// where that is 0 (ISO/IEC 23008-12, 6.6.2.3).
func gridOf(t testing.TB, whole, across, down, side int) []byte {
	t.Helper()
	u16, u32 := binary.BigEndian.AppendUint16, binary.BigEndian.AppendUint32
	box := func(name string, body ...[]byte) []byte {
		b := append([]byte(name), slices.Concat(body...)...)
		return append(u32(nil, uint32(len(b)+4)), b...)
	}
	ispe := func(w, h int) []byte { return box("ispe", make([]byte, 4), u32(u32(nil, uint32(w)), uint32(h))) }
	tiles := across * max(down, 1)
	refs := u16(u16(nil, 1), uint16(tiles))
	for range tiles {
		refs = u16(refs, uint16(1+min(down, 1)))
	}
	return slices.Concat(box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), box("meta", make([]byte, 4), box("pitm", make([]byte, 4), u16(nil, 1)),
		box("iprp", box("ipco", ispe(whole, whole), ispe(side, side)), box("ipma", []byte{0, 0, 0, 0, 0, 0, 0, 2, 0, 1, 1, 1, 0, 2, 1, 2})),
		box("iref", make([]byte, 4), box("dimg", refs))))
}

// Whatever is sent, the answer is an error that says what is wrong and what would be right, and little memory is
// taken to find it: bytes that were allocated in the whole are counted, so what is given back counts too.
func TestHostileOriginals(t *testing.T) {
	if _, err := shared.Look(t.Context(), fixture(t, "colour.heic")); err != nil { // the decoder is made ready apart
		t.Fatal(err)
	}
	for name, c := range hostile(t) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, made, err := shared.Make(t.Context(), c.data, 200)
		runtime.ReadMemStats(&after)
		var e *diag.Error
		if !errors.As(err, &e) || e.Kind != c.kind || !strings.Contains(err.Error(), c.says) || e.Hint == "" || made != nil {
			t.Errorf("%s: kind %d, %v", name, diag.KindOf(err), err)
		}
		if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 64 {
			t.Errorf("%s: %d MB were taken", name, took)
		}
	}
}

// What is odd and harmless is shown: many segments, a large embedded picture, EXIF whose offsets lead in a circle or
// outside, an orientation that is none.
func TestOddOriginalsAreShown(t *testing.T) {
	j := asJPEG(t, quarters(96, 64))
	circle := exifOf(binary.LittleEndian, 1)
	binary.LittleEndian.PutUint32(circle[30:], 8) // EXIF's directory is the first one
	outside := exifOf(binary.LittleEndian, 1)
	binary.LittleEndian.PutUint32(outside[30:], 1<<32-1)
	binary.LittleEndian.PutUint32(outside[4:], 1<<32-2)
	long := exifOf(binary.BigEndian, 1)
	binary.BigEndian.PutUint16(long[8:], 65535)
	for name, data := range map[string][]byte{
		"10,000 segments": manySegments(t), "a thumbnail of 60 kB": withAPP1(j, append(exifOf(binary.LittleEndian, 1), make([]byte, 60_000)...)),
		"a circle": withAPP1(j, circle), "outside": withAPP1(j, outside), "65,535 entries": withAPP1(j, long), "turn 0": withAPP1(j, exifOf(binary.BigEndian, 0)),
		"turn 9": withAPP1(j, exifOf(binary.BigEndian, 9)), "EXIF that is none": withAPP1(j, []byte("II")), "no profile": withAPP2(j, nil),
	} {
		if _, img, _ := shot(t, data, 96); seen(img) != turns[1] {
			t.Errorf("%s: seen %s", name, seen(img))
		}
	}
}

// A panic of a decoder is an error; limits are those that are set.
func TestPanicsAndLimits(t *testing.T) {
	m := New(Limits{Bytes: 1 << 20, Dots: 96 * 64, Memory: 1 << 20, Time: time.Minute})
	if _, err := m.Look(t.Context(), asJPEG(t, quarters(96, 64))); err != nil {
		t.Error(err)
	}
	if _, err := m.Look(t.Context(), asJPEG(t, quarters(97, 64))); diag.KindOf(err) != diag.Denied {
		t.Errorf("one column more: %v", err)
	}
	if _, err := m.unpacked(t.Context(), PNG, nil, head{}); diag.KindOf(err) != diag.Invalid {
		t.Errorf("nothing to unpack: %v", err)
	}
	_, err := m.unpacked(panicking{t.Context()}, PNG, asPNG(t, quarters(9, 9)), head{width: 9, height: 9})
	if diag.KindOf(err) != diag.Invalid || !strings.Contains(err.Error(), "out of range") {
		t.Errorf("a panic: %v", err)
	}
}

// panicking is a context whose first question ends in a panic, as a decoder may.
type panicking struct{ context.Context }

func (p panicking) Err() error {
	if pc, _, _, _ := runtime.Caller(1); strings.Contains(runtime.FuncForPC(pc).Name(), "asking") {
		panic("index out of range")
	}
	return nil
}

// fuzzed is a maker that gives up soon, so that many are tried: the fuzzer takes 10 seconds of one for a hang.
var fuzzed = New(Limits{Bytes: 1 << 20, Dots: 256 * 256, Memory: 8 << 20, AtOnce: 2, Time: 5 * time.Second})

// anything is what holds for all bytes: an answer, within the size that is asked, or an error that says something.
func anything(t *testing.T, data []byte) {
	o, made, err := fuzzed.Make(t.Context(), data, 64)
	var e *diag.Error
	switch {
	case err != nil && (!errors.As(err, &e) || e.Msg == "" || e.Kind == diag.Internal || made != nil):
		t.Errorf("%T %v", err, err)
	case err == nil && (max(made[0].Width, made[0].Height) > 64 || o.Width*o.Height > 256*256 || KindOf(made[0].Data) != JPEG):
		t.Errorf("%+v, %d by %d", o, made[0].Width, made[0].Height)
	}
}

// TestDamagedOriginals: bytes here and there are others, a stretch is missing or stands twice, as a bad card or connection
// leaves them. 8 of each kind here; FETTLE_CAMPAIGN=1 takes 2,000.
func TestDamagedOriginals(t *testing.T) {
	times := 8
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		times = 2000
	}
	draw := rand.New(rand.NewPCG(7, 19))
	j := withAPP2(withAPP1(asJPEG(t, quarters(96, 64)), exifOf(binary.LittleEndian, 6)), profileBytes("p", displayP3, srgbCurve))
	for _, whole := range [][]byte{j, asPNG(t, quarters(96, 64)), withRIFF(fixture(t, "lossy.webp"), 96, 64, "EXIF", exifOf(binary.BigEndian, 8)),
		fixture(t, "lossless.webp"), fixture(t, "clear.webp"), fixture(t, "colour.heic"), fixture(t, "full.heic"), fixture(t, "progressive.jpg")} {
		for range times {
			b := slices.Clone(whole)
			for range 1 + draw.IntN(6) {
				b[draw.IntN(len(b))] = byte(draw.IntN(256))
			}
			at := draw.IntN(len(b))
			end := min(len(b), at+draw.IntN(40))
			switch draw.IntN(4) {
			case 0:
				b = slices.Delete(b, at, end)
			case 1:
				b = slices.Insert(b, at, slices.Clone(b[at:end])...)
			}
			anything(t, b)
		}
	}
}

func seeds(f *testing.F, kind Kind) {
	for _, c := range hostile(f) {
		if KindOf(c.data) == kind && len(c.data) < 1<<16 {
			f.Add(c.data)
		}
	}
}

func FuzzJPEG(f *testing.F) {
	seeds(f, JPEG)
	j := asJPEG(f, quarters(24, 16))
	f.Add(withAPP1(j, exifOf(binary.LittleEndian, 6)))
	f.Add(withAPP2(j, profileBytes("p", displayP3, srgbCurve)))
	f.Add(fixture(f, "progressive.jpg"))
	f.Add(fixture(f, "cmyk.jpg"))
	f.Fuzz(anything)
}

func FuzzPNG(f *testing.F) {
	seeds(f, PNG)
	p := asPNG(f, quarters(24, 16))
	f.Add(withChunk(p, "eXIf", exifOf(binary.BigEndian, 3)))
	f.Add(withChunk(p, "iCCP", zipped(profileBytes("p", displayP3, srgbCurve))))
	f.Add(withChunk(p, "gAMA", []byte{0, 1, 0, 0}))
	f.Fuzz(anything)
}

func FuzzWebP(f *testing.F) {
	seeds(f, WebP)
	for _, name := range []string{"lossy.webp", "lossless.webp", "clear.webp"} {
		f.Add(fixture(f, name))
	}
	f.Add(withRIFF(fixture(f, "lossy.webp"), 96, 64, "EXIF", exifOf(binary.LittleEndian, 8)))
	f.Fuzz(anything)
}

// FuzzBoxes reads the boxes alone, which is quick: no count and no length in them may make it long or large.
func FuzzBoxes(f *testing.F) {
	seeds(f, HEIC)
	f.Add(fixture(f, "full.heic"))
	f.Add(gridOf(f, 1000, 3, 3, 512))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := heicHead(data)
		if err == nil && (h.width < 1 || h.height < 1) {
			t.Errorf("%+v", h)
		}
	})
}

func FuzzExif(f *testing.F) {
	f.Add(exifOf(binary.LittleEndian, 6))
	f.Add(append([]byte("Exif\x00\x00"), exifOf(binary.BigEndian, 1)...))
	f.Fuzz(func(t *testing.T, data []byte) {
		if e := readExif(data); e.turn > 8 || e.taken != "" && len(e.taken) != 19 {
			t.Errorf("%+v", e)
		}
	})
}

func FuzzProfile(f *testing.F) {
	f.Add(profileBytes("p", displayP3, srgbCurve))
	f.Add(iccOf("GRAY", map[string][]byte{"kTRC": para(0, 1.8)}))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, name := readProfile(data)
		if p != nil {
			p.apply(newRaster(2, 2))
			p.plain()
		}
		if len(name) > 64*8 || diag.Plain(name) != name {
			t.Errorf("%q", name)
		}
	})
}
