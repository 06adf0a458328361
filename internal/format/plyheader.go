package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// A PLY file is a text header that declares elements and their properties, then
// the elements, as text or binary. Properties this program does not know are
// read over.
//
// Source: G. Turk, The PLY polygon file format, 1994.

// plyType is a scalar type of a property.
type plyType struct {
	size     int
	signed   bool
	floating bool
}

// plyTypeOf knows the type names of 1994 and those with a size in them.
func plyTypeOf(name string) (plyType, bool) {
	switch name {
	case "char", "int8":
		return plyType{1, true, false}, true
	case "uchar", "uint8":
		return plyType{1, false, false}, true
	case "short", "int16":
		return plyType{2, true, false}, true
	case "ushort", "uint16":
		return plyType{2, false, false}, true
	case "int", "int32":
		return plyType{4, true, false}, true
	case "uint", "uint32":
		return plyType{4, false, false}, true
	case "float", "float32":
		return plyType{4, true, true}, true
	case "double", "float64":
		return plyType{8, true, true}, true
	}
	return plyType{}, false
}

// bounds are the least and the greatest value of a whole-number type.
func (t plyType) bounds() (lo, hi int64) {
	bits := 8 * t.size
	if t.signed {
		return -1 << (bits - 1), 1<<(bits-1) - 1
	}
	return 0, 1<<bits - 1
}

type plyProperty struct {
	name  string
	typ   plyType
	list  bool
	count plyType // of a list
}

type plyElement struct {
	name  string
	count int64
	props []plyProperty
}

type plyHeader struct {
	binary   bool
	order    binary.ByteOrder
	elements []plyElement
	size     int // bytes
	lines    int
}

func isPLY(data []byte) bool {
	return bytes.HasPrefix(data, []byte("ply\n")) || bytes.HasPrefix(data, []byte("ply\r\n"))
}

// Bounds on a header, far above any real one.
const (
	plyMaxHeader     = 1 << 16
	plyMaxProperties = 256
)

// parsePLYHeader reads up to and including the end_header line.
func parsePLYHeader(name string, data []byte) (plyHeader, error) {
	var h plyHeader
	fail := func(msg, hint string) (plyHeader, error) { return h, badMesh(name, atLine(h.lines), msg, hint) }
	properties := 0
	for {
		end := bytes.IndexByte(data[h.size:min(len(data), plyMaxHeader)], '\n')
		if end < 0 {
			return fail("the header has no end_header line", "the file is cut off, or its header is longer than 64 kB")
		}
		row := strings.TrimSuffix(string(data[h.size:h.size+end]), "\r")
		h.size += end + 1
		h.lines++
		w := strings.Fields(row)
		switch {
		case h.lines == 1:
		case len(w) == 0:
			return fail("empty line in the header", "remove it")
		case w[0] == "comment" || w[0] == "obj_info":
		case w[0] == "format" && len(w) == 3 && w[2] == "1.0" && h.order == nil:
			if !h.setFormat(w[1]) {
				return fail(fmt.Sprintf("format %q", shorten(w[1])), "expected ascii, binary_little_endian or binary_big_endian")
			}
		case w[0] == "element" && len(w) == 3:
			if msg := h.addElement(w[1], w[2]); msg != "" {
				return fail(msg, "expected an element once, with a count that is not negative")
			}
		case w[0] == "property" && len(h.elements) > 0:
			if properties++; properties > plyMaxProperties {
				return fail("too many properties", fmt.Sprintf("at most %d are read", plyMaxProperties))
			}
			if msg := h.addProperty(w[1:]); msg != "" {
				return fail(msg, "expected property TYPE NAME or property list TYPE TYPE NAME, each name once")
			}
		case w[0] == "end_header" && len(w) == 1:
			if h.order == nil {
				return fail("the format line is missing", "expected for example: format ascii 1.0")
			}
			return h, nil
		default:
			return fail(fmt.Sprintf("found %q", shorten(row)), "expected format NAME 1.0 (once), element, property, comment or end_header")
		}
	}
}

func (h *plyHeader) setFormat(name string) bool {
	h.binary, h.order = true, binary.LittleEndian
	switch name {
	case "ascii":
		h.binary = false
	case "binary_little_endian":
	case "binary_big_endian":
		h.order = binary.BigEndian
	default:
		return false
	}
	return true
}

// addElement and addProperty answer what is wrong, or "".
func (h *plyHeader) addElement(name, count string) string {
	n, err := strconv.ParseInt(count, 10, 64)
	if err != nil || n < 0 {
		return fmt.Sprintf("count %q of element %s", shorten(count), shorten(name))
	}
	for _, e := range h.elements {
		if e.name == name {
			return fmt.Sprintf("element %s comes twice", shorten(name))
		}
	}
	h.elements = append(h.elements, plyElement{name: name, count: n})
	return ""
}

func (h *plyHeader) addProperty(w []string) string {
	var p plyProperty
	ok := false
	switch {
	case len(w) == 2:
		p.name = w[1]
		p.typ, ok = plyTypeOf(w[0])
	case len(w) == 4 && w[0] == "list":
		p.name, p.list = w[3], true
		p.count, ok = plyTypeOf(w[1])
		ok = ok && !p.count.floating
		if ok {
			p.typ, ok = plyTypeOf(w[2])
		}
	}
	if !ok {
		return fmt.Sprintf("property %q", shorten(strings.Join(w, " ")))
	}
	e := &h.elements[len(h.elements)-1]
	for _, q := range e.props {
		if q.name == p.name {
			return fmt.Sprintf("property %s comes twice", shorten(p.name))
		}
	}
	e.props = append(e.props, p)
	return ""
}

// property finds a property by one of its names; -1 when there is none.
func (e *plyElement) property(names ...string) int {
	for i, p := range e.props {
		for _, n := range names {
			if p.name == n {
				return i
			}
		}
	}
	return -1
}

// leastBytes is the fewest bytes one element can take.
func (e *plyElement) leastBytes(binary bool) int64 {
	sum := int64(0)
	for _, p := range e.props {
		switch {
		case !binary:
			sum += 2 // a digit and a separator
		case p.list:
			sum += int64(p.count.size)
		default:
			sum += int64(p.typ.size)
		}
	}
	return sum
}
