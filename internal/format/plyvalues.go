package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
)

// plySource gives the values of the elements, one row after the other.
type plySource interface {
	startRow() error
	value(t plyType) (float64, error)
	endRow() error
	left() int        // bytes not yet read
	where() filePlace // of the next value
	rest() bool       // something other than white space is left
}

// filePlace is a byte or line of a file. Nearly every one is passed without a word, so it
// becomes text only where one is needed.
type filePlace struct {
	unit string
	at   int
}

func (p filePlace) String() string { return fmt.Sprintf("%s %d", p.unit, p.at) }

// binaryPLY reads values of a binary body.
type binaryPLY struct {
	name  string
	data  []byte
	at    int
	order binary.ByteOrder
}

func (b *binaryPLY) startRow() error  { return nil }
func (b *binaryPLY) endRow() error    { return nil }
func (b *binaryPLY) left() int        { return len(b.data) - b.at }
func (b *binaryPLY) where() filePlace { return filePlace{"byte", b.at} }
func (b *binaryPLY) rest() bool       { return len(bytes.TrimSpace(b.data[b.at:])) > 0 }

func (b *binaryPLY) value(t plyType) (v float64, err error) {
	if b.left() < t.size {
		return v, badMesh(b.name, b.where().String(), "the file ends inside an element", "the file is cut off: copy or export it again")
	}
	d := b.data[b.at : b.at+t.size]
	b.at += t.size
	switch {
	case t.floating && t.size == 4:
		return float64(math.Float32frombits(b.order.Uint32(d))), nil
	case t.floating:
		return math.Float64frombits(b.order.Uint64(d)), nil
	case t.size == 1 && t.signed:
		return float64(int8(d[0])), nil
	case t.size == 1:
		return float64(d[0]), nil
	case t.size == 2 && t.signed:
		return float64(int16(b.order.Uint16(d))), nil
	case t.size == 2:
		return float64(b.order.Uint16(d)), nil
	case t.signed:
		return float64(int32(b.order.Uint32(d))), nil
	}
	return float64(b.order.Uint32(d)), nil
}

// textPLY reads values of a text body, one line an element.
type textPLY struct {
	name string
	data []byte
	line int
	row  []byte // what is left of the line
}

func (t *textPLY) left() int        { return len(t.data) + len(t.row) }
func (t *textPLY) where() filePlace { return filePlace{"line", t.line} }
func (t *textPLY) rest() bool       { return len(bytes.TrimSpace(t.data)) > 0 }

func (t *textPLY) startRow() error {
	for len(t.data) > 0 {
		t.row, t.data, _ = bytes.Cut(t.data, []byte("\n"))
		t.line++
		if t.row = bytes.TrimSpace(t.row); len(t.row) > 0 {
			return nil
		}
	}
	return badMesh(t.name, t.where().String(), "the file ends before all elements came", "the file is cut off: copy or export it again")
}

func (t *textPLY) value(typ plyType) (v float64, err error) {
	end := bytes.IndexAny(t.row, " \t\r\v\f")
	if end < 0 {
		end = len(t.row)
	}
	word := string(t.row[:end])
	t.row = bytes.TrimLeft(t.row[end:], " \t\r\v\f")
	if word == "" {
		return v, badMesh(t.name, t.where().String(), "too few values", "give one value for every property of the header")
	}
	if typ.floating {
		if v, err = strconv.ParseFloat(word, 64); err != nil {
			return v, badMesh(t.name, t.where().String(), fmt.Sprintf("%q is not a number", shorten(word)), "expected a number such as 12.5")
		}
		return v, nil
	}
	n, err := strconv.ParseInt(word, 10, 64)
	lo, hi := typ.bounds()
	if err != nil || n < lo || n > hi {
		return v, badMesh(t.name, t.where().String(), fmt.Sprintf("%q is not a whole number from %d to %d", shorten(word), lo, hi),
			"the header says which type the property has")
	}
	return float64(n), nil
}

func (t *textPLY) endRow() error {
	if len(t.row) > 0 {
		return badMesh(t.name, t.where().String(), "too many values", "give one value for every property of the header")
	}
	return nil
}
