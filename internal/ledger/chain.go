package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"strings"
	"time"

	"fettle/internal/diag"
)

// form and formAbout are hashed with every entry, so that its hash is the hash of
// nothing else. An entry that says which record it is about has the second form;
// chains written before there was one have the first, and may go on in the second.
const (
	form      = "fettle-ledger 1"
	formAbout = "fettle-ledger 2"
)

// TimeForm is how an entry's time is written: RFC 3339, UTC, whole seconds. In
// this form the order of the texts is the order of the times.
const TimeForm = "2006-01-02T15:04:05Z"

// Entry is one record of a chain.
type Entry struct {
	Seq     int64  `json:"seq"`             // 1, 2, 3, ...
	At      string `json:"at"`              // in TimeForm
	By      string `json:"by"`              // who made the entry
	What    string `json:"what"`            // kind of event
	About   string `json:"about,omitempty"` // the record it is about
	Seen    int64  `json:"seen,omitempty"`  // number of the newest entry about that record, as its author had it; 0: there was none
	Payload string `json:"payload"`         // canonical JSON; kept as text so that no store rewrites it
	Prev    string `json:"prev"`            // hash of the entry before; empty for the first
	Hash    string `json:"hash"`            // SHA-256 in hexadecimal over all of the above

	Beside []Aside `json:"beside,omitempty"` // texts that the payload holds seals of; not hashed, so that they can be erased
}

// Chain is a list of entries, each holding the hash of the one before.
type Chain []Entry

// Head is the number and hash of the newest entry: what to keep elsewhere.
func (c Chain) Head() (seq int64, hash string) {
	if len(c) == 0 {
		return 0, ""
	}
	last := c[len(c)-1]
	return last.Seq, last.Hash
}

// Append returns the chain with one more entry, about no record; c itself is not
// changed.
func (c Chain) Append(at, by, what string, payload any) (Chain, error) {
	var last Entry
	if len(c) > 0 {
		last = c[len(c)-1]
	}
	e, err := last.Next(Entry{At: at, By: by, What: what}, payload)
	if err != nil {
		return nil, err
	}
	return append(c[:len(c):len(c)], e), nil
}

// Next is the entry that follows this one (the first follows on the zero Entry): e with
// its number, payload and hashes filled in. Whether what e has seen is the newest entry
// about its record is for whoever knows the chain; Chain.Verify tells.
func (last Entry) Next(e Entry, payload any) (Entry, error) {
	text, err := Canonical(payload)
	if err == nil {
		e.Seq, e.Payload, e.Prev = last.Seq+1, string(text), last.Hash
		if e.Hash, err = e.sum(); err == nil {
			err = e.follows(last)
		}
	}
	if err != nil {
		return Entry{}, &diag.Error{Kind: diag.Invalid, Op: "ledger.Append", Subject: e.What, Msg: err.Error(), Err: err}
	}
	return e, nil
}

// sum is the hash of the entry: SHA-256 over the canonical form of all its
// other members but the texts beside it, and of its form.
func (e Entry) sum() (string, error) {
	members := map[string]any{
		"format": form, "seq": e.Seq, "at": e.At, "by": e.By, "what": e.What,
		"payload": e.Payload, "prev": e.Prev,
	}
	if e.About != "" {
		members["format"], members["about"], members["seen"] = formAbout, e.About, e.Seen
	}
	b, err := Canonical(members)
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:]), err
}

// Verify names the first entry that is not what the chain says it was.
func (c Chain) Verify() error {
	_, err := c.VerifyAfter(Entry{}, nil)
	return err
}

// VerifyAfter is Verify of entries that follow on a chain that was verified: last is
// its last entry, newest the number of its newest entry about each record. It returns
// those numbers with the entries added; what was given is not changed.
func (c Chain) VerifyAfter(last Entry, newest map[string]int64) (map[string]int64, error) {
	newest = maps.Clone(newest)
	if newest == nil {
		newest = map[string]int64{}
	}
	for _, e := range c {
		err := e.follows(last)
		if err == nil {
			err = e.saw(newest)
		}
		if err != nil {
			return nil, broken(last.Seq+1, err.Error())
		}
		newest[e.About] = e.Seq
		last = e
	}
	return newest, nil
}

// VerifyHead is Verify, and the entry noted elsewhere must be in the chain
// with that hash: so entries cut off the end, or a chain made anew, are found.
func (c Chain) VerifyHead(seq int64, hash string) error {
	if err := c.Verify(); err != nil {
		return err
	}
	if seq < 1 || seq > int64(len(c)) || c[seq-1].Hash != hash {
		return broken(seq, "the entry noted elsewhere is not in this record")
	}
	return nil
}

// saw says what keeps the entry from being one of somebody who had the newest entry about
// its record. Entries of the first form, which come before all others, may be about any.
func (e Entry) saw(newest map[string]int64) error {
	was, plain := newest[e.About], newest[""]
	switch {
	case e.About == "" && len(newest) > 0 && plain == 0:
		return fmt.Errorf("it does not say which record it is about, as the entries before it do")
	case e.About == "" || e.Seen == was || was == 0 && e.Seen <= plain:
		return nil
	}
	return fmt.Errorf("it was written over entry %d about %s, which its author had not seen", was, e.About)
}

func broken(seq int64, msg string) error {
	return &diag.Error{Kind: diag.Integrity, Op: "ledger.Verify", Subject: fmt.Sprintf("entry %d", seq),
		Msg: msg, Hint: "restore the record from a backup; do not go on with this one"}
}

// follows says what keeps the entry from being the one after before.
func (e Entry) follows(before Entry) error {
	t, err := time.Parse(TimeForm, e.At)
	switch {
	case e.Seq != before.Seq+1:
		return fmt.Errorf("it carries the number %d; an entry was left out, added or moved", e.Seq)
	case e.Prev != before.Hash:
		return fmt.Errorf("it does not follow on the entry before it")
	case err != nil || t.Format(TimeForm) != e.At:
		return fmt.Errorf("%q is not a time in UTC such as %q", e.At, "2026-11-25T09:30:00Z")
	case e.At < before.At:
		return fmt.Errorf("its time %s is before that of the entry before it", e.At)
	case e.By == "" || e.What == "":
		return fmt.Errorf("it does not say who made it, or of what kind it is")
	case e.About == "" && (e.Seen != 0 || len(e.Beside) > 0):
		return fmt.Errorf("it does not say which record it is about")
	case e.Seen < 0 || e.Seen >= e.Seq:
		return fmt.Errorf("it says that its author had seen entry %d, which was not there yet", e.Seen)
	}
	for _, a := range e.Beside {
		if seal, err := a.Seal(); err != nil || !strings.Contains(e.Payload, `"`+seal+`"`) {
			return fmt.Errorf("a text beside it is not the one that was written")
		}
	}
	if sum, err := e.sum(); err != nil || sum != e.Hash {
		return fmt.Errorf("its content was changed after it was written")
	}
	return nil
}
