package photo

import (
	"bytes"

	"golang.org/x/image/webp"

	"fettle/internal/diag"
)

// webpHead walks over the chunks of a WebP (RFC 9649, 2.3 to 2.7). Its picture chunk tells the size that is unpacked;
// one that stands in the head alone is not believed.
func webpHead(data []byte) (head, error) {
	h := head{coding: studio}
	moves, clear := false, false
	chunks(data, func(name string, body []byte) {
		w, ht := 0, 0
		switch {
		case name == "VP8X" && len(body) >= 10:
			moves, clear = moves || body[0]&2 != 0, clear || body[0]&16 != 0
			w, ht = 1+int(le32(body[4:])&0xffffff), 1+int(le32(body[6:])>>8)
		case name == "VP8 " && len(body) >= 10:
			w, ht = int(le32(body[6:])&0x3fff), int(le32(body[6:])>>16&0x3fff)
		case name == "VP8L" && len(body) >= 5:
			bits := le32(body[1:])
			w, ht, clear = 1+int(bits&0x3fff), 1+int(bits>>14&0x3fff), true
		case name == "EXIF":
			h.exif = body
		case name == "ICCP":
			h.icc = body[:min(len(body), maxProfile)]
		case name == "ANIM" || name == "ANMF":
			moves = true
		}
		h.width, h.height = max(h.width, w), max(h.height, ht)
	})
	if moves {
		h.refused = refuse(diag.Unsupported, "it is a WebP that moves", "send a still picture")
		return h, nil
	}
	each := 2
	if clear {
		each = 10 // four bytes a dot and what is kept beside them, and the picture itself
	}
	h.memory = dots(h.width, h.height, each)
	if h.width > 0 {
		return h, nil
	}
	_, err := webp.DecodeConfig(bytes.NewReader(data))
	if err == nil {
		return h, damaged(errNoPicture)
	}
	return h, unread(WebP, err)
}

// chunks calls each for every chunk of a RIFF file; one that is longer than the file has what is there.
func chunks(data []byte, each func(name string, body []byte)) {
	for rest := data[12:]; len(rest) >= 8; {
		n := min(uint64(le32(rest[4:])), uint64(len(rest)-8))
		each(string(rest[:4]), rest[8:8+n])
		rest = rest[min(8+n+n&1, uint64(len(rest))):]
	}
}
