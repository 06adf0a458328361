package database

import (
	"context"
	"fmt"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store"
	"fettle/internal/unit"
)

// A shop keeps jobs for so many days after their vehicles were handed back. Then a person may remove them: their rows go,
// their leaves stay, and a row with a leaf of its own says when and by whom. Their photos and papers go by a sweep.

var (
	handedBackRows = &trusted{table: "handed_back", kind: ofHandedBack, name: "job", columns: []string{"seq", "day", "author", "at"}}
	removedRows    = &trusted{table: "removed", kind: ofRemoved, name: "job", columns: []string{"events", "hash", "day", "days", "author", "at"}}
)

// HandedBack is a job whose vehicle was handed back.
type HandedBack struct {
	Job, Day, By, At string
	Seq              int64     // of its newest event then
	Due              unit.Date // may be removed after that day; none where jobs are kept for ever
	Stays            string    // why it may not be removed; empty: it may
}

// Removed is a job that was removed.
type Removed struct {
	Job, Hash, Day, By, At string
	Events                 int64
	Days                   int64 // that jobs were kept for
}

// HandBack notes that the vehicle of a job was handed back on a day, in the place of what was noted before.
func (d *Database) HandBack(ctx context.Context, id, by string, on unit.Date) error {
	today := unit.DateOf(d.now())
	switch {
	case by == "" || on.IsZero():
		return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: "it says who notes it, and the day", Hint: "give both"}
	case today.AddDays(1).Before(on): // it is tomorrow already elsewhere
		return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: fmt.Sprintf("the day %s has not come yet", on), Hint: "note it when the vehicle was handed back"}
	}
	if err := store.CheckID(id); err != nil {
		return err
	}
	return d.Write(ctx, func(t *Tx) error {
		head, err := t.head(id)
		if err == nil && head.Seq == 0 {
			err = store.NoJob(id)
		}
		if err != nil {
			return err
		}
		now, err := t.read(id, head)
		if err != nil {
			return err
		}
		if opened := now.State().Opened; on.Before(opened) {
			return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: fmt.Sprintf("the day %s is before the job was opened, on %s", on, opened), Hint: "give the day on which the vehicle was handed back"}
		}
		return t.keep(handedBackRows, id, head.Seq, on.String(), by, t.now())
	})
}

// HandedBacks are the jobs whose vehicles were handed back, the one handed back first before all others, with what keeps each from being
// removed where jobs are kept for so many days; zero: for ever.
func (d *Database) HandedBacks(ctx context.Context, days int) ([]HandedBack, error) {
	return handedBacks(func(query string, args []any, each func(func(...any) error) error) error {
		return d.Read(ctx, query, args, each)
	}, "", unit.DateOf(d.now()), days)
}

// handedBacks are all of them, or the one of a job, judged on a day. It is the one rule: what it cannot make out stays.
func handedBacks(ask func(query string, args []any, each func(func(...any) error) error) error, id string, today unit.Date, days int) (out []HandedBack, err error) {
	err = ask("select job, seq, day, author, at from handed_back where $1 = '' or job = $1 order by day, job", []any{id}, func(scan func(...any) error) error {
		var h HandedBack
		err := scan(&h.Job, &h.Seq, &h.Day, &h.By, &h.At)
		out = append(out, h)
		return err
	})
	for i := range out {
		if err == nil {
			err = out[i].judge(ask, today, days)
		}
	}
	return out, err
}

// judge says until when a job is kept, and what keeps it beyond that.
func (h *HandedBack) judge(ask func(query string, args []any, each func(func(...any) error) error) error, today unit.Date, days int) error {
	var on unit.Date
	bad := on.UnmarshalText([]byte(h.Day))
	if bad == nil && days > 0 {
		h.Due = on.AddDays(days)
	}
	for _, c := range []struct{ why, query string }{
		{"it is on hold", "select 1 from holds where job = $1 and ended = '' limit 1"},
		{"something was recorded since its vehicle was handed back", "select 1 from events where job = $1 and seq > $2 and what <> $3 limit 1"},
		{"work about it waits or is being done", "select 1 from tasks where about = $1 and state in ('waiting', 'running') limit 1"},
	} {
		args := []any{h.Job}
		if strings.Contains(c.query, "$3") {
			args = append(args, h.Seq, string(job.TextsErased))
		}
		if err := ask(c.query, args, func(scan func(...any) error) error {
			var one int
			h.Stays = c.why
			return scan(&one)
		}); err != nil || h.Stays != "" {
			return err
		}
	}
	switch {
	case bad != nil || on.IsZero():
		h.Stays = "the day on which its vehicle was handed back cannot be read"
	case days <= 0:
		h.Stays = "jobs are kept for ever: settings.yaml says nothing else"
	case !h.Due.Before(today):
		h.Stays = fmt.Sprintf("it is kept until %s", h.Due)
	}
	return nil
}

// RemoveJob removes a job that was kept for so many days after its vehicle was handed back: all of its rows, in one. What else is
// there of it is in the log, and in the answer. Removed already, the answer is the same.
func (d *Database) RemoveJob(ctx context.Context, id, by string, days int) (r Removed, err error) {
	if by == "" {
		return r, &diag.Error{Kind: diag.Invalid, Op: "remove", Subject: id, Msg: "it says who removes it", Hint: "name yourself"}
	}
	if err := store.CheckID(id); err != nil {
		return r, err
	}
	err = d.Write(ctx, func(t *Tx) error {
		was, err := t.removed(id)
		if err != nil || was != nil {
			if was != nil {
				r = *was
			}
			return err
		}
		r, err = t.remove(id, by, days)
		return err
	})
	return r, err
}

// Removals are the jobs that were removed, the first of them first.
func (d *Database) Removals(ctx context.Context) (out []Removed, err error) {
	err = d.Read(ctx, "select "+removedColumns+" from removed order by at, job", nil, scanRemoved(&out))
	return out, err
}

const removedColumns = "job, events, hash, day, days, author, at"

func scanRemoved(all *[]Removed) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		var r Removed
		err := scan(&r.Job, &r.Events, &r.Hash, &r.Day, &r.Days, &r.By, &r.At)
		*all = append(*all, r)
		return err
	}
}

// removed is what is noted of a job that was removed; nil for any other.
func (t *Tx) removed(id string) (*Removed, error) {
	var all []Removed
	if err := t.Query("select "+removedColumns+" from removed where job = $1", []any{id}, scanRemoved(&all)); err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[0], nil
}

// unused refuses to begin a job under the name of one that was removed: its events are in the log.
func (t *Tx) unused(id string) error {
	was, err := t.removed(id)
	if err == nil && was != nil {
		err = &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: fmt.Sprintf("a job of this name was there, and was removed at %s", was.At), Hint: "give another name"}
	}
	return err
}

func (t *Tx) remove(id, by string, days int) (r Removed, err error) {
	head, err := t.head(id)
	if err == nil && head.Seq == 0 {
		err = store.NoJob(id)
	}
	if err != nil {
		return r, err
	}
	all, err := handedBacks(t.Query, id, unit.DateOf(t.db.now()), days)
	if err != nil {
		return r, err
	}
	why := "nobody has noted that its vehicle was handed back"
	if len(all) > 0 {
		why = all[0].Stays
	}
	if why != "" {
		return r, &diag.Error{Kind: diag.Denied, Op: "remove", Subject: id, Msg: "it stays: " + why, Hint: "the list of vehicles handed back says what may be removed, and what keeps the rest"}
	}
	r = Removed{Job: id, Hash: head.Hash, Day: all[0].Day, By: by, At: t.now(), Events: head.Seq, Days: int64(days)}
	if err := t.removeRows(id); err != nil {
		return r, err
	}
	t.folds[id] = folded{}
	return r, t.keep(removedRows, r.Job, r.Events, r.Hash, r.Day, r.Days, r.By, r.At)
}

// removeRows takes all rows of a job away. Those that have leaves of their own get one that says so; the leaves of its
// events stay, for the row of its removal says how many there are.
func (t *Tx) removeRows(id string) error {
	shown, aside := int64(0), ""
	err := t.Query("select shown from jobs where id = $1", []any{id}, func(scan func(...any) error) error { return scan(&shown) })
	if err == nil {
		err = t.Query("select library from asides where job = $1", []any{id}, func(scan func(...any) error) error { return scan(&aside) })
	}
	if err == nil {
		err = t.removeAbout(id)
	}
	if err == nil {
		_, err = t.drop(handedBackRows, id)
	}
	for _, text := range []string{"delete from terms where job = $1", "delete from named where job = $1", "delete from requests where job = $1", "delete from events where job = $1", "delete from asides where job = $1", "delete from jobs where id = $1"} {
		if err == nil {
			_, err = t.Exec(text, id)
		}
	}
	if err == nil && shown != 0 {
		t.leaf(leaf{kind: ofLine, name: id})
	}
	if err == nil && aside != "" {
		t.leaf(leaf{kind: ofAside, name: id})
		err = t.dropContent(aside)
	}
	return err
}

// removeAbout takes away the holds of a job, which have ended, and the work about it, which is over.
func (t *Tx) removeAbout(id string) error {
	var holds, tasks []string
	into := func(to *[]string) func(func(...any) error) error {
		return func(scan func(...any) error) error {
			var name string
			err := scan(&name)
			*to = append(*to, name)
			return err
		}
	}
	err := t.Query("select id from holds where job = $1 order by id", []any{id}, into(&holds))
	if err == nil {
		err = t.Query("select id from tasks where about = $1 order by id", []any{id}, into(&tasks))
	}
	for _, name := range holds {
		if err == nil {
			_, err = t.drop(holdRows, name)
		}
	}
	for _, name := range tasks {
		if err == nil {
			_, err = t.Exec("delete from tasks where id = $1", name)
			t.leaf(leaf{kind: ofTask, name: name})
		}
	}
	return err
}

// removed: of each job that was removed there are the leaves of its events, and nothing else.
func (v *verifier) removed() error {
	var all []Removed
	rows, err := v.from.QueryContext(v.ctx, "select "+removedColumns+" from removed order by job")
	if err := eachRow(rows, err, scanRemoved(&all)); err != nil {
		return err
	}
	for _, r := range all {
		var have []leaf
		if err := v.leavesOf(ofEvent, r.Job, &have); err != nil {
			return err
		}
		ok := int64(len(have)) == r.Events && r.Events > 0 && have[len(have)-1].hash == r.Hash
		for i, l := range have {
			ok = ok && l.seq == int64(i)+1
		}
		if !ok {
			if err := v.fault(r.Job, "it was removed, and the log has other events of it than it had"); err != nil {
				return err
			}
		}
	}
	return nil
}
