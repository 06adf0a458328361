package database

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// lived is a store with something in every table that the program writes: changes, an erasure, lists, a body, bytes,
// files set aside, tasks in all states, and rows that changed, went and came again. Each is told after every step.
func lived(t *testing.T, s Settings, each func(d *Database)) *Database {
	t.Helper()
	filled(t, s)
	d := opened(t, s)
	changed(t, d, each)
	trusts(t, d, each)
	tasked(t, d, each)
	return d
}

// changed makes changes of jobs.
func changed(t *testing.T, d *Database, each func(d *Database)) {
	t.Helper()
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
		each(d)
	}
	for _, waits := range []string{"parts", "a review", "parts"} {
		if err := d.Index(ctx, "J2", 1, func(app.Shown) app.Shown {
			return app.Shown{Title: "Grey van", Plate: "AB 1", Waits: waits, On: "p-1", Act: "P-1", Since: "2026-03-02T08:00:00Z", Judged: "2026-03-02"}
		}); err != nil {
			t.Fatal(err)
		}
		each(d)
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
	for _, text := range []string{"a photo", "another"} {
		hash, _, err := d.Put(ctx, strings.NewReader(text), 100)
		if err == nil {
			err = d.NoteBrought(ctx, "north", hash)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	each(d)
}

// trusts changes rows that have to be trusted.
func trusts(t *testing.T, d *Database, each func(d *Database)) {
	t.Helper()
	ctx, day := t.Context(), unit.Date{Year: 2026, Month: 3, Day: 2}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		each(d)
	}
	for _, reason := range []string{"A claim at court", "Asked for by the insurer"} {
		h, err := d.BeginHold(ctx, "J2", "p-1", reason)
		must(err)
		if reason == "A claim at court" {
			_, err = d.EndHold(ctx, h.ID)
			must(err)
		}
	}
	for i := range 3 {
		must(d.Set(ctx, "origin", fmt.Sprint("shop ", i)))
		must(d.Set(ctx, "gone", []string{"now", "", "again"}[i]))
	}
	must(d.Set(ctx, "gone", ""))
	p, err := d.BeginPause(ctx, "backup", time.Hour)
	must(err)
	must(d.ProlongPause(ctx, p.ID, 2*time.Hour))
	q, err := d.BeginPause(ctx, "backup", time.Hour)
	must(err)
	must(d.EndPause(ctx, q.ID))
	must(d.HandBack(ctx, "J1", "p-1", day))
	must(d.HandBack(ctx, "J1", "p-2", day.AddDays(1)))
	accounts := d.Accounts()
	for i := range 3 { // rows that come, change, go and come again
		must(accounts.Change(ctx, func(tx account.Tx) error {
			var all []error
			for _, k := range account.Kinds() {
				r := account.Record{Kind: k, ID: "one", Person: "p-1", Shop: "a", Key: fmt.Sprint(k, " ", i), Ends: monday().Add(time.Duration(i) * time.Hour), Data: fmt.Sprint(i)}
				other := account.Record{Kind: k, ID: "other", Data: fmt.Sprint(i)}
				all = append(all, tx.Put(r), tx.Put(other))
				if i == 1 {
					all = append(all, tx.Drop(k, "other"))
				}
			}
			return errors.Join(all...)
		}))
	}
	old := storetest.State("J3")
	old.Opened = day.AddDays(-20)
	_, err = d.Create(ctx, "J3", app.Change{Key: "k", By: "p-1", Events: job.FromState(old)})
	must(err)
	must(d.SetAside(ctx, "J3", map[string][]byte{"note.txt": []byte("of the third")}))
	must(d.Index(ctx, "J3", 1, func(app.Shown) app.Shown { return app.Shown{Title: "Red van", Plate: "CD 2"} }))
	must(d.NoteBrought(ctx, "north", sumOf("a paper")))
	_, err = d.Append(ctx, "J2", app.Change{Key: "over", By: "p-1", Events: []job.Event{{Kind: job.JobHandedOver, Data: job.HandedOver{To: "north", By: "W1", On: day, Reason: "A bay is free"}}}}, nil)
	must(err)
	must(d.HandBack(ctx, "J3", "p-1", day.AddDays(-11)))
	_, err = d.RemoveJob(ctx, "J3", "p-1", 10)
	must(err)
}

// tasked has tasks done, stopped, given up and done again.
func tasked(t *testing.T, d *Database, each func(d *Database)) {
	t.Helper()
	ctx := t.Context()
	for i, end := range []app.TaskEnd{{State: app.TaskDone, Result: sumOf("a photo")}, {State: app.TaskWaiting, Fault: "the disk was full"}, {State: app.TaskFailed, Fault: "the mesh is open"}} {
		if _, err := d.Want(ctx, app.Wanted{Kind: "files", About: fmt.Sprint("J", i), By: "p-1", Input: "{}"}); err != nil {
			t.Fatal(err)
		}
		each(d)
		task, err := d.Claim(ctx, []app.TaskKind{"files"}, "w", time.Hour, 3)
		if err != nil || task == nil {
			t.Fatal(task, err)
		}
		each(d)
		for part := range 2 {
			if _, err := d.Hold(ctx, task, halt.Progress{Done: part, Of: 2}, 2*time.Hour); err != nil {
				t.Fatal(err)
			}
			each(d)
		}
		end.Due = monday().Add(time.Hour)
		if err := d.End(ctx, task, end); err != nil {
			t.Fatal(err)
		}
		each(d)
		if end.State == app.TaskFailed {
			err = d.Again(ctx, task.ID)
		}
		if err == nil && end.State != app.TaskDone {
			each(d)
			err = d.StopTask(ctx, task.ID)
		}
		if err != nil {
			t.Fatal(err)
		}
		each(d)
	}
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
		past := history{}
		d := lived(t, at(t, address, monday), func(d *Database) { past.note(t, d) })
		ctx := t.Context()
		point := must(d.Checkpoint(ctx, "test"))
		if _, err := d.Append(ctx, "J2", app.Change{Key: "later", By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: storetest.State("").Opened}}}}, nil); err != nil {
			t.Fatal(err)
		}
		for _, waits := range []string{"a review", "parts", "a person"} {
			if err := d.Index(ctx, "J2", 2, func(app.Shown) app.Shown { return app.Shown{Title: "Grey van", Plate: "AB 1", Waits: waits} }); err != nil {
				t.Fatal(err)
			}
			past.note(t, d)
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
		all := append(tables(migrations), "versions")
		tamper := &tamper{t, d, conn, rand.New(rand.NewPCG(12, 19)), past, map[string]int{}, map[string]int{}, 0}
		for i := range times {
			for range 20 { // the database refuses some, and some change nothing
				if tamper.once(ctx, point, all[i%len(all)]) {
					break
				}
			}
		}
		tamper.earlier(ctx, point)
		altered := 0
		for _, n := range tamper.done {
			altered += n
		}
		false := 0
		for range max(1, times/100) {
			if faults, err := d.Verify(ctx, point); err != nil || len(faults) > 0 {
				false++
				t.Errorf("nothing is altered any more: %v %v", faults, err)
			}
		}
		t.Logf("%d draws, %d alterations, %d missed, %d false alarms in %d; of tables %v, rows put back %v", times, altered, tamper.missed, false, max(1, times/100), tamper.done, tamper.back)
		for _, table := range all {
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
	past history
	done map[string]int // alterations of a table
	back map[string]int // of them, rows that were put back whole to what they were earlier

	missed int
}

// history is rows as they were, by their table and the text of their key.
type history map[string]map[string][][]any

// note notes all rows as they are.
func (h history) note(t *testing.T, d *Database) {
	t.Helper()
	for _, table := range append(tables(migrations), "versions") {
		if h[table] == nil {
			h[table] = map[string][][]any{}
		}
		rows := must(d.reads.QueryContext(t.Context(), "select * from "+table))
		cols := must(rows.Columns())
		for rows.Next() {
			cells, places := make([]any, len(cols)), make([]any, len(cols))
			for i := range cells {
				places[i] = &cells[i]
			}
			if err := rows.Scan(places...); err != nil {
				t.Fatal(err)
			}
			key := fmt.Sprint(cells[:keyOf(table)]...)
			was := h[table][key]
			if len(was) == 0 || fmt.Sprint(was[len(was)-1]...) != fmt.Sprint(cells...) {
				h[table][key] = append(was, cells)
			}
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		rows.Close()
	}
}

// keyOf is how many of the columns of a table, the first ones, its key has.
func keyOf(table string) int {
	if slices.Contains([]string{"events", "requests", "terms", "library_files", "named", "brought"}, table) {
		return 2
	}
	return 1
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

// once alters something in a table in a transaction, verifies in it and takes it back. It says whether something was altered.
func (a *tamper) once(ctx context.Context, point ledger.Checkpoint, table string) bool {
	a.t.Helper()
	rows := a.rows(ctx, table)
	columns := a.columns(ctx, table)
	if rows == 0 { // all of their columns are texts
		return a.tried(ctx, point, table, func() (string, error) {
			row := slices.Repeat([]any{a.other("row")}, len(columns))
			_, err := a.conn.ExecContext(ctx, insertText(table, strings.Join(columns, ", "), 1, len(columns)), row...)
			return "a row where none was", err
		})
	}
	row := a.row(ctx, table, len(columns), rows)
	return a.tried(ctx, point, table, func() (string, error) {
		return a.alter(ctx, table, columns, row, a.row(ctx, table, len(columns), rows))
	})
}

// tried alters something in a transaction, verifies in it and takes it back.
func (a *tamper) tried(ctx context.Context, point ledger.Checkpoint, table string, alter func() (what string, err error)) bool {
	a.t.Helper()
	must(a.conn.ExecContext(ctx, "begin"))
	defer func() { must(a.conn.ExecContext(ctx, "rollback")) }()
	what, err := alter()
	if err != nil || what == "" {
		return false // the database refused it, or it was none
	}
	v := &verifier{ctx: ctx, from: a.conn, rows: map[string]int64{}, leaves: map[leafKind]int64{}}
	err = v.all([]ledger.Checkpoint{point})
	if err == nil && len(v.faults) == 0 {
		a.t.Errorf("%s: %s: nothing was found", table, what)
		a.missed++
	}
	if a.done[table]++; strings.HasPrefix(what, putBack) {
		a.back[table]++
	}
	return true
}

// withoutLeaves is the table whose rows have sums alone: one that was taken away, or put back to what it was, is not found. Nothing that has to be
// trusted stands in it.
const withoutLeaves = "passing"

// earlier puts every row of every table back to everything it ever was, one at a time.
func (a *tamper) earlier(ctx context.Context, point ledger.Checkpoint) {
	a.t.Helper()
	for table, rows := range a.past {
		if table == withoutLeaves {
			continue
		}
		columns := a.columns(ctx, table)
		for _, was := range rows {
			for _, row := range was {
				a.tried(ctx, point, table, func() (string, error) { return a.putBack(ctx, table, columns, row) })
			}
		}
	}
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
	switch op := a.draw.IntN(8); {
	case table == withoutLeaves && (op >= 6 || op == 0):
		return "", nil
	case op >= 6:
		var all [][]any
		for _, key := range slices.Sorted(maps.Keys(a.past[table])) {
			all = append(all, a.past[table][key]...)
		}
		return a.putBack(ctx, table, columns, all[a.draw.IntN(len(all))])
	case op == 0:
		what = fmt.Sprint("a row is gone: ", row)
		_, err = a.conn.ExecContext(ctx, "delete from "+table+" where true"+where, args...)
	case op == 1:
		what = fmt.Sprint("a row was added beside ", row)
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
		what = fmt.Sprintf("%s of %v is now %v", columns[at], row, now)
		args = append(args, now)
		_, err = a.conn.ExecContext(ctx, fmt.Sprintf("update %s set %s = $%d where true%s", table, columns[at], len(args), where), args...)
	}
	return what, err
}

const putBack = "a row is as it was earlier"

// putBack puts a row of a table back to what it was earlier, with its salts and sums; also one that is gone since.
func (a *tamper) putBack(ctx context.Context, table string, columns []string, row []any) (what string, err error) {
	n := keyOf(table)
	where := ""
	for i, c := range columns[:n] {
		where += fmt.Sprintf(" and %s = $%d", c, i+1)
	}
	now := make([]any, len(columns))
	places := make([]any, len(columns))
	for i := range now {
		places[i] = &now[i]
	}
	err = a.conn.QueryRowContext(ctx, "select * from "+table+" where true"+where, row[:n]...).Scan(places...)
	if err == nil && fmt.Sprint(now...) == fmt.Sprint(row...) {
		return "", nil
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", err
	}
	if _, err := a.conn.ExecContext(ctx, "delete from "+table+" where true"+where, row[:n]...); err != nil {
		return "", err
	}
	_, err = a.conn.ExecContext(ctx, insertText(table, strings.Join(columns, ", "), 1, len(columns)), row...)
	return fmt.Sprint(putBack, ": ", row), err
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
	d := lived(t, at(t, filepath.Join(t.TempDir(), "one.db"), monday), func(*Database) {})
	ctx := t.Context()
	point := must(d.Checkpoint(ctx, "test"))
	anew := lived(t, at(t, filepath.Join(t.TempDir(), "other.db"), monday), func(*Database) {})
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

// TestTrustedTables: of every such table each column is hashed, and the kinds of their leaves differ.
func TestTrustedTables(t *testing.T) {
	d := opened(t, at(t, filepath.Join(t.TempDir(), "one.db"), monday))
	kinds := map[leafKind]string{}
	for _, k := range trustedTables {
		rows := must(d.reads.QueryContext(t.Context(), "select * from "+k.table))
		have, want := must(rows.Columns()), k.all()
		rows.Close()
		slices.Sort(have)
		slices.Sort(want)
		if !slices.Equal(have, want) {
			t.Errorf("%s has %v, and is hashed with %v", k.table, have, want)
		}
		for _, c := range k.sealed {
			if !slices.Contains(k.columns, c) {
				t.Errorf("%s has no column %s to be sealed", k.table, c)
			}
		}
		if was := kinds[k.kind]; was != "" {
			t.Errorf("%s and %s have leaves of one kind", was, k.table)
		}
		kinds[k.kind] = k.table
	}
}
