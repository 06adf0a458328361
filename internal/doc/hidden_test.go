package doc

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode"

	"fettle/internal/diag"
)

// hiddenRunes are characters that a terminal obeys (ISO/IEC 6429: C0, DEL, C1),
// that turn text (Unicode Standard Annex 9, 2), or that are not seen (Unicode
// 15.0, chapters 5.21 and 23).
func hiddenRunes() []rune {
	out := []rune{'\n', '\r', '\t', 0x7f, 0xad, 0x34f, 0x61c, 0x180e, 0x200b, 0x200c, 0x200d, 0x2060, 0x3164, 0xe000, 0xfe0f, 0xfeff, 0xfffb, 0xfffe, 0xe0041, 0x10ffff}
	for r := rune(1); r < 0x20; r++ {
		out = append(out, r)
	}
	for r := rune(0x80); r < 0xa0; r++ {
		out = append(out, r)
	}
	for r := rune(0x200e); r < 0x2070; r++ {
		if unicode.Is(unicode.Bidi_Control, r) || r == 0x2028 || r == 0x2029 {
			out = append(out, r)
		}
	}
	return out
}

// writings of a text with a character in it: escapes of YAML 1.2.2, 5.7 and of
// JSON (RFC 8259, 7), and the character itself.
func writings(r rune) map[string]string {
	hex, _ := json.Marshal(string(r))
	u := fmt.Sprintf(`\U%08X`, r)
	out := map[string]string{
		"YAML escape": "name: \"safe" + u + "x\"\ncount: 1\n",
		"key":         "name: x\ncount: 1\nnotes: {\"a" + u + "b\": c}\n",
		"value":       "name: x\ncount: 1\nnotes: {a: \"b" + u + "c\"}\n",
		"in a list":   "name: x\ncount: 1\nwords: [red]\nsteps:\n  - {id: a, long: 1 mm, text: \"t" + u + "\"}\n",
		"field":       "\"na" + u + "me\": x\nname: x\ncount: 1\n",
	}
	if r <= 0xff {
		out["short YAML escape"] = fmt.Sprintf("name: \"safe\\x%02Xx\"\ncount: 1\n", r)
	}
	if strings.HasPrefix(string(hex), `"\`) {
		out["JSON escape"] = `{"name": "safe` + strings.Trim(string(hex), `"`) + `x", "count": 1}`
	} else if r <= 0xffff {
		out["JSON escape"] = fmt.Sprintf(`{"name": "safe\u%04xx", "count": 1}`, r)
	}
	if r != '\n' && r != '\t' && r != '\r' {
		out["itself"] = "name: safe" + string(r) + "x\ncount: 1\n"
		out["in a comment"] = "# a " + string(r) + "\nname: x\ncount: 1\n"
		out["in JSON"] = `{"name": "safe` + string(r) + `x", "count": 1}`
	}
	return out
}

// TestNothingHiddenIsRead: whatever is not shown is refused however it is
// written, with its place, and the message does not hold it.
func TestNothingHiddenIsRead(t *testing.T) {
	for _, r := range hiddenRunes() {
		for how, text := range writings(r) {
			var dst recipe
			_, problems := Decode("r.yaml", []byte(text), &dst)
			switch {
			case len(problems) == 0:
				t.Errorf("U+%04X is read (%s): %q", r, how, text)
			case strings.IndexFunc(strings.ReplaceAll(problems.Error(), "\n", ""), diag.Hidden) >= 0:
				t.Errorf("U+%04X (%s) is in the message %q", r, how, problems.Error())
			case problems[0].Line == 0 || problems[0].Col == 0:
				t.Errorf("U+%04X (%s): no place in %q", r, how, problems.Error())
			}
		}
	}
}

// TestNothingHiddenIsReadFromTables: the same for cells and names of columns.
func TestNothingHiddenIsReadFromTables(t *testing.T) {
	for _, r := range hiddenRunes() {
		if r == '\n' || r == '\r' {
			continue // a cell over several lines is one paragraph
		}
		for _, text := range []string{"id,x_mm\n\"a" + string(r) + "b\",1\n", "id,x_mm,\"n" + string(r) + "n\"\na,1,2\n", "id,x_mm\na,1" + string(r) + "2\n"} {
			_, _, problems := DecodeCSV[cell]("t.csv", []byte(text))
			if len(problems) == 0 || problems[0].Line == 0 {
				t.Errorf("U+%04X: %q gives %v", r, text, problems)
			}
		}
	}
}

// A text over several lines is one paragraph: nobody can begin a line of the
// output with words of their own.
func TestLinesBecomeOneParagraph(t *testing.T) {
	for _, text := range []string{"|\n  one\n  two\n", ">-\n  one\n\n  two\n", "one\n  two\n", "one\n\n  two\n"} {
		var dst recipe
		if _, p := Decode("r", []byte("name: "+text+"count: 1\n"), &dst); len(p) > 0 || dst.Name != "one two" {
			t.Errorf("%q is %q, %v", text, dst.Name, p)
		}
	}
}

// A character that nobody sees is found wherever it stands, the first one.
func TestHiddenInIsAtAnyPlace(t *testing.T) {
	for text, want := range map[string]rune{"": 0, "plain é": 0, "\u200bx": 0x200b, "x\u202e": 0x202e, "é\u200b\u202e": 0x200b, "\x00": 0, "\x01": 1} {
		got, found := hiddenIn(text)
		if got != want || found != (want != 0 || text == "\x00") {
			t.Errorf("%q: %U %v, want %U", text, got, found, want)
		}
	}
}
