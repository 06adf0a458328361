package unit

import (
	"fmt"
	"math"
	"math/big"
	"strings"
)

// Minor is an amount of money in integer minor units (cents) of a currency
// that the document around it names once. Money is never a float.
type Minor int64

// Money is an amount with its currency, as people write it: "310.00 EUR".
type Money struct {
	Minor    Minor  `json:"minor"`
	Currency string `json:"currency"`
}

// UnmarshalText reads "310.00 EUR" or "1250 EUR"; a currency with two minor
// digits is assumed for all, which ISO 4217 grants most (from memory).
func (m *Money) UnmarshalText(b []byte) error {
	s := strings.TrimSpace(string(b))
	f := strings.Fields(s)
	if len(f) != 2 || len(f[1]) != 3 || strings.Trim(f[1], capitals) != "" {
		return fmt.Errorf("%q is not an amount of money; write for example %q", s, "310.00 EUR")
	}
	v, err := ParseMinor(f[0])
	if err != nil {
		return err
	}
	*m = Money{Minor: v, Currency: f[1]}
	return nil
}

// capitals are the letters of the codes of currencies (ISO 4217).
const capitals = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

func (m Money) String() string { return m.Minor.Decimal() + " " + m.Currency }

// ParseMinor reads a decimal amount with at most two digits after the point.
func ParseMinor(s string) (Minor, error) {
	neg := strings.HasPrefix(s, "-")
	whole, cents, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	if digits(whole) && digits(cents) && len(whole) > mostDigits && len(cents) <= 2 {
		return 0, fmt.Errorf("%q is out of range; at most %d digits before the point are taken", short(s), mostDigits)
	}
	if whole == "" || len(cents) > 2 || !digits(whole) || !digits(cents) {
		return 0, fmt.Errorf("%q is not an amount with at most two decimals; write for example %q", s, "310.00")
	}
	for len(cents) < 2 {
		cents += "0"
	}
	var v int64
	for _, c := range whole + cents {
		v = v*10 + int64(c-'0')
	}
	if neg {
		v = -v
	}
	return Minor(v), nil
}

func digits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// Decimal prints the amount as "1250.00", the form that reads back.
func (m Minor) Decimal() string {
	sign, v := "", int64(m)
	if v < 0 {
		sign, v = "-", -v
	}
	return fmt.Sprintf("%s%d.%02d", sign, v/100, v%100)
}

// Grouped prints the amount for people: "12,345.00".
func (m Minor) Grouped() string {
	s := m.Decimal()
	sign := ""
	if s[0] == '-' {
		sign, s = "-", s[1:]
	}
	whole, cents := s[:len(s)-3], s[len(s)-3:]
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	return sign + whole + cents
}

// Times is the amount times num/den, rounded half away from zero. It is exact
// before the one rounding; den must be positive. What is no amount any more is the most
// that there is.
func (m Minor) Times(num, den int64) Minor {
	n := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(num))
	d := big.NewInt(den)
	neg := n.Sign() == -1
	n.Abs(n)
	n.Lsh(n, 1).Add(n, d)
	n.Quo(n, new(big.Int).Lsh(d, 1))
	v := int64(math.MaxInt64)
	if n.IsInt64() {
		v = n.Int64()
	}
	if neg {
		v = -v
	}
	return Minor(v)
}
