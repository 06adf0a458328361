package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"strings"
	"unicode/utf16"

	"fettle/internal/diag"
	"fettle/internal/elem"
)

// profile brings colours to sRGB: a curve for each of red, green and blue to light, a matrix from their light to that
// of sRGB's primaries, and sRGB's curve back.
type profile struct {
	curve  [3][256]float64
	matrix [3][3]float64
}

// steps of light are told apart on the way back: fine enough that the darkest value moves by a fifth of a step.
const steps = 1 << 14

// apply brings a picture to sRGB.
func (p *profile) apply(to *raster) {
	if p == nil {
		return
	}
	back := make([]uint8, steps+1)
	for i := range back {
		back[i] = uint8(float64(fromLight(float64(i)/steps)*255) + 0.5)
	}
	for i := 0; i < len(to.rgb); i += 3 {
		r, g, b := p.curve[0][to.rgb[i]], p.curve[1][to.rgb[i+1]], p.curve[2][to.rgb[i+2]]
		for c, m := range p.matrix {
			light := float64(m[0]*r) + float64(m[1]*g) + float64(m[2]*b)
			to.rgb[i+c] = back[int(float64(max(0, min(light, 1))*steps)+0.5)]
		}
	}
}

// plain says that a profile changes no colour by more than a step or two of 255: it is sRGB by another name.
func (p *profile) plain() bool {
	probe := newRaster(8, 8) // 4 values of each of the three
	for i := range 64 {
		copy(probe.rgb[3*i:], []uint8{uint8(i & 3 * 85), uint8(i >> 2 & 3 * 85), uint8(i >> 4 * 85)})
	}
	was := bytes.Clone(probe.rgb)
	p.apply(probe)
	for i, v := range probe.rgb {
		if d := int(v) - int(was[i]); d < -2 || d > 2 {
			return false
		}
	}
	return true
}

// toLight and fromLight are the curve of sRGB (IEC 61966-2-1, 5.2 and 5.3).
func toLight(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return power((v+0.055)/1.055, 2.4)
}

func fromLight(v float64) float64 {
	if v <= 0.0031308 {
		return float64(v * 12.92)
	}
	return float64(1.055*power(v, 1/2.4)) - 0.055
}

func power(x, e float64) float64 {
	if x <= 0 {
		return 0
	}
	return elem.Exp(float64(e * elem.Log(x)))
}

// toSRGB is from CIE XYZ under D50, in which profiles speak, to the light of sRGB's primaries: the inverse of the
// colorants of the sRGB profile (Bradford; B. Lindbloom's table, from memory; TestProfileOfSRGBChangesNothing).
var toSRGB = [3][3]float64{
	{3.1338561, -1.6168667, -0.4906146},
	{-0.9787684, 1.9161415, 0.0334540},
	{0.0719453, -0.2289914, 1.4052427},
}

// displayP3 is the colorants of Display P3 under D50, a row each for X, Y and Z: what HEIC may name by a number
// (ITU-T H.273, table 2, 12) instead of a profile. As its profiles have them, from memory.
var displayP3 = [3][3]float64{
	{0.51512, 0.29198, 0.15710},
	{0.24120, 0.69225, 0.06657},
	{-0.00105, 0.04189, 0.78407},
}

// product is of two matrices.
func product(a, b [3][3]float64) (out [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			out[i][j] = float64(a[i][0]*b[0][j]) + float64(a[i][1]*b[1][j]) + float64(a[i][2]*b[2][j])
		}
	}
	return out
}

// profileOf is a profile with colorants, a row each for X, Y and Z, and sRGB's curve.
func profileOf(colorants [3][3]float64) *profile {
	p := &profile{matrix: product(toSRGB, colorants)}
	for c := range p.curve {
		for i := range p.curve[c] {
			p.curve[c][i] = toLight(float64(i) / 255)
		}
	}
	return p
}

// colours is what brings a picture to sRGB, and what is to be said where nothing here can.
func colours(h head, img image.Image, e exif) (*profile, string) {
	_, inks := img.(*image.CMYK)
	switch {
	case inks:
		return nil, "its colours are those of printing inks (CMYK): they are shown as near as can be without the profile of the press"
	case len(h.icc) > 0:
		p, name := readProfile(h.icc)
		switch {
		case p == nil:
			return nil, fmt.Sprintf("its colours are told by a profile that is not applied%s: they may look different", name)
		case p.plain():
			return nil, ""
		}
		return p, ""
	case h.p3:
		return profileOf(displayP3), ""
	case h.wide:
		return nil, "its colours are of a wider range than a page shows (HDR or BT.2020), which is not converted: they may look different"
	case e.odd:
		return nil, "the camera says that its colours are not sRGB and gives no profile: they may look different"
	}
	return nil, ""
}

// readProfile is an ICC profile of a screen or camera, with colorants and curves, or of grey with a curve (ICC.1:2010,
// 8.3 and 8.4); nil for any other, with its name.
func readProfile(icc []byte) (*profile, string) {
	name := nameOf(icc)
	if len(icc) < 132 || string(icc[36:40]) != "acsp" || string(icc[20:24]) != "XYZ " {
		return nil, name
	}
	p := &profile{matrix: [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}
	curves := []string{"rTRC", "gTRC", "bTRC"}
	switch string(icc[16:20]) {
	case "GRAY":
		curves = []string{"kTRC", "kTRC", "kTRC"}
	case "RGB ":
		var colorants [3][3]float64
		for c, tag := range []string{"rXYZ", "gXYZ", "bXYZ"} {
			xyz := tagged(icc, tag)
			if len(xyz) < 20 {
				return nil, name
			}
			for i := range 3 {
				colorants[i][c] = fixed(xyz[8+4*i:])
			}
		}
		p.matrix = product(toSRGB, colorants)
	default:
		return nil, name
	}
	for c, tag := range curves {
		of := curveOf(tagged(icc, tag))
		if of == nil {
			return nil, name
		}
		for i := range p.curve[c] {
			if p.curve[c][i] = of(float64(i) / 255); math.IsNaN(p.curve[c][i]) {
				return nil, name
			}
		}
	}
	return p, name
}

// fixed is an s15Fixed16Number (4.6).
func fixed(b []byte) float64 { return float64(int32(be32(b))) / 65536 }

// maxTags of a profile are looked at.
const maxTags = 128

// tagged is the bytes of a tag (7.3); none where they lie outside.
func tagged(icc []byte, tag string) []byte {
	if len(icc) < 132 {
		return nil
	}
	rest := icc[132:]
	for n := min(be32(icc[128:]), maxTags); n > 0 && len(rest) >= 12; n-- {
		at, size := uint64(be32(rest[4:])), uint64(be32(rest[8:]))
		if string(rest[:4]) == tag && at+size <= uint64(len(icc)) {
			return icc[at : at+size]
		}
		rest = rest[12:]
	}
	return nil
}

// curveOf is a curve from stored values to light, both from 0 to 1 (10.5 and 10.15).
func curveOf(b []byte) func(float64) float64 {
	if len(b) < 12 {
		return nil
	}
	switch n := be32(b[8:]); string(b[:4]) {
	case "curv":
		switch {
		case n == 0:
			return func(v float64) float64 { return v }
		case n == 1 && len(b) >= 14:
			g := float64(be16(b[12:])) / 256
			return func(v float64) float64 { return power(v, g) }
		case n > 1 && uint64(len(b)) >= 12+2*uint64(n):
			return func(v float64) float64 { return between(b[12:12+2*n], v) }
		}
	case "para":
		return parametric(be16(b[8:]), b[12:])
	}
	return nil
}

// between is a value of a table of 16-bit numbers, on the straight line between two.
func between(table []byte, v float64) float64 {
	n := len(table)/2 - 1
	at := float64(v * float64(n))
	i := max(0, min(int(at), n-1))
	low, high := float64(be16(table[2*i:])), float64(be16(table[2*i+2:]))
	return (low + float64((at-float64(i))*(high-low))) / 65535
}

// parametric is one of the five curves with a power (10.15, table 65).
func parametric(kind uint16, b []byte) func(float64) float64 {
	count := []int{1, 3, 4, 5, 7}
	if int(kind) >= len(count) || len(b) < 4*count[kind] {
		return nil
	}
	var p [7]float64 // g a b c d e f
	for i := range count[kind] {
		p[i] = fixed(b[4*i:])
	}
	g, a, shift, c, d, e, f := p[0], p[1], p[2], p[3], p[4], p[5], p[6]
	switch kind {
	case 0:
		a, shift, c, d, e, f = 1, 0, 0, 0, 0, 0
	case 1, 2:
		if a == 0 {
			return nil
		}
		e, f, c, d = c, c, 0, -shift/a // the third of kind 2 is added everywhere
	}
	return func(v float64) float64 {
		if v >= d {
			return power(float64(a*v)+shift, g) + e
		}
		return float64(c*v) + f
	}
}

// nameOf is what a profile calls itself, as words in brackets; nothing where it cannot be told.
func nameOf(icc []byte) string {
	b := tagged(icc, "desc")
	var name string
	switch {
	case len(b) > 12 && string(b[:4]) == "desc":
		name = string(b[12:min(uint64(len(b)), 12+uint64(be32(b[8:])))])
	case len(b) >= 28 && string(b[:4]) == "mluc":
		size, at := uint64(be32(b[20:])), uint64(be32(b[24:]))
		if at+size <= uint64(len(b)) {
			units := make([]uint16, min(size/2, 64))
			for i := range units {
				units[i] = binary.BigEndian.Uint16(b[at+2*uint64(i):])
			}
			name = string(utf16.Decode(units))
		}
	}
	name = strings.ToValidUTF8(strings.Trim(name, "\x00 "), "")
	if name == "" || len(name) > 64 {
		return ""
	}
	return " (" + diag.Plain(name) + ")"
}
