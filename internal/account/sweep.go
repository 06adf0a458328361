package account

import (
	"context"
	"errors"
	"time"
)

// keptAfter is how long links and tokens stay in the lists after they are over.
const keptAfter = 90 * 24 * time.Hour

// Sweep takes away what is over: sessions, devices, links for passwords, challenges, what was guessed wrong, old lines of the security
// log; links and tokens 90 days after.
func (a *Accounts) Sweep(ctx context.Context) (n int, err error) {
	for _, k := range Kinds() {
		before := a.now()
		if k == OfLink || k == OfToken {
			before = before.Add(-keptAfter)
		}
		for {
			rs, err := a.Store.Over(ctx, k, before, mostList)
			if err != nil {
				return n, err
			}
			err = a.Store.Change(ctx, func(tx Tx) error {
				for _, r := range rs {
					if now, there, err := tx.Get(ctx, k, r.ID); err != nil || !there || !now.Ends.Equal(r.Ends) {
						if err != nil {
							return err
						}
						continue
					}
					if err := tx.Drop(k, r.ID); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				return n, errors.Join(err)
			}
			if n += len(rs); len(rs) < mostList {
				break
			}
		}
	}
	return n, nil
}
