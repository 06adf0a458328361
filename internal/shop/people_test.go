package shop

import (
	"fmt"
	"strings"
	"testing"
)

// A signature is a person and a word or two; a shop file has so many people as can work
// in a shop. Both are looked through for whatever a job has signed.
func TestSignaturesAreBounded(t *testing.T) {
	sh := Shop{People: []Person{{ID: "T1"}}}
	for text, want := range map[string]bool{"T1": true, "technician T1": true, strings.Repeat("T1 ", maxWords): true, strings.Repeat("T1 ", maxWords+1): false} {
		if _, ok := sh.Signer(text); ok != want {
			t.Errorf("%.20s...: %v", text, ok)
		}
	}
	sh.People = nil
	for i := range maxPeople + 1 {
		sh.People = append(sh.People, Person{ID: fmt.Sprintf("P%d", i)})
	}
	for n, want := range map[int]bool{maxPeople: false, maxPeople + 1: true} {
		s := sh
		s.People = sh.People[:n]
		told := false
		for _, p := range s.validate() {
			told = told || strings.Contains(p.Msg, fmt.Sprintf("a shop has at most %d", maxPeople))
		}
		if told != want {
			t.Errorf("%d people: told %v", n, told)
		}
	}
}
