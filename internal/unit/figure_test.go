package unit

import (
	"cmp"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

func TestPercentIsNeverSure(t *testing.T) {
	for p, want := range map[float64]string{0: "under 0.1 %", 0.0004999: "under 0.1 %", 0.0005: "0.1 %", 0.5: "50.0 %", 0.9994: "99.9 %", 0.9995: "over 99.9 %", 1: "over 99.9 %", math.Inf(1): "over 99.9 %"} {
		if got := Percent(p); got != want {
			t.Errorf("Percent(%v) is %q and should be %q", p, got, want)
		}
	}
	if got := Percent(math.NaN()); got != "unknown" {
		t.Errorf("no number is %q", got)
	}
	for i := range 4000 {
		if got := Percent(float64(i) / 4000); got == "0.0 %" || got == "100.0 %" {
			t.Errorf("%d of 4000 is %q", i, got)
		}
	}
}

func TestSpreadEndsAtOneDecimal(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{{13.04, 1.41, "13.0 ± 1.4"}, {32, 1.34, "32.0 ± 1.3"}, {-0.04, 0.3, "0.0 ± 0.3"}, {21.04, 0.04, "21.04 ± 0.04"}, {21, 0.004, "21.000 ± 0.004"}, {21, 0, "21.0 ± 0.0"}, {5, 1e-12, "5.000000 ± 0.000000"}} {
		if got := Spread(c.v, c.u); got != c.want {
			t.Errorf("%v and %v are %q and should be %q", c.v, c.u, got, c.want)
		}
	}
}

// TestNoWholeNumberIsNoCrash: what fits no whole number is worded as it is.
func TestNoWholeNumberIsNoCrash(t *testing.T) {
	for v, want := range map[float64]string{1e300: "1e+300 min", -1e300: "-1e+300 min", math.Inf(1): "+Inf min", 1 << 63: "9.223372036854776e+18 min", 60: "1 h"} {
		if got := Minutes(v).Words(); got != want {
			t.Errorf("%v minutes are %q and should be %q", v, got, want)
		}
	}
	for v, want := range map[float64]string{1e300: "x piece", 1 << 63: "x piece", math.NaN(): "x piece", 3: "3 pieces", 2.5: "x piece"} {
		if got := Pieces("x", v, "piece"); got != want {
			t.Errorf("%v pieces are %q and should be %q", v, got, want)
		}
	}
}

// TestNoFigureReadsAsItsLimit draws figures about limits as procedures give them, most of
// them nearer than a tenth: what is printed beside the limit, read again, compares with it
// as the figure does, and the figure is never longer than it has to be.
func TestNoFigureReadsAsItsLimit(t *testing.T) {
	r := rand.New(rand.NewPCG(16, 3))
	near := 0
	for range 4000 {
		limit := math.Round(r.Float64()*2000-200) / []float64{1, 2, 10, 100}[r.IntN(4)]
		v := limit
		switch r.IntN(4) {
		case 0:
			v = math.Nextafter(limit, math.Inf(1-2*r.IntN(2)))
		case 1, 2:
			v += (2*r.Float64() - 1) * math.Pow(10, -float64(r.IntN(9)))
		}
		u := math.Abs(v) * r.Float64() / 10
		for of, text := range map[string]string{"FixedBeside": FixedBeside(v, 1, limit), "two limits": FixedBeside(v, 1, limit+10, limit), "SpreadBeside": SpreadBeside(v, u, limit)} {
			figure, _, _ := strings.Cut(text, " ± ")
			read, err := strconv.ParseFloat(figure, 64)
			if err != nil || cmp.Compare(read, limit) != cmp.Compare(v, limit) {
				t.Fatalf("%s: %v beside %v is printed %s", of, v, limit, text)
			}
		}
		x, y := Pair(v, limit, 1)
		a, _ := strconv.ParseFloat(x, 64)
		b, _ := strconv.ParseFloat(y, 64)
		if cmp.Compare(a, b) != cmp.Compare(v, limit) {
			t.Fatalf("%v and %v are printed %s and %s", v, limit, x, y)
		}
		if Fixed(v, 1) == Fixed(limit, 1) && v != limit {
			near++
		}
		if math.Abs(v-limit) > 0.1 && FixedBeside(v, 1, limit) != Fixed(v, 1) {
			t.Fatalf("%v beside %v is printed %s", v, limit, FixedBeside(v, 1, limit))
		}
	}
	if near < 1000 {
		t.Errorf("only %d figures would read as their limit in tenths", near)
	}
	for v, want := range map[float64]int{1e-17: 17, 1e-18: mostApart, 1e-30: mostApart, 0: 1, 0.04: 2, 0.06: 1, -0.004: 3} {
		if got := Apart(v, 1, 0); got != want { // of what is not 0, the first decimal that does not read as 0
			t.Errorf("%g needs %d decimals beside 0, want %d", v, got, want)
		}
	}
	for _, c := range []struct {
		p, limit float64
		want     string
	}{{0.9496, 0.95, "94.96 %"}, {0.95004, 0.95, "95.004 %"}, {0.95, 0.95, "95.0 %"}, {0.7, 0.95, "70.0 %"}, {1, 0.95, "over 99.9 %"}, {math.NaN(), 0.95, "unknown"}} {
		if got := PercentBeside(c.p, c.limit); got != c.want {
			t.Errorf("%v beside %v is %q, want %q", c.p, c.limit, got, c.want)
		}
	}
}

// What is no number is printed as it is, and asks for no more decimals.
func TestNoNumberBesideALimit(t *testing.T) {
	for _, c := range [][2]float64{{math.NaN(), 1}, {1, math.NaN()}, {math.Inf(1), 1}, {1, math.Inf(1)}, {math.Inf(-1), math.Inf(-1)}} {
		if n := Apart(c[0], 1, c[1]); n != 1 {
			t.Errorf("%g beside %g has %d decimals", c[0], c[1], n)
		}
		if got := FixedBeside(c[0], 1, c[1]); got != Fixed(c[0], 1) {
			t.Errorf("%g beside %g is %s", c[0], c[1], got)
		}
	}
}
