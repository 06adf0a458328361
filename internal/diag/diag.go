// Package diag owns the one error type, the one note type, and the list of
// faults found in a document.
//
// A verdict is a value, a note is a remark tied to a verdict or an input, an
// error means that the request could not be carried out. A blocking note
// cannot be hidden. Nobody compares an error by its text: KindOf tells.
package diag

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Kind classifies an error. The list is append-only: it crosses borders.
type Kind int

// Kinds of error.
const (
	Internal Kind = iota
	Invalid
	NotFound
	Conflict
	Denied
	Unsupported
	Integrity
	Unavailable
	Usage
)

// Error is a request that could not be carried out. Msg is safe to show, Hint
// says what would be right, Err is the cause for the log.
type Error struct {
	Kind    Kind
	Op      string
	Subject string
	Msg     string
	Hint    string
	Remedy  *Remedy // what the hint asks for, where the program does it; nil: no such thing
	Err     error
}

func (e *Error) Error() string { return e.Told(nil) }

// Told is the error for somebody who has ways of doing things.
func (e *Error) Told(how How) string {
	var b strings.Builder
	if e.Subject != "" {
		b.WriteString(e.Subject + ": ")
	}
	if e.Msg == "" && e.Err != nil {
		b.WriteString(e.Err.Error())
	}
	b.WriteString(e.Msg)
	if hint := how.Hint(e.Hint, e.Remedy); hint != "" {
		b.WriteString("; " + hint)
	}
	return Plain(b.String())
}

func (e *Error) Unwrap() error { return e.Err }

// KindOf is Invalid where there are Problems in the chain, else the kind of the first
// Error; Internal when there is none.
func KindOf(err error) Kind {
	if ps := (Problems)(nil); errors.As(err, &ps) {
		return Invalid
	}
	if e := (*Error)(nil); errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Severity says how much a note matters.
type Severity int

// Severities, mildest first.
const (
	Info Severity = iota
	Caution
	Blocking
)

// String is the word shown to people.
func (s Severity) String() string {
	switch s {
	case Info:
		return "note"
	case Caution:
		return "caution"
	}
	return "blocks"
}

// MarshalText writes the word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Note is a remark tied to a verdict or an input.
type Note struct {
	Code     string   `json:"code"`           // stable identity, for example "measure.reference-moved"
	Severity Severity `json:"severity"`       // a blocking note cannot be hidden
	Where    string   `json:"where"`          // what it is about: a point, an entry, a step
	Text     string   `json:"text"`           // one sentence
	With     *[]Param `json:"with,omitempty"` // the parameters of it, where they are given
	Hint     string   `json:"hint,omitempty"`
	Remedy   *Remedy  `json:"remedy,omitempty"` // what the hint asks for, where the program does it
	Source   string   `json:"source,omitempty"` // document, rule row or formula it comes from
}

// Blocks says that nothing is permitted while the note stands. Whatever is neither
// a remark nor a caution blocks, also a severity that this program does not know.
func (n Note) Blocks() bool { return n.Severity != Info && n.Severity != Caution }

// Problem is one fault in a document that a person wrote.
type Problem struct {
	File string // as the reader knows it
	Line int    // 1-based line, or row of a CSV file; 0 when the file as a whole is meant
	Col  int    // 1-based column; 0 when unknown
	// Field is the path inside the document ("parts[3].id") or the column name.
	Field  string
	Msg    string  // what is wrong
	Hint   string  // what would be right
	Remedy *Remedy // what the hint asks for, where the program does it; nil: no such thing
}

func (p Problem) String() string { return p.Told(nil) }

// Told is the fault for somebody who has ways of doing things.
func (p Problem) Told(how How) string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
		if p.Col > 0 {
			fmt.Fprintf(&b, ":%d", p.Col)
		}
	}
	b.WriteString(": ")
	if p.Field != "" {
		b.WriteString(p.Field + ": ")
	}
	b.WriteString(p.Msg)
	if hint := how.Hint(p.Hint, p.Remedy); hint != "" {
		b.WriteString("; " + hint)
	}
	return Plain(b.String())
}

// Problems is every fault found, told at once. It is an error when not empty.
type Problems []Problem

func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Sort orders by file, line, column, then text.
func (ps Problems) Sort() {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col), cmp.Compare(a.Msg, b.Msg))
	})
}

// OrNil is the list as an error, or nil when it is empty.
func (ps Problems) OrNil() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}
