package picture

import (
	"image/color"
	"testing"
)

func TestHatchesDiffer(t *testing.T) {
	seen := map[string]int{}
	for k := range hatches {
		var b []byte
		for y := range 68 {
			for x := range 68 {
				v := byte('.')
				if hatched(k, x, y, 34) {
					v = '#'
				}
				b = append(b, v)
			}
		}
		if other, ok := seen[string(b)]; ok {
			t.Errorf("hatches %d and %d are the same", other, k)
		}
		seen[string(b)] = k
	}
}

// Of more colours than a byte can number the most frequent are kept as they are, and the
// others are drawn as the nearest of those.
func TestRareColoursAreDrawnAsTheNearest(t *testing.T) {
	c := newCanvas(70, 70)
	for i := range 70 * 70 {
		v := i % 300 // each colour in some 16 pixels, the first hundred in half the picture too
		if i%2 == 0 {
			v = i / 2 % 100
		}
		c.set(i%70, i/70, [3]uint8{uint8(5 * (v % 50)), uint8(5 * (v / 50 * 8)), 100})
	}
	img := c.paletted(&pngShelf{})
	if len(img.Palette) > 256 || len(img.Palette) < 100 {
		t.Fatalf("%d colours", len(img.Palette))
	}
	for i := range 70 * 70 {
		r, g, _, _ := img.At(i%70, i/70).RGBA()
		dr, dg := int(r>>8)-int(c.pix[3*i]), int(g>>8)-int(c.pix[3*i+1])
		if i%2 == 0 && (dr != 0 || dg != 0) || dr*dr+dg*dg > 170*170 {
			t.Fatalf("pixel %d is drawn %d and %d off", i, dr, dg)
		}
	}
	few := newCanvas(20, 20)
	for i := range 400 {
		few.set(i%20, i/20, [3]uint8{uint8(i % 7 * 10), 50, 255})
	}
	if img := few.paletted(&pngShelf{}); len(img.Palette) != 7 || img.Palette[0] != (color.RGBA{0, 50, 255, 255}) {
		t.Errorf("%v", img.Palette)
	}
}
