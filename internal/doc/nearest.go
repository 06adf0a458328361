package doc

import (
	"fmt"
	"strings"
)

// mostListed is how many known words are told at most.
const mostListed = 12

// DidYouMean is the hint that names the known word nearest to a misspelt one,
// or the known words, as many as fit, or nothing where there is none.
func DidYouMean(word string, known []string) string {
	if w, ok := Nearest(word, known); ok {
		return fmt.Sprintf("did you mean %q?", w)
	}
	switch {
	case len(known) == 0:
		return ""
	case len(known) > mostListed:
		return fmt.Sprintf("known are %s and %d more", strings.Join(known[:mostListed], ", "), len(known)-mostListed)
	}
	return "known: " + strings.Join(known, ", ")
}

// Nearest is the known word that differs least from word, when it differs in
// no more than a third of its letters and one; the first of equally near ones.
func Nearest(word string, known []string) (string, bool) {
	best, bestDist := "", len(word)/3+2
	for _, k := range known {
		a, b := len([]rune(word)), len([]rune(k))
		limit := max(a, b)/3 + 1
		if max(a, b)-min(a, b) > limit {
			continue // that many letters at least are missing
		}
		if d := distance(strings.ToLower(word), strings.ToLower(k)); d <= limit && d < bestDist {
			best, bestDist = k, d
		}
	}
	return best, best != ""
}

// distance counts the insertions, deletions, changes and swaps of neighbours
// that turn a into b (optimal string alignment; Damerau 1964, Levenshtein
// 1966, from memory). Words longer than 80 letters are not compared.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 80 || len(y) > 80 {
		return 80
	}
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(y)]
}
