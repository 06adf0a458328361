package account

import (
	"context"

	"fettle/internal/diag"
)

// keyID is the name of the record that knows the key by what it makes.
const keyID = "seal"

type keyData struct {
	Check string `json:"check"`
}

func (a *Accounts) keyRecord() Record {
	return Record{Kind: OfKey, ID: keyID}.with(keyData{a.blind("key", keyID)})
}

// Check refuses a key that is not the one of the store. Servers with different ones would take each other's passkeys and one-time
// codes for wrong. The first key that is used is the one.
func (a *Accounts) Check(ctx context.Context) error {
	own := a.keyRecord()
	r, there, err := a.Store.Get(ctx, OfKey, keyID)
	if err == nil && !there {
		err = a.Store.Change(ctx, func(tx Tx) error {
			if r, there, err = tx.Get(ctx, OfKey, keyID); err != nil || there {
				return err
			}
			r = own
			return tx.Put(own)
		})
	}
	if err == nil && r.Data != own.Data {
		err = &diag.Error{Kind: diag.Denied, Op: "open accounts", Subject: "the key of accounts", Msg: "it is not the one of this store",
			Hint: "give every server of the store the same one; one that is lost for good is renewed at the console"}
	}
	return err
}

// Keyed says whether secrets of a store were ever sealed: with which key, Check knows.
func Keyed(ctx context.Context, in Reader) (bool, error) {
	_, there, err := in.Get(ctx, OfKey, keyID)
	return there, err
}

// RenewKey makes the key that is given the one of the store, because the one before is lost. One-time codes were sealed with that: who has them needs a
// link for a new password that takes them away.
func (c Console) RenewKey(ctx context.Context) error {
	e, err := c.a.entry(Entry{What: KeyRenewed, More: "at the console"})
	if err != nil {
		return err
	}
	return c.a.Store.Change(ctx, func(tx Tx) error { return puts(tx, c.a.keyRecord(), e) })
}
