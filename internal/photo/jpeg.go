package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"

	"fettle/internal/diag"
)

// maxScans of a progressive JPEG are unpacked: a few bytes are a scan over all dots, so that a small file could keep
// the machine busy for hours. Encoders write a dozen.
const maxScans = 64

// frame is what a frame says of a JPEG (ISO/IEC 10918-1, B.2.2).
type frame struct {
	progressive bool
	parts       []byte // sampling of each component: across in the upper four bits, down in the lower
}

// jpegHead walks over the segments of a JPEG; what lies behind its end (another picture, an archive) is not looked at.
func jpegHead(data []byte) (head, error) {
	size, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return head{}, unread(JPEG, err)
	}
	h := head{width: size.Width, height: size.Height, coding: full}
	var f frame
	profile := map[byte][]byte{}
	scans := 0
	segments(data, func(marker byte, body []byte) {
		switch {
		case marker == 0xda:
			scans++
		case marker == 0xc0 || marker == 0xc1 || marker == 0xc2:
			if f.parts == nil {
				f = frameOf(marker, body)
			}
		case marker == 0xe1 && h.exif == nil && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
			h.exif = body
		case marker == 0xe2 && len(body) > 14 && bytes.HasPrefix(body, []byte("ICC_PROFILE\x00")): // ICC.1, B.4
			if _, ok := profile[body[12]]; !ok {
				profile[body[12]] = body[14:]
			}
		}
	})
	if scans > maxScans {
		return h, refuse(diag.Denied, fmt.Sprintf("it is a JPEG of %d scans; %d are unpacked at most", scans, maxScans), "save it as a plain JPEG (baseline, not progressive)")
	}
	h.memory = f.memory(size)
	for i := 1; profile[byte(i)] != nil; i++ {
		h.icc = append(h.icc, profile[byte(i)]...)
	}
	return h, nil
}

func frameOf(marker byte, body []byte) frame {
	f := frame{progressive: marker == 0xc2, parts: []byte{}}
	for i := 6; i+3 <= len(body); i += 3 {
		f.parts = append(f.parts, body[i+1])
	}
	return f
}

// memory is what it takes while it is unpacked: a byte for each value of a component, and four more for its
// coefficient where it is progressive.
func (f frame) memory(size image.Config) int {
	values, most := 0, 1
	for _, p := range f.parts {
		area := int(p>>4) * int(p&15)
		values, most = values+area, max(most, area)
	}
	each := 1
	if f.progressive {
		each = 5
	}
	if len(f.parts) == 4 {
		each += 4 // CMYK is put together out of them
	}
	return (size.Width + 32) * (size.Height + 32) / most * values * each
}

// segments calls each for every marker segment of a JPEG up to its end (B.1.1): its marker, and its bytes without
// the length. Bytes of scans are passed over. It ends where the bytes are no JPEG.
func segments(data []byte, each func(marker byte, body []byte)) {
	for i := 2; i+2 <= len(data); {
		switch marker := data[i+1]; {
		case data[i] != 0xff || marker == 0xff || marker == 0 || marker >= 0xd0 && marker <= 0xd7:
			// of a scan, a filling byte, a restart: on to the next byte that may begin a marker
			next := bytes.IndexByte(data[i+1:], 0xff)
			if next < 0 {
				return
			}
			i += 1 + next
		case marker == 0xd9 || i+4 > len(data):
			return
		default:
			n := int(be16(data[i+2:]))
			if n < 2 || i+2+n > len(data) {
				return
			}
			each(marker, data[i+4:i+2+n])
			i += 2 + n
		}
	}
}
