package database

import (
	"context"
	"fmt"
	"strings"
	"time"

	"fettle/internal/account"
)

// Accounts keeps the people of a group in the database (account.Store).
type Accounts struct{ d *Database }

// Accounts is the part of the database that has people.
func (d *Database) Accounts() Accounts { return Accounts{d} }

// accountRows are records about people that have to be trusted.
var accountRows = &trusted{table: "accounts", kind: ofAccount, name: "id", columns: []string{"kind", "person", "shop", "key", "ends", "data"}, sealed: []string{"key", "data"}}

// endForm is how moments at which something ends stand in a column: their texts are in the order of time.
const endForm = "2006-01-02T15:04:05.000Z"

func endText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(endForm)
}

func accountID(k account.Kind, id string) string { return string(k) + "/" + id }

// recordCells are the columns of a record behind its id.
func recordCells(r account.Record) []any {
	return []any{string(r.Kind), r.Person, r.Shop, r.Key, endText(r.Ends), r.Data}
}

// sumOfPassing is the sum of a record of which no leaf says anything.
func sumOfPassing(id string, cells []any) string {
	return rowSum(append([]any{"passing", id}, cells...)...)
}

// accountTexts ask for records; of two tables, by kind.
type accountTexts struct{ get, find, ofPerson, ofShop, all, over string }

const recordColumns = "id, kind, person, shop, key, ends, data"

var textsOf = map[bool]accountTexts{true: textsFor("accounts"), false: textsFor("passing")}

// textsFor is made of the name of a table alone.
func textsFor(table string) accountTexts {
	from := "select " + recordColumns + " from " + table + " where "
	return accountTexts{
		get: from + "id = $1", find: from + "kind = $1 and key = $2 and key <> ''",
		ofPerson: from + "person = $1 and kind = $2 and id > $3 order by id limit $4", ofShop: from + "shop = $1 and kind = $2 and id > $3 order by id limit $4",
		all: from + "kind = $1 and id > $2 and id < $3 order by id limit $4", over: from + "kind = $1 and ends <> '' and ends < $2 order by ends, id limit $3",
	}
}

// asking asks for rows, each of which is scanned.
type asking func(text string, args []any, each func(scan func(...any) error) error) error

// records are those that are asked for.
func (ask asking) records(text string, args ...any) (out []account.Record, err error) {
	err = ask(text, args, func(scan func(...any) error) error {
		var r account.Record
		var ends string
		if err := scan(&r.ID, &r.Kind, &r.Person, &r.Shop, &r.Key, &ends, &r.Data); err != nil {
			return err
		}
		id, ok := strings.CutPrefix(r.ID, string(r.Kind)+"/")
		if ends != "" {
			at, bad := time.Parse(endForm, ends)
			r.Ends, ok = at, ok && bad == nil
		}
		if !ok {
			return damaged(r.ID, "the record of a person cannot be read")
		}
		r.ID = id
		out = append(out, r)
		return nil
	})
	return out, err
}

func one(rs []account.Record, err error) (account.Record, bool, error) {
	if err != nil || len(rs) == 0 {
		return account.Record{}, false, err
	}
	return rs[0], true, nil
}

func (ask asking) get(k account.Kind, id string) (account.Record, bool, error) {
	if !account.IsText(id) { // which PostgreSQL would refuse to be asked
		return account.Record{}, false, nil
	}
	return one(ask.records(textsOf[k.Logged()].get, accountID(k, id)))
}

func (ask asking) find(k account.Kind, key string) (account.Record, bool, error) {
	if !account.IsText(key) {
		return account.Record{}, false, nil
	}
	return one(ask.records(textsOf[k.Logged()].find, string(k), key))
}

func (ask asking) list(k account.Kind, w account.Which) ([]account.Record, error) {
	texts, after := textsOf[k.Logged()], accountID(k, w.After)
	if !account.IsText(w.Person) || !account.IsText(w.Shop) || !account.IsText(w.After) {
		return nil, nil
	}
	switch {
	case w.Person != "":
		return ask.records(texts.ofPerson, w.Person, string(k), after, w.Most)
	case w.Shop != "":
		return ask.records(texts.ofShop, w.Shop, string(k), after, w.Most)
	}
	return ask.records(texts.all, string(k), after, string(k)+"0", w.Most) // 0 is the character behind the stroke
}

func (ask asking) over(k account.Kind, before time.Time, most int) ([]account.Record, error) {
	return ask.records(textsOf[k.Logged()].over, string(k), endText(before), most)
}

func (a Accounts) reading(ctx context.Context) asking {
	return func(text string, args []any, each func(scan func(...any) error) error) error {
		return a.d.Read(ctx, text, args, each)
	}
}

// Get implements account.Reader.
func (a Accounts) Get(ctx context.Context, k account.Kind, id string) (account.Record, bool, error) {
	return a.reading(ctx).get(k, id)
}

// Find implements account.Reader.
func (a Accounts) Find(ctx context.Context, k account.Kind, key string) (account.Record, bool, error) {
	return a.reading(ctx).find(k, key)
}

// List implements account.Reader.
func (a Accounts) List(ctx context.Context, k account.Kind, w account.Which) ([]account.Record, error) {
	return a.reading(ctx).list(k, w)
}

// Over implements account.Reader.
func (a Accounts) Over(ctx context.Context, k account.Kind, before time.Time, most int) ([]account.Record, error) {
	return a.reading(ctx).over(k, before, most)
}

// Change implements account.Store.
func (a Accounts) Change(ctx context.Context, do func(account.Tx) error) error {
	return a.d.Write(ctx, func(t *Tx) error { return do(accountTx{t}) })
}

// accountTx is a change of accounts that is under way.
type accountTx struct{ t *Tx }

// Get implements account.Reader.
func (a accountTx) Get(_ context.Context, k account.Kind, id string) (account.Record, bool, error) {
	return asking(a.t.Query).get(k, id)
}

// Find implements account.Reader.
func (a accountTx) Find(_ context.Context, k account.Kind, key string) (account.Record, bool, error) {
	return asking(a.t.Query).find(k, key)
}

// List implements account.Reader.
func (a accountTx) List(_ context.Context, k account.Kind, w account.Which) ([]account.Record, error) {
	return asking(a.t.Query).list(k, w)
}

// Over implements account.Reader.
func (a accountTx) Over(_ context.Context, k account.Kind, before time.Time, most int) ([]account.Record, error) {
	return asking(a.t.Query).over(k, before, most)
}

// Put implements account.Tx.
func (a accountTx) Put(r account.Record) error {
	if err := r.Check(); err != nil {
		return err
	}
	if r.Key != "" {
		if other, there, err := asking(a.t.Query).find(r.Kind, r.Key); err != nil || there && other.ID != r.ID {
			if err == nil {
				err = account.KeyTaken(r.Kind)
			}
			return err
		}
	}
	id, cells := accountID(r.Kind, r.ID), recordCells(r)
	if r.Kind.Logged() {
		return a.t.keep(accountRows, id, cells...)
	}
	row := append(append([]any{id}, cells...), sumOfPassing(id, cells))
	_, err := a.t.Exec("insert into passing ("+recordColumns+", sum) values ($1, $2, $3, $4, $5, $6, $7, $8) on conflict (id) do update set "+
		"kind = excluded.kind, person = excluded.person, shop = excluded.shop, key = excluded.key, ends = excluded.ends, data = excluded.data, sum = excluded.sum", row...)
	return err
}

// Drop implements account.Tx.
func (a accountTx) Drop(k account.Kind, id string) error {
	if k.Logged() {
		_, err := a.t.drop(accountRows, accountID(k, id))
		return err
	}
	_, err := a.t.Exec("delete from passing where id = $1", accountID(k, id))
	return err
}

// passing rows have sums of their own.
func (v *verifier) passing() error {
	return v.paged("passing", "select "+recordColumns+", sum from passing where id > $1 order by id limit $2", func(cells []any) error {
		if id := fmt.Sprint(cells[0]); sumOfPassing(id, cells[1:7]) != cells[7] {
			return v.fault("passing "+id, "its row is not the one that was written")
		}
		return nil
	})
}
