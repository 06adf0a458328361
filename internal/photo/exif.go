package photo

import (
	"encoding/binary"
	"strings"
)

// turn is how a picture is brought upright: the values of EXIF's orientation (Exif 2.32, tag 0x0112), told by where
// its first row and first column are seen. None is 0.
type turn uint8

// The turns that are named here; 2 to 8 are any other.
const upright turn = 1

// swaps says that width and height change places.
func (t turn) swaps() bool { return t >= 5 && t <= 8 }

// exif is all that is read of EXIF: everything else is not looked at and never shown.
type exif struct {
	turn  turn
	taken string
	odd   bool // its colours are not said to be sRGB
}

// Tags (Exif 2.32, tables 4 and 7; TIFF 6.0 for the pointer).
const (
	tagOrientation = 0x0112
	tagExif        = 0x8769
	tagTaken       = 0x9003 // DateTimeOriginal
	tagColours     = 0xa001 // ColorSpace: 1 is sRGB
)

// maxEntries of a directory are read; more are none of a camera's.
const maxEntries = 512

// readExif reads a TIFF head, its first directory and the one of EXIF: two steps, whatever the offsets say, so none
// can lead in a circle. What lies outside of the bytes is not there.
func readExif(data []byte) exif {
	data = []byte(strings.TrimPrefix(string(data[:min(len(data), 1<<16)]), "Exif\x00\x00"))
	var e exif
	var order binary.ByteOrder = binary.LittleEndian
	switch {
	case len(data) < 8:
		return e
	case string(data[:4]) == "MM\x00*":
		order = binary.BigEndian
	case string(data[:4]) != "II*\x00":
		return e
	}
	first := directory(data, order, order.Uint32(data[4:]))
	if v := first[tagOrientation]; v.kind == 3 && v.count == 1 {
		if n := order.Uint16(v.value[:]); n >= 1 && n <= 8 {
			e.turn = turn(n)
		}
	}
	more := directory(data, order, first[tagExif].at(order))
	if v := more[tagTaken]; v.kind == 2 && v.count == 20 {
		if at := int64(v.at(order)); at+19 <= int64(len(data)) {
			e.taken = clock(string(data[at : at+19]))
		}
	}
	if v := more[tagColours]; v.kind == 3 && v.count == 1 {
		e.odd = order.Uint16(v.value[:]) != 1
	}
	return e
}

// entry is one of a directory.
type entry struct {
	kind  uint16
	count uint32
	value [4]byte
}

// at is where its value lies; nowhere is 0, where the head is.
func (e entry) at(order binary.ByteOrder) uint32 { return order.Uint32(e.value[:]) }

// directory is the entries of a directory by their tags, the first of each.
func directory(data []byte, order binary.ByteOrder, at uint32) map[uint16]entry {
	out := map[uint16]entry{}
	if at < 8 || int64(at)+2 > int64(len(data)) {
		return out
	}
	rest := data[at+2:]
	for n := min(int(order.Uint16(data[at:])), maxEntries); n > 0 && len(rest) >= 12; n-- {
		if tag := order.Uint16(rest); out[tag].kind == 0 {
			out[tag] = entry{order.Uint16(rest[2:]), order.Uint32(rest[4:]), [4]byte(rest[8:12])}
		}
		rest = rest[12:]
	}
	return out
}

// clock is a time of EXIF, "2026:11:25 14:03:10", as one of ISO 8601; empty for what is none.
func clock(s string) string {
	const like = "0000:00:00 00:00:00"
	for i := range like {
		if like[i] == '0' && (s[i] < '0' || s[i] > '9') || like[i] != '0' && s[i] != like[i] {
			return ""
		}
	}
	if s[:4] == "0000" || s[5:7] < "01" || s[5:7] > "12" || s[8:10] < "01" || s[8:10] > "31" || s[11:13] > "23" || s[14:16] > "59" || s[17:] > "60" {
		return ""
	}
	return s[:4] + "-" + s[5:7] + "-" + s[8:10] + "T" + s[11:]
}

func be16(b []byte) uint16 { return binary.BigEndian.Uint16(b) }
func be32(b []byte) uint32 { return binary.BigEndian.Uint32(b) }
func le32(b []byte) uint32 { return binary.LittleEndian.Uint32(b) }
