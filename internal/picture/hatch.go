package picture

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
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

// hatchRow is a row of a hatch on a mesh, twice over: 1 on a line.
type hatchRow struct {
	on   [2 * hatchPeriod]uint8
	none bool // nothing of it is on a line
}

// hatchRows is the hatches on a mesh: every hatch is the same after a period, across
// and down.
var hatchRows = func() (out [hatches][hatchPeriod]hatchRow) {
	for k := range out {
		for y := range out[k] {
			row := &out[k][y]
			row.none = true
			for x := range row.on {
				if hatched(k, x, y, hatchPeriod) {
					row.on[x], row.none = 1, false
				}
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

// Colours are kept in steps of fewSteps: what is left compresses well. Where that leaves
// more of them than a byte can number, in steps of manySteps, so that no tint is lost.
const (
	fewSteps  = 5
	manySteps = 3
)

// shade is a colour of a picture in steps, and how many pixels have it.
type shade struct {
	rgb [3]int
	n   int
	as  uint8 // its number
}

// paletted numbers the colours in order of first appearance. Where there are more than a
// byte can number, the rarest, which are blends at edges, are drawn as the nearest of the
// others.
func (c *canvas) paletted(room *pngShelf) *image.Paletted {
	all, step := c.inSteps(room, fewSteps, 256), fewSteps
	if all == nil {
		all, step = c.inSteps(room, manySteps, math.MaxInt), manySteps
	}
	room.pix = roomFor(room.pix, c.w*c.h)
	img := &image.Paletted{Pix: room.pix, Stride: c.w, Rect: image.Rect(0, 0, c.w, c.h)}
	for _, s := range number(all) {
		img.Palette = append(img.Palette, color.RGBA{uint8(step * s[0]), uint8(step * s[1]), uint8(step * s[2]), 255})
	}
	for i, k := range room.shade {
		img.Pix[i] = all[k].as
	}
	return img
}

// inSteps finds the colours in steps, and which of them each pixel has; nil where there are
// more than most.
func (c *canvas) inSteps(room *pngShelf, step, most int) (all []shade) {
	var in [256]int // steps
	for v := range in {
		in[v] = (v + step/2) / step
	}
	levels := 255/step + 1
	room.known = roomFor(room.known, levels*levels*levels) // place of a colour among all, plus one
	clear(room.known)
	room.shade = roomFor(room.shade, c.w*c.h)
	var last [3]uint8
	k := -1
	for i := range room.shade {
		p := (*[3]uint8)(c.pix[3*i:])
		if k < 0 || *p != last {
			last = *p
			known := &room.known[(in[p[0]]*levels+in[p[1]])*levels+in[p[2]]]
			if *known == 0 {
				if len(all) == most {
					return nil
				}
				all = append(all, shade{rgb: [3]int{in[p[0]], in[p[1]], in[p[2]]}})
				*known = int32(len(all))
			}
			k = int(*known) - 1
		}
		room.shade[i] = int32(k)
		all[k].n++
	}
	return all
}

// number gives each colour its number, and lists those that have one of their own.
func number(all []shade) (palette [][3]int) {
	least := 0 // pixels of a colour that has a number of its own
	if len(all) > 256 {
		byN := slices.SortedFunc(slices.Values(all), func(a, b shade) int { return b.n - a.n })
		least = byN[256].n + 1 // as many as the first that has none, and there may be more of those
	}
	for i := range all {
		if s := &all[i]; s.n >= least {
			s.as, palette = uint8(len(palette)), append(palette, s.rgb)
		}
	}
	if len(palette) == 0 { // all alike in number: the first
		for i := range 256 {
			all[i].as, palette = uint8(i), append(palette, all[i].rgb)
		}
	}
	for i := range all {
		s, best := &all[i], math.MaxInt
		if palette[s.as] == s.rgb {
			continue
		}
		for k, p := range palette {
			d := 0
			for x := range p {
				d += (p[x] - s.rgb[x]) * (p[x] - s.rgb[x])
			}
			if d < best {
				s.as, best = uint8(k), d
			}
		}
	}
	return palette
}

// pngShelf keeps what PNGs are made and compressed with for the next one.
type pngShelf struct {
	kept  *png.EncoderBuffer
	known []int32
	shade []int32 // of each pixel
	pix   []uint8
}

// Get is what was kept, or nil.
func (p *pngShelf) Get() (b *png.EncoderBuffer) {
	b, p.kept = p.kept, nil
	return b
}

// Put keeps it.
func (p *pngShelf) Put(b *png.EncoderBuffer) { p.kept = b }

// dataURI is the picture as a PNG in a data address.
func (c *canvas) dataURI(shelf *pngShelf) (string, error) {
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.DefaultCompression, BufferPool: shelf}
	if err := enc.Encode(&b, c.paletted(shelf)); err != nil {
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
