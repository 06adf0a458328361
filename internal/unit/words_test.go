package unit

import (
	"encoding"
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestDurationsInWords(t *testing.T) {
	for minutes, want := range map[Minutes][2]string{
		0: {"0 min", "0 min"}, 0.25: {"0 min", "0.25 min"}, 0.5: {"1 min", "0.5 min"}, 45: {"45 min", "45 min"}, 59.6: {"1 h", "59.6 min"},
		60: {"1 h", "1 h"}, 61: {"1 h 1 min", "1 h 1 min"}, 200: {"3 h 20 min", "3 h 20 min"}, 1020: {"17 h", "17 h"},
		1439: {"23 h 59 min", "23 h 59 min"}, 1440: {"1 d", "24 h"}, 1441: {"24 h 1 min", "24 h 1 min"}, 1500: {"25 h", "25 h"},
		11520: {"8 d", "192 h"}, 471.125: {"7 h 51 min", "7 h 51.125 min"},
	} {
		if got := [2]string{minutes.Words(), minutes.Hours()}; got != want {
			t.Errorf("%v: %q, want %q", float64(minutes), got, want)
		}
	}
	for minutes, want := range map[Minutes]string{-45: "-45 min", -60: "-1 h", -1440: "-1 d", 1e300: "1e+300 min", 1 << 53: "150119987579016 h 32 min", Minutes(math.Inf(1)): "+Inf min"} {
		if got := minutes.Words(); got != want {
			t.Errorf("%v: %q, want %q", float64(minutes), got, want)
		}
	}
	if got := Minutes(math.NaN()).Words(); got != "NaN min" {
		t.Errorf("no number is %q", got)
	}
}

func TestSignsOfLengths(t *testing.T) {
	for v, want := range map[float64]string{0: "0.0", 0.04: "0.0", -0.04: "0.0", 0.05001: "+0.1", 1: "+1.0", -1: "-1.0", 10: "+10.0", 12.34: "+12.3", -0.06: "-0.1", math.Inf(1): "unknown", math.Inf(-1): "unknown"} {
		if got := Signed(v); got != want {
			t.Errorf("%g: %q, want %q", v, got, want)
		}
	}
}

func TestFixed(t *testing.T) {
	for _, c := range []struct {
		v    float64
		n    int
		want string
	}{
		{-0.04, 1, "0.0"}, {-0.4, 0, "0"}, {0, 2, "0.00"}, {-1, 1, "-1.0"}, {-10, 0, "-10"}, {1.25, -1, "1.25"}, {math.NaN(), 1, "unknown"}, {math.Inf(-1), 1, "unknown"},
	} {
		if got := Fixed(c.v, c.n); got != c.want {
			t.Errorf("%g with %d decimals: %q, want %q", c.v, c.n, got, c.want)
		}
	}
}

// Two figures that differ never read as equal, nor the other way round.
func TestPairShowsWhichIsLarger(t *testing.T) {
	for _, c := range []struct {
		a, b  float64
		n     int
		wantA string
		wantB string
	}{
		{1.24, 1.21, 1, "1.24", "1.21"}, {1.2, 1.2, 1, "1.2", "1.2"}, {1.3, 1.2, 1, "1.3", "1.2"}, {1.2 + 1e-7, 1.2, 1, "1.2000001", "1.2000000"},
		{1, math.Nextafter(1, 2), 0, "1.0000000000000000", "1.0000000000000002"}, {1e-20, 2e-20, 1, "0.00000000000000000001", "0.00000000000000000002"},
		{-1.24, -1.21, 1, "-1.24", "-1.21"}, {math.NaN(), 1, 1, "unknown", "1.0"}, {math.Inf(1), 1, 1, "unknown", "1.0"}, {1, math.NaN(), 1, "1.0", "unknown"},
		{1.5e-17, 2.6e-17, 1, "0.000000000000000015", "0.000000000000000026"}, {1.6e-16, 2.6e-16, 1, "0.0000000000000002", "0.0000000000000003"},
	} {
		if a, b := Pair(c.a, c.b, c.n); a != c.wantA || b != c.wantB {
			t.Errorf("%g and %g: %s and %s, want %s and %s", c.a, c.b, a, b, c.wantA, c.wantB)
		}
	}
}

func TestPercentBesideItsLimit(t *testing.T) {
	for _, c := range []struct {
		p, limit float64
		want     string
	}{
		{0.9496, 0.95, "94.96 %"}, {0.95, 0.95, "95.0 %"}, {0.9504, 0.95, "95.04 %"}, {0.5, 0.95, "50.0 %"}, {0.99999, 0.999, "over 99.9 %"},
		{0.0001, 0.00005, "under 0.1 %"}, {math.NaN(), 0.95, "unknown"},
	} {
		if got := PercentBeside(c.p, c.limit); got != c.want {
			t.Errorf("%g beside %g: %q, want %q", c.p, c.limit, got, c.want)
		}
	}
}

// What a quantity says of itself reads back, and every other unit and form is refused with
// the value left as it was.
func TestQuantitiesReadBack(t *testing.T) {
	type quantity interface {
		encoding.TextUnmarshaler
		fmt.Stringer
	}
	rad, percent := Rad(0), Frac(0)
	for _, c := range []struct {
		of    quantity
		texts map[string]string // as written, as it says
	}{
		{new(MM), map[string]string{"24 mm": "24 mm", "2.4cm": "24 mm", "1 m": "1000 mm", "1 in": "25.4 mm", "-3 mm": "-3 mm", " 1e1 mm ": "10 mm", "1E+1 mm": "10 mm", "100e-1mm": "10 mm", "+5 mm": "5 mm"}},
		{new(Minutes), map[string]string{"45 min": "45 min", "1.5 h": "90 min", "2 d": "2880 min"}},
		{new(Kilogram), map[string]string{"3.2 kg": "3.2 kg", "450 g": "0.45 kg"}},
		{new(NewtonMetre), map[string]string{"28 Nm": "28 Nm"}},
		{new(Celsius), map[string]string{"21 C": "21 C", "-5 °C": "-5 C"}},
		{new(Kelvin), map[string]string{"0.5 K": "0.5 K"}},
		{new(PerKelvin), map[string]string{"22.8 ppm/K": "22.8 ppm/K"}},
		{&rad, map[string]string{"0.5 rad": "0.5 rad", "180 deg": plain(math.Pi) + " rad", "90°": plain(math.Pi/2) + " rad"}},
		{&percent, map[string]string{"15 %": "15 %", "12.5%": "12.5 %"}},
		{new(Amount), map[string]string{"195 ml": "195 ml", "4 piece": "4 piece", "5each": "5 each", "5E": "5 E"}},
	} {
		for text, want := range c.texts {
			if err := c.of.UnmarshalText([]byte(text)); err != nil || c.of.String() != want {
				t.Errorf("%T %q: %v, %v, want %q", c.of, text, c.of, err, want)
			}
			was := c.of.String()
			for _, wrong := range []string{strings.Trim(text, " %°abcdghimnpCEKNkrel/"), "1e999 " + was, "NaN", "", "- mm", "1e", "1e mm", "1e+ mm", "1+-1 mm", "1 furlong/x"} {
				if _, free := c.of.(*Amount); free && strings.HasPrefix(wrong, "1") && wrong != "1e999 "+was {
					continue // a material has a unit of its own
				}
				if err := c.of.UnmarshalText([]byte(wrong)); err == nil || c.of.String() != was {
					t.Errorf("%T takes %q: %v", c.of, wrong, c.of)
				}
			}
		}
	}
	if u := (Maybe[MM]{}); u.Known || !Some(MM(3)).Known || Some(MM(3)).Value != 3 {
		t.Error("what is known and what is not")
	}
}
