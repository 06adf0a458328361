package photo

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"fettle/internal/diag"
)

var (
	errNoPicture = errors.New("there is no picture in it")
	errBox       = errors.New("a box is longer than what it lies in")
	errNoMeta    = errors.New("it says nothing of its pictures")
)

// Limits on what a HEIC says of itself; a photo of a phone has some 50 items and 100 tiles.
const (
	maxBoxes   = 4096 // of one box
	maxItems   = 4096 // that are linked to others
	maxNesting = 4    // of pictures made of pictures
)

// boxed calls each for every box (ISO/IEC 14496-12, 4.2): a size, a name, the content.
func boxed(data []byte, each func(name string, body []byte) error) error {
	for n := 0; len(data) > 0; n++ {
		if len(data) < 8 || n == maxBoxes {
			return errBox
		}
		size, head := uint64(be32(data)), uint64(8)
		switch size {
		case 0: // to the end
			size = uint64(len(data))
		case 1:
			if len(data) < 16 {
				return errBox
			}
			size, head = uint64(be32(data[8:]))<<32|uint64(be32(data[12:])), 16
		}
		if size < head || size > uint64(len(data)) {
			return errBox
		}
		if err := each(string(data[4:8]), data[head:size]); err != nil {
			return err
		}
		data = data[size:]
	}
	return nil
}

// heif is what the boxes of a file of pictures say (ISO/IEC 14496-12, 8.11; ISO/IEC 23008-12, 6).
type heif struct {
	primary uint32
	props   []property
	of      map[uint32][]int // properties of an item, from 0
	parts   map[uint32][]uint32
	exif    uint32 // the item of EXIF
	places  map[uint32]place
}

// boxName is the name of a box of a property.
type boxName string

const (
	boxSize   boxName = "ispe"
	boxCoding boxName = "hvcC"
	boxColour boxName = "colr"
	boxAlpha  boxName = "auxC"
)

type property struct {
	name boxName
	body []byte
}

// place is where an item lies in the file.
type place struct{ at, size uint64 }

// heicHead reads the boxes of a HEIC. All that the decoder is asked to unpack is counted: tiles that overlap and
// pictures made of pictures too.
func heicHead(data []byte) (head, error) {
	f := heif{of: map[uint32][]int{}, parts: map[uint32][]uint32{}, places: map[uint32]place{}}
	seen := false
	err := boxed(data, func(name string, body []byte) error {
		if name != "meta" || seen || len(body) < 4 {
			return nil
		}
		seen = true
		return boxed(body[4:], f.meta)
	})
	switch {
	case err != nil && !seen:
		return head{}, damaged(err)
	case err == nil && !seen:
		return head{}, damaged(errNoMeta)
	case err != nil && !errors.Is(err, errBox) || f.primary == 0:
		return head{}, damaged(cmpErr(err, errNoPicture))
	}
	h := head{coding: full}
	h.width, h.height = f.size(f.primary)
	if h.width == 0 || h.height == 0 {
		return h, damaged(errNoPicture)
	}
	coded := f.coded(f.primary)
	if coded.width > 0 && (apartBy(coded.width, h.width) > maxCut || apartBy(coded.height, h.height) > maxCut) {
		return h, damaged(fmt.Errorf("it says two sizes of itself, %d × %d and %d × %d", h.width, h.height, coded.width, coded.height))
	}
	f.shown(&h, f.sequence(f.primary))
	work := f.work(f.primary, 0)
	if most := 2*uint64(h.width)*uint64(h.height) + 1<<20; work > most {
		h.refused = refuse(diag.Denied, fmt.Sprintf("it is made of %d million dots to show %d million", work/1e6, millions(int64(h.width)*int64(h.height))), "save it as a plain JPEG")
	}
	h.memory = dots(h.width, h.height, 3)
	for _, i := range f.of[f.primary] {
		if i < len(f.props) {
			f.colour(&h, f.props[i])
		}
	}
	if slices.ContainsFunc(f.props, seenThrough) {
		h.notes = append(h.notes, "parts of it can be seen through; they are shown in the colours that lie beneath")
	}
	if p, ok := f.places[f.exif]; ok && f.exif != 0 && p.at < uint64(len(data)) && p.size <= uint64(len(data))-p.at {
		h.exif = exifItem(data[p.at : p.at+p.size])
	}
	return h, nil
}

// seenThrough says that a property is that of a picture of alpha (ISO/IEC 23008-12, 6.5.8; ISO/IEC 23091-2 for the second name).
func seenThrough(p property) bool {
	return p.name == boxAlpha && (bytes.Contains(p.body, []byte("urn:mpeg:hevc:2015:auxid:1\x00")) || bytes.Contains(p.body, []byte("auxiliary:alpha\x00")))
}

// maxCut is by how many dots what is coded may be larger than what is shown: encoders fill up to whole blocks.
const maxCut = 64

func apartBy(a, b int) int { return max(a-b, b-a) }

func cmpErr(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// exifItem is the TIFF head of an item of EXIF: four bytes say how far in it begins (ISO/IEC 23008-12, A.2.1).
func exifItem(b []byte) []byte {
	if len(b) < 4 || uint64(be32(b))+4 > uint64(len(b)) {
		return nil
	}
	return b[4+be32(b):]
}

// meta is one box of the pictures' box.
func (f *heif) meta(name string, body []byte) error {
	switch name {
	case "pitm":
		if len(body) >= 6 && body[0] == 0 {
			f.primary = uint32(be16(body[4:]))
		} else if len(body) >= 8 {
			f.primary = be32(body[4:])
		}
	case "iprp":
		return boxed(body, func(name string, body []byte) error {
			switch name {
			case "ipco":
				return boxed(body, func(name string, body []byte) error {
					f.props = append(f.props, property{boxName(name), body})
					return nil
				})
			case "ipma":
				f.linked(body)
			}
			return nil
		})
	case "iref":
		if len(body) >= 4 {
			wide := body[0] != 0
			return boxed(body[4:], func(name string, body []byte) error { f.refers(name, body, wide); return nil })
		}
	case "iinf":
		f.infos(body)
	case "iloc":
		f.located(body)
	}
	return nil
}

// numbers reads whole numbers of so many bytes; bad once there are too few.
type numbers struct {
	b   []byte
	bad bool
}

func (n *numbers) next(size int) (v uint64) {
	if len(n.b) < size {
		n.b, n.bad = nil, true
		return 0
	}
	for _, x := range n.b[:size] {
		v = v<<8 | uint64(x)
	}
	n.b = n.b[size:]
	return v
}

// wideIf is the bytes of an item's number.
func wideIf(wide bool) int {
	if wide {
		return 4
	}
	return 2
}

// linked reads which properties items have (ISO/IEC 23008-12, 9.3.1).
func (f *heif) linked(body []byte) {
	n := numbers{b: body}
	version, flags := n.next(1), n.next(3)
	for range min(n.next(4), maxItems) {
		item := uint32(n.next(wideIf(version > 0)))
		for range n.next(1) {
			i := n.next(1)
			if flags&1 != 0 {
				i = i<<8&0x7fff | n.next(1)
			} else {
				i &= 0x7f
			}
			if i > 0 && !n.bad {
				f.of[item] = append(f.of[item], int(i)-1)
			}
		}
		if n.bad {
			return
		}
	}
}

// refers reads one kind of reference of one item (ISO/IEC 14496-12, 8.11.12): "dimg" names what a picture is made of.
func (f *heif) refers(name string, body []byte, wide bool) {
	n := numbers{b: body}
	from := uint32(n.next(wideIf(wide)))
	if name != "dimg" || f.parts[from] != nil {
		return
	}
	for range n.next(2) {
		to := uint32(n.next(wideIf(wide)))
		if n.bad {
			return
		}
		f.parts[from] = append(f.parts[from], to)
	}
}

// infos looks for the item of EXIF (8.11.6).
func (f *heif) infos(body []byte) {
	n := numbers{b: body}
	version := n.next(4) >> 24
	n.next(wideIf(version > 0))
	_ = boxed(n.b, func(_ string, b []byte) error { // what is cut short names no item
		e := numbers{b: b}
		wide := e.next(4)>>24 > 2
		item := uint32(e.next(wideIf(wide)))
		e.next(2)
		if f.exif == 0 && len(e.b) >= 4 && string(e.b[:4]) == "Exif" {
			f.exif = item
		}
		return nil
	})
}

// located reads where items lie in the file: those of one piece (8.11.3).
func (f *heif) located(body []byte) {
	n := numbers{b: body}
	version := n.next(4) >> 24
	sizes := n.next(2)
	at, length, base, index := int(sizes>>12&15), int(sizes>>8&15), int(sizes>>4&15), int(sizes&15)
	if slices.Max([]int{at, length, base, index}) > 8 {
		return
	}
	for range min(n.next(wideIf(version == 2)), maxItems) {
		item, inFile := uint32(n.next(wideIf(version == 2))), true
		if version > 0 {
			inFile = n.next(2)&15 == 0
		}
		n.next(2)
		from := n.next(base)
		var p place
		pieces := n.next(2)
		for range pieces {
			if version > 0 {
				n.next(index)
			}
			p = place{from + n.next(at), n.next(length)}
		}
		if n.bad {
			return
		}
		if inFile && pieces == 1 && p.at >= from {
			f.places[item] = p
		}
	}
}

// size is that of an item (ISO/IEC 23008-12, 6.5.3), before it is turned.
func (f *heif) size(item uint32) (w, h int) {
	for _, i := range f.of[item] {
		if i < len(f.props) && f.props[i].name == boxSize && len(f.props[i].body) >= 12 {
			return int(be32(f.props[i].body[4:])), int(be32(f.props[i].body[8:]))
		}
	}
	return 0, 0
}

// coded is what the coded picture of an item says of itself; of no size where it is made of others.
func (f *heif) coded(item uint32) sequence {
	for _, i := range f.of[item] {
		if i < len(f.props) && f.props[i].name == boxCoding {
			return sequenceOf(f.props[i].body)
		}
	}
	return sequence{}
}

// sequence is that of an item, or of the first that it is made of.
func (f *heif) sequence(item uint32) sequence {
	for range maxNesting {
		if s := f.coded(item); s.width > 0 || len(f.parts[item]) == 0 {
			return s
		}
		item = f.parts[item][0]
	}
	return sequence{}
}

// work is how many dots are unpacked for an item.
func (f *heif) work(item uint32, deep int) uint64 {
	w, h := f.size(item)
	if s := f.coded(item); s.width > 0 {
		w, h = max(w, s.width), max(h, s.height)
	}
	sum := uint64(w) * uint64(h)
	parts := f.parts[item]
	if len(parts) == 0 {
		return sum
	}
	if deep == maxNesting {
		return 1 << 62
	}
	sum = 0
	for _, p := range parts {
		if sum += f.work(p, deep+1); sum >= 1<<50 {
			return 1 << 62
		}
	}
	return sum
}

// colour is what a property says of colours: a profile, or numbers (ISO/IEC 14496-12, 12.1.5; ITU-T H.273).
func (f *heif) colour(h *head, p property) {
	if p.name != boxColour || len(p.body) < 4 {
		return
	}
	n := numbers{b: p.body[4:]}
	switch string(p.body[:4]) {
	case "prof", "rICC":
		h.icc = n.b[:min(len(n.b), maxProfile)]
	case "nclx":
		s := sequence{told: true, primaries: n.next(2), transfer: n.next(2), matrix: n.next(2), whole: n.next(1)&0x80 != 0 || n.bad}
		f.shown(h, s)
	}
}

// shown is how colours are shown, by numbers: what the box says stands before what the coded picture does, and the last
// one told counts.
func (f *heif) shown(h *head, s sequence) {
	if s.told {
		h.p3 = s.primaries == 12
		h.wide = s.primaries == 9 || s.transfer == 16 || s.transfer == 18
		h.coding = coded(s.matrix, s.whole)
	}
}

// coded is the coding by its number (H.273, table 4); BT.601 for any that is not told.
func coded(matrix uint64, whole bool) coding {
	switch matrix {
	case 1:
		return codingOf(0.2126, 0.0722, whole)
	case 9:
		return codingOf(0.2627, 0.0593, whole)
	}
	return codingOf(0.299, 0.114, whole)
}
