package app

import (
	"slices"
	"strings"
	"testing"
)

func TestTerms(t *testing.T) {
	for text, want := range map[string][]string{
		"":               nil,
		" .. -- ":        nil,
		"Grey van":       {"grey", "van"},
		"AB-C 123":       {"123", "abc", "c"},
		"P-SKIN":         {"pskin", "skin"},
		"a'b--c":         {"abc", "bc", "c"},
		"Öl, Öl":         {"öl"},
		"2026-017":       {"017", "2026017"},
		"日本 1":           {"1", "日本"},
		"x\x00y\u202ez":  {"xyz", "yz", "z"},
		"\xff\xfe bytes": {"bytes"},
	} {
		if got := Terms(text); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if long := Terms(strings.Repeat("ö", 100)); len(long) != 1 || long[0] != strings.Repeat("ö", mostTerm/2) {
		t.Errorf("a long word: %q", long)
	}
	if many := Terms(strings.Repeat("a-", 5000)); len(many) > mostTerms {
		t.Errorf("%d terms of one text", len(many))
	}
	if got := Words("AB-C, ab-c  -- 1 2 3 4 5 6 7 8 9"); !slices.Equal(got, []string{"abc", "1", "2", "3", "4", "5", "6", "7"}) {
		t.Errorf("%q", got)
	}
	terms := []string{"abc", "abd", "b"}
	for words, want := range map[string]bool{"": true, "ab": true, "abd": true, "abcd": false, "aa": false, "c": false, "a b": true, "a c": false} {
		if Finds(Words(words), terms) != want {
			t.Errorf("%q among %q: %t", words, terms, !want)
		}
	}
}
