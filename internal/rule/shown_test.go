package rule

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// TestNoValueReadsAsItsLimit: values about the limit of a condition, most of them nearer
// than print shows. What is printed beside the condition, read again, stands on the side of
// the limit on which the value stands, in every unit and with any uncertainty.
func TestNoValueReadsAsItsLimit(t *testing.T) {
	r := rand.New(rand.NewPCG(16, 4))
	for i := range 2000 {
		at := float64(r.IntN(400)) / 4
		op := []string{"<=", "<", ">=", ">"}[r.IntN(4)]
		unitName := []string{"mm", "C"}[i%2]
		c, err := ParseCond("x", Number, unitName, fmt.Sprintf("%s %v %s", op, at, unitName))
		if err != nil {
			t.Fatal(err)
		}
		v := NumberValue(at, float64(r.IntN(3))*r.Float64(), unitName)
		if i%7 > 0 {
			v.Number += (2*r.Float64() - 1) * math.Pow(10, -float64(r.IntN(9)))
		}
		text := c.Shown(v)
		read, err := strconv.ParseFloat(strings.Fields(text)[0], 64)
		if err != nil || cmp.Compare(read, at) != cmp.Compare(v.Number, at) {
			t.Fatalf("%v beside %q reads %s", v.Number, c.Text, text)
		}
		if math.Abs(v.Number-at) > 0.1 && text != v.String() {
			t.Fatalf("%v beside %q is %s and alone %s", v.Number, c.Text, text, v)
		}
	}
}

// A number is printed with twice its standard uncertainty and its unit, whatever the unit: days of a
// date are days, and what is exact has no uncertainty. Twice as in Coverage; 20 000 days after 1 January
// 1970 are 4 October 2024 (date -d).
func TestNumbersWithTheirUncertainty(t *testing.T) {
	for want, v := range map[string]Value{
		"2024-10-04": NumberValue(20000, 0, UnitDate), "2024-10-04 ± 3 days": NumberValue(20000, 1.5, UnitDate), "2024-10-04 ± 0.5 days": NumberValue(20000.2, 0.25, UnitDate),
		"21.5 C": NumberValue(21.5, 0, "C"), "21.5 ± 1 C": NumberValue(21.5, 0.5, "C"), "-3 ± 0.4 C": NumberValue(-3, 0.2, "C"), "7": NumberValue(7, 0, ""), "7 ± 2": NumberValue(7, 1, ""),
		"18 ± 6 months": NumberValue(18, 3, "months"), "24 mm": NumberValue(24, 0, "mm"), "24.0 ± 1.0 mm": NumberValue(24, 0.5, "mm"), "none near": NoneNear("mm"), "unknown": NumberValue(1, -1, "mm"),
	} {
		if got := v.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
