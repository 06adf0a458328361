// Package photo makes the pictures that a page shows out of the originals that people
// send: upright, of a given size, in sRGB, as a JPEG with nothing of the original but what is seen.
//
// An original may come from anybody. Its type is told by its content, never by its name;
// its size is judged by its head before anything is unpacked; and what the decoders of others do
// with damaged bytes comes back as an error that says what is wrong and what would be right.
//
// The same original gives the same bytes on every machine: all sums are of whole numbers, or of
// floats whose products are never fused. The JPEG itself is read and written by the standard
// library and so belongs to a version of Go (TestBytesAreTheSameEverywhere); who keeps
// pictures keeps Version and that of Go beside them.
package photo

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"slices"
	"time"

	"fettle/internal/diag"
)

// Version is raised when the same original would give other bytes though Go is the same.
const Version = 1

// quality of the JPEGs: fine cracks stay cracks at 90 (our choice, by eye).
const quality = 90

// Limits protect the machine: nothing beyond them is unpacked.
type Limits struct {
	Bytes  int           // of an original
	Dots   int           // of an original, across times down
	Memory int           // bytes that one takes while it is unpacked
	AtOnce int           // that are unpacked at the same time; others wait for their turn
	Time   time.Duration // that one takes, once it is its turn
}

// Usual are limits that every photo of a phone keeps, but for the largest ones that a few phones make when asked to.
var Usual = Limits{Bytes: 40 << 20, Dots: 40_000_000, Memory: 256 << 20, AtOnce: 2, Time: 2 * time.Minute}

// Maker makes pictures; it may be used by many goroutines. It keeps nothing of them, only the decoder of HEIC once
// that was needed.
type Maker struct {
	limits Limits
	turns  chan struct{} // holds one for each original that is being unpacked
	heic   heic
}

// New is a maker that keeps to limits.
func New(l Limits) *Maker { return &Maker{limits: l, turns: make(chan struct{}, max(l.AtOnce, 1))} }

// Original is what an original says of itself.
type Original struct {
	Kind          Kind
	Width, Height int    // as it is seen, upright
	Turned        bool   // its dots lie otherwise in the file
	Taken         string // the camera's clock at the shot, as 2026-11-25T14:03:10 of a time zone nobody knows; empty: not told
	Notes         []string
}

// Picture is a JPEG for a page.
type Picture struct {
	Width, Height int
	Data          []byte
}

// Make is a picture for each of the sides: none of its sides is longer than that, and none is enlarged. The context
// is asked while an original waits for its turn and while it is unpacked.
func (m *Maker) Make(ctx context.Context, data []byte, sides ...int) (Original, []Picture, error) {
	ctx, leave, err := m.turn(ctx)
	if err != nil {
		return Original{}, nil, err
	}
	defer leave()
	o, src, err := m.open(ctx, data)
	if err != nil {
		return Original{}, nil, err
	}
	order := make([]int, len(sides))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sides[b], sides[a]) })
	out := make([]Picture, len(sides))
	colours := src.colours
	for _, i := range order { // each out of the one before: a small one needs no look at the original again
		small, err := scaled(ctx, src.rows, max(sides[i], 1))
		if err != nil {
			return Original{}, nil, interrupted(err)
		}
		colours.apply(small)
		colours = nil
		src.rows = small.rows()
		if out[i], err = encoded(small.turned(src.turn)); err != nil {
			return Original{}, nil, err
		}
	}
	return o, out, nil
}

// Look reads an original to its end, as Make does, and makes nothing.
func (m *Maker) Look(ctx context.Context, data []byte) (Original, error) {
	ctx, leave, err := m.turn(ctx)
	if err != nil {
		return Original{}, err
	}
	defer leave()
	o, _, err := m.open(ctx, data)
	return o, err
}

// turn waits until an original may be unpacked: a large one takes hundreds of megabytes until it is left.
func (m *Maker) turn(ctx context.Context) (context.Context, func(), error) {
	select {
	case m.turns <- struct{}{}:
	default:
		select {
		case m.turns <- struct{}{}:
		case <-ctx.Done():
			return nil, nil, waited(ctx.Err())
		}
	}
	ctx, end := context.WithTimeout(ctx, m.limits.Time)
	return ctx, func() { end(); <-m.turns }, nil
}

// source is an unpacked original.
type source struct {
	rows    rows
	turn    turn
	colours *profile // what brings its colours to sRGB; nil: they are
}

// head is what is known of an original before it is unpacked.
type head struct {
	width, height int
	memory        int // bytes that it takes at most while it is unpacked
	exif          []byte
	icc           []byte
	turn          turn // told by the format itself
	coding        coding
	p3, wide      bool // its primaries are those of Display P3; or others that nothing here converts
	notes         []string
	refused       *diag.Error // what no decoder here can do
}

func (m *Maker) open(ctx context.Context, data []byte) (o Original, s source, err error) {
	kind := KindOf(data)
	switch {
	case kind == "":
		return o, s, stranger(data)
	case len(data) > m.limits.Bytes:
		return o, s, refuse(diag.Denied, fmt.Sprintf("it has %d MB; a picture has %d at most", len(data)>>20, m.limits.Bytes>>20), "save it smaller")
	}
	h, err := headOf(kind, data)
	if err == nil {
		err = m.fits(h)
	}
	if err != nil {
		return o, s, err
	}
	img, err := m.unpacked(ctx, kind, data, h)
	if err != nil {
		return o, s, err
	}
	e := readExif(h.exif)
	if kind == HEIC {
		e.turn, e.odd = upright, false // its boxes tell both: what EXIF says of it is history
	}
	o = Original{Kind: kind, Taken: e.taken, Notes: h.notes}
	s = source{rows: rowsOf(img, h.coding), turn: cmp.Or(e.turn, h.turn, upright)}
	o.Width, o.Height, o.Turned = s.rows.w, s.rows.h, s.turn != upright
	if s.turn.swaps() {
		o.Width, o.Height = o.Height, o.Width
	}
	var note string
	if s.colours, note = colours(h, img, e); note != "" {
		o.Notes = append(o.Notes, note)
	}
	return o, s, nil
}

// fits says why a picture is not unpacked.
func (m *Maker) fits(h head) error {
	if h.refused != nil {
		return h.refused
	}
	switch dots := int64(h.width) * int64(h.height); {
	case h.width < 1 || h.height < 1:
		return refuse(diag.Invalid, "the file is damaged: it says that it has no dots", "send the picture again, as the camera saved it")
	case dots > int64(m.limits.Dots):
		return refuse(diag.Denied, fmt.Sprintf("it has %d million dots (%d × %d), more than %d", millions(dots), h.width, h.height, m.limits.Dots/1e6),
			"set the camera to fewer, or save the picture smaller, and keep the original too")
	case h.memory > m.limits.Memory:
		return refuse(diag.Denied, fmt.Sprintf("unpacked it takes %d MB, more than %d", h.memory>>20, m.limits.Memory>>20),
			"save it smaller, or as a plain JPEG (baseline, not progressive) or a PNG of 8 bits")
	}
	return nil
}

// millions rounds up: what is too large by one dot is not called as large as it may be.
func millions(dots int64) int64 { return (dots + 999_999) / 1e6 }

// headOf is the head of a picture of a kind.
func headOf(k Kind, data []byte) (head, error) {
	switch k {
	case JPEG:
		return jpegHead(data)
	case PNG:
		return pngHead(data)
	case WebP:
		return webpHead(data)
	}
	return heicHead(data)
}

// unpacked is the whole picture. A decoder that gives up by a panic has met damaged bytes.
func (m *Maker) unpacked(ctx context.Context, k Kind, data []byte, h head) (img image.Image, err error) {
	defer func() {
		if why := recover(); why != nil {
			img, err = nil, damaged(fmt.Errorf("%v", why))
		}
	}()
	if k == HEIC {
		img, err = m.heic.decode(ctx, data, h)
	} else {
		img, err = decode(k, &asking{ctx, bytes.NewReader(data)})
	}
	switch {
	case ctx.Err() != nil:
		return nil, interrupted(ctx.Err())
	case err != nil:
		return nil, unread(k, err)
	case k != HEIC && (img.Bounds().Dx() != h.width || img.Bounds().Dy() != h.height):
		return nil, damaged(fmt.Errorf("it says two sizes of itself, %d × %d and %d × %d", h.width, h.height, img.Bounds().Dx(), img.Bounds().Dy()))
	}
	return img, nil
}

// asking is a reader that ends when its context does.
type asking struct {
	ctx context.Context
	*bytes.Reader
}

func (a *asking) Read(p []byte) (int, error) {
	if err := a.ctx.Err(); err != nil {
		return 0, err
	}
	return a.Reader.Read(p[:min(len(p), 1<<16)])
}

var _ io.Reader = (*asking)(nil)

func encoded(p *raster) (Picture, error) {
	img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	for i, j := 0, 0; i < len(p.rgb); i, j = i+3, j+4 {
		img.Pix[j], img.Pix[j+1], img.Pix[j+2], img.Pix[j+3] = p.rgb[i], p.rgb[i+1], p.rgb[i+2], 255
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		return Picture{}, &diag.Error{Kind: diag.Internal, Op: op, Msg: "the picture could not be written", Err: err}
	}
	return Picture{p.w, p.h, b.Bytes()}, nil
}
