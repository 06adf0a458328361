package photo

import (
	"bytes"
	"compress/zlib"
	"image/color"
	"image/png"
	"io"
	"math"
)

// maxProfile is the most bytes of a colour profile that are unpacked: those of cameras have 4 kB at most.
const maxProfile = 1 << 20

// pngHead walks over the chunks of a PNG (ISO/IEC 15948, 5.3).
func pngHead(data []byte) (head, error) {
	size, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return head{}, unread(PNG, err)
	}
	h := head{width: size.Width, height: size.Height, coding: full}
	each := 4
	switch size.ColorModel {
	case color.RGBA64Model, color.NRGBA64Model:
		each = 8
	case color.GrayModel:
		each = 4 // one, or four where a grey counts as transparent
	case color.Gray16Model:
		each = 8
	}
	h.memory = dots(size.Width, size.Height, each)
	srgb, gamma := false, false
	for rest := data[len(pngSign):]; len(rest) >= 12; {
		n := be32(rest)
		if uint64(n)+12 > uint64(len(rest)) {
			break
		}
		body := rest[8 : 8+n]
		switch string(rest[4:8]) {
		case "iCCP":
			h.icc = inflated(body)
		case "sRGB":
			srgb = true
		case "gAMA": // 45455 is that of sRGB (11.3.3.2)
			gamma = n == 4 && (be32(body) < 44000 || be32(body) > 47000)
		case "eXIf":
			h.exif = body
		case "acTL":
			h.notes = append(h.notes, "it moves; its first picture is shown")
		}
		rest = rest[12+n:]
	}
	if gamma && !srgb && h.icc == nil {
		h.notes = append(h.notes, "it asks for a gamma of its own, which is not applied: it may look too light or too dark")
	}
	return h, nil
}

// dots is the memory of so many dots, and at most what an int holds.
func dots(w, h, each int) int {
	if n := uint64(w) * uint64(h); n < math.MaxInt32 {
		return int(n) * each
	}
	return math.MaxInt
}

// inflated is the profile of a chunk: a name, a zero, the method 0, and zlib's bytes (11.3.3.3).
func inflated(body []byte) []byte {
	i := bytes.IndexByte(body, 0)
	if i < 0 || i+2 > len(body) || body[i+1] != 0 {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(body[i+2:]))
	if err != nil {
		return nil
	}
	profile, err := io.ReadAll(io.LimitReader(z, maxProfile))
	if err != nil {
		return nil
	}
	return profile
}
