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
