package job

import (
	"fmt"
	"strings"
)

// VINFault says what is wrong with the form of a vehicle identification
// number, and what would be right; empty when nothing is (ISO 3779: 17 capital
// letters and digits, without I, O and Q; from memory).
func VINFault(vin string) (fault, hint string) {
	if len(vin) != 17 {
		return fmt.Sprintf("the number has %d characters, not 17", len(vin)), ""
	}
	for i := range len(vin) {
		switch c := vin[i]; {
		case c >= '0' && c <= '9', c >= 'A' && c <= 'Z' && c != 'I' && c != 'O' && c != 'Q':
		case c == 'I' || c == 'O' || c == 'Q':
			return fmt.Sprintf("character %d is the letter %c, which is not used", i+1, c), "look at it again: a one or a zero?"
		case c >= 'a' && c <= 'z':
			return fmt.Sprintf("character %d is a small letter", i+1), fmt.Sprintf("write %s", strings.ToUpper(vin))
		default:
			return fmt.Sprintf("character %d is neither a capital letter nor a digit", i+1), ""
		}
	}
	return "", ""
}

// vinValues are the values of the letters A to Z in the check digit's sum; 0
// for I, O and Q, which are not used (49 CFR 565.15(c), table III; from
// memory).
var vinValues = [26]int{1, 2, 3, 4, 5, 6, 7, 8, 0, 1, 2, 3, 4, 5, 0, 7, 0, 9, 2, 3, 4, 5, 6, 7, 8, 9}

// vinWeights weigh the 17 positions; the check digit itself counts nothing (49
// CFR 565.15(c), table IV; from memory).
var vinWeights = [17]int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}

// CheckDigit is the character that belongs in position 9 of a well-formed
// number: the remainder of the weighted sum of all positions by 11, with X for
// 10 (49 CFR 565.15(c); from memory). It holds for vehicles whose maker uses
// it; a body says so.
func CheckDigit(vin string) byte {
	sum := 0
	for i, w := range vinWeights {
		c, value := vin[i], 0
		if c >= 'A' && c <= 'Z' {
			value = vinValues[c-'A']
		} else {
			value = int(c - '0')
		}
		sum += w * value
	}
	return "0123456789X"[sum%11]
}
