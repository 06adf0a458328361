package app

import (
	"path"
	"reflect"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
)

// RowTable is the rows of a procedure file as a table, a row a line.
func (a *App) RowTable(file string) ([]byte, error) {
	p, _, err := a.procedureText(file)
	if err != nil {
		return nil, err
	}
	return body.RowTable(*p)
}

// TakenRows is a procedure file with the rows of a table in the place of its own.
type TakenRows struct {
	Text   []byte        // of the whole file; every line that is no row is as it was
	Same   bool          // the rows were those already
	Rows   int           // how many
	Faults diag.Problems // tests of the procedure that its rows do not meet now
}

// TakeRowTable puts the rows of a table into a procedure file. The file need not have passed its
// own tests, and need not afterwards: rows and tests are changed one after the other.
func (a *App) TakeRowTable(file, table string) (TakenRows, error) {
	was, text, err := a.procedureText(file)
	if err != nil {
		return TakenRows{}, err
	}
	data, err := a.read("", path.Clean(table), aDocument, "give a table of rows (CSV): a line for each, with its id, cite, conditions and what it allows, forbids or asks")
	if err != nil {
		return TakenRows{}, err
	}
	rows, problems := body.ReadRowTable(path.Clean(table), data)
	if err := problems.OrNil(); err != nil {
		return TakenRows{}, err
	}
	made, err := doc.ReplaceList(text, "rows", rows)
	if err != nil {
		return TakenRows{}, err
	}
	want := *was
	want.Rows = rows
	var now body.Procedure
	if _, problems := doc.Decode(file, made, &now); len(problems) > 0 || !reflect.DeepEqual(now, want) {
		return TakenRows{}, &diag.Error{Kind: diag.Conflict, Op: "take rows", Subject: file, Msg: "the list 'rows' of this file cannot be replaced by lines", Hint: "write the rows of the file one below another, with '- ' before each", Err: problems.OrNil()}
	}
	return TakenRows{Text: made, Same: reflect.DeepEqual(was.Rows, rows), Rows: len(rows), Faults: testFaults(file, &now)}, nil
}

// procedureText reads a procedure file, whether or not its tests come out.
func (a *App) procedureText(file string) (*body.Procedure, []byte, error) {
	file = path.Clean(file)
	data, err := a.read("", file, aDocument, "give a procedure file, for example BODY/procedures/NAME.yaml")
	if err != nil {
		return nil, nil, err
	}
	var p body.Procedure
	_, problems := doc.Decode(file, data, &p)
	return &p, data, problems.OrNil()
}
