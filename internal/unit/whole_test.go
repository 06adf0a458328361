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

// What is refused says what would be right in the first unit of its kind, and a limit is
// taken itself whatever unit it is written in: 1e6 degrees are 17453.29 rad.
func TestRefusalsNameTheUnit(t *testing.T) {
	for _, c := range []struct {
		into       encoding.TextUnmarshaler
		text, says string
	}{
		{new(MM), "24", `"24 mm"`}, {new(MM), "x", `"12 mm"`}, {new(MM), "1e9 mm", ""}, {new(MM), "1e6 m", ""}, {new(MM), "1000000.001 m", "at most 1000000000 mm"}, {new(MM), "5 ft", "mm, cm, m, in"},
		{new(Minutes), "3", `"3 min"`}, {new(Minutes), "36525 d", ""}, {new(Minutes), "36526 d", "at most 52596000 min"},
		{new(Rad), "90", `"90 deg"`}, {new(Rad), "1e6 deg", ""}, {new(Rad), "1000001 deg", "at most 1000000 deg"}, {new(Rad), "17453 rad", ""}, {new(Rad), "17454 rad", "at most 1000000 deg"},
		{new(Kilogram), "1e9 g", ""}, {new(Kilogram), "1000000001 g", "at most 1000000 kg"}, {new(Frac), "15", `"15 %"`}, {new(Amount), "1e5", `"100000 ml"`}, {new(Amount), "15", `"15 ml"`}, {new(Amount), "1000000001 ml", "at most 1000000000 ml"},
		{new(MM), strings.Repeat("x", 40), `"` + strings.Repeat("x", 40) + `"`}, {new(MM), strings.Repeat("ä", 41), `"` + strings.Repeat("ä", 37) + `..."`},
	} {
		err := c.into.UnmarshalText([]byte(c.text))
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%T %q: %v, want %q", c.into, c.text, err, c.says)
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
