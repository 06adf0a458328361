package doc

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"fettle/internal/diag"
)

// What nobody sees does not belong into a document: a text could clear the
// screen of whoever reads it, or read other than it is.

// rawFault is the first thing in the bytes of a file that is no text, or that
// nobody sees. Line ends and tabs may stand between the texts.
func rawFault(file, text string) *diag.Problem {
	line, col := 1, 1
	for i, n := 0, 0; i < len(text); i += n {
		var r rune
		r, n = utf8.DecodeRuneInString(text[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			return &diag.Problem{File: file, Line: line, Col: col, Msg: "the file is not UTF-8 text", Hint: "save it as UTF-8"}
		case r == '\n':
			line, col = line+1, 1
			continue
		case r != '\t' && diag.Hidden(r):
			p := hiddenFault(r)
			p.File, p.Line, p.Col = file, line, col
			return &p
		}
		col++
	}
	return nil
}

// hiddenIn is the first character of a text that nobody sees.
func hiddenIn(text string) (rune, bool) {
	if i := strings.IndexFunc(text, diag.Hidden); i >= 0 {
		r, _ := utf8.DecodeRuneInString(text[i:])
		return r, true
	}
	return 0, false
}

func hiddenFault(r rune) diag.Problem {
	hint := "take it out"
	switch r {
	case '\n', '\r':
		hint = "write the text on one line"
	case '\t':
		hint = "write a space"
	}
	return diag.Problem{Msg: fmt.Sprintf("the text holds a character that is not shown (%s)", diag.Named(r)), Hint: hint}
}

// refuseHidden notes every text and every name of a field below a node that
// holds what nobody sees: it may have been written as an escape.
func (r *reader) refuseHidden(path string, n *node) {
	if c, found := hiddenIn(n.text); found {
		p := hiddenFault(c)
		r.fault(n.mark, path, p.Msg, p.Hint)
	}
	for _, e := range n.entries {
		if c, found := hiddenIn(e.key); found {
			p := hiddenFault(c)
			r.fault(e.mark, path, p.Msg, p.Hint)
			continue
		}
		r.refuseHidden(join(path, e.key), e.value)
	}
	for i, item := range n.items {
		r.refuseHidden(fmt.Sprintf("%s[%d]", path, i), item)
	}
}

// oneParagraph joins the lines of a text that is written over several lines.
func oneParagraph(text string) string {
	if !strings.Contains(text, "\n") {
		return text
	}
	var lines []string
	for _, l := range strings.Split(text, "\n") {
		if l = strings.Trim(l, " "); l != "" {
			lines = append(lines, l)
		}
	}
	return strings.Join(lines, " ")
}
