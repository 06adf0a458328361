package doc

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
)

// Grid is a table as somebody has it, with cells as they are written: the names of the
// columns first, every row as long as they are.
type Grid struct {
	File  string
	Rows  [][]string
	Lines []int // of each row in its file
	Mark  Mark  // of its decimals, where the file itself says which; NoMark: it does not
}

// WholeRow is in place of a column: the fault is in the row.
const WholeRow = -1

// Problem is a fault in a cell; with a column below zero, in a row.
func (g Grid) Problem(row, column int, msg, hint string) diag.Problem {
	p := diag.Problem{File: g.File, Line: g.Lines[row], Msg: msg, Hint: hint}
	if column >= 0 {
		p.Field = "column " + g.Rows[0][column]
	}
	return p
}

// ReadGrid reads a table whose cells are separated by tabs, semicolons, bars, commas or
// blanks: by the first of them with which its first line names columns, as isHead says. Lines
// without anything are passed over; whatever else does not fit is a fault.
func ReadGrid(file string, data []byte, isHead func(names []string) bool) (Grid, diag.Problems) {
	text, fault := plainText(file, data)
	if fault != nil {
		return Grid{}, diag.Problems{*fault}
	}
	for _, split := range splitters {
		g := Grid{File: file}
		problems := split(&g, text)
		if len(g.Rows) > 0 && isHead(headOf(&g)) {
			return g, append(problems, g.Even()...)
		}
	}
	if strings.TrimSpace(text) == "" {
		return Grid{}, diag.Problems{{File: file, Msg: "the table is empty", Hint: "its first line names the columns"}}
	}
	return Grid{}, diag.Problems{{File: file, Line: 1, Msg: "the first line does not name the columns", Hint: "name every column in it, separated like the cells below"}}
}

// headOf is the names of the columns, without those at the end that have none.
func headOf(g *Grid) []string {
	g.Rows[0] = withoutEnd(g.Rows[0], 0)
	return g.Rows[0]
}

// withoutEnd cuts empty cells off the end beyond so many.
func withoutEnd(cells []string, keep int) []string {
	for len(cells) > keep && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	return cells
}

// Even tells every row that has not as many cells as there are columns.
func (g *Grid) Even() diag.Problems {
	var problems diag.Problems
	n := len(g.Rows[0])
	for i, r := range g.Rows {
		if r = withoutEnd(r, n); len(r) != n {
			problems = append(problems, g.Problem(i, WholeRow, fmt.Sprintf("the row has %d cells, the first line names %d columns", len(r), n), "keep the separator of an empty cell, and put a cell with a separator in it into quotes"))
		}
		g.Rows[i] = r
	}
	return problems
}

// splitters read the lines of a text, each by a separator of its own.
var splitters = []func(*Grid, string) diag.Problems{separated('\t'), separated(';'), separated('|'), separated(','), blanks(wide), blanks(narrow)}

func separated(by rune) func(*Grid, string) diag.Problems {
	return func(g *Grid, text string) (problems diag.Problems) {
		in := csv.NewReader(strings.NewReader(text))
		in.Comma, in.FieldsPerRecord = by, -1
		for {
			cells, err := in.Read()
			if errors.Is(err, io.EOF) {
				return problems
			}
			if err != nil {
				problems = append(problems, (&table{file: g.File}).readFault(err))
				if len(g.Rows) == 0 {
					return problems
				}
				continue
			}
			line, _ := in.FieldPos(0)
			if p := g.add(line, cells); p != nil {
				return append(problems, *p)
			}
		}
	}
}

var (
	wide   = regexp.MustCompile(`[ \t]{2,}`)
	narrow = regexp.MustCompile(`[ \t]+`)
	apart  = regexp.MustCompile(`[ \t]+([\[(])`) // a unit in brackets belongs to the name before it
)

func blanks(by *regexp.Regexp) func(*Grid, string) diag.Problems {
	return func(g *Grid, text string) diag.Problems {
		for i, line := range strings.Split(text, "\n") {
			if line = strings.TrimSpace(line); line == "" {
				continue
			}
			if len(g.Rows) == 0 {
				line = apart.ReplaceAllString(line, "$1")
			}
			if p := g.add(i+1, by.Split(line, -1)); p != nil {
				return diag.Problems{*p}
			}
		}
		return nil
	}
}

// add adds a row, unless nothing stands in it.
func (g *Grid) add(line int, cells []string) *diag.Problem {
	for i, c := range cells {
		cells[i] = strings.TrimSpace(oneParagraph(c))
	}
	if !slices.ContainsFunc(cells, func(c string) bool { return c != "" }) {
		return nil
	}
	if len(g.Rows) > MaxRows {
		return &diag.Problem{File: g.File, Line: line, Msg: fmt.Sprintf("the table has more than %d rows", MaxRows)}
	}
	g.Rows, g.Lines = append(g.Rows, cells), append(g.Lines, line)
	return nil
}
