package elem

import (
	"math"
	"math/bits"
)

// The coefficients of the sine and of the cosine in z^2, behind the first terms.
var (
	sinCoefs = []float64{
		1.58962301576546568060e-10,
		-2.50507477628578072866e-8,
		2.75573136213857245213e-6,
		-1.98412698295895385996e-4,
		8.33333333332211858878e-3,
		-1.66666666666666307295e-1,
	}
	cosCoefs = []float64{
		-1.13585365213876817300e-11,
		2.08757008419747316778e-9,
		-2.75573141792967388112e-7,
		2.48015872888517045348e-5,
		-1.38888888888730564116e-3,
		4.16666666666665929218e-2,
	}
)

// sinNear and cosNear hold for |z| up to a quarter of pi.
func sinNear(z float64) float64 {
	zz := float64(z * z)
	return z + float64(float64(z*zz)*horner(zz, sinCoefs))
}

func cosNear(z float64) float64 {
	zz := float64(z * z)
	return 1 - 0.5*zz + float64(float64(zz*zz)*horner(zz, cosCoefs))
}

// Sin is the sine of an angle in radians.
func Sin(x float64) float64 {
	j, z, ok := octant(math.Abs(x))
	if !ok {
		return math.NaN()
	}
	y := 0.0
	if j&3 == 2 {
		y = cosNear(z)
	} else {
		y = sinNear(z)
	}
	if math.Signbit(x) != (j > 3) {
		return -y
	}
	return y
}

// Cos is the cosine of an angle in radians.
func Cos(x float64) float64 {
	j, z, ok := octant(math.Abs(x))
	if !ok {
		return math.NaN()
	}
	y := 0.0
	if j&3 == 2 {
		y = sinNear(z)
	} else {
		y = cosNear(z)
	}
	if j == 2 || j == 4 {
		return -y
	}
	return y
}

// Sincos is both.
func Sincos(x float64) (sin, cos float64) {
	j, z, ok := octant(math.Abs(x))
	if !ok {
		return math.NaN(), math.NaN()
	}
	sin, cos = sinNear(z), cosNear(z)
	if j&3 == 2 {
		sin, cos = cos, sin
	}
	if math.Signbit(x) != (j > 3) {
		sin = -sin
	}
	if j == 2 || j == 4 {
		cos = -cos
	}
	return sin, cos
}

// octant is x = j pi/4 + z with an even j, below 8 after whole turns, and |z| up to
// pi/4; false for what is infinite or no number.
func octant(x float64) (j uint64, z float64, ok bool) {
	const (
		a = 7.85398125648498535156e-1 // pi/4 in three parts
		b = 3.77489470793079817668e-8
		c = 2.69515142907905952645e-15
	)
	switch {
	case !(x <= math.MaxFloat64):
		return 0, 0, false
	case x >= farAngle:
		j, z = octantFar(x)
		return j, z, true
	}
	j = uint64(float64(x * (4 / math.Pi)))
	j += j & 1
	y := float64(j)
	z = ((x - float64(y*a)) - float64(y*b)) - float64(y*c)
	return j & 7, z, true
}

// farAngle is where the three parts of pi/4 give out.
const farAngle = 1 << 29

// octantFar is octant for what is beyond: x times the binary digits of 4/pi that
// matter (Payne and Hanek; Ng and others 1992).
func octantFar(x float64) (j uint64, z float64) {
	const shift, mask, bias = 52, 0x7FF, 1023
	whole := math.Float64bits(x)
	exp := int(whole>>shift&mask) - bias - shift
	whole &^= mask << shift
	whole |= 1 << shift
	digit, bit := uint(exp+61)/64, uint(exp+61)%64
	z0 := fourOverPi[digit]<<bit | fourOverPi[digit+1]>>(64-bit)
	z1 := fourOverPi[digit+1]<<bit | fourOverPi[digit+2]>>(64-bit)
	z2 := fourOverPi[digit+2]<<bit | fourOverPi[digit+3]>>(64-bit)
	z2hi, _ := bits.Mul64(z2, whole)
	z1hi, z1lo := bits.Mul64(z1, whole)
	lo, carry := bits.Add64(z1lo, z2hi, 0)
	hi, _ := bits.Add64(z0*whole, z1hi, carry)
	j = hi >> 61
	hi = hi<<3 | lo>>61
	zeros := uint(bits.LeadingZeros64(hi))
	e := uint64(bias - (zeros + 1))
	hi = hi<<(zeros+1) | lo>>(64-(zeros+1))
	hi >>= 64 - shift
	z = math.Float64frombits(hi | e<<shift)
	if j&1 == 1 {
		j = (j + 1) & 7
		z--
	}
	return j, float64(z * (math.Pi / 4))
}

// fourOverPi are the binary digits of 4/pi, 64 in each.
var fourOverPi = [...]uint64{
	0x0000000000000001, 0x45f306dc9c882a53, 0xf84eafa3ea69bb81, 0xb6c52b3278872083,
	0xfca2c757bd778ac3, 0x6e48dc74849ba5c0, 0x0c925dd413a32439, 0xfc3bd63962534e7d,
	0xd1046bea5d768909, 0xd338e04d68befc82, 0x7323ac7306a673e9, 0x3908bf177bf25076,
	0x3ff12fffbc0b301f, 0xde5e2316b414da3e, 0xda6cfd9e4f96136e, 0x9e8c7ecd3cbfd45a,
	0xea4f758fd7cbe2f6, 0x7a0e73ef14a525d4, 0xd7f6bf623f1aba10, 0xac06608df8f6d757,
}

// The numerator and the denominator of (atan(x) - x) / x^3 in x^2.
var (
	atanOver = []float64{
		-8.750608600031904122785e-01,
		-1.615753718733365076637e+01,
		-7.500855792314704667340e+01,
		-1.228866684490136173410e+02,
		-6.485021904942025371773e+01,
	}
	atanUnder = []float64{
		1,
		2.485846490142306297962e+01,
		1.650270098316988542046e+02,
		4.328810604912902668951e+02,
		4.853903996359136964868e+02,
		1.945506571482613964425e+02,
	}
)

// atanNear holds for x from 0 to 0.66.
func atanNear(x float64) float64 {
	z := float64(x * x)
	z = float64(z*horner(z, atanOver)) / horner(z, atanUnder)
	return float64(x*z) + x
}

// atan is the angle whose tangent is x, x not below 0.
func atan(x float64) float64 {
	const (
		more     = 6.123233995736765886130e-17 // of pi/2, beyond the double
		tan3Pi8  = 2.41421356237309504880
		nearMost = 0.66
	)
	switch {
	case x <= nearMost:
		return atanNear(x)
	case x > tan3Pi8:
		return math.Pi/2 - atanNear(1/x) + more
	}
	return math.Pi/4 + atanNear((x-1)/(x+1)) + 0.5*more
}

// Atan2 is the angle of the direction (x, y), from -pi to pi.
func Atan2(y, x float64) float64 {
	switch {
	case x == 0 && y == 0:
		x = math.Copysign(1, x)
	case math.IsInf(x, 0) && math.IsInf(y, 0):
		x, y = math.Copysign(1, x), math.Copysign(1, y)
	}
	a := atan(math.Abs(y / x))
	if math.Signbit(x) {
		a = math.Pi - a
	}
	return math.Copysign(a, y)
}

// Asin is the angle whose sine is x; NaN beyond 1.
func Asin(x float64) float64 {
	s := math.Abs(x)
	if !(s <= 1) {
		return math.NaN()
	}
	c := math.Sqrt(1 - float64(s*s))
	var a float64
	if s > 0.7 {
		a = math.Pi/2 - atan(c/s)
	} else {
		a = atan(s / c)
	}
	return math.Copysign(a, x)
}
