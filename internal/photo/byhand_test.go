package photo

import (
	"bytes"
	"compress/zlib"
	"image/color"
	"math"
)

// zipped is the body of an iCCP chunk (ISO/IEC 15948, 11.3.3.3).
func zipped(icc []byte) []byte {
	var b bytes.Buffer
	b.WriteString("p\x00\x00")
	z := zlib.NewWriter(&b)
	_, _ = z.Write(icc)
	_ = z.Close()
	return b.Bytes()
}

// p3ByHand is a colour of Display P3 in sRGB by the primaries themselves: P3's (0.680, 0.320), (0.265, 0.690), (0.150,
// 0.060), sRGB's (0.640, 0.330), (0.300, 0.600), (0.150, 0.060), both with white (0.3127, 0.3290), the same curve. No
// profile and no D50 is in it.
func p3ByHand(r, g, b float64) color.RGBA {
	line := func(v float64) float64 {
		if v /= 255; v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	back := func(v float64) uint8 {
		v = max(0, min(v, 1))
		if v <= 0.0031308 {
			return uint8(v*12.92*255 + 0.5)
		}
		return uint8((1.055*math.Pow(v, 1/2.4)-0.055)*255 + 0.5)
	}
	xyz := primaries([3][2]float64{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}})
	to := primaries([3][2]float64{{0.640, 0.330}, {0.300, 0.600}, {0.150, 0.060}})
	light := [3]float64{line(r), line(g), line(b)}
	var at [3]float64
	for i := range 3 {
		for c := range 3 {
			at[i] += xyz[i][c] * light[c]
		}
	}
	out := solved(to, at)
	return color.RGBA{back(out[0]), back(out[1]), back(out[2]), 255}
}

// primaries is the matrix from light to XYZ.
func primaries(xy [3][2]float64) (m [3][3]float64) {
	for c, p := range xy {
		m[0][c], m[1][c], m[2][c] = p[0]/p[1], 1, (1-p[0]-p[1])/p[1]
	}
	white := solved(m, [3]float64{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290})
	for i := range 3 {
		for c := range 3 {
			m[i][c] *= white[c]
		}
	}
	return m
}

// solved is x of m x = b, by Cramer's rule.
func solved(m [3][3]float64, b [3]float64) (x [3]float64) {
	det := func(m [3][3]float64) float64 {
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}
	all := det(m)
	for c := range 3 {
		n := m
		for i := range 3 {
			n[i][c] = b[i]
		}
		x[c] = det(n) / all
	}
	return x
}
