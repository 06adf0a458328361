package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"fettle/internal/diag"
)

// domain is hashed with every entry, so that its hash is the hash of nothing
// else. It changes when the form of an entry changes.
const domain = "fettle-ledger 1"

// TimeForm is how an entry's time is written: RFC 3339, UTC, whole seconds. In
// this form the order of the texts is the order of the times.
const TimeForm = "2006-01-02T15:04:05Z"

// Entry is one record of a chain.
type Entry struct {
	Seq     int64  `json:"seq"`     // 1, 2, 3, ...
	At      string `json:"at"`      // in TimeForm
	By      string `json:"by"`      // who made the entry
	What    string `json:"what"`    // kind of event
	Payload string `json:"payload"` // canonical JSON; kept as text so that no store rewrites it
	Prev    string `json:"prev"`    // hash of the entry before; empty for the first
	Hash    string `json:"hash"`    // SHA-256 in hexadecimal over all of the above
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

// Append returns the chain with one more entry; c itself is not changed.
func (c Chain) Append(at, by, what string, payload any) (Chain, error) {
	e, err := c.Next(at, by, what, payload)
	if err != nil {
		return nil, err
	}
	return append(c[:len(c):len(c)], e), nil
}

// Next is the entry that would follow the chain: whoever adds many of them does
// not copy the chain for each.
func (c Chain) Next(at, by, what string, payload any) (Entry, error) {
	var before Entry
	if len(c) > 0 {
		before = c[len(c)-1]
	}
	e := Entry{Seq: before.Seq + 1, At: at, By: by, What: what, Prev: before.Hash}
	text, err := Canonical(payload)
	if err == nil {
		e.Payload = string(text)
		if e.Hash, err = e.sum(); err == nil {
			err = e.follows(before)
		}
	}
	if err != nil {
		return Entry{}, &diag.Error{Kind: diag.Invalid, Op: "ledger.Append", Subject: what, Msg: err.Error(), Err: err}
	}
	return e, nil
}

// sum is the hash of the entry: SHA-256 over the canonical form of all its
// other members and the domain.
func (e Entry) sum() (string, error) {
	b, err := Canonical(map[string]any{
		"format": domain, "seq": e.Seq, "at": e.At, "by": e.By, "what": e.What,
		"payload": e.Payload, "prev": e.Prev,
	})
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:]), err
}

// Verify names the first entry that is not what the chain says it was.
func (c Chain) Verify() error {
	var before Entry
	for i, e := range c {
		if err := e.follows(before); err != nil {
			return broken(int64(i)+1, err.Error())
		}
		before = e
	}
	return nil
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
	}
	if sum, err := e.sum(); err != nil || sum != e.Hash {
		return fmt.Errorf("its content was changed after it was written")
	}
	return nil
}
