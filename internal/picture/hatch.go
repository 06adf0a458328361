package picture

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/color"
	"image/png"
)

// hatches is the number of different hatches, and tints of grounds. Hatch 0 is
// plain.
const (
	hatches    = 13
	tintNumber = 8
)

// hatched says that a pixel belongs to a line of hatch number k. Period is the
// distance between lines in pixels. A label is told by its hatch and its name,
// never by a colour alone.
func hatched(k, x, y, period int) bool {
	thick := max(period/10, 1)
	on := func(v int) bool { return ((v%period)+period)%period < thick }
	dash := func(v int) bool { return ((v%period)+period)%period < period/2 }
	switch k % hatches {
	case 1:
		return on(x + y)
	case 2:
		return on(x - y)
	case 3:
		return on(y)
	case 4:
		return on(x)
	case 5: // dots
		dx, dy := x%period-period/2, y%period-period/2
		return dx*dx+dy*dy < 2*thick*thick+1
	case 6:
		return on(x+y) || on(x-y)
	case 7:
		return on(x) || on(y)
	case 8: // dashes
		return on(y) && dash(x)
	case 9:
		return on(x) && dash(y)
	case 10: // in pairs
		return on(x+y) || on(x+y+3*thick)
	case 11:
		return on(x-y) && dash(x)
	case 12: // rings
		dx, dy := x%period-period/2, y%period-period/2
		r := dx*dx + dy*dy
		return 16*r > period*period && 16*r < period*period+16*3*thick*period/2
	}
	return false // 0: plain
}

// hatchPeriod is the distance between the lines of a hatch on a mesh, before the
// picture is halved.
const hatchPeriod = 34

// hatchRows is the hatches on a mesh: every hatch is the same after a period, across
// and down.
var hatchRows = func() (out [hatches][hatchPeriod][hatchPeriod]bool) {
	for k := range out {
		for y := range out[k] {
			for x := range out[k][y] {
				out[k][y][x] = hatched(k, x, y, hatchPeriod)
			}
		}
	}
	return out
}()

// tints are pale grounds for labels, apart from one another for people who do
// not see all colours (lightened from the palette of M. Okabe and K. Ito,
// 2008). They carry no meaning.
var tints = [tintNumber][3]float64{
	{0.98, 0.98, 0.975}, {0.90, 0.95, 0.985}, {0.99, 0.95, 0.87}, {0.90, 0.965, 0.935},
	{0.975, 0.92, 0.955}, {0.985, 0.975, 0.86}, {0.99, 0.915, 0.87}, {0.915, 0.92, 0.97},
}

// canvas is a small true-colour picture with whole-number pixels.
type canvas struct {
	w, h int
	pix  []uint8 // three bytes for each pixel
}

func newCanvas(w, h int) *canvas {
	return &canvas{w: w, h: h, pix: make([]uint8, 3*w*h)}
}

func (c *canvas) set(x, y int, rgb [3]uint8) {
	i := 3 * (y*c.w + x)
	c.pix[i], c.pix[i+1], c.pix[i+2] = rgb[0], rgb[1], rgb[2]
}

// paletted gives each colour a number in order of first appearance; false when
// there are more than a byte can number. Of each part 52 levels are kept: what is left
// compresses well.
func (c *canvas) paletted() (*image.Paletted, bool) {
	img := image.NewPaletted(image.Rect(0, 0, c.w, c.h), nil)
	known := make([]int16, 52*52*52) // number of a colour, plus one
	for i := range img.Pix {
		r, g, b := (int(c.pix[3*i])+2)/5, (int(c.pix[3*i+1])+2)/5, (int(c.pix[3*i+2])+2)/5
		k := &known[(r*52+g)*52+b]
		if *k == 0 {
			if len(img.Palette) == 256 {
				return nil, false
			}
			img.Palette = append(img.Palette, color.RGBA{uint8(5 * r), uint8(5 * g), uint8(5 * b), 255})
			*k = int16(len(img.Palette))
		}
		img.Pix[i] = uint8(*k - 1)
	}
	return img, true
}

// pngShelf keeps what PNGs are compressed with for the next one.
type pngShelf struct{ kept *png.EncoderBuffer }

// Get is what was kept, or nil.
func (p *pngShelf) Get() (b *png.EncoderBuffer) {
	b, p.kept = p.kept, nil
	return b
}

// Put keeps it.
func (p *pngShelf) Put(b *png.EncoderBuffer) { p.kept = b }

// dataURI is the picture as a PNG in a data address.
func (c *canvas) dataURI(shelf *pngShelf) (string, error) {
	var img image.Image
	if p, ok := c.paletted(); ok {
		img = p
	} else {
		full := image.NewNRGBA(image.Rect(0, 0, c.w, c.h))
		for i := range c.w * c.h {
			copy(full.Pix[4*i:], []uint8{c.pix[3*i], c.pix[3*i+1], c.pix[3*i+2], 255})
		}
		img = full
	}
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.DefaultCompression, BufferPool: shelf}
	if err := enc.Encode(&b, img); err != nil {
		return "", err
	}
	return "data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes()), nil
}

// Swatch is a small sample of a label's tint and hatch, for the legend.
func Swatch(k int) (string, error) {
	c := newCanvas(72, 40)
	for y := range c.h {
		for x := range c.w {
			c.set(x, y, inked(k, 0.95, hatched(k, x, y, 12)))
			if x < 2 || y < 2 || x >= c.w-2 || y >= c.h-2 {
				c.set(x, y, [3]uint8{60, 60, 60})
			}
		}
	}
	return c.dataURI(&pngShelf{})
}

// inked is the colour of a pixel of hatch k lit with level (0 to 1).
func inked(k int, level float64, line bool) [3]uint8 {
	if line {
		level *= 0.80
	}
	var rgb [3]uint8
	for i, t := range tints[k%tintNumber] {
		rgb[i] = uint8(float64(255*float64(t*level)) + 0.5)
	}
	return rgb
}
