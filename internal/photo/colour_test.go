package photo

import (
	"encoding/binary"
	"image"
	"image/color"
	"slices"
	"strings"
	"testing"
)

// srgbCurve is sRGB's curve as an ICC parametric curve of kind 3 (IEC 61966-2-1; ICC.1:2010, table 65).
var srgbCurve = para(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045)

// srgbColorants are those of sRGB under D50: the matrix of which toSRGB is the inverse (B. Lindbloom's table, from memory).
var srgbColorants = [3][3]float64{{0.4360747, 0.3850649, 0.1430804}, {0.2225045, 0.7168786, 0.0606169}, {0.0139322, 0.0971045, 0.7141733}}

func fixed16(v float64) []byte {
	return binary.BigEndian.AppendUint32(nil, uint32(int32(v*65536+map[bool]float64{true: 0.5, false: -0.5}[v >= 0])))
}

func para(kind uint16, params ...float64) []byte {
	b := binary.BigEndian.AppendUint16([]byte("para\x00\x00\x00\x00"), kind)
	b = append(b, 0, 0)
	for _, p := range params {
		b = append(b, fixed16(p)...)
	}
	return b
}

// profileBytes is an ICC profile of a screen (ICC.1:2010, 7).
func profileBytes(name string, colorants [3][3]float64, curve []byte) []byte {
	tags := map[string][]byte{"rTRC": curve, "gTRC": curve, "bTRC": curve, "wtpt": append([]byte("XYZ \x00\x00\x00\x00"), slices.Concat(fixed16(0.9642), fixed16(1), fixed16(0.8249))...)}
	for c, tag := range []string{"rXYZ", "gXYZ", "bXYZ"} {
		tags[tag] = append([]byte("XYZ \x00\x00\x00\x00"), slices.Concat(fixed16(colorants[0][c]), fixed16(colorants[1][c]), fixed16(colorants[2][c]))...)
	}
	desc := binary.BigEndian.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(name)+1))
	tags["desc"] = append(append(append(desc, name...), 0), make([]byte, 78)...)
	tags["cprt"] = []byte("text\x00\x00\x00\x00none\x00")
	return iccOf("RGB ", tags)
}

func iccOf(space string, tags map[string][]byte) []byte {
	head := make([]byte, 128)
	copy(head[8:], []byte{2, 0x40, 0, 0})
	copy(head[12:], "mntr"+space+"XYZ ")
	copy(head[36:], "acsp")
	copy(head[68:], slices.Concat(fixed16(0.9642), fixed16(1), fixed16(0.8249)))
	names := make([]string, 0, len(tags))
	for n := range tags {
		names = append(names, n)
	}
	slices.Sort(names)
	table := binary.BigEndian.AppendUint32(nil, uint32(len(names)))
	var body []byte
	at := 128 + 4 + 12*len(names)
	for _, n := range names {
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
		table = append(table, n...)
		table = binary.BigEndian.AppendUint32(table, uint32(at+len(body)))
		table = binary.BigEndian.AppendUint32(table, uint32(len(tags[n])))
		body = append(body, tags[n]...)
	}
	out := slices.Concat(head, table, body)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}

// withAPP2 puts a profile into a JPEG, in two pieces where it has more than a few bytes (ICC.1:2010, B.4).
func withAPP2(data, icc []byte) []byte {
	half := len(icc) / 2
	segment := func(n byte, part []byte) []byte {
		body := append([]byte("ICC_PROFILE\x00"), n, 2)
		body = append(body, part...)
		return append([]byte{0xff, 0xe2, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body...)
	}
	return slices.Concat(data[:2], segment(1, icc[:half]), segment(2, icc[half:]), data[2:])
}

// flat is a picture of one colour.
func flat(c color.Color) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 32, 32))
	for i := range 32 * 32 {
		img.Set(i%32, i/32, c)
	}
	return img
}

// TestProfileOfSRGBChangesNothing: a profile that says sRGB in its own words, by its formula or by a table, is none.
func TestProfileOfSRGBChangesNothing(t *testing.T) {
	table := append([]byte("curv\x00\x00\x00\x00\x00\x00\x04\x00"), make([]byte, 2*1024)...)
	for i := range 1024 {
		binary.BigEndian.PutUint16(table[12+2*i:], uint16(toLight(float64(i)/1023)*65535+0.5))
	}
	for name, curve := range map[string][]byte{"formula": srgbCurve, "table": table} {
		p, _ := readProfile(profileBytes("s", srgbColorants, curve))
		if p == nil || !p.plain() {
			t.Errorf("%s: %v", name, p == nil)
		}
	}
	for i := range 256 { // there and back
		if got := fromLight(toLight(float64(i) / 255)); got < float64(i)/255-1e-6 || got > float64(i)/255+1e-6 {
			t.Errorf("%d: %g", i, got*255)
		}
	}
}

// TestDisplayP3: greys stay greys, and a colour is that of sRGB. Display P3 (200, 100, 50) is sRGB (213.6, 96.9, 32.8) by
// the published primaries and curve (SMPTE EG 432-1, IEC 61966-2-1), reckoned apart from this code with Bradford-free
// matrices under D65: what TestOutsideProfiles holds against another program too.
func TestDisplayP3(t *testing.T) {
	icc := profileBytes("display", displayP3, srgbCurve)
	for _, c := range []struct{ from, want color.RGBA }{
		{color.RGBA{200, 100, 50, 255}, p3ByHand(200, 100, 50)}, {color.RGBA{90, 140, 70, 255}, p3ByHand(90, 140, 70)},
		{color.RGBA{128, 128, 128, 255}, color.RGBA{128, 128, 128, 255}}, {color.RGBA{255, 0, 0, 255}, color.RGBA{255, 0, 0, 255}}, {color.RGBA{255, 255, 255, 255}, color.RGBA{255, 255, 255, 255}},
	} {
		for name, data := range map[string][]byte{"JPEG": withAPP2(asJPEG(t, flat(c.from)), icc), "PNG": withChunk(asPNG(t, flat(c.from)), "iCCP", zipped(icc))} {
			o, img, _ := shot(t, data, 32)
			if d := apart(img.At(16, 16), c.want); d > 3 || len(o.Notes) > 0 {
				t.Errorf("%s of %v: %v, want %v; %v", name, c.from, img.At(16, 16), c.want, o.Notes)
			}
		}
	}
}

// A profile that is not applied is named: tables of a press, curves that are none, a profile of cyan and black.
func TestProfilesThatAreNotAppliedAreNamed(t *testing.T) {
	good := profileBytes("my screen", displayP3, srgbCurve)
	lab := slices.Clone(good)
	copy(lab[20:], "Lab ")
	noCurve := profileBytes("my screen", displayP3, []byte("curv\x00\x00\x00\x00\xff\xff\xff\xff"))
	inks := slices.Clone(good)
	copy(inks[16:], "CMYK")
	for name, icc := range map[string][]byte{"Lab": lab, "no curve": noCurve, "inks": inks, "cut": good[:140], "no profile": []byte(strings.Repeat("x", 400))} {
		o, _, _ := shot(t, withAPP2(asJPEG(t, flat(color.White)), icc), 32)
		if len(o.Notes) != 1 || !strings.Contains(o.Notes[0], "profile that is not applied") || name == "Lab" && !strings.Contains(o.Notes[0], "(my screen)") {
			t.Errorf("%s: %q", name, o.Notes)
		}
	}
}

// A grey profile with the gamma of older screens makes what is stored lighter or darker by its curve: 100 at 1.8 is light
// (100/255)^1.8 = 0.1855, which sRGB stores as 120 (IEC 61966-2-1).
func TestGreyProfile(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 32, 32))
	for i := range img.Pix {
		img.Pix[i] = 100
	}
	icc := iccOf("GRAY", map[string][]byte{"kTRC": para(0, 1.8)})
	if o, got, _ := shot(t, withAPP2(asJPEG(t, img), icc), 32); apart(got.At(9, 9), color.Gray{120}) > 2 || len(o.Notes) > 0 {
		t.Errorf("%v, %v", got.At(9, 9), o.Notes)
	}
}

// The five parametric curves (ICC.1:2010, table 65), worked by hand at 0.25 and 0.75.
func TestParametricCurves(t *testing.T) {
	for _, c := range []struct {
		kind      uint16
		params    []float64
		low, high float64
	}{
		{0, []float64{2}, 0.0625, 0.5625},
		{1, []float64{2, 2, -1}, 0, 0.25},
		{2, []float64{2, 2, -1, 0.125}, 0.125, 0.375},
		{3, []float64{2, 1, 0, 0.5, 0.5}, 0.125, 0.5625},
		{4, []float64{2, 1, 0, 0.5, 0.5, 0.25, 0.125}, 0.25, 0.8125},
	} {
		f := curveOf(para(c.kind, c.params...))
		if f == nil {
			t.Fatalf("kind %d is not read", c.kind)
		}
		if low, high := f(0.25), f(0.75); low < c.low-1e-9 || low > c.low+1e-9 || high < c.high-1e-9 || high > c.high+1e-9 {
			t.Errorf("kind %d: %g and %g, want %g and %g", c.kind, low, high, c.low, c.high)
		}
		if curveOf(para(c.kind, c.params[1:]...)) != nil {
			t.Errorf("kind %d with a number too few is read", c.kind)
		}
	}
	if curveOf(para(5, 1, 1, 1, 1, 1, 1, 1)) != nil || curveOf(para(1, 2, 0, 1)) != nil {
		t.Error("curves that are none are read")
	}
}

// What a camera says of its colours without a profile is told.
func TestColoursWithoutAProfile(t *testing.T) {
	exif := func(space uint16) []byte {
		b := exifOf(binary.BigEndian, 1)
		binary.BigEndian.PutUint16(b[52:], tagColours)
		copy(b[54:], []byte{0, 3, 0, 0, 0, 1, byte(space >> 8), byte(space), 0, 0})
		return b
	}
	for space, want := range map[uint16]int{1: 0, 2: 1, 0xffff: 1} {
		if o, _, _ := shot(t, withAPP1(asJPEG(t, flat(color.White)), exif(space)), 32); len(o.Notes) != want {
			t.Errorf("%d: %q", space, o.Notes)
		}
	}
	gamma := binary.BigEndian.AppendUint32(nil, 100000)
	if o, _, _ := shot(t, withChunk(asPNG(t, flat(color.White)), "gAMA", gamma), 32); len(o.Notes) != 1 {
		t.Errorf("gamma 1: %q", o.Notes)
	}
	if o, _, _ := shot(t, withChunk(asPNG(t, flat(color.White)), "acTL", make([]byte, 8)), 32); len(o.Notes) != 1 {
		t.Errorf("it moves: %q", o.Notes)
	}
}
