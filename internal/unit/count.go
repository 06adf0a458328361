package unit

import (
	"fmt"
	"math"
	"strings"
)

// Count is a number with its noun: 1 row, 2 rows, 3 bodies, 4 queries.
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	if strings.HasSuffix(noun, "y") && !strings.HasSuffix(noun, "ay") {
		return fmt.Sprintf("%d %sies", n, strings.TrimSuffix(noun, "y"))
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Pieces is an amount of a unit in words: text is the amount as it is to be printed,
// and pieces, when they are whole, are counted.
func Pieces(text string, amount float64, of string) string {
	if of == "piece" && math.Abs(amount) <= 1<<53 && math.Trunc(amount) == amount {
		return Count(int(amount), of)
	}
	return text + " " + of
}
