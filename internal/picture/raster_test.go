package picture

import (
	"math/rand/v2"
	"testing"
)

// TestRowsOfAFaceSeed3 holds the columns of a row against the edge function in
// every one of them.
func TestRowsOfAFaceSeed3(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 0))
	for range 20000 {
		e, step, wide := r.Int64N(4001)-2000, r.Int64N(401)-200, 1+r.IntN(40)
		first := r.IntN(wide)
		from, past := inside(e, step, first, wide)
		if from < first || past > wide || from > past {
			t.Fatalf("%d %+d: columns %d to %d of %d to %d", e, step, from, past, first, wide)
		}
		for x := first; x < wide; x++ {
			if in := e+int64(x)*step >= 0; in != (x >= from && x < past) {
				t.Fatalf("%d %+d in column %d: inside %v, columns %d to %d", e, step, x, in, from, past)
			}
		}
	}
}
