package database

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"sync/atomic"
	"time"
)

// References is what a database refers to. Bytes have to stay that
//   - any event of any job has ever named, also one that was replaced or withdrawn since: the chain names them for good;
//   - a content of the library has: of a body or shop, also one of no job, and of files set aside;
//   - work that waits or is being done has made, or work that was over only lately.
//
// Every text in the payload of an event that holds something like a hash counts as naming it.
type References struct {
	d       *Database
	results time.Duration
	events  map[[32]byte]struct{} // named by events
	log     int64                 // leaves of the log: what came later is not among them
	held    atomic.Int64
}

// Held is for how many bytes LetGo was asked while a pause stood.
func (r *References) Held() int { return int(r.held.Load()) }

// References reads what all events name. Results are how long what work has made stays after it was over.
func (d *Database) References(ctx context.Context, results time.Duration) (*References, error) {
	r := &References{d: d, results: results, events: map[[32]byte]struct{}{}}
	var err error
	if r.log, err = d.logSize(ctx); err != nil {
		return nil, err
	}
	err = d.Read(ctx, "select payload from events", nil, func(scan func(...any) error) error {
		var payload string
		if err := scan(&payload); err != nil {
			return err
		}
		return hashesIn(payload, func(h [32]byte) { r.events[h] = struct{}{} })
	})
	return r, err
}

// hashesIn finds everything in the texts of a payload that may be a hash.
func hashesIn(payload string, found func([32]byte)) error {
	in := json.NewDecoder(strings.NewReader(payload))
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return damaged("an event", "its payload cannot be read: "+err.Error())
		}
		if text, is := token.(string); is {
			hashesInText(text, found)
		}
	}
}

const hashDigits = 64

func hashesInText(text string, found func([32]byte)) {
	run := 0
	for i := range len(text) {
		if strings.IndexByte("0123456789abcdef", text[i]) < 0 {
			run = 0
			continue
		}
		if run++; run >= hashDigits {
			var h [32]byte
			if _, err := hex.Decode(h[:], []byte(text[i+1-hashDigits:i+1])); err == nil {
				found(h)
			}
		}
	}
}

// byRow are the rows that keep bytes: contents of the library, and work that waits, is done, or was over after a moment.
const byRow = "select 1 from library_files where blob = $1 union all select 1 from tasks where result = $1 and (state in ('waiting', 'running') or due >= $2) limit 1"

func (r *References) since() string { return moment(r.d.now().Add(-r.results)) }

func (r *References) byEvent(hash string) (bool, error) {
	var h [32]byte
	if n, err := hex.Decode(h[:], []byte(hash)); err != nil || n != len(h) {
		return true, damaged(hash, "is no hash")
	}
	_, is := r.events[h]
	return is, nil
}

// Refers says whether something refers to bytes, but for events written since the references were read: LetGo sees those.
func (r *References) Refers(ctx context.Context, hash string) (is bool, err error) {
	if is, err = r.byEvent(hash); err != nil || is {
		return is, err
	}
	err = r.d.Read(ctx, byRow, []any{hash, r.since()}, func(scan func(...any) error) error {
		var one int
		is = true
		return scan(&one)
	})
	return is, err
}

// LetGo takes away the row of bytes that nothing refers to, with a leaf that says so, and what work made long ago is no longer said
// to be there. Bytes that something refers to stay, and so do all while a pause stands: that is the answer. It is for somebody who removes the bytes right after, and
// whom Retain and Put wait for.
func (r *References) LetGo(ctx context.Context, hash string) (stay bool, err error) {
	paused := false
	err = r.d.Write(ctx, func(t *Tx) error {
		if paused, err = t.paused(); err != nil || paused {
			return err
		}
		if stay, err = r.staysIn(t, hash); err != nil || stay {
			return err
		}
		if err := errors.Join(t.dropResults(hash), t.dropBrought(hash)); err != nil {
			return err
		}
		n, err := t.Exec("delete from blobs where hash = $1", hash)
		if err == nil && n == 1 {
			t.leaf(leaf{kind: ofBlob, name: hash})
		}
		return err
	})
	if paused {
		r.held.Add(1)
	}
	return stay || paused || err != nil, err
}

// staysIn says whether something refers to bytes, among it events that were written since.
func (r *References) staysIn(t *Tx, hash string) (is bool, err error) {
	if is, err = r.byEvent(hash); err != nil || is {
		return is, err
	}
	err = t.Query(byRow, []any{hash, r.since()}, func(scan func(...any) error) error {
		var one int
		is = true
		return scan(&one)
	})
	if err != nil || is {
		return is, err
	}
	err = t.Query("select e.payload from leaves l join events e on e.job = l.name and e.seq = l.seq where l.kind = 'event' and l.n >= $1", []any{r.log}, func(scan func(...any) error) error {
		var payload string
		if err := scan(&payload); err != nil {
			return err
		}
		return hashesIn(payload, func(h [32]byte) { is = is || hex.EncodeToString(h[:]) == hash })
	})
	return is, err
}

// dropResults: of work that was over long ago nothing that it made is kept.
func (t *Tx) dropResults(hash string) error {
	var old []taskRow
	err := t.Query("select "+taskColumns+", salt, sum from tasks where result = $1", []any{hash}, func(scan func(...any) error) error {
		r, err := scanTask(scan)
		old = append(old, r)
		return err
	})
	for _, r := range old {
		if err != nil {
			return err
		}
		r.Result = ""
		err = t.put(r)
	}
	return err
}
