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
	return &canvas{w: w, h: h, pix: filled[uint8](nil, 3*w*h, 255)}
}

func (c *canvas) set(x, y int, rgb [3]uint8) {
	i := 3 * (y*c.w + x)
	c.pix[i], c.pix[i+1], c.pix[i+2] = rgb[0], rgb[1], rgb[2]
}

// halve makes one pixel of four: the mean, so that edges come out smooth.
func (c *canvas) halve() *canvas {
	out := newCanvas(c.w/2, c.h/2)
	for y := range out.h {
		for x := range out.w {
			for k := range 3 {
				at := func(dx, dy int) int { return int(c.pix[3*((2*y+dy)*c.w+2*x+dx)+k]) }
				out.pix[3*(y*out.w+x)+k] = uint8((at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1) + 2) / 4)
			}
		}
	}
	return out
}

// coarse keeps 52 levels of each colour: what is left compresses well.
func coarse(v uint8) uint8 { return uint8((int(v) + 2) / 5 * 5) }

// paletted gives each colour a number in order of first appearance; false when
// there are more than a byte can number.
func (c *canvas) paletted() (*image.Paletted, bool) {
	img := image.NewPaletted(image.Rect(0, 0, c.w, c.h), nil)
	known := map[[3]uint8]uint8{}
	var last [3]uint8
	k, ok := uint8(0), false
	for i := range c.w * c.h {
		rgb := [3]uint8{coarse(c.pix[3*i]), coarse(c.pix[3*i+1]), coarse(c.pix[3*i+2])}
		if !ok || rgb != last {
			k, ok = known[rgb]
		}
		if !ok {
			if len(img.Palette) == 256 {
				return nil, false
			}
			k = uint8(len(img.Palette))
			known[rgb], ok = k, true
			img.Palette = append(img.Palette, color.RGBA{rgb[0], rgb[1], rgb[2], 255})
		}
		img.Pix[i], last = k, rgb
	}
	return img, true
}

// DataURI is the picture as a PNG in a data address.
func (c *canvas) DataURI() (string, error) {
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
	enc := png.Encoder{CompressionLevel: png.DefaultCompression}
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
	return c.DataURI()
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
