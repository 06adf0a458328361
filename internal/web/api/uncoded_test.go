package api

import (
	"encoding/json"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// uncodedFile is the members of answers that are sentences without a code yet. It may only become shorter.
const uncodedFile = "testdata/uncoded.txt"

// ownWords are members whose words are not the program's: somebody has written them, or they are names and citations; and hints, which go
// with the code that they stand beside.
var ownWords = []string{"name", "title", "cite", "source", "where", "file", "hint", "qualified", "device", "shop", "id", "conditions", "spoken", "columns", "rows", "holdPoint", "records", "says", "state", "at"}

var wordOf = regexp.MustCompile(`[a-z]{2,}`)

// sentencesWithout collects the members that are sentences, as of three words or more, with nothing that codes them: neither a code in the same object nor
// one of their own.
func sentencesWithout(of string, v any, out map[string]string) {
	switch v := v.(type) {
	case map[string]any:
		for name, x := range v {
			if name == "with" || slices.Contains(ownWords, name) && !compound(x) {
				continue
			}
			_, coded := v["code"].(string)
			text, is := x.(string)
			switch {
			case is && coded && (name == "text" || name == "detail"):
			case is && v[name+"Said"] != nil:
			case is && len(wordOf.FindAllString(text, -1)) >= 3 && strings.Count(text, " ") >= 2:
				out[strings.TrimPrefix(of+"."+name, ".")] = text
			default:
				sentencesWithout(name, x, out)
			}
		}
	case []any:
		for _, x := range v {
			if text, is := x.(string); is && len(wordOf.FindAllString(text, -1)) >= 3 && strings.Count(text, " ") >= 2 {
				out[of+"[]"] = text
			}
			sentencesWithout(of, x, out)
		}
	}
}

// compound says that a value is made of others.
func compound(x any) bool {
	switch x.(type) {
	case map[string]any, []any:
		return true
	}
	return false
}

// TestSentencesHaveCodes reads every sentence off the answers about a job: each has a code beside it, but those of the list, which names what is left.
func TestSentencesHaveCodes(t *testing.T) {
	w := newWorld(t)
	found := map[string]string{}
	for _, path := range []string{"assessment", "plan", "release", "expose", "lengths", "check", "explain?what=D2", "explain?what=T1", "explain?what=A-KNEE-R", "record-entries", "agreement?by=P1", "question?about=D9"} {
		got := w.do(call{as: all, method: "GET", path: "/jobs/north-1/" + path})
		if got.Code != 200 {
			continue // another test holds which routes there are
		}
		var v any
		if err := json.Unmarshal(got.Body.Bytes(), &v); err != nil {
			t.Fatal(err)
		}
		sentencesWithout("", v, found)
	}
	lines := strings.Join(slices.Sorted(maps.Keys(found)), "\n") + "\n"
	kept, err := os.ReadFile(uncodedFile)
	if err != nil && !*update {
		t.Fatal(err)
	}
	known := strings.Fields(string(kept))
	for member, text := range found {
		if len(known) > 0 && !slices.Contains(known, member) {
			t.Errorf("%s is a sentence without a code: %q; say it with diag.Say, with its code beside it", member, text)
		}
	}
	if *update && !t.Failed() {
		if err := os.WriteFile(uncodedFile, []byte(lines), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if string(kept) != lines {
		t.Errorf("a member of %s has a code now, or is no longer answered: go test ./internal/web/api -run Codes -update", uncodedFile)
	}
}

// The search finds a sentence wherever it stands, and no coded one.
func TestUncodedSentencesAreSeen(t *testing.T) {
	var v any
	if err := json.Unmarshal([]byte(`{"a":[{"because":"it comes off first","name":"of the front part"}],"notes":[{"code":"a.b","text":"it is not here","hint":"look for it there","with":[{"text":"one of the two"}]}],"x":{"because":"so it was said","becauseSaid":{"code":"c.d"},"list":["what is to be done"]}}`), &v); err != nil {
		t.Fatal(err)
	}
	found := map[string]string{}
	sentencesWithout("", v, found)
	if got := slices.Sorted(maps.Keys(found)); !slices.Equal(got, []string{"a.because", "list[]"}) {
		t.Error(got)
	}
}
