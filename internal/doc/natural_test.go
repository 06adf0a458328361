package doc

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func TestNatural(t *testing.T) {
	// Constructed: the order a person would write down.
	want := []string{"", "A-NOSE", "F", "F-1", "F0", "F00", "F01", "F1", "F2", "F2b", "F2b3", "F2b20", "F10", "F18446744073709551616", "FA", "FA1", "G-F2", "G-F10", "f1"}
	got := slices.Clone(want)
	rand.New(rand.NewPCG(5, 0)).Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
	slices.SortFunc(got, Natural)
	if !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
}

// The order is total whatever the texts are: seed 6.
func TestNaturalIsAnOrderSeed6(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 0))
	text := func() string {
		b := make([]byte, rng.IntN(5))
		for i := range b {
			b[i] = "0129aF-"[rng.IntN(7)]
		}
		return string(b)
	}
	for range 20_000 {
		a, b, c := text(), text(), text()
		switch {
		case Natural(a, b) != -Natural(b, a), (Natural(a, b) == 0) != (a == b):
			t.Fatalf("%q and %q", a, b)
		case Natural(a, b) <= 0 && Natural(b, c) <= 0 && Natural(a, c) > 0:
			t.Fatalf("%q, %q, %q", a, b, c)
		}
	}
}
