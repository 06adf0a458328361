package report

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// frontNames puts the name of a thing beside its code where the first page says the code
// first: the page is read by people who do not have the drawing with the codes at hand.
type frontNames struct {
	names map[string]string // by code
	said  map[string]bool   // the codes that stand on the page with their names
}

func frontNamesOf(in Input) *frontNames {
	n := &frontNames{map[string]string{}, map[string]bool{}}
	for _, p := range in.Body.Points {
		n.add(string(p.ID), p.Name)
	}
	for _, a := range in.Inspect.Coverage {
		n.add(a.Area, a.Name)
	}
	for _, k := range in.Job.Risks {
		n.add(k.ID, k.Text)
	}
	for _, f := range in.Inspect.Findings {
		where := placeText(in, f)
		if where != "" {
			where = ", " + where
		}
		n.add(string(f.ID), string(f.Kind)+where)
	}
	return n
}

// add keeps the name of a code that cannot be mistaken for a word of a sentence.
func (n *frontNames) add(code, name string) {
	if name != "" && name != code && strings.ContainsFunc(code, func(r rune) bool { return unicode.IsDigit(r) || r == '-' }) {
		n.names[code] = name
	}
}

// place names the codes of the whole page, in the order in which it is read. The table of
// findings names those that are in it.
func (n *frontNames) place(f *frontPart) {
	for _, r := range f.Findings.Rows {
		n.said[r.ID] = true
	}
	for i := range f.Blocks {
		b := &f.Blocks[i]
		b.Where, b.Text, b.Hint = n.in(b.Where), n.in(b.Text), n.in(b.Hint)
	}
	for i := range f.Answers {
		a := &f.Answers[i]
		a.Text = n.in(a.Text)
		n.all(a.Lines)
	}
	n.all(f.Next)
	n.all(f.Later)
}

func (n *frontNames) all(texts []string) {
	for i := range texts {
		texts[i] = n.in(texts[i])
	}
}

// in is a text with the name behind each code that the page says for the first time.
func (n *frontNames) in(text string) string {
	var out strings.Builder
	for at := 0; at < len(text); {
		if !codeRune(before(text, at)) {
			if code := n.codeAt(text[at:]); code != "" {
				out.WriteString(code)
				if name := n.names[code]; !n.said[code] && !strings.HasSuffix(text[:at], name+" (") && !strings.HasPrefix(text[at+len(code):], " (") {
					out.WriteString(" (" + name + ")")
				}
				n.said[code] = true
				at += len(code)
				continue
			}
		}
		_, size := utf8.DecodeRuneInString(text[at:])
		out.WriteString(text[at : at+size])
		at += size
	}
	return out.String()
}

// codeAt is the code that a text begins with, whole; empty without one.
func (n *frontNames) codeAt(text string) string {
	end := strings.IndexFunc(text, func(r rune) bool { return !codeRune(r) })
	if end < 0 {
		end = len(text)
	}
	word := strings.TrimRight(text[:end], ".")
	if n.names[word] == "" {
		return ""
	}
	return word
}

func codeRune(r rune) bool {
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '.' || r == '_'
}

// before is the rune that ends just before a place; a blank at the beginning.
func before(text string, at int) rune {
	if at == 0 {
		return ' '
	}
	r, _ := utf8.DecodeLastRuneInString(text[:at])
	return r
}
