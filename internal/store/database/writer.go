package database

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"maps"
	"strconv"
	"strings"
	"sync"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// mostAgain is how long a transaction that failed through no fault of its own is tried again.
var mostAgain = 15 * time.Second

// How many changes are committed together at most, with which pauses a transaction is tried again, how long one may
// take, and how long a program waits for its turn.
const (
	mostInGroup = 256
	firstPause  = 10 * time.Millisecond
	mostPause   = 500 * time.Millisecond
	mostTime    = 30 * time.Second
	mostTurn    = 5 * time.Second
)

// writer is the one goroutine that writes.
type writer struct {
	kind   kind
	writes *sql.DB
	queue  chan *request
	turns  *safefile.Queue // of all programs that write into a file of SQLite; nil: there is none
	ended  chan struct{}   // closed when nothing is taken any more
	once   sync.Once
	served sync.WaitGroup

	conn  *sql.Conn // nil: none yet, or the last was lost
	stmts map[string]*sql.Stmt
	edge  edge

	woken woken
}

// request is one change that waits for the writer.
type request struct {
	ctx   context.Context
	do    func(*Tx) error
	err   error
	panic any
	done  chan struct{}
}

// Write does something in a transaction, and returns once that is safe on the disk, or is not and never was
// there: what do returns as an error is not written. Do may be called more than once, when a
// transaction is tried again, also after one that was committed without our hearing of it: it has
// to find that out by itself. Everything that is written goes this way.
func (d *Database) Write(ctx context.Context, do func(*Tx) error) error {
	r := &request{ctx: ctx, do: do, done: make(chan struct{})}
	select {
	case <-d.ended:
		return &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: d.kind.name(), Msg: "the store was closed"}
	case <-ctx.Done():
		return ctx.Err()
	case d.queue <- r:
	}
	<-r.done
	if r.panic != nil {
		panic(r.panic) // where it can be told whose change it was
	}
	return r.err
}

func (d *Database) stop() {
	d.once.Do(func() { close(d.ended) })
	d.served.Wait()
}

func (d *Database) serve() {
	defer d.served.Done()
	for {
		select {
		case <-d.ended:
			return
		case first := <-d.queue:
			d.group(d.waiting(first))
		}
	}
}

// waiting is a change and those that came since the last commit.
func (d *Database) waiting(first *request) []*request {
	group := []*request{first}
	for len(group) < mostInGroup {
		select {
		case r := <-d.queue:
			group = append(group, r)
		default:
			return group
		}
	}
	return group
}

// group writes changes in one transaction and answers them. Where one of them failed after it had written something, all
// of it is undone, and each is written in a transaction of its own.
func (d *Database) group(group []*request) {
	if err := d.tried(group); errors.Is(err, errSpoiled) {
		for _, r := range group {
			d.answer(r, d.tried([]*request{r}))
		}
	} else {
		for _, r := range group {
			d.answer(r, err)
		}
	}
}

// errSpoiled says that a change failed after it had written something.
var errSpoiled = errors.New("a change has to be undone")

// tried is attempts, while they fail through no fault of their own.
func (d *Database) tried(group []*request) (err error) {
	for began, pause := time.Now(), firstPause; ; pause = min(2*pause, mostPause) {
		if err = d.attempt(group); !d.kind.again(err) || time.Since(began) > mostAgain {
			return err
		}
		time.Sleep(pause)
	}
}

// answer tells the author of a change what became of it, and of the transaction it was in.
func (d *Database) answer(r *request, err error) {
	if r.err == nil && r.panic == nil && !errors.Is(err, errSpoiled) {
		r.err = err
	}
	if e := (driverError{}); errors.As(r.err, &e) {
		r.err = unusable(d.kind.name(), r.err)
	}
	close(r.done)
}

// attempt is one transaction. Its error concerns all of it; the errors of single changes are in them.
func (d *Database) attempt(group []*request) error {
	defer d.turn()()
	ctx, cancel := d.bounded()
	defer cancel()
	t, err := d.beginTx(ctx)
	if err == nil {
		err = t.sameVersion()
	}
	if err == nil {
		for _, r := range group {
			if err = t.change(r); err != nil {
				break
			}
		}
	}
	if err == nil {
		err = t.writeLog()
	}
	if err == nil && len(t.fresh) > 0 {
		err = t.tellOthers()
	}
	if err == nil {
		err = t.run("commit")
	}
	if err != nil {
		d.rollback(ctx)
		return err
	}
	d.edge = t.log
	d.folded.keep(t.folds)
	if len(t.fresh) > 0 {
		d.woken.tell()
	}
	return nil
}

// bounded is the time for a transaction. On SQLite nothing waits for another machine, and asking for
// a time costs some.
func (d *Database) bounded() (context.Context, context.CancelFunc) {
	if d.kind.postgres {
		return context.WithTimeout(context.Background(), mostTime)
	}
	return context.Background(), func() {}
}

// turn waits until this program may write into a file of SQLite, and returns what passes the turn on. SQLite itself keeps writers
// apart, but whoever comes at the right moment is next; the turn is a courtesy among our programs, so that none waits for
// ever. Where it does not come in time, because a program was halted that has it, and where there are no turns, we go without.
func (d *Database) turn() (pass func()) {
	if d.turns == nil || d.turns.Turn(mostTurn) != nil {
		return func() {}
	}
	return d.turns.Pass
}

// rollback ends a transaction that failed; a connection that cannot do it is given up.
func (d *Database) rollback(ctx context.Context) {
	if d.conn == nil {
		return
	}
	if _, err := d.conn.ExecContext(ctx, "rollback"); err != nil || d.kind.postgres && d.conn.PingContext(ctx) != nil {
		d.lose()
	}
}

// lose gives the connection up.
func (d *Database) lose() {
	if d.conn == nil {
		return
	}
	for _, s := range d.stmts {
		s.Close() // of a connection that is given up
	}
	d.conn.Raw(func(any) error { return driver.ErrBadConn }) // with any other error it would stay open, and with it what it holds
	d.conn, d.stmts = nil, nil
}

// beginTx begins a transaction, on a new connection where there is none.
func (d *Database) beginTx(ctx context.Context) (*Tx, error) {
	if d.conn == nil {
		conn, err := d.writes.Conn(ctx)
		if err != nil {
			return nil, ofDriver(err)
		}
		if err := d.kind.check(ctx, conn); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
		d.conn, d.stmts = conn, map[string]*sql.Stmt{}
	}
	t := &Tx{db: d, ctx: ctx, folds: map[string]folded{}, log: d.edge}
	for _, words := range d.kind.begin() {
		if err := t.run(words); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// Tx is a transaction that writes. It is good until do returns.
type Tx struct {
	db    *Database
	ctx   context.Context
	folds map[string]folded // jobs as the transaction leaves them
	outer map[string]folded // and as the changes before it in the same transaction do
	fresh []leaf            // to be put into the log
	log   edge
	wrote bool
}

// change does one change. Its error is one of the transaction.
func (t *Tx) change(r *request) error {
	r.err, r.panic = r.ctx.Err(), nil
	if r.err != nil {
		return nil
	}
	own := &Tx{db: t.db, ctx: t.ctx, folds: map[string]folded{}, outer: t.folds, fresh: t.fresh, log: t.log}
	r.panic, r.err = called(r.do, own)
	e := driverError{}
	switch {
	case r.err == nil && r.panic == nil:
		t.fresh = own.fresh
		maps.Copy(t.folds, own.folds)
	case t.db.kind.again(r.err):
		return r.err
	case own.wrote || errors.As(r.err, &e):
		return errSpoiled
	}
	return nil
}

// called is what a function returned, or ended in.
func called(do func(*Tx) error, t *Tx) (panicked any, err error) {
	defer func() { panicked = recover() }()
	return nil, do(t)
}

// run carries out words that need no preparing.
func (t *Tx) run(words string) error {
	_, err := t.db.conn.ExecContext(t.ctx, words)
	return ofDriver(err)
}

// stmt is a statement that was prepared on the connection.
func (t *Tx) stmt(query string) (*sql.Stmt, error) {
	if s := t.db.stmts[query]; s != nil {
		return s, nil
	}
	s, err := t.db.conn.PrepareContext(t.ctx, query)
	if err == nil {
		t.db.stmts[query] = s
	}
	return s, ofDriver(err)
}

// Exec carries out a statement and says how many rows it was about. The text is always a constant.
func (t *Tx) Exec(query string, args ...any) (int64, error) {
	t.wrote = true
	s, err := t.stmt(query)
	if err != nil {
		return 0, err
	}
	res, err := s.ExecContext(t.ctx, args...)
	if err != nil {
		return 0, ofDriver(err)
	}
	n, err := res.RowsAffected()
	return n, ofDriver(err)
}

// insert puts rows into a table, many with one statement; the text of it has no values.
func (t *Tx) insert(table, columns string, rows [][]any) error {
	for len(rows) > 0 {
		n := 1
		for _, size := range []int{64, 8} {
			if len(rows) >= size {
				n = size
				break
			}
		}
		text, args := insertText(table, columns, n, len(rows[0])), []any(nil)
		for _, row := range rows[:n] {
			args = append(args, row...)
		}
		if _, err := t.Exec(text, args...); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

// insertText is the statement for so many rows of so many cells.
func insertText(table, columns string, rows, cells int) string {
	var b strings.Builder
	b.WriteString("insert into " + table + " (" + columns + ") values ")
	for i := range rows * cells {
		switch {
		case i == 0:
			b.WriteString("($")
		case i%cells == 0:
			b.WriteString("), ($")
		default:
			b.WriteString(", $")
		}
		b.WriteString(strconv.Itoa(i + 1))
	}
	return b.String() + ")"
}

// Query asks for rows, each of which is scanned. The text is always a constant.
func (t *Tx) Query(query string, args []any, each func(scan func(...any) error) error) error {
	s, err := t.stmt(query)
	if err != nil {
		return err
	}
	rows, err := s.QueryContext(t.ctx, args...)
	return eachRow(rows, err, each)
}

// Read asks for rows beside the writer, each of which is scanned. The text is always a constant.
func (d *Database) Read(ctx context.Context, query string, args []any, each func(scan func(...any) error) error) error {
	rows, err := d.reads.QueryContext(ctx, query, args...)
	return unavailable(d.kind.name(), eachRow(rows, err, each))
}

func eachRow(rows *sql.Rows, err error, each func(scan func(...any) error) error) error {
	if err != nil {
		return ofDriver(err)
	}
	for rows.Next() {
		if err := each(rows.Scan); err != nil {
			return errors.Join(err, rows.Close())
		}
	}
	return ofDriver(errors.Join(rows.Err(), rows.Close()))
}
