package diag

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Hidden says that a character is not seen, or changes how others are seen:
// control characters, which a terminal obeys (ISO/IEC 6429), characters that
// turn the direction of a text (Unicode Standard Annex 9), that have no width or
// are to be ignored, line and paragraph separators, private ones and those that
// are none. The classes are those of the Unicode Character Database. A line end
// and a tab are Hidden as well: whoever allows them says so.
func Hidden(r rune) bool {
	if r < 0xa0 {
		return r < ' ' || r >= 0x7f
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs, unicode.Zl, unicode.Zp,
		unicode.Other_Default_Ignorable_Code_Point, unicode.Noncharacter_Code_Point, unicode.Variation_Selector) || !unicode.In(r, assigned...)
}

// assigned are the classes of characters that there are, as far as the tables
// of this program know.
var assigned = []*unicode.RangeTable{unicode.L, unicode.M, unicode.N, unicode.P, unicode.S, unicode.Z, unicode.C}

// Named is a character as it can be told: U+202E, and what it is where that
// helps.
func Named(r rune) string {
	what := ""
	switch {
	case r == 0x1b:
		what = "escape"
	case r == '\n' || r == '\r' || r == 0x85 || r == 0x2028 || r == 0x2029:
		what = "line end"
	case r == '\t':
		what = "tab"
	case unicode.Is(unicode.Cc, r):
		what = "control character"
	case unicode.Is(unicode.Bidi_Control, r):
		what = "turns the direction of the text"
	case r == 0xfeff:
		what = "byte order mark"
	default:
		what = "is not seen"
	}
	return fmt.Sprintf("U+%04X, %s", r, what)
}

// Plain is a text as it can be shown: every Hidden character, and every byte
// that is no text, is written as \u and four digits, as JSON writes it. It is
// for words inside a line.
func Plain(s string) string { return escaped(s, "") }

// PlainLines is Plain for whole lines: line ends and tabs stay.
func PlainLines(s string) string { return escaped(s, "\n\t") }

func escaped(s, keep string) string {
	shown := func(r rune) bool { return !Hidden(r) || strings.ContainsRune(keep, r) }
	if utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return !shown(r) }) < 0 {
		return s
	}
	var b strings.Builder
	for i, n := 0, 0; i < len(s); i += n {
		var r rune
		r, n = utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\u%04x`, 0xdc00+int(s[i])) // no character: the byte itself, among the surrogates
		case shown(r):
			b.WriteString(s[i : i+n])
		case r > 0xffff:
			high, low := utf16.EncodeRune(r)
			fmt.Fprintf(&b, `\u%04x\u%04x`, high, low)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}
