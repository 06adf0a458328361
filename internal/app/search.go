package app

import (
	"context"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"fettle/internal/job"
)

// Lists finds jobs. What it shows is made of what jobs say and of what was noted of them; it is never the truth.
type Lists interface {
	// Find is so many jobs, the one changed last first.
	Find(ctx context.Context, q JobQuery) ([]JobLine, error)
	// Index changes what a list shows of a job beside its events, which stood so at an event. What was noted for a later event
	// stays.
	Index(ctx context.Context, id string, at int64, change func(was Shown) Shown) error
}

// JobQuery is which jobs are found.
type JobQuery struct {
	Text  string   // each word of it is the beginning of a term of the job
	Waits string   // what they wait for; empty: for anything or nothing
	On    string   // on whom; likewise
	Of    []string // owners of the jobs; nil: of any
	After JobLine  // the last of the page before; the zero one: the first page
	Most  int      // so many
}

// Shown is what a list shows of a job beside what its events say.
type Shown struct {
	Title string // what the people of the shop call it
	Plate string // of the vehicle
	Waits string // what it waits for: the word of a release.ActKind; empty: nobody has looked
	On    string // on whom

	Act    string // which record, part or step it waits for; no person
	Since  string // time of the event that made it so; empty: not known
	Judged string // the day on which that was judged, year-month-day
}

// Limits of what a job is found by.
const (
	mostTerms  = 400 // of a job
	mostTerm   = 40  // bytes of one
	mostWords  = 8   // of a question
	leastOfVIN = 4   // characters: a shorter part of a number is asked for by its beginning only
	shownOfVIN = 8   // characters, as people read it out
)

// JobTerms is what a job is found by of what its events say, in their order, and the part of the vehicle's number
// that lists show: its name, the number of the vehicle in whole and in part, its findings with their sorts and parts. Of people and
// what they say nothing is among them.
func JobTerms(id string, s *job.Stored) (vehicle string, terms []string) {
	state := s.State()
	terms = append(Terms(id), Terms(state.ID)...)
	vin := joined(state.Vehicle.VIN)
	terms = append(terms, vin)
	for i := 1; i <= len(vin)-leastOfVIN; i++ {
		terms = append(terms, vin[i:])
	}
	for _, f := range state.Findings {
		terms = append(terms, Terms(string(f.ID))...)
		terms = append(terms, Terms(string(f.Kind))...)
		terms = append(terms, Terms(string(f.Part))...)
	}
	vehicle = strings.ToUpper(vin[max(0, len(vin)-shownOfVIN):])
	return vehicle, ordered(terms)
}

// ShownTerms is what a job is found by of what a list shows of it.
func ShownTerms(s Shown) []string {
	return ordered(append(append(Terms(s.Title), Terms(s.Plate)...), joined(s.Plate)))
}

// Terms is what a text is found by: its words, each without what is no letter or digit, and the pieces
// between that.
func Terms(text string) []string {
	var out []string
	for word := range strings.FieldsSeq(text) {
		out = append(out, joined(word))
		for i := range word { // from the middle of a word that is made of pieces
			before, _ := utf8.DecodeLastRuneInString(word[:i])
			if i > 0 && !ofTerm(before) {
				out = append(out, joined(word[i:]))
			}
		}
	}
	return ordered(out)
}

func ofTerm(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// joined is the letters and digits of a text, small.
func joined(text string) string {
	out := strings.Map(func(r rune) rune {
		if !ofTerm(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, text)
	for len(out) > mostTerm {
		_, n := utf8.DecodeLastRuneInString(out)
		out = out[:len(out)-n]
	}
	return out
}

// ordered is terms in order, each once, not more than a job may have.
func ordered(terms []string) []string {
	slices.Sort(terms)
	terms = slices.Compact(terms)
	if len(terms) > 0 && terms[0] == "" {
		terms = terms[1:]
	}
	return terms[:min(len(terms), mostTerms)]
}

// Words is what a question asks for: the beginnings of terms.
func Words(text string) []string {
	var out []string
	for word := range strings.FieldsSeq(text) {
		if w := joined(word); w != "" && len(out) < mostWords && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// Finds says whether a job with these terms, in order, is one that is asked for by these words.
func Finds(words, terms []string) bool {
	for _, w := range words {
		at, _ := slices.BinarySearch(terms, w)
		if at == len(terms) || !strings.HasPrefix(terms[at], w) {
			return false
		}
	}
	return true
}
