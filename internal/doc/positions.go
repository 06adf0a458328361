package doc

import (
	"strings"

	"fettle/internal/diag"
)

// mark is a place in a file, both counted from 1.
type mark struct{ line, col int }

// Positions says where each field of a document stands, by its path:
// "parts[3].id", "rows[0].when.length".
type Positions struct {
	file  string
	marks map[string]mark
}

// File is the document's name as the reader knows it.
func (p Positions) File() string { return p.file }

// At is the place of a field, or of its nearest parent that is in the file;
// zeros when nothing is known.
func (p Positions) At(path string) (line, col int) {
	for {
		if m, ok := p.marks[path]; ok {
			return m.line, m.col
		}
		if path == "" {
			return 0, 0
		}
		path = parent(path)
	}
}

// Has says that the field itself is written in the document.
func (p Positions) Has(path string) bool {
	_, ok := p.marks[path]
	return ok
}

// Problem is a fault at the field.
func (p Positions) Problem(path, msg, hint string) diag.Problem {
	line, col := p.At(path)
	return diag.Problem{File: p.file, Line: line, Col: col, Field: path, Msg: msg, Hint: hint}
}

// parent is the path without its last name or index.
func parent(path string) string {
	if i := strings.LastIndexAny(path, ".["); i >= 0 {
		return path[:i]
	}
	return ""
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}
