package database

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"golang.org/x/mod/sumdb/tlog"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
)

// Fault is something in a database that is not as it was written.
type Fault struct {
	Where string // a job, a table, the log
	Msg   string
}

// Verify reads all rows as they are at one moment, while others go on, and says what is not as it was written: each
// chain by its hashes, each event, content and row by its leaf, the tree by its leaves, what is derived by
// deriving it again, and the rest by the sum of its row. The log has to go on from checkpoints that were kept
// outside; without one, whoever made all of it anew is not found. The bytes that rows name are not read.
func (d *Database) Verify(ctx context.Context, outside ...ledger.Checkpoint) (faults []Fault, err error) {
	tx, err := d.reads.BeginTx(ctx, &sql.TxOptions{Isolation: d.kind.snapshot(), ReadOnly: d.kind.postgres})
	if err != nil {
		return nil, unavailable(d.kind.name(), err)
	}
	defer func() { err = unavailable(d.kind.name(), errors.Join(err, tx.Rollback())) }()
	v := &verifier{ctx: ctx, from: tx, rows: map[string]int64{}, leaves: map[leafKind]int64{}}
	err = v.all(outside)
	return v.faults, err
}

type verifier struct {
	ctx    context.Context
	from   asker
	faults []Fault
	rows   map[string]int64   // seen of each table
	leaves map[leafKind]int64 // that something was found for
}

// mostFaults is when nothing more is told.
const mostFaults = 1000

var errEnough = errors.New("there are too many faults")

func (v *verifier) fault(where, msg string, args ...any) error {
	v.faults = append(v.faults, Fault{where, fmt.Sprintf(msg, args...)})
	if len(v.faults) >= mostFaults {
		return errEnough
	}
	return v.ctx.Err()
}

// query asks for rows of a table, which are counted.
func (v *verifier) query(table, text string, args []any, each func(scan func(...any) error) error) error {
	rows, err := v.from.QueryContext(v.ctx, text, args...)
	return eachRow(rows, err, func(scan func(...any) error) error {
		v.rows[table]++
		return each(scan)
	})
}

// pageOf is how many rows are read at once, before others are asked for.
const pageOf = 2000

func (v *verifier) all(outside []ledger.Checkpoint) error {
	for _, part := range []func() error{func() error { return v.log(outside) }, v.versions, v.jobs, v.blobs, v.library, v.asides, v.tasks, v.trusted, v.passing, v.brought, v.removed, v.gone, v.counts} {
		if err := part(); err != nil {
			if errors.Is(err, errEnough) {
				return nil
			}
			return err
		}
	}
	return nil
}

// log makes the tree anew out of the leaves.
func (v *verifier) log(outside []ledger.Checkpoint) error {
	size, nodes := int64(0), map[int64]tlog.Hash{}
	for {
		var page []leaf
		err := v.query("leaves", "select n, "+leafColumns+" from leaves where n >= $1 order by n limit $2", []any{size, pageOf}, func(scan func(...any) error) error {
			var n int64
			var l leaf
			if err := scan(&n, &l.kind, &l.name, &l.seq, &l.hash, &l.request); err != nil {
				return err
			}
			if page = append(page, l); n != size+int64(len(page))-1 {
				return v.cut("leaf %d follows on leaf %d", n, size+int64(len(page))-2)
			}
			return nil
		})
		if err == nil {
			err = v.grow(page, size, nodes, outside)
		}
		if errors.Is(err, errCut) {
			return nil
		}
		if err != nil || len(page) == 0 {
			return err
		}
		size += int64(len(page))
	}
}

var errCut = errors.New("what follows cannot be read")

// cut is a fault behind which the log says nothing.
func (v *verifier) cut(msg string, args ...any) error {
	return errors.Join(v.fault("the log", msg, args...), errCut)
}

// grow adds leaves to the tree, whose nodes have to be those there are; with none it is the end.
func (v *verifier) grow(page []leaf, size int64, nodes map[int64]tlog.Hash, outside []ledger.Checkpoint) error {
	var want [][]any
	from := tlog.StoredHashCount(size)
	for i, l := range page {
		rows, err := l.nodes(size+int64(i), nodes)
		if err != nil {
			return v.cut("leaf %d: %v", size+int64(i), err)
		}
		want = append(want, rows...)
		now, keep := size+int64(i)+1, map[int64]tlog.Hash{}
		for _, at := range places(now) {
			keep[at] = nodes[at]
		}
		clear(nodes)
		for at, h := range keep {
			nodes[at] = h
		}
		if err := v.against(outside, now, nodes); err != nil {
			return err
		}
	}
	if len(page) == 0 {
		for _, c := range outside {
			if c.Size > size {
				return v.cut("it has %d leaves, and had %d", size, c.Size)
			}
		}
	}
	at, text, args := 0, "select at, hash from nodes where at >= $1 and at < $2 order by at", []any{from, tlog.StoredHashCount(size + int64(len(page)))}
	if len(page) == 0 {
		text, args = "select at, hash from nodes where at >= $1 or at < 0 order by at", args[:1]
	}
	err := v.query("nodes", text, args, func(scan func(...any) error) error {
		var n int64
		var hash []byte
		if err := scan(&n, &hash); err != nil {
			return err
		}
		if at >= len(want) || want[at][0] != n || !bytes.Equal(want[at][1].([]byte), hash) {
			return v.cut("node %d of its tree is not the one of its leaves", n)
		}
		at++
		return nil
	})
	if err == nil && at < len(want) {
		err = v.cut("nodes of its tree are not there")
	}
	return err
}

// against holds the log as it was with so many leaves against checkpoints.
func (v *verifier) against(outside []ledger.Checkpoint, size int64, nodes map[int64]tlog.Hash) error {
	for _, c := range outside {
		if c.Size != size {
			continue
		}
		root, err := tlog.TreeHash(size, tlog.HashReaderFunc(func(at []int64) ([]tlog.Hash, error) {
			out := make([]tlog.Hash, len(at))
			for i, n := range at {
				out[i] = nodes[n]
			}
			return out, nil
		}))
		if err != nil {
			return err
		}
		if ledger.Hash(root) != c.Root {
			if err := v.fault("the log", "its first %d leaves are not those of the checkpoint that was kept outside", size); err != nil {
				return err
			}
		}
	}
	return nil
}

// versions are those that this program knows, as they were noted.
func (v *verifier) versions() error {
	n := 0
	err := v.query("versions", "select version, name, sum, program, at, backup, seal from versions order by version", nil, func(scan func(...any) error) error {
		var number int64
		var name, sum, program, at, backup, seal string
		if err := scan(&number, &name, &sum, &program, &at, &backup, &seal); err != nil {
			return err
		}
		n++
		if n > len(migrations) || number != int64(n) || name != migrations[n-1].name || sum != migrations[n-1].sum() || seal != rowSum("version", number, name, sum, program, at, backup) {
			return v.fault("versions", "row %d is not the one that was written", number)
		}
		return nil
	})
	if err == nil && n != len(migrations) {
		err = v.fault("versions", "it has %d rows, and the tables are of version %d", n, len(migrations))
	}
	return err
}

// jobs are gone through one after the other.
func (v *verifier) jobs() error {
	last := ""
	for {
		var page []jobRow
		err := v.query("jobs", "select id, seq, hash, changed, vehicle, title, plate, waits, whom, owner, shown, salt, sum, act, since, judged from jobs where id > $1 or $1 = '' order by id limit $2", []any{last, pageOf}, func(scan func(...any) error) error {
			var r jobRow
			err := scan(&r.ID, &r.Head.Seq, &r.Head.Hash, &r.Changed, &r.Vehicle, &r.Title, &r.Plate, &r.Waits, &r.On, &r.Owner, &r.shown, &r.salt, &r.sum, &r.Act, &r.Since, &r.Judged)
			page = append(page, r)
			return err
		})
		if err != nil {
			return err
		}
		for _, r := range page {
			if err := v.job(r); err != nil {
				return err
			}
			last = r.ID
		}
		if len(page) < pageOf {
			return nil
		}
	}
}

type jobRow struct {
	app.JobLine
	shown     int64
	salt, sum string
}

func (v *verifier) job(r jobRow) error {
	var c ledger.Chain
	if err := v.query("events", "select "+eventColumns+" from events where job = $1 order by seq", []any{r.ID}, scanInto(&c)); err != nil {
		if diag.KindOf(err) == diag.Integrity {
			return v.fault(r.ID, "%v", err)
		}
		return err
	}
	s, err := job.Read(c)
	if err != nil {
		return v.fault(r.ID, "%v", err)
	}
	if seq, hash := s.Head(); seq != r.Head.Seq || hash != r.Head.Hash || s.At() != r.Changed {
		return v.fault(r.ID, "its newest event is not the one that is noted for it")
	}
	if r.shown == 0 && (r.Shown != app.Shown{} || r.salt+r.sum != "") || r.shown != 0 && r.sum != sumOfShown(r.ID, r.shown, r.Shown, r.salt) {
		return v.fault(r.ID, "what a list shows of it is not what was noted")
	}
	if r.shown != 0 {
		if err := v.content(ofLine, r.ID, r.sum); err != nil {
			return err
		}
	}
	if err := v.erasures(r.ID, c); err != nil {
		return err
	}
	if err := cmp.Or(v.found(r, s), v.belongs(r, c)); err != nil {
		return err
	}
	return v.requests(r.ID, c)
}

// erasures: a text is not there only where an event says that it was erased, and then it is gone.
func (v *verifier) erasures(id string, c ledger.Chain) error {
	erased := map[string]int64{}
	for _, e := range c {
		if e.What == string(job.TextsErased) {
			erased[e.About] = e.Seq
		}
	}
	for _, e := range c {
		var payload any
		if err := json.Unmarshal([]byte(e.Payload), &payload); err != nil {
			return v.fault(id, "event %d cannot be read", e.Seq)
		}
		sealed, gone := seals(payload), e.Seq < erased[e.About]
		if gone && len(e.Beside) > 0 {
			return v.fault(id, "texts beside event %d were erased, and are there", e.Seq)
		}
		if have := e.Unsealed(); !gone && len(have) != sealed {
			return v.fault(id, "beside event %d are %d texts, of %d that were written; nobody has erased them", e.Seq, len(have), sealed)
		}
	}
	return nil
}

// seals is how many different seals of texts are in a payload.
func seals(payload any) int {
	found := map[string]bool{}
	var look func(any)
	look = func(v any) {
		switch v := v.(type) {
		case string:
			if ledger.IsSeal(v) {
				found[v] = true
			}
		case []any:
			for _, x := range v {
				look(x)
			}
		case map[string]any:
			for _, x := range v {
				look(x)
			}
		}
	}
	look(payload)
	return len(found)
}

// found is what a job is found by.
func (v *verifier) found(r jobRow, s *job.Stored) error {
	vehicle, terms := app.JobTerms(r.ID, s)
	terms = append(terms, app.ShownTerms(r.Shown)...)
	slices.Sort(terms)
	var have []string
	err := v.query("terms", "select term from terms where job = $1 order by term", []any{r.ID}, func(scan func(...any) error) error {
		var term string
		err := scan(&term)
		have = append(have, term)
		return err
	})
	if err == nil && (vehicle != r.Vehicle || !slices.Equal(have, slices.Compact(terms))) {
		err = v.fault(r.ID, "what it is found by is not what its events say")
	}
	return err
}

// requests: each event belongs to one change, and has one leaf with the key of that.
func (v *verifier) requests(id string, c ledger.Chain) error {
	var keys []store.KeyOf
	if err := v.query("requests", "select key, first, events from requests where job = $1 order by first", []any{id}, scanKeys(&keys)); err != nil {
		return err
	}
	var want, have []leaf
	for _, k := range keys {
		if k.First != int64(len(want)+1) || k.Events < 1 || k.First+k.Events-1 > int64(len(c)) {
			break
		}
		for _, e := range c[k.First-1 : k.First+k.Events-1] {
			want = append(want, leaf{ofEvent, id, e.Seq, e.Hash, sumOf(k.Key)})
		}
	}
	if len(want) != len(c) {
		return v.fault(id, "the keys of its changes are not those of its events")
	}
	err := v.leavesOf(ofEvent, id, &have)
	if err == nil && !slices.Equal(have, want) {
		err = v.fault(id, "its events are not those of the log")
	}
	return err
}

func (v *verifier) leavesOf(kind leafKind, name string, have *[]leaf) error {
	rows, err := v.from.QueryContext(v.ctx, "select "+leafColumns+" from leaves where kind = $1 and name = $2 order by seq, n", string(kind), name)
	return eachRow(rows, err, func(scan func(...any) error) error {
		var l leaf
		err := scan(&l.kind, &l.name, &l.seq, &l.hash, &l.request)
		*have = append(*have, l)
		v.leaves[kind]++
		return err
	})
}

// content is a row: the newest leaf about it is that row.
func (v *verifier) content(kind leafKind, name, hash string) error {
	have, err := v.leavesAbout(kind, name)
	if err == nil && (len(have) == 0 || have[len(have)-1] != leaf{kind: kind, name: name, hash: hash}) {
		err = v.fault(string(kind)+" "+name, "its row is not the one of the log")
	}
	return err
}

// leavesAbout are the leaves about a row, the newest last.
func (v *verifier) leavesAbout(kind leafKind, name string) ([]leaf, error) {
	var have []leaf
	rows, err := v.from.QueryContext(v.ctx, "select "+leafColumns+" from leaves where kind = $1 and name = $2 order by n", string(kind), name)
	err = eachRow(rows, err, func(scan func(...any) error) error {
		var l leaf
		err := scan(&l.kind, &l.name, &l.seq, &l.hash, &l.request)
		have = append(have, l)
		v.leaves[kind]++
		return err
	})
	return have, err
}

// gone are the rows whose newest leaf says that they are no longer there.
func (v *verifier) gone() error {
	var names []leaf
	rows, err := v.from.QueryContext(v.ctx, "select distinct kind, name from leaves where hash = '' order by kind, name")
	err = eachRow(rows, err, func(scan func(...any) error) error {
		var l leaf
		err := scan(&l.kind, &l.name)
		names = append(names, l)
		return err
	})
	for _, l := range names {
		if err != nil {
			return err
		}
		before := v.leaves[l.kind]
		var have []leaf
		if have, err = v.leavesAbout(l.kind, l.name); err == nil && have[len(have)-1].hash != "" {
			v.leaves[l.kind] = before // it is there again, and was accounted for with its row
		}
	}
	return err
}

func (v *verifier) blobs() error {
	return v.paged("blobs", "select hash, hash, size, at from blobs where hash > $1 order by hash limit $2", func(cells []any) error {
		return v.content(ofBlob, fmt.Sprint(cells[0]), rowSum(cells...))
	})
}

func (v *verifier) library() error {
	return v.paged("library", "select hash, hash, at from library where hash > $1 order by hash limit $2", func(cells []any) error {
		files := map[string]any{}
		err := v.query("library_files", "select name, blob from library_files where library = $1", []any{cells[0]}, func(scan func(...any) error) error {
			var name, blob string
			err := scan(&name, &blob)
			files[name] = blob
			return err
		})
		if err != nil {
			return err
		}
		return v.content(ofLibrary, fmt.Sprint(cells[0]), rowSum(append(cells, files)...))
	})
}

func (v *verifier) asides() error {
	return v.paged("asides", "select job, library from asides where job > $1 order by job limit $2", func(cells []any) error {
		return v.content(ofAside, fmt.Sprint(cells[0]), fmt.Sprint(cells[1]))
	})
}

// tasks have sums of their own, and a leaf for each state.
func (v *verifier) tasks() error {
	var all []taskRow
	err := v.query("tasks", "select "+taskColumns+", salt, sum from tasks order by id", nil, func(scan func(...any) error) error {
		r, err := scanTask(scan)
		if diag.KindOf(err) == diag.Integrity {
			return v.fault("tasks", "%v", err)
		}
		all = append(all, r)
		return err
	})
	for _, r := range all {
		if err == nil {
			err = v.content(ofTask, r.ID, r.sum)
		}
	}
	return err
}

// paged goes through rows in pages; the first column is where the next page begins, and is left out where it stands twice.
func (v *verifier) paged(table, text string, each func(cells []any) error) error {
	for last := ""; ; {
		var page [][]any
		rows, err := v.from.QueryContext(v.ctx, text, last, pageOf)
		if err != nil {
			return err
		}
		cols, err := rows.Columns()
		err = eachRow(rows, err, func(scan func(...any) error) error {
			cells := make([]any, len(cols))
			places := make([]any, len(cols))
			for i := range cells {
				places[i] = &cells[i]
			}
			page = append(page, cells)
			v.rows[table]++
			return scan(places...)
		})
		for _, cells := range page {
			last = fmt.Sprint(cells[0])
			if len(cols) > 1 && cols[0] == cols[1] {
				cells = cells[1:]
			}
			if err == nil {
				err = each(cells)
			}
		}
		if err != nil || len(page) < pageOf {
			return err
		}
	}
}

// counts looks for rows that nothing led to.
func (v *verifier) counts() error {
	for _, table := range append(tables(migrations), "versions") {
		var n int64
		rows, err := v.from.QueryContext(v.ctx, "select count(*) from "+table)
		if err := eachRow(rows, err, func(scan func(...any) error) error { return scan(&n) }); err != nil {
			return err
		}
		if n == v.rows[table] {
			continue
		}
		if err := v.fault(table, "it has %d rows, and %d are accounted for", n, v.rows[table]); err != nil {
			return err
		}
	}
	rows, err := v.from.QueryContext(v.ctx, "select kind, count(*) from leaves group by kind")
	return eachRow(rows, err, func(scan func(...any) error) error {
		var kind leafKind
		var n int64
		if err := scan(&kind, &n); err != nil {
			return err
		}
		if n != v.leaves[kind] {
			return v.fault("the log", "it has %d leaves of the kind %q, and %d things have one", n, kind, v.leaves[kind])
		}
		return nil
	})
}

// rowForm is hashed with every row that has a sum.
const rowForm = "fettle-row 1"

// rowSum is the sum of the cells of a row; they are of the kinds that ledger.Canonical takes.
func rowSum(cells ...any) string {
	b, err := ledger.Canonical(map[string]any{"format": rowForm, "row": cells})
	if err != nil {
		return "no row: " + err.Error() // which no row has noted
	}
	return sumOf(string(b))
}

// sumOfShown is the sum of what a list shows of a job. The plate says whose a vehicle is: nobody can try plates out without the
// salt, which goes with it.
func sumOfShown(id string, at int64, s app.Shown, salt string) string {
	of := []any{"shown", id, strconv.FormatInt(at, 10), s.Title, s.Plate, s.Waits, s.On, salt}
	if s.Act+s.Since+s.Judged != "" { // rows that were noted before there were these have sums without them
		of = append(of, s.Act, s.Since, s.Judged)
	}
	return rowSum(of...)
}
