package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/right"
	"fettle/internal/store/safefile"
)

// runServed serves the invented jobs to this machine alone, from a data folder that is gone when that ends, unless one is named.
func (c demoCmd) runServed(env Env, d app.DemoFiles) (code int, err error) {
	if env.data == nil {
		dir, err := os.MkdirTemp("", "fettle-demo-data-")
		if err != nil {
			return Refused, notWritten("", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		if env, err = env.opened(dir, true); err != nil {
			return Refused, err
		}
		defer func() { err = errors.Join(err, env.data.Close()) }()
	}
	if err := c.takeIn(env, d); err != nil {
		return Refused, err
	}
	set, err := serveCmd{Listen: cmp.Or(c.Listen, usualListen), Workers: 1}.settledHere(env)
	if err != nil {
		return exitCode(err), err
	}
	s := &serving{env: env, set: set, log: env.logger(""), greet: demoPeople}
	if err := s.serve(); err != nil {
		return Refused, err
	}
	return Done, nil
}

// settledHere is what the command line says, for this machine alone: what is set for a server of work is not meant.
func (c serveCmd) settledHere(env Env) (serveSet, error) {
	s := serveSet{listen: c.Listen, local: usualListen, workers: c.Workers}
	if !loopback(c.Listen) {
		return s, serveUsage(c.Listen, "is no address of this machine alone, and the passwords of the demonstration are printed", "give for example "+usualListen)
	}
	return s, s.check()
}

// demoRoles are the people of the demonstration: who has each role, by its name.
var demoRoles = []right.Role{right.Technician, right.Reviewer, right.Planner}

// demoPeople makes people who may sign in, each with a password that is drawn now, and says so. Where there are people already it
// makes none.
func demoPeople(ctx context.Context, in *account.Accounts, url string) (string, error) {
	used, err := in.Used(ctx)
	if err != nil || used {
		return "Those may sign in who could before: fettle people --data DIR lists them.", err
	}
	ticket, err := in.FirstUse(ctx)
	if err != nil {
		return "", err
	}
	admin := string(right.Administrator)
	lines := []string{"These may sign in, with passwords that were drawn now:"}
	told := func(name, password string) {
		lines = append(lines, fmt.Sprintf("  %-14s %s", name, password))
	}
	password := safefile.Drawn(10)
	entered, err := in.ClaimFirst(ctx, ticket.Text, account.First{Shop: "demo", ShopName: "Invented shop", NewPerson: account.NewPerson{Name: admin, SignIn: admin}, Password: password}, account.From{})
	if err != nil {
		return "", err
	}
	told(admin, password)
	boss, err := in.Session(ctx, entered.Session)
	if err != nil {
		return "", err
	}
	for _, role := range demoRoles {
		password = safefile.Drawn(10)
		_, link, err := in.AddPerson(ctx, boss.Who, account.NewPerson{Name: string(role), SignIn: string(role), Roles: []right.Role{role}})
		if err == nil {
			err = in.SetPassword(ctx, link.Text, password, account.From{})
		}
		if err != nil {
			return "", err
		}
		told(string(role), password)
	}
	last := string(demoRoles[len(demoRoles)-1])
	token, err := demoToken(ctx, in, last, password)
	if err != nil {
		return "", err
	}
	lines = append(lines, "A program shows a token, here of the "+last+" and good for a day:", "  curl -H 'Authorization: Bearer "+token+"' "+url+"api/v1/jobs")
	return strings.Join(lines, "\n"), in.SignOut(ctx, entered.Session, account.From{})
}

// demoToken is a token of somebody for a day, who signs in for it.
func demoToken(ctx context.Context, in *account.Accounts, name, password string) (string, error) {
	entered, err := in.SignIn(ctx, account.Try{Name: name, Password: password}, account.From{})
	if err != nil {
		return "", err
	}
	who, err := in.Session(ctx, entered.Session)
	if err != nil {
		return "", err
	}
	_, token, err := in.MakeToken(ctx, who.Who, account.NewToken{Name: "demonstration", For: 24 * time.Hour})
	return token.Text, errors.Join(err, in.SignOut(ctx, entered.Session, account.From{}))
}
