package photo

import (
	"context"
	"image"
	"image/color"
)

// rows are the rows of a picture from above, each w times red, green and blue in 8 bits, on white.
type rows struct {
	w, h int
	row  func(y int, to []uint8)
}

// raster is a picture in memory.
type raster struct {
	w, h int
	rgb  []uint8
}

func newRaster(w, h int) *raster { return &raster{w, h, make([]uint8, 3*w*h)} }

func (p *raster) rows() rows {
	return rows{p.w, p.h, func(y int, to []uint8) { copy(to, p.rgb[3*p.w*y:3*p.w*(y+1)]) }}
}

// coding is how a picture's luma and chroma are red, green and blue: factors in 65536ths, and where luma begins.
type coding struct {
	from              int32 // luma of black
	y, rv, gu, gv, bu int32
}

// The codings that are met. Full is that of JPEG (Rec. ITU-R BT.601 over all 256 values: ITU-T T.871, 7); studio is
// BT.601 over 16 to 235, that of WebP (RFC 6386, 9.2).
var (
	full   = codingOf(0.299, 0.114, true)
	studio = codingOf(0.299, 0.114, false)
)

// codingOf is the coding by the weights of red and blue in luma (ITU-T H.273, 8.3).
func codingOf(kr, kb float64, whole bool) coding {
	kg := 1 - kr - kb
	luma, chroma, from := 1.0, 1.0, int32(0)
	if !whole {
		luma, chroma, from = 255.0/219, 255.0/224, 16
	}
	f := func(x float64) int32 { return int32(float64(x*65536) + 0.5) }
	return coding{from, f(luma), f(chroma * 2 * (1 - kr)), f(chroma * 2 * (1 - kb) * kb / kg), f(chroma * 2 * (1 - kr) * kr / kg), f(chroma * 2 * (1 - kb))}
}

func (c coding) rgb(y, u, v uint8) (r, g, b uint8) {
	l := (int32(y)-c.from)*c.y + 1<<15
	cu, cv := int32(u)-128, int32(v)-128
	return clamped((l + c.rv*cv) >> 16), clamped((l - c.gu*cu - c.gv*cv) >> 16), clamped((l + c.bu*cu) >> 16)
}

func clamped(v int32) uint8 { return uint8(max(0, min(v, 255))) }

// rowsOf are the rows of an unpacked picture.
func rowsOf(img image.Image, c coding) rows {
	b := img.Bounds()
	r := rows{w: b.Dx(), h: b.Dy()}
	switch p := img.(type) {
	case *image.YCbCr:
		r.row = func(y int, to []uint8) { lumaRow(p, c, y, to) }
	case *image.NYCbCrA:
		r.row = func(y int, to []uint8) {
			lumaRow(&p.YCbCr, c, y, to)
			clear := p.A[y*p.AStride : y*p.AStride+r.w]
			for x, a := range clear {
				onWhite(to[3*x:3*x+3], a)
			}
		}
	case *image.Gray:
		r.row = func(y int, to []uint8) {
			for x, v := range p.Pix[y*p.Stride : y*p.Stride+r.w] {
				to[3*x], to[3*x+1], to[3*x+2] = v, v, v
			}
		}
	case *image.NRGBA:
		r.row = func(y int, to []uint8) {
			from := p.Pix[y*p.Stride : y*p.Stride+4*r.w]
			for x := range r.w {
				copy(to[3*x:], from[4*x:4*x+3])
				onWhite(to[3*x:3*x+3], from[4*x+3])
			}
		}
	default:
		r.row = func(y int, to []uint8) { anyRow(img, y, to) }
	}
	return r
}

func lumaRow(p *image.YCbCr, c coding, y int, to []uint8) {
	at := p.COffset(p.Rect.Min.X, p.Rect.Min.Y+y)
	across := 0
	switch p.SubsampleRatio {
	case image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420:
		across = 1
	case image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410:
		across = 2
	}
	for x, l := range p.Y[y*p.YStride : y*p.YStride+p.Rect.Dx()] {
		i := at + x>>across
		to[3*x], to[3*x+1], to[3*x+2] = c.rgb(l, p.Cb[i], p.Cr[i])
	}
}

// onWhite lays a colour over white, as thick as alpha says.
func onWhite(rgb []uint8, alpha uint8) {
	if alpha == 255 {
		return
	}
	for i, v := range rgb {
		rgb[i] = uint8((int(v)*int(alpha) + 255*(255-int(alpha)) + 127) / 255)
	}
}

// anyRow is the row of a picture of any other type: CMYK, 16 bits, a palette.
func anyRow(img image.Image, y int, to []uint8) {
	b := img.Bounds()
	wide, _ := img.(image.RGBA64Image)
	for x := range b.Dx() {
		var c color.RGBA64
		if wide != nil {
			c = wide.RGBA64At(b.Min.X+x, b.Min.Y+y)
		} else {
			c = color.RGBA64Model.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.RGBA64)
		}
		white := 0xffff - c.A
		to[3*x], to[3*x+1], to[3*x+2] = uint8((c.R+white)>>8), uint8((c.G+white)>>8), uint8((c.B+white)>>8)
	}
}

// turned is a picture brought upright.
func (p *raster) turned(t turn) *raster {
	if t <= upright || t > 8 {
		return p
	}
	out := newRaster(p.w, p.h)
	if t.swaps() {
		out.w, out.h = p.h, p.w
	}
	for y := range out.h {
		for x := range out.w {
			sx, sy := x, y // where of the lying picture this dot is
			if t.swaps() {
				sx, sy = y, x
			}
			switch t {
			case 2, 7, 3, 8: // the first column is seen right, or below
				sx = p.w - 1 - sx
			}
			switch t {
			case 3, 4, 6, 7: // the first row is seen below, or right
				sy = p.h - 1 - sy
			}
			copy(out.rgb[3*(y*out.w+x):], p.rgb[3*(sy*p.w+sx):3*(sy*p.w+sx)+3])
		}
	}
	return out
}

// asked is every how many rows the context is asked.
const asked = 64

func askedAt(ctx context.Context, y int) error {
	if y%asked != 0 {
		return nil
	}
	return ctx.Err()
}
