package database

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// lived is a store with something in every table that the program writes: changes, an erasure, lists, a body, bytes,
// files set aside and tasks.
func lived(t *testing.T, s Settings) *Database {
	t.Helper()
	filled(t, s)
	d := opened(t, s)
	ctx, day := t.Context(), unit.Date{Year: 2026, Month: 3, Day: 2}
	s1, err := job.Read(must(d.Load(ctx, "J1", 0)))
	if err != nil {
		t.Fatal(err)
	}
	for i, events := range [][]job.Event{
		{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: day}}},
		{{Kind: job.TextsErased, Of: "finding/D1", Seen: s1.Newest("finding/D1"), Data: job.Erasure{On: day, Reason: "Asked for"}}},
		{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: day}}},
	} {
		wants := []app.Wanted{{Kind: "assess", About: fmt.Sprint("J", i), By: "p-1"}}
		if _, err := d.Append(ctx, "J1", app.Change{Key: fmt.Sprint("c", i), By: "p-1", Events: events, Wants: wants}, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.Index(ctx, "J2", 1, app.Shown{Title: "Grey van", Plate: "AB 1", Waits: "parts", On: "p-1"}); err != nil {
		t.Fatal(err)
	}
	if err := d.SetAside(ctx, "J2", map[string][]byte{"note.txt": []byte("n"), "photo.jpg": []byte("p")}); err != nil {
		t.Fatal(err)
	}
	if err := d.SetAside(ctx, "J1", map[string][]byte{"note.txt": []byte("n"), "was.csv": []byte("names somebody")}); err != nil {
		t.Fatal(err)
	}
	if dropped, err := d.DropAside(ctx, "J1"); err != nil || !dropped {
		t.Fatal(dropped, err)
	}
	for _, reason := range []string{"A claim at court", "Asked for by the insurer"} {
		h, err := d.BeginHold(ctx, "J2", "p-1", reason)
		if err == nil && reason == "A claim at court" {
			_, err = d.EndHold(ctx, h.ID)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, text := range []string{"a photo", "another"} {
		if _, _, err := d.Put(ctx, strings.NewReader(text), 100); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

// TestVerify alters one thing after the other, at random, in any table: a cell, a row that is gone, a row that is
// there twice under another name, two rows with a cell exchanged. Each is found, against a checkpoint that was kept
// outside; without an alteration nothing is. FETTLE_TAMPERS says how many (10,000 for the whole campaign).
func TestVerifyPostgreSQLAndSQLite(t *testing.T) {
	times := 150
	if n, err := strconv.Atoi(os.Getenv("FETTLE_TAMPERS")); err == nil {
		times = n
	}
	both(t, func(t *testing.T, address string) {
		d := lived(t, at(t, address, monday))
		ctx := t.Context()
		point := must(d.Checkpoint(ctx, "test"))
		if _, err := d.Append(ctx, "J2", app.Change{Key: "later", By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: storetest.State("").Opened}}}}, nil); err != nil {
			t.Fatal(err)
		}
		if faults, err := d.Verify(ctx, point, must(d.Checkpoint(ctx, "test"))); err != nil || len(faults) > 0 {
			t.Fatalf("nothing was altered: %v %v", faults, err)
		}
		db := must(d.kind.open(d.kind.writeAddress()))
		defer db.Close()
		conn := must(db.Conn(ctx))
		defer conn.Close()
		if d.kind.postgres {
			must(conn.ExecContext(ctx, "set session_replication_role = replica"))
		} else {
			must(conn.ExecContext(ctx, "pragma foreign_keys = off"))
		}
		tamper := &tamper{t, d, conn, rand.New(rand.NewPCG(12, 19)), map[string]int{}}
		for range times {
			tamper.once(ctx, point)
		}
		t.Logf("altered and found: %v", tamper.done)
		for _, table := range append(tables(migrations), "versions") {
			if tamper.done[table] == 0 && times >= 150 && len(tamper.columns(ctx, table)) > 0 && tamper.rows(ctx, table) > 0 {
				t.Errorf("nothing was altered in %s", table)
			}
		}
	})
}

type tamper struct {
	t    *testing.T
	d    *Database
	conn *sql.Conn
	draw *rand.Rand
	done map[string]int
}

func (a *tamper) columns(ctx context.Context, table string) []string {
	rows := must(a.conn.QueryContext(ctx, "select * from "+table+" limit 0"))
	defer rows.Close()
	return must(rows.Columns())
}

func (a *tamper) rows(ctx context.Context, table string) (n int64) {
	if err := a.conn.QueryRowContext(ctx, "select count(*) from "+table).Scan(&n); err != nil {
		a.t.Fatal(err)
	}
	return n
}

// row is any row of a table.
func (a *tamper) row(ctx context.Context, table string, columns int, rows int64) []any {
	cells, places := make([]any, columns), make([]any, columns)
	for i := range cells {
		places[i] = &cells[i]
	}
	if err := a.conn.QueryRowContext(ctx, fmt.Sprintf("select * from %s order by 1, 2 limit 1 offset %d", table, a.draw.Int64N(rows))).Scan(places...); err != nil {
		a.t.Fatal(err)
	}
	return cells
}

// once alters something in a transaction, verifies in it and takes it back.
func (a *tamper) once(ctx context.Context, point ledger.Checkpoint) {
	a.t.Helper()
	all := append(tables(migrations), "versions")
	table := all[a.draw.IntN(len(all))]
	rows := a.rows(ctx, table)
	if rows == 0 {
		return
	}
	columns := a.columns(ctx, table)
	row := a.row(ctx, table, len(columns), rows)
	must(a.conn.ExecContext(ctx, "begin"))
	defer func() { must(a.conn.ExecContext(ctx, "rollback")) }()
	what, err := a.alter(ctx, table, columns, row, a.row(ctx, table, len(columns), rows))
	if err != nil || what == "" {
		return // the database refused it, or it was none
	}
	v := &verifier{ctx: ctx, from: a.conn, rows: map[string]int64{}, leaves: map[leafKind]int64{}}
	err = v.all([]ledger.Checkpoint{point})
	if err == nil && len(v.faults) == 0 {
		a.t.Errorf("%s: %s %v: nothing was found", table, what, row)
	}
	a.done[table]++
}

// alter alters a row of a table; other is another one of it.
func (a *tamper) alter(ctx context.Context, table string, columns []string, row, other []any) (what string, err error) {
	where, args := "", []any{}
	for i, c := range columns {
		if row[i] != nil {
			args = append(args, row[i])
			where += fmt.Sprintf(" and %s = $%d", c, len(args))
		}
	}
	at := a.draw.IntN(len(columns))
	switch op := a.draw.IntN(6); {
	case op == 0:
		what = "a row is gone"
		_, err = a.conn.ExecContext(ctx, "delete from "+table+" where true"+where, args...)
	case op == 1:
		what = "a row was added"
		added := append([]any{}, row...)
		added[0] = a.other(added[0])
		_, err = a.conn.ExecContext(ctx, insertText(table, strings.Join(columns, ", "), 1, len(columns)), added...)
	default:
		now := a.other(row[at])
		if op == 2 {
			now = other[at]
		}
		if fmt.Sprint(now) == fmt.Sprint(row[at]) {
			return "", nil
		}
		what = fmt.Sprintf("%s is now %v", columns[at], now)
		args = append(args, now)
		_, err = a.conn.ExecContext(ctx, fmt.Sprintf("update %s set %s = $%d where true%s", table, columns[at], len(args), where), args...)
	}
	return what, err
}

// other is another value of the same kind.
func (a *tamper) other(v any) any {
	switch v := v.(type) {
	case int64:
		return v + []int64{-1, 1, 2, 1000}[a.draw.IntN(4)]
	case []byte:
		out := append([]byte{}, v...)
		out[a.draw.IntN(len(out))] ^= 1 << a.draw.IntN(8)
		return out
	case string:
		switch at := a.draw.IntN(len(v) + 1); {
		case at == len(v):
			return v + []string{" ", "x", "0"}[a.draw.IntN(3)]
		case a.draw.IntN(3) == 0:
			return v[:at]
		default:
			return v[:at] + string(rune('0'+a.draw.IntN(70))) + v[at+1:]
		}
	}
	return "x"
}

// A log that was made anew whole is sound in itself, and is not the one of the checkpoint that was kept outside; one that was
// rolled back is shorter.
func TestVerifyAgainstOutside(t *testing.T) {
	d := lived(t, at(t, filepath.Join(t.TempDir(), "one.db"), monday))
	ctx := t.Context()
	point := must(d.Checkpoint(ctx, "test"))
	anew := lived(t, at(t, filepath.Join(t.TempDir(), "other.db"), monday))
	for name, c := range map[string]struct {
		d    *Database
		keep []ledger.Checkpoint
		want bool
	}{"made anew, nothing kept": {anew, nil, false}, "made anew": {anew, []ledger.Checkpoint{point}, true},
		"rolled back": {d, []ledger.Checkpoint{{Size: point.Size + 1}}, true}, "as it was": {d, []ledger.Checkpoint{point}, false}} {
		faults, err := c.d.Verify(ctx, c.keep...)
		if err != nil || (len(faults) > 0) != c.want {
			t.Errorf("%s: %v %v", name, faults, err)
		}
	}
}
