package unit

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestMoneyReadsBack(t *testing.T) {
	for _, c := range []struct {
		text    string
		minor   Minor
		grouped string
	}{
		{"0.00", 0, "0.00"}, {"0.05", 5, "0.05"}, {"-0.05", -5, "-0.05"}, {"310.00", 31000, "310.00"},
		{"999.99", 99999, "999.99"}, {"1000.00", 100000, "1,000.00"}, {"-12345.60", -1234560, "-12,345.60"},
		{"999999.00", 99999900, "999,999.00"}, {"1234567.89", 123456789, "1,234,567.89"},
	} {
		got, err := ParseMinor(c.text)
		if err != nil || got != c.minor || got.Decimal() != c.text || got.Grouped() != c.grouped {
			t.Errorf("%s: %d, %s, %s, %v", c.text, got, got.Decimal(), got.Grouped(), err)
		}
		var m Money
		if err := m.UnmarshalText([]byte(" " + c.text + "  EUR ")); err != nil || m != (Money{c.minor, "EUR"}) || m.String() != c.text+" EUR" {
			t.Errorf("%s EUR: %v, %v", c.text, m, err)
		}
	}
	for text, want := range map[string]Minor{"1250": 125000, "0.5": 50, "7.": 700, "9999999999.99": 999999999999, "-1.07": -107} {
		if got, err := ParseMinor(text); err != nil || got != want {
			t.Errorf("%s: %d, %v", text, got, err)
		}
	}
}

func TestWhatIsNoMoneyIsRefused(t *testing.T) {
	for _, text := range []string{"", "-", ".50", "1.234", "1,250.00", "--1", "1e3", "+1", "1 000", "1.2.3", "12a", "1.x", "9999999999999999999"} {
		if got, err := ParseMinor(text); err == nil || got != 0 {
			t.Errorf("%q is taken as %d", text, got)
		}
	}
	for text, large := range map[string]bool{"12345678901": true, "-12345678901.5": true, "12345678901.00": true, "12345678901.000": false, "1234567890x": false, "1234567890x1": false, "12345678901.0x": false} {
		if _, err := ParseMinor(text); err == nil || strings.Contains(err.Error(), "out of range; at most 10 digits") != large {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, text := range []string{"310.00", "EUR", "310.00 eur", "310.00 EURO", "310.00 EU", "310 00 EUR", "x EUR", "5.00 °C", "5.00 123", "5.00 E1R", ""} {
		m := Money{7, "EUR"}
		if err := m.UnmarshalText([]byte(text)); err == nil || m != (Money{7, "EUR"}) {
			t.Errorf("%q is taken as %v", text, m)
		}
	}
}

// Expected: exact fractions of math/big, rounded half away from zero.
func TestShareOfMoneyIsRoundedOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 5000 {
		m, num, den := Minor(r.Int64N(4_000_000)-2_000_000), r.Int64N(4000)-2000, 1+r.Int64N(1000)
		exact := new(big.Rat).Mul(big.NewRat(int64(m), 1), big.NewRat(num, den))
		off := new(big.Rat).Sub(big.NewRat(int64(m.Times(num, den)), 1), exact)
		half := big.NewRat(1, 2)
		if c := off.Abs(off).Cmp(half); c > 0 {
			t.Fatalf("%d times %d/%d is %d", m, num, den, m.Times(num, den))
		}
		if got := int64(m.Times(num, den)); off.Cmp(half) == 0 && new(big.Rat).Abs(big.NewRat(got, 1)).Cmp(new(big.Rat).Abs(exact)) < 0 {
			t.Fatalf("%d times %d/%d is rounded towards zero: %d", m, num, den, got)
		}
	}
	for _, c := range []struct {
		m        Minor
		num, den int64
		want     Minor
	}{
		{5, 1, 2, 3}, {-5, 1, 2, -3}, {5, -1, 2, -3}, {-5, -1, 2, 3}, {1, 1, 3, 0}, {2, 1, 3, 1}, {0, 7, 3, 0},
		{math.MaxInt64, 2, 1, math.MaxInt64}, {math.MaxInt64, -2, 1, -math.MaxInt64}, {math.MaxInt64, 1, 1, math.MaxInt64},
	} {
		if got := c.m.Times(c.num, c.den); got != c.want {
			t.Errorf("%d times %d/%d is %d, want %d", c.m, c.num, c.den, got, c.want)
		}
	}
}
