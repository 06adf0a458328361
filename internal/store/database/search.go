package database

import (
	"cmp"
	"context"
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

// Index changes what a list shows of a job.
func (d *Database) Index(ctx context.Context, id string, at int64, change func(was app.Shown) app.Shown) error {
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
		var was app.Shown
		err = t.Query("select title, plate, waits, whom, act, since, judged from jobs where id = $1", []any{id}, func(scan func(...any) error) error {
			return scan(&was.Title, &was.Plate, &was.Waits, &was.On, &was.Act, &was.Since, &was.Judged)
		})
		if err != nil {
			return err
		}
		s, salt := change(was), safefile.Drawn(16)
		sum := sumOfShown(id, at, s, salt)
		n, err := t.Exec("update jobs set title = $2, plate = $3, waits = $4, whom = $5, shown = $6, salt = $7, sum = $8, since = $9, judged = $10, act = $11 where id = $1 and shown <= $6",
			id, s.Title, s.Plate, s.Waits, s.On, at, salt, sum, s.Since, s.Judged, s.Act)
		if err != nil || n == 0 {
			return err
		}
		t.leaf(leaf{kind: ofLine, name: id, hash: sum})
		if s.Title == was.Title && s.Plate == was.Plate {
			return nil
		}
		now, err := t.read(id, head)
		if err != nil {
			return err
		}
		_, terms := app.JobTerms(id, now)
		return t.setTerms(id, terms, s)
	})
}

// How jobs are found: where at most mostByTerm terms begin with one of the words, their jobs are looked up. Else the mostWalked jobs
// that were changed last are gone through, and where those do not fill the page, the jobs that have all of the words: each word is
// taken as the set of its jobs if it has at most mostInSet terms, and looked for in each job if it has more. Of 100,000 jobs all
// of that takes about as long.
var mostByTerm, mostWalked, mostInSet = 2500, 2500, 40_000

// Find is jobs, the one changed last first. What is looked up in a table for each row is written as a value of that row: a
// planner may take a join or an exists for reading the whole table instead.
func (d *Database) Find(ctx context.Context, q app.JobQuery) ([]app.JobLine, error) {
	words := app.Words(q.Text)
	sets, others, err := d.bySize(ctx, words, mostByTerm)
	if err != nil {
		return nil, err
	}
	if len(sets) > 0 {
		return d.withTerms(ctx, sets[:1], slices.Concat(sets[1:], others), q)
	}
	last, more, err := d.lastWalked(ctx, words, q)
	if err != nil {
		return nil, err
	}
	out, err := d.newestFirst(ctx, words, last, q)
	if err != nil || !more || len(out) == q.Most {
		return out, err
	}
	if sets, others, err = d.bySize(ctx, words, mostInSet); err != nil {
		return nil, err
	}
	if len(sets) == 0 { // many jobs have all of them
		return d.newestFirst(ctx, words, app.JobLine{}, q)
	}
	return d.withTerms(ctx, sets, others, q)
}

// withTerms is jobs that have terms that begin with each of some words, and of others.
func (d *Database) withTerms(ctx context.Context, sets, others []string, q app.JobQuery) ([]app.JobLine, error) {
	f := &finder{text: "select t.job as id, (select changed from jobs where id = t.job"}
	f.asked(q)
	f.text += ") as changed from (select distinct job from terms where " + f.begins(sets[0])
	for _, w := range sets[1:] {
		f.text += " intersect select job from terms where " + f.begins(w)
	}
	f.text += ") t where true"
	f.having("t.job", others)
	return d.lines(ctx, f, q.Most)
}

// lastWalked is the last of the jobs that are gone through at first, and whether there are more of those that are asked for.
func (d *Database) lastWalked(ctx context.Context, words []string, q app.JobQuery) (last app.JobLine, more bool, err error) {
	if len(words) == 0 {
		return last, false, nil
	}
	f := &finder{text: "select changed, id from jobs where true"}
	f.asked(q)
	f.text += " order by changed desc, id desc limit 1 offset " + f.value(mostWalked)
	err = d.Read(ctx, f.text, f.values, func(scan func(...any) error) error {
		more = true
		return scan(&last.Changed, &last.ID)
	})
	return last, more, err
}

// newestFirst is jobs that have terms that begin with words, down to the last one; all where it has no name.
func (d *Database) newestFirst(ctx context.Context, words []string, last app.JobLine, q app.JobQuery) ([]app.JobLine, error) {
	f := &finder{text: "select id, changed from jobs where true"}
	f.asked(q)
	if last.ID != "" {
		f.text += " and (changed, id) > (" + f.value(last.Changed) + ", " + f.value(last.ID) + ")"
	}
	f.having("jobs.id", words)
	return d.lines(ctx, f, q.Most)
}

// lines is the jobs that a question has found, with when they were changed: the newest of them.
func (d *Database) lines(ctx context.Context, f *finder, most int) (out []app.JobLine, err error) {
	f.text = "select j.id, j.seq, j.hash, j.changed, j.vehicle, j.title, j.plate, j.waits, j.whom, j.owner, j.act, j.since, j.judged, j.shown from (select id, changed from (" + f.text +
		") s where changed is not null order by changed desc, id desc limit " + f.value(max(0, most)) + ") n join jobs j on j.id = n.id order by n.changed desc, n.id desc"
	err = d.Read(ctx, f.text, f.values, func(scan func(...any) error) error {
		var l app.JobLine
		err := scan(&l.ID, &l.Head.Seq, &l.Head.Hash, &l.Changed, &l.Vehicle, &l.Title, &l.Plate, &l.Waits, &l.On, &l.Owner, &l.Act, &l.Since, &l.Judged, &l.At)
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

// bySize is the words that at most so many terms begin with, the one with the fewest first, and the others.
func (d *Database) bySize(ctx context.Context, words []string, most int) (few, others []string, err error) {
	counts := map[string]int{}
	for _, w := range words {
		n := 0
		err := d.Read(ctx, "select count(*) from (select 1 from terms where term >= $1 and term < $2 limit $3) t", []any{w, w + "\U0010ffff", most + 1}, func(scan func(...any) error) error { return scan(&n) })
		if err != nil {
			return nil, nil, err
		}
		if counts[w] = n; n <= most {
			few = append(few, w)
		} else {
			others = append(others, w)
		}
	}
	slices.SortStableFunc(few, func(a, b string) int { return cmp.Compare(counts[a], counts[b]) })
	return few, others, nil
}
