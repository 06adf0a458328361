package body

import (
	"fmt"
	"strconv"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// places remembers where each field of each file stands.
type places struct {
	main       doc.Positions
	points     []int // line of each row
	parts      []int
	procedures []doc.Positions
}

// Problem is a fault of the body at a field, whichever file that is in:
// "joints[2].layers[1]", "points[3].section", "procedures[0].rows[1].when".
// A body that was not read from files gives problems without lines.
func (b *Body) Problem(path, msg, hint string) diag.Problem {
	list, i, rest := splitIndex(path)
	switch {
	case list == "points":
		return rowProblem(PointsFile, b.at.points, i, rest, msg, hint)
	case list == "parts":
		return rowProblem(PartsFile, b.at.parts, i, rest, msg, hint)
	case list == "procedures" && i >= 0 && i < len(b.at.procedures):
		return b.at.procedures[i].Problem(rest, msg, hint)
	case b.at.main.File() == "":
		return diag.Problem{File: MainFile, Field: path, Msg: msg, Hint: hint}
	}
	return b.at.main.Problem(path, msg, hint)
}

// rowProblem is a fault in a row of a table.
func rowProblem(file string, lines []int, i int, column, msg, hint string) diag.Problem {
	p := diag.Problem{File: file, Msg: msg, Hint: hint}
	if i >= 0 && i < len(lines) {
		p.Line = lines[i]
	}
	if column != "" {
		p.Field = "column " + column
	}
	return p
}

// splitIndex cuts "points[3].section" into "points", 3 and "section"; the
// index is -1 when there is none.
func splitIndex(path string) (list string, i int, rest string) {
	head, rest, _ := strings.Cut(path, ".")
	list, index, ok := strings.Cut(head, "[")
	if !ok {
		return list, -1, rest
	}
	i, err := strconv.Atoi(strings.TrimSuffix(index, "]"))
	if err != nil {
		return list, -1, rest
	}
	return list, i, rest
}

// at builds a path: at("joints", 2, "layers", 1) is "joints[2].layers[1]".
func at(parts ...any) string {
	var b strings.Builder
	for _, p := range parts {
		switch p := p.(type) {
		case int:
			fmt.Fprintf(&b, "[%d]", p)
		case string:
			if b.Len() > 0 {
				b.WriteByte('.')
			}
			b.WriteString(p)
		}
	}
	return b.String()
}
