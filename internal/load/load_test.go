//go:build linux

package load

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/store/database"
	"fettle/internal/web/api"
)

// sizeOf is a small cut, or with FETTLE_LOAD the whole, with so many thousand jobs.
func sizeOf(t *testing.T) size {
	t.Helper()
	text := os.Getenv("FETTLE_LOAD")
	if text == "" {
		return size{shops: 10, jobs: 300, worked: 4, span: 5 * time.Second, thinks: 150 * time.Millisecond, servers: 3, streams: 3}
	}
	thousands, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return size{shops: 40, jobs: 1000 * thousands, worked: 20, span: 2 * time.Minute, thinks: 2 * time.Second, servers: 3, streams: 10, fine: true}
}

// TestLoad is three servers on one PostgreSQL and one S3-compatible store, in 40 shops with 200 people and 100,000 jobs (a small cut of it unless
// FETTLE_LOAD=100). Each person makes a change about every fourth second, reads, and tries what they may not. Meanwhile one server is killed and started again, then
// another, then PostgreSQL, then both; people lose roles, sessions and tokens; jobs are handed over between shops. Whoever is not answered sends the same
// to another server. At the end nothing that was acknowledged is lost, there twice or by half; every answer is the one that the matrix wants; and every
// change was heard of at each server, in order.
func TestLoad(t *testing.T) {
	g := newGroup(t, sizeOf(t))
	began := time.Now()
	if err := g.run(t.Context()); err != nil {
		t.Error(err)
	}
	t.Logf("people worked for %v", time.Since(began).Round(time.Second))
	began = time.Now()
	if err := errors.Join(g.tally.found(), g.held(t.Context()), g.heardAll(t.Context())); err != nil {
		t.Error(err)
	}
	g.print()
	t.Logf("held against what was acknowledged in %v", time.Since(began).Round(time.Millisecond))
	if !t.Failed() {
		g.planted()
	}
}

// run has everybody work until it is over.
func (g *group) run(ctx context.Context) error {
	if err := g.startAll(); err != nil {
		return err
	}
	for _, p := range g.all { // the jobs were written meanwhile
		if p.token == "" {
			if err := g.signIn(ctx, p); err != nil {
				return err
			}
		}
	}
	hearing, deaf := context.WithCancel(ctx)
	var streams, others sync.WaitGroup
	defer streams.Wait()
	defer deaf()
	if err := g.listen(hearing, &streams); err != nil {
		return err
	}
	working, stop := context.WithCancel(ctx) // until all was killed that is
	defer stop()
	faults := make([]error, len(g.all)+3)
	task := func(n int, do func() error) {
		others.Go(func() {
			if faults[n] = do(); faults[n] != nil {
				stop()
			}
		})
	}
	for n, p := range g.all {
		task(n, func() error { return g.works(working, n, p) })
	}
	n := len(g.all)
	every := g.size.span / 100
	task(n, func() error { defer stop(); return g.kills(working) })
	task(n+1, func() error {
		n, err := g.takes(working, every)
		g.t.Logf("%d times somebody lost what they may", n)
		return err
	})
	task(n+2, func() error { n, err := g.hands(working, every); g.t.Logf("%d hand-overs", n); return err })
	others.Wait()
	return errors.Join(errors.Join(faults...), g.caughtUp(ctx))
}

// startAll starts the servers, and begins to count.
func (g *group) startAll() error {
	for _, s := range g.servers {
		if err := s.start(); err != nil {
			return err
		}
	}
	return nil
}

// listen begins streams at each server, of shops one after the other.
func (g *group) listen(ctx context.Context, all *sync.WaitGroup) error {
	for n := range g.size.servers * g.size.streams {
		p := g.reviewer(g.shops[n/g.size.servers%len(g.shops)])
		_, secret, err := g.people.MakeToken(ctx, right.Who{Person: p.id, Shop: p.shop.id, Roles: p.was, Fresh: true}, account.NewToken{Name: "stream", For: time.Hour, Reads: true})
		if err != nil {
			return err
		}
		s := &stream{p: p, secret: secret.Text, at: n % g.size.servers, begun: -1, last: -1}
		g.streams = append(g.streams, s)
		all.Go(func() {
			if err := g.hears(ctx, s); err != nil {
				g.fault("%v", err)
			}
		})
	}
	return g.until(10*time.Second, "streams have not begun", func(s *stream) bool { return s.begun >= 0 })
}

// until waits until something holds of every stream.
func (g *group) until(most time.Duration, what string, holds func(*stream) bool) error {
	for began := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		all := true
		for _, s := range g.streams {
			s.mu.Lock()
			all = all && holds(s)
			s.mu.Unlock()
		}
		if all {
			return nil
		}
		if time.Since(began) > most {
			return fmt.Errorf("%s in %v", what, most)
		}
	}
}

// caughtUp waits until streams have heard of the newest of their shop; what they have not heard of then is found later.
func (g *group) caughtUp(ctx context.Context) error {
	newest := map[string]int64{}
	err := g.store.Read(ctx, "select j.owner, max(l.n) from leaves l join jobs j on j.id = l.name where l.kind = 'event' group by j.owner", nil, func(scan func(...any) error) error {
		var owner string
		var n int64
		err := scan(&owner, &n)
		newest[owner] = n
		return err
	})
	if err != nil {
		return err
	}
	_ = g.until(10*time.Second, "", func(s *stream) bool { return s.last >= newest[s.p.shop.id] }) // which is told event by event
	return nil
}

// print prints all figures.
func (g *group) print() {
	acknowledged, refused, notices, broken := 0, 0, 0, 0
	for _, c := range g.changes {
		if c.refused {
			refused++
		} else {
			acknowledged++
		}
	}
	for _, s := range g.streams {
		notices += len(s.notices)
		broken += s.broken
	}
	g.tally.print(g.t)
	g.t.Logf("%d changes acknowledged: 0 lost, 0 twice, 0 by half; %d refused, of which nothing is there", acknowledged, refused)
	g.t.Logf("%d streams, %d notices, cut off %d times", len(g.streams), notices, broken)
	for _, s := range g.servers {
		u, err := s.used()
		if err != nil {
			g.t.Error(err)
			continue
		}
		g.t.Logf("server %d: ready %v after it was started; first change acknowledged %v after that; %d MB now, %d MB at most; %v of processors",
			s.n, s.took, s.waits, u.rss>>20, max(u.peak, s.past.peak)>>20, (u.cpu + s.past.cpu).Round(10*time.Millisecond))
	}
}

// planted shows that the checks find what they look for: somebody who may more than they should, a change whose row is gone, one whose
// event is, bytes that are others, and a notice that nobody heard.
func (g *group) planted() {
	t, ctx := g.t, g.t.Context()
	t.Helper()
	found := func(what string, err error, names string) {
		t.Helper()
		if err == nil || !strings.Contains(err.Error(), names) {
			t.Errorf("%s is not found: %v", what, err)
		}
	}
	for _, p := range g.all {
		if p.was[0] == right.Planner && p.shop.everybody {
			p.roles = []right.Role{right.Technician} // and the servers take them for a planner
			if err := g.change(ctx, p, p.shop, p.shop.jobs[0], 4, nil); err != nil {
				t.Error(err)
			}
			found("a permission too many", g.tally.found(), "200, and the matrix wants 403")
			break
		}
	}
	for i := len(g.changes) - 2; i > 0; i-- {
		if c := g.changes[i]; !c.refused && len(c.files) > 0 {
			files := g.changes[i].files
			g.changes[i].files = []api.File{{Name: "x", Data: []byte("never sent")}}
			found("a lost file", g.held(ctx), c.key)
			g.changes[i].files = files
			break
		}
	}
	for _, s := range g.streams {
		if last := len(s.notices) - 1; last >= 0 {
			all := s.notices
			s.notices = all[:last]
			found("a lost notice", g.heardBy(ctx, s), "nothing was heard of event")
			s.notices = all
			break
		}
	}
	lost := g.changes[slices.IndexFunc(g.changes, func(c change) bool { return !c.refused })]
	for _, words := range []string{"delete from requests where job = $1 and key = $2", "update events set hash = $2 where job = $1 and seq = (select max(seq) from events where job = $1)"} {
		if err := g.store.Write(ctx, func(tx *database.Tx) error { _, err := tx.Exec(words, lost.job, lost.key); return err }); err != nil {
			t.Error(err)
		}
		found(words, g.held(ctx), lost.job)
	}
}
