//go:build linux

package load

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"fettle/internal/web/api"
)

// notice is an event of a stream.
type notice struct {
	n   int64 // its identity
	job string
	seq int64
}

// place is an event of a job.
type place struct {
	job string
	seq int64
}

// stream is a client that hears of the jobs of a shop, at one server while that is there.
type stream struct {
	p      *person
	secret string
	at     int // the server it began at

	mu      sync.Mutex
	begun   int64 // the identity from which it hears of everything
	last    int64
	notices []notice
	broken  int
	anew    int // times that it was told to begin anew
}

// hears hears until it is over. Whenever it is cut off it goes on at the next server behind the last one it heard of.
func (g *group) hears(ctx context.Context, s *stream) error {
	for at := s.at; ctx.Err() == nil; at++ {
		err := g.hearsAt(ctx, s, g.servers[at%len(g.servers)])
		var bad *badNotice
		if errors.As(err, &bad) {
			return err
		}
		s.mu.Lock()
		s.broken++
		s.mu.Unlock()
		select {
		case <-ctx.Done():
		case <-time.After(50 * time.Millisecond):
		}
	}
	return nil
}

// badNotice is what a stream may not say.
type badNotice struct{ text string }

func (b *badNotice) Error() string { return b.text }

func (g *group) hearsAt(ctx context.Context, s *stream, at *server) error {
	ctx, end := context.WithCancel(ctx)
	defer end()
	q, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+at.address+api.Prefix+"/stream", nil)
	if err != nil {
		return err
	}
	q.Header.Set("Authorization", "Bearer "+s.secret)
	if s.last >= 0 {
		q.Header.Set("Last-Event-ID", strconv.FormatInt(s.last, 10))
	}
	own := *s.p.client
	own.Timeout = 0
	got, err := own.Do(q)
	if err != nil {
		return err
	}
	defer got.Body.Close() // it is cut off
	if got.StatusCode != http.StatusOK {
		return errors.New(got.Status)
	}
	id, what, data := int64(-1), "", ""
	for lines := bufio.NewScanner(got.Body); lines.Scan(); {
		name, value, _ := strings.Cut(lines.Text(), ": ")
		switch name {
		case "id":
			if id, err = strconv.ParseInt(value, 10, 64); err != nil {
				return &badNotice{lines.Text()}
			}
		case "event":
			what = value
		case "data":
			data = value
		case "":
			if id >= 0 {
				if err := g.heard(s, id, what, data); err != nil {
					return err
				}
			}
			id, what, data = -1, "", ""
		}
	}
	return nil
}

// heard takes a notice.
func (g *group) heard(s *stream, id int64, what, data string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if id < s.last {
		return &badNotice{fmt.Sprintf("stream of %s: %d comes behind %d", s.p.shop.id, id, s.last)}
	}
	was := s.last
	s.last = id
	switch what {
	case "begin":
		s.begun = id
	case "again":
		s.anew++
	case "job":
		var of struct {
			Job string
			Seq int64
		}
		if err := json.Unmarshal([]byte(data), &of); err != nil {
			return &badNotice{data}
		}
		if id == was {
			return &badNotice{fmt.Sprintf("stream of %s: %d is told twice", s.p.shop.id, id)}
		}
		s.notices = append(s.notices, notice{id, of.Job, of.Seq})
		g.mu.Lock()
		at, is := g.writtenAt[place{of.Job, of.Seq}]
		g.mu.Unlock()
		if is {
			g.tally.noted("a notice after the change was acknowledged", max(0, time.Since(at)))
		}
	}
	return nil
}

// heardAll holds what streams heard of against what was written: every event of a job of their shop has a notice, of it or of a later one
// of the job, and each notice is of such an event.
func (g *group) heardAll(ctx context.Context) error {
	var errs []error
	for _, s := range g.streams {
		s.mu.Lock()
		errs = append(errs, g.heardBy(ctx, s))
		s.mu.Unlock()
	}
	return errors.Join(errs...)
}

func (g *group) heardBy(ctx context.Context, s *stream) error {
	told, last := map[int64]notice{}, map[string]int64{}
	for _, n := range s.notices {
		told[n.n] = n
		last[n.job] = n.n
	}
	if s.begun < 0 || s.anew > 0 {
		return fmt.Errorf("stream of %s at server %d: begun at %d, and %d times anew", s.p.shop.id, s.at, s.begun, s.anew)
	}
	var errs []error
	err := g.store.Read(ctx, "select l.n, l.name, l.seq, j.owner from leaves l join jobs j on j.id = l.name where l.kind = 'event' and l.n > $1 order by l.n", []any{s.begun}, func(scan func(...any) error) error {
		var of notice
		var owner string
		if err := scan(&of.n, &of.job, &of.seq, &owner); err != nil {
			return err
		}
		if was, is := told[of.n]; is && was != of {
			errs = append(errs, fmt.Errorf("stream of %s: it says %v, and %v was written", s.p.shop.id, was, of))
		}
		delete(told, of.n)
		if owner == s.p.shop.id && last[of.job] < of.n && !g.handedEver(of.job) {
			errs = append(errs, fmt.Errorf("stream of %s, begun at server %d: nothing was heard of event %d of %s (leaf %d; heard up to %d)", s.p.shop.id, s.at, of.seq, of.job, of.n, s.last))
		}
		return nil
	})
	if len(told) > 0 {
		errs = append(errs, fmt.Errorf("stream of %s: %d notices are of nothing that was written", s.p.shop.id, len(told)))
	}
	for _, n := range s.notices {
		if !strings.HasPrefix(n.job, s.p.shop.id+"-") && !g.handedEver(n.job) {
			errs = append(errs, fmt.Errorf("stream of %s: it is told of %s", s.p.shop.id, n.job))
		}
	}
	return errors.Join(append(errs, err)...)
}
