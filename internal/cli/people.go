package cli

import (
	"cmp"
	"fmt"
	"net/url"
	"strings"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// peopleCmd is for who sits at the machine. No password is ever given to a command, nor printed by one.
type peopleCmd struct {
	List     peopleListCmd     `cmd:"" default:"withargs" help:"List them."`
	First    peopleFirstCmd    `cmd:"" help:"Print the link by which somebody becomes the first administrator."`
	Link     peopleLinkCmd     `cmd:"" help:"Print a link by which somebody sets a new password."`
	Disable  peopleDisableCmd  `cmd:"" help:"Sign somebody out everywhere, and let them in no more."`
	Enable   peopleEnableCmd   `cmd:"" help:"Let somebody in again."`
	Roles    peopleRolesCmd    `cmd:"" help:"Say what somebody is in a shop."`
	RenewKey peopleRenewKeyCmd `cmd:"" name:"renew-key" help:"Use another key, because the one that one-time codes were sealed with is lost."`
}

// people are the accounts of the data folder, at the console.
func (env Env) people() (account.Console, error) {
	if env.data == nil {
		return account.Console{}, env.noData("people")
	}
	a, err := env.data.Accounts(env.lookup, env.Now, account.Site{})
	if err != nil {
		return account.Console{}, err
	}
	return a.AtConsole(), nil
}

// onPeople does something to people, and says so.
func (env Env) onPeople(checked bool, do func(account.Console) (told string, err error)) (int, error) {
	c, err := env.people()
	if err == nil && checked {
		err = c.Check(env.context())
	}
	if err != nil {
		return exitCode(err), err
	}
	told, err := do(c)
	if err != nil {
		return exitCode(err), err
	}
	_, err = fmt.Fprintln(env.Stdout, told)
	return Done, err
}

type peopleListCmd struct{}

func (peopleListCmd) Help() string {
	return `Each with the name they sign in with, their opaque name, the shop, what they are in it, and whether they may sign in.

Example:

  fettle people --data fettle-data
`
}

func (peopleListCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(false, func(c account.Console) (string, error) {
		all, err := c.People(env.context())
		if len(all) == 0 {
			return "Nobody yet.", err
		}
		var lines []string
		for _, m := range all {
			line := fmt.Sprintf("%-24s %s  %-12s %-8s %s", diag.Plain(m.Person.SignIn), m.Person.ID, m.Shop, m.Person.State, roleWords(m.Roles))
			lines = append(lines, line)
		}
		return strings.Join(lines, "\n"), err
	})
}

func roleWords(rs []right.Role) string {
	var out []string
	for _, r := range rs {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// usualAt is where a server listens unless it is told.
const usualAt = "http://" + usualListen

// linkTo is an address with a secret behind the #, where it reaches no server, proxy or log.
func linkTo(at, page, secret string) (string, error) {
	u, err := url.Parse(cmp.Or(at, usualAt))
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" {
		return "", &diag.Error{Kind: diag.Usage, Op: "people", Subject: "--at " + at, Msg: "is no address of a server", Hint: "write it as https://workshop.local:8443"}
	}
	return u.Scheme + "://" + u.Host + "/" + page + "#" + secret, nil
}

type peopleFirstCmd struct {
	At string `help:"Address of the server, as browsers know it; http://127.0.0.1:8420 unless given." placeholder:"URL"`
}

func (peopleFirstCmd) Help() string {
	return `Prints a link by which somebody becomes the first administrator, and names the first shop. It is good for 30 minutes and once, and an earlier one is good no longer. Once there is an administrator there is none: who has forgotten the password gets one by 'fettle people link'. Open it on this machine, or over TLS.

Example:

  fettle people first --data fettle-data
`
}

// fillsData: it makes a data folder where there is none.
func (peopleFirstCmd) fillsData() {}

func (c peopleFirstCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(true, func(p account.Console) (string, error) {
		if _, err := linkTo(c.At, "", ""); err != nil {
			return "", err
		}
		s, err := p.FirstUse(env.context())
		if err != nil {
			return "", err
		}
		return toldLink(c.At, "first", s)
	})
}

// toldLink is a link and until when it is good.
func toldLink(at, page string, s account.Secret) (string, error) {
	link, err := linkTo(at, page, s.Text)
	return link + "\nGood once, until " + s.Ends.Format("2006-01-02 15:04:05") + " UTC.", err
}

type peopleLinkCmd struct {
	Who  string `arg:"" help:"The name they sign in with, or their opaque name."`
	Lost bool   `help:"Their one-time codes and passkeys are lost too: they are gone once the link is used."`
	At   string `help:"Address of the server, as browsers know it; http://127.0.0.1:8420 unless given." placeholder:"URL"`
}

func (peopleLinkCmd) Help() string {
	return `Prints a link by which somebody sets a new password. It is good for an hour and once; until it is used nothing changes. Give it to that person alone: whoever opens it signs in as them.

Example:

  fettle people link anna --data fettle-data
  fettle people link anna --lost --at https://workshop.local:8443 --data fettle-data
`
}

func (c peopleLinkCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(true, func(p account.Console) (string, error) {
		if _, err := linkTo(c.At, "", ""); err != nil {
			return "", err
		}
		s, err := p.ResetLink(env.context(), c.Who, c.Lost)
		if err != nil {
			return "", err
		}
		return toldLink(c.At, "password", s)
	})
}

type peopleDisableCmd struct {
	Who string `arg:"" help:"The name they sign in with, or their opaque name."`
}

func (c peopleDisableCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(false, func(p account.Console) (string, error) {
		return "Signed out everywhere, and disabled: " + c.Who, p.SetState(env.context(), c.Who, false)
	})
}

type peopleEnableCmd struct {
	Who string `arg:"" help:"The name they sign in with, or their opaque name."`
}

func (c peopleEnableCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(false, func(p account.Console) (string, error) {
		return "May sign in again: " + c.Who, p.SetState(env.context(), c.Who, true)
	})
}

type peopleRolesCmd struct {
	Who   string       `arg:"" help:"The name they sign in with, or their opaque name."`
	Shop  string       `arg:"" help:"Short name of the shop."`
	Roles []right.Role `arg:"" optional:"" help:"technician, planner, reviewer, administrator; none: they are no longer of the shop."`
}

func (peopleRolesCmd) Help() string {
	return `They are signed out, and are that from the next time on.

Example:

  fettle people roles anna a technician planner --data fettle-data
`
}

func (c peopleRolesCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(false, func(p account.Console) (string, error) {
		told := "In " + c.Shop + " from now on: " + roleWords(c.Roles)
		if len(c.Roles) == 0 {
			told = "No longer of " + c.Shop + ": " + c.Who
		}
		return told, p.GiveRoles(env.context(), c.Who, c.Shop, c.Roles)
	})
}

type peopleRenewKeyCmd struct{}

func (peopleRenewKeyCmd) Help() string {
	return `For a data folder whose keys/accounts.key is lost, as after a backup was brought back without it: the one that is there now, or in FETTLE_ACCOUNTS_KEY, is used from now on. Whoever has one-time codes needs 'fettle people link NAME --lost' then.

Example:

  fettle people renew-key --data fettle-data
`
}

func (peopleRenewKeyCmd) run(env Env, a *app.App) (int, error) {
	return env.onPeople(false, func(p account.Console) (string, error) {
		return "Another key is used from now on. Who has one-time codes needs a link with --lost.", p.RenewKey(env.context())
	})
}
