//go:build !noheic

package photo

import (
	"bytes"
	"compress/gzip"
	"context"
	_ "embed" // the decoder's module
	"errors"
	"fmt"
	"image"
	"io"
	"sync"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"

	"fettle/internal/diag"
)

// heifModule is libheif with libde265, of others and under the LGPL, as a WebAssembly module: a file beside this
// one that anybody may put another in the place of (heif/README.md). It reaches nothing of the machine: no file, no
// clock, no network, and no more memory than heifPages.
//
//go:embed heif/heif.wasm.gz
var heifModule []byte

// heifPages are the pages of 64 kB that a picture has at most while it is unpacked: 40 million dots take 350 MB.
const heifPages = 512 << 20 >> 16

// heic decodes HEIC. It is made ready when it is first needed, which takes half a second.
type heic struct {
	once    sync.Once
	runtime wazero.Runtime
	module  wazero.CompiledModule
	err     error
}

func (d *heic) ready() error {
	d.once.Do(func() {
		ctx := context.Background() // the module is for all, not for who needs it first
		d.runtime = wazero.NewRuntimeWithConfig(ctx, wazero.NewRuntimeConfig().WithMemoryLimitPages(heifPages).WithCloseOnContextDone(true))
		if _, d.err = wasi_snapshot_preview1.Instantiate(ctx, d.runtime); d.err != nil {
			return
		}
		var code []byte
		if code, d.err = unzipped(heifModule); d.err == nil {
			d.module, d.err = d.runtime.CompileModule(ctx, code)
		}
	})
	if d.err != nil {
		return &diag.Error{Kind: diag.Internal, Op: op, Msg: "the decoder of HEIC cannot be started", Err: d.err}
	}
	return nil
}

func unzipped(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// Numbers of libheif's interface (heif.h, enum heif_colorspace and heif_chroma).
const (
	spaceLuma, spaceRGB, spaceGrey = 0, 1, 2
)

var ratios = map[uint32]image.YCbCrSubsampleRatio{1: image.YCbCrSubsampleRatio420, 2: image.YCbCrSubsampleRatio422, 3: image.YCbCrSubsampleRatio444}

var errHEVC = errors.New("it cannot be decoded; it may be coded with something else than HEVC")

// decode unpacks a picture in a module of its own, which is thrown away with all that went wrong in it.
func (d *heic) decode(ctx context.Context, data []byte, h head) (image.Image, error) {
	if err := d.ready(); err != nil {
		return nil, err
	}
	m, err := d.runtime.InstantiateModule(ctx, d.module, wazero.NewModuleConfig().WithName("").WithStartFunctions("_initialize"))
	if err != nil {
		return nil, err
	}
	defer func() { _ = m.Close(context.WithoutCancel(ctx)) }() // nothing is kept of it that could be lost
	c := caller{ctx: ctx, m: m}
	in := c.room(len(data))
	told := c.room(5 * 4)
	if c.err == nil && !m.Memory().Write(in, data) {
		c.err = errHEVC
	}
	c.decode(in, len(data), told, 0)
	w, ht := c.number(told), c.number(told+4)
	if c.err == nil && !sameSize(w, ht, h) {
		return nil, damaged(fmt.Errorf("it says two sizes of itself, %d × %d and %d × %d", h.width, h.height, w, ht))
	}
	l := layoutOf(int(w), int(ht), c.number(told+8), c.number(told+12))
	if c.err == nil && l == nil {
		c.err = errHEVC
	}
	if c.err != nil {
		return nil, c.err
	}
	out := c.room(l.size + len(fence))
	c.fence(out + uint32(l.size) - uint32(len(fence)))
	c.fence(out + uint32(l.size))
	c.decode(in, len(data), told, out)
	pix, ok := m.Memory().Read(out, uint32(l.size+len(fence)))
	switch {
	case c.err != nil || !ok:
		return nil, cmpErr(c.err, errHEVC)
	case !bytes.HasSuffix(pix, fence) || bytes.HasSuffix(pix[:l.size], fence):
		return nil, damaged(errTwoSizes)
	}
	return l.image(bytes.Clone(pix[:l.size])), nil
}

// fence is written behind where the picture goes, and over its end: a picture that is larger than it says takes the first
// away, and one that is smaller leaves the second. 16 bytes that no picture has at its end but by intent.
var fence = []byte("\x9e\x37\x79\xb9\x7f\x4a\x7c\x15\xf3\x9c\xc0\x60\x5c\xed\xc8\x34")

var errTwoSizes = errors.New("its picture is of another size than it says")

// sameSize says that the decoder makes a picture of the size that its boxes tell, turned or not, or cut: never of more.
func sameSize(w, h uint32, of head) bool {
	return w > 0 && h > 0 && int64(w)*int64(h) <= int64(of.width)*int64(of.height)
}

// caller calls functions of a module until one fails.
type caller struct {
	ctx context.Context
	m   api.Module
	err error
}

func (c *caller) call(name string, args ...uint64) uint32 {
	if c.err != nil {
		return 0
	}
	f := c.m.ExportedFunction(name)
	if f == nil {
		c.err = fmt.Errorf("the decoder has no function %s", name)
		return 0
	}
	out, err := f.Call(c.ctx, args...)
	if err != nil || len(out) != 1 {
		c.err = cmpErr(err, errHEVC)
		return 0
	}
	return uint32(out[0])
}

// room is memory of the module.
func (c *caller) room(n int) uint32 {
	at := c.call("malloc", uint64(n))
	if c.err == nil && at == 0 {
		c.err = refuse(diag.Denied, "the picture takes more memory than is given", "save it smaller, or as a plain JPEG")
	}
	return at
}

// decode writes the picture to out and what it is like to told: width, height, colour space, chroma, and whether alpha
// is multiplied in. Without out it tells only.
func (c *caller) decode(in uint32, size int, told, out uint32) {
	only := uint64(0)
	if out == 0 {
		only = 1
	}
	t := uint64(told)
	if ok := c.call("decode", uint64(in), uint64(size), only, t, t+4, t+8, t+12, t+16, uint64(out)); c.err == nil && ok != 1 {
		c.err = errHEVC
	}
}

func (c *caller) fence(at uint32) {
	if c.err == nil && !c.m.Memory().Write(at, fence) {
		c.err = errHEVC
	}
}

func (c *caller) number(at uint32) uint32 {
	if c.err != nil {
		return 0
	}
	v, ok := c.m.Memory().ReadUint32Le(at)
	if !ok {
		c.err = errHEVC
	}
	return v
}

// layout is how the module lays a picture out.
type layout struct {
	w, h, size     int
	space          uint32
	ratio          image.YCbCrSubsampleRatio
	stride, cs, ch int // bytes of a row, of a row of chroma, rows of chroma
}

// stride is the bytes of a row: of an even number of dots, of 64 at least, to the next 16 bytes (libheif 1.18,
// pixelimage.cc; TestHEICOfEverySize).
func stride(dots, each int) int { return ((max(64, dots+dots&1))*each + 15) &^ 15 }

func layoutOf(w, h int, space, chroma uint32) *layout {
	l := &layout{w: w, h: h, space: space, stride: stride(w, 1)}
	l.size = l.stride * h
	switch space {
	case spaceGrey:
	case spaceRGB:
		l.stride = stride(w, 4)
		l.size = l.stride * h
	case spaceLuma:
		ratio, ok := ratios[chroma]
		if !ok {
			return nil
		}
		cw := (w + 1) / 2
		l.ratio, l.ch = ratio, h
		switch ratio {
		case image.YCbCrSubsampleRatio444:
			cw = w
		case image.YCbCrSubsampleRatio420:
			l.ch = (h + 1) / 2
		}
		l.cs = stride(cw, 1)
		l.size += 2 * l.cs * l.ch
	default:
		return nil
	}
	return l
}

func (l *layout) image(pix []byte) image.Image {
	r := image.Rect(0, 0, l.w, l.h)
	y, c := l.stride*l.h, l.cs*l.ch
	switch l.space {
	case spaceGrey:
		return &image.Gray{Pix: pix, Stride: l.stride, Rect: r}
	case spaceRGB:
		return &image.NRGBA{Pix: pix, Stride: l.stride, Rect: r}
	}
	return &image.YCbCr{Y: pix[:y], Cb: pix[y : y+c], Cr: pix[y+c:], YStride: l.stride, CStride: l.cs, SubsampleRatio: l.ratio, Rect: r}
}
