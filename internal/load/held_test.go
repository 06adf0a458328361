//go:build linux

package load

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/ledger"
)

// written is what the store knows of a change.
type written struct {
	job           string
	first, events int64
}

// held holds what is in the store against what was acknowledged: each change is there once and whole, what was refused is not, and
// nothing else is.
func (g *group) held(ctx context.Context) error {
	there := map[string][]written{}
	err := g.store.Read(ctx, "select key, job, first, events from requests where key like 'load%'", nil, func(scan func(...any) error) error {
		var key string
		var w written
		err := scan(&key, &w.job, &w.first, &w.events)
		there[key] = append(there[key], w)
		return err
	})
	if err != nil {
		return err
	}
	chains := map[string]ledger.Chain{}
	var errs []error
	for _, c := range g.changes {
		w := there[c.key]
		delete(there, c.key)
		if c.refused {
			if len(w) > 0 {
				errs = append(errs, fmt.Errorf("%s of %s was refused, and is there", c.key, c.job))
			}
			continue
		}
		if len(w) != 1 || w[0].job != c.job || w[0].events != int64(c.events) || w[0].first+w[0].events-1 != c.head.Seq {
			errs = append(errs, fmt.Errorf("%s of %s was acknowledged with %d events up to %d, and is there as %v", c.key, c.job, c.events, c.head.Seq, w))
			continue
		}
		chain, err := g.chain(ctx, chains, c.job)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		errs = append(errs, c.whole(chain), g.filesOf(ctx, c))
	}
	if len(there) > 0 {
		errs = append(errs, fmt.Errorf("changes that nobody was told of: %v", slices.Sorted(maps.Keys(there))))
	}
	return errors.Join(errs...)
}

// chain is the events of a job, which are verified.
func (g *group) chain(ctx context.Context, known map[string]ledger.Chain, id string) (ledger.Chain, error) {
	if c, is := known[id]; is {
		return c, nil
	}
	c, err := g.store.Load(ctx, id, 0)
	if err == nil {
		_, err = job.Read(c)
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", id, err)
	}
	known[id] = c
	return c, err
}

// whole: its last event is the one that was acknowledged, all of its events say so, and no other event does.
func (c change) whole(chain ledger.Chain) error {
	if int64(len(chain)) < c.head.Seq || chain[c.head.Seq-1].Hash != c.head.Hash {
		return fmt.Errorf("%s of %s: event %d is not the one that was acknowledged", c.key, c.job, c.head.Seq)
	}
	for i, e := range chain {
		own := int64(i) >= c.head.Seq-int64(c.events) && int64(i) < c.head.Seq
		if says := says(e, c.key); says != own {
			return fmt.Errorf("%s of %s: event %d says so %v, and is of it %v", c.key, c.job, i+1, says, own)
		}
	}
	return nil
}

// says says whether an event has a key in its words.
func says(e ledger.Entry, key string) bool {
	if strings.Contains(string(e.Payload), key) {
		return true
	}
	return strings.Contains(fmt.Sprint(e.Beside), key)
}

// filesOf: the bytes that came with a change are there as they were.
func (g *group) filesOf(ctx context.Context, c change) (err error) {
	for _, f := range c.files {
		sum := sha256.Sum256(f.Data)
		r, _, err := g.store.Get(ctx, hex.EncodeToString(sum[:]))
		if err != nil {
			return fmt.Errorf("%s of %s: %w", c.key, c.job, err)
		}
		data, err := io.ReadAll(r)
		if err = errors.Join(err, r.Close()); err != nil || !bytes.Equal(data, f.Data) {
			return fmt.Errorf("%s of %s: its bytes are not those that were sent: %w", c.key, c.job, err)
		}
	}
	return nil
}
