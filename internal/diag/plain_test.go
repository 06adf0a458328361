package diag

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode"
)

// What a terminal obeys, what turns or hides text, and what is no text. The
// list is from the standards named beside it, not from the code.
var hidden = map[string]rune{
	"NUL (ISO/IEC 6429)":       0x00,
	"BEL":                      0x07,
	"backspace":                0x08,
	"tab":                      '\t',
	"line feed":                '\n',
	"carriage return":          '\r',
	"escape":                   0x1b,
	"delete":                   0x7f,
	"NEL (C1)":                 0x85,
	"CSI (C1)":                 0x9b,
	"OSC (C1)":                 0x9d,
	"soft hyphen":              0xad,
	"Arabic letter mark":       0x61c,
	"Mongolian vowel sep.":     0x180e,
	"zero width space":         0x200b,
	"zero width joiner":        0x200d,
	"left-to-right mark":       0x200e,
	"right-to-left mark":       0x200f,
	"line separator":           0x2028,
	"paragraph separator":      0x2029,
	"embedding (UAX 9, 2.1)":   0x202a,
	"pop":                      0x202c,
	"override (UAX 9, 2.2)":    0x202e,
	"word joiner":              0x2060,
	"isolate (UAX 9, 2.4)":     0x2066,
	"pop isolate":              0x2069,
	"Hangul filler":            0x3164,
	"combining grapheme join.": 0x34f,
	"private use":              0xe000,
	"variation selector":       0xfe0f,
	"byte order mark":          0xfeff,
	"interlinear annotation":   0xfff9,
	"noncharacter":             0xfffe,
	"unit separator":           0x1f,
	"APC (C1)":                 0x9f,
	"noncharacter ffff":        0xffff,
	"noncharacter 10ffff":      0x10ffff,
	"tag letter":               0xe0041,
	"variation selector 17":    0xe0100,
}

func TestHiddenCharacters(t *testing.T) {
	for name, r := range hidden {
		if !Hidden(r) {
			t.Errorf("%s, U+%04X, is shown", name, r)
		}
		got := Plain("a" + string(r) + "b")
		if strings.ContainsRune(got, r) || !strings.HasPrefix(got, `a\u`) {
			t.Errorf("%s: %q", name, got)
		}
		var back string // the escape is that of JSON (RFC 8259, 7)
		if err := json.Unmarshal([]byte(`"`+got+`"`), &back); err != nil || back != "a"+string(r)+"b" {
			t.Errorf("%s: %q reads back as %q, %v", name, got, back, err)
		}
	}
	for _, s := range []string{"", "wall 2.4 mm, 45°", "Träger Längsträger", "ブラケット", "дверь", "محور", "naïve e\u0301", "a\u00a0b", " ~", "½ µm ± – “ok” …", "🔧"} {
		if got := Plain(s); got != s {
			t.Errorf("%q became %q", s, got)
		}
	}
	if got := PlainLines("a\n\tb\x1b[2J\r"); got != "a\n\tb"+`\u001b[2J\u000d` {
		t.Errorf("%q", got)
	}
	for s, want := range map[string]string{"\x1b": `\u001b`, "\ufffd\x1b": "\ufffd" + `\u001b`, "\ufffd": "\ufffd", "\xff": `\udcff`, "ä\x1bö": "ä" + `\u001b` + "ö"} {
		if got := Plain(s); got != want {
			t.Errorf("%q becomes %q, want %q", s, got, want)
		}
	}
	if got := PlainLines("\n\t"); got != "\n\t" {
		t.Errorf("%q", got)
	}
	if got := Plain("a\xff\x9bb"); got != `a\udcff\udc9bb` {
		t.Errorf("%q", got)
	}
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if (unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Bidi_Control, r) || unicode.Is(unicode.Zl, r) || unicode.Is(unicode.Zp, r)) && !Hidden(r) {
			t.Fatalf("U+%04X is shown", r)
		}
	}
}

// An error and a fault stay on their line, whatever the file is called.
func TestErrorsStayOnTheirLine(t *testing.T) {
	e := &Error{Subject: "a\nsound: job", Msg: "is \x1b[2J not there", Hint: "give \u202eanother"}
	p := Problem{File: "x\ny.yaml", Line: 1, Field: "a\rb", Msg: "wrong\n", Hint: "\x9bright"}
	for _, got := range []string{e.Error(), p.String()} {
		if strings.IndexFunc(got, Hidden) >= 0 {
			t.Errorf("%q", got)
		}
	}
}

// A hidden character is named by its number in Unicode, and by what it does.
func TestNamed(t *testing.T) {
	for r, want := range map[rune]string{
		0x1b: "U+001B, escape", '\n': "U+000A, line end", '\r': "U+000D, line end", 0x85: "U+0085, line end", 0x2028: "U+2028, line end", 0x2029: "U+2029, line end",
		'\t': "U+0009, tab", 7: "U+0007, control character", 0x9b: "U+009B, control character", 0x202e: "U+202E, turns the direction of the text",
		0x2066: "U+2066, turns the direction of the text", 0xfeff: "U+FEFF, byte order mark", 0xad: "U+00AD, is not seen", 0xe0041: "U+E0041, is not seen",
	} {
		if got := Named(r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	ps := Problems{{File: "a", Msg: "wrong"}}
	if err := ps.OrNil(); err == nil || err.Error() != ps.Error() {
		t.Errorf("a fault is told as %v", err)
	}
}
