package cli

import (
	"io"
	"unicode/utf8"

	"fettle/internal/diag"
)

// plainOut is a writer for people's eyes: what nobody would see, or a terminal
// would obey, is written as \u and four digits, wherever it came from: a
// document, the name of a file, the command line. Line ends and tabs stay.
type plainOut struct {
	to   io.Writer
	held []byte // the beginning of a character whose end has not come yet
}

func (w *plainOut) Write(p []byte) (int, error) {
	text := append(w.held, p...)
	cut := len(text) - unfinished(text)
	w.held = append([]byte(nil), text[cut:]...)
	if _, err := io.WriteString(w.to, diag.PlainLines(string(text[:cut]))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// end writes what was held back.
func (w *plainOut) end() error {
	text := string(w.held)
	w.held = nil
	_, err := io.WriteString(w.to, diag.PlainLines(text))
	return err
}

// unfinished is how many bytes at the end begin a character and do not end it.
func unfinished(p []byte) int {
	for n := 1; n < utf8.UTFMax && n <= len(p); n++ {
		if tail := p[len(p)-n:]; utf8.RuneStart(tail[0]) {
			if utf8.FullRune(tail) {
				return 0
			}
			return n
		}
	}
	return 0
}
