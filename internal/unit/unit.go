// Package unit owns the quantities that cross package borders: lengths in
// millimetres, temperatures, torques, minutes, fractions, masses, money in
// integer minor units, dates, and "unknown".
//
// A quantity is written by people with its unit ("24 mm", "1.5 h", "310.00
// EUR"): UnmarshalText reads that form and refuses a bare number, because a
// missing unit is the commonest and most expensive slip in this trade. String
// gives the same form back without loss. In results (JSON) a quantity is a
// plain number and the unit is the suffix of its name.
//
// The package refuses to multiply or divide two quantities; a root test finds
// such code elsewhere.
package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"fettle/internal/elem"
)

// MM is a length in millimetres.
type MM float64

// Rad is an angle in radians; people read and write degrees.
type Rad float64

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is a difference of temperatures in kelvins.
type Kelvin float64

// PerKelvin is a linear expansion in parts per million for each kelvin.
type PerKelvin float64

// NewtonMetre is a torque in newton metres.
type NewtonMetre float64

// Minutes is a duration in minutes: working or elapsed, as the field says.
type Minutes float64

// Kilogram is a mass in kilograms.
type Kilogram float64

// SquareMetre is an area in square metres.
type SquareMetre float64

// Micrometre is the thickness of a coat in micrometres.
type Micrometre float64

// Frac is a share from 0 to 1; people read and write percent.
type Frac float64

// Amount is a quantity of a material in that material's own unit.
type Amount struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// Maybe is a value that may be unknown. The zero value is unknown.
type Maybe[T any] struct {
	Value T    `json:"value"`
	Known bool `json:"known"`
}

// Some is a known value.
func Some[T any](v T) Maybe[T] { return Maybe[T]{Value: v, Known: true} }

var (
	lengthUnits = []scale{{"mm", 1}, {"cm", 10}, {"m", 1000}, {"in", 25.4}}
	minuteUnits = []scale{{"min", 1}, {"h", 60}, {"d", 1440}}
	massUnits   = []scale{{"kg", 1}, {"g", 0.001}}
	areaUnits   = []scale{{"m2", 1}, {"m²", 1}, {"dm2", 0.01}, {"cm2", 0.0001}}
	filmUnits   = []scale{{"um", 1}, {"µm", 1}}
	torqueUnits = []scale{{"Nm", 1}}
	angleUnits  = []scale{{"deg", math.Pi / 180}, {"°", math.Pi / 180}, {"rad", 1}}
	tempUnits   = []scale{{"C", 1}, {"°C", 1}}
	kelvinUnits = []scale{{"K", 1}}
	growthUnits = []scale{{"ppm/K", 1}}
	fracUnits   = []scale{{"%", 1}}
)

type scale struct {
	name   string
	factor float64
}

// UnmarshalText reads a length such as "24 mm", "2.4 cm" or "1 in".
func (q *MM) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, lengthUnits, mostLength)
}

// UnmarshalText reads a duration such as "45 min", "1.5 h" or "2 d".
func (q *Minutes) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, minuteUnits, mostTime)
}

// UnmarshalText reads a mass such as "3.2 kg" or "450 g".
func (q *Kilogram) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, massUnits, mostOther)
}

// UnmarshalText reads an area such as "0.62 m2" or "180 cm2".
func (q *SquareMetre) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, areaUnits, mostOther)
}

// UnmarshalText reads the thickness of a coat such as "45 um".
func (q *Micrometre) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, filmUnits, mostOther)
}

// UnmarshalText reads a torque such as "28 Nm".
func (q *NewtonMetre) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, torqueUnits, mostOther)
}

// UnmarshalText reads an angle such as "12 deg".
func (q *Rad) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, angleUnits, mostOther)
}

// UnmarshalText reads a temperature such as "21 C".
func (q *Celsius) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, tempUnits, mostOther)
}

// UnmarshalText reads a difference of temperatures such as "0.5 K".
func (q *Kelvin) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, kelvinUnits, mostOther)
}

// UnmarshalText reads a linear expansion such as "22.8 ppm/K".
func (q *PerKelvin) UnmarshalText(b []byte) error {
	return parseInto((*float64)(q), b, growthUnits, mostOther)
}

// UnmarshalText reads a share such as "15 %".
func (q *Frac) UnmarshalText(b []byte) error {
	var percent float64
	if err := parseInto(&percent, b, fracUnits, mostOther); err != nil {
		return err
	}
	*q = Frac(percent / 100)
	return nil
}

func (q MM) String() string          { return plain(float64(q)) + " mm" }
func (q Minutes) String() string     { return plain(float64(q)) + " min" }
func (q Kilogram) String() string    { return plain(float64(q)) + " kg" }
func (q SquareMetre) String() string { return plain(float64(q)) + " m2" }
func (q Micrometre) String() string  { return plain(float64(q)) + " um" }
func (q NewtonMetre) String() string { return plain(float64(q)) + " Nm" }
func (q Rad) String() string         { return plain(float64(q)) + " rad" }
func (q Celsius) String() string     { return plain(float64(q)) + " C" }
func (q Kelvin) String() string      { return plain(float64(q)) + " K" }
func (q PerKelvin) String() string   { return plain(float64(q)) + " ppm/K" }
func (a Amount) String() string      { return plain(a.Value) + " " + a.Unit }

// Short is a length with three figures, for what is measured over many sizes: a gap
// of 0.00001 mm as well as one of 3.25 mm.
func (q MM) Short() string { return MM(read(float64(q), 'g', 3)).String() }

// ShortUp is Short rounded up, for what has to hold something of that size.
func (q MM) ShortUp() string {
	v := float64(q)
	if !(v > 0) || math.IsInf(v, 1) {
		return q.Short()
	}
	step := math.Pow10(elem.Decade(v) - 2)
	return MM(math.Ceil(v*(1-1e-9)/step) * step).Short()
}

// Words is the duration for people: "45 min", "17 h", "3 h 20 min", "8 d". Days
// are used for whole days only.
func (q Minutes) Words() string {
	if !(math.Abs(float64(q)) <= mostMinutes) {
		return fmt.Sprintf("%g min", float64(q))
	}
	m := int64(math.Round(float64(q)))
	switch {
	case m < 0:
		return "-" + (-q).Words()
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%1440 == 0:
		return fmt.Sprintf("%d d", m/1440)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// Hours is working time for people: "45 min", "7 h 51 min"; never days, since a day of work
// has fewer than 24 hours.
func (q Minutes) Hours() string {
	m := math.Round(float64(q)*1000) / 1000
	h := math.Floor(m / 60)
	rest := math.Round((m-float64(60*h))*1000) / 1000
	switch {
	case h < 1:
		return plain(m) + " min"
	case rest == 0:
		return plain(h) + " h"
	}
	return plain(h) + " h " + plain(rest) + " min"
}

// String writes percent: of the numbers that read back to the same share, the
// one with few digits.
func (q Frac) String() string {
	v := float64(float64(q) * 100)
	for _, percent := range []float64{math.Round(v*1e9) / 1e9, v, math.Nextafter(v, 0), math.Nextafter(v, v+v)} {
		if percent/100 == float64(q) {
			return plain(percent) + " %"
		}
	}
	return plain(v) + " %"
}

// UnmarshalText reads an amount of a material such as "195 ml" or "4 piece".
func (a *Amount) UnmarshalText(b []byte) error {
	n, u, err := split(string(b))
	if err != nil {
		return fmt.Errorf("%w; write for example %q", err, "12 ml")
	}
	switch first, _ := utf8.DecodeRuneInString(u); {
	case u == "":
		return fmt.Errorf("the unit is missing in %q; write for example %q", string(b), plain(n)+" ml")
	case !unicode.IsLetter(first) && !strings.ContainsRune("%‰°", first):
		return fmt.Errorf("%q is not a number with a unit; write for example %q", short(string(b)), "12.5 ml")
	}
	if err := within(n, mostAmount, string(b), u); err != nil {
		return err
	}
	*a = Amount{Value: n, Unit: u}
	return nil
}

// parseInto reads a number with one of the units, up to so many of the first of them.
func parseInto(dst *float64, b []byte, units []scale, most float64) error {
	n, u, err := split(string(b))
	if err != nil {
		return fmt.Errorf("%w; write for example %q", err, "12 "+units[0].name)
	}
	if u == "" {
		return fmt.Errorf("the unit is missing in %q; write %q", string(b), plain(n)+" "+units[0].name)
	}
	for _, s := range units {
		if s.name == u {
			if err := within(n*s.factor/units[0].factor, most, string(b), units[0].name); err != nil {
				return err
			}
			*dst = n * s.factor
			return nil
		}
	}
	names := make([]string, len(units))
	for i, s := range units {
		names[i] = s.name
	}
	return fmt.Errorf("unit %q is not one of %s; write for example %q", u, strings.Join(names, ", "), "12 "+units[0].name)
}

// split separates the number from the unit; it refuses NaN, infinities and
// anything that is not a plain decimal number.
func split(s string) (float64, string, error) {
	s = strings.TrimSpace(s)
	end := 0
	for end < len(s) && strings.IndexByte("+-.0123456789eE", s[end]) >= 0 {
		if (s[end] == 'e' || s[end] == 'E') && (end+1 >= len(s) || strings.IndexByte("+-0123456789", s[end+1]) < 0) {
			break
		}
		end++
	}
	num, rest := s[:end], strings.TrimSpace(s[end:])
	v, err := strconv.ParseFloat(num, 64)
	if err != nil { // also beyond the largest number; NaN and Inf have no such letters
		return 0, "", fmt.Errorf("%q is not a number with a unit", short(s))
	}
	return v, rest, nil
}

// plain prints a float with the fewest digits that read back the same.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
