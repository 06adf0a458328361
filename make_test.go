package fettle_test

import (
	"os"
	"regexp"
	"testing"
)

// Of two recipes of one name make runs the last, and says so where nobody looks.
func TestEveryTargetHasOneRecipe(t *testing.T) {
	text, err := os.ReadFile("Makefile")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^([a-z][a-z ]*):[^=\n]*$`).FindAllStringSubmatch(string(text), -1) {
		if seen[m[1]] {
			t.Errorf("Makefile: %s has two recipes", m[1])
		}
		seen[m[1]] = true
	}
	if len(seen) < 10 {
		t.Errorf("only %d targets were found", len(seen))
	}
}
