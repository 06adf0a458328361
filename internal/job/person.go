package job

import (
	"slices"
	"strings"
	"unicode"

	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// Person is somebody whose names and remarks are to be erased.
type Person struct {
	Names []string // as texts have them: an identity of the shop file, a name
	Wrote string   // the opaque name under which the person wrote events; empty: not asked
}

// Concerns is the records in which a person is named, or in which the person wrote a text, by any
// event about them; and those that name the person in what is not erased, because the work
// rests on it. What the job was opened with was said by others, and is found by names alone.
func (p Person) Concerns(c ledger.Chain) (records, beyond []RecordName, err error) {
	events, err := Events(c)
	if err != nil {
		return nil, nil, err
	}
	opening := true
	for i, e := range events {
		opening = opening && c[i].At == c[0].At && c[i].By == c[0].By
		of := RecordName(c[i].About)
		texts, err := Texts(e.Data)
		if err != nil {
			return nil, nil, err
		}
		wrote := p.Wrote != "" && c[i].By == p.Wrote && !opening
		if slices.ContainsFunc(texts, func(s string) bool { return s != Erased && (wrote || p.named(s)) }) && !slices.Contains(records, of) {
			records = append(records, of)
		}
		rest, err := withTexts(e.Data, func(string) (string, error) { return Erased, nil })
		if err != nil {
			return nil, nil, err
		}
		if p.named(string(doc.EncodeYAML(rest))) && !slices.Contains(beyond, of) {
			beyond = append(beyond, of)
		}
	}
	return records, beyond, nil
}

// named says that a text has a name of the person, as words of its own and in any case.
func (p Person) named(text string) bool {
	text = strings.ToLower(text)
	for _, name := range p.Names {
		name = strings.ToLower(strings.TrimSpace(name))
		for at := 0; name != ""; {
			i := strings.Index(text[at:], name)
			if i < 0 {
				break
			}
			before, after := []rune(text[:at+i]), []rune(text[at+i+len(name):])
			if (len(before) == 0 || !inWord(before[len(before)-1])) && (len(after) == 0 || !inWord(after[0])) {
				return true
			}
			at += i + len(name)
		}
	}
	return false
}

func inWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// Erasing is the events that erase the texts of records, as somebody does who has seen the job as it is.
func (s *Stored) Erasing(records []RecordName, e Erasure) []Event {
	out := make([]Event, len(records))
	for i, of := range records {
		out[i] = Event{Kind: TextsErased, Of: of, Seen: s.Newest(of), Data: e}
	}
	return out
}
