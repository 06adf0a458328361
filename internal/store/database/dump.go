package database

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
)

// A dump is all rows of a database, whichever it is, as lines of JSON: a head, for each table its name and
// columns and then its rows, and an end that says how many they were and the SHA-256 of all lines before. It fills a
// database of either kind.

const dumpForm = "fettle-dump 1"

// mostLine is how many bytes a line of a dump may have.
const mostLine = 256 << 20

type (
	dumpHead struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
		Program string `json:"program"`
		At      string `json:"at"`
	}
	dumpTable struct {
		Table   string   `json:"table"`
		Columns []string `json:"columns"`
	}
	dumpEnd struct {
		Rows   int64  `json:"rows"`
		SHA256 string `json:"sha256"`
	}
	dumpBytes struct {
		Bytes []byte `json:"bytes"`
	}
)

var tableMade = regexp.MustCompile(`(?m)^(create|drop) table ([a-z_]+)( \(|;)`)

// tables are those that migrations make and leave, each behind those it refers to.
func tables(of []migration) []string {
	var out []string
	for _, m := range of {
		for _, found := range tableMade.FindAllStringSubmatch(m.text, -1) {
			if out = slices.DeleteFunc(out, func(name string) bool { return name == found[2] }); found[3] != ";" {
				out = append(out, found[2])
			}
		}
	}
	return out
}

// asker is what rows are asked from.
type asker interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Dump writes all rows as they are at one moment, while others go on.
func (d *Database) Dump(ctx context.Context, w io.Writer) (err error) {
	tx, err := d.reads.BeginTx(ctx, &sql.TxOptions{Isolation: d.kind.snapshot(), ReadOnly: d.kind.postgres})
	if err != nil {
		return unavailable(d.kind.name(), err)
	}
	defer func() { err = unavailable(d.kind.name(), errors.Join(err, tx.Rollback())) }()
	return d.dump(ctx, tx, len(migrations), w)
}

func (d *Database) dump(ctx context.Context, from asker, version int, w io.Writer) error {
	out := &lines{to: bufio.NewWriterSize(w, 1<<16), sum: sha256.New()}
	if err := out.put(dumpHead{dumpForm, version, d.set.Program, d.set.Now().UTC().Format("2006-01-02T15:04:05Z")}); err != nil {
		return err
	}
	n := int64(0)
	for _, table := range tables(migrations[:version]) {
		rows, err := dumpRows(ctx, from, table, out)
		if err != nil {
			return fmt.Errorf("table %s: %w", table, err)
		}
		n += rows
	}
	if err := out.put(dumpEnd{n, hex.EncodeToString(out.sum.Sum(nil))}); err != nil {
		return err
	}
	return out.to.Flush()
}

// lines writes lines of JSON, and adds them to a sum.
type lines struct {
	to  *bufio.Writer
	sum hash.Hash
}

func (l *lines) put(v any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	l.sum.Write(b.Bytes())
	_, err := l.to.Write(b.Bytes())
	return err
}

// dumpRows writes the rows of a table, whose name is one of a migration.
func dumpRows(ctx context.Context, from asker, table string, out *lines) (n int64, err error) {
	rows, err := from.QueryContext(ctx, "select * from "+table+" order by 1, 2")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	cols, err := rows.Columns()
	if err == nil {
		err = out.put(dumpTable{table, cols})
	}
	for err == nil && rows.Next() {
		cells := make([]any, len(cols))
		for i := range cells {
			cells[i] = new(any)
		}
		if err = rows.Scan(cells...); err == nil {
			for i := range cells {
				if b, ok := (*cells[i].(*any)).([]byte); ok {
					cells[i] = dumpBytes{b}
				}
			}
			err = out.put(cells)
			n++
		}
	}
	return n, errors.Join(err, rows.Err())
}

// CheckDump reads a dump to its end: all of it is there, as it was written.
func CheckDump(r io.Reader) error { return readDump(r, func(dumpHead) error { return nil }, nil) }

// readDump reads a dump. Each is called with every row, where it is given.
func readDump(r io.Reader, begin func(dumpHead) error, each func(dumpTable, []any) error) error {
	in, sum, n := bufio.NewReaderSize(r, 1<<16), sha256.New(), int64(0)
	var head dumpHead
	var table dumpTable
	for line := 1; ; line++ {
		text, err := readLine(in)
		if err != nil {
			return noDump(line, err)
		}
		before := hex.EncodeToString(sum.Sum(nil))
		sum.Write(text)
		var end dumpEnd
		switch {
		case line == 1:
			if err = strictly(text, &head); err == nil && head.Format != dumpForm {
				err = fmt.Errorf("it does not begin with the format %q", dumpForm)
			}
			if err == nil {
				err = begin(head)
			}
		case bytes.HasPrefix(text, []byte(`{"table"`)):
			err = strictly(text, &table)
		case bytes.HasPrefix(text, []byte(`[`)):
			n++
			var row []any
			if row, err = dumpedRow(text, table); err == nil && each != nil {
				err = each(table, row)
			}
		default:
			if err = strictly(text, &end); err == nil && (end.Rows != n || end.SHA256 != before) {
				err = errors.New("what stands before the end is not what was written")
			}
			if _, more := in.ReadByte(); err == nil && !errors.Is(more, io.EOF) {
				err = errors.New("something stands behind the end")
			}
			if err == nil {
				return nil
			}
		}
		if err != nil {
			return noDump(line, err)
		}
	}
}

func noDump(line int, err error) error {
	var own *diag.Error
	if errors.As(err, &own) {
		return err
	}
	return &diag.Error{Kind: diag.Integrity, Op: "store", Subject: fmt.Sprintf("line %d of the dump", line), Msg: err.Error(), Hint: "use another backup", Err: err}
}

func readLine(in *bufio.Reader) ([]byte, error) {
	var text []byte
	for {
		part, err := in.ReadSlice('\n')
		text = append(text, part...)
		switch {
		case len(text) > mostLine:
			return nil, fmt.Errorf("it has more than %d bytes", mostLine)
		case errors.Is(err, io.EOF):
			return nil, errors.New("the end is missing")
		case !errors.Is(err, bufio.ErrBufferFull):
			return text, err
		}
	}
}

func strictly(text []byte, v any) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	return dec.Decode(v)
}

// dumpedRow is the cells of a row.
func dumpedRow(text []byte, table dumpTable) ([]any, error) {
	var raw []json.RawMessage
	if err := strictly(text, &raw); err != nil {
		return nil, err
	}
	if table.Table == "" || len(raw) != len(table.Columns) {
		return nil, errors.New("it is no row of the table before it")
	}
	row := make([]any, len(raw))
	for i, cell := range raw {
		var err error
		switch cell[0] {
		case '"':
			var s string
			err = json.Unmarshal(cell, &s)
			row[i] = s
		case '{':
			var b dumpBytes
			err = strictly(cell, &b)
			row[i] = b.Bytes
		case 'n': // null
		default:
			var n int64
			err = json.Unmarshal(cell, &n)
			row[i] = n
		}
		if err != nil {
			return nil, fmt.Errorf("column %s: %w", table.Columns[i], err)
		}
	}
	return row, nil
}

// Fill makes a database out of a dump, where there is none yet, and opens it.
func Fill(ctx context.Context, s Settings, from io.Reader) (*Database, error) {
	d, err := begun(s)
	if err != nil {
		return nil, err
	}
	err = d.fill(ctx, from)
	if err == nil {
		err = d.start(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, d.leave())
	}
	return d, nil
}

// fill writes all rows in one transaction.
func (d *Database) fill(ctx context.Context, from io.Reader) error {
	defer d.turn()()
	t, err := d.beginTx(ctx)
	if err != nil {
		return unavailable(d.kind.name(), err)
	}
	insert := map[string]string{}
	err = readDump(from, func(h dumpHead) error { return t.fillable(h, insert) }, func(table dumpTable, row []any) error {
		text, ok := insert[table.Table+"("+strings.Join(table.Columns, ", ")+")"]
		if !ok {
			return fmt.Errorf("version %d has no table %s with these columns", len(migrations), table.Table)
		}
		_, err := t.Exec(text, row...)
		return err
	})
	if err == nil {
		err = t.run("commit")
	}
	if err != nil {
		d.rollback(ctx)
	}
	return unavailable(d.kind.name(), err)
}

// fillable makes the empty tables of a dump, and the statements that fill them.
func (t *Tx) fillable(h dumpHead, insert map[string]string) error {
	if h.Version < 1 || h.Version > len(migrations) {
		return &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: "the dump", Msg: fmt.Sprintf("its tables are of version %d, made by program %s; this program, %s, knows them up to version %d", h.Version, h.Program, t.db.set.Program, len(migrations)), Hint: "use that program, or a newer one"}
	}
	if err := t.own(); err != nil {
		return err
	}
	if have, err := t.versions(); err != nil || len(have) > 0 {
		if err == nil {
			err = &diag.Error{Kind: diag.Conflict, Op: "store", Subject: t.db.kind.name(), Msg: "there is a store already; nothing was written", Hint: "give a new place"}
		}
		return err
	}
	if err := t.migrate(migrations[:h.Version]); err != nil {
		return err
	}
	for _, table := range tables(migrations[:h.Version]) {
		cols, err := t.columns(table)
		if err != nil {
			return err
		}
		marks := make([]string, len(cols))
		for i := range cols {
			marks[i] = fmt.Sprintf("$%d", i+1)
		}
		insert[table+"("+strings.Join(cols, ", ")+")"] = "insert into " + table + " (" + strings.Join(cols, ", ") + ") values (" + strings.Join(marks, ", ") + ")"
	}
	return nil
}

func (t *Tx) columns(table string) ([]string, error) {
	rows, err := t.db.conn.QueryContext(t.ctx, "select * from "+table+" limit 0")
	if err != nil {
		return nil, ofDriver(err)
	}
	cols, err := rows.Columns()
	return cols, errors.Join(err, rows.Close())
}
