package fettle_test

import (
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// glossaryWords are the words of the first column of a glossary's table, each with its row.
func glossaryWords(text string) map[string]string {
	out := map[string]string{}
	for line := range strings.Lines(text) {
		cells := strings.Split(line, "|")
		if len(cells) < 4 || strings.HasPrefix(cells[1], "---") || strings.TrimSpace(cells[1]) == "word" {
			continue
		}
		for word := range strings.SplitSeq(cells[1], ",") {
			out[strings.TrimSpace(word)] += line
		}
	}
	return out
}

// unusedWords are those that no text uses, in singular or plural; a space is written with a
// hyphen or an underscore too, or as a capital in a name.
func unusedWords(words map[string]string, texts []string) []string {
	all := strings.Join(texts, "\n")
	var out []string
	for word := range words {
		inName := ""
		for _, w := range strings.FieldsFunc(word, func(r rune) bool { return r == ' ' || r == '-' }) {
			inName += strings.ToUpper(w[:1]) + w[1:]
		}
		loose := regexp.MustCompile(`[ -]`).ReplaceAllString(regexp.QuoteMeta(word), `[\s_/*-]+`)
		if !regexp.MustCompile(`(?i)\b`+loose+`(s|es|ed)?\b`).MatchString(all) && !strings.Contains(all, inName) {
			out = append(out, word)
		}
	}
	slices.Sort(out)
	return out
}

// Every word of the glossary is used in code or documents, stands there once, and every
// package stands in the code map.
func TestGlossaryIsInUse(t *testing.T) {
	glossary, err := os.ReadFile("GLOSSARY.md")
	if err != nil {
		t.Fatal(err)
	}
	words := glossaryWords(string(glossary))
	if len(words) < 80 {
		t.Fatalf("only %d words were found", len(words))
	}
	for word, row := range words {
		if strings.Count(row, "\n") > 1 {
			t.Errorf("%q stands in the glossary twice: one word, one meaning", word)
		}
	}
	var texts []string
	for file, text := range tracked(t, ".go", ".md", ".yaml") {
		if path.Base(file) != "GLOSSARY.md" && !strings.HasSuffix(file, "_test.go") {
			texts = append(texts, text)
		}
	}
	for _, word := range unusedWords(words, texts) {
		t.Errorf("%q stands in the glossary, and nothing uses it", word)
	}
	architecture, err := os.ReadFile("ARCHITECTURE.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range layers {
		name := strings.TrimPrefix(r.pkg, "internal/")
		if !slices.Contains(inOtherRows, name) && !strings.Contains(string(architecture), "`"+name+"`") {
			t.Errorf("package %s is not in the code map of ARCHITECTURE.md", name)
		}
	}
}

// inOtherRows are packages that are told of with another: the generator that runs one, and what
// tests share.
var inOtherRows = []string{"demo/gen", "decide/fixture"}

// TestGlossaryFindsPlantedBreaches shows that the check has teeth.
func TestGlossaryFindsPlantedBreaches(t *testing.T) {
	words := glossaryWords("| word | meaning | avoid |\n|---|---|---|\n| hold point | a stop | |\n| gate, door | a place | |\n| gate | another | |\n| T-joint | x | |\n")
	if got := unusedWords(words, []string{"func HoldPoints() {}", "two gates", "a T-joint"}); !slices.Equal(got, []string{"door"}) {
		t.Errorf("unused: %v", got)
	}
	if strings.Count(words["gate"], "\n") != 2 || strings.Count(words["door"], "\n") != 1 {
		t.Errorf("a word that stands there twice was not found: %q", words)
	}
}
