package app

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"time"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// Awaited is what a job waits for next, on whom and since when, as it was judged on a day.
type Awaited struct {
	release.Act
	Since   int64     `json:"since"`   // number of the event that made it so; 0: not known, or no event did but a day that passed
	SinceAt string    `json:"sinceAt"` // time of that event
	At      int64     `json:"at"`      // its newest event then
	Judged  unit.Date `json:"judged"`
}

// NextAct is what an assessed job waits for next, and on whom.
func (a *App) NextAct(c *Opened, r Assessment) release.Act { return a.nextAct(nil, c, r) }

func (a *App) nextAct(w *halt.Work, c *Opened, r Assessment) release.Act {
	if h := a.handedBack(w, c, unit.DateOf(r.Made).AddDays(1)); h != nil { // in the shop it may be tomorrow already
		return release.Handed(h.Against)
	}
	return gate(c, r).Next()
}

// mostBack is how many changes are gone back to find the one since which a job waits. Where nothing is known of earlier
// ones and it lies further back, since when is not known.
const mostBack = 40

// Calm is the pace of a server for what follows every change: a moment after it, so that what is written together is judged together, and of
// each job not more than once a minute. The newest change is always judged in the end.
var Calm = Pace{After: 5 * time.Second, Rest: time.Minute}

// WithPace makes what follows every change of a job wait so long; at once unless given.
func (a *App) WithPace(p Pace) *App {
	a.pace = p
	return a
}

// wantsNext is the work that a change of a job asks for, where its store has work done.
func (a *App) wantsNext(in Store, id, by string) []Wanted {
	if _, has := in.(Tasks); !has {
		return nil
	}
	pace := a.pace
	pace.Standing = true
	return []Wanted{{Kind: TaskNext, About: id, Input: "{}", By: by, Pace: pace}}
}

// NextActs notes in the lists of a store what its jobs wait for. A job is judged on the day that was asked for, else on that of its newest
// event.
func (a *App) NextActs(in Store, lists Lists) Doing {
	return func(ctx context.Context, t Task) (string, error) {
		var input TaskInput
		if err := json.Unmarshal([]byte(t.Input), &input); err != nil {
			return "", &diag.Error{Kind: diag.Invalid, Op: "task", Subject: t.About, Msg: "its input is none"}
		}
		w, err := a.Waits(ctx, in, t.About, input.On, a.waitedBefore(ctx, in, t.Result))
		if err != nil {
			return "", err
		}
		err = lists.Index(ctx, t.About, w.At, func(was Shown) Shown {
			was.Waits, was.On, was.Act, was.Since, was.Judged = string(w.For), w.On, w.About, w.SinceAt, w.Judged.String()
			return was
		})
		if err != nil {
			return "", err
		}
		data, err := json.Marshal(w)
		if err != nil {
			return "", err
		}
		return keptAs(ctx, in, data)
	}
}

// waitedBefore is what was found the time before; nil where that is not there any more. It saves work, and nothing rests on it.
func (a *App) waitedBefore(ctx context.Context, in Blobs, hash string) *Awaited {
	if hash == "" {
		return nil
	}
	r, size, err := in.Get(ctx, hash)
	if err != nil {
		return nil
	}
	data, err := io.ReadAll(io.LimitReader(r, min(size, MaxDocument)))
	var w Awaited
	if errors.Join(err, r.Close(), json.Unmarshal(data, &w)) != nil {
		return nil
	}
	return &w
}

// Waits is what a job of a store waits for as of a day, year-month-day; empty: the day of its newest event. Was is what was found before;
// nil: nothing. What cannot be judged is not known, and an error only where the machine is in the way.
func (a *App) Waits(ctx context.Context, in Store, id, on string, was *Awaited) (Awaited, error) {
	lines, err := in.Lines(ctx, id)
	if err != nil {
		return Awaited{}, err
	}
	chain := job.ChainOf(lines)
	head := len(chain)
	own := dayOf(chain[head-1])
	day := own
	if on != "" {
		at, err := time.Parse(time.DateOnly, on)
		if err != nil {
			return Awaited{}, &diag.Error{Kind: diag.Invalid, Op: "task", Subject: id, Msg: "it does not say on which day the job is to be judged"}
		}
		day = unit.DateOf(at)
	}
	out := Awaited{At: chain[head-1].Seq, Judged: day}
	if out.Act, err = a.actAt(ctx, in, id, chain, day, true); err != nil {
		return Awaited{}, err
	}
	if day != own {
		then, err := a.actAt(ctx, in, id, chain, own, false)
		if err != nil || then != out.Act {
			return out, err // it came with a day, and no event
		}
	}
	return a.sinceWhen(ctx, in, id, lines, chain, out, was)
}

// sinceWhen goes back change by change to the one that made a job wait for what it waits for.
func (a *App) sinceWhen(ctx context.Context, in Store, id string, lines []job.Line, chain ledger.Chain, out Awaited, was *Awaited) (Awaited, error) {
	made := len(chain)
	for n, back := made, 0; n >= 0; n-- {
		if n > 0 && lines[n-1].Part != lines[n-1].Of {
			continue // in the middle of a change
		}
		if n == 0 {
			break // it waited so from the beginning
		}
		if was != nil && was.At == chain[n-1].Seq && was.Judged == dayOf(chain[n-1]) {
			if was.Act == out.Act {
				out.Since, out.SinceAt = was.Since, was.SinceAt
				return out, nil
			}
			if n < made {
				break
			}
		}
		if n == made {
			continue // as it is now
		}
		if back++; back > mostBack {
			return out, nil
		}
		then, err := a.actAt(ctx, in, id, chain[:n], dayOf(chain[n-1]), false)
		if err != nil {
			return out, err
		}
		if then != out.Act {
			break
		}
		made = n
	}
	out.Since, out.SinceAt = chain[made-1].Seq, chain[made-1].At
	return out, nil
}

// dayOf is the day of an event.
func dayOf(e ledger.Entry) unit.Date {
	at, err := time.Parse(ledger.TimeForm, e.At)
	if err != nil {
		return unit.Date{}
	}
	return unit.DateOf(at.UTC())
}

// actAt is what a job waits for with so many events, as of a day. Whole reads its evidence too: what is lost is found.
func (a *App) actAt(ctx context.Context, in Store, id string, chain ledger.Chain, day unit.Date, whole bool) (release.Act, error) {
	act, err := while(ctx, func(w *halt.Work) (release.Act, error) {
		c, err := a.openParts(w, &Opened{From: id, store: upTo{in, int64(len(chain))}, storeID: id, alone: true}, newShelf())
		if err == nil && whole {
			err = a.crossCheck(w, c)
		} else if err == nil {
			err = a.misfits(c, id).OrNil()
		}
		if err != nil {
			return release.Act{}, err
		}
		if !whole { // an older state, which nobody asks for again
			return a.nextAct(w, c, a.assess(w, c, noon(day))), nil
		}
		return a.nextAct(w, c, a.assessOpened(w, c, noon(day))), nil
	})
	switch kind := diag.KindOf(err); {
	case err == nil:
		return act, nil
	case ctx.Err() != nil || kind == diag.Unavailable || kind == diag.Internal:
		return release.Act{}, err
	}
	return release.Unknown(""), nil
}
