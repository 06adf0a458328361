package database

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/ledger"
	"fettle/internal/store/safefile"
)

// trusted is a table whose rows may change and have to be trusted: every state of a row is written with a leaf, and the
// newest leaf about a row is that row, or says that it is gone. What a column says of somebody goes into the leaf as a seal,
// with a salt that is drawn anew each time and stands in the row alone: whoever has the leaves cannot try out what it says.
// Nothing else writes into such a table (docs/store.md, "Rows that change").
type trusted struct {
	table   string
	kind    leafKind
	name    string   // column that tells rows from one another: in the log for good, so it says nothing of anybody
	columns []string // all others but the salt, in the order in which they are hashed; another order is another hash
	sealed  []string // of them, texts that are sealed; a table with any has a column salt
}

// trustedTables are all of them.
var trustedTables = []*trusted{holdRows, settingRows, pauseRows, handedBackRows, removedRows, accountRows}

// all are the columns as they are written.
func (k *trusted) all() []string {
	out := append([]string{k.name}, k.columns...)
	if len(k.sealed) > 0 {
		out = append(out, "salt")
	}
	return out
}

// hash is that of the leaf about a row.
func (k *trusted) hash(cells []any, salt string) (string, error) {
	if len(cells) != len(k.columns) {
		return "", fmt.Errorf("a row of %s has %d cells, and %d are given", k.table, len(k.columns), len(cells))
	}
	row := []any{string(k.kind)}
	for i, cell := range cells {
		if slices.Contains(k.sealed, k.columns[i]) {
			text, is := cell.(string)
			if !is {
				return "", fmt.Errorf("%s of %s is no text", k.columns[i], k.table)
			}
			seal, err := ledger.Aside{Salt: salt, Text: text}.Seal()
			if err != nil {
				return "", err
			}
			cell = seal
		}
		row = append(row, cell)
	}
	return rowSum(row...), nil
}

// writeText is the statement that writes a row in the place of the one of its name, if there is one. It is made of names of
// columns alone.
func (k *trusted) writeText() string {
	var set []string
	for _, c := range k.all()[1:] {
		set = append(set, c+" = excluded."+c)
	}
	return insertText(k.table, strings.Join(k.all(), ", "), 1, len(k.all())) + " on conflict (" + k.name + ") do update set " + strings.Join(set, ", ")
}

// keep writes a row of a trusted table, new or in the place of the one of its name. Cells are those of its columns: texts, int64 or nil.
func (t *Tx) keep(k *trusted, name string, cells ...any) error {
	row, salt := append([]any{name}, cells...), ""
	if len(k.sealed) > 0 {
		salt = safefile.Drawn(32)
		row = append(row, salt)
	}
	hash, err := k.hash(cells, salt)
	if err == nil {
		_, err = t.Exec(k.writeText(), row...)
	}
	if err == nil {
		t.leaf(leaf{kind: k.kind, name: name, hash: hash})
	}
	return err
}

// drop takes a row of a trusted table away, and says whether there was one.
func (t *Tx) drop(k *trusted, name string) (bool, error) {
	n, err := t.Exec("delete from "+k.table+" where "+k.name+" = $1", name)
	if err == nil && n > 0 {
		t.leaf(leaf{kind: k.kind, name: name})
	}
	return n > 0, err
}

// trusted: the newest leaf about each row of such a table is that row.
func (v *verifier) trusted() error {
	for _, k := range trustedTables {
		text := "select " + strings.Join(k.all(), ", ") + " from " + k.table + " where " + k.name + " > $1 order by " + k.name + " limit $2"
		err := v.paged(k.table, text, func(cells []any) error {
			name, salt := fmt.Sprint(cells[0]), ""
			if len(k.sealed) > 0 {
				salt = fmt.Sprint(cells[len(cells)-1])
			}
			hash, err := k.hash(cells[1:1+len(k.columns)], salt)
			if err != nil {
				return v.fault(k.table+" "+name, "its row is not the one that was written: %v", err)
			}
			return v.content(k.kind, name, hash)
		})
		if err != nil {
			return err
		}
	}
	return nil
}
