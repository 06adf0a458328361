package database

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
	"fettle/internal/store/safefile"
)

// toldByTerms are the kinds of event that change what a job is found by.
var toldByTerms = []job.EventKind{job.JobOpened, job.VehicleRecorded, job.FindingRecorded, job.FindingDropped, job.RecordWithdrawn, job.TextsErased}

// index makes the line and the terms of a job those of its events as they are now, with those of a chain. Was
// is what the events before had it found by; nil where that is not known.
func (t *Tx) index(id string, now *job.Stored, was []string, c ledger.Chain) ([]string, error) {
	if was != nil && !slices.ContainsFunc(c, func(e ledger.Entry) bool { return slices.Contains(toldByTerms, job.EventKind(e.What)) }) {
		return was, nil
	}
	vehicle, terms := app.JobTerms(id, now)
	if was != nil && slices.Equal(terms, was) {
		return terms, nil
	}
	var s app.Shown
	err := t.Query("select title, plate from jobs where id = $1", []any{id}, func(scan func(...any) error) error { return scan(&s.Title, &s.Plate) })
	if err == nil {
		_, err = t.Exec("update jobs set vehicle = $2 where id = $1", id, vehicle)
	}
	if err != nil {
		return nil, err
	}
	return terms, t.setTerms(id, terms, s)
}

// setTerms makes the terms of a job those of its events and of what a list shows of it.
func (t *Tx) setTerms(id string, ofEvents []string, s app.Shown) error {
	want := slices.Concat(ofEvents, app.ShownTerms(s))
	slices.Sort(want)
	want = slices.Compact(want)
	var have []string
	err := t.Query("select term from terms where job = $1 order by term", []any{id}, func(scan func(...any) error) error {
		var term string
		err := scan(&term)
		have = append(have, term)
		return err
	})
	if err != nil {
		return err
	}
	for _, term := range have {
		if _, ok := slices.BinarySearch(want, term); !ok {
			if _, err := t.Exec("delete from terms where term = $1 and job = $2", term, id); err != nil {
				return err
			}
		}
	}
	var fresh [][]any
	for _, term := range want {
		if _, ok := slices.BinarySearch(have, term); !ok {
			fresh = append(fresh, []any{term, id})
		}
	}
	return t.insert("terms", "term, job", fresh)
}

// Index notes what a list shows of a job.
func (d *Database) Index(ctx context.Context, id string, at int64, s app.Shown) error {
	return d.Write(ctx, func(t *Tx) error {
		head, err := t.head(id)
		if err == nil && head.Seq == 0 {
			err = store.NoJob(id)
		}
		if err == nil {
			err = store.CheckIndexed(id, at, head.Seq)
		}
		if err != nil {
			return err
		}
		salt := safefile.Drawn(16)
		sum := sumOfShown(id, at, s, salt)
		n, err := t.Exec("update jobs set title = $2, plate = $3, waits = $4, whom = $5, shown = $6, salt = $7, sum = $8 where id = $1 and shown <= $6", id, s.Title, s.Plate, s.Waits, s.On, at, salt, sum)
		if err != nil || n == 0 {
			return err
		}
		t.leaf(leaf{kind: ofLine, name: id, hash: sum})
		now, err := t.read(id, head)
		if err != nil {
			return err
		}
		_, terms := app.JobTerms(id, now)
		return t.setTerms(id, terms, s)
	})
}

// mostByTerm is how many terms that begin with a word are gone through to find their jobs. Where there are more, the
// jobs are gone through, the one changed last first, until enough have one. Of 100,000 jobs both take about as long there.
var mostByTerm = 2500

// Find is jobs, the one changed last first. What is looked up in a table for each row is written as a value of that row: a
// planner may take a join or an exists for reading the whole table instead.
func (d *Database) Find(ctx context.Context, q app.JobQuery) ([]app.JobLine, error) {
	words := app.Words(q.Text)
	rarest, few, err := d.rarest(ctx, words)
	if err != nil {
		return nil, err
	}
	f := &finder{}
	if few {
		word := words[rarest]
		words = slices.Delete(words, rarest, rarest+1)
		f.byTerm(word, words, q)
	} else {
		f.newestFirst(words, q)
	}
	f.text = "select j.id, j.seq, j.hash, j.changed, j.vehicle, j.title, j.plate, j.waits, j.whom, j.owner from (select id, changed from (" + f.text +
		") s where changed is not null order by changed desc, id desc limit " + f.value(max(0, q.Most)) + ") n join jobs j on j.id = n.id order by n.changed desc, n.id desc"
	var out []app.JobLine
	err = d.Read(ctx, f.text, f.values, func(scan func(...any) error) error {
		var l app.JobLine
		err := scan(&l.ID, &l.Head.Seq, &l.Head.Hash, &l.Changed, &l.Vehicle, &l.Title, &l.Plate, &l.Waits, &l.On, &l.Owner)
		out = append(out, l)
		return err
	})
	return out, err
}

// finder is a question whose text has places for its values, and no value.
type finder struct {
	text   string
	values []any
}

func (f *finder) value(v any) string {
	f.values = append(f.values, v)
	return "$" + strconv.Itoa(len(f.values))
}

// byTerm is jobs with a term that begins with a word: when each was changed; no time where it is not asked for.
func (f *finder) byTerm(word string, others []string, q app.JobQuery) {
	f.text = "select distinct t.job as id, (select changed from jobs where id = t.job"
	f.asked(q)
	f.text += ") as changed from terms t where " + f.begins(word)
	f.having("t.job", others)
}

// newestFirst is all jobs that are asked for.
func (f *finder) newestFirst(words []string, q app.JobQuery) {
	f.text = "select id, changed from jobs where true"
	f.asked(q)
	f.having("jobs.id", words)
}

// asked is the conditions that a job itself has to keep.
func (f *finder) asked(q app.JobQuery) {
	if q.Waits != "" {
		f.text += " and waits = " + f.value(q.Waits)
	}
	if q.On != "" {
		f.text += " and whom = " + f.value(q.On)
	}
	if q.Of != nil {
		f.text += " and " + f.among("owner", q.Of)
	}
	if q.After.ID != "" {
		f.text += " and (changed, id) < (" + f.value(q.After.Changed) + ", " + f.value(q.After.ID) + ")"
	}
}

// having is the condition that a job has terms that begin with words.
func (f *finder) having(job string, words []string) {
	for _, w := range words {
		f.text += " and (select 1 from terms where job = " + job + " and " + f.begins(w) + " limit 1) is not null"
	}
}

// begins is the condition for terms that begin with a word: from that word on, and before all words that begin otherwise.
func (f *finder) begins(word string) string {
	return "term >= " + f.value(word) + " and term < " + f.value(word+"\U0010ffff")
}

// rarest is the word that the fewest terms begin with, and whether they are few.
func (d *Database) rarest(ctx context.Context, words []string) (at int, few bool, err error) {
	least := mostByTerm + 1
	for i, w := range words {
		n := 0
		err := d.Read(ctx, fmt.Sprintf("select count(*) from (select 1 from terms where term >= $1 and term < $2 limit %d) t", mostByTerm+1), []any{w, w + "\U0010ffff"}, func(scan func(...any) error) error { return scan(&n) })
		if err != nil {
			return 0, false, err
		}
		if n < least {
			least, at = n, i
		}
	}
	return at, least <= mostByTerm, nil
}
