//go:build linux

package load

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/right"
	"fettle/internal/web/api"
)

// kills ends servers and the database while people work, and starts them again: one server, another, PostgreSQL, and at last both at once.
func (g *group) kills(ctx context.Context) error {
	waits := func() bool {
		select {
		case <-ctx.Done():
			return false
		case <-time.After(g.size.span / 5):
			return true
		}
	}
	down := g.size.span / 40
	for n := range 4 {
		if !waits() {
			return nil // somebody says why
		}
		if n == 2 {
			g.pg.Kill(g.t)
			time.Sleep(down)
			g.pg.Again(g.t)
			g.back("PostgreSQL answers again, to the first change that is acknowledged")
			continue
		}
		s := g.servers[n%len(g.servers)]
		s.kill()
		if n == 3 {
			g.pg.StopAtOnce(g.t)
		}
		time.Sleep(down)
		if n == 3 {
			g.pg.Again(g.t)
		}
		if err := s.start(); err != nil {
			return err
		}
	}
	waits()
	return nil
}

// back notes how long it takes from now until a change is acknowledged anywhere.
func (g *group) back(what string) {
	began := time.Now()
	count := func() int {
		g.mu.Lock()
		defer g.mu.Unlock()
		return len(g.writtenAt)
	}
	for was := count(); count() == was && time.Since(began) < time.Minute; time.Sleep(time.Millisecond) {
	}
	g.tally.noted(what, time.Since(began))
}

// again does something about accounts until the database can be used.
func again(do func() error) error {
	for began := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		if err := do(); diag.KindOf(err) != diag.Unavailable || err == nil || time.Since(began) > time.Minute {
			return err
		}
	}
}

// taking is a way in which somebody loses what they may.
type taking string

const (
	allRoles   taking = "all roles"
	otherRoles taking = "other roles"
	signedOut  taking = "sign-out, or a token revoked"
	disabled   taking = "disabled"
)

// takes takes away from somebody what they may, again and again, and asks every server at once after. Then they have it back.
func (g *group) takes(ctx context.Context, every time.Duration) (n int, err error) {
	r := rand.New(rand.NewPCG(7, 7))
	always := context.WithoutCancel(ctx)
	for {
		select {
		case <-ctx.Done():
			return n, nil
		case <-time.After(every):
		}
		p := g.all[r.IntN(len(g.all))]
		if p == p.shop.admin {
			continue
		}
		p.mu.Lock()
		err := g.take(always, p, []taking{allRoles, otherRoles, signedOut, disabled}[n%4], r)
		p.mu.Unlock()
		if err != nil {
			return n, err
		}
		n++
	}
}

func (g *group) take(ctx context.Context, p *person, how taking, r *rand.Rand) error {
	boss := right.Who{Person: p.shop.admin.id, Shop: p.shop.id, Roles: []right.Role{right.Administrator}, Fresh: true}
	id := p.shop.jobs[r.IntN(len(p.shop.jobs))]
	other := []right.Role{right.Reviewer}
	if p.was[0] == right.Reviewer {
		other = []right.Role{right.Technician}
	}
	give := func(roles []right.Role) error {
		return again(func() error { return g.people.GiveRoles(ctx, boss, p.id, roles) })
	}
	var err error
	back := func() error { return nil }
	switch how {
	case allRoles, otherRoles:
		roles := other
		if how == allRoles {
			roles = nil
		}
		if err = give(roles); how == allRoles {
			back = func() error { return again(func() error { return g.comes(ctx, p) }) }
		} else {
			back = func() error { return give(p.was) }
		}
	case signedOut:
		if p.token == "" {
			err = again(func() error { return g.people.SignOut(ctx, p.secret, account.From{}) })
		} else {
			own := right.Who{Person: p.id, Shop: p.shop.id, Roles: p.was, Fresh: true}
			err = again(func() error { return g.people.RevokeToken(ctx, own, p.token) })
		}
	case disabled:
		err = again(func() error { return g.people.SetState(ctx, boss, p.id, false) })
		back = func() error { return again(func() error { return g.people.SetState(ctx, boss, p.id, true) }) }
	}
	if err != nil {
		return fmt.Errorf("%s: %w", how, err)
	}
	p.roles = nil
	if err := g.everywhere(ctx, p, id, 0); err != nil {
		return err
	}
	if how == otherRoles {
		if err := g.other(ctx, p, other, id); err != nil {
			return err
		}
	}
	if err := back(); err != nil {
		return fmt.Errorf("%s, and back: %w", how, err)
	}
	return g.enters(ctx, p, p.was)
}

// comes has somebody be of a shop again who was taken out of it: nobody but the console can say so of who is not of the shop.
func (g *group) comes(ctx context.Context, p *person) error {
	return g.people.AtConsole().GiveRoles(ctx, p.id, p.shop.id, p.was)
}

// enters lets somebody in with roles that they have.
func (g *group) enters(ctx context.Context, p *person, roles []right.Role) error {
	p.roles = roles
	return again(func() error {
		if p.token == "" {
			return g.signIn(ctx, p)
		}
		t, secret, err := g.people.MakeToken(ctx, right.Who{Person: p.id, Shop: p.shop.id, Roles: roles, Fresh: true}, account.NewToken{Name: "load", For: time.Hour})
		p.secret, p.token = secret.Text, t.ID
		return err
	})
}

// everywhere asks every server for a job and a change of it.
func (g *group) everywhere(ctx context.Context, p *person, id string, kind int) error {
	for _, s := range g.servers {
		want := p.may(p.shop, right.On{Job: id}, readings[0].keeps, readings[0].acts...)
		q := request{kind: "after roles were taken", method: http.MethodGet, path: "/jobs/" + id, at: s}
		got, err := g.ask(ctx, p, q)
		if err != nil {
			return err
		}
		g.wants(p, q, got, want)
		if err := g.change(ctx, p, p.shop, id, kind, s); err != nil {
			return err
		}
	}
	return nil
}

// other lets them in with other roles, and has them try every deed at every server.
func (g *group) other(ctx context.Context, p *person, roles []right.Role, id string) error {
	if err := g.enters(ctx, p, roles); err != nil {
		return err
	}
	for kind := range deedKinds {
		if err := g.everywhere(ctx, p, id, kind); err != nil {
			return err
		}
	}
	return nil
}

// hands hands jobs over between shops, to and fro, and asks every server who knows of them then.
func (g *group) hands(ctx context.Context, every time.Duration) (n int, err error) {
	r := rand.New(rand.NewPCG(9, 9))
	always := context.WithoutCancel(ctx)
	for {
		select {
		case <-ctx.Done():
			return n, nil
		case <-time.After(every):
		}
		i := r.IntN(len(g.shops))
		here := g.shops[i]
		id := here.handed[r.IntN(len(here.handed))]
		from, to := here, g.shops[(i+1)%len(g.shops)]
		if g.ownerOf(id) == to.id {
			from, to = to, from
		}
		if err := g.handOver(always, id, g.reviewer(from), g.reviewer(to)); err != nil {
			return n, err
		}
		n++
	}
}

func (g *group) reviewer(of *shop) *person {
	for _, p := range g.all {
		if p.shop == of && p.was[0] == right.Reviewer {
			return p
		}
	}
	return nil
}

func (g *group) handOver(ctx context.Context, id string, from, to *person) error {
	for _, p := range g.all { // in one order
		if p == from || p == to {
			p.mu.Lock()
			defer p.mu.Unlock()
		}
	}
	var was api.Record
	got, err := g.ask(ctx, from, request{kind: "record", method: http.MethodGet, path: "/jobs/" + id + "/record?name=owner"})
	if err == nil && got.status == http.StatusOK {
		err = json.Unmarshal(got.body, &was)
	}
	if err != nil || got.status != http.StatusOK {
		return fmt.Errorf("the owner of %s: %d %w: %.300s", id, got.status, err, got.body)
	}
	g.setOwner(id, "")
	key := "load" + unique()
	got, err = g.ask(ctx, from, request{kind: "hand-over", method: http.MethodPost, path: "/jobs/" + id + "/hand-over", key: key,
		body: map[string]any{"by": "P1", "on": time.Now().UTC().Format("2006-01-02"), "reason": key, "to": to.shop.id, "seen": was.Seen}})
	if err != nil || got.status != http.StatusOK {
		return fmt.Errorf("%s is not handed over to %s: %d %w: %.300s", id, to.shop.id, got.status, err, got.body)
	}
	var made api.Written
	if err := json.Unmarshal(got.body, &made); err != nil {
		return err
	}
	g.noted(change{key: key, job: id, events: 1, head: app.Head(made.Head)})
	g.setOwner(id, to.shop.id)
	for _, s := range g.servers {
		for _, p := range []*person{from, to} {
			q := request{kind: "after a hand-over", method: http.MethodGet, path: "/jobs/" + id + "/events", at: s}
			got, err := g.ask(ctx, p, q)
			if err != nil {
				return err
			}
			g.wants(p, q, got, map[bool]int{true: http.StatusNotFound, false: http.StatusOK}[p == from])
		}
	}
	return nil
}

func (g *group) ownerOf(id string) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.owner[id]
}

func (g *group) setOwner(id, owner string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.owner[id] = owner
}

// handedNow says that a job of another shop's name may be in a shop now.
func (g *group) handedNow(id string, in *shop) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	owner, is := g.owner[id]
	return is && (owner == "" || owner == in.id)
}

// handedEver says that a job goes to and fro.
func (g *group) handedEver(id string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	_, is := g.owner[id]
	return is
}
