package account

import (
	"context"
	"fmt"
	"net/netip"
	"time"

	"fettle/internal/diag"
)

// Guessing is slowed down by account, by known device, and by address: after some wrong tries each further one has to
// wait twice as long as the one before. A try is counted before it is looked at, so that many at once gain nothing. Whoever comes
// from a device on which the person has signed in before is counted for that device alone: nobody locks others out.

// guessed is how often something was guessed wrong.
type guessed struct {
	Times int       `json:"times"`
	Until time.Time `json:"until"` // when it may be tried again
}

// slowing is how soon.
type slowing struct {
	free int           // tries without a wait
	most time.Duration // longest wait
}

var (
	byAccount = slowing{5, 15 * time.Minute}
	byAddress = slowing{30, 15 * time.Minute}
	forgotten = 24 * time.Hour // after which nothing is held against anybody
)

// wait is how long after so many tries nothing is looked at.
func (s slowing) wait(times int) time.Duration {
	if times < s.free {
		return 0
	}
	if n := times - s.free; n < 20 {
		return min(time.Second<<n, s.most)
	}
	return s.most
}

// Wait is the error for somebody who has to wait before they try again.
type Wait struct{ For time.Duration }

func (w *Wait) Error() string {
	return fmt.Sprintf("too many tries; try again in %d seconds", int(w.For.Seconds()+1))
}

// Unwrap makes it an error of a kind.
func (w *Wait) Unwrap() error {
	return &diag.Error{Kind: diag.Unavailable, Op: "sign in", Msg: w.Error(), Hint: "or use a passkey, or a device on which you have signed in before"}
}

// counter is one thing that tries are counted for.
type counter struct {
	id string
	slowing
}

// counters are those for a try.
func (a *Accounts) counters(name, device, address string) []counter {
	if device != "" {
		return []counter{{a.blind("device", device), byAccount}}
	}
	out := []counter{{a.blind("account", name), byAccount}}
	if address = network(address); address != "" {
		out = append(out, counter{a.blind("address", address), byAddress})
	}
	return out
}

// network is the address that tries are counted for: of IPv6 the network, of which one customer has all addresses.
func network(address string) string {
	if ap, err := netip.ParseAddrPort(address); err == nil {
		address = ap.Addr().String()
	}
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	if ip = ip.Unmap().WithZone(""); ip.Is4() {
		return ip.String()
	}
	p, err := ip.Prefix(64)
	if err != nil {
		return ip.String()
	}
	return p.String()
}

// count counts a try for each counter, or says how long to wait. What has to wait writes nothing.
func (a *Accounts) count(ctx context.Context, cs []counter) error {
	if err := a.mayTry(ctx, a.Store, cs, nil); err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		return a.mayTry(ctx, tx, cs, func(c counter, g guessed) error {
			g.Times++
			g.Until = a.now().Add(c.wait(g.Times))
			return a.putGuess(tx, c, g)
		})
	})
}

func (a *Accounts) putGuess(tx Tx, c counter, g guessed) error {
	if g.Times <= 0 {
		return tx.Drop(OfGuess, c.id)
	}
	return tx.Put(Record{Kind: OfGuess, ID: c.id, Ends: a.now().Add(forgotten)}.with(g))
}

// mayTry looks at all counters, and then does something with each.
func (a *Accounts) mayTry(ctx context.Context, in Reader, cs []counter, then func(counter, guessed) error) error {
	found := make([]guessed, len(cs))
	for i, c := range cs {
		g, err := a.guessed(ctx, in, c)
		if err != nil {
			return err
		}
		// a clock that was put back does not lengthen a wait
		if left := min(g.Until.Sub(a.now()), c.wait(g.Times)); left > 0 {
			return &Wait{left}
		}
		found[i] = g
	}
	for i, c := range cs {
		if then == nil {
			break
		}
		if err := then(c, found[i]); err != nil {
			return err
		}
	}
	return nil
}

func (a *Accounts) guessed(ctx context.Context, in Reader, c counter) (g guessed, err error) {
	r, there, err := in.Get(ctx, OfGuess, c.id)
	if err != nil || !there || !a.now().Before(r.Ends) {
		return g, err
	}
	return data[guessed](r)
}

// right forgets what was guessed wrong for an account or device, and takes back this try for an address: with an
// account of one's own nobody gets more tries at those of others.
func (a *Accounts) guessedRight(ctx context.Context, tx Tx, cs []counter) error {
	for i, c := range cs {
		if i == 0 {
			if err := tx.Drop(OfGuess, c.id); err != nil {
				return err
			}
			continue
		}
		if err := a.takeBack(ctx, tx, c); err != nil {
			return err
		}
	}
	return nil
}

// takeBack is as if a try had not been.
func (a *Accounts) takeBack(ctx context.Context, tx Tx, c counter) error {
	g, err := a.guessed(ctx, tx, c)
	if err != nil {
		return err
	}
	g.Times, g.Until = g.Times-1, time.Time{}
	return a.putGuess(tx, c, g)
}
