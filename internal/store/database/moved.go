package database

import (
	"context"
)

// Ready says whether the database answers.
func (d *Database) Ready(ctx context.Context) error {
	var n int
	return unavailable(d.kind.name(), d.reads.QueryRowContext(ctx, "select count(*) from versions").Scan(&n))
}

// Move is a leaf of the log, as those hear of it who wait for what is new: what it is about, and no more.
type Move struct {
	N    int64  // of the leaf: they have one order, for all programs
	Kind string // event: of a job
	Name string // of the job, or of another thing
	Seq  int64  // of the event
}

// Moved is what was written behind a leaf, oldest first, so many at most.
func (d *Database) Moved(ctx context.Context, after int64, most int) (out []Move, err error) {
	rows, err := d.reads.QueryContext(ctx, "select n, kind, name, seq from leaves where n > $1 order by n limit $2", after, most)
	if err != nil {
		return nil, unavailable(d.kind.name(), err)
	}
	defer func() { err = unavailable(d.kind.name(), firstOf(err, rows.Close())) }()
	for rows.Next() {
		var m Move
		if err := rows.Scan(&m.N, &m.Kind, &m.Name, &m.Seq); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, rows.Err()
}

// Newest is the newest leaf; -1 where there is none.
func (d *Database) Newest(ctx context.Context) (int64, error) {
	var n int64
	err := d.reads.QueryRowContext(ctx, "select coalesce(max(n), -1) from leaves").Scan(&n)
	return n, unavailable(d.kind.name(), err)
}

func firstOf(a, b error) error {
	if a != nil {
		return a
	}
	return b
}
