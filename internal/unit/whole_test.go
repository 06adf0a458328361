package unit

import (
	"encoding"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// Go specification, conversions between numeric types: what does not fit is another number
// on another machine. The nearest that is exact in a float stands for it.
func TestWhole(t *testing.T) {
	for v, want := range map[float64]int64{0: 0, -2.9: -2, 2.9: 2, 1e300: 1 << 53, -1e300: -1 << 53, 1 << 53: 1 << 53, 9e15: 9e15, math.Inf(1): 1 << 53, math.Inf(-1): -1 << 53} {
		if got := Whole(v); got != want {
			t.Errorf("%g: %d, want %d", v, got, want)
		}
	}
	if Whole(math.NaN()) != 1<<53 {
		t.Error("what is no number is as much as there is")
	}
	if got := Minor(1e12).Times(1e15, 1); got != math.MaxInt64 {
		t.Errorf("%d is not the most", got)
	}
	if got := Minor(-1e12).Times(1e15, 1); got != -math.MaxInt64 {
		t.Errorf("%d is not the most", got)
	}
}

// What is read of any quantity is so small that thousandths of it are exact whole numbers, and a
// refusal says what is wrong and what is taken.
func held(t *testing.T, text string) {
	t.Helper()
	var (
		mm   MM
		min  Minutes
		kg   Kilogram
		nm   NewtonMetre
		rad  Rad
		c    Celsius
		k    Kelvin
		ppm  PerKelvin
		frac Frac
		some Amount
		eur  Money
	)
	for what, x := range map[string]struct {
		into  encoding.TextUnmarshaler
		value func() float64
	}{
		"length": {&mm, func() float64 { return float64(mm) }}, "time": {&min, func() float64 { return float64(min) }},
		"mass": {&kg, func() float64 { return float64(kg) }}, "torque": {&nm, func() float64 { return float64(nm) }},
		"angle": {&rad, func() float64 { return float64(rad) }}, "temperature": {&c, func() float64 { return float64(c) }},
		"difference": {&k, func() float64 { return float64(k) }}, "growth": {&ppm, func() float64 { return float64(ppm) }},
		"share": {&frac, func() float64 { return float64(frac) }}, "amount": {&some, func() float64 { return some.Value }},
		"money": {&eur, func() float64 { return float64(eur.Minor) }},
	} {
		err := x.into.UnmarshalText([]byte(text))
		if v := x.value(); err == nil && !(math.Abs(v*1000) <= 1<<53) {
			t.Errorf("%s: %q is read as %g", what, text, v)
		} else if err != nil && v != 0 {
			t.Errorf("%s: %q is refused, and %g is read all the same", what, text, v)
		} else if err != nil && strings.Contains(err.Error(), "out of range") && !strings.Contains(err.Error(), "at most") {
			t.Errorf("%s: %q: %v does not say what would be right", what, text, err)
		}
	}
}

var unitNames = []string{"mm", "cm", "m", "in", "min", "h", "d", "kg", "g", "Nm", "deg", "°", "rad", "C", "K", "ppm/K", "%", "ml", "EUR", ""}

func TestNoQuantityIsTooLargeSeeds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1616))
	for range 2000 {
		n := strconv.FormatFloat(math.Pow(10, 330*rng.Float64()-10), []byte{'f', 'e', 'g'}[rng.IntN(3)], -1, 64)
		if rng.IntN(2) == 0 {
			n = "-" + n
		}
		held(t, n+" "+unitNames[rng.IntN(len(unitNames))])
	}
	for text, into := range map[string]encoding.TextUnmarshaler{"1e300 d": new(Minutes), "36526 d": new(Minutes), "1000001 m": new(MM), "1e9 ml": new(Amount), "12345678901.00 EUR": new(Money), "1000001 %": new(Frac)} {
		if err := into.UnmarshalText([]byte(text)); (err == nil) != (text == "1e9 ml") {
			t.Errorf("%s: %v", text, err)
		}
	}
}

func FuzzQuantity(f *testing.F) {
	for _, u := range unitNames {
		f.Add("12.5 " + u)
		f.Add("1e308 " + u)
	}
	f.Fuzz(held)
}
