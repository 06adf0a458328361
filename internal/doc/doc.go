// Package doc owns the strict reading and writing of documents that people
// write: YAML (and JSON, its subset) and CSV tables, driven by the struct tags
// doc:"name,required", help:"..." and oneof:"a|b|c".
//
// Every fault of a document is told at once, each with file, line and column:
// unknown fields, missing fields, duplicates, wrong types, missing units.
// Nothing is guessed: anchors, aliases, tags, merge keys, several documents in
// one file, octal and hexadecimal numbers, NaN and infinities are refused, a
// field that stands there without a value is a fault, and so is every character
// that is not shown. A text written over several lines is one paragraph.
//
// What a Go type accepts:
//
//	string kinds             any scalar, as written
//	bool                     yes, no, true, false
//	int kinds, float64       plain decimal numbers
//	encoding.TextUnmarshaler any scalar, handed over as written
//	struct{Value; Known}     the value; Known is set when it is given
//	struct, pointer to one   a mapping
//	slice, array             a list; an array needs exactly its length
//	map[string]string        a mapping of names to scalars as written
//
// A type that fits none of these is a programmer's mistake and panics.
package doc

import (
	"fmt"
	"reflect"
	"strings"

	"fettle/internal/diag"
)

// Limits on what is read. They protect the program, not the trade: a document
// of this kind is far smaller.
const (
	MaxBytes = 8 << 20 // size of one document
	MaxDepth = 64      // nesting of mappings and lists
	MaxRows  = 20_000  // rows of one table
)

// Decode reads a YAML or JSON document into dst, a pointer to a struct. It
// returns where every field stands and every fault found; dst is to be used
// only when there is none.
func Decode(file string, data []byte, dst any) (Positions, diag.Problems) {
	v := reflect.ValueOf(dst)
	if v.Kind() != reflect.Pointer || v.IsNil() || v.Elem().Kind() != reflect.Struct {
		panic(fmt.Sprintf("doc.Decode: dst is %T, not a pointer to a struct", dst))
	}
	r := &reader{file: file, marks: map[string]mark{}, shapes: shapes{}}
	if root := r.parse(data); root != nil {
		r.read("", root, v.Elem(), field{})
	}
	r.problems.Sort()
	return Positions{file: file, marks: r.marks}, r.problems
}

// parse turns the bytes into a tree, or returns nil after noting the fault.
func (r *reader) parse(data []byte) *node {
	text, fault := plainText(r.file, data)
	if fault != nil {
		r.problems = append(r.problems, *fault)
		return nil
	}
	root, problems := parseJSON(r.file, text)
	if root == nil && len(problems) == 0 {
		root, problems = parseYAML(r.file, text)
	}
	r.problems = append(r.problems, problems...)
	if root != nil {
		r.refuseHidden("", root)
	}
	return root
}

// plainText checks size and encoding and takes off what editors add: the byte
// order mark and carriage returns at line ends.
func plainText(file string, data []byte) (string, *diag.Problem) {
	if len(data) > MaxBytes {
		return "", &diag.Problem{File: file, Msg: fmt.Sprintf("the file has %d bytes; the limit is %d", len(data), MaxBytes)}
	}
	text := strings.ReplaceAll(strings.TrimPrefix(string(data), "\uFEFF"), "\r\n", "\n")
	return text, rawFault(file, text)
}
