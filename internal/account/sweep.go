package account

import (
	"context"
	"time"
)

// keptAfter is how long links and tokens stay in the lists after they are over.
const keptAfter = 90 * 24 * time.Hour

// Sweep takes away what is over: sessions, devices, links for passwords, challenges, what was guessed wrong, old lines of the security
// log; links and tokens 90 days after. It says how many records that were.
func (a *Accounts) Sweep(ctx context.Context) (n int, err error) { return Sweep(ctx, a.Store, a.now()) }

// Sweep is Accounts.Sweep for a store whose key is not at hand.
func Sweep(ctx context.Context, in Store, now time.Time) (n int, err error) {
	for _, k := range Kinds() {
		before := now
		if k == OfLink || k == OfToken {
			before = before.Add(-keptAfter)
		}
		for more := true; more; {
			rs, err := in.Over(ctx, k, before, mostList)
			if err == nil && len(rs) > 0 {
				err = in.Change(ctx, func(tx Tx) error { return dropOver(ctx, tx, rs) })
			}
			if err != nil {
				return n, err
			}
			n += len(rs)
			more = len(rs) == mostList
		}
	}
	return n, nil
}

// dropOver takes records away that are still as they were.
func dropOver(ctx context.Context, tx Tx, rs []Record) error {
	for _, r := range rs {
		now, there, err := tx.Get(ctx, r.Kind, r.ID)
		if err == nil && there && now.Ends.Equal(r.Ends) {
			err = tx.Drop(r.Kind, r.ID)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
