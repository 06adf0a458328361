package unit

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// TestFracReadsBack: a share that was read is written so that it reads back
// exactly. Constructed, seeded.
func TestFracReadsBack(t *testing.T) {
	const seed = 5
	t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
		rng := rand.New(rand.NewPCG(seed, 1))
		for range 20000 {
			text := fmt.Sprintf("%.*f %%", rng.IntN(15), rng.Float64()*[]float64{100, 1, 0.01}[rng.IntN(3)])
			var q, again Frac
			if err := q.UnmarshalText([]byte(text)); err != nil {
				t.Fatal(err)
			}
			if err := again.UnmarshalText([]byte(q.String())); err != nil || again != q {
				t.Fatalf("%s is written as %s: %v", text, q, err)
			}
		}
	})
	for q, want := range map[Frac]string{0.57: "57 %", 0.07: "7 %", 0.95: "95 %", 0: "0 %", 1: "100 %", 0.125: "12.5 %"} {
		if q.String() != want {
			t.Errorf("got %s, want %s", q, want)
		}
	}
}
