package job

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// The numbers are published examples of the rule, from memory: seventeen ones,
// whose weighted sum 89 leaves 1; and the worked example with the letters of
// table III whose check digit is X.
func TestCheckDigit(t *testing.T) {
	for vin, want := range map[string]byte{
		"11111111111111111": '1',
		"1M8GDM9AXKP042788": 'X',
		"1M8GDM9A0KP042788": 'X', // position 9 itself does not count
	} {
		if got := CheckDigit(vin); got != want {
			t.Errorf("%s: got %c, want %c", vin, got, want)
		}
	}
}

// TestCheckDigitFindsOneWrongCharacter: a changed digit moves the sum by less
// than 11 times its weight and never by a multiple of 11, since 11 is prime and
// no weight is 0 or 11 but that of the check digit.
func TestCheckDigitFindsOneWrongCharacter(t *testing.T) {
	const seed = 3
	t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
		rng := rand.New(rand.NewPCG(seed, 1))
		for range 500 {
			vin := make([]byte, 17)
			for i := range vin {
				vin[i] = "0123456789"[rng.IntN(10)]
			}
			vin[8] = CheckDigit(string(vin))
			i := rng.IntN(17)
			if i == 8 {
				continue
			}
			vin[i] = '0' + (vin[i]-'0'+byte(1+rng.IntN(9)))%10
			if CheckDigit(string(vin)) == vin[8] {
				t.Fatalf("%s: a change at %d is not found", vin, i+1)
			}
		}
	})
}

func TestVINFault(t *testing.T) {
	for vin, want := range map[string]string{
		"TEST1111111111111":  "",
		"":                   "the number has 0 characters, not 17",
		"TEST11111111111111": "the number has 18 characters, not 17",
		"TEST11111I1111111":  "character 10 is the letter I, which is not used",
		"QEST1111111111111":  "character 1 is the letter Q, which is not used",
		"TEST1111111111 11":  "character 15 is neither a capital letter nor a digit",
		"TEsT1111111111111":  "character 3 is a small letter",
		"TEST111111111111é":  "the number has 18 characters, not 17",
		"TEST11111111111é":   "character 16 is neither a capital letter nor a digit",
	} {
		if got, _ := VINFault(vin); got != want {
			t.Errorf("%q: got %q, want %q", vin, got, want)
		}
	}
}
